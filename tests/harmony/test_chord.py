"""Chord symbols: roots, basses, transposition and faults."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from mir_eval import chord as mir_chord

from backing.errors import SymbolError
from backing.harmony.chord import Chord, read_chord
from backing.harmony.pitch import NoteName
from backing.harmony.quality import read_quality, table

NAMES = sorted({quality.name for quality in table().values()})
NAMES += ["(b5)", "(#11)", "7b9#9", "7b9add13", "13b9", "maj7#11", "sus4add9", "aug7b9"]
NAMES += ["m7b9", "m#5", "m7#5", "m7add11", "m11b13", "m7b5b9", "dim7b9", "dim7b13"]
ROOTS = [letter + sign for letter in "CDEFGAB" for sign in ("bb", "b", "", "#", "##")]


def attempt(text: str) -> Chord | SymbolError:
    """Read a chord, or return the error."""
    try:
        return read_chord(text)
    except SymbolError as error:
        return error


@st.composite
def chords(draw: st.DrawFn) -> Chord:
    """Draw chords whose root and bass have at most two accidentals."""
    root = NoteName.parse(draw(st.sampled_from(ROOTS)))
    quality = read_quality(draw(st.sampled_from(NAMES)))
    bass = draw(st.none() | st.sampled_from(ROOTS).map(NoteName.parse))
    return Chord(root, quality, None if bass == root else bass)


@pytest.mark.parametrize("root", ROOTS)
@pytest.mark.parametrize("sign", ["b", "♭"])
def test_roots_equal_mir_eval(root: str, sign: str) -> None:
    """Every root has the pitch class that mir_eval gives it."""
    written = root if sign == "b" else root.replace("b", "♭").replace("#", "♯")
    chord = read_chord(written)
    assert mir_chord.pitch_class_to_semitone(root) == chord.root.pitch_class
    assert root == str(chord)


# Names of chord notes: common practice, no source (each third skips a letter).
@pytest.mark.parametrize(
    "symbol, notes",
    [
        ("C", "C E G"),
        ("F#m7", "F# A C# E"),
        ("Bb7", "Bb D F Ab"),
        ("Ebm7b5", "Eb Gb Bbb Db"),
        ("C°7", "C Eb Gb Bbb"),
        ("G#maj7", "G# B# D# F##"),
        ("Dbm", "Db Fb Ab"),
        ("C7#9", "C E G Bb D#"),
        ("Abmaj9#11", "Ab C Eb G Bb D"),
        ("E7alt", "E G# B# D F F##"),
    ],
)
def test_notes_are_spelled_by_thirds(symbol: str, notes: str) -> None:
    """The notes of a chord are spelled by its degrees."""
    assert notes == " ".join(str(note) for note in read_chord(symbol).notes)


def test_flat_root_with_a_fifth_is_not_a_flat_fifth() -> None:
    """Cb5 is the power chord on Cb, C(b5) the major triad on C with a flat fifth."""
    power, flat_five = read_chord("Cb5"), read_chord("C(b5)")
    assert [{11, 6}, {0, 4, 6}] == [set(power.pitch_classes), set(flat_five.pitch_classes)]
    assert [str(power), str(flat_five)] == ["Cb5", "C(b5)"]


@pytest.mark.parametrize(
    "symbol, root, name",
    [
        ("Cb9", "Cb", "9"),
        ("C(#11)", "C", "(#11)"),
        ("C#11", "C#", "11"),
        ("C#7", "C#", "7"),
        ("Bb6", "Bb", "6"),
        ("Bbb7", "Bbb", "7"),
        ("Cmb6", "C", "mb6"),
        ("Dbadd9", "Db", "add9"),
        ("Daug", "D", "aug"),
        ("Dalt", "D", "7alt"),
        ("Asus", "A", "sus4"),
        ("C+9", "C", "aug9"),
        ("C7+9", "C", "7#9"),
        ("C-9", "C", "m9"),
        ("C7-9", "C", "7b9"),
        ("A-7", "A", "m7"),  # not A major with something ignored
        ("CM7", "C", "maj7"),  # not a dominant
    ],
)
def test_signs_belong_to_the_root_first(symbol: str, root: str, name: str) -> None:
    """An accidental after the letter is of the root; + and - depend on the text before them."""
    chord = read_chord(symbol)
    assert (root, name) == (str(chord.root), chord.quality.name)


@pytest.mark.parametrize(
    "symbol, lowest, written",
    [
        ("C/E", "E", "C/E"),
        ("C/3", "E", "C/E"),
        ("C/5", "G", "C/G"),
        ("C/1", "C", "C"),
        ("C/C", "C", "C"),
        ("Cm/3", "Eb", "Cm/Eb"),
        ("C7/7", "Bb", "C7/Bb"),
        ("Cmaj7/7", "B", "Cmaj7/B"),
        ("C°7/7", "Bbb", "Cdim7/Bbb"),
        ("F#m7b5/5", "C", "F#m7b5/C"),
        ("D/F#", "F#", "D/F#"),
        ("Am/G", "G", "Am/G"),
        ("C6/9", "C", "C69"),
        ("C6/9/E", "E", "C69/E"),
        ("Cm/maj7/G", "G", "Cmmaj7/G"),
        ("C7(b9/13)/E", "E", "C7b9add13/E"),
        ("B♭/D", "D", "Bb/D"),
    ],
)
def test_bass(symbol: str, lowest: str, written: str) -> None:
    """A slash bass is a note or a degree of the chord; the root is not stored as bass."""
    chord = read_chord(symbol)
    assert (lowest, written) == (str(chord.lowest), str(chord))


# mir_eval writes the bass as a degree with its sign; here the sign is the chord's own.
@pytest.mark.parametrize(
    "label, symbol",
    [
        ("C:maj/3", "C/3"),
        ("C:maj/5", "C/5"),
        ("C:min7/b3", "Cm7/3"),
        ("C:min7/b7", "Cm7/7"),
        ("C:hdim7/b5", "Cø7/5"),
        ("C:dim7/bb7", "C°7/7"),
        ("Bb:maj7/7", "Bbmaj7/7"),
        ("F#:aug/#5", "F#+/5"),
    ],
)
def test_bass_degrees_equal_mir_eval(label: str, symbol: str) -> None:
    """A degree after the slash is that of the chord."""
    root, _, bass = mir_chord.encode(label)
    assert (root + bass) % 12 == read_chord(symbol).lowest.pitch_class


@given(chord=chords())
def test_print_and_read(chord: Chord) -> None:
    """A printed chord reads as the same chord."""
    assert chord == read_chord(str(chord))


@given(chord=chords(), fifths=st.integers(-24, 24))
def test_transposing_back_returns_the_name(chord: Chord, fifths: int) -> None:
    """A chord transposed along the line of fifths and back is the same chord."""
    assert chord == chord.up(fifths).up(-fifths)


@given(chord=chords(), fifths=st.integers(-24, 24))
def test_transposing_adds_semitones(chord: Chord, fifths: int) -> None:
    """A step along the line of fifths moves every note of a chord by seven semitones."""
    expected = {(pitch_class + 7 * fifths) % 12 for pitch_class in chord.pitch_classes}
    moved = chord.up(fifths)
    assert expected == moved.pitch_classes
    assert (chord.lowest.pitch_class + 7 * fifths) % 12 == moved.lowest.pitch_class


@given(chord=chords(), fifths=st.integers(-24, 24))
def test_plain_sounds_the_same(chord: Chord, fifths: int) -> None:
    """A plain chord has the same pitch classes, no double accidentals, and can be read."""
    moved = chord.up(fifths)
    plain = moved.plain()
    assert (moved.pitch_classes, moved.lowest.pitch_class) == (
        plain.pitch_classes,
        plain.lowest.pitch_class,
    )
    assert max(abs(plain.root.alter), abs(plain.lowest.alter)) <= 1
    assert plain == read_chord(str(plain))


@pytest.mark.parametrize(
    "symbol, plain",
    [
        ("Bbb", "A"),
        ("F##m7", "Gm7"),
        ("Cbb/Ebb", "Bb/D"),
        ("Cb", "Cb"),
        ("C/Ebb", "C/D"),
        ("E#7", "E#7"),
    ],
)
def test_plain_names(symbol: str, plain: str) -> None:
    """Double accidentals are respelled, single ones are not."""
    assert plain == str(read_chord(symbol).plain())


QUALITY = "expected a quality such as m, 7, m7, maj7, 6, dim, sus4 or 7b9"
BASS = (
    "and its quality expected a bass: a note such as E, or 3, 5 or 7 for that degree of the chord"
)


@pytest.mark.parametrize(
    "symbol, column, message",
    [
        ("Emaj77", 5, f"after 'E' {QUALITY}; did you mean 'Emaj7'?"),
        ("Cmay7", 3, f"after 'C' {QUALITY}; did you mean 'Cmaj7'?"),
        ("F#mm7", 3, f"after 'F#' {QUALITY}; did you mean 'F#m7'?"),
        ("C7b9x", 4, f"after 'C' {QUALITY}; did you mean 'C7b9'?"),
        ("C7(b9", 2, f"after 'C' {QUALITY}"),
        ("C7(b9,)", 6, f"after 'C' {QUALITY}"),
        ("C H", 1, f"after 'C' {QUALITY}"),
        ("C\\E", 1, f"after 'C' {QUALITY}"),
        ("C###", 3, f"after 'C##' {QUALITY}"),
        ("Cis", 1, f"after 'C' {QUALITY}; did you mean 'C#'?"),
        ("Cq/E", 1, f"after 'C' {QUALITY}"),
        ("C/E/G", 1, f"after 'C' {QUALITY}"),
        ("C7(b9/x)", 6, f"after 'C' {QUALITY}"),
        ("Cmay7/F#", 3, f"after 'C' {QUALITY}; did you mean 'Cmaj7'?"),
        ("C/", 2, "after 'C' expected a bass after the slash"),
        ("C/H", 2, f"after 'C' {BASS}"),
        ("C/e", 2, f"after 'C' {BASS}"),
        ("Cm7/11", 4, f"after 'C' {BASS}"),
        ("C/9", 2, f"after 'C' {BASS}"),
        ("Csus4/3", 6, "after 'C' there is no degree 3 for the bass: write the bass as a note, "
         "such as C/E"),
        ("C6/7", 3, "after 'C' there is no degree 7 for the bass: write the bass as a note, "
         "such as C/E"),
        ("", 0, "a chord begins with its root, a letter from A to G"),
        ("c7", 0, "a chord begins with its root, a letter from A to G; did you mean 'C7'?"),
        ("bb", 0, "a chord begins with its root, a letter from A to G; did you mean 'Bb'?"),
        ("f#m", 0, "a chord begins with its root, a letter from A to G; did you mean 'F#m'?"),
        ("H7", 0, "a chord begins with its root, a letter from A to G; did you mean 'B7'?"),
        ("as", 0, "a chord begins with its root, a letter from A to G; did you mean 'Ab'?"),
        ("Es6", 1, f"after 'E' {QUALITY}; did you mean 'Eb6'?"),
        ("Fism", 1, f"after 'F' {QUALITY}; did you mean 'F#m'?"),
        ("hx", 0, "a chord begins with its root, a letter from A to G"),
        ("N.C.", 0, "a chord begins with its root, a letter from A to G"),
        (" C", 0, "a chord begins with its root, a letter from A to G"),
    ],
)  # fmt: skip
def test_near_misses(symbol: str, column: int, message: str) -> None:
    """An invalid symbol is refused at the first character that cannot be read, with advice."""
    sentence = re.escape(f"'{symbol}' is not a chord: {message}")
    with pytest.raises(SymbolError, match=f"^{sentence}$") as caught:
        read_chord(symbol)
    assert column == caught.value.column
    assert message == caught.value.allowed


@given(
    chord=chords(),
    tail=st.text(alphabet="mMajdinsu-+°øΔ0123456789b#(),/ABCDEFGxyz !", min_size=1, max_size=4),
)
def test_a_symbol_is_read_whole_or_refused(chord: Chord, tail: str) -> None:
    """Text added to a chord makes another chord that prints alike, or is refused."""
    text = f"{chord}{tail}"
    longer = attempt(text)
    if isinstance(longer, SymbolError):
        assert 0 <= longer.column <= len(text)
        assert str(longer).startswith(f"'{text}' is not a chord: ")
    else:
        assert longer == read_chord(str(longer))
        assert not set(tail) & set("xyz !")  # no sign is passed over


@given(text=st.text(max_size=12))
def test_any_text_is_a_chord_or_refused(text: str) -> None:
    """Any text is a chord or raises `SymbolError`."""
    chord = attempt(text)
    if isinstance(chord, SymbolError):
        assert 0 <= chord.column <= len(text)
    else:
        assert chord == read_chord(str(chord))
