"""Numbers and Roman numerals compared with music21, and chords written as both."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21 import key as music21_key
from music21 import roman as music21_roman

from backing.errors import SymbolError
from backing.harmony.chord import Chord, read_chord
from backing.harmony.key import MODES, Key
from backing.harmony.numbers import number_text, read_symbol, roman_text
from backing.harmony.pitch import NoteName
from backing.harmony.quality import read_quality, table

NAMES = sorted({quality.name for quality in table().values()})
NAMES += ["(b5)", "(#11)", "7b9#9", "7b9add13", "13b9", "maj7#11", "sus4add9", "aug7b9"]
NAMES += ["m7b9", "m#5", "m7#5", "m7add11", "m11b13", "m7b5b9", "dim7b9", "dim7b13"]
MAJOR_KEYS = ["Cb", "Gb", "Db", "Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#"]

# Figures that mean one thing here and in music21, and the same chord as a number.
FIGURES = [
    ("I", "1"),
    ("ii", "2m"),
    ("iii", "3-"),
    ("IV", "4"),
    ("V", "5"),
    ("vi", "6m"),
    ("viio", "7dim"),
    ("ii7", "2m7"),
    ("iii7", "3-7"),
    ("IV", "4maj"),
    ("V7", "57"),
    ("vi7", "6min7"),
    ("viio7", "7°7"),
    ("viiø7", "7m7b5"),
    ("iv", "4m"),
    ("v", "5m"),
    ("i", "1m"),
    ("bVII", "b7"),
    ("bIII", "b3"),
    ("bVI", "b6"),
    ("bII", "b2"),
    ("#ivo7", "#4dim7"),
    ("#io7", "#1o7"),
    ("III+", "3+"),
]

letters = st.sampled_from([letter + sign for letter in "CDEFGAB" for sign in ("b", "", "#")])


@st.composite
def keys(draw: st.DrawFn) -> Key:
    """Draw keys of at most seven accidentals in any mode."""
    mode = draw(st.sampled_from(sorted(MODES)))
    return Key(NoteName(draw(st.integers(-7, 7)) + MODES[mode]), mode)


@st.composite
def chords(draw: st.DrawFn) -> Chord:
    """Draw chords with a root and perhaps a bass of at most one accidental."""
    root = NoteName.parse(draw(letters))
    quality = read_quality(draw(st.sampled_from(NAMES)))
    bass = draw(st.none() | letters.map(NoteName.parse))
    return Chord(root, quality, None if bass == root else bass)


def theirs(figure: str, key: str) -> set[str]:
    """Return music21's note names for a Roman numeral in a major key."""
    numeral = music21_roman.RomanNumeral(figure, music21_key.Key(key.replace("b", "-"), "major"))
    return {pitch.name.replace("-", "b") for pitch in numeral.pitches}


def ours(symbol: str, key: str) -> set[str]:
    """Return the note names of a symbol in a key."""
    return {str(note) for note in read_symbol(symbol, Key.parse(key)).notes}


@pytest.mark.parametrize("figure, number", FIGURES)
def test_note_names_equal_music21(figure: str, number: str) -> None:
    """In fifteen major keys a numeral and its number have music21's note names."""
    for key in MAJOR_KEYS:
        expected = theirs(figure, key)
        assert (expected, expected) == (ours(figure, key), ours(number, key)), key


@pytest.mark.parametrize(
    "figure, as_scale, as_written",
    [("I7", "C E G B", "C E G Bb"), ("IV7", "F A C E", "F A C Eb"), ("bVI7", "Ab C Eb G",
      "Ab C Eb Gb")],
)  # fmt: skip
def test_a_seven_on_a_major_chord_is_a_dominant_seventh(
    figure: str, as_scale: str, as_written: str
) -> None:
    """music21 takes the seventh from the scale; here it is minor, as in every chord symbol.

    Common practice of chord charts, no source: a blues is written I7 IV7 V7.
    """
    assert [set(as_scale.split()), set(as_written.split())] == [
        theirs(figure, "C"),
        ours(figure, "C"),
    ]


