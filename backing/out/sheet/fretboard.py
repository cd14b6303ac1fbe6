"""The shapes that the chop plays, drawn as marks: strings, frets, fingers.

Conventions: as in `fretboard.diagram`, scaled by `unit`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from backing.fretboard.diagram import Diagram
from backing.out.sheet.faces import BOLD, width_of
from backing.out.sheet.letters import chord_text, runs_of, width
from backing.out.sheet.marks import WHITE, Block, Disc, Line, Mark, Text, word

if TYPE_CHECKING:
    from collections.abc import Iterator

    from backing.band.voicing import FingeredChord
    from backing.chart.sequence import ChordPlace
    from backing.chart.write import Spell
    from backing.fretboard.hand import Shape
    from backing.harmony.chord import Chord
    from backing.harmony.key import Key


@dataclass(frozen=True, slots=True)
class Fingering:
    """A shape of a chord of the chart.

    Attributes:
        chord: the chord as the chop plays it, without a slash bass.
        key: the key where it first occurs.
        shape: the shape.
    """

    chord: Chord
    key: Key
    shape: Shape


@dataclass(frozen=True)
class Fingerings:
    """The shapes of a chart.

    Attributes:
        different: each distinct one once, in playing order.
        places: the shape of each chord of the chart; that of the first time if it is played again.
        left: whether they are drawn for a left hand.
    """

    different: tuple[Fingering, ...]
    places: dict[ChordPlace, Fingering]
    left: bool = False


def fingerings_of(path: tuple[FingeredChord, ...], *, left: bool = False) -> Fingerings:
    """Return the shapes of a chart from its fingered chords in playing order."""
    places: dict[ChordPlace, Fingering] = {}
    different: dict[tuple[Chord, Shape], Fingering] = {}
    for fingered in path:
        chord, shape, key = fingered.chord, fingered.shape, fingered.source[0].key
        fingering = different.setdefault((chord, shape), Fingering(chord, key, shape))
        if fingered.place:
            places.setdefault(fingered.place, fingering)
    return Fingerings(tuple(different.values()), places, left)


_STRING, _FRET, _DOT = 8.4, 9.6, 3.6
_MARGIN, _MARKS, _NAME = 11.0, 8.0, 15.0
"""Points at unit 1: string and fret spacing and the radius of a finger; the side margins, and the
height of the signs for open and muted strings and of the name."""

_ORDER = 1_500_000
"""Reading order, after the bars."""


def fretboard_block(
    fingering: Fingering, spell: Spell, unit: float, *, left: bool, named: bool = True
) -> Block:
    """Return the drawing of a shape, as wide as all of its instrument, or wider for a long name.

    Args:
        fingering: the shape.
        spell: spells the chord.
        unit: the scale.
        left: whether it is drawn for a left hand.
        named: whether the chord stands above it.
    """
    diagram = Diagram("", fingering.shape, (), left)
    title = runs_of(chord_text(fingering.chord, fingering.key, spell), 12 * unit) if named else ()
    across = _STRING * unit * (len(diagram.order) - 1)
    plain, height = fretboard_size(fingering, unit)
    full_width = max(plain, width(title))
    x = (full_width - across) / 2
    y = (_NAME * named + _MARKS) * unit
    marks: list[Mark] = []
    if title:
        marks.append(Text((full_width - width(title)) / 2, 0.8 * _NAME * unit, title, _ORDER))
    marks += _grid(diagram, x, y, unit)
    marks += _fingers(diagram, x, y, unit)
    height += _NAME * named * unit
    return Block(height, tuple(marks), width=full_width)


def fretboard_size(fingering: Fingering, unit: float) -> tuple[float, float]:
    """Return the width and height of a drawing without a name, in points."""
    diagram = Diagram("", fingering.shape)
    across = _STRING * (len(diagram.order) - 1)
    down = _MARKS + _FRET * len(diagram.rows) + 1
    return (2 * _MARGIN + across) * unit, down * unit


def _grid(diagram: Diagram, x: float, y: float, unit: float) -> Iterator[Mark]:
    across = _STRING * unit * (len(diagram.order) - 1)
    down = _FRET * unit * len(diagram.rows)
    for index in range(len(diagram.rows) + 1):
        nut = index == 0 and diagram.first_row == 1
        level = y + _FRET * unit * index
        yield Line(x, level, x + across, level, (2.4 if nut else 0.6) * unit)
    for index, string in enumerate(diagram.order):
        middle = x + _STRING * unit * index
        yield Line(middle, y, middle, y + down, 0.6 * unit)
        fret = diagram.shape.frets[string]
        top, reach = y - 4.6 * unit, 1.9 * unit
        if fret == 0:
            yield Disc(middle, top, reach, 0.7 * unit)
        if fret is None:
            yield Line(middle - reach, top - reach, middle + reach, top + reach, 0.8 * unit)
            yield Line(middle - reach, top + reach, middle + reach, top - reach, 0.8 * unit)
    if diagram.first_row > 1:
        figure = str(diagram.first_row)
        size = (6.5 if len(figure) == 1 else 5.0) * unit
        width = width_of(figure, BOLD, size)
        left = x - (_DOT + 1.2) * unit - width
        yield word(left, y + 7.1 * unit, figure, size, BOLD, order=_ORDER)


def _fingers(diagram: Diagram, x: float, y: float, unit: float) -> Iterator[Mark]:
    place = {string: x + _STRING * unit * index for index, string in enumerate(diagram.order)}
    for finger, fret, low, high in diagram.bars():
        level = y + _FRET * unit * (fret - diagram.first_row + 0.5)
        if low != high:
            yield Line(place[low], level, place[high], level, 2 * _DOT * unit)
        for string, each in enumerate(diagram.shape.fingers):
            if each == finger:
                size = 6.2 * unit
                text = str(finger)
                yield Disc(place[string], level, _DOT * unit)
                yield word(
                    place[string] - width_of(text, BOLD, size) / 2,
                    level + 0.36 * size,
                    text,
                    size,
                    BOLD,
                    WHITE,
                    _ORDER,
                )
