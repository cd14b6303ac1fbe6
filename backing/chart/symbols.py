"""Reads chords in letters, and against a key in numbers and Roman numerals."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from backing.chart.diagnostics import TooManyFaultsError, quoted
from backing.chart.endings import is_against_key
from backing.errors import SymbolError
from backing.harmony.chord import Chord, read_chord
from backing.harmony.numbers import read_symbol

if TYPE_CHECKING:
    from backing.chart.diagnostics import Diagnostics
    from backing.chart.tokens import Word
    from backing.harmony.key import Key

MOST_SYMBOLS = 1000
"""The most different chords of a chart: far more than tunes have, and read in no time."""

LONGEST_CHORD = 40
"""The longest symbol that is read as a chord, in characters."""

_MOST_ACCIDENTALS = 2


class ChordReader:
    """Reads the chords of one chart, each symbol once."""

    def __init__(self, faults: Diagnostics) -> None:
        self._faults = faults
        self._read: dict[tuple[str, Key | None], Chord | SymbolError | None] = {}
        self._lacked_key = False

    def read(self, word: Word, key: Key | None) -> Chord | None:
        """Return the chord; None for N.C. and for what is no chord, which is then a fault.

        Without a key only chords in letters are read. Of the others the first is a fault.

        Raises:
            TooManyFaultsError: when there are more than `MOST_SYMBOLS`.

        """
        if (word.text, key) not in self._read:
            self._count(word)
            self._read[word.text, key] = self._try(word.text, key)
        result = self._read[word.text, key]
        if isinstance(result, SymbolError):
            self._faults.add_symbol(word.line, word.column, result)
            return None
        return result

    def _count(self, word: Word) -> None:
        if len(self._read) == MOST_SYMBOLS:
            self._faults.add(
                word.line,
                word.column,
                f"there are more than {MOST_SYMBOLS} different chords up to here",
                "check that this is a chart; nothing below was read",
            )
            raise TooManyFaultsError

    def _try(self, text: str, key: Key | None) -> Chord | SymbolError | None:
        try:
            if text.upper().replace(".", "") == "NC":
                return None
            _refuse_other_signs(text)
            if key:
                return _spelled(read_symbol(text, key))
            if is_against_key(text):
                self._refuse_without_key()
                return None
            return read_chord(text)
        except SymbolError as error:
            return error

    def _refuse_without_key(self) -> None:
        if self._lacked_key:
            return
        self._lacked_key = True
        raise SymbolError(
            "numbers and Roman numerals count from the key, and the chart names none",
            "write it above the parts, such as 'key: E'",
        )


def _spelled(chord: Chord) -> Chord:
    """Return the chord; of three sharps or flats, which numbers can make, its plain spelling."""
    if max(abs(note.alter) for note in (chord.root, chord.lowest)) <= _MOST_ACCIDENTALS:
        return chord
    plain = chord.plain()
    return replace(plain, bass=None) if plain.bass == plain.root else plain


def _refuse_other_signs(text: str) -> None:
    """Raise for signs of which a reader of chords could only say less."""
    if not text.isprintable():
        offset = next(index for index, sign in enumerate(text) if not sign.isprintable())
        raise SymbolError(
            f"{quoted(text)} holds a sign that cannot be seen (U+{ord(text[offset]):04X})",
            "delete it, or write the chord again",
            offset,
        )
    if len(text) > LONGEST_CHORD:
        raise SymbolError(
            f"{quoted(text)} is {len(text)} characters long",
            f"a chord has at most {LONGEST_CHORD}; put a space or a bar line between chords",
        )
