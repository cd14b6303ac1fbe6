"""Chord qualities compared with published tables and with two other readers."""

from __future__ import annotations

from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from mir_eval import chord as mir_chord
from music21 import harmony as music21_harmony

from backing.errors import SymbolError
from backing.harmony.pitch import Degree
from backing.harmony.quality import (
    _SPELLINGS,
    Quality,
    _with_alterations,
    read_quality,
    table,
)
from backing.harmony.quality_table import BASES

# MusicXML 4.0 (W3C Community Group), the values of `kind`: the words are the schema's, the
# semitones are worked out from them. The spellings: common practice, no source.
MUSICXML_KINDS = [
    ("major", "", "0 4 7"),
    ("minor", "m", "0 3 7"),
    ("augmented", "+", "0 4 8"),
    ("diminished", "°", "0 3 6"),
    ("dominant", "7", "0 4 7 10"),
    ("major-seventh", "maj7", "0 4 7 11"),
    ("minor-seventh", "m7", "0 3 7 10"),
    ("diminished-seventh", "°7", "0 3 6 9"),
    ("augmented-seventh", "+7", "0 4 8 10"),
    ("half-diminished", "ø7", "0 3 6 10"),
    ("major-minor", "m(maj7)", "0 3 7 11"),
    ("major-sixth", "6", "0 4 7 9"),
    ("minor-sixth", "m6", "0 3 7 9"),
    ("dominant-ninth", "9", "0 4 7 10 14"),
    ("major-ninth", "maj9", "0 4 7 11 14"),
    ("minor-ninth", "m9", "0 3 7 10 14"),
    ("dominant-11th", "11", "0 4 7 10 14 17"),
    ("major-11th", "maj11", "0 4 7 11 14 17"),
    ("minor-11th", "m11", "0 3 7 10 14 17"),
    ("dominant-13th", "13", "0 4 7 10 14 17 21"),
    ("major-13th", "maj13", "0 4 7 11 14 17 21"),
    ("minor-13th", "m13", "0 3 7 10 14 17 21"),
    ("suspended-second", "sus2", "0 2 7"),
    ("suspended-fourth", "sus4", "0 5 7"),
    ("power", "5", "0 7"),
]

# Harte, Sandler, Abdallah & Gomez, "Symbolic representation of musical chords", ISMIR 2005: the
# shorthands and their degrees. In the second column, how a player writes them (common practice).
HARTE_SHORTHANDS = [
    ("maj", "maj", "1 3 5"),
    ("min", "min", "1 b3 5"),
    ("dim", "dim", "1 b3 b5"),
    ("aug", "aug", "1 3 #5"),
    ("maj7", "maj7", "1 3 5 7"),
    ("min7", "min7", "1 b3 5 b7"),
    ("7", "7", "1 3 5 b7"),
    ("dim7", "dim7", "1 b3 b5 bb7"),
    ("hdim7", "hdim7", "1 b3 b5 b7"),
    ("minmaj7", "minmaj7", "1 b3 5 7"),
    ("maj6", "maj6", "1 3 5 6"),
    ("min6", "min6", "1 b3 5 6"),
    ("9", "9", "1 3 5 b7 9"),
    ("maj9", "maj9", "1 3 5 7 9"),
    ("min9", "min9", "1 b3 5 b7 9"),
    ("sus4", "sus4", "1 4 5"),
]

# Shorthands that mir_eval codes beside those of the paper.
MIR_EVAL_SHORTHANDS = [
    *((shorthand, ours) for shorthand, ours, _ in HARTE_SHORTHANDS),
    ("sus2", "sus2"),
    ("5", "5"),
    ("11", "11"),
    ("min11", "m11"),
    ("13", "13"),
    ("maj13", "maj13"),
    ("min13", "m13"),
]

