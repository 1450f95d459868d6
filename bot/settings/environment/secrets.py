"""The environment: the bot's token and where things are. Reads `os.environ`, which `environment_file` may fill."""

import os
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from ipaddress import ip_address
from pathlib import Path
from typing import Final
from urllib.parse import urlsplit

from bot.settings.environment.private_files import (
    SHORTEST_WORD,
    SecondWays,
    SecretsError,
    private_words,
    second_ways,
    tokens_of_many,
)
from bot.settings.problems import TOKEN_SHAPE, did_you_mean
from bot.weather_services import SERVICES

TELEGRAM_ADDRESS: Final = "https://api.telegram.org"
ADDRESS_NAMES: Final[Mapping[str, str]] = {
    service.value: f"BEDSTRAW_{service.name}_ADDRESS" for service, one in SERVICES.items() if one.address
}
NAMES: Final = (
    "BEDSTRAW_TOKEN",
    "BEDSTRAW_TOKEN_FILE",
    "BEDSTRAW_LOGBOOK",
    "BEDSTRAW_TELEGRAM_ADDRESS",
    "BEDSTRAW_WEBHOOK_ADDRESS",
    "BEDSTRAW_WEBHOOK_PORT",
    "BEDSTRAW_HEALTH_PORT",
    "BEDSTRAW_SENSOR_PORT",
    "BEDSTRAW_SENSOR_TOKEN_FILE",
    "BEDSTRAW_SENSOR_TOKENS_FILE",
    "BEDSTRAW_SENSOR_ADDRESS",
    "BEDSTRAW_MQTT_ADDRESS",
    "BEDSTRAW_MQTT_LOGIN_FILE",
    "BEDSTRAW_MQTT_CERTIFICATES",
    "BEDSTRAW_SECOND_WAYS_FILE",
    "BEDSTRAW_CALENDAR_PORT",
    "BEDSTRAW_CALENDAR_SECRET_FILE",
    *ADDRESS_NAMES.values(),
)
LOOPBACK: Final = "127.0.0.1"
MQTT_PORTS: Final = {"mqtt": 1883, "mqtts": 8883}  # IANA


@dataclass(frozen=True, kw_only=True)
class MqttBroker:
    """Where a broker is, and what it wants to see.

    `certificates` is a file with those it may show in place of the ones that are known everywhere.
    """

    host: str
    port: int
    is_encrypted: bool
    user: str | None = None
    password: str | None = field(default=None, repr=False)
    certificates: str | None = None


@dataclass(frozen=True, kw_only=True)
class Secrets:
    """What the environment says.

    Parameters
    ----------
    token
        The bot's token; None where none is set. Never shown.
    logbook_url
        Where the logbook is, as SQLAlchemy reads it; may hold a password and is never shown.
    telegram_address
        Start of the address of the messenger's server, without the token.
    webhook_address, webhook_port
        Public address where the messenger is to bring updates, and the port on loopback they are handed on to; empty
        and None where it is asked for them.
    service_addresses
        Addresses that replace those of weather services, by service.
    health_port
        Port on loopback where the bot says how it is; None where it is not asked.
    sensor_port, sensor_token
        Port on loopback where sensors tell their readings, and what they show to be heard; None where none are.
    sensor_tokens
        The same for each of many gardens, by its name.
    sensor_address
        Where on this machine that port is; loopback, unless the home network is asked for.
    mqtt
        The broker that passes on readings of sensors; None where none does.
    second_ways
        By garden and person, addresses besides the messenger; most hold a password. Never shown.
    calendar_port, calendar_secret
        Port on loopback where the calendar is read, and the word its address ends in; None where it is not.
    notify_socket
        Where systemd listens for signs of life; empty where it does not.
    unknown
        Sentences about names that start like ours and are not known.
    """

    token: str | None = field(default=None, repr=False)
    logbook_url: str = field(default="sqlite://", repr=False)
    telegram_address: str = TELEGRAM_ADDRESS
    webhook_address: str = ""
    webhook_port: int | None = None
    service_addresses: Mapping[str, str] = field(default_factory=dict)
    health_port: int | None = None
    sensor_port: int | None = None
    sensor_token: str | None = field(default=None, repr=False)
    sensor_tokens: Mapping[str, str] = field(default_factory=dict, repr=False)
    sensor_address: str = LOOPBACK
    mqtt: MqttBroker | None = None
    second_ways: SecondWays = field(default_factory=dict, repr=False)
    calendar_port: int | None = None
    calendar_secret: str | None = field(default=None, repr=False)
    notify_socket: str = ""
    unknown: tuple[str, ...] = ()

    @property
    def token_needed(self) -> str:
        """The token, for the door that cannot do without.

        Raises
        ------
        SecretsError
            None is set.
        """
        if self.token is None:
            raise SecretsError(
                "There is no Telegram token. Put it into a file only you can read and name the file in "
                "BEDSTRAW_TOKEN_FILE, or set BEDSTRAW_TOKEN. Without one, 'bedstraw chat' talks in the terminal."
            )
        return self.token


