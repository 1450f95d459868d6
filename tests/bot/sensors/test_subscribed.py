"""Readings over MQTT, from brokers that are not ours: mosquitto where it is installed, and amqtt everywhere."""

import asyncio
import shutil
import socket
import ssl
import subprocess
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import aiomqtt
import pytest
from amqtt.broker import Broker

from bot.logbook import Logbook, open_logbook, read_readings
from bot.sensors.subscribed import Subscription
from bot.settings import Garden, MqttBroker, SecretsError, SensorTopic, doubtful, read_secrets
from rules.garden.records import Place, Reading
from tests.bot.phone import Phone, larkmoor
from tests.bot.telegram.emulator import free_port
from tests.bot.telegram.open_door import wait_for

NOW = datetime(2025, 11, 28, 14, 20, tzinfo=UTC)
MOSQUITTO = shutil.which("mosquitto", path="/usr/sbin:/usr/bin:/usr/local/sbin")
TOPICS = (
    SensorTopic(topic="garden/wall", tree="Wall fig"),
    SensorTopic(topic="garden/porch", tree="porch", place=Place.INSIDE, unit="f", value="readings.0.temperature"),
)
GARDEN = larkmoor("Porch fig", "Wall fig").model_copy(update={"sensors": TOPICS})


@contextmanager
def amqtt_broker(port: int) -> Iterator[None]:
    """A broker in a thread of the test that lets anybody in."""
    loop, own = asyncio.new_event_loop(), {"allow_anonymous": True}
    plugins = {"amqtt.plugins.authentication.AnonymousAuthPlugin": own}
    listeners = {"default": {"type": "tcp", "bind": f"127.0.0.1:{port}"}}
    thread = threading.Thread(target=loop.run_forever, daemon=True)
    thread.start()

    async def begun() -> Broker:
        broker = Broker({"listeners": listeners, "plugins": plugins})
        await broker.start()
        return broker

    broker = asyncio.run_coroutine_threadsafe(begun(), loop).result(30)
    try:
        yield
    finally:
        asyncio.run_coroutine_threadsafe(broker.shutdown(), loop).result(30)
        loop.call_soon_threadsafe(loop.stop)
        thread.join()
        loop.close()


@contextmanager
def mosquitto(folder: Path, port: int, *lines: str) -> Iterator[None]:
    if MOSQUITTO is None:
        pytest.skip("mosquitto is not installed here")
    config = folder / "mosquitto.conf"
    config.write_text("\n".join([f"listener {port} 127.0.0.1", *(lines or ["allow_anonymous true"]), ""]))
    with subprocess.Popen([MOSQUITTO, "-c", str(config)], stderr=subprocess.DEVNULL) as process:
        try:
            wait_for(lambda: _listens(port), "mosquitto")
            yield
        finally:
            process.kill()


def _listens(port: int) -> bool:
    with socket.socket() as asking:
        return asking.connect_ex(("127.0.0.1", port)) == 0


