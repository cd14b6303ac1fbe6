"""Chords as numbers of the key (`1 4 57 6m b7`) and as Roman numerals (`I IV V7 vi`).

Conventions: numbers count the major scale of the tonic in every mode, so that the chord a whole
tone below home is b7 (bVII) in A mixolydian and in A minor. The first digit is the degree and the
rest the quality: 57 is the seventh chord on five. A bass after a slash is a degree of the key:
1/3 is the first inversion of the home chord. Roman numerals in upper case are major, in lower case
minor: ii7 is IIm7, vii° is VIIdim. (Common practice, no source; where practice differs, as for the
degrees of minor, this is our choice.)
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from backing.errors import SymbolError
from backing.harmony.chord import Chord, not_a_chord, read_chord, read_quality_and_bass
from backing.harmony.pitch import ACCIDENTAL_PATTERN, Degree, NoteName
from backing.harmony.quality import Quality, read_quality

if TYPE_CHECKING:
    from backing.harmony.key import Key

_ROMANS = {1: "I", 2: "II", 3: "III", 4: "IV", 5: "V", 6: "VI", 7: "VII"}
_DEGREES = {roman: number for number, roman in _ROMANS.items()}
_NUMBER = re.compile(f"{ACCIDENTAL_PATTERN}[1-7]", re.ASCII)
_NO_DEGREE = re.compile(f"{ACCIDENTAL_PATTERN}[0-9]", re.ASCII)
_ROMAN = re.compile(f"({ACCIDENTAL_PATTERN})(VII|VI|V|IV|III|II|I|vii|vi|v|iv|iii|ii|i)")


def read_symbol(text: str, key: Key) -> Chord:
    """Read a chord in letters, in numbers of `key` or in Roman numerals.

    Raises:
        SymbolError: with the offset of the first character that cannot be read.
    """
    if number := _NUMBER.match(text):
        return _in_key(text, number[0], text[number.end() :], key, small=False)
    if roman := _ROMAN.match(text):
        degree = f"{roman[1]}{_DEGREES[roman[2].upper()]}"
        return _in_key(text, degree, text[roman.end() :], key, small=roman[2].islower())
    if _NO_DEGREE.match(text):
        raise SymbolError(f"'{text}' is not a chord", "a degree of the key is 1 to 7")
    return read_chord(text)


def letter_text(chord: Chord, _key: Key) -> str:
    """Return the chord in letters; the key does not matter."""
    return str(chord)


def number_text(chord: Chord, key: Key) -> str:
    """Return the chord as a number of the key: `57`, `6m`, `b7`, `1/3`."""
    bass = f"/{_degree_of(chord.bass, key)}" if chord.bass else ""
    return f"{_degree_of(chord.root, key)}{chord.quality.name}{bass}"


def roman_text(chord: Chord, key: Key) -> str:
    """Return the chord as a Roman numeral: `V7`, `vi`, `bVII`, `I/3`."""
    degree = _degree_of(chord.root, key)
    roman = ("#" if degree.alter > 0 else "b") * abs(degree.alter) + _ROMANS[degree.number]
    name = chord.quality.name
    if chord.quality.is_minor:
        numeral, roman = roman, roman[: abs(degree.alter)] + _ROMANS[degree.number].lower()
        name = name.removeprefix("m")
        if small_quality(name) != chord.quality:  # lower case cannot express it
            roman, name = numeral, chord.quality.name
    return f"{roman}{name}" + (f"/{_degree_of(chord.bass, key)}" if chord.bass else "")


def _degree_of(note: NoteName, key: Key) -> Degree:
    """Return the degree of a note in the major scale of a key, as spelled.

    A note that would need three accidentals is respelled, so that the text can be read.
    """
    fifths = note.fifths - key.tonic.fifths
    by_class = {Degree(number, 0).fifths % 7: number for number in _ROMANS}
    number = by_class[fifths % 7]
    alter = (fifths - Degree(number, 0).fifths) // 7
    if abs(alter) > 2:
        return _degree_of(note.up(12 if alter < 0 else -12), key)
    return Degree(number, alter)


def _in_key(text: str, degree: str, rest: str, key: Key, *, small: bool) -> Chord:
    """Return the chord on a degree of the key, given the text after the degree."""
    start = len(text) - len(rest)
    try:
        quality, bass = _small_and_bass(rest) if small else read_quality_and_bass(rest)
        root = key.tonic.up(Degree.parse(degree).fifths)
        lowest = _key_bass(bass, key, len(rest) - len(bass)) if bass else None
    except SymbolError as error:
        raise not_a_chord(text, start, error) from None
    return Chord(root, quality, None if lowest == root else lowest)


def _small_and_bass(rest: str) -> tuple[Quality, str]:
    """Split the text after a numeral in lower case into its quality and bass, "" without one."""
    body, slash, bass = rest.rpartition("/")
    for quality_text, bass_text in ((rest, ""), (body, bass)) if slash else ((rest, ""),):
        quality = small_quality(quality_text)
        if quality and not (slash and quality_text == body and not bass):
            return quality, bass_text
    if slash and not bass and small_quality(body):
        raise SymbolError(f"'{rest}' has no bass", "expected a bass after the slash", len(rest))
    read_quality(body if slash else rest)  # raises if it is not a quality at all
    raise SymbolError(
        f"'{rest}' is not minor",
        "expected a minor chord; write the numeral of another chord in capitals",
    )


def small_quality(text: str) -> Quality | None:
    """Return the minor quality after a numeral in lower case, or None."""
    for candidate in (f"m{text}", text):
        try:
            quality = read_quality(candidate)
        except SymbolError:
            continue
        if quality.is_minor:
            return quality
    return None


def _key_bass(text: str, key: Key, column: int) -> NoteName:
    if not _NUMBER.fullmatch(text):
        raise SymbolError(
            f"'{text}' is not a bass",
            "and its quality expected a bass: a degree of the key from 1 to 7, such as 3 or b7",
            column,
        )
    return key.tonic.up(Degree.parse(text).fifths)
