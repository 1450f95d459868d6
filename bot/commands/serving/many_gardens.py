"""`bedstraw serve-many`: many gardens, one bot, any number of programs that share a PostgreSQL logbook."""

import asyncio
import logging
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any, Final

from bot.answers.garden_file.attachments import AttachmentsOfMany
from bot.commands.opening import logbook_place, transport_of, warn_of_strangers
from bot.commands.serving.one_garden import utc_now
from bot.commands.serving.second_way import second_way
from bot.commands.serving.sensors import sensors_of_many
from bot.commands.serving.signals import on_hangup, stop_on_signals
from bot.commands.serving.watchdog import Watched, watchdog_of, webhook_of
from bot.forecasts import Transport
from bot.hosting.beginnings import Beginnings
from bot.hosting.garden_files import GardenFiles
from bot.hosting.many_gardens import Gardens
from bot.logbook import Logbook, open_logbook
from bot.logbook.programs.leader_lock import Leadership, poller_of
from bot.messages import in_words
from bot.settings import Garden, Secrets, SecretsError, read_secrets
from bot.upkeep.alarm import note_started
from bot.upkeep.logs import ToldOnce

LEAD_EVERY_S: Final = 1.0  # between looks whether nobody leads: another takes over within five seconds; no source
ANSWERS_EVERY_S: Final = 1.0  # between looks for what somebody else received
QUEUE_AGAIN_S: Final = 5.0  # after the queue broke; no source
REREAD_EVERY_S: Final = 60.0  # how soon a new garden file is noticed; no source

log = logging.getLogger(__name__)