def wants_plain_text(environ: Mapping[str, str] | None = None) -> bool:
    """Whether the terminal, or who reads it, wants line after line: NO_COLOR is set, or TERM is dumb or missing."""
    given = os.environ if environ is None else environ
    return bool(given.get("NO_COLOR")) or given.get("TERM", "dumb") in ("", "dumb")


def read_secrets(environ: Mapping[str, str] | None = None, garden_path: Path | None = None) -> Secrets:
    """What the environment says about secrets and places.

    Parameters
    ----------
    environ
        Names and values; None reads the process's own environment.
    garden_path
        The garden file; the logbook lies beside it unless BEDSTRAW_LOGBOOK says otherwise.

    Raises
    ------
    SecretsError
        Both token names set, a token file others can read, a token or an address of the wrong shape, a port
        without its file of a word or the other way round, a webhook's address without its port or the other way round.
    """
    given = {name: value.strip() for name, value in (os.environ if environ is None else environ).items()}
    services = {service: _address(given, name) for service, name in ADDRESS_NAMES.items() if given.get(name)}
    return Secrets(
        token=_token(given),
        logbook_url=_logbook_url(given.get("BEDSTRAW_LOGBOOK", ""), garden_path),
        telegram_address=_address(given, "BEDSTRAW_TELEGRAM_ADDRESS") or TELEGRAM_ADDRESS,
        webhook_address=_webhook_address(given),
        webhook_port=_port(given, "BEDSTRAW_WEBHOOK_PORT"),
        service_addresses=services,
        health_port=_port(given, "BEDSTRAW_HEALTH_PORT"),
        sensor_port=_port(given, "BEDSTRAW_SENSOR_PORT"),
        sensor_token=_word(given, "BEDSTRAW_SENSOR_PORT", "BEDSTRAW_SENSOR_TOKEN_FILE"),
        sensor_tokens=tokens_of_many(given.get("BEDSTRAW_SENSOR_TOKENS_FILE", "")),
        sensor_address=_network_address(given.get("BEDSTRAW_SENSOR_ADDRESS", "")),
        mqtt=_mqtt(given),
        second_ways=second_ways(given.get("BEDSTRAW_SECOND_WAYS_FILE", "")),
        calendar_port=_port(given, "BEDSTRAW_CALENDAR_PORT"),
        calendar_secret=_word(given, "BEDSTRAW_CALENDAR_PORT", "BEDSTRAW_CALENDAR_SECRET_FILE", in_an_address=True),
        notify_socket=given.get("NOTIFY_SOCKET", ""),
        unknown=tuple(_unknown(given)),
    )


def _token(given: Mapping[str, str]) -> str | None:
    direct, file = given.get("BEDSTRAW_TOKEN", ""), given.get("BEDSTRAW_TOKEN_FILE", "")
    if direct and file:
        raise SecretsError("BEDSTRAW_TOKEN and BEDSTRAW_TOKEN_FILE are both set; keep one of them.")
    source = "BEDSTRAW_TOKEN" if direct else f"The token file {file}"
    token = direct or (private_words(Path(file)) if file else "")
    if (direct or file) and not TOKEN_SHAPE.fullmatch(token):
        raise SecretsError(f"{source} does not hold a bot token: digits, a colon, then at least 20 letters or digits.")
    return token or None


