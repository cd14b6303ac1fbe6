"""The melody of a chart, bar by bar as the chart is written.

Conventions: a part of the melody has a bar for each bar of the chart's part as written, its pickup
and its endings too. Where a note is tied over the bar line it is there twice, the first of them
`tied`: which bar comes next depends on the time round.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from backing.harmony.pitch import Pitch


@dataclass(frozen=True, slots=True)
class MelodyNote:
    """A note of the melody in its bar.

    Attributes:
        tick: where it starts, in ticks from the bar line.
        ticks: how long it lasts, in ticks, at least 1; never beyond the end of its bar.
        pitch: its name and height.
        tied: whether it goes on in the next bar, if that begins with the same key.
        graces: the grace notes before it, in playing order.

    """

    tick: int
    ticks: int
    pitch: Pitch
    tied: bool = False
    graces: tuple[Pitch, ...] = ()

    @property
    def end(self) -> int:
        """Where it ends, in ticks from the bar line."""
        return self.tick + self.ticks


@dataclass(frozen=True, slots=True)
class MelodyPart:
    """The melody of a part.

    Attributes:
        name: the name of the chart's part.
        bars: the notes of each bar as the part is written (`Part.written`), the pickup too; notes
            in the order of their ticks, those that sound together from the lowest up.

    """

    name: str
    bars: tuple[tuple[MelodyNote, ...], ...]


@dataclass(frozen=True, slots=True)
class Melody:
    """The melody of a chart.

    Attributes:
        parts: in the order of the chart's; a part without melody may be missing.

    """

    parts: tuple[MelodyPart, ...]
