"""Read MusicXML; the cases are made by hand after the standard (MusicXML 4.0, W3C)."""

from __future__ import annotations

import re

import pytest
from playing import played
from xml_score import (
    BASIS,
    CLOSE,
    FOUR,
    OPEN,
    ending,
    harmony,
    implicit,
    line,
    mark,
    note,
    notes,
    part,
    score,
    scores,
    sign,
    style,
    words,
)

from backing.errors import ScoreError
from backing.scores.musicxml import read_musicxml
from backing.scores.to_chart import to_chart

A, B, C, D, E = (note(f"{name}4") for name in "ABCDE")


def melody(data: bytes) -> list[list[tuple[int, int, str]]]:
    """Return tick, ticks and pitch of the notes of each bar as written."""
    tune = read_musicxml(data)
    return [[(n.tick, n.ticks, str(n.pitch)) for n in bar.notes] for bar in tune.bars]


def order(*measures: str) -> str:
    """Return the first note of each bar as played."""
    found = played(to_chart(read_musicxml(score(*measures))))
    names = {57: "A", 59: "B", 60: "C", 62: "D", 64: "E", 65: "F", 67: "G", 69: "A", 71: "B"}
    return "".join(names[bar[0][2]] if bar else "." for bar in found)


@pytest.mark.parametrize(
    "measures, expected",
    [
        ((A, B, C), "ABC"),
        ((OPEN + A, B + CLOSE, C), "ABABC"),
        ((A, B + CLOSE, C), "ABABC"),
        ((A + CLOSE, B + CLOSE, C), "AABBC"),
        ((OPEN + A + line('<repeat direction="backward" times="4"/>'), B), "AAAAB"),
        ((OPEN + A, ending("1") + B + ending("1", "stop", '<repeat direction="backward"/>'),
          ending("2") + C + ending("2", "discontinue"), D), "ABACD"),
        ((OPEN + A, ending("1, 2") + B + ending("1, 2", "stop", '<repeat direction="backward"/>'),
          ending("3") + C + ending("3", "stop"), D), "ABABACD"),
        ((OPEN + A, ending("1") + B + ending("1", "stop", '<repeat direction="backward"/>'),
          ending("2") + C, D), "ABACD"),
        ((A, B + words("Fine", 'fine="yes"'), C, D + words("D.C. al Fine", 'dacapo="yes"')),
         "ABCDAB"),
        ((A, B + words("Fine"), C, D + words("D.C. al Fine")), "ABCDAB"),
        ((A, sign("segno") + B, C, D + words("D.S.", 'dalsegno="segno"')), "ABCDBCD"),
        ((A, sign("segno") + B, C + words("Fine"), D + words("D.S. al Fine")), "ABCDBC"),
        ((A, B + words("To Coda", 'tocoda="coda"'), C, D + words("D.C. al Coda", 'dacapo="yes"'),
          sign("coda", 'coda="coda"') + E), "ABCDABE"),
        ((A, B + sign("coda"), C, D + words("D.C. al Coda"), sign("coda") + E), "ABCDABE"),
        ((A, B, '<sound tocoda="coda"/>' + C, D + '<sound dacapo="yes"/>', '<sound coda="c"/>' + E),
         "ABCDABE"),
        ((A, line("<segno/>", "left") + B, C + words("D.S.")), "ABCBC"),
    ],
)  # fmt: skip
def test_the_way(measures: tuple[str, ...], expected: str) -> None:
    """Repeats, endings and jumps are played in the right order."""
    assert order(*measures) == expected


def test_a_repeat_line_inside_a_measure() -> None:
    """A measure with a repeat in its middle is two pieces."""
    middle = line('<repeat direction="backward"/>', "middle")
    tune = read_musicxml(score(A, note("B4", 4) + middle + note("C4", 4), D))

    assert [(bar.ticks, bar.closes) for bar in tune.bars] == [
        (3840, 0), (1920, 2), (1920, 0), (3840, 0),
    ]  # fmt: skip


