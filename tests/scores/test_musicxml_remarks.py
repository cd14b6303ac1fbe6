"""Check that everything left out of a MusicXML score is reported at its bar."""

from __future__ import annotations

import pytest
from xml_score import (
    BASIS,
    C_MAJOR,
    FOUR,
    degree,
    harmony,
    mark,
    note,
    notes,
    part,
    score,
    scores,
    style,
    words,
)

from backing.chart.write import write_chart
from backing.scores.musicxml import read_musicxml
from backing.scores.to_chart import to_chart

BAR = notes("C4 D4 E4 F4")
GRACE = '<grace slash="yes"/>'
UNPITCHED = (
    "<note><unpitched><display-step>E</display-step><display-octave>4</display-octave>"
    "</unpitched><duration>2</duration></note>"
)


def metronome(text: str) -> str:
    """Return a metronome mark of quarter notes."""
    inside = f"<beat-unit>quarter</beat-unit><per-minute>{text}</per-minute>"
    kind = f"<direction-type><metronome>{inside}</metronome></direction-type>"
    return f"<direction>{kind}</direction>"


LOSSES = {
    "voices": (BAR + "<backup><duration>8</duration></backup>" + note("G5", voice="2"),
               "the melody is the first voice: notes of other voices are left out"),
    "cue": (notes("C4 D4 E4") + note("C4", 2, before="<cue/>"), "a cue note is left out"),
    "unpitched": (notes("C4 D4 E4") + UNPITCHED, "a note without pitch is left out"),
    "slash": (notes("C4 D4 E4") + note("C4", 2, "<notehead>slash</notehead>"),
              "a note under a slash is left out"),
    "slashes": (style('<slash type="start"/>') + BAR + style('<slash type="stop"/>'),
                "a note under a slash is left out"),
    "no length": (BAR + note("A4", 0).replace("<voice>", "<duration>0</duration><voice>"),
                  "a note without length is left out"),
    "graces": (note("A4", 0, before=GRACE) + note("C5", 0, before=GRACE + "<chord/>") + BAR,
               "grace notes sound together: the first is kept"),
    "overlap": (note("C4", 6) + "<backup><duration>4</duration></backup>" + note("E4", 6),
                "notes of one voice overlap: each ends where the next begins"),
    "apart": (note("C4", 8) + note("E4", 4, before="<chord/>"),
              "notes of one voice overlap: each ends where the next begins"),
    "microtone": (notes("C4 D4 E4") + note("F#4", 2).replace("<alter>1<", "<alter>0.5<"),
                  "a quarter tone is rounded to the nearer natural"),
    "meter": (notes("C4 D4") + "<attributes><time><beats>3</beats><beat-type>4</beat-type></time>"
              "</attributes>" + notes("E4 F4"), "a meter that changes inside a bar is left out"),
    "key": (notes("C4 D4") + "<attributes><key><fifths>2</fifths></key></attributes>"
            + notes("E4 F4"), "a key change inside a bar takes effect in the next bar"),
    "words": (words("lively, but not fast") + BAR,
              "the words 'lively, but not fast' are left out"),
    "tempo": (metronome("9000") + BAR, "the tempo quarter 9000 is not understood: left out"),
    "sound": ('<sound tempo="9000"/>' + BAR, "the tempo 9000 is not understood: left out"),
    "two tempi": (metronome("100") + notes("C4 D4") + metronome("90") + notes("E4 F4"),
                  "the tempo quarter 90 beside 100: left out"),
    "late tempo": (notes("C4 D4") + metronome("90") + notes("E4 F4"),
                   "the tempo quarter 90 inside a bar counts from the start of the bar"),
    "marks": (mark("B") + mark("C") + BAR, "the mark C beside B: left out"),
    "choice": (harmony("C").replace("<harmony>", '<harmony type="alternate">') + BAR,
               "an alternate chord is left out"),
    "degree": (harmony("C", "major", degree("add", 23)) + BAR,
               "the degree '23' is not understood: left out"),
    "alter": (harmony("C", "major", degree("add", 9, 5)) + BAR,
              "the degree 9 altered by 5 is not understood: left out"),
    "kind": (harmony("C", "Tristan") + BAR,
             "the chord kind 'Tristan' is not supported: written Cm7b5"),
    "stacked": (harmony("C") + harmony("F") + BAR,
                "chord signs stand at one place: spread evenly"),
}  # fmt: skip
"""The content of a measure, and the remark on it."""