# Canonical names that music21 10.5.1 does not know, and the same chord as it can be told.
MUSIC21_SPELLINGS = {
    "69": "6add9",
    "m69": "m6add9",
    "mmaj7": "mM7",
    "mmaj9": "mM9",
    "maj9": "M9",
    "maj11": "M11",
    "maj13": "M13",
    "dimmaj7": "dimadd7",
    "sus2sus4": "sus2add4",
    "6sus4": "sus4add6",
    "7sus2": "sus2addb7",
    "maj7sus4": "sus4add7",
    "9sus4": "7sus4add9",
    "13sus4": "7sus4add9add13",
    "7alt": "7#5b9#9",
}

# Chords with alterations, which music21 reads as well.
ALTERED = ["7b5", "7b9", "7#9", "7#11", "7b13", "7add13", "7b5b9", "7b9#9", "7b9#11", "7b9b13"]
ALTERED += ["7#9b13", "9b5", "9#11", "6#11", "maj7b5", "maj7#11", "m7b9", "m7add11"]

TWELVE_ROOTS = ["C", "C#", "D", "E-", "E", "F", "F#", "G", "A-", "A", "B-", "B"]
"""As music21 writes them, in the order of pitch classes."""

ALTERATIONS = ["b5", "#5", "b9", "#9", "#11", "b13", "add9", "add11", "add13", "sus4", "sus2"]
ALTERATIONS += ["(b9)", "(9)", "(b9,13)"]

# A base, and alterations of its fifth and its ninths that belong together.
SETS_OF_ALTERATIONS = [
    ("7", ("b5", "b9")),
    ("7", ("#5", "#9")),
    ("7", ("b5", "#5", "b9", "#9")),
    ("7", ("b9", "#9", "#11", "b13")),
    ("7", ("b9", "add13", "#11")),
    ("7", ("b9", "sus4")),
    ("13", ("b9", "sus4")),
    ("9", ("#11", "b13")),
    ("maj7", ("b5", "#9")),
    ("m7", ("b5", "b9")),
    ("6", ("add9", "#11")),
]

CANONICAL = sorted({quality.name for quality in table().values()})


def attempt(text: str) -> Quality | SymbolError:
    """Read a quality, or return the error."""
    try:
        return read_quality(text)
    except SymbolError as error:
        return error


def degrees_of(text: str) -> str:
    """Return the degrees of a quality as text."""
    return " ".join(str(degree) for degree in read_quality(text).degrees)


def pitch_classes(text: str) -> set[int]:
    """Return the pitch classes of a quality above the root."""
    return {degree.semitones % 12 for degree in read_quality(text).degrees}


@pytest.mark.parametrize("kind, spelling, semitones", MUSICXML_KINDS)
def test_musicxml_kinds(kind: str, spelling: str, semitones: str) -> None:
    """Each kind of MusicXML 4.0 has the semitones that its description gives."""
    expected = [int(each) for each in semitones.split()]
    assert expected == [degree.semitones for degree in read_quality(spelling).degrees], kind


@pytest.mark.parametrize("shorthand, spelling, degrees", HARTE_SHORTHANDS)
def test_harte_shorthands(shorthand: str, spelling: str, degrees: str) -> None:
    """Each shorthand of Harte et al. 2005 has the degrees of their table."""
    assert degrees == degrees_of(spelling), shorthand


@pytest.mark.parametrize("shorthand, spelling", MIR_EVAL_SHORTHANDS)
def test_pitch_classes_equal_mir_eval(shorthand: str, spelling: str) -> None:
    """A quality has the pitch classes of mir_eval's shorthand."""
    _, bitmap, _ = mir_chord.encode(f"C:{shorthand}", reduce_extended_chords=True)
    assert set(bitmap.nonzero()[0]) == pitch_classes(spelling)


@pytest.mark.parametrize("name", CANONICAL)
def test_semitones_of_degrees_equal_mir_eval(name: str) -> None:
    """The degrees of every quality give mir_eval's pitch classes."""
    label = f"C:({','.join(degrees_of(name).split())})"
    _, bitmap, _ = mir_chord.encode(label, reduce_extended_chords=True)
    assert set(bitmap.nonzero()[0]) == pitch_classes(name)


