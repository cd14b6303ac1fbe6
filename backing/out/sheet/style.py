"""How a sheet is to look, and what stands on it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from backing.harmony.numbers import letter_text

if TYPE_CHECKING:
    from backing.chart.model import Chart
    from backing.chart.write import Spell
    from backing.out.sheet.fingerings import Fingerings
    from backing.timing import Tempo

PAPERS = {"a4": (595.28, 841.89), "letter": (612.0, 792.0)}
"""Width and height in points: ISO 216 A4 is 210 mm by 297 mm; US Letter 8.5 by 11 inches."""

BELOW, ABOVE, NONE = "below", "above", "none"
SHAPES = (BELOW, ABOVE, NONE)
"""Where chord shapes stand."""

MARGIN = 42.5
"""The free edge of a page: 15 mm, which printers leave alone."""


@dataclass(frozen=True, slots=True)
class SheetStyle:
    """How a sheet is to look.

    Attributes:
        paper: one of `PAPERS`.
        large: whether it is to be read from afar.
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
        """Sizes of a chord in points, from the most wished to the least."""
        return range(34, 23, -1) if self.large else range(22, 11, -1)

    @property
    def text_size(self) -> float:
        """Size of running words in points."""
        return 14.0 if self.large else 9.5


@dataclass(frozen=True, slots=True)
class Sheet:
    """A tune and what its sheet shows.

    Attributes:
        chart: the chart, in the key in which it is to stand there.
        tempo: the tempo that is the goal, as the chart counts it.
        style: the name of its groove.
        tempi: tempi to tick off, in the tempo's unit; none for no practice box.
        spell: how chords are written.
        fingerings: the shapes of its chords, or None.
        instrument: whose shapes they are, or "".
    """

    chart: Chart
    tempo: Tempo
    style: str
    tempi: tuple[float, ...] = ()
    spell: Spell = field(default=letter_text)
    fingerings: Fingerings | None = None
    instrument: str = ""
