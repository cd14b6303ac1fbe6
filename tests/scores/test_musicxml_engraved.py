"""Check written scores in the engraving of an independent program, read as a player reads it."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

import pytest
from engraved import Picture, engraved, sizes
from hypothesis import given
from hypothesis import strategies as st
from properties import examples
from test_musicxml_round_trip import DEMOS, TUNE, charts, melodies

from backing.chart.melody_text import read_melody
from backing.chart.read import read_chart
from backing.scores.abc.read import read_abc
from backing.scores.from_chart import from_chart
from backing.scores.musicxml import read_musicxml, write_musicxml
from backing.scores.musicxml.write import in_order
from backing.scores.sidecar import load_tune
from backing.scores.to_chart import to_chart
from backing.scores.tune import Tune

if TYPE_CHECKING:
    from pathlib import Path


def tune_of(abc: str) -> Tune:
    """Return a tune in ABC, with its chart's parts."""
    (tune,) = read_abc(abc.encode())
    assert isinstance(tune, Tune)
    found = to_chart(tune)
    return from_chart(found.chart, found.melody)


def sounding(tune: Tune) -> list[list[list[int]]]:
    """Return the keys of each bar, grace notes and notes in order, simultaneous ones together."""
    bars = []
    for bar in in_order(tune):
        found = []
        for _, group in groupby(bar.notes, key=lambda note: note.tick):
            notes = list(group)
            found += [[grace.key] for grace in notes[0].graces]
            found.append(sorted(note.pitch.key for note in notes))
        bars.append(found)
    return bars


def shown(picture: Picture) -> list[list[list[int]]]:
    """Return the keys that a player reads; a note head tied inside its bar is no new note."""
    return [
        [
            sorted(head.key for head in heads)
            for place, heads in enumerate(bar.heads)
            if not (place and all(head.tied for head in heads))
        ]
        for bar in picture.bars
    ]


JIG = """\
X:1
T:Kettle Jig
M:6/8
L:1/8
K:Cm
|:G|"Cm"cde g2e|"Bb"fed B3|"Cm"cde gec|"G7"=Bcd GA_B|"Cm"c>de g2e|"Ab"fed c2=B|"Cm"c/d/e/f/g ag2|\\
1"G7"=b2g d2:|2"G7"=b3 c3||
K:C
|:g|"C"c'bc' [eg]2f|{^f}agf "Bb"_e2d|"Eb"_e3 g3|"G"[Bd]6-|[Bd]2z3:|
"""
HORNPIPE = """\
X:1
T:Dotted Hornpipe
M:4/4
L:1/8
K:G
|:d>c|"G"B>GD>G B>Gd>c|B>d (3gab g>fe>d|"C"e>ce>g "D7"f>d (3def|"G"g2 "D7"f2 "G"g2:|
|:"G"g>ab>g "D7"a>fd>f|e/f/g/e/ d2 c/B/A d2|B/2c/2B/2A/2 {^ca}G2 z2 d>^c|"G"[GB]4 [DG]2 z2:|
"""


@pytest.mark.parametrize("abc", [TUNE, JIG, HORNPIPE], ids=["reel", "jig", "hornpipe"])
def test_a_player_reads_the_notes(abc: str) -> None:
    """The engraved pitches and ties are those of the tune."""
    tune = tune_of(abc)
    assert shown(engraved(write_musicxml(tune))) == sounding(tune)


@given(st.data())
@examples(8)
def test_a_player_reads_any_notes(data: st.DataObject) -> None:
    """The engraved notes are those of any chart and melody; beams and rests are allowed ones."""
    chart = data.draw(charts())
    tune = from_chart(chart, data.draw(melodies(chart)))
    picture = engraved(write_musicxml(tune))

    assert shown(picture) == sounding(tune)
    for bar, found in zip(in_order(tune), picture.bars, strict=True):
        silent = sum(note.ticks for note in {n.tick: n for n in bar.notes}.values()) < bar.ticks
        assert bool(found.marks.keys() & {"rest", "mRest", "slash"}) <= silent
        for beam in found.beamed:
            assert len(beam) > 1
            assert all(found.values[place] >= 8 for place in beam)


