"""`bedstraw serve-many`: many gardens, one bot, any number of programs that share a PostgreSQL logbook."""

import asyncio
import logging
import os
import signal
import socket
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from bot.answers.garden_file.attachments import AttachmentsOfMany
from bot.commands.opening import logbook_place, transport_of
from bot.commands.serving.one_garden import utc_now
from bot.commands.serving.watchdog import Watched, watchdog_of, webhook_of
from bot.hosting.many_gardens import Gardens
from bot.hosting.weather_cells import cell_name, cell_site
from bot.logbook import Logbook, LogbookError, open_logbook
from bot.logbook.database.leader_lock import Leadership
from bot.messages import redacted
from bot.rounds import Setting
from bot.settings import Garden, GardenError, Secrets, SecretsError, problems_in_words, read_garden, read_secrets

ROUNDS_EVERY_S: Final = 1.0  # between looks for gardens that are due
ROUNDS_BESIDE_ENGINE_S: Final = 30.0  # the same where an engine hands them out, in case it stumbles
LEAD_EVERY_S: Final = 5.0  # how soon another program takes over; no source
ENGINE_AGAIN_S: Final = 30.0
REREAD_EVERY_S: Final = 60.0  # how soon a new garden file is noticed; no source

if TYPE_CHECKING:
    from bot.hosting.fan_out import FanOut  # an extra: only asked for where the engine is

log = logging.getLogger(__name__)


def serve_many(folder: Path, *, rounds_only: bool = False, engine: bool = False) -> int:
    """Serve all gardens of a folder until told to stop.

    Every program started with the same logbook shares the rounds and the answers; one of them, and if it ends
    another, asks the messenger for updates and sends. With `rounds_only` it leaves the messenger to the others. With
    `engine` procrastinate hands out the rounds; without it each program looks for gardens that are due.

    Raises
    ------
    SecretsError
        There is no sound garden file, no token, or a logbook that several programs can't share.
    """
    secrets = read_secrets()
    token = secrets.token_needed
    logbook = open_logbook(logbook_place(secrets))
    try:
        _refuse_lonely(logbook)
        files = Folder(folder, logbook, secrets)
        settings = files.settings()
        log.info("serving %d gardens", len(settings))
        who = f"{socket.gethostname()}:{os.getpid()}"
        gardens = Gardens(logbook, settings, who)
        gardens.enrol(utc_now())
        dog = watchdog_of(logbook, secrets, gardens.tell_of_silence)
        watched = Watched(gardens, dog)
        fan_out = _fan_out(gardens, secrets, who) if engine else None
        program = _Program(gardens, watched, token, secrets, files, fan_out, rounds_only=rounds_only)
        dog.start()
        try:
            asyncio.run(program.run())
        finally:
            dog.stop()
    finally:
        logbook.close()
    return 0


def _fan_out(gardens: Gardens, secrets: Secrets, who: str) -> "FanOut":
    from bot.hosting.fan_out import FanOut

    return FanOut(gardens, secrets.logbook_url, who, utc_now)


def _refuse_lonely(logbook: Logbook) -> None:
    if not logbook.is_server:
        raise SecretsError(
            "Many gardens need a logbook on a PostgreSQL server: set BEDSTRAW_LOGBOOK to an address like "
            "postgresql+psycopg://bedstraw@/bedstraw. For one garden there is 'bedstraw serve'."
        )


class Folder:
    """The garden files of a folder; a file is read again only when it changed."""

    def __init__(self, folder: Path, logbook: Logbook, secrets: Secrets) -> None:
        self._folder = folder
        self._logbook = logbook
        self._secrets = secrets
        self._kept: dict[Path, tuple[tuple[int, int], Setting | None]] = {}

    def settings(self) -> dict[str, Setting]:
        """The gardens of all sound files, by name; what is wrong with the others is told once in the log.

        Raises
        ------
        SecretsError
            The folder holds no sound garden file.
        """
        paths = sorted(self._folder.glob("*.toml"))
        self._kept = {path: self._read(path) for path in paths}
        found: dict[str, Setting] = {}
        for path, (_, setting) in self._kept.items():
            if setting is not None and setting.garden.name in found:
                log.error("%s is left out: another file is called %r too", path.name, setting.garden.name)
            elif setting is not None:
                found[setting.garden.name] = setting
        if not found:
            raise SecretsError(f"There is no sound garden file (*.toml) in the folder {self._folder}.")
        return found

    def _read(self, path: Path) -> tuple[tuple[int, int], Setting | None]:
        stamp = (path.stat().st_mtime_ns, path.stat().st_size)
        kept = self._kept.get(path)
        if kept is not None and kept[0] == stamp:
            return kept
        try:
            return stamp, self._setting(read_garden(path), path)
        except GardenError as error:
            log.error("%s is left out:\n%s", path.name, problems_in_words(error))  # noqa: TRY400 - its words say it all
            return stamp, kept[1] if kept else None  # a slip of the pen takes no garden away that was there

    def _setting(self, garden: Garden, path: Path) -> Setting:
        return Setting(
            garden=garden,
            logbook=self._logbook,
            transport=transport_of(garden, self._secrets),
            path=path,
            cell=cell_name(garden),
            weather_site=cell_site(garden),
        )


