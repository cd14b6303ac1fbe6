"""The style of a sheet, and its content."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from backing.harmony.numbers import letter_text

if TYPE_CHECKING:
    from backing.chart.model import Chart
    from backing.chart.write import Spell
    from backing.out.sheet.fretboard import Fingerings
    from backing.timing import Tempo

PAPERS = {"a4": (595.28, 841.89), "letter": (612.0, 792.0)}
"""Width and height in points: ISO 216 A4 is 210 mm by 297 mm; US Letter 8.5 by 11 inches."""

BELOW, ABOVE, NONE = "below", "above", "none"
SHAPES = (BELOW, ABOVE, NONE)
"""Where chord shapes are drawn: below all bars, above the chords, nowhere."""

MARGIN = 42.5
"""The margin of a page in points: 15 mm, which any printer leaves white."""


@dataclass(frozen=True, slots=True)
class SheetStyle:
    """The style of a sheet.

    Attributes:
        paper: one of `PAPERS`.
        large: whether it has large print, to read from a distance.
        shapes: one of `SHAPES`.
    """

    paper: str = "a4"
    large: bool = False
    shapes: str = BELOW

    @property
    def page(self) -> tuple[float, float]:
        """Width and height of the page in points."""
        return PAPERS[self.paper]

    @property
    def width(self) -> float:
        """Width between the margins in points."""
        return self.page[0] - 2 * MARGIN

    @property
    def sizes(self) -> range:
        """Chord sizes in points, the preferred one first."""
        return range(34, 23, -1) if self.large else range(22, 11, -1)

    @property
    def text_size(self) -> float:
        """Size of running text in points."""
        return 14.0 if self.large else 9.5


@dataclass(frozen=True, slots=True)
class Sheet:
    """The content of a sheet.

    Attributes:
        chart: the chart, in the key of the sheet.
        tempo: the goal, as the chart counts it.
        style: the name of the groove.
        tempi: practice tempi, in the unit of the goal; none for no practice box.
        spell: spells chords.
        fingerings: the shapes of its chords, or None.
        instrument: the instrument of the shapes, or "".
    """

    chart: Chart
    tempo: Tempo
    style: str
    tempi: tuple[float, ...] = ()
    spell: Spell = field(default=letter_text)
    fingerings: Fingerings | None = None
    instrument: str = ""