# Our convention, stated in the module: numbers count the major scale of the tonic in every mode.
@pytest.mark.parametrize(
    "symbol, key, chord",
    [
        ("1", "E", "E"),
        ("57", "E", "B7"),
        ("6m", "G", "Em"),
        ("b7", "A mixolydian", "G"),
        ("b7", "Am", "G"),
        ("bVII", "Am", "G"),
        ("b6maj7", "Cm", "Abmaj7"),
        ("♭3", "Cm", "Eb"),
        ("1m", "Am", "Am"),
        ("6", "Am", "F#"),
        ("4/5", "C", "F/G"),
        ("1/3", "C", "C/E"),
        ("1/1", "C", "C"),
        ("57/7", "C", "G7/B"),
        ("1m/b3", "Cm", "Cm/Eb"),
        ("16", "C", "C6"),
        ("169", "C", "C69"),
        ("16/9", "C", "C69"),
        ("69", "C", "A9"),
        ("77", "C", "B7"),
        ("11", "C", None),
        ("113", "C", "C13"),
        ("15", "C", "C5"),
        ("57(b9,13)", "C", "G7b9add13"),
        ("I", "Bb", "Bb"),
        ("V7/7", "C", "G7/B"),
        ("I6/9", "C", "C69"),
        ("vi", "C", "Am"),
        ("vi7/5", "C", "Am7/G"),
        ("ii9", "C", "Dm9"),
        ("iim7", "C", "Dm7"),
        ("ii-7", "C", "Dm7"),
        ("iiø", "C", "Dm7b5"),
        ("ii7b5", "C", "Dm7b5"),
        ("vii°", "C", "Bdim"),
        ("viidim7", "C", "Bdim7"),
        ("imaj7", "Cm", "Cmmaj7"),
        ("i6/9", "Cm", "Cm69"),
        ("iadd9", "Cm", "Cmadd9"),
        ("ivb6", "C", "Fmb6"),
        ("IIm7", "C", "Dm7"),
        ("#ivø7", "C", "F#m7b5"),
        ("bvi", "C", "Abm"),
        ("Bb7", "C", "Bb7"),
        ("b7", "C", "Bb"),
    ],
)
def test_symbols(symbol: str, key: str, chord: str | None) -> None:
    """Numbers and numerals depend on their key, letters do not."""
    if chord is None:
        with pytest.raises(SymbolError, match=f"^'{symbol}' is not a chord: after "):
            read_symbol(symbol, Key.parse(key))
    else:
        assert chord == str(read_symbol(symbol, Key.parse(key)))


@pytest.mark.parametrize(
    "chord, key, number, numeral",
    [
        ("C", "C", "1", "I"),
        ("G7", "C", "57", "V7"),
        ("Am", "C", "6m", "vi"),
        ("Dm7", "C", "2m7", "ii7"),
        ("Bm7b5", "C", "7m7b5", "vii7b5"),
        ("Bdim7", "C", "7dim7", "viidim7"),
        ("Cmmaj7", "C", "1mmaj7", "imaj7"),
        ("Bb", "C", "b7", "bVII"),
        ("F#dim7", "C", "#4dim7", "#ivdim7"),
        ("C/E", "C", "1/3", "I/3"),
        ("Am/G", "C", "6m/5", "vi/5"),
        ("G", "A mixolydian", "b7", "bVII"),
        ("G", "Am", "b7", "bVII"),
        ("Gsus4", "C", "5sus4", "Vsus4"),
        ("C13", "C", "113", "I13"),
        ("Cb", "Gb", "4", "IV"),
        ("C#", "Gb", "##4", "##IV"),
    ],
)
def test_names_in_a_key(chord: str, key: str, number: str, numeral: str) -> None:
    """A chord has the number and the numeral that players use."""
    read, home = read_chord(chord), Key.parse(key)
    assert [number, numeral] == [number_text(read, home), roman_text(read, home)]


