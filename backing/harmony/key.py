"""Keys and modes.

Conventions: a mode has the signature of a major scale: A mixolydian has the two sharps of D major.
A key has at most seven sharps or flats.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from backing.errors import SymbolError
from backing.harmony.pitch import ACCIDENTAL_PATTERN, NoteName, with_spelling
from backing.nearest import did_you_mean, nearest

MODES = {
    "major": 0,
    "minor": 3,
    "dorian": 2,
    "phrygian": 4,
    "lydian": -1,
    "mixolydian": 1,
    "locrian": 5,
}
"""Fifths from the tonic of the major scale with the same notes up to the tonic."""

_OTHER_NAMES = {"m": "minor", "min": "minor", "maj": "major", "": "major", "ionian": "major"}
_OTHER_NAMES |= {"aeolian": "minor", "mix": "mixolydian", "dor": "dorian"}
_MINOR_THIRD = {"minor", "dorian", "phrygian", "locrian"}
_MOST_ACCIDENTALS = 7


@dataclass(frozen=True, slots=True)
class Key:
    """A key.

    Attributes:
        tonic: the home note.
        mode: one of `MODES`.
    """

    tonic: NoteName
    mode: str = "major"

    def __hash__(self) -> int:
        """Hash by cheap fields, as chords do."""
        return hash((self.tonic.fifths, self.mode))

    @property
    def signature(self) -> int:
        """The number of sharps, or minus the number of flats: -7 to 7."""
        return self.tonic.fifths - MODES[self.mode]

    @property
    def is_minor(self) -> bool:
        """Whether the home chord has a minor third."""
        return self.mode in _MINOR_THIRD

    @property
    def scale(self) -> tuple[NoteName, ...]:
        """The seven notes of the scale, upwards from the tonic."""
        major_tonic = self.tonic.up(-MODES[self.mode])
        steps = sorted(
            (major_tonic.up(fifths) for fifths in range(-1, 6)),
            key=lambda note: (note.pitch_class - self.tonic.pitch_class) % 12,
        )
        return tuple(steps)

    @property
    def alters(self) -> dict[str, int]:
        """The semitones of each letter that the signature alters."""
        return {note.letter: note.alter for note in self.scale if note.alter}

    def __str__(self) -> str:
        if self.mode == "major":
            return str(self.tonic)
        return f"{self.tonic}m" if self.mode == "minor" else f"{self.tonic} {self.mode}"

    def up(self, fifths: int) -> Key:
        """Return the key transposed by `fifths` along the line of fifths."""
        return Key(self.tonic.up(fifths), self.mode)

    def plain(self) -> Key:
        """Return the enharmonic key with at most seven sharps or flats."""
        if abs(self.signature) <= _MOST_ACCIDENTALS:
            return self
        return self.up(-12 if self.signature > 0 else 12).plain()

    def fifths_up(self, semitones: int) -> int:
        """Return the fifths that transpose this key by `semitones`.

        The new key has the fewest accidentals. Between six sharps and six flats, flat keys and
        minor keys take flats, the others sharps (common practice, no source).
        """
        if semitones % 12 == 0:
            return 0
        steps = semitones * 7 % 12
        choices = [steps + 12 * turns for turns in range(-3, 3)]
        flat = self.signature < 0 or self.is_minor
        return min(
            choices,
            key=lambda fifths: (
                abs(self.signature + fifths),
                (self.signature + fifths > 0) == flat,
            ),
        )

    @staticmethod
    def parse(text: str) -> Key:
        """Read `E`, `F#m`, `A mixolydian`, `D dorian`.

        Raises:
            SymbolError: if it is not a key, or has more than seven sharps or flats.
        """
        try:
            return Key._parse(text)
        except SymbolError as error:
            raise with_spelling(text, error, Key._parse) from None

    @staticmethod
    def _parse(text: str) -> Key:
        match = re.fullmatch(f"\\s*([A-G]{ACCIDENTAL_PATTERN})\\s*([A-Za-z]*)\\s*", text)
        if not match:
            raise SymbolError(
                f"'{text}' is not a key", "write a key such as E, Bb, F#m, A mixolydian or D dorian"
            )
        word = match[2] if match[2] == "M" else match[2].lower()
        mode = _OTHER_NAMES.get(word, "major" if word == "M" else word)
        if mode not in MODES:
            raise SymbolError(
                f"'{match[2]}' is not a mode",
                f"choose from {', '.join(MODES)}"
                + did_you_mean(nearest(word, [*MODES, *_OTHER_NAMES])),
                match.start(2),
            )
        key = Key(NoteName.parse(match[1]), mode)
        if abs(key.signature) > _MOST_ACCIDENTALS:
            signs = "sharps" if key.signature > 0 else "flats"
            raise SymbolError(
                f"the key {key} has {abs(key.signature)} {signs}",
                f"a key has at most seven; write {key.plain()}",
            )
        return key
