"""A chart as a client shows it: in the sounding key, with its chord shapes, and as markup."""

from __future__ import annotations

import re
from collections import defaultdict
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from backing.chart.layout import rows_of
from backing.chart.sequence import length_in_bars, once_round, without_pickups
from backing.chart.transpose import by_semitones
from backing.errors import BackingError
from backing.fretboard.diagram import Diagram, svg
from backing.fretboard.request import AS_THE_STYLE, FrettingSettings
from backing.harmony.numbers import letter_text, number_text, roman_text
from backing.harmony.signs import NO_CHORD, signed
from backing.notes import Player
from backing.performance.performance import Performance
from backing.performance.settings import Settings
from backing.stand.markup import joined, render, spoken, symbol_markup, tempo_markup

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from markupsafe import Markup

    from backing.band.voicing import FingeredChord
    from backing.chart.layout import Cell
    from backing.chart.model import Chart, Part
    from backing.chart.sequence import ChordPlace
    from backing.fretboard.hand import Shape
    from backing.harmony.chord import Chord
    from backing.harmony.key import Key


NAMES: dict[str, Callable[[Chord, Key], str]] = {
    "letters": letter_text,
    "numbers": number_text,
    "roman": roman_text,
}
NO_INSTRUMENT, THE_BAND = "none", "band"

_NAME_PX = 38
"""The height of the chord's name in a drawing; it is cut off, since the chart shows the name."""


@dataclass(frozen=True, slots=True)
class View:
    """How a client shows a chart.

    Attributes:
        names: one of `NAMES`.
        shapes: whether the shapes that the chop plays are shown above the chords.
        left: whether shapes are drawn for left-handed players.
    """

    names: str = "letters"
    shapes: bool = False
    left: bool = False


@dataclass(frozen=True, slots=True)
class SheetSource:
    """A chart and the settings that change its sheet, the same for all clients.

    Attributes:
        chart: the chart as written.
        semitones: how much higher it sounds.
        style: a groove in place of the chart's own, or None.
        fretting: the settings of the chord shapes.
    """

    chart: Chart
    semitones: int = 0
    style: str | None = None
    fretting: FrettingSettings = AS_THE_STYLE


@dataclass(frozen=True, slots=True)
class Drawing:
    """A drawn chord shape.

    Attributes:
        svg: the drawing, without the name of its chord.
        frets: its frets, string by string.
        label: the name of its chord.
        keys: the MIDI keys that sound.
    """

    svg: str
    frets: str
    label: str
    keys: tuple[int, ...]


Paths = dict[Drawing, list[int]]
"""Drawings, each with the numbers of the chop's paths that have it."""


@dataclass(frozen=True, slots=True)
class Shapes:
    """The chord shapes of a chart.

    Attributes:
        paths: for each path of the chop, the drawing at each place of the chart, as first played.
        fault: why there are none, or None.
    """

    paths: tuple[dict[ChordPlace, Drawing], ...] = ()
    fault: str | None = None

    def drawings(self) -> Paths:
        """Return each different drawing, those of the first path first."""
        found: Paths = {}
        for number, path in enumerate(self.paths):
            for drawing in dict.fromkeys(path.values()):
                found.setdefault(drawing, []).append(number)
        return found

    def at(self, place: ChordPlace, before: ChordPlace | None = None) -> Paths:
        """Return the drawings at a place; with `before` only those that are not there, too."""
        found: Paths = {}
        for number, path in enumerate(self.paths):
            drawing = path.get(place)
            if drawing and not (before and path.get(before) == drawing):
                found.setdefault(drawing, []).append(number)
        return found


@dataclass(frozen=True, slots=True)
class Sheet:
    """A chart as a client shows it.

    Attributes:
        chart: the chart in the sounding key, spelled for reading.
        view: how the client shows it.
        instrument: an instrument with shapes, `THE_BAND` or `NO_INSTRUMENT`.
        shapes: its chord shapes.
    """

    chart: Chart
    view: View
    instrument: str
    shapes: Shapes

    def chord_name(self, chord: Chord | None, key: Key) -> str:
        """Return the name of a chord in a part of this key, in the client's kind of names."""
        return NAMES[self.view.names](chord, key) if chord else NO_CHORD


@lru_cache(16)
def sheet(source: SheetSource, view: View) -> Sheet:
    """Return a chart as a client shows it."""
    sounding = by_semitones(source.chart, source.semitones)
    instrument = (source.fretting.instrument or THE_BAND) if view.shapes else NO_INSTRUMENT
    shapes = _shapes(sounding, source, view) if view.shapes else Shapes()
    return Sheet(sounding.plain(), view, instrument, shapes)


def _shapes(chart: Chart, source: SheetSource, view: View) -> Shapes:
    try:
        paths = fingered_chords(chart, source.style, source.fretting)
    except BackingError as error:
        return Shapes(fault=str(error))
    drawn = lru_cache(None)(lambda chord, shape, keys: _drawing(chord, shape, keys, view))
    found = []
    for path in paths:
        places: dict[ChordPlace, Drawing] = {}
        for each in path:
            if each.place and each.place not in places:  # a repeat may have another shape
                places[each.place] = drawn(each.chord, each.shape, each.keys)
        found.append(places)
    return Shapes(tuple(found))


def _drawing(chord: Chord, shape: Shape, keys: tuple[int, ...], view: View) -> Drawing:
    name = str(chord.plain())
    diagram = svg(Diagram(name, shape, (), view.left))
    return Drawing(_without_name(diagram), str(shape), name, keys)


def _without_name(diagram: str) -> str:
    """Return a diagram without the chord's name at its top."""

    def cropped(box: re.Match[str]) -> str:
        left, top, width, height = map(float, box[1].split())
        return f'viewBox="{left:g} {top + _NAME_PX:g} {width:g} {height - _NAME_PX - 8:g}"'

    return re.sub('viewBox="([^"]+)"', cropped, diagram, count=1)


def fingered_chords(
    chart: Chart, style: str | None, fretting: FrettingSettings
) -> tuple[tuple[FingeredChord, ...], ...]:
    """Return the fingered chords of each path of the chop, in playing order.

    Args:
        chart: the chart in the sounding key.
        style: a groove in place of the chart's own, or None.
        fretting: settings that override the style's.

    Raises:
        BackingError: when there is no such instrument, or it has no shape for one of the chords.
    """
    settings = Settings(style=style, called=frozenset(Player), fretting=fretting)
    return Performance(chart, settings).voicings.paths


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
        shapes: its drawn shapes, each with the numbers of the chop's paths that have it; in a bar
            that is as the one before only those that differ.
    """

    text: str
    beats: float
    directions: str
    shapes: Paths


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
    chart, drawings = sheet.chart, sheet.shapes.drawings()
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
        before = (part.name, cell.written - 1, number) if cell.same else None
        yield PageChord(
            text=sheet.chord_name(span.chord, part.key or sheet.chart.key),
            beats=max(span.ticks / cell.bar.meter.beat_ticks, 0.5),
            directions=" ".join(words),
            shapes=sheet.shapes.at((part.name, cell.written, number), before),
        )