def _logbook_url(given: str, garden_path: Path | None) -> str:
    """A database address as it stands, a path as SQLite; by default a file beside the garden file."""
    if re.match(r"^[a-z][a-z0-9+]*://", given):
        return given
    if given:
        return f"sqlite:///{Path(given).expanduser().absolute()}"
    return f"sqlite:///{garden_path.absolute().with_suffix('.logbook')}" if garden_path else "sqlite://"


def _address(given: Mapping[str, str], name: str) -> str:
    """An address without its last stroke; empty where none is set."""
    value = given.get(name, "")
    if value and not re.match(r"^https?://[\w.-]+(:\d+)?(/\S*)?$", value):
        raise SecretsError(f"{name} must be an address that starts with http:// or https://.")
    return value.rstrip("/")


def _webhook_address(given: Mapping[str, str]) -> str:
    """The messenger brings updates over https only (Bot API, setWebhook)."""
    address = _address(given, "BEDSTRAW_WEBHOOK_ADDRESS")
    _check_pair(given, "BEDSTRAW_WEBHOOK_ADDRESS", "BEDSTRAW_WEBHOOK_PORT")
    if address and not address.startswith("https://"):
        raise SecretsError("BEDSTRAW_WEBHOOK_ADDRESS must start with https://.")
    return address


def _word(given: Mapping[str, str], port: str, name: str, *, in_an_address: bool = False) -> str | None:
    """The word in the file that belongs to a port."""
    file = given.get(name, "")
    if file or not given.get("BEDSTRAW_SENSOR_TOKENS_FILE") or port != "BEDSTRAW_SENSOR_PORT":
        _check_pair(given, port, name)
    word = private_words(Path(file)) if file else ""
    letters = r"[\w-]+" if in_an_address else r"[!-~]+"
    if file and not (len(word) >= SHORTEST_WORD and word.isascii() and re.fullmatch(letters, word)):
        raise SecretsError(f"The token file {file} must hold one word of at least {SHORTEST_WORD} letters and digits.")
    return word or None


def _network_address(given: str) -> str:
    """An address of this machine, as figures, so that no name server decides who can come in."""
    try:
        return str(ip_address(given)) if given else LOOPBACK
    except ValueError:
        raise SecretsError(f'BEDSTRAW_SENSOR_ADDRESS must be an IP address of this machine, got "{given}".') from None


def _mqtt(given: Mapping[str, str]) -> MqttBroker | None:
    address = urlsplit(given.get("BEDSTRAW_MQTT_ADDRESS", ""))
    if not address.geturl():
        return None
    try:
        port = address.port
    except ValueError:
        port = 0
    if address.scheme not in MQTT_PORTS or not address.hostname or port == 0 or "@" in address.netloc:
        raise SecretsError("BEDSTRAW_MQTT_ADDRESS must be like mqtt://broker.example.org or mqtts://192.0.2.1:8883.")
    login = given.get("BEDSTRAW_MQTT_LOGIN_FILE", "")
    user, _, password = private_words(Path(login)).partition(":") if login else ("", "", "")
    return MqttBroker(
        host=address.hostname,
        port=port or MQTT_PORTS[address.scheme],
        is_encrypted=address.scheme == "mqtts",
        user=user or None,
        password=password or None,
        certificates=given.get("BEDSTRAW_MQTT_CERTIFICATES") or None,
    )


def _check_pair(given: Mapping[str, str], one: str, other: str) -> None:
    if bool(given.get(one)) != bool(given.get(other)):
        raise SecretsError(f"{one} and {other} belong together; set both or neither.")


def _port(given: Mapping[str, str], name: str) -> int | None:
    value = given.get(name, "")
    if value and not (value.isascii() and value.isdigit() and 1 <= int(value) <= 65535):
        raise SecretsError(f'{name} must be a port from 1 to 65535, got "{value}".')
    return int(value) if value else None


def _unknown(given: Mapping[str, str]) -> list[str]:
    """One sentence for each name that starts like ours and means nothing."""
    strange = [name for name in sorted(given) if name.startswith("BEDSTRAW_") and name not in NAMES]
    return [f"{name} in the environment is not known{did_you_mean(name, NAMES)}; it is not used." for name in strange]