def test_lengths_and_voices() -> None:
    """`backup` and `forward` move the time; the first voice is the melody, even if it is lower."""
    measure = (
        notes("C4 D4") + "<forward><duration>2</duration></forward>" + note("E4", 2)
        + "<backup><duration>8</duration></backup>" + note("G5", 8, voice="2")
    )  # fmt: skip
    tune = read_musicxml(score(measure))

    assert melody(score(measure)) == [[(0, 960, "C4"), (960, 960, "D4"), (2880, 960, "E4")]]
    assert tune.remarks == (
        "measure 1: the melody is the first voice: notes of other voices are left out",
    )


def test_divisions_that_change() -> None:
    """Divisions apply from their place on, inside a measure too."""
    inside = notes("C4 D4") + "<attributes><divisions>6</divisions></attributes>"
    measure = inside + "".join(note(name, 4) for name in ("E4", "F4", "G4"))

    assert melody(score(measure))[0][2:] == [
        (1920, 640, "E4"),
        (2560, 640, "F4"),
        (3200, 640, "G4"),
    ]


def test_chords_ties_and_grace_notes() -> None:
    """Notes of a chord begin together; tied notes are one, but two over the bar line."""
    start, stop = '<tie type="start"/>', '<tie type="stop"/>'
    first = (
        note("C4", 2, start) + note("C4", 4, stop)
        + note("D4", 0, before='<grace slash="yes"/>')
        + note("E4", 2, start) + note("G4", 2, start, before="<chord/>")
    )  # fmt: skip
    second = note("E4", 8, stop) + note("G4", 8, stop, before="<chord/>")
    tune = read_musicxml(score(first, second))

    assert melody(score(first, second)) == [
        [(0, 2880, "C4"), (2880, 960, "E4"), (2880, 960, "G4")],
        [(0, 3840, "E4"), (0, 3840, "G4")],
    ]
    assert [each.tied for each in tune.bars[0].notes] == [False, True, True]
    assert [list(map(str, each.graces)) for each in tune.bars[0].notes] == [[], ["D4"], []]


def test_what_is_no_melody() -> None:
    """Cue notes, notes without pitch and slashes take time and are left out of the melody."""
    unpitched = (
        "<note><unpitched><display-step>E</display-step><display-octave>4</display-octave>"
        "</unpitched><duration>2</duration></note>"
    )
    slash = note("B4", 2, "<notehead>slash</notehead>")
    measure = note("C4", 2, before="<cue/>") + unpitched + slash + note("D4", 2)

    assert melody(score(measure)) == [[(2880, 960, "D4")]]


def test_percussion_is_no_melody() -> None:
    """Percussion parts are skipped; the first pitched part is the melody."""
    drums = part(A, attributes=f"{BASIS}<clef><sign>percussion</sign></clef>")
    tune = read_musicxml(scores(drums, part(B), part(C)))

    assert str(tune.bars[0].notes[0].pitch) == "B4"
    assert tune.remarks == ("the melody is the part Part 2: notes of other parts are left out",)


@pytest.mark.parametrize("at, back", [(0, True), (1, True), (2, True), (1, False), (2, False)])
def test_a_percussion_clef_on_the_way(at: int, back: bool) -> None:
    """A percussion clef in one bar removes no note: a pitched note counts under any clef.

    MusicXML 4.0 has `unpitched` for "a note that is notated on the staff but lacks definite pitch".
    """
    clef = "<attributes><clef><sign>{}</sign></clef></attributes>"
    measures = [A, B, C, D]
    measures[at] = clef.format("percussion") + measures[at]
    if back:
        measures[at + 1] = clef.format("G") + measures[at + 1]
    data = scores(part(*measures), part(E, E, E, E))

    assert [bar[0][2] for bar in melody(data)] == ["A4", "B4", "C4", "D4"]
    reported = "a note with a pitch under a percussion clef: kept in the melody"
    remarks = read_musicxml(data).remarks
    assert f"measure {at + 1}: {reported}" in remarks
    assert (f"measure {at + 2}: {reported}" in remarks) == (not back)


def test_a_percussion_clef_on_another_staff() -> None:
    """A clef of the second staff does not apply to the first."""
    clef = '<clef number="2"><sign>percussion</sign></clef>'
    tune = read_musicxml(score(A, attributes=f"{BASIS}<staves>2</staves>{clef}"))

    assert (str(tune.bars[0].notes[0].pitch), tune.remarks) == ("A4", ())