@pytest.mark.parametrize("name", [*CANONICAL, *ALTERED])
def test_pitch_classes_equal_music21(name: str) -> None:
    """music21 has the same pitch classes above each of twelve roots."""
    figure = MUSIC21_SPELLINGS.get(name, name)
    for index, root in enumerate(TWELVE_ROOTS):
        try:
            symbol = music21_harmony.ChordSymbol(root + figure)
        except ValueError:
            pytest.fail(f"music21 cannot read '{figure}': say it otherwise in MUSIC21_SPELLINGS")
        heard = {pitch.pitchClass for pitch in symbol.pitches}
        assert {(index + step) % 12 for step in pitch_classes(name)} == heard, root


@pytest.mark.parametrize("name", MUSIC21_SPELLINGS)
def test_music21_needs_another_spelling(name: str) -> None:
    """music21 reads another spelling, because it refuses or misreads our name."""
    try:
        heard = {pitch.pitchClass for pitch in music21_harmony.ChordSymbol(f"C{name}").pitches}
    except ValueError:
        heard = set()
    assert heard != pitch_classes(name)


@pytest.mark.parametrize("name, lost", [("13b9", "b9"), ("13#11", "#11")])
def test_music21_drops_alterations_of_thirteenths(name: str, lost: str) -> None:
    """music21 ignores the alteration of a thirteenth, so these two are not compared with it."""
    heard = {pitch.pitchClass for pitch in music21_harmony.ChordSymbol(f"C{name}").pitches}
    assert heard == pitch_classes("13")
    assert Degree.parse(lost).semitones % 12 in pitch_classes(name) - heard


def test_every_spelling_reads_prints_and_reads_again() -> None:
    """Each spelling in the table reads as its row, and so does the name that it prints."""
    for spelling, quality in table().items():
        assert quality == read_quality(spelling), spelling
        assert quality == read_quality(quality.name), spelling


def test_no_spelling_belongs_to_two_rows() -> None:
    """No spelling is in two rows."""
    owners: dict[str, set[frozenset[Degree]]] = {}
    for base in BASES:
        for spelling in base.spellings:
            owners.setdefault(spelling, set()).add(base.degrees)
    assert {spelling: rows for spelling, rows in owners.items() if len(rows) > 1} == {}


