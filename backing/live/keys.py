"""Single keys on the terminal, each another way to say a line."""

from __future__ import annotations

import contextlib
import os
import re
import select
import sys
import time
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

KEYS = {
    " ": ("pause | play", "play, pause"),
    "+": ("tempo +", "faster"),
    "-": ("tempo -", "slower"),
    "t": ("tap", "tap"),
    "k": ("key +1", "key up"),
    "j": ("key -1", "key down"),
    "n": ("part next", "next part"),
    "l": ("loop off | loop here", "loop this part"),
    "b": ("mute bass | unmute bass", "bass"),
    "c": ("mute chop | unmute chop", "chop"),
    "d": ("mute drums | unmute drums", "drums"),
    "]": ("level +10", "louder"),
    "[": ("level -10", "softer"),
    "e": ("last-time", "last time"),
    "q": ("quit", "leave"),
}
"""Each key: the line it says, and its word in the help line."""

_SAME = {"=": "+", "_": "-"}

_SEQUENCE = re.compile(r"\x1b(?:\[[0-?]*[ -/]*[@-~]|O.|.)?", re.DOTALL)
"""What arrows and function keys send: escape and more signs (ECMA-48), no keys of ours."""


def line_of(key: str) -> str | None:
    """Return the line that a key says, or None for a key that says nothing."""
    entry = KEYS.get(_SAME.get(key, key.lower()))
    return entry[0] if entry else None


def single_keys(text: str) -> str:
    """Return what was typed without arrows, function keys and keys with Alt."""
    return _SEQUENCE.sub("", text)


@contextlib.contextmanager
def raw_terminal() -> Iterator[None]:
    """Read single keys from the terminal, without echo, and leave it as it was."""
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
    """Return the keys pressed so far, waiting for the first one so long at most.

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
