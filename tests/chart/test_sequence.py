"""The sequence of a chart, compared with sequences by hand.

Repeats, endings, intros and tags as players read them: common practice, no source.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from properties import examples

from backing.chart.read import read_chart
from backing.chart.sequence import (
    SequencedBar,
    length_in_bars,
    loop_of,
    once_round,
    played_bars,
    unrolled,
)
from tests.chart.strategies import charts

if TYPE_CHECKING:
    from backing.chart.model import Chart

SIMPLE = "[A]\n| C | F |\n[B]\n| G | Am |\n"


def chords(sequence: tuple[SequencedBar, ...]) -> str:
    """Return the first chord of each bar of a sequence."""
    return " ".join(str(each.bar.chords[0].chord or "N.C.") for each in sequence)


SEQUENCES = [
    # the order written, and a form
    (SIMPLE, "C F G Am"),
    ("form: B A A\n" + SIMPLE, "G Am C F C F"),
    # repeats
    ("|: C | F :|", "C F C F"),
    ("|: C | F :|x3", "C F C F C F"),
    ("| G |: C :| F |", "G C C F"),
    ("|: C :|: F :|x3 G |", "C C F F F G"),
    ("| C | F :| G |", "C F C F G"),
    # endings
    ("|: C | F |1 G | Am :|2 D | Em |", "C F G Am C F D Em"),
    ("|: C |1,3 F :|2 G :|4 Am |", "C F C G C F C Am"),
    ("|: C |1 F :|2 G |: D |1 Em :|2 Am |", "C F C G D Em D Am"),
    # % and N.C.
    ("| C | % | N.C. | F |", "C C N.C. F"),
    # a pickup is in the sequence once, at the start
    ("(pickup 1/4) D7 | G | C |", "D7 G C"),
    ("(pickup 1/4) D7 |: G | C :|", "D7 G C G C"),
]


@pytest.mark.parametrize("text, sequence", SEQUENCES)
def test_sequences(text: str, sequence: str) -> None:
    """Repeats, endings and the form are performed in order."""
    assert sequence == chords(once_round(read_chart(text, "x")))


NAMED = """\
form: Intro A B A Tag
[Intro]
| C |
[A]
| F |
[B]
| G |
[Tag]
| Am |
"""


@pytest.mark.parametrize(
    "first, last, sequence",
    [
        (True, True, "C F G F Am"),
        (True, False, "C F G F"),
        (False, False, "F G F"),
        (False, True, "F G F Am"),
    ],
)
def test_intro_and_tag(first: bool, last: bool, sequence: str) -> None:
    """The intro is played only the first time round, the tag only the last time."""
    assert sequence == chords(once_round(read_chart(NAMED, "x"), first=first, last=last))


@pytest.mark.parametrize("tag", ["Tag", "Outro", "Coda", "tag", "OUTRO"])
def test_names_of_tags(tag: str) -> None:
    """A part called Tag, Outro or Coda at the end of the form is played only the last time."""
    chart = read_chart(f"[A]\n| C |\n[{tag}]\n| F |", "x")
    assert chords(once_round(chart, last=False)) == "C"
    assert chords(once_round(chart, last=True)) == "C F"


def test_a_tag_inside_the_form() -> None:
    """A tag or an intro inside the form is played every time."""
    chart = read_chart("form: A Intro Tag B\n" + NAMED.replace("form: Intro A B A Tag\n", ""), "x")
    assert chords(once_round(chart, first=False, last=False)) == "F C Am G"


@pytest.mark.parametrize("form", ["Intro", "Tag", "Intro Tag"])
def test_nothing_else(form: str) -> None:
    """A form of intros and tags only is played whole every time."""
    chart = read_chart(NAMED.replace("Intro A B A Tag", form), "x")
    whole = chords(once_round(chart))
    assert whole == chords(once_round(chart, first=False, last=False))


SHORT = "(pickup 1/4) D7 | G | C | D7 | (3/4) G |\n"
FULL = "(pickup 1/4) D7 | G | C | D7 | G |\n"


@pytest.mark.parametrize(
    "text, first, later",
    [(FULL, "D7 G C D7 G", "G C D7 G"), (SHORT, "D7 G C D7 G", "D7 G C D7 G")],
)
def test_pickup_later_on(text: str, first: str, later: str) -> None:
    """A pickup is a bar of its own again only after a bar that is short by its length."""
    chart = read_chart(text, "x")
    assert first == chords(once_round(chart))
    assert later == chords(once_round(chart, first=False))


def test_pickup_of_a_later_part() -> None:
    """A later pickup is inside the bar before it, unless that bar is short by its length."""
    chart = read_chart("[A]\n| C | F |\n[B]\n(pickup 1/4) D7 | G |", "x")
    assert chords(once_round(chart)) == "C F G"
    roomy = read_chart("[A]\n| C | (3/4) F |\n[B]\n(pickup 1/4) D7 | G |", "x")
    assert chords(once_round(roomy)) == "C F D7 G"


def test_places_in_the_sequence() -> None:
    """Every bar has its part, its occurrence, its index and the end of the part."""
    sequence = once_round(read_chart("form: A B A\n[A]\n|: C | F :|\n[B]\n| G |\n", "x"))
    expected = [
        ("A", 0, 0, 4), ("A", 0, 1, 4), ("A", 0, 2, 4), ("A", 0, 3, 4),
        ("B", 1, 0, 1),
        ("A", 2, 0, 4), ("A", 2, 1, 4), ("A", 2, 2, 4), ("A", 2, 3, 4),
    ]  # fmt: skip
    assert expected == [(each.part, each.form_index, each.index, each.length) for each in sequence]
    assert [place for place, each in enumerate(sequence) if each.is_part_start] == [0, 4, 5]
    assert [place for place, each in enumerate(sequence) if each.is_part_end] == [3, 4, 8]


@pytest.mark.parametrize(
    "bars, places",
    [
        ("|: C | F |1 G | Am :|2 D | Em |", [0, 1, 2, 3, 0, 1, 4, 5]),
        ("|: C |1,3 F :|2 G :|4 Am |", [0, 1, 0, 2, 0, 1, 0, 3]),
        ("| (pickup 1/4) G | C |: F |1 G :|2 D :| Em |", [1, 2, 3, 2, 4, 5]),
    ],
)
def test_places_over_endings(bars: str, places: list[int]) -> None:
    """The order of written bars is as counted by hand."""
    (part,) = read_chart(f"[A]\n{bars}\n", "x").parts
    assert list(unrolled(part)) == places


@examples(25)
@given(charts())
def test_every_bar_that_is_played_has_its_place(chart: Chart) -> None:
    """Every played bar is the bar written at its origin."""
    for part in chart.parts:
        written = list(part.written())
        assert [written[each] for each in unrolled(part)] == played_bars(part)
        assert len(played_bars(part)) == part.length()
    for each in once_round(chart):
        assert each.origin
        written = list(chart.part(each.part).written())
        assert written[each.origin.written] == each.alone.bar
        assert chart.order[each.origin.form_index] == each.part == each.origin.part
        assert chart.order[: each.form_index].count(each.part) == each.origin.occurrence


def test_a_bar_has_the_same_name_in_a_loop() -> None:
    """In a loop a bar has its name in the form; a pickup has that of its first bar."""
    chart = read_chart("form: A B A\n[A]\n| (pickup 1/4) D7 |: C | F :|\n[B]\n| G |\n", "x")
    assert [each.name for each in once_round(chart)] == [
        ("A", 0, 0), ("A", 0, 0), ("A", 0, 1), ("A", 0, 2), ("A", 0, 3),
        ("B", 0, 0),
        ("A", 1, 0), ("A", 1, 1), ("A", 1, 2), ("A", 1, 3),
    ]  # fmt: skip
    assert [each.name for each in loop_of(chart, 6, 7)] == [("A", 1, 1), ("A", 1, 2)]


def test_what_holds_in_a_part() -> None:
    """A part's own key, meter, tempo and style apply to its bars; a bar can have its own meter."""
    text = (
        "key: C\n[A]\n| C | (2/4) F |\n"
        "[B]\nkey: Em\nmeter: 2/2\ntempo: half=100\nstyle: two-beat\n| Em | B7 |\n"
    )
    sequence = once_round(read_chart(text, "x"))
    assert [str(each.key) for each in sequence] == ["C", "C", "Em", "Em"]
    assert [str(each.bar.meter) for each in sequence] == ["4/4", "2/4", "2/2", "2/2"]
    assert [str(each.meter) for each in sequence] == ["4/4", "4/4", "2/2", "2/2"]
    assert [str(each.tempo) for each in sequence] == ["None", "None", "half=100", "half=100"]
    assert [each.style for each in sequence] == [None, None, "two-beat", "two-beat"]