# Common practice, no source: each line is how players write the chord at its head.
SPELLINGS = [
    ("1 3 5", "M maj Maj MAJ ma major"),
    ("1 b3 5", "m min Min MIN mi MI - − minor"),
    ("1 3 5 7", "maj7 Maj7 MAJ7 ma7 MA7 M7 Δ Δ7 ∆ ∆7 △7 ^7 7M major7"),
    ("1 b3 5 b7", "m7 min7 Min7 MI7 mi7 -7 −7 minor7"),
    ("1 b3 5 7", "mM7 mMaj7 m(maj7) m(Maj7) -(maj7) m/maj7 m/M7 mΔ -Δ7 -^7 minmaj7 m7M"),
    ("1 b3 b5 b7", "m7b5 m7(b5) -7b5 m7-5 mi7b5 MI7(b5) ø ø7 Ø7 ∅7 h7 hdim7 min7♭5"),
    ("1 b3 b5 bb7", "dim7 °7 o7 º7"),
    ("1 b3 b5", "dim ° o º mb5 m(b5) -b5"),
    ("1 b3 b5 7", "dimmaj7 dim(maj7) °maj7 dimM7 mmaj7b5 °Δ7"),
    ("1 3 #5", "+ aug (#5) +5 #5"),
    ("1 3 #5 b7", "+7 aug7 7+ 7#5 7+5 7(#5) 7aug"),
    ("1 3 #5 7", "+maj7 augmaj7 maj7#5 maj7+5 M7#5 Δ#5 +M7 aug(maj7)"),
    ("1 3 b5", "(b5) -5"),
    ("1 3 5 6", "6 maj6 M6 add6"),
    ("1 3 5 6 9", "69 6/9 6add9 6(9) 6(add9) maj6/9 M69"),
    ("1 b3 5 6 9", "m69 m6/9 m6add9 m6(9) -69 min6/9 -6/9"),
    ("1 b3 5 b6", "mb6 m(b6) -b6 minb6"),
    ("1 3 5 9", "add9 (add9) add2 2 (9)"),
    ("1 b3 5 9", "madd9 m(add9) -add9 minadd9 madd2 m(9)"),
    ("1 4 5 9", "sus4add9 susadd9 sus4(add9) sus(9)"),
    ("1 5", "5 (no3) no3 omit3"),
    ("1 5 9", "5add9 5(add9)"),
    ("1 4 5 b7", "7sus4 7sus 7(sus4) sus7 7(sus)"),
    ("1 4 5 b7 9", "9sus4 9sus 11sus sus9 7sus4(9) 11(sus4)"),
    ("1 4 5 b7 9 13", "13sus4 13sus 13(sus4) sus13 9sus4(13)"),
    ("1 4 5 b7 b9", "7sus4b9 7susb9 7b9sus4 7b9sus 7sus4(b9)"),
    ("1 3 5 b7 9", "9 7(9) 7add9 dom9"),
    ("1 b3 5 b7 9", "m9 m7(9) m7add9 -9 MI9"),
    ("1 b3 5 b7 11", "m7(11) m7add11 m7add4 -7(11)"),
    ("1 b3 5 b7 9 11", "m11 min11 -11 MI11"),
    ("1 3 5 7 9", "maj9 Maj9 maj7(9) M9 Δ9 ^9 maj7add9"),
    ("1 3 5 7 #11", "maj7#11 maj7(#11) Δ#11 maj7#4 M7+11"),
    ("1 3 5 b7 #11", "7#11 7(#11) 7+11 7#4 7♯11"),
    ("1 3 5 #11", "(#11) add#11 (add#11) (#4)"),
    ("1 3 5 b7 13", "7(13) 7add13 7(add13)"),
    ("1 3 5 b7 b9 13", "7(b9,13) 7(b9/13) 7b9(13) 7b9add13 7(13,b9)"),
    ("1 3 5 b7 b9", "7b9 7(b9) 7-9 7♭9 7(-9)"),
    ("1 3 5 b7 #9", "7#9 7(#9) 7+9 7♯9 9#9"),
    ("1 3 5 b7 9 #11 13", "13#11 13(#11) 13+11"),
    ("1 3 #5 b7 b9 #9", "7alt alt 7(alt) 7#5b9#9"),
    ("1 b3 b5 b7 9", "ø9 m9b5 m9(b5) -9b5 m7b5(9)"),
    ("1 b3 b5 b7 11", "m7b5(11) ø7(11) ø(11) m7b5add11"),
    ("1 b3 5 7 9", "mmaj9 mM9 m(maj9) m9(maj7) -Δ9"),
]


@pytest.mark.parametrize("degrees, spellings", SPELLINGS)
def test_usual_spellings(degrees: str, spellings: str) -> None:
    """Every spelling in a line reads as the chord at its start."""
    read = {spelling: degrees_of(spelling) for spelling in spellings.split()}
    assert dict.fromkeys(spellings.split(), degrees) == read


