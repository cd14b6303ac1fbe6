"""What follows our MIDI clock - a drum machine, a sequencer - and how it is led.

Conventions (MIDI 1.0): clock 24 a quarter note, through the count-in too, so that a follower knows
the tempo before it starts; start at the first bar of the tune, and, where the band goes on after a
pause or has been held up, stop, song position in sixteenths and continue. Song position counts the
music since the start, as played: it goes on through loops.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from backing.live.source import COUNT_IN
from backing.timing import TICKS_PER_QUARTER

if TYPE_CHECKING:
    from collections.abc import Callable

    from backing.live.source import LiveBar

CLOCK, START, CONTINUE, STOP, SONG_POSITION = 0xF8, 0xFA, 0xFB, 0xFC, 0xF2
CLOCK_TICKS = TICKS_PER_QUARTER // 24

_SONG_POSITION_TICKS = TICKS_PER_QUARTER // 4
_LAST_SONG_POSITION = 0x3FFF


class Follower:
    """Leads a follower by messages.

    Args:
        send: takes each message.

    """

    def __init__(self, send: Callable[[bytes], None]) -> None:
        self._send = send
        self._runs = False

    def tick(self, *, too_late: bool) -> None:
        """Send a clock; one that is left out would put the follower out for good: it stops."""
        if too_late:
            self.stop()
        else:
            self._send(bytes((CLOCK,)))

    def lead(self, bar: LiveBar, *, too_late: bool) -> None:
        """Let the follower run where music begins, and wait where it is counted in."""
        if bar.part == COUNT_IN:
            self.stop()
        elif not self._runs and not too_late:
            place = min(bar.position.ticks // _SONG_POSITION_TICKS, _LAST_SONG_POSITION)
            if place:
                self._send(bytes((SONG_POSITION, place & 0x7F, place >> 7)))
            self._send(bytes((CONTINUE if place else START,)))
            self._runs = True

    def stop(self) -> None:
        """Let the follower stop, if it runs."""
        if self._runs:
            self._send(bytes((STOP,)))
            self._runs = False
