"""The front of a live session: a terminal with keys and a screen, or lines in and JSON out."""

from __future__ import annotations

import contextlib
import errno
import os
import shutil
import signal
import sys
import threading
from collections import deque
from typing import TYPE_CHECKING

from backing.control.commands import line_of
from backing.live.keys import raw_terminal, waiting_keys
from backing.live.screen import MARK, screen
from backing.live.state import state_line

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from backing.live.session import Session
    from backing.live.source import LiveBar

LOOK_SECONDS = 0.1
"""How often the screen is drawn again, and the file and the port are looked at."""

_HOME, _CLEAR_LINE, _CLEAR_BELOW = "\x1b[H", "\x1b[K", "\x1b[J"
_OTHER_SCREEN, _OWN_SCREEN = "\x1b[?1049h\x1b[?25l", "\x1b[?25h\x1b[?1049l"
_BOLD, _PLAIN = "\x1b[1m", "\x1b[0m"
_LONGEST_LINE = 4096


class Console:
    """Runs sessions until they are over.

    Args:
        json: whether to print a line of state a bar on standard output.
        large: whether the screen is to be read from two metres.
        keys: whether standard input is a terminal with keys; else lines are read from it.

    """

    def __init__(self, *, json: bool, large: bool, keys: bool) -> None:
        self._json = json
        self._large = large
        self._keys = keys
        self._draws = keys and sys.stdout.isatty() and not json
        self._bars: deque[LiveBar] = deque()
        self._was_playing = False
        self._told = 0
        self._something = threading.Event()
        self._ended = False

    def begun(self, bar: LiveBar) -> None:
        """Take down a bar as it begins; called by the sending thread."""
        if self._json:
            self._bars.append(bar)
            self._something.set()

    def run(self, sessions: Iterable[Session], pedal: str | None = None) -> None:
        """Play sessions one after the other: the next begins when the band has ended.

        It ends when the player leaves or a signal comes.
        """
        with contextlib.ExitStack() as stack:
            stack.enter_context(_signals(self._end))
            is_first = True
            for session in sessions:
                self._session, self._told = session, 0
                with contextlib.closing(session):
                    if is_first:
                        self._open(stack, pedal)
                    is_first = False
                    self._play(session)
                if self._ended or not session.has_ended:
                    break
                if not self._draws:
                    self._tell_last()
        self._tell_last()

    def _open(self, stack: contextlib.ExitStack, pedal: str | None) -> None:
        """Begin to listen to the player, and to draw."""
        if pedal:
            stack.callback(self._with_pedal(pedal))
        if self._keys:
            stack.enter_context(raw_terminal())
        else:
            threading.Thread(target=self._read_lines, daemon=True).start()
        if self._draws:
            stack.enter_context(_own_screen())

    def _play(self, session: Session) -> None:
        session.start()
        with _until_they_go():
            while not session.is_over and not self._ended:
                self._turn()

    def _tell_last(self) -> None:
        with contextlib.suppress(OSError):
            self._tell(last=True)

    def _end(self) -> None:
        """Take down the wish to end; for a signal handler, which may wait for no lock."""
        self._ended = True

    def _turn(self) -> None:
        """Take keys, look around, draw."""
        if self._keys:
            for key in waiting_keys(LOOK_SECONDS):
                self._press(key)
        else:
            self._something.wait(LOOK_SECONDS)
            self._something.clear()
        self._session.look_around()
        if self._draws:
            self.draw(self._session)
        else:
            self._tell()

    def _press(self, key: str) -> None:
        line = line_of(key)
        if line:
            self._session.say(line)

    def _read_lines(self) -> None:
        """Carry out line by line, read past Python's buffer: it would be locked at our end."""
        if sys.stdin is None:  # started without a standard input
            return
        rest = b""
        with contextlib.suppress(OSError, ValueError):
            while chunk := os.read(sys.stdin.fileno(), _LONGEST_LINE):
                *lines, rest = (rest + chunk).split(b"\n")
                for line in lines:
                    self._take(line)
                rest = rest[-_LONGEST_LINE:]
        self._take(rest)

    def _take(self, line: bytes) -> None:
        self._say(line.decode("utf-8", "replace"))
        self._something.set()

    def _say(self, line: str) -> None:
        """Carry out a line in the session that is being played."""
        self._session.say(line)

    def _with_pedal(self, name: str) -> Callable[[], None]:
        from backing.live.pedal import Pedal

        return Pedal(name, self._say).close

    def draw(self, session: Session) -> None:
        """Draw the screen over the old one, line by line, so that nothing flickers."""
        size = shutil.get_terminal_size()
        lines = screen(session, size.columns, size.lines - 1, large=self._large)
        plain = bool(os.environ.get("NO_COLOR"))
        shown = [line if plain or MARK not in line else f"{_BOLD}{line}{_PLAIN}" for line in lines]
        sys.stdout.write(_HOME + "".join(f"{line}{_CLEAR_LINE}\n" for line in shown) + _CLEAR_BELOW)
        sys.stdout.flush()

    def _tell(self, *, last: bool = False) -> None:
        """Print state and news as lines."""
        transport = self._session.transport
        if self._json:
            while self._bars:
                print(state_line(transport, self._bars.popleft()), flush=True)
                self._was_playing = True
            if self._was_playing and (last or not transport.playing):
                self._was_playing = False
                print(state_line(transport, transport.now_bar), flush=True)
        news, self._told = self._session.news_since(self._told)
        for text in news:
            print(f"backing: {text}", file=sys.stderr)


@contextlib.contextmanager
def _until_they_go() -> Iterator[None]:
    """End with the terminal, or with whoever reads our lines."""
    try:
        yield
    except (EOFError, BrokenPipeError) as error:
        if isinstance(error, BrokenPipeError):  # else the interpreter would complain at its end
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    except OSError as error:
        if error.errno != errno.EIO:
            raise


@contextlib.contextmanager
def _own_screen() -> Iterator[None]:
    """Draw on the terminal's other screen and give the user's own back."""
    sys.stdout.write(_OTHER_SCREEN)
    sys.stdout.flush()
    try:
        yield
    finally:
        with contextlib.suppress(OSError):
            sys.stdout.write(_OWN_SCREEN)
            sys.stdout.flush()


@contextlib.contextmanager
def _signals(end: Callable[[], None]) -> Iterator[None]:
    """Take Ctrl-C, a termination and a closed terminal as the wish to end in order.

    Ctrl-Z does nothing: a process that stands still would leave keys down.
    """
    wanted = [
        getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)
    ]
    before = {number: signal.signal(number, lambda *_: end()) for number in wanted}
    if hasattr(signal, "SIGTSTP"):
        before[signal.SIGTSTP] = signal.signal(signal.SIGTSTP, signal.SIG_IGN)
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