BEAMS = [
    ("4/4", "abcd efga", [4, 4]),
    ("4/4", "a2bc d2ef", [2, 2]),
    ("4/4", "ab c2 d2 ef", [2, 2]),
    ("4/4", "ab2c d3e", []),
    ("4/4", "a3b c2de", [2]),
    ("4/4", "zabc dzef", [2, 2]),
    ("4/4", "a>bc>d e<fg>a", [2, 2, 2, 2]),
    ("4/4", "a/b/c/d/ ef g/a/b c2", [4, 2, 3]),
    ("4/4", "abc/d/e f4", [2, 3]),
    ("4/4", "(3abc de (3fga b2", [3, 2, 3]),
    ("4/4", "a4 (3b2c2d2", []),
    ("4/4", "(3:2:4b2cde2 a4", []),
    ("4/4", "[ac][bd][ce][df] [eg]4", [4]),
    ("C|", "abcd efga", [4, 4]),
    ("2/2", "a/b/c/d/ef gabc", [4, 2, 4]),
    ("2/4", "abcd", [4]),
    ("2/4", "a/b/c/d/ ef", [4, 2]),
    ("3/4", "abcdef", [2, 2, 2]),
    ("3/4", "a3bcd", [2]),
    ("3/8", "abc", [3]),
    ("3/8", "a/b/c/d/e/f/", [6]),
    ("6/8", "abc def", [3, 3]),
    ("6/8", "a2b c>de", [3]),
    ("6/8", "a/b/c/d/e f3", [5]),
    ("6/8", "abc2de", [2, 2]),
    ("9/8", "abc def gab", [3, 3, 3]),
    ("12/8", "abc d3 efg a2b", [3, 3]),
    ("5/8", "abcde", [3, 2]),
    ("7/8", "abcdefg", [2, 2, 3]),
    ("6/8", "(4abcd e3", [4]),
]
"""Bars and the number of notes that each beam joins (common practice, no source)."""


@pytest.mark.parametrize("meter, notes, beams", BEAMS)
def test_beams(meter: str, notes: str, beams: list[int]) -> None:
    """Beams show the beats."""
    picture = engraved(write_musicxml(tune_of(f"X:1\nM:{meter}\nL:1/8\nK:C\n{notes}|{notes}|]\n")))
    assert [sizes(bar) for bar in picture.bars] == [beams, beams]


@pytest.mark.parametrize(
    "bars, beams",
    [
        ("abc|d8|e5", [[2], [], []]),
        ("a/b/c|d8|", [[3], []]),
        ("abcde|f8|", [[4], []]),
    ],
)
def test_beams_of_a_pickup(bars: str, beams: list[list[int]]) -> None:
    """A pickup has the beats of the end of its bar."""
    picture = engraved(write_musicxml(tune_of(f"X:1\nM:4/4\nL:1/8\nK:C\n{bars}|]\n")))
    assert [sizes(bar) for bar in picture.bars] == beams


def test_hooks_and_second_beams() -> None:
    """A sixteenth in a dotted pair has a hook towards its note; grace notes have two beams."""
    text = write_musicxml(tune_of("X:1\nM:2/4\nL:1/8\nK:C\na>b c<d|{ef}g4|]\n")).decode()
    beams = [line.split(">", 1)[1].split("<")[0] for line in text.splitlines() if "<beam " in line]
    assert beams == [
        "begin", "end", "backward hook", "begin", "forward hook", "end",
        "begin", "begin", "end", "end",
    ]  # fmt: skip


def _rows(*bars: int) -> str:
    return "\n".join("| C " * count + "|" for count in bars)


@pytest.mark.parametrize(
    "text, rows",
    [
        ("[A]\n" + _rows(8), [4, 4]),
        ("[A]\n" + _rows(9), [4, 4, 1]),
        ("[A]\n" + _rows(6) + "\n[B]\n" + _rows(5), [4, 2, 4, 1]),
        ("form: A B A\n[A]\n" + _rows(4) + "\n[B]\n" + _rows(2), [4, 2, 4]),
        ("[A]\n| (pickup 1/4) G " + _rows(8), [5, 4]),
        ("[A]\n|: C | C | C |1 C :|2 C |\n[B]\n| C |", [5, 1]),
        ("[A]\n|: " + _rows(7)[2:] + "1 C :|2 C |", [4, 5]),
        ("[A]\n|: " + _rows(4)[2:] + "1 C :|2 C |", [4, 2]),
        ("[A]\n|: C | C | C |1 C :|2 C | C |", [4, 2]),
        ("[A]\n|: C | C |1 C :|2 C :|3 C |\n[B]\n| C |", [5, 1]),
        ("[A]\n|: C | C | C |1 C :|2 C :|3 C |\n[B]\n| C |", [4, 2, 1]),
    ],
)
def test_four_bars_to_a_row(text: str, rows: list[int]) -> None:
    """Rows have four bars and a pickup; a part begins a row, a lone last ending does not."""
    picture = engraved(write_musicxml(from_chart(read_chart(text, "t"))))
    assert [len(row) for row in picture.rows] == rows


