"""Write tunes and charts in MusicXML and read them back.

MusicXML cannot hold an order of parts (written out); whether the bracket of an ending is closed,
and a double bar line at a repeat (played the same); directions to the band, count-in, intro, ending
and grooves of parts (left out and reported); a tempo of the first part besides the tune's (the
part's is kept); overlapping notes (the earlier one ends), and notes below C0 (left out).
"""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st
from properties import examples

from backing.chart.melody_text import read_melody
from backing.chart.read import read_chart
from backing.chart.sequence import once_round
from backing.scores.abc.read import read_abc
from backing.scores.from_chart import from_chart
from backing.scores.musicxml import read_musicxml, write_musicxml, write_mxl
from backing.scores.musicxml.write import in_order
from backing.scores.to_chart import to_chart
from backing.scores.tune import Jump, Tune

if TYPE_CHECKING:
    from backing.chart.model import Chart

sys.path.append(str(Path(__file__).parent.parent / "chart"))
from strategies import charts
from test_round_trip import DEMOS, TUNE, melodies


def _said(tune: Tune) -> list[object]:
    """Return the content of a tune that MusicXML can hold."""
    bars: list[object] = []
    written = in_order(tune)
    for index, bar in enumerate(written):
        tempo = bar.tempo or (tune.tempo if not index else None)
        bar = replace(bar, place="", double=False, ending_stops=False, tempo=tempo)  # noqa: PLW2901
        bars.append(bar)
    return [tune.title, tune.composer, tune.rhythm, tune.notes, *bars]


def _read_back(tune: Tune) -> list[object]:
    again = read_musicxml(write_musicxml(tune))
    assert again.remarks == ()
    return _said(again)


def _with_jumps(data: st.DataObject, tune: Tune) -> Tune:
    """Add some jumps at places where they are unambiguous."""
    bars = list(tune.bars)
    found = data.draw(st.lists(st.sampled_from(Jump), max_size=4, unique=True))
    for jump in found:
        at = data.draw(st.integers(0, len(bars) - 1))
        jumps = {*bars[at].jumps, jump}
        early = (Jump.SEGNO, Jump.CODA)
        order = sorted(jumps, key=lambda each: (each not in early, list(Jump).index(each)))
        bars[at] = replace(bars[at], jumps=tuple(order))
    return replace(tune, bars=tuple(bars))


@given(st.data())
@examples(8)
def test_any_chart_and_melody(data: st.DataObject) -> None:
    """The content of any chart and melody that MusicXML can hold is read back unchanged."""
    chart = data.draw(charts())
    tune = _with_jumps(data, from_chart(chart, data.draw(melodies(chart))))

    assert _read_back(tune) == _said(tune)


def _played(chart: Chart) -> list[object]:
    """Return the bars and chords of a chart as played."""
    sequence = once_round(replace(chart, intro=None))
    return [(each.bar.ticks, [(c.tick, c.chord) for c in each.bar.chords]) for each in sequence]


@given(charts())
@examples(5)
def test_a_chart_is_played_the_same(chart: Chart) -> None:
    """A chart with an order of parts is played the same after MusicXML."""
    tune = from_chart(chart)

    again = to_chart(read_musicxml(write_musicxml(tune)))

    assert _played(again.chart) == _played(to_chart(tune).chart)


@pytest.mark.parametrize(
    "bars",
    [
        "(pickup 1/4) C | N.C. |: N.C. |1 N.C. :|2 N.C. |",
        "(pickup 1/4) C | G |: G |1 Am :|2 G |",
        "(pickup 1/4) C |: G | Am :|: G | F :|",
        "(pickup 1/2) C:1/4 D:1/4 |: G | Am :|",
        "(pickup 1/4) C | G | Am |",
    ],
)
@pytest.mark.parametrize("form", ["a", "a a", "a b a", "b a a"])
def test_a_part_with_a_pickup_is_played_the_same(bars: str, form: str) -> None:
    """The chord of a pickup sounds before its part and not after the last one."""
    second = "[b]\n| Dm | E |\n" if "b" in form else ""
    chart = read_chart(f"key: C\nform: {form}\n[a]\n| {bars}\n{second}", "t")
    tune = from_chart(chart)

    again = to_chart(read_musicxml(write_musicxml(tune)))

    assert _played(to_chart(tune).chart) == _played(chart)
    assert _played(again.chart) == _played(chart)


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_demos(path: Path) -> None:
    """A demo chart is read back unchanged, except its directions to the band."""
    chart = read_chart(path.read_text(encoding="utf-8"), path.name)

    back = to_chart(read_musicxml(write_musicxml(from_chart(chart)))).chart

    assert (back.title, back.key, back.by, back.tempo) == (
        chart.title, chart.key, chart.by, chart.tempo,
    )  # fmt: skip
    assert _signs_played(back) == _signs_played(chart)


def _signs_played(chart: Chart) -> list[object]:
    """Return length and chords of each bar as played, without repeated chords."""
    sequence = once_round(replace(chart, intro=None))
    return [
        (each.bar.ticks, [
            (c.tick, c.chord) for n, c in enumerate(each.bar.chords)
            if not n or c.chord != each.bar.chords[n - 1].chord
        ])
        for each in sequence
    ]  # fmt: skip


BETWEEN = """\
key: A
[A]
| Em:1/4 A:1/8 D:1/8 G:1/2 | E:1/12 F#m E:1/12 A:3/4 |: D:3/8 A:5/8 |1 E:7/8 E7:1/8 :|2 A |
[B] 3
meter: 3/4
| D:1/8 E A:1/2 | F#m:1/1920 E:1439/1920 | A |
"""


@pytest.mark.parametrize(
    "notes", ["", "[A]\n| A4:3/8 C#5:5/8 | r:1 | E5:1/4 D5 C#5 B4 | A4:1 | r:1/2 A4 |\n"]
)
def test_chords_between_beats(notes: str) -> None:
    """A chord at any tick keeps its tick, over notes, rests and slashes."""
    chart = read_chart(BETWEEN, "t")
    melody = read_melody(notes, chart) if notes else None
    back = to_chart(read_musicxml(write_musicxml(from_chart(chart, melody))))

    assert back.chart.parts == tuple(replace(part, expected=None) for part in chart.parts)
    assert melody is None or back.melody.parts[0] == melody.parts[0]
    assert back.remarks == ()


def test_a_tune_through_its_chart_and_back() -> None:
    """Chart and melody of a tune are the same after MusicXML, compressed or not."""
    (tune,) = read_abc(TUNE.encode())
    assert isinstance(tune, Tune)
    found = to_chart(tune)
    written = from_chart(found.chart, found.melody)

    for data in (write_musicxml(written), write_mxl(written)):
        back = to_chart(read_musicxml(data))
        assert (back.chart, back.melody) == (found.chart, found.melody)


def test_the_same_tune_gives_the_same_bytes() -> None:
    """Files do not depend on when they are written."""
    (tune,) = read_abc(TUNE.encode())
    assert isinstance(tune, Tune)

    assert write_mxl(tune) == write_mxl(tune)
    assert write_mxl(tune)[:2] == b"PK"


def test_a_title_that_xml_cannot_hold() -> None:
    """Characters that XML does not allow are left out of texts."""
    (tune,) = read_abc(TUNE.encode())
    assert isinstance(tune, Tune)

    again = read_musicxml(write_musicxml(replace(tune, title="a\x00<b>\ud800&c")))
    assert again.title == "a<b>&c"