def test_chords_from_any_part_and_their_places() -> None:
    """Chords may come from another part or have an offset; a bar without one continues the last."""
    signs = harmony("C") + harmony("G", "dominant", "<offset>4</offset>") + note("-")
    tune = read_musicxml(scores(part(notes("C4 D4 E4 F4"), A), part(signs, note("-"))))

    assert [[(c.tick, str(c.chord)) for c in bar.chords] for bar in tune.bars] == [
        [(0, "C"), (1920, "G7")], [],
    ]  # fmt: skip


def test_chords_between_beats() -> None:
    """A sign between notes and one with an offset keep their ticks, in the chart too."""
    between = harmony("A", "minor") + note("C4", 3) + harmony("D") + note("E4", 5)
    offset = "<offset>{}</offset>"
    moved = (
        harmony("C") + harmony("G", "major", offset.format(3)) + note("C5", 8)
        + harmony("F", "major", offset.format(-1))
    )  # fmt: skip
    over = note("-", 2) + harmony("E", "minor", offset.format(1.5)) + note("-", 6)
    found = to_chart(read_musicxml(score(between, moved, over)))

    assert [
        [(c.tick, c.ticks, str(c.chord)) for c in bar.chords]
        for bar in found.chart.parts[0].written()
    ] == [
        [(0, 1440, "Am"), (1440, 2400, "D")],
        [(0, 1440, "C"), (1440, 1920, "G"), (3360, 480, "F")],
        [(0, 1680, "F"), (1680, 2160, "Em")],
    ]
    assert found.remarks == ()


def test_signs_at_one_place() -> None:
    """Several signs at one place share the note there, with a remark."""
    tune = read_musicxml(score(harmony("C") + harmony("F") + note("A4", 4) + note("B4", 4)))

    assert [(c.tick, str(c.chord)) for c in tune.bars[0].chords] == [(0, "C"), (960, "F")]
    assert tune.remarks == ("measure 1: chord signs stand at one place: spread evenly",)


@pytest.mark.parametrize(
    "transpose, key, pitch, chord",
    [
        ("<diatonic>-1</diatonic><chromatic>-2</chromatic>", "Bb", "Bb3", "Eb"),
        ("<chromatic>-2</chromatic>", "Bb", "Bb3", "Eb"),
        ("<diatonic>5</diatonic><chromatic>9</chromatic>", "A", "A4", "D"),
        ("<diatonic>-5</diatonic><chromatic>-9</chromatic>", "Eb", "Eb3", "Ab"),
        ("<chromatic>0</chromatic><octave-change>-1</octave-change>", "C", "C3", "F"),
    ],
)  # fmt: skip
def test_parts_that_are_transposed(transpose: str, key: str, pitch: str, chord: str) -> None:
    """Transposing parts are read at concert pitch (B flat, A and E flat, the guitar's octave)."""
    data = score(harmony("F") + note("C4"), attributes=f"{BASIS}<transpose>{transpose}</transpose>")
    bar = read_musicxml(data).bars[0]

    assert (str(bar.key), str(bar.notes[0].pitch), str(bar.chords[0].chord)) == (key, pitch, chord)


def test_a_pickup_and_pieces_of_measures() -> None:
    """A short implicit measure is a pickup; two pieces of a measure are joined."""
    data = score(
        implicit(note("G4", 2)), OPEN + A, note("B4", 6) + CLOSE, implicit(note("G4", 2), "X1"), C
    )
    tune = read_musicxml(data)

    assert [bar.ticks for bar in tune.bars] == [960, 3840, 2880, 960, 3840]
    assert to_chart(tune).chart.parts[0].pickup is not None


