"""Check chords that change between the beats in written scores with music21.

music21 gives the place of each chord sign in quarter notes from its bar line.
"""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

import music21
import pytest

from backing.chart.melody_text import read_melody
from backing.chart.read import read_chart
from backing.scores.abc.write import write_abc
from backing.scores.from_chart import from_chart
from backing.scores.musicxml.write import write_musicxml

if TYPE_CHECKING:
    from backing.chart.melody import Melody
    from backing.chart.model import Chart

CHARTS = [
    "meter: 2/4\n| Em:1/4 A:1/8 D | G:3/8 C:1/8 | D:1/16 G:7/16 | A D |",
    "meter: 4/4\n| C:3/8 G:1/8 F:1/2 | C:1/12 D E C:3/4 | F:7/8 G:1/8 | C |",
    "meter: 6/8\n| D:1/4 A:1/8 G:3/8 | D:5/8 A:1/8 | G:1/8 D:5/8 | A D |",
]
MELODIES = [
    "",
    "| E4:1/4 A4 | r | D4:1/2 | A4:1/8 r:1/8 D4:1/4 |",
    "| C4:1/2 D4 | C4:1/4 D4 E4:1/2 | r | C4:1 |",
    "| D4:3/8 E4 | r:1/8 D4 E4 F#4:3/8 | r | A4:3/4 |",
]


def _tune(text: str, melody: str) -> tuple[Chart, Melody | None]:
    chart = read_chart(f"title: X\nkey: D\n[A]\n{text}".replace("[A]\nmeter", "meter"))
    return chart, read_melody(f"[A]\n{melody}", chart) if melody else None


def _written(chart: Chart) -> list[list[tuple[Fraction, str]]]:
    """Return the quarter note and the root of each chord change in each bar."""
    bars, last = [], None
    for bar in chart.parts[0].written():
        found = []
        for span in bar.chords:
            assert span.chord
            if span.chord != last:
                found.append((Fraction(span.tick, 960), str(span.chord.root)))
            last = span.chord
        bars.append(found)
    return bars


def _witnessed(score: music21.stream.Stream) -> list[list[tuple[Fraction, str]]]:
    bars = []
    for measure in score.parts[0].getElementsByClass("Measure"):
        signs = measure.recurse().getElementsByClass("ChordSymbol")
        places = [(Fraction(sign.getOffsetInHierarchy(measure)), sign) for sign in signs]
        bars.append([(at.limit_denominator(480), sign.root().name) for at, sign in places])
    return bars


PAIRS = [(CHARTS[0], MELODIES[0]), (CHARTS[0], MELODIES[1]), (CHARTS[1], MELODIES[0]),
         (CHARTS[1], MELODIES[2]), (CHARTS[2], MELODIES[0]), (CHARTS[2], MELODIES[3])]  # fmt: skip


@pytest.mark.parametrize("text, melody", PAIRS)
def test_a_score_has_each_chord_at_its_place(text: str, melody: str) -> None:
    """A chord in MusicXML is at its note or rest, or has an offset from it."""
    chart, notes = _tune(text, melody)
    data = write_musicxml(from_chart(chart, notes)).decode()
    score = music21.converter.parseData(data, format="musicxml")
    assert _witnessed(score) == _written(chart)


@pytest.mark.parametrize("text, melody", PAIRS)
def test_abc_has_each_chord_at_its_place(text: str, melody: str) -> None:
    """A chord sign in ABC precedes the note or rest over which it begins."""
    chart, notes = _tune(text, melody)
    data = write_abc(from_chart(chart, notes)).decode()
    score = music21.converter.parseData(data, format="abc")
    assert _witnessed(score) == _written(chart)
