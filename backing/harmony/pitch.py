"""Note names, pitches, and degrees above a root.

Conventions: a note name is a number on the line of fifths (... Bb F C G D A E B F# ...), C = 0,
G = 1, F = -1. It holds the letter and the accidental; adding transposes, subtracting undoes it.
Pitch classes count semitones from C = 0. Degrees are named against the major scale of their root:
b3 is a minor third, #11 a raised eleventh (the convention of Harte, Sandler, Abdallah & Gomez,
ISMIR 2005, and of jazz practice).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from backing.errors import SymbolError
from backing.nearest import did_you_mean

if TYPE_CHECKING:
    from collections.abc import Callable

_LETTERS = "FCGDAEB"
_MAJOR_DEGREES = {1: 0, 2: 2, 3: 4, 4: -1, 5: 1, 6: 3, 7: 5}
_MAJOR_SEMITONES = {1: 0, 2: 2, 3: 4, 4: 5, 5: 7, 6: 9, 7: 11}

ACCIDENTALS = {"": 0, "b": -1, "♭": -1, "#": 1, "♯": 1, "bb": -2, "♭♭": -2, "##": 2, "♯♯": 2}
"""Every spelling of an accidental and its semitones."""

ACCIDENTAL_PATTERN = "(?:bb|♭♭|##|♯♯|[b♭#♯])?"


@dataclass(frozen=True, slots=True, order=True)
class NoteName:
    """A note name, such as F# or Bb.

    Attributes:
        fifths: steps along the line of fifths from C, positive towards the sharps.
    """

    fifths: int

    @property
    def pitch_class(self) -> int:
        """Semitones above C, 0 to 11."""
        return self.fifths * 7 % 12

    @property
    def alter(self) -> int:
        """Semitones of the accidental: -1 for a flat, 2 for a double sharp."""
        return (self.fifths + 1) // 7

    @property
    def letter(self) -> str:
        """Its letter, A to G."""
        return _LETTERS[(self.fifths + 1) % 7]

    def __str__(self) -> str:
        return self.letter + ("#" if self.alter > 0 else "b") * abs(self.alter)

    def up(self, fifths: int) -> NoteName:
        """Return the name transposed by `fifths` along the line of fifths."""
        return NoteName(self.fifths + fifths)

    def plain(self) -> NoteName:
        """Return the enharmonic name with at most one accidental: A for Bbb."""
        if abs(self.alter) < 2:
            return self
        return self.up(12 if self.alter < 0 else -12).plain()

    @staticmethod
    def parse(text: str) -> NoteName:
        """Read a letter from A to G with at most two sharps or flats.

        Raises:
            SymbolError: if it is not a note name.
        """
        match = re.fullmatch(f"([A-G])({ACCIDENTAL_PATTERN})", text)
        if not match:
            raise SymbolError(
                f"'{text}' is not a note",
                "write a capital letter from A to G, then # or b if needed",
            )
        return NoteName(_LETTERS.index(match[1]) - 1 + 7 * ACCIDENTALS[match[2]])


_OTHER_ROOTS = {"H": "B", "His": "B#", "As": "Ab", "Es": "Eb", "Ais": "A#", "Eis": "E#"}
_OTHER_ROOTS |= {f"{letter}is": f"{letter}#" for letter in "CDFG"}
_OTHER_ROOTS |= {f"{letter}es": f"{letter}b" for letter in "BCDFG"}
_OTHER_ROOT = re.compile("|".join(sorted(_OTHER_ROOTS, key=len, reverse=True)))
"""German and Dutch note names (common practice, no source)."""


def other_spellings(text: str) -> tuple[str, ...]:
    """Return possible spellings of a text that begins with an unknown note name.

    A lower-case letter can mean a capital, and a German or Dutch name an English one.
    """
    capital = text[:1].upper() + text[1:]
    found = [capital] if capital != text else []
    if root := _OTHER_ROOT.match(capital):
        found.insert(0, _OTHER_ROOTS[root[0]] + capital[root.end() :])
    return tuple(found)


def with_spelling(text: str, error: SymbolError, read: Callable[[str], object]) -> SymbolError:
    """Return the error of a text, with a suggestion if another spelling can be read."""
    for spelling in other_spellings(text.strip()):
        try:
            read(spelling)
        except SymbolError:
            continue
        allowed = error.allowed.partition("; did you mean")[0]
        return SymbolError(error.found, allowed + did_you_mean(spelling), error.column)
    return error


def midi_key(text: str) -> int:
    """Read a note and its octave, such as `E1`; C4 is middle C, key 60.

    Raises:
        SymbolError: if it is not such a note.
    """
    match = re.fullmatch(r"([A-G])([#b]?)([0-9])", text)
    if not match:
        raise SymbolError(
            f"'{text}' is not a note", "write a note and its octave, such as E1; C4 is middle C"
        )
    letter = NoteName.parse(match[1])
    return letter.pitch_class + ACCIDENTALS[match[2]] + 12 * (int(match[3]) + 1)


@dataclass(frozen=True, slots=True)
class Pitch:
    """A note in an octave, such as F#5; C4 is middle C (scientific pitch notation).

    Attributes:
        name: its name.
        octave: the octave of its letter, -1 to 9: Cb4 is a half step below C4.

    """

    name: NoteName
    octave: int

    @property
    def key(self) -> int:
        """The MIDI key, middle C = 60."""
        natural = self.name.up(-7 * self.name.alter)
        return natural.pitch_class + self.name.alter + 12 * (self.octave + 1)

    def __str__(self) -> str:
        return f"{self.name}{self.octave}"

    @staticmethod
    def of(name: NoteName, key: int) -> Pitch:
        """Return the pitch with this name at a MIDI key of the same pitch class."""
        return Pitch(name, (key - name.alter) // 12 - 1)

    def up(self, fifths: int, semitones: int) -> Pitch:
        """Return the pitch `semitones` higher, its name transposed by `fifths`."""
        return Pitch.of(self.name.up(fifths), self.key + semitones)

    def plain(self) -> Pitch:
        """Return the same MIDI key spelled with at most one accidental."""
        return Pitch.of(self.name.plain(), self.key)

    @staticmethod
    def parse(text: str) -> Pitch:
        """Read `F#5`, `Bb3`, `C-1`.

        Raises:
            SymbolError: if it is not a pitch, or outside MIDI keys 0 to 127.
        """
        match = re.fullmatch(f"([A-G]{ACCIDENTAL_PATTERN})(-1|[0-9])", text)
        pitch = Pitch(NoteName.parse(match[1]), int(match[2])) if match else None
        if pitch is None or not 0 <= pitch.key <= 127:
            raise SymbolError(
                f"'{text}' is not a pitch",
                "write a note and its octave, such as F#5; C4 is middle C",
            )
        return pitch


@dataclass(frozen=True, slots=True, order=True)
class Degree:
    """A degree above a root, such as b3 or #11.

    Attributes:
        number: 1 to 13.
        alter: semitones from the major scale, -2 to 2.
    """

    number: int
    alter: int

    @property
    def fifths(self) -> int:
        """Steps along the line of fifths from the root."""
        return _MAJOR_DEGREES[(self.number - 1) % 7 + 1] + 7 * self.alter

    @property
    def semitones(self) -> int:
        """Semitones above the root; 12 or more from the ninth upwards."""
        octaves, step = divmod(self.number - 1, 7)
        return _MAJOR_SEMITONES[step + 1] + 12 * octaves + self.alter

    def __str__(self) -> str:
        return ("#" if self.alter > 0 else "b") * abs(self.alter) + str(self.number)

    @staticmethod
    def parse(text: str) -> Degree:
        """Read a degree such as `b7`.

        Raises:
            SymbolError: if it is not a degree.
        """
        match = re.fullmatch(f"({ACCIDENTAL_PATTERN})([1-9]|1[0-3])", text, re.ASCII)
        if not match:
            raise SymbolError(
                f"'{text}' is not a degree", "write 1 to 13, with b or # before it if needed"
            )
        return Degree(int(match[2]), ACCIDENTALS[match[1]])