@pytest.mark.parametrize(
    "key, expected",
    [
        ("<fifths>2</fifths><mode>mixolydian</mode>", "A mixolydian"),
        ("<fifths>-1</fifths><mode>dorian</mode>", "G dorian"),
        ("<fifths>3</fifths><mode>minor</mode>", "F#m"),
        ("<fifths>3</fifths><mode>aeolian</mode>", "F#m"),
        ("<fifths>3</fifths><mode>ionian</mode>", "A"),
        ("<fifths>0</fifths><mode>phrygian</mode>", "E phrygian"),
        ("<fifths>1</fifths><mode>lydian</mode>", "C lydian"),
        ("<fifths>1</fifths><mode>locrian</mode>", "F# locrian"),
        ("<fifths>1</fifths><mode>none</mode>", "G"),
        ("<fifths>1</fifths>", "G"),
        ("<fifths>9</fifths>", "Eb"),
        ("<key-step>F</key-step><key-alter>1</key-alter>", "G"),
    ],
)
def test_keys(key: str, expected: str) -> None:
    """A key is read from signature and mode."""
    data = score(A, attributes=f"<divisions>2</divisions><key>{key}</key>{FOUR}")
    assert str(read_musicxml(data).key) == expected


FIFTHS = "<key><fifths>{}</fifths><mode>major</mode></key>"
SIGNS = "<key><key-step>C</key-step><key-alter>{}</key-alter></key>"


@pytest.mark.parametrize(
    "key, fifths",
    [
        *((FIFTHS, text) for text in ("99999", "-99999", "15", "-15", "9" * 14, "two", "1.5")),
        *((SIGNS, text) for text in ("99999", "-15")),
    ],
)
def test_a_key_that_is_none(key: str, fifths: str) -> None:
    """A signature that is not an integer from -14 to 14 is refused."""
    data = score(A, f"\n<attributes>{key.format(fifths)}</attributes>{B}")

    with pytest.raises(ScoreError, match=r"^x\.xml:2: measure 2: ") as caught:
        read_musicxml(data, "x.xml")
    assert fifths[:5] in str(caught.value)
    assert "write -7 (flats) to 7 (sharps)" in str(caught.value)


@pytest.mark.parametrize("fifths, expected", [(9, "Eb"), (-8, "E"), (14, "D")])
def test_a_key_beyond_seven_signs(fifths: int, expected: str) -> None:
    """A key with double sharps or flats is respelled with fewer, with a remark."""
    key = f"<key><fifths>{fifths}</fifths><mode>major</mode></key>"
    tune = read_musicxml(score(A, f"<attributes>{key}</attributes>{B}"))

    assert str(tune.bars[1].key) == expected
    assert tune.remarks == (
        f"measure 2: a key of {abs(fifths)} {'sharps' if fifths > 0 else 'flats'} "
        f"is written as {expected}",
    )


@pytest.mark.parametrize(
    "signs, expected",
    [("F1C1", ()), ("B-1E-1A-1", ()), ("B-1", ()), ("B-1F1", ("C",)), ("G1", ("G",))],
)
def test_single_signs(signs: str, expected: tuple[str, ...]) -> None:
    """Single signs of a key are that key; others become the nearest one, with a remark."""
    found = re.findall("([A-G])(-?1)", signs)
    key = "".join(f"<key-step>{s}</key-step><key-alter>{a}</key-alter>" for s, a in found)
    data = score(A, attributes=f"<divisions>2</divisions><key>{key}</key>{FOUR}")

    reported = "measure 1: a non-traditional key signature is written as"
    assert read_musicxml(data).remarks == tuple(f"{reported} {each}" for each in expected)


def test_a_key_without_a_mode_is_minor_where_the_tune_ends_so() -> None:
    """Without a mode the last chord decides between major and minor, with a remark."""
    bare = BASIS.replace("<mode>major</mode>", "")
    tune = read_musicxml(score(harmony("A", "minor") + A, attributes=bare))

    assert str(tune.key) == "Am"
    assert tune.remarks == ("no key names its mode: read as minor, because the tune ends on Am",)


@pytest.mark.parametrize(
    "time, expected, quarters",
    [
        ("<beats>6</beats><beat-type>8</beat-type>", "6/8", 3),
        ("<beats>3+2</beats><beat-type>8</beat-type>", "5/8", 2.5),
        ("<beats>2</beats><beat-type>4</beat-type><beats>3</beats><beat-type>8</beat-type>",
         "7/8", 3.5),
        ("<beats>2</beats><beat-type>1</beat-type>", "8/4", 8),
        ("<beats>4</beats><beat-type>32</beat-type>", "1/8", 0.5),
    ],
)  # fmt: skip
def test_meters(time: str, expected: str, quarters: float) -> None:
    """Composite meters are added up; beats are halves to sixteenths."""
    found = read_musicxml(score("", attributes=f"<divisions>2</divisions><time>{time}</time>"))
    assert (str(found.meter), found.bars[0].ticks) == (expected, quarters * 960)


