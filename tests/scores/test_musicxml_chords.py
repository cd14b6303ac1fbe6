"""Chord signs of MusicXML: every kind, degrees, inversions, basses, numerals."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from xml_score import BASIS, bass, degree, harmony, note, notes, score, words

from backing.errors import ScoreError
from backing.harmony.chord import read_chord
from backing.harmony.pitch import NoteName
from backing.harmony.quality import table
from backing.scores.musicxml import read_musicxml
from backing.scores.musicxml.kinds import changed, kind_of, named, nearest, read_kind
from backing.scores.to_chart import to_chart

KINDS = {
    "major": "C E G", "minor": "C Eb G", "augmented": "C E G#", "diminished": "C Eb Gb",
    "dominant": "C E G Bb", "major-seventh": "C E G B", "minor-seventh": "C Eb G Bb",
    "diminished-seventh": "C Eb Gb Bbb", "augmented-seventh": "C E G# Bb",
    "half-diminished": "C Eb Gb Bb", "major-minor": "C Eb G B", "major-sixth": "C E G A",
    "minor-sixth": "C Eb G A", "dominant-ninth": "C E G Bb D", "major-ninth": "C E G B D",
    "minor-ninth": "C Eb G Bb D", "dominant-11th": "C E G Bb D F", "major-11th": "C E G B D F",
    "minor-11th": "C Eb G Bb D F", "dominant-13th": "C E G Bb D F A",
    "major-13th": "C E G B D F A", "minor-13th": "C Eb G Bb D F A", "suspended-second": "C D G",
    "suspended-fourth": "C F G", "power": "C G",
}  # fmt: skip
"""Kinds and their notes over C, as the definitions of `kind-value` in MusicXML 4.0 have them."""

NEAR = {
    "Neapolitan": "Db/F", "Italian": "Ab7", "French": "Ab7b5", "German": "Ab7", "pedal": "C5",
    "Tristan": "Cm7b5",
}  # fmt: skip
"""Kinds that our table lacks, and what is taken over C, which is reported."""


def chord_of(sign: str, attributes: str = BASIS) -> tuple[str, tuple[str, ...]]:
    """Return the one chord of a measure and the remarks."""
    tune = read_musicxml(score(sign + note("C5"), attributes=attributes))
    (found,) = tune.bars[0].chords
    return str(found.chord) if found.chord else "N.C.", tune.remarks


@pytest.mark.parametrize("kind", KINDS)
def test_kinds(kind: str) -> None:
    """A kind has the notes of its definition."""
    symbol, remarks = chord_of(harmony("C", kind))

    assert [str(name) for name in read_chord(symbol).notes] == KINDS[kind].split()
    assert remarks == ()


@pytest.mark.parametrize("kind", NEAR)
def test_kinds_that_become_the_nearest(kind: str) -> None:
    """What we have no chord for becomes the nearest, and is reported."""
    symbol, (remark,) = chord_of(harmony("C", kind))

    assert symbol == NEAR[kind]
    assert remark == f"measure 1: the chord kind '{kind}' is not supported: written {symbol}"


def test_every_kind_of_the_standard_is_known() -> None:
    """All 33 values of `kind-value` in MusicXML 4.0: these, other and none."""
    assert len({*KINDS, *NEAR, "other", "none"}) == 33
    assert all(read_kind(kind) for kind in (*KINDS, *NEAR))


@pytest.mark.parametrize(
    "sign, symbol",
    [
        (harmony("C", "none", text="N.C."), "N.C."),
        (harmony("F#", "minor"), "F#m"),
        (harmony("Bb", "dominant", bass("Ab")), "Bb7/Ab"),
        (harmony("C", "dominant", degree("add", 9, -1)), "C7b9"),
        (harmony("C", "dominant", degree("add", 11, 1)), "C7#11"),
        (harmony("C", "dominant", degree("alter", 5, -1)), "C7b5"),
        (harmony("C", "minor-seventh", degree("alter", 5, -1)), "Cm7b5"),
        (harmony("C", "dominant-ninth", degree("alter", 9, 1)), "C7#9"),
        (harmony("C", "dominant", degree("alter", 9, -1)), "C7b9"),
        (harmony("C", "major", degree("add", 7)), "C7"),
        (harmony("C", "major", degree("add", 7, 1)), "Cmaj7"),
        (harmony("C", "major", degree("add", 2)), "Cadd9"),
        (harmony("C", "major", degree("add", 9)), "Cadd9"),
        (harmony("C", "major", degree("subtract", 3)), "C5"),
        (harmony("C", "major", degree("subtract", 3) + degree("add", 9)), "C5add9"),
        (harmony("C", "major-sixth", degree("add", 9)), "C69"),
        (harmony("C", "dominant", degree("subtract", 3) + degree("add", 4)), "C7sus4"),
        (harmony("C", "suspended-fourth", degree("add", 7)), "C7sus4"),
        (harmony("C", "other", degree("add", 4) + degree("add", 5)), "Csus4"),
        (harmony("C", "major", "<inversion>1</inversion>"), "C/E"),
        (harmony("C", "minor", "<inversion>1</inversion>"), "Cm/Eb"),
        (harmony("C", "dominant", "<inversion>3</inversion>"), "C7/Bb"),
        (harmony("C", "major", "<inversion>2</inversion>" + bass("E")), "C/E"),
        (harmony("C", "major", bass("C")), "C"),
        ("<harmony><function>V</function><kind>dominant</kind></harmony>", "G7"),
        ("<harmony><function>bVII</function><kind>major</kind></harmony>", "Bb"),
        (
            "<harmony><numeral><numeral-root>2</numeral-root></numeral>"
            "<kind>minor-seventh</kind></harmony>",
            "Dm7",
        ),
        (
            "<harmony><numeral><numeral-root>5</numeral-root><numeral-key><numeral-fifths>2"
            "</numeral-fifths><numeral-mode>major</numeral-mode></numeral-key></numeral>"
            "<kind>dominant</kind></harmony>",
            "A7",
        ),
        ("<harmony><root><root-step>C</root-step></root></harmony>", "C"),
    ],
)  # fmt: skip
def test_signs(sign: str, symbol: str) -> None:
    """Degrees count as the standard says; roots are notes, numerals or functions."""
    assert chord_of(sign) == (symbol, ())


@pytest.mark.parametrize(
    "sign, symbol, remark",
    [
        (harmony("C", "major", degree("subtract", 5)), "C",
         "no known chord is 1 3: read as a major chord"),
        (harmony("C", "dominant", degree("subtract", 5)), "C7",
         "no known chord is 1 3 b7: read as 7"),
        (harmony("C", "major", degree("subtract", 3) + degree("add", 9) + degree("add", 11)),
         "Cadd9sus4", "1 5 9 11 is written as add9sus4"),
        (harmony("C", "dominant-ninth", degree("subtract", 3)), "C7sus2",
         "1 5 b7 9 is written as 7sus2"),
        (harmony("C", "dominant-11th", degree("subtract", 3)), "C9sus4",
         "1 5 b7 9 11 is written as 9sus4"),
        (harmony("C", "minor-seventh", degree("subtract", 3)), "C7",
         "no known chord is 1 5 b7: read as 7"),
        (harmony("C", "dominant", degree("add", 5, 1), "7#5"), "Caug7",
         "no known chord is 1 3 5 #5 b7: read as aug7"),
        (harmony("C", "other", text="7alt"), "C7alt",
         "the chord kind 'other' is not known: read as 7alt"),
        (harmony("C", "other"), "C", "the chord kind 'other' is not known: read as a major chord"),
        (harmony("C", "shiny"), "C", "the chord kind 'shiny' is not known: read as a major chord"),
        (harmony("C", "m7"), "Cm7", "the chord kind 'm7' is not known: read as m7"),
        (harmony("C", "major", "<inversion>3</inversion>"), "C",
         "this chord has no inversion 3: read without one"),
        (
            "<harmony><function>V</function><kind>dominant</kind>"
            "<function>II</function><kind>minor</kind></harmony>",
            "G7", "chords are stacked: the first is used",
        ),
    ],
)  # fmt: skip
def test_what_is_told(sign: str, symbol: str, remark: str) -> None:
    """Nothing that is not read to the letter goes by in silence."""
    assert chord_of(sign) == (symbol, (f"measure 1: {remark}",))


@given(
    st.sampled_from(sorted(KINDS)),
    st.lists(
        st.tuples(
            st.sampled_from(["add", "alter", "subtract"]),
            st.sampled_from([2, 3, 4, 5, 6, 7, 9, 11, 13]),
            st.integers(-1, 1),
        ),
        max_size=4,
        unique_by=lambda change: change[1],
    ),
)
def test_what_a_chord_is_said_to_be(kind: str, changes: list[tuple[str, int, int]]) -> None:
    """A chord that is not reported of has the very notes; without a third it is not given seconds.

    The notes are worked out here from the definitions of `kind-value` and `degree` alone.
    """
    symbol, remarks = chord_of(harmony("C", kind, "".join(degree(*each) for each in changes)))
    scale = {2: 2, 3: 4, 4: 5, 5: 7, 6: 9, 7: 10, 9: 2, 11: 5, 13: 9}
    names = zip((1, 3, 5, 7, 9, 11, 13), KINDS[kind].split(), strict=False)
    if kind in ("major-sixth", "minor-sixth"):
        names = zip((1, 3, 5, 6), KINDS[kind].split(), strict=True)
    if kind.startswith("suspended"):
        names = zip((1, 2 if "second" in kind else 4, 5), KINDS[kind].split(), strict=True)
    if kind == "power":
        names = zip((1, 5), KINDS[kind].split(), strict=True)
    notes = {number: {NoteName.parse(name).pitch_class} for number, name in names}
    for action, number, alter in changes:
        there = notes.get(number)
        if action == "subtract":
            notes.pop(number, None)
        elif action == "alter" and there:
            notes[number] = {(min(there) + alter) % 12}
        else:
            notes.setdefault(number, set()).add((scale[number] + alter) % 12)
    if not remarks:
        sounding = {each for found in notes.values() for each in found}
        assert read_chord(symbol).pitch_classes == sounding
        assert ("sus2" in symbol) <= (2 in notes)
        assert ("sus4" in symbol) <= (4 in notes)


def test_numerals_follow_the_key() -> None:
    """The third of a minor key is its own, and a part that is transposed counts from its key."""
    sign = "<harmony><numeral><numeral-root>3</numeral-root></numeral><kind>major</kind></harmony>"
    minor = BASIS.replace("<fifths>0</fifths><mode>major", "<fifths>0</fifths><mode>minor")
    b_flat = f"{BASIS}<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose>"

    assert chord_of(sign, minor)[0] == "C"
    assert chord_of(sign, b_flat)[0] == "D"


@pytest.mark.parametrize(
    "sign, found",
    [
        ("<harmony><kind>major</kind></harmony>", "this chord sign has no root"),
        (harmony("H"), "'H' is not a step"),
        ("<harmony><function>X</function><kind>major</kind></harmony>", "the function 'X'"),
        (
            "<harmony><numeral><numeral-root>9</numeral-root></numeral></harmony>",
            "'9' is not a numeral",
        ),
    ],
)
def test_faults(sign: str, found: str) -> None:
    """A root that is none is refused with its line and measure."""
    with pytest.raises(ScoreError, match=r"^tune\.musicxml:1: measure 1: ") as caught:
        chord_of(sign)
    assert found in str(caught.value)


@given(st.sampled_from(sorted(table().values(), key=lambda each: each.name)))
def test_every_quality_can_be_said(quality) -> None:
    """The kind and the degrees that we write are the quality again."""
    kind, changes = kind_of(quality)
    meant = read_kind(kind)

    assert meant is not None
    assert named(changed(meant.quality, list(changes))) == quality


def test_the_nearest_of_a_quality_is_itself() -> None:
    """The search for the nearest finds what is there."""
    for quality in list(table().values())[::40]:
        assert nearest(frozenset(quality.degrees)) == quality


@pytest.mark.parametrize(
    "inside, signs, reported",
    [
        (harmony("C") + notes("C4 D4") + words("N.C.") + notes("E4 F4"),
         [(0, "C"), (1920, "None")], ()),
        (words("(n.c.)") + harmony("C", "none") + notes("C4 D4") + harmony("F") + notes("E4 F4"),
         [(0, "None"), (1920, "F")], ()),
        (words("N.C.") + harmony("C") + notes("C4 D4 E4 F4"), [(0, "C")],
         ("measure 1: the words 'N.C.' beside a chord are left out",)),
        (harmony("C") + notes("C4 D4 E4") + words("N.C. al fine") + notes("F4"), [(0, "C")],
         ("measure 1: the words 'N.C. al fine' are left out",)),
    ],
)  # fmt: skip
def test_no_chord_in_words(inside: str, signs: list[tuple[int, str]], reported: tuple[str]) -> None:
    """The words N.C. over the staff end the chord before."""
    tune = read_musicxml(score(inside))
    assert [(each.tick, str(each.chord)) for each in tune.bars[0].chords] == signs
    assert tune.remarks == reported


def test_no_chord_is_said_once_in_a_bar() -> None:
    """N.C. before the first chord changes nothing."""
    inside = notes("- -") + words("N.C.") + notes("E4 F4")
    chart = to_chart(read_musicxml(score(inside, harmony("C") + notes("C4 D4 E4 F4")))).chart
    assert [len(bar.chords) for bar in chart.parts[0].written()] == [1, 1]