@pytest.fixture(params=["amqtt", "mosquitto"])
def broker(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[MqttBroker]:
    port = free_port()
    with amqtt_broker(port) if request.param == "amqtt" else mosquitto(tmp_path, port):
        yield MqttBroker(host="127.0.0.1", port=port, is_encrypted=False)


@pytest.fixture
def logbook(tmp_path: Path) -> Iterator[Logbook]:
    found = open_logbook(tmp_path / "logbook.db")
    yield found
    found.close()


@contextmanager
def heard(garden: Garden, logbook: Logbook, broker: MqttBroker) -> Iterator[Subscription]:
    own = Subscription(lambda: garden, logbook, broker, lambda: NOW)
    own.start()
    try:
        wait_for(own.is_listening.is_set, "the subscription")
        yield own
    finally:
        own.stop()


def told(broker: MqttBroker, topic: str, message: str, *, retain: bool = False, **trust: Any) -> None:
    async def publish() -> None:
        async with aiomqtt.Client(broker.host, broker.port, **trust) as client:
            await client.publish(topic, message, qos=1, retain=retain)

    asyncio.run(publish())


def readings(logbook: Logbook, garden: Garden = GARDEN) -> list[Reading]:
    with logbook.begin() as c:
        return list(read_readings(c, garden.name, datetime(2025, 1, 1, tzinfo=UTC)))


def test_a_number_and_a_number_inside_json_are_noted_at_their_trees(logbook: Logbook, broker: MqttBroker) -> None:
    with heard(GARDEN, logbook, broker):
        told(broker, "garden/elsewhere", "-30")
        told(broker, "garden/wall", "-6.5")
        told(broker, "garden/porch", '{"id": 3, "readings": [{"temperature": 14.0, "humidity": 80}]}')
        wait_for(lambda: len(readings(logbook)) == 2, "two readings")
    found = {(one.tree, one.place): round(one.air_c, 2) for one in readings(logbook)}
    assert found == {("Wall fig", Place.AIR): -6.5, ("Porch fig", Place.INSIDE): -10.0}  # 14 °F


def test_what_a_broker_kept_is_of_nobody_knows_when_and_is_not_noted(logbook: Logbook, broker: MqttBroker) -> None:
    told(broker, "garden/wall", "-20", retain=True)
    with heard(GARDEN, logbook, broker):
        told(broker, "garden/porch", '{"readings": [{"temperature": 30}]}')
        wait_for(lambda: readings(logbook), "the one that was told now")
    assert [one.tree for one in readings(logbook)] == ["Porch fig"]


@pytest.mark.parametrize(
    "message", [b"", b"warm", b"NaN", b"[1", b'{"readings": []}', b"\xff\xfe", b"9" * 100_000, b"[" * 5000, b"-300"]
)
def test_what_is_no_reading_is_let_go(logbook: Logbook, message: bytes) -> None:
    own = Subscription(lambda: GARDEN, logbook, MqttBroker(host="", port=1, is_encrypted=False), lambda: NOW)
    for topic in ("garden/wall", "garden/porch", "garden/elsewhere"):
        own.note(topic, message)
    assert readings(logbook) == []


def test_a_broker_that_is_away_is_waited_for(logbook: Logbook, tmp_path: Path) -> None:
    broker = MqttBroker(host="127.0.0.1", port=free_port(), is_encrypted=False)
    own = Subscription(lambda: GARDEN, logbook, broker, lambda: NOW)
    own.start()
    try:
        with amqtt_broker(broker.port):
            wait_for(own.is_listening.is_set, "the broker that came later")
    finally:
        own.stop()


def test_over_tls_with_a_certificate_of_its_own_and_a_password(logbook: Logbook, tmp_path: Path) -> None:
    key, certificate, passwords = tmp_path / "key.pem", tmp_path / "cert.pem", tmp_path / "passwords"
    if MOSQUITTO is None or shutil.which("openssl") is None:
        pytest.skip("mosquitto and openssl are not installed here")
    make = ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj", "/CN=127.0.0.1"]
    names = ["-addext", "subjectAltName=IP:127.0.0.1", "-keyout", str(key), "-out", str(certificate)]
    subprocess.run([*make, *names], check=True, capture_output=True)
    subprocess.run(["mosquitto_passwd", "-b", "-c", str(passwords), "bedstraw", "word"], check=True)
    for file in (key, certificate, passwords):
        file.chmod(0o644)  # the broker gives up being root before it reads them
    tmp_path.chmod(0o755)
    port = free_port()
    login = {"user": "bedstraw", "password": "word"}
    broker = MqttBroker(host="127.0.0.1", port=port, is_encrypted=True, certificates=str(certificate), **login)
    own = (f"certfile {certificate}", f"keyfile {key}", "allow_anonymous false", f"password_file {passwords}")
    trust: dict[str, Any] = {
        "tls_context": ssl.create_default_context(cafile=certificate),
        "username": "bedstraw",
        "password": "word",
    }
    with mosquitto(tmp_path, port, *own, "user root"), heard(GARDEN, logbook, broker):
        told(broker, "garden/wall", "-6.5", **trust)
        wait_for(lambda: readings(logbook), "the reading")


def test_a_reading_by_mosquittos_own_client_reaches_why(tmp_path: Path) -> None:
    client = shutil.which("mosquitto_pub")
    if client is None:
        pytest.skip("mosquitto's client is not installed here")
    phone, broker = Phone(GARDEN, NOW), MqttBroker(host="127.0.0.1", port=free_port(), is_encrypted=False)
    phone.tick()
    before = phone.say("why wall")
    with mosquitto(tmp_path, broker.port), heard(GARDEN, phone.logbook, broker):
        subprocess.run([client, "-p", str(broker.port), "-t", "garden/wall", "-m", "-7.2"], check=True)
        wait_for(lambda: readings(phone.logbook), "the reading")
    phone.tick()
    assert "1 reading" in phone.say("what have you learned wall")
    assert phone.say("why wall") != before
    phone.close()


def test_a_topic_of_a_tree_that_is_gone_is_said_by_check() -> None:
    gone = GARDEN.model_copy(update={"trees": GARDEN.trees[:1]})
    assert [problem.key for problem in doubtful(gone) if problem.key.startswith("sensors")] == ["sensors[1].tree"]


@pytest.mark.parametrize("address", ["broker", "http://broker", "mqtt://", "mqtt://b:0", "mqtt://b:x", "mqtt://u:p@b"])
def test_an_address_that_is_none_or_holds_a_password_is_refused(address: str) -> None:
    with pytest.raises(SecretsError, match="BEDSTRAW_MQTT_ADDRESS"):
        read_secrets({"BEDSTRAW_MQTT_ADDRESS": address})


def test_the_port_is_of_the_home_network_only_when_an_address_is_named() -> None:
    assert read_secrets({}).sensor_address == "127.0.0.1"
    assert read_secrets({"BEDSTRAW_SENSOR_ADDRESS": "0.0.0.0"}).sensor_address == "0.0.0.0"  # noqa: S104 - as asked
    with pytest.raises(SecretsError, match="IP address"):
        read_secrets({"BEDSTRAW_SENSOR_ADDRESS": "home.example.org"})
