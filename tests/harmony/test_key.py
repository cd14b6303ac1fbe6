"""Keys compared with music21, and transposed keys."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21 import key as music21_key

from backing.errors import SymbolError
from backing.harmony.key import MODES, Key
from backing.harmony.numbers import read_symbol
from backing.harmony.pitch import Degree, NoteName

# The fifteen signatures from seven flats to seven sharps: common practice, no source.
MAJOR_TONICS = "Cb Gb Db Ab Eb Bb F C G D A E B F# C#"
MINOR_TONICS = "Ab Eb Bb F C G D A E B F# C# G# D# A#"

ALL_KEYS = [
    Key(NoteName(signature + offset), mode)
    for mode, offset in MODES.items()
    for signature in range(-7, 8)
]

keys = st.sampled_from(ALL_KEYS)


def in_music21(key: Key) -> music21_key.Key:
    """Return music21's key with the same name."""
    return music21_key.Key(str(key.tonic).replace("b", "-"), key.mode)


@pytest.mark.parametrize(
    "signature, major, minor",
    list(zip(range(-7, 8), MAJOR_TONICS.split(), MINOR_TONICS.split(), strict=True)),
)
def test_fifteen_signatures(signature: int, major: str, minor: str) -> None:
    """Each major key and its relative minor have the signature that music21 gives them."""
    theirs = music21_key.KeySignature(signature)
    assert [major, minor] == [
        theirs.asKey(mode).tonic.name.replace("-", "b") for mode in ("major", "minor")
    ]
    assert [signature, signature] == [
        Key.parse(major).signature,
        Key.parse(f"{minor}m").signature,
    ]


@pytest.mark.parametrize("key", ALL_KEYS, ids=str)
def test_scale_and_signature_equal_music21(key: Key) -> None:
    """Every key in every mode has music21's signature and note names."""
    theirs = in_music21(key)
    assert theirs.sharps == key.signature
    names = [pitch.name.replace("-", "b") for pitch in theirs.getPitches()[:7]]
    assert names == [str(note) for note in key.scale]


@pytest.mark.parametrize("key", ALL_KEYS, ids=str)
def test_minor_keys_have_a_minor_third(key: Key) -> None:
    """A key is minor if music21's third above the tonic is minor."""
    tonic, _, third = in_music21(key).getPitches()[:3]
    assert ((third.midi - tonic.midi) == 3) is key.is_minor


@pytest.mark.parametrize("key", ALL_KEYS, ids=str)
def test_print_and_read(key: Key) -> None:
    """The name of a key reads as the key."""
    assert key == Key.parse(str(key))


# Common practice, no source.
@pytest.mark.parametrize(
    "text, tonic, mode",
    [
        ("E", "E", "major"),
        ("Bb", "Bb", "major"),
        ("B♭", "Bb", "major"),
        ("CM", "C", "major"),
        ("C major", "C", "major"),
        ("C ionian", "C", "major"),
        ("F#m", "F#", "minor"),
        ("F♯ min", "F#", "minor"),
        ("F# minor", "F#", "minor"),
        ("F# Minor", "F#", "minor"),
        ("A aeolian", "A", "minor"),
        ("A mixolydian", "A", "mixolydian"),
        ("Amix", "A", "mixolydian"),
        ("D dor", "D", "dorian"),
        ("  E phrygian ", "E", "phrygian"),
        ("Bbm", "Bb", "minor"),
        ("Cb lydian", "Cb", "lydian"),
    ],
)
def test_spellings(text: str, tonic: str, mode: str) -> None:
    """Keys are read with the usual words in any case."""
    assert Key(NoteName.parse(tonic), mode) == Key.parse(text)


@pytest.mark.parametrize(
    "text, column, message",
    [
        ("", 0, "'' is not a key: write a key such as E, Bb"),
        ("H", 0, "'H' is not a key: write a key such as E, Bb"),
        ("e", 0, "'e' is not a key: write a key such as E, Bb"),
        ("g minor", 0, "'g minor' is not a key: .*; did you mean 'G minor'"),
        ("bb", 0, "'bb' is not a key: .*; did you mean 'Bb'"),
        ("f#m", 0, "'f#m' is not a key: .*; did you mean 'F#m'"),
        ("Es", 1, "'s' is not a mode: .*; did you mean 'Eb'"),
        ("hm", 0, "'hm' is not a key: .*; did you mean 'Bm'"),
        ("Em7", 0, "'Em7' is not a key: write a key such as E, Bb"),
        ("E major!", 0, "'E major!' is not a key: write a key such as E, Bb"),
        ("E flat", 2, "'flat' is not a mode: choose from major, minor, dorian"),
        (" A mixolidian", 3, r"'mixolidian' is not a mode: .*; did you mean 'mixolydian'\?"),
        ("G#", 0, "the key G# has 8 sharps: a key has at most seven; write Ab"),
        ("Fb", 0, "the key Fb has 8 flats: a key has at most seven; write E"),
        ("Dbm", 0, "the key Dbm has 8 flats: a key has at most seven; write C#m"),
        ("Bbb", 0, "the key Bbb has 9 flats: a key has at most seven; write A"),
        ("Ab locrian", 0, "the key Ab locrian has 9 flats: .* seven; write G# locrian"),
    ],
)
def test_refusals(text: str, column: int, message: str) -> None:
    """An invalid key is refused with its place and what to write."""
    with pytest.raises(SymbolError, match=f"^{message}") as caught:
        Key.parse(text)
    assert column == caught.value.column