@pytest.mark.parametrize(
    "text, bars",
    [
        (SIMPLE, 4),
        ("form: B A A\n" + SIMPLE, 6),
        ("|: C | F |1 G | Am :|2 D | Em |", 8),
        ("(pickup 1/4) D7 |: G | C :|x99", 198),
        (NAMED, 5),
    ],
)
def test_length(text: str, bars: int) -> None:
    """The length of the form counts every part once round, without pickups."""
    assert bars == length_in_bars(read_chart(text, "x"))


@pytest.mark.parametrize(
    "bar, pickup, expected",
    [
        ("F", "(pickup 3/4) G", [(0, "F"), (1, "G")]),
        ("(2/4) F", "(pickup 3/4) G", [(0, "F"), (1, "G")]),
        ("(2/4) F", "(pickup 3/4) G A B", [(0, "F"), (1, "B")]),
        ("(1/4) F", "(pickup 2/4) G A", [(0, "F"), (0.5, "A")]),
        ("(3/4) F C F", "(pickup 3/4) G A B", [(0, "F"), (1, "A"), (2, "B")]),
    ],
)
def test_a_long_pickup_leaves_the_first_chord_its_beat(
    bar: str, pickup: str, expected: list[tuple[float, str]]
) -> None:
    """A pickup replaces the last beats of the bar before it; in a bar of one beat, half of it."""
    joined = once_round(read_chart(f"form: A A\n[A]\n| {pickup} | C | {bar} |", "x"))[2].bar
    assert [(span.tick / 960, str(span.chord)) for span in joined.chords] == expected


@pytest.mark.parametrize("word", ["soft", "loud", "build"])
def test_a_level_at_a_pickup_stays_with_its_part(word: str) -> None:
    """The bar before a pickup takes its push, but does not become soft or loud."""
    text = f'form: A A\n[A]\n| (pickup 1/4) "{word}" "fill" G | C | F |'
    joined = once_round(read_chart(text, "x"))[2]
    assert [str(span.chord) for span in joined.bar.chords] == ["F", "G"]
    assert {each.word for each in joined.bar.directions} == {"fill"}
