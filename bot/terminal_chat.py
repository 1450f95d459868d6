"""The terminal door: lines in, lines out. Buttons become numbers; "re 12 …" answers message 12.

On a terminal a nudge appears above the half-typed line; through a pipe, or for a screen reader, it is one line after
another. The same conversation stands behind it as behind the Telegram door.
"""

import asyncio
import json
import logging
import re
import sys
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Protocol, TextIO

from bot.inbox import Conversation, RawUpdate, store
from bot.logbook import TERMINAL_CHAT, Door, LogbookError
from bot.messages import LARGEST_FILE_BYTES, Button, Incoming, IncomingKind, in_words
from bot.outbox import Claimed, Outcome, SendOutcome, deliver

if TYPE_CHECKING:
    from prompt_toolkit import PromptSession
    from prompt_toolkit.completion import Completer

log = logging.getLogger(__name__)

TICK_S: Final = 30.0
QUOTE = re.compile(r"^\s*re\s+#?(\d+)[\s:,]+(.*)$", re.IGNORECASE)
FILE = re.compile(r"^\s*import\s+(?P<path>\S.*?)\s*$", re.IGNORECASE)
LEAVE: Final = {"exit", "quit", "bye"}


class Writable(Protocol):
    """Where the lines go."""

    def write(self, text: str, /) -> object:
        """Write some text."""

    def flush(self) -> object:
        """Show it now."""


class Terminal:
    """One person at one terminal: prints what is due, stores what is typed."""

    def __init__(
        self, conversation: Conversation, out: Writable, now: Callable[[], datetime], person: str = "you"
    ) -> None:
        self._conversation = conversation
        self._out = out
        self._now = now
        self._person = person
        self._buttons: tuple[Button, ...] = ()
        self._asked_id: int | None = None
        self._next_id = int(datetime.now(UTC).timestamp() * 1e6)

    def print_to(self, out: Writable) -> None:
        """Print to another stream from now on."""
        self._out = out

    def tick(self) -> None:
        """Let the conversation look at the clock, then print what is due."""
        try:
            self._conversation.tick(self._now())
        except LogbookError:
            raise
        except Exception as error:  # noqa: BLE001 - a round that fails must not end the talk
            log.error("the round failed: %s", in_words(error))  # noqa: TRY400
        self.show()

    def hear(self, line: str) -> None:
        """One typed line: stored, taken, answered."""
        text = line.strip()
        if not text:
            return
        raw = json.dumps(self._typed(text))
        with self._conversation.logbook.begin() as c:
            store(c, [RawUpdate(self._next_id, raw, self._now(), TERMINAL_CHAT)], Door.TERMINAL)
        self._next_id += 1
        self._conversation.take_pending(read_line, self._now, Door.TERMINAL)
        self.show()

    def show(self) -> None:
        """Print all that waits for this door."""
        while deliver(self._conversation.logbook, self._print, self._now, "terminal", door=Door.TERMINAL):
            pass

    def _typed(self, text: str) -> dict[str, Any]:
        quoted = QUOTE.match(text)
        typed = {"update_id": self._next_id, "person": self._person, "at": self._now().isoformat(), "text": text}
        if quoted:
            return typed | {"quoted": int(quoted[1]), "text": quoted[2]}
        if text.isdigit() and 1 <= int(text) <= len(self._buttons):
            return typed | {"button": self._buttons[int(text) - 1].data, "quoted": self._asked_id}
        return typed | _file_named(text)

    def _print(self, claimed: Claimed) -> SendOutcome:
        message_id = claimed.edits_message_id or claimed.row_id
        changed = " (changed)" if claimed.edits_message_id else ""
        lines = [f"#{message_id}{changed} {claimed.text}"]
        if claimed.buttons:
            self._buttons, self._asked_id = claimed.buttons, message_id
            lines.append("   " + "   ".join(f"{i} {b.label}" for i, b in enumerate(claimed.buttons, start=1)))
        if claimed.picture:
            what = "picture" if claimed.picture.endswith(".png") else "file"
            lines.append(f"   {what}: {claimed.picture}")
        print("\n".join(lines), file=self._out, flush=True)
        return SendOutcome(outcome=Outcome.SENT, message_id=message_id)


