"""The console of live sessions: single keys and a screen, or command lines in and JSON out."""

from __future__ import annotations

import contextlib
import errno
import os
import re
import select
import shutil
import signal
import sys
import threading
import time
from collections import deque
from typing import TYPE_CHECKING

from backing.control.commands import line_of
from backing.live.screen import MARK, screen
from backing.live.session import state_line

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from backing.live.session import Session
    from backing.live.source import LiveBar


_SEQUENCE = re.compile(r"\x1b(?:\[[0-?]*[ -/]*[@-~]|O.|.)?", re.DOTALL)
"""Escape sequences of arrows and function keys (ECMA-48)."""


def single_keys(text: str) -> str:
    """Return the text without arrows, function keys and keys with Alt."""
    return _SEQUENCE.sub("", text)


@contextlib.contextmanager
def raw_terminal() -> Iterator[None]:
    """Switch the terminal to single keys without echo; restore it afterwards."""
    if sys.platform == "win32":
        yield
        return
    import termios
    import tty

    number = sys.stdin.fileno()
    before = termios.tcgetattr(number)
    try:
        tty.setcbreak(number)
        yield
    finally:
        with contextlib.suppress(termios.error):  # the terminal has been closed
            termios.tcsetattr(number, termios.TCSADRAIN, before)


def waiting_keys(seconds: float) -> str:
    """Return the keys pressed, waiting at most `seconds` for the first.

    Raises:
        EOFError: when the terminal has been closed.

    """
    if sys.platform == "win32":
        import msvcrt

        time.sleep(seconds)
        keys = ""
        while msvcrt.kbhit():
            keys += msvcrt.getwch()
        return keys
    ready, _, _ = select.select([sys.stdin], [], [], seconds)
    if not ready:
        return ""
    try:
        keys = os.read(sys.stdin.fileno(), 64).decode("utf-8", "ignore")
    except OSError:
        keys = ""
    if not keys:
        raise EOFError("the terminal has been closed")
    return single_keys(keys)


POLL_SECONDS = 0.1
"""Interval between two drawings of the screen, with a check of the chart file and the port."""

_HOME, _CLEAR_LINE, _CLEAR_BELOW = "\x1b[H", "\x1b[K", "\x1b[J"
_ENTER_ALTERNATE, _LEAVE_ALTERNATE = "\x1b[?1049h\x1b[?25l", "\x1b[?25h\x1b[?1049l"
_BOLD, _PLAIN = "\x1b[1m", "\x1b[0m"
_LONGEST_LINE = 4096