def test_changes_on_the_way() -> None:
    """Key, meter and tempo change at their place."""
    change = (
        "<attributes><key><fifths>1</fifths><mode>major</mode></key>"
        "<time><beats>3</beats><beat-type>4</beat-type></time></attributes>"
        + words("Faster", 'tempo="150"')
    )
    tune = read_musicxml(score(A, change + note("B4", 6)))

    assert [(str(b.key), str(b.meter), str(b.tempo)) for b in tune.bars] == [
        ("C", "4/4", "None"), ("G", "3/4", "150"),
    ]  # fmt: skip


def test_senza_misura() -> None:
    """A measure without meter is as long as its content."""
    free = "<divisions>2</divisions><time><senza-misura/></time>"
    tune = read_musicxml(score(note("C4", 10), note("C4", 6), attributes=free))

    assert [str(bar.meter) for bar in tune.bars] == ["5/4", "3/4"]
    assert "measure 1: no meter: read as 5/4" in tune.remarks


def test_a_free_measure_that_is_cut_keeps_its_marks() -> None:
    """Its tempo is at its first bar, its double bar line at the end of its last."""
    free = "<divisions>24</divisions><time><senza-misura/></time>"
    double = '<barline location="right"><bar-style>light-light</bar-style></barline>'
    mark = "<beat-unit>quarter</beat-unit><per-minute>90</per-minute>"
    tempo = f"<direction><direction-type><metronome>{mark}</metronome></direction-type></direction>"
    long = tempo + note("C4", 96) + note("D4", 103) + double
    tune = read_musicxml(score(long, note("C4", 96), attributes=free))

    assert [bar.double for bar in tune.bars] == [False, False, True, False]
    assert str(tune.tempo) == "90"


@pytest.mark.parametrize(
    "mark_, expected",
    [
        ("<beat-unit>quarter</beat-unit><per-minute>120</per-minute>", "120"),
        ("<beat-unit>half</beat-unit><per-minute>c. 96</per-minute>", "half=96"),
        ("<beat-unit>quarter</beat-unit><beat-unit-dot/><per-minute>110.5</per-minute>",
         "dotted-quarter=110.5"),
        ("<beat-unit>16th</beat-unit><per-minute>400</per-minute>", "100"),
        ("<beat-unit>quarter</beat-unit><beat-unit>half</beat-unit>", "None"),
        ("<beat-unit>quarter</beat-unit><per-minute>9000</per-minute>", "None"),
    ],
)  # fmt: skip
def test_tempi(mark_: str, expected: str) -> None:
    """A metronome mark gives note and number; impossible ones are left out."""
    kind = f"<direction-type><metronome>{mark_}</metronome></direction-type>"
    assert str(read_musicxml(score(f"<direction>{kind}</direction>{A}")).tempo) == expected


def test_a_tempo_that_only_sounds() -> None:
    """The tempo of a `sound` is in quarters a minute and becomes beats a minute."""
    six_eight = "<divisions>2</divisions><time><beats>6</beats><beat-type>8</beat-type></time>"
    tune = read_musicxml(score('<sound tempo="150"/>' + note("C4", 6), attributes=six_eight))
    assert str(tune.tempo) == "dotted-quarter=100"


def test_rehearsal_marks_name_parts() -> None:
    """A rehearsal mark begins a part; inside a repeat it is left out with a remark."""
    tune = read_musicxml(score(mark("A") + A, mark("B") + OPEN + B, mark("C") + C + CLOSE))

    assert [bar.part for bar in tune.bars] == ["A", "B", ""]
    assert tune.remarks == ("measure 3: the mark C is inside a repeat: left out",)


def test_measure_repeats() -> None:
    """A measure under a measure-repeat sign has the notes and chords of the one before."""
    start = style('<measure-repeat type="start">1</measure-repeat>')
    stop = style('<measure-repeat type="stop"/>')
    data = score(
        harmony("D") + notes("C4 D4 E4 F4"), start + note("-"), note("-"), stop + note("-")
    )
    tune = read_musicxml(data)

    assert [len(bar.notes) for bar in tune.bars] == [4, 4, 4, 0]
    assert [len(bar.chords) for bar in tune.bars] == [1, 1, 1, 0]


