"""The count-in: how many bars it has, and its clicks."""

from __future__ import annotations

from typing import TYPE_CHECKING

from backing.band.drums import count_in
from backing.notes import Note, Player
from backing.timing import ticks_to_seconds

if TYPE_CHECKING:
    from backing.performance.arrangement import Arrangement

_FAST_BAR_SECONDS = 1.5
"""Length of a bar below which two are counted."""


class CountIn:
    """The count-in of a performance.

    Attributes:
        bars: how many there are.
        meter: their meter.
        ticks: ticks before the first bar of the tune or its pickup, which ends the count-in.

    """

    def __init__(self, arrangement: Arrangement) -> None:
        self._arrangement = arrangement
        self.meter = arrangement.route.meter
        self.bars = self._bars()
        self._ticks = self.bars * self.meter.bar_ticks
        pickup = arrangement.route.pickup
        self.ticks = self._ticks - pickup.ticks if pickup and self.bars else self._ticks

    def _bars(self) -> int:
        form = self._arrangement
        for wished in (form.settings.count_in, form.chart.count_in):
            if wished is not None:
                return wished
        seconds = ticks_to_seconds(self.meter.bar_ticks, form.bpm_at(form.bar(0)))
        return 2 if seconds < _FAST_BAR_SECONDS else 1

    @property
    def has_pickup(self) -> bool:
        """Whether its last bar ends with the pickup of the tune."""
        return self.ticks < self._ticks

    def clicks(self, bar: int, *, with_pickup: bool) -> list[Note]:
        """Return the clicks of a bar, from 0; they leave room for a pickup in it."""
        until = self.ticks if with_pickup else self._ticks
        start = bar * self.meter.bar_ticks
        return [
            Note(start + stroke.tick, Player.DRUMS, stroke.pitch, stroke.velocity, stroke.ticks)
            for where, stroke in count_in(self.meter, self.bars, self._arrangement.style.count_in)
            if where == bar and start + stroke.tick < until
        ]