@given(chord=chords(), key=keys())
def test_numbers_and_numerals_read_back(chord: Chord, key: Key) -> None:
    """A chord written as a number or a numeral of any key reads as the very chord.

    A root or bass that is more than two accidentals away from the key comes back as its
    enharmonic neighbour; only then may the names differ.
    """
    for written in (number_text(chord, key), roman_text(chord, key)):
        back = read_symbol(written, key)
        assert chord.quality == back.quality
        assert chord.lowest.pitch_class == back.lowest.pitch_class
        assert chord.pitch_classes == back.pitch_classes
        far = [note for note in (chord.root, chord.lowest) if not -15 <= offset(note, key) <= 19]
        if not far:
            assert chord == back


def offset(note: NoteName, key: Key) -> int:
    """Return how far a note is from the tonic: two flats reach -15 (bb4), two sharps 19 (##7)."""
    return note.fifths - key.tonic.fifths


@given(chord=chords(), key=keys(), fifths=st.integers(-12, 12))
def test_numbers_do_not_change_with_the_key(chord: Chord, key: Key, fifths: int) -> None:
    """A chord and its key transposed together have the same number and numeral."""
    there = (chord.up(fifths), key.up(fifths))
    assert number_text(chord, key) == number_text(*there)
    assert roman_text(chord, key) == roman_text(*there)


QUALITY = "expected a quality such as m, 7, m7, maj7, 6, dim, sus4 or 7b9"
KEY_BASS = "and its quality expected a bass: a degree of the key from 1 to 7, such as 3 or b7"


@pytest.mark.parametrize(
    "symbol, column, message",
    [
        ("5maj77", 5, f"after '5' {QUALITY}; did you mean '5maj7'?"),
        ("57x", 2, f"after '5' {QUALITY}; did you mean '57'?"),
        ("b7/", 3, "after 'b7' expected a bass after the slash"),
        ("vi/", 3, "after 'vi' expected a bass after the slash"),
        ("vi7/", 4, "after 'vi' expected a bass after the slash"),
        ("1/E", 2, f"after '1' {KEY_BASS}"),
        ("57/8", 3, f"after '5' {KEY_BASS}"),
        ("V7/V", 3, f"after 'V' {KEY_BASS}"),
        ("ii7/H", 4, f"after 'ii' {KEY_BASS}"),
        ("iisus4", 2, "after 'ii' expected a minor chord; write the numeral of another "
         "chord in capitals"),
        ("ii+", 2, "after 'ii' expected a minor chord; write the numeral of another "
         "chord in capitals"),
        ("iiq", 2, f"after 'ii' {QUALITY}"),
        ("IVq", 2, f"after 'IV' {QUALITY}"),
        ("IIII", 3, f"after 'III' {QUALITY}"),
        ("Iv", 1, f"after 'I' {QUALITY}"),
        ("8", 0, "a degree of the key is 1 to 7"),
        ("b0", 0, "a degree of the key is 1 to 7"),
        ("###4", 0, "a chord begins with its root, a letter from A to G"),
        ("٣", 0, "a chord begins with its root, a letter from A to G"),
        ("X", 0, "a chord begins with its root, a letter from A to G"),
    ],
)  # fmt: skip
def test_refusals(symbol: str, column: int, message: str) -> None:
    """An invalid number or numeral is refused at the first character that cannot be read."""
    sentence = re.escape(f"'{symbol}' is not a chord: {message}")
    with pytest.raises(SymbolError, match=f"^{sentence}$") as caught:
        read_symbol(symbol, Key.parse("C"))
    assert column == caught.value.column


@given(
    head=st.sampled_from(["1", "57", "b7", "#4", "6m", "I", "V7", "ii", "vi7", "bVII", "viio"]),
    tail=st.text(alphabet="mMajdinsu-+°ø0123456789b#(),/IViv", max_size=5),
    key=keys(),
)
def test_any_symbol_reads_or_is_refused_in_place(head: str, tail: str, key: Key) -> None:
    """Text after a number makes a chord that is written and read alike, or is refused."""
    text = head + tail
    try:
        chord: Chord | SymbolError = read_symbol(text, key)
    except SymbolError as error:
        chord = error
    if isinstance(chord, SymbolError):
        assert 0 <= chord.column <= len(text)
        assert str(chord).startswith(f"'{text}' is not a chord: ")
    else:
        assert chord == read_symbol(number_text(chord, key), key)
        assert chord == read_symbol(roman_text(chord, key), key)
