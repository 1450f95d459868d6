"""What a weather service is asked, and how we reach it: addresses, patience, who we say we are."""

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from decimal import ROUND_DOWN, ROUND_HALF_EVEN, Decimal
from pathlib import Path
from typing import Final
from urllib.parse import quote, urlencode

from bot.weather_services import SERVICES, public_address, service_of

HEADER_SAFE: Final = " !\"#$%&'()*+,/:;<=>?@[]^`{|}"  # what is printed in ASCII stands as it is


@dataclass(frozen=True, kw_only=True)
class Transport:
    """How we reach the services.

    Parameters
    ----------
    contact
        The grower's e-mail or web address, sent to the services that demand one.
    program
        Name and version, the first half of the User-Agent.
    addresses
        Base addresses that replace the public ones, by the name of the service or of its part; that of a service
        replaces all its hosts for which none is named.
    saved_path
        File or folder of the service "saved".
    timeout_s
        Longest silence on the line [s].
    longest_s
        Longest time one service may take for all it is asked in a round, tries and pauses included [s]: a line that
        drips is never silent.
    until_s
        When that time is up, in `seconds`; None where nothing was asked yet (`begun`).
    retries
        How often a question is asked again.
    longest_pause_s
        A service that wants a longer pause than this [s] is left alone until the next round.
    past_days
        Days of past hours asked of Open-Meteo (0-92), so that the wood has a history.
    pause
        The only sleep: called with seconds.
    seconds
        Seconds since any moment, by which the time of an answer is measured.
    """

    contact: str = ""
    program: str = "bedstraw/0.1"
    addresses: Mapping[str, str] = field(default_factory=dict)
    saved_path: Path | None = None
    timeout_s: float = 20.0
    longest_s: float = 60.0
    until_s: float | None = None
    retries: int = 2
    longest_pause_s: float = 60.0
    past_days: int = 60
    pause: Callable[[float], None] = time.sleep
    seconds: Callable[[], float] = time.monotonic

    def __post_init__(self) -> None:
        if not 0 <= self.past_days <= 92:
            raise ValueError(f"past_days must be 0 to 92, got {self.past_days}")

    @property
    def user_agent(self) -> str:
        """Who we say we are; of the contact what no header may hold is percent-encoded (RFC 3986, 2.1)."""
        return f"{self.program} ({quote(self.contact, safe=HEADER_SAFE)})" if self.contact else self.program

    @property
    def left_s(self) -> float:
        """What is left of a service's time [s]."""
        return self.longest_s if self.until_s is None else max(0.0, self.until_s - self.seconds())

    def begun(self) -> "Transport":
        """The same for one service from now on; one that has begun already goes on."""
        return self if self.until_s is not None else replace(self, until_s=self.seconds() + self.longest_s)

    def base(self, name: str) -> str:
        """Base address of a service or of a part of it, without a slash at the end."""
        own = self.addresses.get(name) or self.addresses.get(service_of(name))
        return (own or public_address(name)).rstrip("/")


@dataclass(frozen=True, kw_only=True)
class Question:
    """What is asked.

    `name` is that of the answer. The answer is kept for at least `keep_h` and, whatever the service states, at most
    `keep_at_most_h` hours. Where the body of an error holds one of `hopeless`, asking again at once is in vain;
    `web_page_is_busy` reads an HTML error as a passing block.
    """

    name: str
    address: str
    parameters: Mapping[str, str] = field(default_factory=dict)
    keep_h: float = 1.0
    keep_at_most_h: float = 24.0
    hopeless: tuple[str, ...] = ()
    web_page_is_busy: bool = False

    @property
    def needs_contact(self) -> bool:
        """Whether the service wants to know whom it may write to."""
        return SERVICES[service_of(self.name)].needs_contact

    @property
    def url(self) -> str:
        """The whole address."""
        return f"{self.address}?{urlencode(self.parameters, safe=',/')}" if self.parameters else self.address


def coordinate(value_deg: float, *, cut: bool = False) -> str:
    """A coordinate with at most four decimals (11 m), rounded or, where a service asks for it, cut.

    >>> coordinate(12.250049), coordinate(-45.99999, cut=True), coordinate(39.0)
    ('12.25', '-45.9999', '39')
    """
    near = Decimal(repr(value_deg)).quantize(Decimal("0.0001"), ROUND_DOWN if cut else ROUND_HALF_EVEN)
    return format(near.normalize() + 0, "f")
