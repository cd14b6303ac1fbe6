"""The marks in and above one bar: chords at their beats, bar lines, repeats, endings, labels."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from backing.chart.lengths import changes_between_beats, length_text
from backing.out.sheet.faces import BOLD, PLAIN, width_of
from backing.out.sheet.fretboard import fretboard_block, fretboard_size
from backing.out.sheet.letters import chord_text, runs_of, width
from backing.out.sheet.marks import GREY, PALE, Disc, Line, Mark, Text, word

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from backing.chart.layout import Cell
    from backing.chart.write import Spell
    from backing.harmony.key import Key
    from backing.out.sheet.fretboard import Fingering, Fingerings
    from backing.out.sheet.marks import Run

CHORDS, REST = -1, -2
"""Reading order of chords and of other texts; `bars` turns it into that of the sheet."""

SQUEEZE = 0.7
"""The smallest scale of chords that need not have fewer bars in a row."""

BAR = 1.62
"""Height of a bar line, in chord sizes."""

_BASE = 1.16
"""From the top of a bar line to the base line of the chords, in chord sizes."""

_GAP = 0.28
"""Space between two chords, in chord sizes."""

SMALL = 0.56
"""Size of labels, in chord sizes."""

_ENDING = 0.6
"""Size of the figures of endings, in chord sizes."""


@dataclass(frozen=True, slots=True)
class Frame:
    """What all rows of a part share.

    Attributes:
        size: the chord size: that of a root, in points.
        label: the width left of the bars, for the name of the part, in points.
        width: the width of the bars of a row, in points.
        name: the name of the part.
        details: key, tempo and style that the part sets, as text.
        key: the key of the part.
        spell: spells chords.
        fingerings: the shapes to draw above the chords, or None.
        final: whether it is the last part.
    """

    size: float
    label: float
    width: float
    name: str
    details: str
    key: Key
    spell: Spell
    fingerings: Fingerings | None = None
    final: bool = False


class BarMarks:
    """The positions of everything in a bar of a given width.

    Attributes:
        cell: the bar.
        squeeze: the scale, at most 1, at which its chords fit.
        labels: the labels above it, as pairs of (tick, text): lengths of chords, directions.
    """

    def __init__(
        self, cell: Cell, frame: Frame, width: float, shown: list[Fingering | None] | None = None
    ) -> None:
        self.cell, self._frame, self._width = cell, frame, width
        size = frame.size
        self._left = 0.34 * size
        if cell.opens:
            self._left += 0.62 * size
        if cell.shows_meter:
            self._meter_x = self._left
            self._meter = cell.bar.meter
            self._left += 0.3 * size + max(
                width_of(str(each), BOLD, 0.74 * size)
                for each in (self._meter.count, self._meter.unit)
            )
        closing = 0.62 if cell.closes else 0.3 if cell.last else 0.0
        self._right = (0.26 + closing) * size
        self._room = width - self._left - self._right
        self.labels = list(_labels_of(cell))
        self._fingerings = self._shapes(shown)
        self._place_chords()

    def _shapes(self, shown: list[Fingering | None] | None) -> list[Fingering | None]:
        """Return the shape to draw above each chord, or None if it was the last one drawn."""
        fingerings = self._frame.fingerings
        if fingerings is None:
            return [None] * len(self.cell.bar.chords)
        drawn: list[Fingering | None] = []
        last = shown[0] if shown else None
        for number in range(len(self.cell.bar.chords)):
            fingering = fingerings.places.get((self._frame.name, self.cell.written, number))
            drawn.append(None if shown is not None and fingering is last else fingering)
            last = fingering or last
        if shown is not None:
            shown[0] = last
        return drawn

    def _place_chords(self) -> None:
        frame, bar = self._frame, self.cell.bar
        texts = [chord_text(span.chord, frame.key, frame.spell) for span in bar.chords]
        gap = _GAP * frame.size
        widths = [width(runs_of(text, frame.size)) for text in texts]
        unit = _fretboard_unit(frame.size)
        least = [fretboard_size(each, unit)[0] if each else 0.0 for each in self._fingerings]
        room = self._room - gap * (len(texts) - 1)
        self.squeeze = min(1.0, room / sum(map(max, widths, least)))
        self._runs: list[tuple[Run, ...]] = [
            runs_of(text, frame.size * self.squeeze) for text in texts
        ]
        taken = [max(wide, need) * self.squeeze for wide, need in zip(widths, least, strict=True)]
        ideal = [self._left + self._room * span.tick / bar.ticks for span in bar.chords]
        self._x = spread(ideal, taken, gap, self._left, self._width - self._right)

    @property
    def fretboard_height(self) -> float:
        """The height of the shapes above the bar, in points."""
        unit = _fretboard_unit(self._frame.size) * self.squeeze
        heights = [fretboard_size(each, unit)[1] for each in self._fingerings if each]
        return max(heights) + 0.25 * self._frame.size if heights else 0.0

    def marks(self) -> Iterator[Mark]:
        """Yield chords, beats, meter and bar lines; y is 0 at the top of the bar line."""
        size, base = self._frame.size, _BASE * self._frame.size
        for x, runs in zip(self._x, self._runs, strict=True):
            yield Text(x, base, runs, CHORDS)
        yield from self._beats(base)
        if self.cell.shows_meter:
            small = 0.74 * size
            for figure, level in ((self._meter.count, 0.76), (self._meter.unit, 1.42)):
                text = str(figure)
                x = self._meter_x + (self._left - 0.3 * size - self._meter_x) / 2
                x -= width_of(text, BOLD, small) / 2
                yield word(x, level * size, text, small, BOLD, order=REST)
        if self.cell.opens:
            yield from _repeat_sign(0, size, 1)
        yield from self._right_line()

    def _beats(self, base: float) -> Iterator[Mark]:
        """Yield a stroke for each beat on which a chord continues, if the chords differ in length.

        If they change between beats, labels give their lengths instead.
        """
        bar, size = self.cell.bar, self._frame.size
        if len({span.ticks for span in bar.chords}) == 1 or changes_between_beats(bar):
            return
        ends = [x + width(runs) for x, runs in zip(self._x, self._runs, strict=True)]
        starts = [*self._x[1:], self._width - self._right]
        for span, end, start in zip(bar.chords, ends, starts, strict=True):
            beats = range(span.tick + bar.meter.beat_ticks, span.end, bar.meter.beat_ticks)
            room = start - end - 0.2 * size
            for index in range(len(beats)):
                x = end + 0.12 * size + room * (index + 0.5) / len(beats)
                if room > 0.55 * size * len(beats):
                    reach = 0.13 * size
                    yield Line(x - reach, base, x + reach, base - 0.52 * size, 1.1, PALE)

    def _right_line(self) -> Iterator[Mark]:
        size, x, low = self._frame.size, self._width, BAR * self._frame.size
        if self.cell.closes:
            yield from _repeat_sign(x, size, -1)
        elif self.cell.last and self._frame.final:
            yield Line(x - 0.3 * size, 0, x - 0.3 * size, low, 0.9)
            yield Line(x - 0.09 * size, 0, x - 0.09 * size, low, 0.18 * size)
        elif self.cell.last:
            yield Line(x - 0.18 * size, 0, x - 0.18 * size, low, 0.9)
            yield Line(x, 0, x, low, 0.9)
        elif not self.cell.opens_next:
            yield Line(x, 0, x, low, 0.9)

    def ending_marks(self, height: float) -> Iterator[Mark]:
        """Yield the bracket of an ending and the count of a repeat; y is 0 at their top."""
        size, cell = self._frame.size, self.cell
        low = height - 0.12 * size
        small = _ENDING * size
        if cell.in_ending:
            start = 0.12 * size if cell.ending else 0.0
            end = self._width - (0.12 * size if cell.closes or cell.open_end else 0.0)
            yield Line(start, 0.1 * size, end, 0.1 * size, 0.8)
            if cell.ending:
                yield Line(start, 0.1 * size, start, low, 0.8)
                room = end - start - 0.4 * size
                figures = " ".join(f"{time}." for time in cell.ending)
                fit = min(small, small * room / width_of(figures, BOLD, small))
                yield word(start + 0.2 * size, 0.75 * size, figures, fit, BOLD, order=REST)
            if cell.closes:
                yield Line(end, 0.1 * size, end, low, 0.8)
        if cell.closes > 2:
            text = f"{cell.closes} times"
            x = self._width - width_of(text, PLAIN, small)
            yield word(x, 0.68 * size, text, small, PLAIN, order=REST)

    def label_marks(self) -> Iterator[Mark]:
        """Yield the labels; y is 0 at their top."""
        size = SMALL * self._frame.size
        if not self.labels:
            return
        gap = 0.5 * size
        texts = [text for _, text in self.labels]
        widths = [width_of(text, PLAIN, size) for text in texts]
        bracket = 0.3 * size if self.cell.in_ending and self.cell.closes else 0.0
        right = self._width - bracket
        fit = min(1.0, (right - 0.3 * size - gap * len(texts)) / sum(widths))
        starts = {span.tick: x for span, x in zip(self.cell.bar.chords, self._x, strict=True)}
        ideal = [starts.get(tick, self._left) for tick, _ in self.labels]
        places = spread(ideal, [fit * wide for wide in widths], gap, 0.3 * size, right)
        for x, text in zip(places, texts, strict=True):
            yield word(x, 1.1 * size, text, fit * size, PLAIN, GREY, REST)

    def fretboards(self) -> Iterator[Mark]:
        """Yield the shapes above the chords; y is 0 at their top."""
        fingerings, unit = self._frame.fingerings, _fretboard_unit(self._frame.size) * self.squeeze
        for x, fingering in zip(self._x, self._fingerings, strict=True):
            if fingering and fingerings:
                drawn = fretboard_block(
                    fingering, self._frame.spell, unit, left=fingerings.left, named=False
                )
                yield from (mark.moved(x, 0) for mark in drawn.marks)


def _fretboard_unit(size: float) -> float:
    return min(1.4, max(0.6, size / 20))


def _labels_of(cell: Cell) -> Iterator[tuple[int, str]]:
    if cell.bar.pickup:
        yield -1, "pickup"
    bar = cell.bar
    timed = bar.chords if changes_between_beats(bar) else ()
    details = [(span.tick, length_text(span.ticks)) for span in timed]
    details += [(each.tick, each.word) for each in bar.directions]
    for tick in sorted({tick for tick, _ in details}):
        yield tick, ", ".join(text for at, text in details if at == tick)


def _repeat_sign(x: float, size: float, direction: int) -> Iterator[Mark]:
    """Yield a thick line, a thin line and two dots, rightwards (1) or leftwards (-1)."""
    low = BAR * size
    yield Line(x + direction * 0.09 * size, 0, x + direction * 0.09 * size, low, 0.18 * size)
    yield Line(x + direction * 0.3 * size, 0, x + direction * 0.3 * size, low, 0.9)
    for level in (0.36, 0.64):
        yield Disc(x + direction * 0.5 * size, level * low, 0.095 * size)


def spread(
    ideal: Sequence[float], widths: Sequence[float], gap: float, left: float, right: float
) -> list[float]:
    """Return positions as near to the ideal ones as possible, without overlaps.

    If they do not fit between left and right at all, they start at the left.
    """
    places: list[float] = []
    edge = left
    for place, wide in zip(ideal, widths, strict=True):
        places.append(max(place, edge))
        edge = places[-1] + wide + gap
    edge = right + gap
    for index in reversed(range(len(places))):
        places[index] = max(left, min(places[index], edge - gap - widths[index]))
        edge = places[index]
    return places