def _file_named(text: str) -> dict[str, str]:
    """The file that "import …" names, with what it holds; nothing where there is no such file."""
    named = FILE.match(text)
    path = Path(named["path"].strip("'\"")).expanduser() if named else None
    try:
        if path is None or not path.is_file():
            return {}
        with path.open("rb") as file:
            data = file.read(LARGEST_FILE_BYTES + 1)
    except OSError:
        return {}
    return {"file_name": path.name, "file_text": data.decode("utf-8", "surrogateescape")}


def read_line(raw: str) -> Incoming:
    """What was typed, from its stored JSON."""
    typed = json.loads(raw)
    button = typed.get("button", "")
    return Incoming(
        update_id=typed["update_id"],
        chat_id=TERMINAL_CHAT,
        person=typed["person"],
        kind=IncomingKind.TAP if button else IncomingKind.TEXT,
        text=typed["text"],
        button=button,
        quoted_id=typed.get("quoted"),
        file_name=typed.get("file_name", ""),
        file_text=typed.get("file_text"),
        at_utc=datetime.fromisoformat(typed["at"]),
    )


def chat_through_pipe(terminal: Terminal, lines: TextIO) -> None:
    """Read a line, answer it, until the lines end."""
    terminal.tick()
    for line in lines:
        if line.strip().lower() in LEAVE:
            return
        terminal.hear(line)


def opening(garden: str) -> str:
    """The first line on a terminal: who is there, and how to go on and out."""
    return f'{garden}. "due" says what is to do, "help" what I understand; Tab completes, Ctrl-D leaves.'


def history_of(logbook: Path | None) -> Path | None:
    """The file of what was typed in earlier sessions, beside the logbook and for its owner's eyes only.

    None where the logbook is no file. The file is made, or its mode mended, here.
    """
    if logbook is None:
        return None
    path = logbook.with_suffix(".typed")
    path.touch(mode=0o600)
    path.chmod(0o600)
    return path


async def chat_on_terminal(terminal: Terminal, words: list[str], history: Path | None = None) -> None:
    """Prompt for lines; what falls due meanwhile is printed above the half-typed one. Ctrl-D leaves.

    `history` is the file of what was typed before; None remembers this session alone.
    """
    from prompt_toolkit import PromptSession
    from prompt_toolkit.history import FileHistory, InMemoryHistory
    from prompt_toolkit.patch_stdout import patch_stdout

    session: PromptSession[str] = PromptSession(
        "> ",
        completer=_completer(words),
        complete_while_typing=False,
        history=FileHistory(str(history)) if history else InMemoryHistory(),
    )
    # one thread for the logbook: a slow weather service never freezes the half-typed line
    with patch_stdout(raw=True), ThreadPoolExecutor(max_workers=1) as thread:
        terminal.print_to(sys.stdout)  # the patched one prints above the prompt
        ticking = asyncio.create_task(_tick_for_ever(terminal, thread))
        try:
            while (line := await _typed_line(session)).strip().lower() not in LEAVE:
                await asyncio.get_running_loop().run_in_executor(thread, terminal.hear, line)
        except EOFError:
            return
        finally:
            ticking.cancel()


async def _typed_line(session: "PromptSession[str]") -> str:
    """The next line; Ctrl-C throws away what is half typed, and leaves only where nothing is."""
    try:
        return await session.prompt_async()
    except KeyboardInterrupt:
        if not session.default_buffer.text:
            raise EOFError from None
        session.default_buffer.reset()
        return ""


def _completer(words: list[str]) -> "Completer":
    """Words anywhere; behind "import" the places of files."""
    from prompt_toolkit.completion import Completer, Completion, PathCompleter, WordCompleter
    from prompt_toolkit.document import Document

    plain, places = WordCompleter(words, ignore_case=True), PathCompleter(expanduser=True)

    class Completing(Completer):
        def get_completions(self, document: Document, event: Any) -> Iterator[Completion]:
            named = re.match(r"\s*import\s+", document.text_before_cursor, re.IGNORECASE)
            if named is None:
                yield from plain.get_completions(document, event)
            else:
                rest = document.text_before_cursor[named.end() :]
                yield from places.get_completions(Document(rest), event)

    return Completing()


async def _tick_for_ever(terminal: Terminal, thread: ThreadPoolExecutor) -> None:
    while True:
        await asyncio.get_running_loop().run_in_executor(thread, terminal.tick)
        await asyncio.sleep(TICK_S)
