"""Chords with lengths: bars that change between the beats.

The lengths are those of a melody: parts of a whole note, a chord without one as long as the chord
before.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from backing.chart.model import Repeat
from backing.chart.read import read_chart
from backing.chart.tidy import tidy_text
from backing.chart.write import chart_lines, write_chart
from backing.errors import ChartError
from backing.harmony.numbers import number_text, roman_text

WHOLE = 4 * 960


def spans(text: str, meter: str = "4/4") -> str:
    """Return the chords of the last bar of a chart with their lengths in whole notes."""
    chart = read_chart(f"key: G\nmeter: {meter}\n{text}")
    bar = list(chart.parts[0].written())[-1]
    assert [span.tick for span in bar.chords[1:]] == [span.end for span in bar.chords[:-1]]
    assert (bar.chords[0].tick, bar.chords[-1].end) == (0, bar.ticks)
    return " ".join(f"{span.chord or 'N.C.'}:{Fraction(span.ticks, WHOLE)}" for span in bar.chords)


READ = [
    ("2/4", "| Em:1/4 A:1/8 D:1/8 |", "Em:1/4 A:1/8 D:1/8"),
    ("2/4", "| Em:1/4 A:1/8 D |", "Em:1/4 A:1/8 D:1/8"),
    ("2/4", "|Em:1/4 A:1/8 D:1/8|", "Em:1/4 A:1/8 D:1/8"),
    ("2/4", "Em:1/4 A:1/8 D | G", "G:1/2"),
    ("2/4", "G | Em:1/4 A:1/8 D", "Em:1/4 A:1/8 D:1/8"),
    ("2/4", "Em:1/4 A:1/8 D | %", "Em:1/4 A:1/8 D:1/8"),
    ("2/4", "A:1/4 D:1/4|%|", "A:1/4 D:1/4"),
    ("4/4", "| C:1 |", "C:1"),
    ("4/4", "| C:2/4 D:4/8 |", "C:1/2 D:1/2"),
    ("4/4", "| C:3/8 D F:1/4 |", "C:3/8 D:3/8 F:1/4"),
    ("4/4", "| C:1/12 D E F:3/4 |", "C:1/12 D:1/12 E:1/12 F:3/4"),
    ("4/4", "| C:1/5 D E F G |", "C:1/5 D:1/5 E:1/5 F:1/5 G:1/5"),
    ("4/4", "| C:1/3840 D:3839/3840 |", "C:1/3840 D:3839/3840"),
    ("4/4", "| C/E:1/8 G7(b9):7/8 |", "C/E:1/8 G7b9:7/8"),
    ("4/4", "| N.C.:1/8 nc:1/4 D:5/8 |", "N.C.:1/8 N.C.:1/4 D:5/8"),
    ("4/4", "| 1:1/8 4:3/8 b7:1/2 |", "G:1/8 C:3/8 F:1/2"),
    ("4/4", "|1:1/8 4:3/8 b7:1/2 |", "G:1/8 C:3/8 F:1/2"),
    ("4/4", "| 1/3:1/8 57:7/8 |", "G/B:1/8 D7:7/8"),
    ("4/4", "| I:1/8 ii7:3/8 bVII:1/2 |", "G:1/8 Am7:3/8 F:1/2"),
    ("4/4", '| C:1/8 "stop" D:7/8"push" |', "C:1/8 D:7/8"),
    ("4/4", '| "hold" C:1/8 D:7/8 |', "C:1/8 D:7/8"),
    ("4/4", "| (3/8) C:1/8 D:1/4 |", "C:1/8 D:1/4"),
    ("4/4", "| (3/8)C:1/8 D:1/4 |", "C:1/8 D:1/4"),
    ("6/8", "| C:1/4 D:1/8 E:3/8 |", "C:1/4 D:1/8 E:3/8"),
    ("7/8", "| C:7/16 D |", "C:7/16 D:7/16"),
]


@pytest.mark.parametrize("meter, text, expected", READ)
def test_read(meter: str, text: str, expected: str) -> None:
    """A length follows its chord and a colon; a chord without one has that of the chord before."""
    assert expected == spans(text, meter)


def test_a_pickup_with_lengths() -> None:
    """A pickup with lengths is a bar of its own length."""
    part = read_chart("(pickup 3/8) D7:1/8 G:1/4 | C |").parts[0]
    assert part.pickup
    assert [span.ticks for span in part.pickup.chords] == [480, 960]


@pytest.mark.parametrize(
    "text, repeats",
    [
        ("|: C:1/4 D:3/4:|", [(1, 2, [])]),
        ("|: C:1/4 D:3/4 :|x3", [(1, 3, [])]),
        ("|:C:1/4 D:3/4:|: G:1/8 F:7/8 ::C:1:|", [(1, 2, []), (1, 2, []), (1, 2, [])]),
        ("| C:1/4 D:3/4 |1 G:1:|2 C:1/8 D:7/8 |", [(1, 2, [1, 1])]),
        ("key: C\n|: 1:1/4 5:3/4 |1 5:1/8 4:7/8 :|2 1:1 |", [(1, 2, [1, 1])]),
    ],
)
def test_bar_lines_beside_lengths(text: str, repeats: list[tuple[int, int, list[int]]]) -> None:
    """A colon of a bar line is not read as the colon of a length."""
    found = read_chart(text).parts[0].sections
    assert repeats == [
        (len(each.bars), each.times, [len(ending.bars) for ending in each.endings])
        for each in found
        if isinstance(each, Repeat)
    ]
    assert len(found) == len(repeats)


FAULTS = [
    (
        "| Em:1/2 A:1/8 D |",
        "1:3: the chords of this bar last 3/4 of a whole note, 1/4 less than a bar of 4/4: a "
        "chord without a length lasts as long as the one before it; write a bar such as | "
        "Em:1/2 A:1/8 D:3/8 |",
    ),
    (
        "| Em:1/2 A:1/8 D:1/2 |",
        "1:3: the chords of this bar last 9/8 of a whole note, 1/8 more than a bar of 4/4: a "
        "chord without a length lasts as long as the one before it; write a bar such as | "
        "Em:1/2 A:1/8 D:3/8 |",
    ),
    (
        "| Em:1 A:1/8 D:1/8 |",
        "1:3: the chords of this bar last 5/4 of a whole note, 1/4 more than a bar of 4/4: a "
        "chord without a length lasts as long as the one before it; write a bar such as | "
        "Em:3/4 A:1/8 D |",
    ),
    (
        "| Em:1 A D E |",
        "1:3: the chords of this bar last 4 whole notes, 3 more than a bar of 4/4: a chord "
        "without a length lasts as long as the one before it; write shorter ones, or move some "
        "chords to another bar",
    ),
    (
        "| Em A:1/4 D |",
        "1:3: 'Em' has no length, but 'A:1/4' after it has one: give the first chord of the bar"
        " a length, such as | Em:1/2 A:1/4 D |",
    ),
    (
        "| Em A:1/2 D |",
        "1:3: 'Em' has no length, but 'A:1/2' after it has one: give the first chord of the bar"
        " a length, such as Em:1/4",
    ),
    (
        "| C / D:1/4 E |",
        "1:3: this bar has slashes and lengths: use one or the other; with lengths write a bar "
        "such as | C:1/2 D:1/4 E |",
    ),
    (
        "| C:1/4 / D |",
        "1:3: this bar has slashes and lengths: use one or the other; with lengths write C:1/2 "
        "for 'C /'",
    ),
    (
        "| C:1/4 D /:1/4 E |",
        "1:11: '/:1/4' gives a slash a length: a slash is one beat; write lengths after the "
        "chords and no slashes, such as C:1/4",
    ),
    (
        "| C | %:1/2 |",
        "1:7: '%:1/2' gives % a length: % repeats the whole bar; write it alone, or write the "
        "chords with their lengths",
    ),
    (
        "| C:1/x D |",
        "1:5: '1/x' is not a length: write a fraction of a whole note, such as 1/8, 3/8 or 1",
    ),
    (
        "| C:0 D:1 |",
        "1:5: '0' is not a length: write a fraction of a whole note, such as 1/8, 3/8 or 1",
    ),
    (
        "| C:1/0 D:1 |",
        "1:5: '1/0' is not a length: write a fraction of a whole note, such as 1/8, 3/8 or 1",
    ),
    (
        "| C:1/4:1/8 D |",
        "1:5: '1/4:1/8' is not a length: write a fraction of a whole note, such as 1/8, 3/8 or 1",
    ),
    (
        "| C:1/7 D |",
        "1:5: '1/7' of a whole note is not a whole number of ticks: a whole note has 3840 "
        "ticks; write a length such as 1/8, 1/12 or 3/16",
    ),
    (
        "| C: D |",
        "1:4: ':' is not a bar line: write |, |: to open a repeat, :| to close it, or :|: to "
        "close one and open another; write a chord's length right after its colon, such as "
        "Em:1/4",
    ),
    (
        "key: C\n| C |\n#4:1/4 5:3/4 | 1 |",
        "3:1: '#4:1/4 5:3/4' at the start of a line can be a comment or a chord: put a space "
        "after the # of a comment, or a bar line before a chord",
    ),
    (
        "| E A B |",
        "1:3: 3 chords do not divide the 4 beats of 4/4 evenly: show how long each lasts with "
        "slashes, one for each further beat, such as | E / A B |, or with lengths, such as | "
        "E:1/2 A:1/4 B |",
    ),
    (
        "| C D E F G |",
        "1:3: 5 chords do not divide the 4 beats of 4/4 evenly: without lengths a bar of 4/4 "
        "takes one chord a beat; write lengths, such as | C:1/4 D E F:1/8 G |, move some chords"
        " to another bar, or give this bar its own meter, (5/4)",
    ),
    (
        "meter: 5/8\n| C C C C C C |",
        "2:3: 6 chords do not divide the 5 beats of 5/8 evenly: without lengths a bar of 5/8 "
        "takes one chord a beat; write lengths, such as | C:1/8 C C C C:1/16 C |, or move some "
        "chords to another bar",
    ),
    (
        "meter: 2/4\n| C C C C C |",
        "2:3: 5 chords do not divide the 2 beats of 2/4 evenly: without lengths a bar of 2/4 "
        "takes one chord a beat; write lengths, such as C:1/8, move some chords to another bar,"
        " or give this bar its own meter, (5/4)",
    ),
]


@pytest.mark.parametrize("text, sentence", FAULTS)
def test_fault(text: str, sentence: str) -> None:
    """A wrong length is reported with its place, what was found and what to write."""
    with pytest.raises(ChartError) as caught:
        read_chart(text, "mill.chart")
    assert sentence == str(caught.value).removeprefix("mill.chart:")


@pytest.mark.parametrize(
    "text",
    [
        sentence[sentence.rindex("such as |") + 8 :]
        for _, sentence in FAULTS
        if "such as |" in sentence
    ],
)
def test_what_a_fault_advises_can_be_read(text: str) -> None:
    """The bar that a fault suggests is valid."""
    bar = text[: text.index("|", 1) + 1]
    assert read_chart(bar if "C C C" not in bar else f"meter: 5/8\n{bar}")


WRITTEN = [
    ("4/4", "C:1/2 D:1/2", "C D"),
    ("4/4", "C:1/2 D:1/4 E", "C / D E"),
    ("4/4", "C:1", "C"),
    ("4/4", "C:3/8 D E:1/4", "C:3/8 D E:1/4"),
    ("4/4", "C:1/8 D E F C D E F", "C:1/8 D E F C D E F"),
    ("3/4", "C:3/8 D:3/8", "C:3/8 D"),
    ("6/8", "C:3/8 D:3/8", "C D"),
    ("6/8", "C:1/4 D:1/8 E:3/8", "C:1/4 D:1/8 E:3/8"),
    ("2/4", 'Em:1/4 A:1/8 "stop" D "push"', 'Em:1/4 A:1/8 "stop" D "push"'),
    ("5/4", "C:5/8 D", "C:5/8 D"),
]


@pytest.mark.parametrize("meter, text, written", WRITTEN)
def test_written(meter: str, text: str, written: str) -> None:
    """Lengths are written only if even division or slashes cannot express them."""
    chart = read_chart(f"meter: {meter}\n| {text} |")
    assert f"| {written} |" == chart_lines(chart)[-1]
    assert chart == read_chart(write_chart(chart))


def test_numbers() -> None:
    """Numbers and Roman numerals have lengths like letters."""
    chart = read_chart("key: D\nmeter: 2/4\n| Em:1/4 A7:1/8 D/F# |")
    assert chart_lines(chart, spell=number_text)[-1] == "| 2m:1/4 57:1/8 1/3 |"
    assert chart_lines(chart, spell=roman_text)[-1] == "| ii:1/4 V7:1/8 I/3 |"
    assert read_chart("\n".join(chart_lines(chart, spell=number_text))) == chart


def test_tidy_keeps_lengths() -> None:
    """Tidying keeps lengths as written."""
    loose = "|C:2/4 D:1/4 E:1/4|G:1/1|\n|: C|D:1/8   G:7/8:|x3"
    assert tidy_text(loose) == (
        "|  C:2/4 D:1/4 E:1/4 | G:1/1        |\n|: C                 | D:1/8 G:7/8 :|x3"
    )
