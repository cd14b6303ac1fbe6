"""Single keys from the terminal."""

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