@pytest.mark.parametrize("semitones", range(-11, 12))
def test_transposed_keys_are_right_and_readable(semitones: int) -> None:
    """Every transposed key has the right pitch class and at most six accidentals."""
    for key in ALL_KEYS:
        moved = key.up(key.fifths_up(semitones))
        expected = (in_music21(key).tonic.pitchClass + semitones) % 12
        assert expected == moved.tonic.pitch_class
        assert key.mode == moved.mode
        assert abs(moved.signature) <= (6 if semitones else abs(key.signature))


# Common practice, no source: the name a player would use.
@pytest.mark.parametrize(
    "key, semitones, name",
    [
        ("E", 3, "G"),
        ("E", -2, "D"),
        ("G", 2, "A"),
        ("C", 1, "Db"),
        ("C", -1, "B"),
        ("G", -1, "F#"),  # six of either; from a sharp key, sharps
        ("F", 1, "Gb"),  # from a flat key, flats
        ("C", 6, "F#"),
        ("Am", 6, "Ebm"),
        ("Em", -1, "Ebm"),  # a minor key takes flats
        ("Am", 1, "Bbm"),
        ("A mixolydian", -2, "G mixolydian"),
        ("D dorian", 2, "E dorian"),
        ("Bb", 12, "Bb"),
        ("C#", 0, "C#"),
        ("C#", -12, "C#"),
        ("C#", 1, "D"),
    ],
)
def test_names_of_transposed_keys(key: str, semitones: int, name: str) -> None:
    """A transposed key has the name with the fewest accidentals."""
    start = Key.parse(key)
    assert name == str(start.up(start.fifths_up(semitones)))


# Common practice, no source: every letter of a scale is used once.
@pytest.mark.parametrize(
    "key, number, name",
    [("Gb", "4", "Cb"), ("F#", "4", "B"), ("F#", "7dim", "E#dim"), ("C#", "3m", "E#m"),
     ("Cb", "4", "Fb"), ("Eb", "b7", "Db"), ("E", "b3", "G"), ("Gb", "b7", "Fb"),
     ("Gb", "b6", "Ebb")],
)  # fmt: skip
def test_chords_of_a_key_keep_its_letters(key: str, number: str, name: str) -> None:
    """The four chord of Gb is Cb and that of F# is B, though both keys sound the same."""
    assert name == str(read_symbol(number, Key.parse(key)))


@given(key=keys, fifths=st.integers(-30, 30))
def test_transposing_back_returns_the_key(key: Key, fifths: int) -> None:
    """A key transposed along the line of fifths and back is the same key."""
    assert key == key.up(fifths).up(-fifths)


@given(key=keys, fifths=st.integers(-30, 30))
def test_plain_key_sounds_the_same(key: Key, fifths: int) -> None:
    """A plain key has the same pitch classes and at most seven accidentals."""
    moved = key.up(fifths)
    plain = moved.plain()
    assert [note.pitch_class for note in moved.scale] == [note.pitch_class for note in plain.scale]
    assert abs(plain.signature) <= 7
    assert plain == Key.parse(str(plain))


LETTERS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


@pytest.mark.parametrize("letter", LETTERS)
@pytest.mark.parametrize("sign, alter", [("bb", -2), ("b", -1), ("", 0), ("#", 1), ("##", 2)])
def test_note_names(letter: str, sign: str, alter: int) -> None:
    """A name is a white key moved by its accidentals (common practice, no source)."""
    note = NoteName.parse(letter + sign)
    assert ((LETTERS[letter] + alter) % 12, alter) == (note.pitch_class, note.alter)
    assert letter + sign == str(note)


@given(fifths=st.integers(-40, 40))
def test_plain_note_sounds_the_same(fifths: int) -> None:
    """A plain name is the same pitch class with at most one accidental."""
    note = NoteName(fifths)
    assert note.pitch_class == note.plain().pitch_class
    assert abs(note.plain().alter) <= 1


@pytest.mark.parametrize(
    "name, plain",
    [("Bbb", "A"), ("F##", "G"), ("Fbb", "Eb"), ("B##", "C#"), ("Cb", "Cb"), ("E#", "E#")],
)
def test_plain_note_names(name: str, plain: str) -> None:
    """Double accidentals are respelled, single ones are not."""
    assert plain == str(NoteName.parse(name).plain())


@pytest.mark.parametrize("text", ["", "H", "c", "C###", "Cbbb", "C#b", "Cb#", "C ", "CC"])
def test_invalid_names(text: str) -> None:
    """A name is one capital letter with at most two equal accidentals."""
    with pytest.raises(SymbolError, match=f"^'{text}' is not a note: write a capital letter"):
        NoteName.parse(text)


# Degrees against the major scale, and their semitones: common practice, no source.
@pytest.mark.parametrize(
    "text, semitones",
    [("1", 0), ("b2", 1), ("2", 2), ("b3", 3), ("3", 4), ("4", 5), ("#4", 6), ("b5", 6), ("5", 7),
     ("#5", 8), ("b6", 8), ("6", 9), ("bb7", 9), ("b7", 10), ("7", 11), ("8", 12), ("b9", 13),
     ("9", 14), ("#9", 15), ("11", 17), ("#11", 18), ("b13", 20), ("13", 21)],
)  # fmt: skip
def test_degrees(text: str, semitones: int) -> None:
    """A degree has its semitones above the root, and its fifths give the same pitch class."""
    degree = Degree.parse(text)
    assert semitones == degree.semitones
    assert semitones % 12 == NoteName(degree.fifths).pitch_class
    assert text == str(degree)


@pytest.mark.parametrize("text", ["", "0", "14", "b", "3b", "###4", "+5", "٣"])
def test_invalid_degrees(text: str) -> None:
    """A degree is a number from 1 to 13 after its accidentals."""
    with pytest.raises(SymbolError, match="is not a degree: write 1 to 13, with b or # before it"):
        Degree.parse(text)
