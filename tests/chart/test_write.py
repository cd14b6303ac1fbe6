"""Charts written and read again."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from properties import examples
from strategies import charts

from backing.chart.read import read_chart
from backing.chart.tidy import tidy_text
from backing.chart.write import chart_lines, write_chart
from backing.harmony.numbers import number_text, roman_text

if TYPE_CHECKING:
    from backing.chart.model import Chart

LOOSE = """\
note: quick and light
key: E
title: Quarry Hill Rag
by: Anna Example
meter: 4/4
style: two-beat
tempo: half=100
ending: SHORT
count-in: 2
form: A,A,B
[A] 8
E|A|E/B / A B7|NC|"stop" 1|4 "push" 4|57 / "fill" / 1|(2/4) E A
[B]
tempo: 90
key: C#m
(pickup 1/4)G#7||:C#m|F#m|1 G#7:|2 %|C#m:|
C#m|%|%|%|%:|x3
"""

WRITTEN = """\
title:     Quarry Hill Rag
by:        Anna Example
key:       E
meter:     4/4
tempo:     half=100
style:     two-beat
form:      A A B
count-in:  2
ending:    short
note:      quick and light

[A] 8
| E        | A          | E/B / A B7      | N.C.      |
| "stop" E | A "push" A | B7 "fill" / / E | (2/4) E A |

[B]
key: C#m
tempo: half=90
| (pickup 1/4) G#7 |: C#m  | F#m |
                   |1 G#7 :|
                   |2 G#7  | C#m |
                   |: C#m  | C#m | C#m | C#m |
                   |  C#m :|x3
"""


def test_whole_chart() -> None:
    """A chart is written in letters, with its headers in order and four bars to a line."""
    assert write_chart(read_chart(LOOSE)) == WRITTEN


@pytest.mark.parametrize(
    "width, rows",
    [
        (24, ["|: D      | A7 | D | G |", "|  E7/G# :|", "|  A      |"]),
        (23, ["|: D      | A7 |", "|  D      | G  |", "|  E7/G# :|", "|  A      |"]),
        (
            5,
            [
                "|: D      |",
                "|  A7     |",
                "|  D      |",
                "|  G      |",
                "|  E7/G# :|",
                "|  A      |",
            ],
        ),
    ],
)
def test_width(width: int, rows: list[str]) -> None:
    """If four bars do not fit the width, a line has two or one."""
    chart = read_chart("|: D | A7 | D | G | E7/G# :| A |")
    lines = chart_lines(chart, width=width)
    assert rows == lines[lines.index("[A]") + 1 :]


def test_numbers() -> None:
    """Chords are written in numbers or Roman numerals in the key of their part."""
    chart = read_chart("key: D\n[A]\n|: D |1 A7 :|2 Em |\n[B]\nkey: G\n| C |")
    shown = chart_lines(chart, spell=number_text)
    assert shown[-8:] == ["[A]", "|: 1   |", "|1 57 :|", "|2 2m  |", "", "[B]", "key: G", "| 4 |"]
    assert chart_lines(chart, spell=roman_text)[-5] == "|2 ii  |"
    assert read_chart("\n".join(shown)) == chart


@examples(50)
@given(charts())
def test_round_trip(chart: Chart) -> None:
    """A written chart is aligned and reads as the same chart."""
    text = write_chart(chart)
    assert chart == read_chart(text)
    assert text == tidy_text(text)