@pytest.mark.parametrize("at", [1, 3, 7])
@pytest.mark.parametrize("loss", LOSSES)
def test_a_loss_is_told_twice(loss: str, at: int) -> None:
    """A loss is reported as a line with its measure and as a comment at its bar of the chart."""
    inside, expected = LOSSES[loss]
    measures = [BAR, *[harmony(name) + BAR for name in "CDEFGAB"]]
    measures[at] = inside
    found = to_chart(read_musicxml(score(*measures)))

    assert f"measure {at + 1}: {expected}" in found.remarks
    text = write_chart(found.chart, found.comments)
    (comment,) = (line for line in text.splitlines() if expected in line)
    assert f"(measure {at + 1}): " in comment
    first = 1 if loss == "marks" else at + 1
    assert comment.startswith(f"# bar {first} ")


def test_notes_behind_the_end_of_a_bar() -> None:
    """Notes beyond the meter are cut with a remark where another part fills the meter."""
    tune = read_musicxml(scores(part(BAR, BAR + note("G4", 2)), part(BAR, BAR)))

    assert [len(bar.notes) for bar in tune.bars] == [4, 4]
    assert "measure 2: notes beyond the end of the bar are cut off" in tune.remarks


def test_what_is_whole_is_told_once() -> None:
    """Other parts and lyrics are reported for the tune as a whole."""
    sung = BAR.replace("<voice>", "<voice>", 1).replace(
        "</note>", "<lyric><text>la</text></lyric></note>"
    )
    found = to_chart(read_musicxml(scores(part(sung, sung), part(BAR, BAR))))

    assert found.remarks == (
        "lyrics are left out", "the melody is the part Part 1: notes of other parts are left out",
    )  # fmt: skip


def test_percussion_beside_the_melody() -> None:
    """The notes of a drum part are reported like those of other parts."""
    drums = part(4 * UNPITCHED, attributes=f"{BASIS}<clef><sign>percussion</sign></clef>")
    expected = "the melody is the part Part {}: notes of other parts are left out"

    assert read_musicxml(scores(part(BAR), drums)).remarks == (expected.format(1),)
    assert read_musicxml(scores(drums, part(BAR))).remarks == (expected.format(2),)
    assert read_musicxml(scores(part(BAR), part(note("-", 8)))).remarks == ()


def test_dynamics_are_told_once() -> None:
    """Dynamics are reported as left out."""
    loud = "<direction><direction-type><dynamics><f/></dynamics></direction-type></direction>"
    swell = '<direction><direction-type><wedge type="stop"/></direction-type></direction>'
    found = to_chart(read_musicxml(score(loud + BAR, loud + BAR, swell + BAR)))

    assert found.remarks == ("dynamics are left out",)


def test_percussion_alone() -> None:
    """Notes of a score with percussion only are reported."""
    drums = part(BAR, attributes=f"{BASIS}<clef><sign>percussion</sign></clef>")
    found = read_musicxml(scores(drums))

    assert "all parts play on percussion: their notes are left out" in found.remarks


def test_chords_of_two_parts() -> None:
    """Chords that differ between two parts are reported; equal ones are not."""
    same = scores(part(harmony("C") + BAR), part(harmony("C") + BAR))
    other = scores(part(harmony("C") + BAR), part(harmony("F") + BAR))

    expected = "measure 1: other chord signs of another part are left out"
    assert expected not in read_musicxml(same).remarks
    assert expected in read_musicxml(other).remarks


def test_a_sign_behind_the_last_note_is_the_next_bar_s() -> None:
    """A chord sign at the end of a measure belongs to the next; after the last it is reported."""
    tune = read_musicxml(score(harmony("C") + BAR + harmony("F"), BAR + harmony("G")))

    assert [[(c.tick, str(c.chord)) for c in bar.chords] for bar in tune.bars] == [
        [(0, "C")], [(0, "F")],
    ]  # fmt: skip
    assert tune.remarks == ("measure 2: a chord sign after the last bar is left out",)

    both = read_musicxml(score(BAR + harmony("F"), harmony("G") + BAR))
    assert [str(c.chord) for c in both.bars[1].chords] == ["G"]
    assert both.remarks == ("measure 2: two chords at one place: G is used",)


@pytest.mark.parametrize(
    "numbers, places",
    [
        (["1", "2", "3"], ["1", "2", "3"]),
        (["0", "1", "2"], ["0", "1", "2"]),
        (["1", "X1", "2"], ["1", "1", "2"]),
        (["1", "2", "1", "2"], ["1", "2", "3", "4"]),
        (["a", "b", "c"], ["1", "2", "3"]),
        (["", "7", ""], ["1", "7", "3"]),
    ],
)
def test_measures_are_told_apart(numbers: list[str], places: list[str]) -> None:
    """A remark names a measure by its number if that is unique."""
    attributes = f"<attributes><divisions>2</divisions>{C_MAJOR}{FOUR}</attributes>"
    data = score(
        *(f'<measure number="{each}">{attributes}{BAR}</measure>' for each in numbers),
        attributes="",
    )
    assert [bar.place for bar in read_musicxml(data).bars] == [f"measure {n}" for n in places]