def test_slashes_are_no_melody() -> None:
    """Notes under slashes are left out, their chords are kept."""
    tune = read_musicxml(
        score(style('<slash type="start"/>') + harmony("D") + notes("B4 B4 B4 B4"))
    )

    assert (tune.bars[0].notes, str(tune.bars[0].chords[0].chord)) == ((), "D")


def test_rests_of_measures() -> None:
    """A whole-measure rest fills its measure, whatever its duration."""
    whole = '<note><rest measure="yes"/><duration>8</duration></note>'
    three = "<divisions>2</divisions><time><beats>3</beats><beat-type>4</beat-type></time>"
    tune = read_musicxml(score(whole, "", attributes=three))

    assert [bar.ticks for bar in tune.bars] == [2880, 2880]


def test_titles_and_who() -> None:
    """Title, composer, groove and notes are read from the standard's elements."""
    before = (
        "<work><work-title>Thimble</work-title></work><identification>"
        '<creator type="lyricist">Nobody</creator><creator type="composer">A. Hand</creator>'
        '<miscellaneous><miscellaneous-field name="rhythm">reel</miscellaneous-field>'
        '<miscellaneous-field name="note">slowly at first</miscellaneous-field></miscellaneous>'
        "</identification>"
    )
    tune = read_musicxml(score(A, before=before))

    assert (tune.title, tune.composer, tune.rhythm, tune.notes) == (
        "Thimble", "A. Hand", "reel", ("slowly at first",),
    )  # fmt: skip


@pytest.mark.parametrize(
    "work, movement, title, kept",
    [
        ("Songs of the Ferry", "The Oar", "The Oar", ("Songs of the Ferry",)),
        ("Songs of the Ferry", "", "Songs of the Ferry", ()),
        ("", "The Oar", "The Oar", ()),
        ("The Oar", "The Oar", "The Oar", ()),
    ],
)
def test_a_song_in_a_collection(work: str, movement: str, title: str, kept: tuple[str]) -> None:
    """The movement's title becomes the title; that of the collection is kept as a note."""
    before = f"<work><work-title>{work}</work-title></work><movement-title>{movement}"
    tune = read_musicxml(score(A, before=f"{before}</movement-title>"))

    assert (tune.title, tune.notes) == (title, kept)


def test_scores_sorted_by_measures() -> None:
    """A timewise score is read like a partwise one."""
    attributes = f"<attributes>{BASIS}</attributes>"
    data = (
        '<score-timewise version="4.0"><part-list><score-part id="P1"><part-name>x</part-name>'
        f'</score-part></part-list><measure number="1"><part id="P1">{attributes}{A}</part>'
        f'</measure><measure number="2"><part id="P1">{B}</part></measure></score-timewise>'
    ).encode()

    assert [bar[0][2] for bar in melody(data)] == ["A4", "B4"]


@pytest.mark.parametrize(
    "measure, found",
    [
        ("<note><pitch><step>C</step><octave>4</octave></pitch></note>", "'' is not a duration"),
        (note("C4", 2).replace("<octave>4", "<octave>99"), "'99' is not an octave"),
        ("<attributes><divisions>0</divisions></attributes>", "0 divisions of a quarter note"),
        ("<attributes><time><beats>4</beats></time></attributes>", "'4' is not a meter"),
        ("<attributes><time><beats>3</beats><beat-type>64</beat-type></time></attributes>",
         "a meter of '3 64' is not played here"),
        ("<forward><duration>999999</duration></forward>", "lasts more than 128 quarter notes"),
        ("<attributes><transpose><chromatic>9999</chromatic></transpose></attributes>",
         "the part is transposed too far"),
    ],
)  # fmt: skip
def test_faults_have_their_line_and_measure(measure: str, found: str) -> None:
    """What cannot be read is refused with its place, and what to do."""
    data = score(A, f"\n{measure}")
    with pytest.raises(ScoreError, match=r"^x\.xml:2: measure 2: ") as caught:
        read_musicxml(data, "x.xml")
    assert found in str(caught.value)