@pytest.mark.parametrize("base, alterations", SETS_OF_ALTERATIONS)
def test_alterations_in_any_order(base: str, alterations: tuple[str, ...]) -> None:
    """Alterations give one chord in any order, with or without brackets, commas and slashes."""
    qualities = {
        read_quality(base + form)
        for order in permutations(alterations)
        for form in (
            "".join(order),
            f"({''.join(order)})",
            f"({','.join(order)})",
            f"({'/'.join(order)})",
            "".join(f"({each})" for each in order),
            f"{order[0]}({','.join(order[1:])})",
        )
    }
    assert {read_quality(base + "".join(alterations))} == qualities
    assert (
        Degree.parse(alterations[0].removeprefix("add").removeprefix("sus"))
        in qualities.pop().degrees
    )


@given(
    base=st.sampled_from(sorted(table())),
    rest=st.lists(st.sampled_from(ALTERATIONS), max_size=4).map("".join),
)
def test_whatever_reads_prints_a_name_that_reads(base: str, rest: str) -> None:
    """A base with any alterations prints a name that reads equal, or is refused inside its text."""
    text = base + rest
    quality = attempt(text)
    if isinstance(quality, SymbolError):
        assert 0 <= quality.column <= len(text)
    else:
        assert quality == read_quality(quality.name)
        numbers = [degree.number for degree in quality.degrees]
        assert sorted(numbers) == numbers
        assert numbers[0] == 1


@given(
    base=st.sampled_from(sorted(table())),
    rest=st.lists(st.sampled_from(ALTERATIONS), max_size=3).map("".join),
)
def test_there_is_one_way_to_read_a_text(base: str, rest: str) -> None:
    """A text reads as the same quality wherever its base ends."""
    text = base + rest
    readings = set()
    for beginning, degrees in _SPELLINGS.items():
        if text.startswith(beginning):
            reading, used = _with_alterations(degrees, text, len(beginning))
            if used == len(text):
                readings.add(reading)
    assert len(readings) <= 1


@given(text=st.text(alphabet="mMajindsu-+°øΔ0123456789b#♭♯(),/ 7", max_size=10))
def test_noise_is_read_whole_or_refused(text: str) -> None:
    """Any text is a quality whose name reads equal, or is refused with an offset inside it."""
    quality = attempt(text)
    if isinstance(quality, SymbolError):
        assert 0 <= quality.column <= len(text)
        assert quality.found == f"'{text}' is not a chord quality"
    else:
        assert quality == read_quality(quality.name)


@pytest.mark.parametrize(
    "text",
    [
        "77",  # two sevenths
        "m7m",
        "7b9b9",
        "7b10",
        "7()",
        "7(b9",
        "7b9)",
        "7(b9,)",
        "7(,b9)",
        "7((b9))",
        "7b9,#11",  # a comma outside brackets
        "7,9",
        "b9",  # a ninth is lowered over a seventh only
        "msus4",  # there is no major third to suspend
        "sus2add9",  # a ninth is the second again
        "sus4add11",
        "9add9",
        "5b9",
        "6b9",
        "7 b9",
        " 7",
        "7 ",
        "7\n",
        "M 7",
    ],
)
def test_refusals(text: str) -> None:
    """A text that only begins with a quality is refused."""
    with pytest.raises(SymbolError, match="is not a chord quality: expected a quality such as"):
        read_quality(text)


@pytest.mark.parametrize(
    "text, number, expected",
    [("7b9#9", 9, "b9"), ("9", 9, "9"), ("m7b5", 5, "b5"), ("dim7", 7, "bb7"), ("sus4", 3, "None")],
)
def test_degree_by_number(text: str, number: int, expected: str) -> None:
    """A degree is found by its number, the lower of two, or is None."""
    assert expected == str(read_quality(text).degree(number))


@pytest.mark.parametrize(
    "text, expected",
    [
        ("m", True),
        ("dim7", True),
        ("m7b5", True),
        ("", False),
        ("sus4", False),
        ("5", False),
        ("7#9", False),
    ],
)
def test_minor_is_a_minor_third(text: str, expected: bool) -> None:
    """A chord is minor by its third; sus, power and sharp-nine chords are not."""
    assert expected is read_quality(text).is_minor
