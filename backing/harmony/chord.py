"""Chords in letters: a root, a quality and an optional bass.

Conventions: the bass follows a slash. It is a note (`C/E`) or a degree of the chord (`C/3`, its
third; `C7/7`, its seventh). A symbol is read as a whole or refused.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import lru_cache

from backing.errors import SymbolError
from backing.harmony.pitch import ACCIDENTAL_PATTERN, Degree, NoteName, with_spelling
from backing.harmony.quality import Quality, read_quality
from backing.harmony.signs import NO_CHORD

_MOST_ACCIDENTALS = 2
_ROOT = re.compile(f"[A-G]{ACCIDENTAL_PATTERN}")


@dataclass(frozen=True, slots=True)
class Chord:
    """A chord.

    Attributes:
        root: its root.
        quality: its degrees above the root.
        bass: the note after a slash, or None for the root.
    """

    root: NoteName
    quality: Quality
    bass: NoteName | None = None

    def __hash__(self) -> int:
        """Hash by cheap fields, since chords are often dictionary keys."""
        return hash((self.root.fifths, self.quality.name, self.bass and self.bass.fifths))

    def __str__(self) -> str:
        return f"{self.root}{self.quality.name}" + (f"/{self.bass}" if self.bass else "")

    @property
    def lowest(self) -> NoteName:
        """Its lowest note: the slash bass or the root."""
        return self.bass or self.root

    @property
    def notes(self) -> tuple[NoteName, ...]:
        """Its note names in the order of its degrees, without the slash bass."""
        return tuple(self.root.up(degree.fifths) for degree in self.quality.degrees)

    @property
    def pitch_classes(self) -> frozenset[int]:
        """Its pitch classes, C = 0, without the slash bass."""
        return frozenset(note.pitch_class for note in self.notes)

    def up(self, fifths: int) -> Chord:
        """Return the chord transposed by `fifths` along the line of fifths."""
        bass = self.bass.up(fifths) if self.bass else None
        return replace(self, root=self.root.up(fifths), bass=bass)

    def readable(self) -> Chord:
        """Return the chord, respelled if it has a root or bass of three or more sharps or flats."""
        most = max(abs(note.alter) for note in (self.root, self.lowest))
        return self if most <= _MOST_ACCIDENTALS else self.plain()

    def plain(self) -> Chord:
        """Return the chord spelled without double sharps and double flats."""
        if abs(self.root.alter) > 1:
            shift = self.root.plain().fifths - self.root.fifths
            return self.up(shift).plain()
        bass = self.bass.plain() if self.bass else None
        return replace(self, bass=None if bass == self.root else bass)


def chord_text(chord: Chord | None) -> str:
    """Return the text of a chord, spelled plainly; None is no chord (N.C.)."""
    return str(chord.plain()) if chord else NO_CHORD


@lru_cache(4096)
def read_chord(text: str) -> Chord:
    """Read a chord in letters, such as `F#m7`, `Bb/D` or `C7(b9)`.

    Raises:
        SymbolError: with the offset of the first character that cannot be read.
    """
    try:
        return _read(text)
    except SymbolError as error:
        raise with_spelling(text, error, _read) from None


def _read(text: str) -> Chord:
    root = _ROOT.match(text)
    if not root:
        raise SymbolError(
            f"'{text}' is not a chord", "a chord begins with its root, a letter from A to G"
        )
    name = NoteName.parse(root[0])
    try:
        quality, bass = read_quality_and_bass(text[root.end() :])
        column = len(text) - len(bass) - root.end()
        return Chord(name, quality, _letter_bass(name, quality, bass, column) if bass else None)
    except SymbolError as error:
        raise not_a_chord(text, root.end(), error) from None


def not_a_chord(text: str, start: int, error: SymbolError) -> SymbolError:
    """Turn the error of a symbol's rest, from offset `start`, into one of the whole symbol."""
    root = text[:start]
    allowed = error.allowed.replace("did you mean '", f"did you mean '{root}")
    return SymbolError(
        f"'{text}' is not a chord", f"after '{root}' {allowed}", start + error.column
    )


def read_quality_and_bass(text: str) -> tuple[Quality, str]:
    """Split the text after a root into its quality and the text of its bass, "" without one.

    Raises:
        SymbolError: if the whole text cannot be read.
    """
    try:
        return read_quality(text), ""
    except SymbolError as whole:
        body, slash, bass = text.rpartition("/")
        if not slash:
            raise
        try:
            quality = read_quality(body)
        except SymbolError as part:
            raise (whole if whole.column > len(body) else part) from None
        if not bass:
            raise SymbolError(whole.found, "expected a bass after the slash", len(text)) from None
        return quality, bass


def _letter_bass(root: NoteName, quality: Quality, text: str, column: int) -> NoteName | None:
    """Return the bass, a note or a degree of the chord; None for the root itself."""
    if text in ("1", "3", "5", "7"):
        degree = quality.degree(int(text))
        bass = root.up((degree or _absent(text, column)).fifths)
    else:
        try:
            bass = NoteName.parse(text)
        except SymbolError:
            raise SymbolError(
                f"'{text}' is not a bass",
                "and its quality expected a bass: a note such as E, or 3, 5 or 7 for that degree "
                "of the chord",
                column,
            ) from None
    return None if bass == root else bass


def _absent(text: str, column: int) -> Degree:
    raise SymbolError(
        f"this chord has no {text}",
        f"there is no degree {text} for the bass: write the bass as a note, such as C/E",
        column,
    )
