"""The count-in: its bars and clicks."""

from __future__ import annotations

from typing import TYPE_CHECKING

from backing.band.drums import count_in
from backing.notes import Note, Player
from backing.timing import ticks_to_seconds

if TYPE_CHECKING:
    from backing.performance.arrangement import Arrangement

_FAST_BAR_SECONDS = 1.5
"""Bars shorter than this get a count-in of two."""


class CountIn:
    """The count-in of a performance.

    Attributes:
        bars: number of bars.
        meter: their meter.
        ticks: ticks before the tune; a pickup lies inside the last bar of the count-in.

    """

    def __init__(self, arrangement: Arrangement) -> None:
        self._arrangement = arrangement
        self.meter = arrangement.route.meter
        self.bars = self._bars()
        self._ticks = self.bars * self.meter.bar_ticks
        pickup = arrangement.route.pickup
        self.ticks = self._ticks - pickup.ticks if pickup and self.bars else self._ticks

    def _bars(self) -> int:
        arrangement = self._arrangement
        for given in (arrangement.settings.count_in, arrangement.chart.count_in):
            if given is not None:
                return given
        seconds = ticks_to_seconds(self.meter.bar_ticks, arrangement.bpm_at(arrangement.bar(0)))
        return 2 if seconds < _FAST_BAR_SECONDS else 1

    @property
    def has_pickup(self) -> bool:
        """Whether its last bar contains the pickup of the tune."""
        return self.ticks < self._ticks

    def clicks(self, bar: int, *, with_pickup: bool) -> list[Note]:
        """Return the clicks of a bar, from 0; with a pickup they end before it."""
        until = self.ticks if with_pickup else self._ticks
        start = bar * self.meter.bar_ticks
        return [
            Note(start + stroke.tick, Player.DRUMS, stroke.pitch, stroke.velocity, stroke.ticks)
            for where, stroke in count_in(self.meter, self.bars, self._arrangement.style.count_in)
            if where == bar and start + stroke.tick < until
        ]
