"""Two programs over a network to PostgreSQL that cuts, stalls and refuses: nothing lost, nothing twice, none ends."""

import re
from collections import Counter
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest
import sqlalchemy as sa
from telegram.error import NetworkError

from bot.logbook import LogbookError, note_person, open_logbook
from bot.logbook.database.tables import inbox
from bot.outbox import REPEAT_WORDS
from bot.telegram_chat import Pauses
from bot.telegram_chat.transport import wait_s
from tests.bot.invented_gardens import write_garden_file
from tests.bot.postgres_server import Server
from tests.bot.telegram.conftest import Town
from tests.bot.telegram.open_door import wait_for
from tests.bot.telegram.programs import serving_many
from tests.bot.telegram.tcp_wire import tcp_wire

NAME, CHAT = "Larkmoor", 4711
SAID, EACH = 4, 4  # messages, and troubles after each
# a look a second, each of which may first find out, within 25 s, that its old connection is dead; then the machine
LED_AGAIN_WITHIN_S = 90.0


def leads_now(url: str) -> bool:
    """Whether some program holds the lock of whoever asks the messenger: the only advisory lock that is not shared."""
    database = sa.create_engine(url, poolclass=sa.NullPool)
    with database.connect() as c:
        held = "SELECT count(*) FROM pg_locks WHERE locktype = 'advisory' AND mode = 'ExclusiveLock' AND granted"
        return bool(c.exec_driver_sql(held).scalar())


@pytest.mark.processes
def test_two_programs_over_an_unreliable_network_lose_nothing_and_lead_again_soon(
    town: Town, tmp_path: Path, postgres: Server, new_database: Callable[[], str]
) -> None:
    url = new_database()
    database = url.partition("@/")[2].partition("?")[0]
    write_garden_file(tmp_path, NAME, "Porch fig", datetime.now(UTC))
    with closing(open_logbook(url)) as logbook, logbook.begin() as c:
        note_person(c, NAME, CHAT, "Rowan", "owner")
    phone = town.phone(chat_id=CHAT)
    with tcp_wire(postgres.home, seed=1) as wire:
        over = f"postgresql+psycopg://postgres@127.0.0.1:{wire.port}/{database}"
        with (
            serving_many(tmp_path, over, town.token, town.wire.address) as one,
            serving_many(tmp_path, over, town.token, town.wire.address) as two,
        ):
            logs = [tmp_path / f"program-{i}.log" for i in range(2)]
            wait_for(lambda: all("ready" in log.read_text() for log in logs), "both to be ready")
            wire.is_troubled = True
            for number in range(SAID):
                phone.says(f"note number {number} of the bench")
                so_many = sum(wire.troubles.values()) + EACH
                wait_for(lambda most=so_many: sum(wire.troubles.values()) >= most, "troubles")  # type: ignore[misc]
            wire.is_troubled = False
            wait_for(lambda: leads_now(url), "somebody to lead again", LED_AGAIN_WITHIN_S)
            wait_for(lambda: set(told(town)) == set(range(SAID)), "an answer to each")
            assert (one.poll(), two.poll()) == (None, None)
    assert min(wire.troubles["cut"], wire.troubles["stalled"] + wire.troubles["refused"]) > 0, wire.troubles
    assert set(told(town).values()) == {1}  # but for those marked as repeats
    with closing(open_logbook(url)) as logbook, logbook.begin() as c:
        states = Counter(c.scalars(sa.select(inbox.c.state)))
    assert states == {"done": SAID}


def test_a_logbook_out_of_reach_is_looked_for_again_within_seconds_and_a_messenger_within_a_minute() -> None:
    pauses = Pauses()
    assert wait_s(LogbookError("gone"), pauses.longest_s, pauses) == 5.0
    assert wait_s(LogbookError("gone"), pauses.first_s, pauses) == 1.0
    assert wait_s(NetworkError("gone"), pauses.longest_s, pauses) == 60.0


def test_a_server_that_went_silent_is_given_up_within_half_a_minute_or_as_the_address_says(
    postgres: Server, new_database: Callable[[], str]
) -> None:
    url = new_database()
    for address, waits_ms in ((url, "25000"), (f"{url}&tcp_user_timeout=9000", "9000")):
        with closing(open_logbook(address)) as logbook, logbook.begin() as c:
            used = c.connection.driver_connection.info.get_parameters()  # type: ignore[union-attr]  # it is open
        assert (used["tcp_user_timeout"], used["keepalives_idle"], used["connect_timeout"]) == (waits_ms, "10", "10")


def told(town: Town) -> Counter[int]:
    """How often each note was answered, without those marked as repeats."""
    texts = [call.fields.get("text", "") for call in town.wire.accepted("sendMessage", chat_id=CHAT)]
    plain = [text for text in texts if REPEAT_WORDS not in text]
    return Counter(int(n) for text in plain for n in re.findall(r"Kept: number (\d+) of the bench", text))
