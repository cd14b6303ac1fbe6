"""MIDI clock for a follower, such as a drum machine or a sequencer.

Conventions (MIDI 1.0): 24 clocks a quarter note, also during the count-in, so that the follower
knows the tempo before it starts. Start comes with the first bar of the tune; after a pause or a
stall come stop, song position in sixteenths and continue. Song position counts the music played
since the start, loops included.
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
    """Sends start, stop, position and clock.

    Args:
        send: receives each message.

    """

    def __init__(self, send: Callable[[bytes], None]) -> None:
        self._send = send
        self._running = False

    def tick(self, *, too_late: bool) -> None:
        """Send a clock; if it is too late, stop the follower, which would stay behind."""
        if too_late:
            self.stop()
        else:
            self._send(bytes((CLOCK,)))

    def follow(self, bar: LiveBar, *, too_late: bool) -> None:
        """Start or continue the follower at a bar of music; stop it for a count-in."""
        if bar.part == COUNT_IN:
            self.stop()
        elif not self._running and not too_late:
            sixteenths = min(bar.position.ticks // _SONG_POSITION_TICKS, _LAST_SONG_POSITION)
            if sixteenths:
                self._send(bytes((SONG_POSITION, sixteenths & 0x7F, sixteenths >> 7)))
            self._send(bytes((CONTINUE if sixteenths else START,)))
            self._running = True

    def stop(self) -> None:
        """Stop the follower if it is running."""
        if self._running:
            self._send(bytes((STOP,)))
            self._running = False