def serve_many(folder: Path, *, rounds_only: bool = False) -> int:
    """Serve all gardens of a folder until told to stop.

    Every program started with the same logbook shares the rounds and the answers; one of them, and if it ends
    another, asks the messenger for updates and sends. With `rounds_only` it leaves the messenger to the others.

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
        files = GardenFiles(folder, logbook, partial(transport_of, secrets=secrets))
        settings = files.settings()
        files.tell(utc_now())
        log.info("serving %d gardens", len(settings))
        gardens = Gardens(logbook, settings)
        transport = Transport(addresses=secrets.service_addresses)
        gardens.begin_with(Beginnings(folder, logbook, transport, lambda: gardens.change(files.settings(), utc_now())))
        gardens.enrol(utc_now())
        warn_of_strangers(logbook, settings)
        with logbook.begin() as c:
            note_started(c, utc_now())
        dog = watchdog_of(logbook, secrets, gardens.tell_of_silence, lambda: gardens.slowest_turn_s)
        watched = Watched(gardens, dog)
        program = _Program(gardens, watched, token, secrets, files, dog.ticked, rounds_only=rounds_only)
        dog.start()
        try:
            asyncio.run(program.run())
        finally:
            dog.stop()
    finally:
        logbook.close()
    return 0


def _refuse_lonely(logbook: Logbook) -> None:
    if not logbook.is_server:
        raise SecretsError(
            "Many gardens need a logbook on a PostgreSQL server: set BEDSTRAW_LOGBOOK to an address like "
            "postgresql+psycopg://bedstraw@/bedstraw. For one garden there is 'bedstraw serve'."
        )


class _NoTimetable:
    """Rounds go on whether a program leads or not, so the door has none to begin."""

    def shutdown(self, *, wait: bool) -> None:
        """Nothing was begun."""


def _no_timetable(_: Callable[[], Any]) -> _NoTimetable:
    return _NoTimetable()


class _Program:
    """One program of the deployment: leads where nobody else does, works along where somebody does.

    Seeking the lead, answering and making rounds wait for each other in nothing.
    """

    def __init__(
        self,
        gardens: Gardens,
        watched: Watched,
        token: str,
        secrets: Secrets,
        files: GardenFiles,
        beat: Callable[[], object],
        *,
        rounds_only: bool,
    ) -> None:
        self._gardens = gardens
        self._watched = watched
        self._token = token
        self._secrets = secrets
        self._address = secrets.telegram_address
        self._webhook = webhook_of(secrets)
        self._files = files
        self._beat = beat
        self._rounds_only = rounds_only
        self._leadership = Leadership(gardens.logbook, poller_of(token))
        self._stop, self._news, self._reread = asyncio.Event(), asyncio.Event(), asyncio.Event()
        self._leads = False
        self._told = ToldOnce()

    async def run(self) -> None:
        loop = asyncio.get_running_loop()
        stop_on_signals(loop, self._stop.set)
        on_hangup(loop, self._reread.set)
        log.info("ready: a signal to stop ends this program in order")
        tasks = [
            asyncio.ensure_future(work)
            for work in (
                self._every(REREAD_EVERY_S, self._look_at_folder, asked=self._reread),
                self._every(ANSWERS_EVERY_S, self._answer),
                self._make_rounds(),
            )
        ]
        try:
            await self._seek_the_lead()
        finally:
            self._stop.set()
            await asyncio.gather(*tasks)
            await asyncio.to_thread(self._leadership.let_go)

    async def _seek_the_lead(self) -> None:
        """Lead as soon as nobody else does; neither rounds nor answers keep this program from looking."""
        while not self._stop.is_set():
            if not self._rounds_only and await asyncio.to_thread(self._leadership.holds):
                try:
                    await self._lead()
                except SecretsError:
                    raise  # a word for whoever runs this program
                except Exception as error:  # noqa: BLE001 - the rounds go on, and the door is opened anew
                    log.error("the door closed: %s", in_words(error))  # noqa: TRY400
            await self._stopped_within(LEAD_EVERY_S)

    async def _make_rounds(self) -> None:
        """The rounds as the queue hands them out; where it breaks, once by ourselves before it is tried again."""
        from bot.hosting.fan_out import FanOut  # an extra: only asked for where gardens are many
        from bot.telegram_chat.waiting import in_daemon_thread

        queue = FanOut(self._gardens, self._secrets.logbook_url, utc_now, in_daemon_thread, self._beat)
        while not self._stop.is_set():
            try:
                await queue.run(self._stop)
            except Exception as error:  # noqa: BLE001 - whatever it was, the gardens have their turns by themselves
                if self._told.is_new("queue", error):
                    log.error("no queue for now: %s", in_words(error))  # noqa: TRY400 - told once is enough
                await self._in_its_thread("rounds", lambda: self._watched.tick(utc_now()))
                await self._stopped_within(QUEUE_AGAIN_S)

    async def _lead(self) -> None:
        """Receive from the messenger and send to it, until told to stop or the lead is lost."""
        from bot.telegram_chat import serve

        log.info("leading: this program receives the updates")
        ended = asyncio.Event()
        self._leads = True
        watching = asyncio.ensure_future(self._watch_the_lead(ended))
        try:
            shelf = AttachmentsOfMany(self._gardens, utc_now)
            logbook = self._gardens.logbook
            with sensors_of_many(self._garden_of, logbook, self._secrets), second_way(logbook, self._secrets):
                await serve(
                    self._watched,
                    self._token,
                    self._address,
                    ended,
                    _no_timetable,
                    webhook=self._webhook,
                    shelf=shelf,
                    news=self._news,
                )
        finally:
            self._leads = False
            ended.set()
            await watching

    def _garden_of(self, name: str) -> Garden | None:
        setting = self._gardens.setting_of(name)
        return setting.garden if setting is not None else None

    async def _watch_the_lead(self, ended: asyncio.Event) -> None:
        while not ended.is_set():
            if await self._stopped_within(LEAD_EVERY_S, ended) or not await asyncio.to_thread(self._leadership.holds):
                ended.set()

    async def _answer(self) -> None:
        """Answers to what another program received; the door of the one that leads answers by itself."""
        from bot.telegram_chat import read_update
        from bot.telegram_chat.transport import bot_id_of

        if not self._leads:
            read: Any = partial(read_update, bot_id=bot_id_of(self._token))
            await self._in_its_thread("answers", lambda: self._watched.take_pending(read, utc_now))

    async def _in_its_thread(self, what: str, work: Callable[[], object]) -> None:
        """Work that nothing else waits for, and the end of the program neither; its faults are told and survived."""
        from bot.telegram_chat.waiting import in_daemon_thread, until

        try:
            await until(in_daemon_thread(work), self._stop)
        except Exception as error:  # noqa: BLE001 - a fault in one thing must not end all others
            if self._told.is_new(what, error):
                log.error("no %s: %s", what, in_words(error))  # noqa: TRY400 - a fault told once is enough
        else:
            self._told.over(what)

    async def _look_at_folder(self) -> None:
        asked = self._reread.is_set()
        self._reread.clear()
        try:
            settings = await asyncio.to_thread(self._files.settings)
            await asyncio.to_thread(self._gardens.change, settings, utc_now())
            await asyncio.to_thread(self._files.tell, utc_now())
        except Exception as error:  # noqa: BLE001 - the next look comes in a minute
            if self._told.is_new("files", error):
                log.error("the gardens stay as they were: %s", in_words(error))  # noqa: TRY400 - once is enough
        else:
            self._told.over("files")
        if asked:  # said last: who reads it counts on what the files now say
            log.info("the garden files were looked at again, as asked")

    async def _every(self, seconds: float, work: Callable[[], Any], asked: asyncio.Event | None = None) -> None:
        """Again and again after so many seconds, and at once when somebody asks for it."""
        while not self._stop.is_set():
            await work()
            await self._stopped_within(seconds, asked)

    async def _stopped_within(self, seconds: float, also: asyncio.Event | None = None) -> bool:
        """Whether the program was told to stop, or the other event was set, within so many seconds."""
        waits = [asyncio.ensure_future(event.wait()) for event in (self._stop, also) if event is not None]
        done, _ = await asyncio.wait(waits, timeout=seconds, return_when=asyncio.FIRST_COMPLETED)
        for wait in waits:
            wait.cancel()
        return bool(done)
