"""The chart as markup for the page: rows as they are engraved, and words for those who listen."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from backing.chart.layout import rows_of
from backing.chart.sequence import length_in_bars, once_round, without_pickups
from backing.harmony.signs import signed
from backing.stand.markup import joined, render, symbol_markup, tempo_markup
from backing.stand.symbols import spoken

if TYPE_CHECKING:
    from collections.abc import Iterator

    from markupsafe import Markup

    from backing.chart.layout import Cell
    from backing.chart.model import Chart, Part
    from backing.stand.sheet import Drawing, Sheet

BARS_A_LINE = 4

_Numbers = dict[tuple[str, int], list[int]]
"""By part and bar as written: its numbers in the whole form as played, from 1."""


@dataclass(frozen=True, slots=True)
class PageChord:
    """A chord in its bar.

    Attributes:
        text: as it is shown.
        beats: how long it lasts.
        directions: what the band does there.
        shape: its shape, or None.
    """

    text: str
    beats: float
    directions: str
    shape: Drawing | None


@dataclass(frozen=True, slots=True)
class PageBar:
    """A bar of the chart.

    Attributes:
        cell: the bar in its row.
        offset: how many bars are left free before it.
        numbers: where it is played in the whole form, from 1.
        meter: its meter where that is not its part's, or "".
        chords: what it holds.
    """

    cell: Cell
    offset: int
    numbers: list[int]
    meter: str
    chords: list[PageChord]

    @property
    def classes(self) -> str:
        """How it is drawn."""
        names = {
            "pickup": self.cell.bar.pickup,
            "repeat-start": self.cell.opens,
            "repeat-end": self.cell.closes,
            "ending": self.cell.ending,
            "in-ending": self.cell.in_ending,
        }
        return " ".join(["bar", *(name for name, holds in names.items() if holds)])

    @property
    def ending(self) -> str:
        """The times round of the ending that begins with it, or ""."""
        return ",".join(map(str, self.cell.ending))

    @property
    def label(self) -> str:
        """It in words, for a screen reader."""
        cell, pickup = self.cell, self.cell.bar.pickup
        said = [
            "pickup" if pickup else f"bar {cell.written + 1}",
            "repeat from here" if cell.opens else "",
            f"ending {self.ending}" if cell.ending else "",
            f"in {self.meter}" if self.meter and not pickup else "",
            "as before" if cell.same else ", ".join(spoken(each.text) for each in self.chords),
            *(each.word for each in cell.bar.directions),
            f"repeat, {cell.closes} times in all" if cell.closes and not cell.in_ending else "",
        ]
        return ", ".join(filter(None, said))


@dataclass(frozen=True, slots=True)
class PagePart:
    """A part of the chart.

    Attributes:
        name: its name.
        own: what it has of its own, such as its key.
        rows: its bars.
    """

    name: str
    own: Markup
    rows: list[list[PageBar]]


def chart_fields(written: Sheet) -> dict[str, Any]:
    """Return what a page shows of a chart.

    Args:
        written: the chart.

    Returns:
        Its title, key and so on; markup: `html` of parts and bars, `grips` of shapes, `form` and
        `loops` of buttons, `begins` of the first chord; `bars`, the length of the whole form.
    """
    chart, drawings = written.chart, written.shapes.drawings
    parts = parts_of(written)
    first = next(part for part in parts if part.name == chart.order[0])
    return {
        "title": chart.title,
        "names": written.view.names,
        "instrument": written.instrument,
        "left": written.view.left,
        "shapes_fault": written.shapes.fault,
        "key": signed(str(chart.key)),
        "has_shapes": bool(drawings),
        "bars": length_in_bars(chart),
        "begins": symbol_markup(first.rows[0][0].chords[0].text),
        "html": render("chart", parts=parts),
        "grips": render("grips", shapes=drawings),
        "form": render("form", parts=_parts_of_form(chart)),
        "loops": render("loops", parts=dict.fromkeys(chart.order)),
    }


def parts_of(written: Sheet) -> list[PagePart]:
    """Return the parts of a chart as written."""
    numbers: _Numbers = defaultdict(list)
    for number, bar in enumerate(without_pickups(once_round(written.chart)), 1):
        assert bar.origin  # all of them are in the form
        numbers[bar.part, bar.origin.written].append(number)
    return [_part(written, part, numbers) for part in written.chart.parts]


def _parts_of_form(chart: Chart) -> list[tuple[str, int, bool]]:
    """Return each part of the form: its name, which of that name it is, whether the only one."""
    form = chart.order
    return [
        (name, form[:index].count(name), form.count(name) == 1) for index, name in enumerate(form)
    ]


def _part(written: Sheet, part: Part, numbers: _Numbers) -> PagePart:
    chart = written.chart
    own = [
        f"in {signed(str(part.key))}" if part.key and part.key != chart.key else "",
        part.style or "",
        tempo_markup(part.tempo),
        str(part.meter) if part.meter and part.meter != chart.meter else "",
    ]
    rows = [
        [
            PageBar(
                cell=cell,
                offset=0 if index else row.indent,
                numbers=numbers[part.name, cell.written],
                meter=str(cell.bar.meter) if cell.bar.meter != (part.meter or chart.meter) else "",
                chords=list(_chords(written, part, cell)),
            )
            for index, cell in enumerate(row.cells)
        ]
        for row in rows_of(part, BARS_A_LINE)
    ]
    return PagePart(part.name, joined(own, ", "), rows)


def _chords(written: Sheet, part: Part, cell: Cell) -> Iterator[PageChord]:
    """Yield chords with their lengths in beats, and what is to be done there."""
    for number, span in enumerate(cell.bar.chords):
        words = [each.word for each in cell.bar.directions if span.tick <= each.tick < span.end]
        yield PageChord(
            text=written.chord_name(span.chord, part.key or written.chart.key),
            beats=max(span.ticks / cell.bar.meter.beat_ticks, 0.5),
            directions=" ".join(words),
            shape=written.shapes.places.get((part.name, cell.written, number)),
        )
