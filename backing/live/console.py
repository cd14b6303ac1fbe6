"""The front of a live session: a terminal with keys and a screen, or lines in and JSON out."""

from __future__ import annotations

import contextlib
import os
import shutil
import signal
import sys
import threading
from typing import TYPE_CHECKING

from backing.live.keys import line_of, raw_terminal, waiting_keys
from backing.live.screen import screen
from backing.live.state import state_line

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from backing.live.session import Session

LOOK_SECONDS = 0.1
"""How often the screen is drawn again, and the file and the port are looked at."""

_LOOKS_A_DRAWING = 1
_HOME, _CLEAR_LINE, _CLEAR_BELOW = "\x1b[H", "\x1b[K", "\x1b[J"
_OTHER_SCREEN, _OWN_SCREEN = "\x1b[?1049h\x1b[?25l", "\x1b[?25h\x1b[?1049l"
_BOLD, _PLAIN = "\x1b[1m", "\x1b[0m"


class Console:
    """Runs a session until it is over.

    Args:
        session: the session.
        json: whether to print a line of state a bar on standard output.
        large: whether the screen is to be read from two metres.
        keys: whether standard input is a terminal with keys; else lines are read from it.

    """

    def __init__(self, session: Session, *, json: bool, large: bool, keys: bool) -> None:
        self._session = session
        self._json = json
        self._large = large
        self._keys = keys
        self._draws = keys and sys.stdout.isatty() and not json
        self._bars_told = 0
        self._news_told = 0
        self._ended = threading.Event()

    def run(self, pedal: str | None = None) -> None:
        """Play until the player leaves, the band ends, or a signal comes; then leave in order."""
        session = self._session
        with contextlib.ExitStack() as stack:
            stack.callback(session.close)
            stack.enter_context(_signals(self._ended))
            if pedal:
                stack.callback(self._with_pedal(pedal))
            if self._keys:
                stack.enter_context(raw_terminal())
            else:
                threading.Thread(target=self._read_lines, daemon=True).start()
            if self._draws:
                stack.enter_context(_own_screen())
            session.start()
            while not session.is_over and not self._ended.is_set():
                self._turn()
        self._tell()

    def _turn(self) -> None:
        """Take keys, look around, draw."""
        if self._keys:
            for key in waiting_keys(LOOK_SECONDS):
                self._press(key)
        else:
            self._ended.wait(LOOK_SECONDS)
        self._session.look_around()
        if self._draws:
            self._draw()
        else:
            self._tell()

    def _press(self, key: str) -> None:
        transport = self._session.transport
        bar = transport.now_bar
        line = line_of(
            key,
            playing=transport.playing,
            looping=transport.wishes.loop is not None,
            part=bar.part if bar else transport.wishes.chart.order[0],
        )
        if line:
            self._session.say(line)

    def _read_lines(self) -> None:
        for line in sys.stdin:
            self._session.say(line)
            if self._session.is_over:
                return

    def _with_pedal(self, name: str) -> Callable[[], None]:
        from backing.live.pedal import Pedal

        return Pedal(name, self._session.say).close

    def _draw(self) -> None:
        size = shutil.get_terminal_size()
        lines = screen(self._session, size.columns, size.lines - 1, large=self._large)
        plain = "NO_COLOR" in os.environ
        shown = [line if plain or ">" not in line else f"{_BOLD}{line}{_PLAIN}" for line in lines]
        sys.stdout.write(_HOME + "".join(f"{line}{_CLEAR_LINE}\n" for line in shown) + _CLEAR_BELOW)
        sys.stdout.flush()

    def _tell(self) -> None:
        """Print state and news as lines."""
        transport = self._session.transport
        if self._json:
            count = self._session.bars_begun
            if count != self._bars_told or transport.ended:
                self._bars_told = count
                print(state_line(transport), flush=True)
        for text in self._session.news[self._news_told :]:
            print(f"backing: {text}", file=sys.stderr)
        self._news_told = len(self._session.news)


@contextlib.contextmanager
def _own_screen() -> Iterator[None]:
    """Draw on the terminal's other screen and give the user's own back."""
    sys.stdout.write(_OTHER_SCREEN)
    sys.stdout.flush()
    try:
        yield
    finally:
        sys.stdout.write(_OWN_SCREEN)
        sys.stdout.flush()


@contextlib.contextmanager
def _signals(ended: threading.Event) -> Iterator[None]:
    """Take Ctrl-C, a termination and a closed terminal as the wish to end in order."""
    wanted = [
        getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)
    ]
    before = {number: signal.signal(number, lambda *_: ended.set()) for number in wanted}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
