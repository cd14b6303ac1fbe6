"""Write charts and melodies in ABC and as text, and read them back."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st
from properties import examples

from backing.chart.melody import Melody, MelodyNote, MelodyPart
from backing.chart.melody_sequence import along
from backing.chart.melody_text import read_melody, write_melody
from backing.chart.read import read_chart
from backing.chart.sequence import once_round
from backing.errors import ScoreError
from backing.harmony.pitch import NoteName, Pitch
from backing.scores.abc.read import read_abc
from backing.scores.abc.write import write_abc
from backing.scores.from_chart import from_chart
from backing.scores.musicxml import read_musicxml, write_musicxml
from backing.scores.sidecar import melody_of_bytes
from backing.scores.to_chart import to_chart

if TYPE_CHECKING:
    from hypothesis.strategies import DrawFn

    from backing.chart.model import Chart

sys.path.append(str(Path(__file__).parent.parent / "chart"))
from strategies import charts

DEMOS = sorted((Path(__file__).parent.parent.parent / "demos").glob("*.chart"))


@st.composite
def melodies(draw: DrawFn, chart: Chart) -> Melody:
    """Melodies of a chart: notes in sixteenths and triplets, rests, chords, ties and graces."""
    pitches = st.builds(Pitch, st.integers(-6, 10).map(NoteName), st.integers(3, 6))
    parts = []
    for part in chart.parts:
        bars = []
        for bar in part.written():
            notes: list[MelodyNote] = []
            tick = 0
            while tick < bar.ticks and len(notes) < 6:
                ticks = min(draw(st.sampled_from([240, 320, 480, 720, 960])), bar.ticks - tick)
                names = draw(st.lists(pitches, max_size=2, unique_by=lambda each: each.key))
                graces = tuple(draw(st.lists(pitches, max_size=1)))
                for pitch in sorted(names, key=lambda each: each.key):
                    tied = tick + ticks == bar.ticks and draw(st.booleans())
                    notes.append(MelodyNote(tick, ticks, pitch, tied, graces))
                    graces = ()
                tick += ticks
            bars.append(tuple(notes))
        parts.append(MelodyPart(part.name, tuple(bars)))
    return Melody(tuple(parts))


@given(st.data())
@examples(40)
def test_a_melody_reads_back(data: st.DataObject) -> None:
    """Reading the text of a melody gives the melody."""
    chart = data.draw(charts())
    melody = data.draw(melodies(chart))

    assert read_melody(write_melody(melody, chart), chart) == melody


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_demos_through_abc(path: Path) -> None:
    """A demo chart is read back from ABC unchanged, except for what ABC cannot hold."""
    chart = read_chart(path.read_text(encoding="utf-8"), path.name)

    (tune,) = read_abc(write_abc(from_chart(chart)))
    assert not isinstance(tune, ScoreError)
    back = to_chart(tune).chart

    assert _sayable(back) == _sayable(chart)


def _sayable(chart: Chart) -> tuple[object, ...]:
    """Return the content of a chart that ABC can hold: parts as played, with bars and chords."""
    sequence = once_round(replace(chart, intro=None))
    bars = [
        (each.bar.ticks, [(span.tick, span.chord) for span in _joined(each.bar.chords)])
        for each in sequence
    ]
    return chart.title, chart.key, chart.by, chart.tempo, bars


def _joined(spans):
    return [span for n, span in enumerate(spans) if not n or span.chord != spans[n - 1].chord]


@pytest.mark.parametrize("form", ["A", "A A", "A A A", "A A A A", "A B A A B", "B A A"])
@pytest.mark.parametrize(
    "bars", ["|: C | F :|", "|: C | F :|x3", "|: C |1 F :|2 G |", "|: C :| F |"]
)
def test_parts_that_are_repeats_are_played_as_often(form: str, bars: str) -> None:
    """A part named several times in a row keeps its repeat each time."""
    more = "[B]\n| Am |\n" if "B" in form else ""
    chart = read_chart(f"key: C\nform: {form}\n[A]\n{bars}\n{more}", "t")

    (tune,) = read_abc(write_abc(from_chart(chart)))
    assert not isinstance(tune, ScoreError)
    for back in (to_chart(tune), to_chart(read_musicxml(write_musicxml(from_chart(chart))))):
        assert _sayable(back.chart)[-1] == _sayable(chart)[-1]


TUNE = """\
X:1
T:Thimble Reel
M:4/4
L:1/8
K:D
|:A2|"D"d2fd (3Bcd e>f|"G"g2{a}fe "A7/c#"[ce]4-|"A7"[ce]2 dc B2AG|1"D"F4 D2:|2"D"F4 D2||
|:FG|"D"A4-A2 d2|"Bm"d=c B2 "Em"E4|"A7"A,2 ^GA z4|"D"D6:|
"""


def test_a_tune_through_its_chart_and_back() -> None:
    """Chart and melody of a tune are the same after writing and reading ABC."""
    (tune,) = read_abc(TUNE.encode())
    assert not isinstance(tune, ScoreError)
    found = to_chart(tune)

    (again,) = read_abc(write_abc(from_chart(found.chart, found.melody)))
    assert not isinstance(again, ScoreError)
    back = to_chart(again)

    assert (back.chart, back.melody) == (found.chart, found.melody)


@pytest.mark.parametrize("form, last", [("", 2880), ("A A B", 2880), ("A B C", 3840)])
def test_a_bar_before_a_pickup_lacks_its_time(form: str, last: int) -> None:
    """The last bar of a part ends where the pickup of the next parts begins, as on paper."""
    bars = "| (pickup 1/4) N.C. | C | C |"
    more = "[C]\n| F |\n" if "C" in form else ""
    chart = read_chart(f"key: C\n[A]\n{bars}\n[B]\n{bars}\n{more}", "t")
    melody = read_melody(
        "[A]\n| G4:1/4 | E5:1 | C5:1/2 |\n[B]\n| G4:1/4 | F5:1 | C5:1/2 |\n", chart
    )

    tune = from_chart(replace(chart, form=tuple(form.split())), melody)
    assert [bar.ticks for bar in tune.bars][:6] == [960, 3840, 2880, 960, 3840, last]

    (again,) = read_abc(write_abc(tune))
    assert not isinstance(again, ScoreError)
    score = read_musicxml(write_musicxml(replace(tune, order=())))
    for back in (to_chart(again), to_chart(score)):
        assert back.melody.parts[:2] == melody.parts


def test_an_abc_file_is_a_melody_beside_a_chart() -> None:
    """A melody in ABC is transposed to the key of its chart."""
    (tune,) = read_abc(TUNE.encode())
    assert not isinstance(tune, ScoreError)
    found = to_chart(tune)

    assert melody_of_bytes(TUNE.encode(), found.chart, "t.abc") == found.melody
    higher = melody_of_bytes(TUNE.encode(), found.chart.up(1), "t.abc")
    assert higher == found.melody.up(1)


def test_a_midi_file_is_a_melody_beside_a_chart() -> None:
    """Notes of a MIDI file of one chorus are assigned to the bars of the chart."""
    import io

    import mido

    chart = read_chart("key: C\n[A]\n| (pickup 1/4) G7 |: C | F :|\n[B]\n| C |\n", "t")
    file = mido.MidiFile(ticks_per_beat=480)
    track = mido.MidiTrack()
    file.tracks.append(track)
    for key in (67, *[60, 62, 64, 65] * 5):
        track.append(mido.Message("note_on", note=key, velocity=80, time=0))
        track.append(mido.Message("note_off", note=key, time=480))
    data = io.BytesIO()
    file.save(file=data)

    melody = melody_of_bytes(data.getvalue(), chart, "t.mid")

    keys = [[note.pitch.key for note in bar] for part in melody.parts for bar in part.bars]
    assert keys == [[67], [60, 62, 64, 65], [60, 62, 64, 65], [60, 62, 64, 65]]

    short = read_chart("key: C\n[A]\n| C | F |\n", "t")
    with pytest.raises(ScoreError, match="13 of its notes begin after the form's last bar"):
        melody_of_bytes(data.getvalue(), short, "t.mid")


@pytest.mark.parametrize(
    "text, expected",
    [
        ("| C4 |", "bars come before the first part"),
        ("[Z]\n| C4 |", "'Z' is not a part of the chart"),
        ("[A]\n| C4:1 |", "part A has 1 bars here and 2 as written in the chart"),
        ("[A]\n| H4:1 | r |", "'H4' is not a pitch"),
        ("[A]\n| C4:1/2 D4 E4 | r |", "the notes of this bar last 3/2 of a whole note, the bar 1"),
        ("[A]\n| C4:1/0 | r |", "'1/0' is not a length"),
        ("[A]\nla la", "'la la' is not understood"),
        ("[A]\n| r | r |\n[A]\n| r | r |", "part A is there twice"),
    ],
)
def test_faults_of_a_melody(text: str, expected: str) -> None:
    """Errors of a melody have their places."""
    chart = read_chart("[A]\n| C | G |\n", "t")

    with pytest.raises(ScoreError, match=r"t\.melody:\d") as caught:
        read_melody(text, chart, "t.melody")
    assert expected in str(caught.value)


def test_ties_and_pickups_along_the_sequence() -> None:
    """A tied note continues in the next bar as played; a pickup precedes every pass."""
    chart = read_chart("[A]\n| (pickup 1/4) G7 |: C |1 F :|2 G |\n", "t")
    text = "[A]\n| (pickup) G4:1/4 | C4~:1 | C4:1/2 | D4:1 |\n"
    melody = read_melody(text, chart)

    bars = along(melody, once_round(chart))

    assert [[(n.tick, n.ticks, n.pitch.key) for n in bar] for bar in bars] == [
        [(0, 960, 67)],
        [(0, 5760, 60)],
        [(2880, 960, 67)],
        [(0, 3840, 60)],
        [(0, 3840, 62)],
    ]
