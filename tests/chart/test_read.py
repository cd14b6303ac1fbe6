"""Texts and the charts read from them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from backing.chart.model import Bar, ChordSpan, Direction
from backing.chart.read import load_chart, read_chart, read_chart_bytes
from backing.chart.sequence import played_bars
from backing.harmony.key import Key
from backing.timing import Meter, Tempo

if TYPE_CHECKING:
    from pathlib import Path

    from backing.chart.model import Part

BEAT = 960

WHOLE = """\
\ufefftitle:  Millpond Reel
By:     Anna Example
KEY:    A mixolydian
meter:  2/2
tempo:  half=116
style:  two-beat
form:   A, A B Tag-1'b
count in: 2
ending: Short
note:   first remark
notes:  second: with a colon | and a stroke
# | C |

[A] 8
| A | G | A | E7 |
  # inside
   | A  G | A
E7 | A ||

[Tag-1'b]
key: Em
meter: 3/4
tempo: 90
style: waltz
| Em | % |
[B]
| A :|
"""


def part(bars: str, head: str = "key: G\n") -> Part:
    """Return the first part of a chart with these lines of bars."""
    return read_chart(f"{head}[A]\n{bars}\n").parts[0]


def bar_text(bar: Bar) -> str:
    """Return the chords of a bar, with their beats if they differ."""
    lengths = [span.ticks // bar.meter.beat_ticks for span in bar.chords]
    names = [str(span.chord or "N.C.") for span in bar.chords]
    if len(set(lengths)) == 1:
        return " ".join(names)
    return " ".join(f"{name}*{beats}" for name, beats in zip(names, lengths, strict=True))


def written(bars: str, head: str = "key: G\n") -> str:
    """Return the bars of a part as they are written."""
    return " | ".join(map(bar_text, part(bars, head).written()))


def played(bars: str, head: str = "key: G\n") -> str:
    """Return the bars of a part as they are played."""
    return " | ".join(map(bar_text, played_bars(part(bars, head))))


def test_whole_chart() -> None:
    """Every header is read, in any case and after a byte order mark."""
    chart = read_chart(WHOLE)
    assert chart.title == "Millpond Reel"
    assert chart.by == "Anna Example"
    assert Key.parse("A mixolydian") == chart.key
    assert Meter(2, 2) == chart.meter
    assert Tempo(116, "half") == chart.tempo
    assert chart.style == "two-beat"
    assert chart.form == ("A", "A", "B", "Tag-1'b")
    assert (chart.count_in, chart.ending) == (2, "short")
    assert chart.notes == ("first remark", "second: with a colon | and a stroke")
    assert [each.name for each in chart.parts] == ["A", "Tag-1'b", "B"]
    assert [each.expected for each in chart.parts] == [8, None, None]


def test_part_with_its_own_words() -> None:
    """A part can have its own key, meter, tempo and style."""
    tag = read_chart(WHOLE).part("Tag-1'b")
    own = (Key.parse("Em"), Meter(3, 4), Tempo(90), "waltz")
    assert own == (tag.key, tag.meter, tag.tempo, tag.style)
    assert [Meter(3, 4)] * 2 == [bar.meter for bar in tag.written()]


def test_bars_alone_are_a_chart() -> None:
    """Bars alone are a part called A, in 4/4, named after the file."""
    chart = read_chart("C | G7", "songs/low-meadow.chart")
    assert chart.title == "low-meadow"
    assert [each.name for each in chart.parts] == ["A"]
    assert (Key.parse("C"), Meter(4, 4), ()) == (chart.key, chart.meter, chart.form)
    assert (chart.tempo, chart.style, chart.count_in, chart.ending) == (None, None, None, None)


@pytest.mark.parametrize("source", ["-", "<stdin>", "", "  "])
def test_title_of_standard_input(source: str) -> None:
    """A chart without a title and a file name is untitled."""
    assert read_chart("| C |", source).title == "Untitled"


@pytest.mark.parametrize(
    "text, key",
    [
        ("| F#m7 | B |", "F#m"),
        ("| N.C. | Bb6 |", "Bb"),
        ("| D# |", "Eb"),
        ("[A]\nkey: D dorian\n| G |", "D dorian"),
        ("| N.C. |", "C"),
        ("key: E\n| A |", "E"),
    ],
)
def test_key_of_a_chart_without_one(text: str, key: str) -> None:
    """A chart without a key is in that of its first part or its first chord."""
    assert Key.parse(key) == read_chart(text).key


@pytest.mark.parametrize(
    "bars, expected",
    [
        ("| E | A B | C D E F |", "E | A B | C D E F"),
        ("E|A", "E | A"),
        ("||E||A||", "E | A"),
        ("| E |\n| A |\n\nB |", "E | A | B"),
        ("| E / A B7 |", "E*2 A*1 B7*1"),
        ("| E / / A | E // A |", "E*3 A*1 | E*3 A*1"),
        ("| E / A / |", "E A"),
        ("| N.C. / NC n.c. | nc |", "N.C.*2 N.C.*1 N.C.*1 | N.C."),
        ("| E | % | % |", "E | E | E"),
        ("| E A | %", "E A | E A"),
        ("| C(b5) | Bb/D | F#m7b5 |", "C(b5) | Bb/D | F#m7b5"),
        ("| 1 | 4 | 57 | b7 | 6m |", "G | C | D7 | F | Em"),
        ("| I | IV | V7 | bVII | vi |", "G | C | D7 | F | Em"),
        ("| C C |", "C C"),
        ("| C |\tG\t|\r| D |\r\n| A |", "C | G | D | A"),
        ("| C\u00a0G |", "C G"),
    ],
)
def test_bars(bars: str, expected: str) -> None:
    """Bars have chords, slashes, % and N.C."""
    assert expected == written(bars)


@pytest.mark.parametrize(
    "meter, bars, expected",
    [
        ("3/4", "| C | C D E | C / D |", "C | C D E | C*2 D*1"),
        ("6/8", "| C | C D | C / |", "C | C D | C"),
        ("2/2", "| C D |", "C D"),
        ("5/4", "| C / / D / | C D E F G |", "C*3 D*2 | C D E F G"),
        ("12/8", "| C D | C / / D |", "C D | C*3 D*1"),
        ("1/4", "| C |", "C"),
    ],
)
def test_meters(meter: str, bars: str, expected: str) -> None:
    """Chords and slashes count the beats of the meter."""
    assert expected == written(bars, f"meter: {meter}\n")


def test_spans_in_ticks() -> None:
    """The chords of a bar fill it in ticks without gaps."""
    bar = next(part("| C / G7 D |").written())
    assert [(span.tick, span.ticks) for span in bar.chords] == [
        (0, 2 * BEAT),
        (2 * BEAT, BEAT),
        (3 * BEAT, BEAT),
    ]


def test_bar_of_another_meter() -> None:
    """A meter in brackets is that of its bar only."""
    meters = [bar.meter for bar in part("| C | (2/4) D | (2/4) % | G |").written()]
    assert [Meter(4, 4), Meter(2, 4), Meter(2, 4), Meter(4, 4)] == meters


@pytest.mark.parametrize(
    "bars",
    [
        "(pickup 1/4) D7 | G | C |",
        "| (pickup 1/4) D7 | G | C |",
        "| (Pickup  1/4 ) D7 |\n| G | C |",
    ],
)
def test_pickup(bars: str) -> None:
    """A pickup has the length in its brackets and does not count as a bar."""
    found = part(bars)
    assert found.pickup
    assert (Meter(1, 4), "D7") == (found.pickup.meter, bar_text(found.pickup))
    assert found.length() == 2


@pytest.mark.parametrize(
    "bar, expected",
    [
        ('"stop" C G', [Direction("stop", 0, 4 * BEAT)]),
        ('C "stop" G', [Direction("stop", 0, 2 * BEAT)]),
        (
            'C / / "Hold" G " push "',
            [Direction("hold", 0, 3 * BEAT), Direction("push", 2880, BEAT)],
        ),
        ('C "hold" / / G', [Direction("hold", 0, 3 * BEAT)]),
        ('C"stop""loud"', [Direction("stop", 0, 4 * BEAT), Direction("loud", 0, 4 * BEAT)]),
        ('% "fill"', [Direction("fill", 0, 4 * BEAT)]),
        ('"fill" %', [Direction("fill", 0, 4 * BEAT)]),
        ("%", []),
    ],
)
def test_directions(bar: str, expected: list[Direction]) -> None:
    """A direction before the first chord applies to the bar, one after a chord to that chord."""
    assert tuple(expected) == list(part(f'| A "walk" E | {bar} |').written())[1].directions


@pytest.mark.parametrize(
    "bars, expected",
    [
        ("|: C | G :| D |", "C G C G D"),
        ("C | G :| D |", "C G C G D"),
        ("|: C :|x3 D |", "C C C D"),
        ("|: C :| x3 | D |", "C C C D"),
        ("|: C :| x 3 | D |", "C C C D"),
        ("|: C :|X3\nD |", "C C C D"),
        ("|: C :|: D :|", "C C D D"),
        ("|: C :: D :|", "C C D D"),
        ("||: C :||: D :||", "C C D D"),
        ("|: C :| |: D :|", "C C D D"),
        ("A |: C :| D :| E", "A C C D D E"),
        ("|: C |1 D :|2 E | F |", "C D C E F"),
        ("C |1 D :|2 E |", "C D C E"),
        ("|: C |1 D :|\n|2 E | F |", "C D C E F"),
        ("|: C |1,2 D :|3 E |", "C D C D C E"),
        ("|: C |1,3 D :|2,4 E |", "C D C E C D C E"),
        ("|: C |1 D :|2 E :|3 F |", "C D C E C F"),
        ("|: C |1 D :|2 E :|", "C D C E"),
        ("|: C |1 D :|2 E :| F | G |", "C D C E F G"),
        ("|: C |1 D :|2 E :| F :|", "C D C E F F"),
        ("|: C |1 D :|2 E |: F :|", "C D C E F F"),
        ("|: C |1 D :|2 E |: F |1 G :|2 A |", "C D C E F G F A"),
        ("(pickup 1/4) D | C | G :| A", "C G C G A"),
        ("| C |: % | D :|", "C C D C D"),
    ],
)
def test_repeats(bars: str, expected: str) -> None:
    """Repeats and endings are played as written."""
    assert expected == played(bars).replace(" |", "")


def test_last_ending_runs_on() -> None:
    """The bars after a last ending belong to it, closed or not."""
    assert part("|: C |1 D :|2 E | F | G |") == part("|: C |1 D :|2 E :| F | G |")


@pytest.mark.parametrize("number", [2, 3])
def test_number_of_bars_after_a_name(number: int) -> None:
    """The number of bars after a name is as played or as written, without the pickup."""
    bars = "(pickup 1/4) D | G |: C :|"
    assert number == read_chart(f"[A] {number}\n{bars}").parts[0].expected


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_line_ends(end: str) -> None:
    """Line feeds, carriage returns and both together end a line."""
    lines = ["title: Low Meadow", "key: C", "[A] 2", "| C | G |", ""]
    assert read_chart("\n".join(lines)) == read_chart(end.join(lines))


def test_bytes() -> None:
    """Bytes are UTF-8, with or without a byte order mark."""
    text = "title: Över ån\n| C♯m7♭5 |"
    chart = read_chart_bytes(text.encode("utf-8-sig"), "x")
    assert read_chart_bytes(text.encode(), "x") == chart
    assert chart.title == "Över ån"
    assert str(chart.parts[0].sections[0].chords[0].chord) == "C#m7b5"


def test_load(tmp_path: Path) -> None:
    """A chart is loaded from a file, whose name is its title when it has none."""
    path = tmp_path / "low meadow.chart"
    path.write_bytes(b"| C |")
    assert load_chart(str(path)).title == "low meadow"


def test_numbers_too_far_from_home() -> None:
    """A number that would need three flats is respelled."""
    chart = read_chart("key: Cb\n| bb7 | 1/bb7 |")
    spans: list[ChordSpan] = [bar.chords[0] for bar in chart.parts[0].written()]
    assert [str(span.chord) for span in spans] == ["Ab", "Cb/Ab"]


def test_a_tab_inside_a_value_is_a_blank() -> None:
    """A tab inside a value is read as a space, because it could not be written."""
    chart = read_chart("title:\tTabs\tare  fine\n[A]\n| C |\n")

    assert chart.title == "Tabs are  fine"