class _Program:
    """One program of the deployment: leads where nobody else does, works along where somebody does."""

    def __init__(
        self,
        gardens: Gardens,
        watched: Watched,
        token: str,
        secrets: Secrets,
        files: Folder,
        fan_out: "FanOut | None",
        *,
        rounds_only: bool,
    ) -> None:
        self._gardens = gardens
        self._watched = watched
        self._token = token
        self._address = secrets.telegram_address
        self._webhook = webhook_of(secrets)
        self._files = files
        self._fan_out = fan_out
        self._rounds_every_s = ROUNDS_EVERY_S if fan_out is None else ROUNDS_BESIDE_ENGINE_S
        self._rounds_only = rounds_only
        self._leadership = Leadership(gardens.logbook, f"poller:{token.partition(':')[0]}")
        self._stop = asyncio.Event()

    async def run(self) -> None:
        loop = asyncio.get_running_loop()
        for sign in (signal.SIGINT, signal.SIGTERM):
            loop.add_signal_handler(sign, self._stop.set)
        log.info("ready: a signal to stop ends this program in order")
        rereading = asyncio.ensure_future(self._every(REREAD_EVERY_S, self._look_at_folder))
        engine = asyncio.ensure_future(self._hand_out())
        try:
            while not self._stop.is_set():
                leads = not self._rounds_only and await asyncio.to_thread(self._leadership.holds)
                await (self._lead() if leads else self._work_along())
        finally:
            self._stop.set()
            await asyncio.gather(rereading, engine)
            await asyncio.to_thread(self._leadership.let_go)

    async def _hand_out(self) -> None:
        """The engine, begun again when it breaks; the rounds go on without it."""
        while self._fan_out is not None and not self._stop.is_set():
            try:
                await self._fan_out.run(self._stop)
            except Exception as error:  # noqa: BLE001 - whatever it was, the gardens have their turns by themselves
                log.error("no engine for now: %s", redacted(f"{type(error).__name__}: {error}"))  # noqa: TRY400
                await self._stopped_within(ENGINE_AGAIN_S)

    async def _lead(self) -> None:
        """Receive from the messenger and send to it, until told to stop or the lead is lost."""
        from bot.telegram_chat import serve
        from bot.timetable import start_timetable

        log.info("leading: this program receives the updates")
        ended, news = asyncio.Event(), asyncio.Event()
        if self._fan_out is not None:
            self._fan_out.lead(news)
        watching = asyncio.ensure_future(self._watch_the_lead(ended))
        try:
            shelf = AttachmentsOfMany(self._gardens, utc_now)
            timetable = partial(start_timetable, every_s=self._rounds_every_s)
            await serve(
                self._watched,
                self._token,
                self._address,
                ended,
                timetable,
                webhook=self._webhook,
                shelf=shelf,
                news=news,
            )
        finally:
            if self._fan_out is not None:
                self._fan_out.lead(None)
            ended.set()
            await watching

    async def _watch_the_lead(self, ended: asyncio.Event) -> None:
        while not ended.is_set():
            if await self._stopped_within(LEAD_EVERY_S, ended) or not await asyncio.to_thread(self._leadership.holds):
                ended.set()

    async def _work_along(self) -> None:
        """Rounds and answers beside the program that leads; one step, so that the lead is tried for again after it."""
        from bot.telegram_chat import read_update
        from bot.telegram_chat.transport import bot_id_of

        read: Any = partial(read_update, bot_id=bot_id_of(self._token))
        answers = asyncio.to_thread(self._watched.take_pending, read, utc_now)
        results = await asyncio.gather(
            answers, asyncio.to_thread(self._watched.tick, utc_now()), return_exceptions=True
        )
        for error in results:
            if isinstance(error, LogbookError):
                log.error("nothing done: %s", error)
            elif isinstance(error, BaseException):
                raise error
        await self._stopped_within(ROUNDS_EVERY_S)

    async def _look_at_folder(self) -> None:
        try:
            settings = await asyncio.to_thread(self._files.settings)
            await asyncio.to_thread(self._gardens.change, settings, utc_now())
        except (SecretsError, LogbookError, OSError) as error:
            log.error("the gardens stay as they were: %s", error)  # noqa: TRY400 - the sentence says it all

    async def _every(self, seconds: float, work: Callable[[], Any]) -> None:
        while not await self._stopped_within(seconds):
            await work()

    async def _stopped_within(self, seconds: float, also: asyncio.Event | None = None) -> bool:
        """Whether the program was told to stop, or the other event was set, within so many seconds."""
        waits = [asyncio.ensure_future(event.wait()) for event in (self._stop, also) if event is not None]
        done, _ = await asyncio.wait(waits, timeout=seconds, return_when=asyncio.FIRST_COMPLETED)
        for wait in waits:
            wait.cancel()
        return bool(done)
