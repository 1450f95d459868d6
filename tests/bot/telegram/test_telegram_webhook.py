"""Updates brought to the webhook over real HTTP: only the messenger is heard, and nothing is confirmed unkept."""

import http.client
import json
from collections.abc import Iterator, Mapping
from datetime import UTC, datetime
from typing import Any

import pytest
import sqlalchemy as sa

from bot.inbox import RawUpdate, store
from bot.logbook import Logbook, LogbookError
from bot.logbook.database.tables import inbox
from bot.settings import SecretsError, read_secrets
from bot.telegram_chat import TokenError, Webhook
from bot.telegram_chat.webhook import LONGEST_BODY, SECRET_HEADER, UpdateServer
from tests.bot.telegram.conftest import Town
from tests.bot.telegram.emulator import free_port
from tests.bot.telegram.open_door import Echo, OpenDoor, door_open, wait_for
from tests.bot.telegram.proxy import Break, Fault, refusal

SECRET = "a-secret-invented-for-this-test"  # noqa: S105 - opens nothing
UPDATE = {"update_id": 71, "message": {"message_id": 5, "date": 0, "chat": {"id": 4711, "type": "private"}}}


@pytest.fixture
def hook() -> Webhook:
    port = free_port()
    return Webhook(address=f"http://127.0.0.1:{port}/brought", port=port)


@pytest.fixture
def server(logbook: Logbook) -> Iterator[UpdateServer]:
    def keep(update: dict[str, Any]) -> None:
        with logbook.begin() as c:
            store(c, [RawUpdate(update["update_id"], json.dumps(update), datetime.now(UTC))])

    one = UpdateServer(0, SECRET, keep)
    one.start()
    yield one
    one.stop()


