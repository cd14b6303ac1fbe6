"""The chart as markup for the page, with words for screen readers."""

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
"""The numbers of a bar in the form as played, from 1, by its part and its number as written."""


@dataclass(frozen=True, slots=True)
class PageChord:
    """A chord in its bar.

    Attributes:
        text: its name as shown.
        beats: its length in beats.
        directions: the directions at it, such as "stop".
        shape: its drawn shape, or None.
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
        offset: how many cells of the row are empty before it.
        numbers: its numbers in the form as played, from 1.
        meter: its meter where it differs from its part's, or "".
        chords: its chords.
    """

    cell: Cell
    offset: int
    numbers: list[int]
    meter: str
    chords: list[PageChord]

    @property
    def classes(self) -> str:
        """Its CSS classes."""
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
        """The numbers of the ending that begins with it, such as "1,2", or ""."""
        return ",".join(map(str, self.cell.ending))

    @property
    def label(self) -> str:
        """Its text for a screen reader."""
        cell, pickup = self.cell, self.cell.bar.pickup
        words = [
            "pickup" if pickup else f"bar {cell.written + 1}",
            "repeat from here" if cell.opens else "",
            f"ending {self.ending}" if cell.ending else "",
            f"in {self.meter}" if self.meter and not pickup else "",
            "as before" if cell.same else ", ".join(spoken(each.text) for each in self.chords),
            *(each.word for each in cell.bar.directions),
            f"repeat, {cell.closes} times in all" if cell.closes and not cell.in_ending else "",
        ]
        return ", ".join(filter(None, words))


@dataclass(frozen=True, slots=True)
class PagePart:
    """A part of the chart.

    Attributes:
        name: its name.
        own: key, style, tempo and meter where they differ from the chart's.
        rows: its bars.
    """

    name: str
    own: Markup
    rows: list[list[PageBar]]


def chart_fields(sheet: Sheet) -> dict[str, Any]:
    """Return the fields of `messages.ChartView`, except the tune's file."""
    chart, drawings = sheet.chart, sheet.shapes.drawings
    parts = parts_of(sheet)
    first = next(part for part in parts if part.name == chart.order[0])
    return {
        "title": chart.title,
        "names": sheet.view.names,
        "instrument": sheet.instrument,
        "left": sheet.view.left,
        "shapes_fault": sheet.shapes.fault,
        "key": signed(str(chart.key)),
        "has_shapes": bool(drawings),
        "bars": length_in_bars(chart),
        "begins": symbol_markup(first.rows[0][0].chords[0].text),
        "html": render("chart", parts=parts),
        "grips": render("grips", shapes=drawings),
        "form": render("form", parts=_parts_of_form(chart)),
        "loops": render("loops", parts=dict.fromkeys(chart.order)),
    }


def parts_of(sheet: Sheet) -> list[PagePart]:
    """Return the parts of a chart as written."""
    numbers: _Numbers = defaultdict(list)
    for number, bar in enumerate(without_pickups(once_round(sheet.chart)), 1):
        assert bar.origin  # every bar of the form has one
        numbers[bar.part, bar.origin.written].append(number)
    return [_part(sheet, part, numbers) for part in sheet.chart.parts]


def _parts_of_form(chart: Chart) -> list[tuple[str, int, bool]]:
    """Return name and occurrence of each part of the form, and whether it is the only one."""
    form = chart.order
    return [
        (name, form[:index].count(name), form.count(name) == 1) for index, name in enumerate(form)
    ]


def _part(sheet: Sheet, part: Part, numbers: _Numbers) -> PagePart:
    chart = sheet.chart
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
                chords=list(_chords(sheet, part, cell)),
            )
            for index, cell in enumerate(row.cells)
        ]
        for row in rows_of(part, BARS_A_LINE)
    ]
    return PagePart(part.name, joined(own, ", "), rows)


def _chords(sheet: Sheet, part: Part, cell: Cell) -> Iterator[PageChord]:
    """Yield the chords of a bar; a direction goes with the chord that sounds at its tick."""
    for number, span in enumerate(cell.bar.chords):
        words = [each.word for each in cell.bar.directions if span.tick <= each.tick < span.end]
        yield PageChord(
            text=sheet.chord_name(span.chord, part.key or sheet.chart.key),
            beats=max(span.ticks / cell.bar.meter.beat_ticks, 0.5),
            directions=" ".join(words),
            shape=sheet.shapes.places.get((part.name, cell.written, number)),
        )