class Console:
    """Runs sessions one after the other.

    Args:
        json: whether to print the state of each bar on standard output.
        large: whether chords are in large letters, to be read from two metres.
        keys: whether to read single keys from standard input; otherwise lines.

    """

    def __init__(self, *, json: bool, large: bool, keys: bool) -> None:
        self._json = json
        self._large = large
        self._keys = keys
        self._draws = keys and sys.stdout.isatty() and not json
        self._bars: deque[LiveBar] = deque()
        self._was_playing = False
        self._message_count = 0
        self._wake_up = threading.Event()
        self._ended = False

    def begun(self, bar: LiveBar) -> None:
        """Note that a bar begins; called by the sending thread."""
        if self._json:
            self._bars.append(bar)
            self._wake_up.set()

    def run(self, sessions: Iterable[Session], pedal: str | None = None) -> None:
        """Play sessions, each after the end of the one before; stop on `quit` or a signal.

        Args:
            sessions: the sessions.
            pedal: the MIDI input of a pedal, or a part of its name; None without one.

        Raises:
            BackingError: when the pedal has no mapping or is not connected.

        """
        with contextlib.ExitStack() as stack:
            stack.enter_context(_signals(self._request_end))
            is_first = True
            for session in sessions:
                self._session, self._message_count = session, 0
                with contextlib.closing(session):
                    if is_first:
                        self._open(stack, pedal)
                    is_first = False
                    self._play(session)
                if self._ended or not session.has_ended:
                    break
                if not self._draws:
                    self._print_last_changes()
        self._print_last_changes()

    def _open(self, stack: contextlib.ExitStack, pedal: str | None) -> None:
        """Open pedal, keys or lines, and screen."""
        if pedal:
            from backing.live.pedal import Pedal

            stack.callback(Pedal(pedal, self._carry_out).close)
        if self._keys:
            stack.enter_context(raw_terminal())
        else:
            threading.Thread(target=self._read_lines, daemon=True).start()
        if self._draws:
            stack.enter_context(_alternate_screen())

    def _play(self, session: Session) -> None:
        session.start()
        with _until_disconnected():
            while not session.is_over and not self._ended:
                self._step()

    def _print_last_changes(self) -> None:
        with contextlib.suppress(OSError):
            self._print_changes(last=True)

    def _request_end(self) -> None:
        """Ask to end. Takes no lock, so a signal handler may call it."""
        self._ended = True

    def _step(self) -> None:
        """Carry out keys, check file and port, draw or print."""
        if self._keys:
            for key in waiting_keys(POLL_SECONDS):
                if line := line_of(key):
                    self._session.command(line)
        else:
            self._wake_up.wait(POLL_SECONDS)
            self._wake_up.clear()
        self._session.poll()
        if self._draws:
            self.draw(self._session)
        else:
            self._print_changes()

    def _read_lines(self) -> None:
        """Carry out lines of standard input.

        Python's own buffer is not used: its lock would still be held when the process ends.
        """
        if sys.stdin is None:  # started without a standard input
            return
        rest = b""
        with contextlib.suppress(OSError, ValueError):
            while chunk := os.read(sys.stdin.fileno(), _LONGEST_LINE):
                *lines, rest = (rest + chunk).split(b"\n")
                for line in lines:
                    self._receive(line)
                rest = rest[-_LONGEST_LINE:]
        self._receive(rest)

    def _receive(self, line: bytes) -> None:
        self._carry_out(line.decode("utf-8", "replace"))
        self._wake_up.set()

    def _carry_out(self, line: str) -> None:
        """Carry out a line in the current session."""
        self._session.command(line)

    def draw(self, session: Session) -> None:
        """Draw the screen over the old one, without flicker."""
        size = shutil.get_terminal_size()
        lines = screen(session, size.columns, size.lines - 1, large=self._large)
        plain = bool(os.environ.get("NO_COLOR"))
        shown = [line if plain or MARK not in line else f"{_BOLD}{line}{_PLAIN}" for line in lines]
        sys.stdout.write(_HOME + "".join(f"{line}{_CLEAR_LINE}\n" for line in shown) + _CLEAR_BELOW)
        sys.stdout.flush()

    def _print_changes(self, *, last: bool = False) -> None:
        """Print new states and messages."""
        transport = self._session.transport
        if self._json:
            while self._bars:
                print(state_line(transport, self._bars.popleft()), flush=True)
                self._was_playing = True
            if self._was_playing and (last or not transport.playing):
                self._was_playing = False
                print(state_line(transport, transport.now_bar), flush=True)
        messages, self._message_count = self._session.messages_since(self._message_count)
        for text in messages:
            print(f"backing: {text}", file=sys.stderr)


@contextlib.contextmanager
def _until_disconnected() -> Iterator[None]:
    """End quietly when the terminal or the reader of our output is gone."""
    try:
        yield
    except (EOFError, BrokenPipeError) as error:
        if isinstance(error, BrokenPipeError):  # else the interpreter reports an error at exit
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    except OSError as error:
        if error.errno != errno.EIO:
            raise


@contextlib.contextmanager
def _alternate_screen() -> Iterator[None]:
    """Use the terminal's alternate screen."""
    sys.stdout.write(_ENTER_ALTERNATE)
    sys.stdout.flush()
    try:
        yield
    finally:
        with contextlib.suppress(OSError):
            sys.stdout.write(_LEAVE_ALTERNATE)
            sys.stdout.flush()


@contextlib.contextmanager
def _signals(end: Callable[[], None]) -> Iterator[None]:
    """Call `end` on Ctrl-C, SIGTERM and SIGHUP; ignore Ctrl-Z, which would leave notes sounding."""
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