@pytest.mark.parametrize(
    "body, rows",
    [
        ("|:C4|C4|1C4:|2C4||C4|C4|C4|C4|]", [4, 4]),
        ("|:C4|C4|C4|1C4:|2C4||C4|C4|]", [5, 2]),
        ("|:C4|C4|C4|1C4:|2C4|]\n|:C4|C4|C4|C4:|", [5, 4]),
        ("C4|C4|:C4|C4:|C4|C4|]", [4, 2]),
        ("|:" + 3 * (8 * "C/" + "|") + "1" + 8 * "C/" + ":|2" + 8 * "C/" + "|]", [5]),
        ("|:" + 3 * (8 * "C/" + "|") + "1" + 8 * "C/" + ":|2" + 7 * "C/" + "C//C//|]", [3, 2]),
        ("|:" + 4 * (9 * "C/" + "|") + "1" + 9 * "C/" + ":|2" + 9 * "C/" + "|]", [4, 2]),
        ("G|:C4|C4|C4|C3:|G|:C4|C4|C4|C3:|", [5, 5]),
    ],
)
def test_rows_of_a_score_without_labels(body: str, rows: list[int]) -> None:
    """A lone last ending before a repeat or a double bar line stays in its row too."""
    tune = next(iter(read_abc(f"X:1\nM:4/4\nL:1/4\nK:C\n{body}\n".encode())))
    assert isinstance(tune, Tune)
    picture = engraved(write_musicxml(tune))
    assert [len(row) for row in picture.rows] == rows


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_demos(path: Path) -> None:
    """A chart has rows of four, slashes, no rests, chords at their beats and no staff name."""
    chart = load_tune(str(path))
    tune = from_chart(chart, chart.melody)
    picture = engraved(write_musicxml(tune))
    bars = in_order(tune)

    assert picture.labels == []
    assert max(sum(not bar.is_short for bar in bars), 1) <= 4 * len(picture.rows)
    assert all(len(row) <= 5 for row in picture.rows)
    for bar, found in zip(bars, picture.bars, strict=True):
        beats = [1 + sign.tick / bar.meter.unit_ticks for sign in bar.chords]
        assert [beat for beat, _ in found.chords] == beats
        if chart.melody is None:
            assert not found.marks.keys() & {"rest", "mRest", "beam", "flag", "stem"}
            if not bar.is_short:
                assert found.marks["slash"] == bar.meter.beats * (2 if bar.meter.unit == 2 else 1)


@pytest.mark.parametrize(
    "meter, bars, slashes",
    [
        ("4/4", "C | G F | N.C. | N.C. | C |", [4, 4, 0, 0, 4]),
        ("2/2", "C | G F |", [4, 4]),
        ("12/8", "C | G F / / | N.C. C |", [4, 4, 4]),
        ("3/4", "(pickup 1/4) C | C | G:1/8 F:5/8 |", [1, 3, 3]),
        ("6/8", "(pickup 1/8) C | C | G:1/8 F:5/8 |", [1, 2, 2]),
        ("5/8", "C |", [5]),
    ],
)
def test_slashes(meter: str, bars: str, slashes: list[int]) -> None:
    """A chart without melody has a slash a beat, and a rest where there is no chord."""
    text = f"meter: {meter}\n[A]\n| {bars}\n"
    data = write_musicxml(from_chart(read_chart(text, "t")))
    found = engraved(data).bars

    assert [bar.marks.get("slash", 0) for bar in found] == slashes
    assert [bar.marks.get("mRest", 0) for bar in found] == [not each for each in slashes]
    assert not any("rest" in bar.marks for bar in found)
    tune = read_musicxml(data)
    assert not any(bar.notes for bar in tune.bars)
    assert tune.remarks == ()


@pytest.mark.parametrize(
    "chord, expected",
    [
        ("Am7b5", "Am7b5"), ("C7b9", "C7(b9)"), ("Bb7#9", "Bb7(#9)"), ("E7sus4", "Esus4(7)"),
        ("F#m7/E", "F#m7/E"), ("C69", "C6(9)"), ("Ebmaj7", "Ebmaj7"), ("N.C.", "N.C."),
        ("Gadd9", "G(add9)"), ("D5", "D5"), ("Bdim7", "Bdim7"),
    ],
)  # fmt: skip
def test_names_of_chords(chord: str, expected: str) -> None:
    """A chord symbol prints each of its degrees once."""
    picture = engraved(write_musicxml(from_chart(read_chart(f"[A]\n| {chord} | C |\n", "t"))))
    assert picture.bars[0].chords == [(1.0, expected)]


@pytest.mark.parametrize("chord, text", [("Am7b5", "m7♭5"), ("Bm", "m"), ("Ab7", "7")])
def test_text_of_a_kind(chord: str, text: str) -> None:
    """The text of a kind is printed unchanged, so it has the musical flat sign."""
    tune = from_chart(read_chart(f"[A]\n| {chord} |\n", "t"))
    assert f'<kind text="{text}">' in write_musicxml(tune).decode()


def test_chords_change_over_one_rest() -> None:
    """A silent bar is one rest, and a chord over it is at its own tick."""
    text = "[A]\n| C:1/8 G F:1/2 G:1/4 | C:1/2 F:1/8 G C:1/4 |\n"
    chart = read_chart(text, "t")
    silent = engraved(write_musicxml(from_chart(chart)))
    melody = read_melody("[A]\n| r:1 | C5:1 |\n", chart)
    mixed = engraved(write_musicxml(from_chart(chart, melody)))
    beats = [[1.0, 1.5, 2.0, 4.0], [1.0, 3.0, 3.5, 4.0]]

    for picture in (silent, mixed):
        assert [[beat for beat, _ in bar.chords] for bar in picture.bars] == beats
        assert "rest" not in picture.bars[0].marks
    assert silent.bars[0].marks["slash"] == 4
    assert mixed.bars[0].marks["mRest"] == 1
