"""The token is written nowhere: not in a log, not in an error, not in the logbook."""

import io
import logging
import os
import shutil
import signal
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
import sqlalchemy as sa

from bot.logbook import Logbook
from bot.logbook.database.tables import outbox
from bot.messages import OnUnknown
from bot.telegram_chat import TokenError
from bot.upkeep.logs import TALKATIVE, RedactingFormatter, quiet_logs
from tests.bot.preloaded import Program
from tests.bot.telegram.conftest import Town
from tests.bot.telegram.open_door import Echo, OpenDoor, door_open, wait_for
from tests.bot.telegram.proxy import Break, Fault, refusal
from tests.bot.telegram.test_telegram_sends import put, settled

ROOT = Path(__file__).parents[3]
DEMO = ROOT / "demo_config"


@pytest.fixture
def logs() -> Iterator[tuple[io.StringIO, io.StringIO]]:
    """Everything any library logs at any level, once through our formatter and once through a plain one."""
    root, streams = logging.getLogger(), (io.StringIO(), io.StringIO())
    handlers = [logging.StreamHandler(stream) for stream in streams]
    handlers[0].setFormatter(RedactingFormatter())
    handlers[1].setFormatter(logging.Formatter("%(name)s %(message)s"))
    before, quiet = root.level, _quiet_loggers()
    root.setLevel(logging.DEBUG)
    for logger in quiet:  # whatever an earlier test's program has hushed
        logger.setLevel(logging.NOTSET)
    for handler in handlers:
        root.addHandler(handler)
    yield streams
    for handler in handlers:
        root.removeHandler(handler)
    root.setLevel(before)
    for logger, level in quiet.items():
        logger.setLevel(level)


def _quiet_loggers() -> dict[logging.Logger, int]:
    loggers = [one for one in logging.root.manager.loggerDict.values() if isinstance(one, logging.Logger)]
    return {logger: logger.level for logger in loggers if logger.level != logging.NOTSET}


@pytest.mark.filterwarnings("ignore::telegram.warnings.PTBDeprecationWarning")  # the library warns itself, of its 429
def test_a_whole_session_with_every_fault_writes_the_token_nowhere(
    town: Town, logbook: Logbook, logs: tuple[io.StringIO, io.StringIO], tmp_path: Path
) -> None:
    secret = town.token.partition(":")[2]
    town.wire.breaks(
        Fault("sendMessage", Break.RESET_BEFORE),
        Fault("sendMessage", Break.GARBAGE),
        refusal("sendMessage", 429, "Too Many Requests", retry_after=1),
        refusal("sendMessage", 400, f"Bad Request: https://api/bot{town.token}/sendMessage refused"),
        Fault("getUpdates", Break.RESET_BEFORE),
    )
    with door_open(Echo(logbook), town.token, town.wire.address, town.clock):
        put(logbook, town, "close the cap", on_unknown=OnUnknown.RESEND)
        put(logbook, town, "more", chat_id=4712, on_unknown=OnUnknown.RESEND)
        put(logbook, town, "still more", chat_id=4713, on_unknown=OnUnknown.RESEND)
        for key in ("close the cap", "more", "still more"):
            settled(logbook, key, "sent", "dead", "unknown")
        town.phone().says("frost")
        wait_for(lambda: town.phone().reads("frost"), "the answer")
    town.wire.breaks(refusal("deleteWebhook", 401, "Unauthorized", times=9))
    refused = OpenDoor(Echo(logbook), town.token, town.wire.address, town.clock)
    refused.thread.join(20)
    assert isinstance(refused.error, TokenError)
    logging.getLogger("bot").error("stopped", exc_info=refused.error)
    ours, plain = (stream.getvalue() for stream in logs)
    assert secret in plain  # so that this test can fail
    assert secret not in ours
    with logbook.begin() as c:
        errors = [error for error in c.scalars(sa.select(outbox.c.error)) if error]
    assert any("<secret>" in error for error in errors)
    assert not any(secret in file.read_bytes().decode(errors="ignore") for file in tmp_path.iterdir())


def test_an_uncaught_error_in_any_thread_is_redacted(capsys: pytest.CaptureFixture[str]) -> None:
    kept = sys.excepthook, threading.excepthook, logging.getLogger().handlers[:], logging.getLogger().level
    quiet_logs()
    token = "12345678:AAinvented_for_this_test_only"  # noqa: S105 - invented
    try:
        error = RuntimeError(f"POST /bot{token}/sendMessage failed")
        sys.excepthook(RuntimeError, error, None)
        threading.excepthook(threading.ExceptHookArgs((RuntimeError, error, None, None)))
        assert all(logging.getLogger(name).level == logging.WARNING for name in TALKATIVE)
    finally:
        sys.excepthook, threading.excepthook = kept[:2]
        logging.getLogger().handlers[:] = kept[2]
        logging.getLogger().setLevel(kept[3])
    written = capsys.readouterr().err
    assert written.count("12345678:<secret>") == 2
    assert token not in written


@pytest.fixture
def garden(tmp_path: Path) -> Path:
    """The demo's garden file beside a logbook of its own."""
    shutil.copytree(DEMO, tmp_path / "garden")
    return tmp_path / "garden" / "larkmoor.toml"


def bedstraw_serve(town: Town, garden: Path, log: Path) -> Program:
    mine = {"BEDSTRAW_TOKEN": town.token, "BEDSTRAW_TELEGRAM_ADDRESS": town.wire.address}
    return Program(["serve", str(garden)], os.environ | mine, log)


@pytest.mark.processes
def test_the_command_line_says_that_a_token_is_wrong_in_one_sentence(town: Town, garden: Path, tmp_path: Path) -> None:
    town.wire.breaks(refusal("deleteWebhook", 401, "Unauthorized", times=9))
    assert bedstraw_serve(town, garden, tmp_path / "log").wait() == 2
    written = (tmp_path / "log").read_text()
    assert written.splitlines()[-1].startswith("Telegram does not know this token.")
    assert "Traceback" not in written
    assert town.token.partition(":")[2] not in written


@pytest.mark.processes
def test_the_served_garden_stops_in_order_when_asked_to(town: Town, garden: Path, tmp_path: Path) -> None:
    stranger = town.phone()
    stranger.says("hello", date=int(time.time()))
    process = bedstraw_serve(town, garden, tmp_path / "log")
    try:
        wait_for(lambda: stranger.reads("private garden"), "the polite line")
        process.send_signal(signal.SIGTERM)
        assert process.wait() == 0
    finally:
        process.kill()
    written = (tmp_path / "log").read_text()
    assert "Traceback" not in written
    assert garden.with_suffix(".logbook").exists()
    assert not garden.with_suffix(".logbook-wal").exists()  # the last to close SQLite's file takes that one in
    assert town.token.partition(":")[2] not in written