def brought(port: int, body: bytes, headers: Mapping[str, str], method: str = "POST") -> int:
    """The status of one delivery."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=5)
    try:
        connection.request(method, "/brought", body, dict(headers))
        return connection.getresponse().status
    finally:
        connection.close()


def closed_by_itself(town: Town, logbook: Logbook, hook: Webhook) -> BaseException | None:
    """Why a door closed that nobody asked to."""
    door = OpenDoor(Echo(logbook), town.token, town.wire.address, town.clock, hook)
    door.thread.join(10)
    assert not door.thread.is_alive()
    return door.error


def kept(logbook: Logbook) -> list[int]:
    with logbook.begin() as c:
        return list(c.scalars(sa.select(inbox.c.update_id).order_by(inbox.c.id)))


def test_what_is_brought_is_answered_and_the_messenger_is_never_asked(
    town: Town, logbook: Logbook, hook: Webhook
) -> None:
    with door_open(Echo(logbook), town.token, town.wire.address, town.clock, hook):
        told = wait_for(lambda: town.wire.accepted("setWebhook"), "the messenger to be told")[0].fields
        town.phone().says("closed porch")
        wait_for(lambda: town.phone().reads("heard text: closed porch"), "an answer")
    assert told["url"] == hook.address
    assert len(told["secret_token"]) >= 40  # Bot API: 1 to 256 of A-Z, a-z, 0-9, _ and -
    assert sorted(json.loads(told["allowed_updates"])) == [
        "callback_query",
        "edited_message",
        "message",
        "my_chat_member",
    ]
    assert not town.wire.asked("getUpdates")
    goodbye = town.wire.accepted("deleteWebhook")
    assert [call.fields.get("drop_pending_updates", "false").lower() for call in goodbye] == ["false"]


def test_an_update_brought_twice_is_answered_once(town: Town, logbook: Logbook, hook: Webhook) -> None:
    with door_open(Echo(logbook), town.token, town.wire.address, town.clock, hook):
        told = wait_for(lambda: town.wire.accepted("setWebhook"), "the messenger to be told")[0].fields
        town.phone().says("closed porch")
        wait_for(lambda: town.phone().reads("heard text: closed porch"), "an answer")
        again = {"update_id": town.emulator.newest[town.token]}
        assert brought(hook.port, json.dumps(again).encode(), {SECRET_HEADER: told["secret_token"]}) == 200
    assert len(kept(logbook)) == 1


def test_what_nobody_took_waits_for_the_poller_and_the_poller_for_the_webhook(
    town: Town, logbook: Logbook, hook: Webhook
) -> None:
    town.phone().says("before")
    with door_open(Echo(logbook), town.token, town.wire.address, town.clock, hook):
        wait_for(lambda: town.phone().reads("heard text: before"), "what waited with the messenger")
    town.phone().says("between")
    with door_open(Echo(logbook), town.token, town.wire.address, town.clock):
        wait_for(lambda: town.phone().reads("heard text: between"), "what came while nobody listened")
    assert len(kept(logbook)) == 2


def test_a_start_without_network_tells_the_messenger_as_soon_as_it_can(
    town: Town, logbook: Logbook, hook: Webhook
) -> None:
    town.wire.breaks(Fault("setWebhook", Break.RESET_BEFORE, times=2))
    with door_open(Echo(logbook), town.token, town.wire.address, town.clock, hook):
        town.phone().says("closed porch")
        wait_for(lambda: town.phone().reads("heard text: closed porch"), "an answer")


def test_a_refused_token_closes_the_door(town: Town, logbook: Logbook, hook: Webhook) -> None:
    town.wire.breaks(refusal("setWebhook", 401, "Unauthorized"))
    assert isinstance(closed_by_itself(town, logbook, hook), TokenError)


def test_a_port_in_use_is_said_in_a_sentence(town: Town, logbook: Logbook, server: UpdateServer) -> None:
    error = closed_by_itself(town, logbook, Webhook(address="http://127.0.0.1/brought", port=server.port))
    assert isinstance(error, SecretsError)
    assert str(error).startswith(f"BEDSTRAW_WEBHOOK_PORT {server.port} cannot be used: ")


@pytest.mark.parametrize(
    ("secret", "status"), [(SECRET, 200), (None, 403), ("", 403), (SECRET[:-1], 403), (SECRET + "x", 403), ("ä", 403)]
)
def test_only_who_knows_the_secret_is_heard(
    server: UpdateServer, logbook: Logbook, secret: str | None, status: int
) -> None:
    headers = {} if secret is None else {SECRET_HEADER: secret}
    assert brought(server.port, json.dumps(UPDATE).encode(), headers) == status
    assert kept(logbook) == ([71] if status == 200 else [])


@pytest.mark.parametrize(
    ("body", "status"),
    [
        (b"", 400),
        (b"not json", 400),
        (b"\xff\xfe", 400),
        (b"[" * 20_000, 400),
        (b'{"update_id": "71"}', 400),
        (b'{"update_id": 1e400}', 400),
        (b"[]", 400),
        (b" " * (LONGEST_BODY + 1), 413),
    ],
)
def test_what_is_no_update_is_refused_and_not_kept(
    server: UpdateServer, logbook: Logbook, body: bytes, status: int
) -> None:
    try:
        told = brought(server.port, body, {SECRET_HEADER: SECRET})
    except (ConnectionResetError, BrokenPipeError):  # cut off before it has said all its words
        told = 413
    assert told == status
    assert kept(logbook) == []


def test_a_body_of_untold_length_is_refused(server: UpdateServer, logbook: Logbook) -> None:
    chunked = {SECRET_HEADER: SECRET, "Transfer-Encoding": "chunked"}
    assert brought(server.port, b"0\r\n\r\n", chunked) == 411
    assert kept(logbook) == []


def test_nothing_but_a_post_is_taken(server: UpdateServer) -> None:
    assert brought(server.port, b"", {SECRET_HEADER: SECRET}, "GET") == 501


def test_what_cannot_be_kept_is_not_confirmed_and_comes_again(logbook: Logbook) -> None:
    tries: list[int] = []

    def keep(update: dict[str, Any]) -> None:
        tries.append(update["update_id"])
        if len(tries) == 1:
            raise LogbookError("The logbook is locked.")

    server = UpdateServer(0, SECRET, keep)
    server.start()
    try:
        statuses = [brought(server.port, json.dumps(UPDATE).encode(), {SECRET_HEADER: SECRET}) for _ in range(2)]
    finally:
        server.stop()
    assert statuses == [503, 200]
    assert tries == [71, 71]


def test_it_listens_to_this_machine_only(server: UpdateServer) -> None:
    assert server._server.server_address[0] == "127.0.0.1"


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"BEDSTRAW_WEBHOOK_PORT": "8443"}, "belong together"),
        ({"BEDSTRAW_WEBHOOK_ADDRESS": "https://bot.example.org/x"}, "belong together"),
        ({"BEDSTRAW_WEBHOOK_ADDRESS": "http://bot.example.org/x", "BEDSTRAW_WEBHOOK_PORT": "8443"}, "https://"),
        ({"BEDSTRAW_WEBHOOK_ADDRESS": "https://bot.example.org/x", "BEDSTRAW_WEBHOOK_PORT": "http"}, "a port"),
    ],
)
def test_half_a_webhook_is_refused_with_a_sentence(given: dict[str, str], words: str) -> None:
    with pytest.raises(SecretsError, match=words):
        read_secrets(given)


def test_a_webhook_is_read_from_the_environment() -> None:
    found = read_secrets({"BEDSTRAW_WEBHOOK_ADDRESS": "https://bot.example.org/x/", "BEDSTRAW_WEBHOOK_PORT": "8444"})
    assert (found.webhook_address, found.webhook_port) == ("https://bot.example.org/x", 8444)
    assert read_secrets({}).webhook_port is None
