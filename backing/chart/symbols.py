"""Reads chords in letters and, with a key, in numbers and Roman numerals."""

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
"""The most different chords of a chart, which limits the time to read it."""

LONGEST_CHORD = 40
"""The longest chord symbol, in characters."""

_MOST_ACCIDENTALS = 2


class ChordReader:
    """Reads the chords of one chart, each symbol once."""

    def __init__(self, faults: Diagnostics) -> None:
        self._faults = faults
        self._read: dict[tuple[str, Key | None], Chord | SymbolError | None] = {}
        self._lacked_key = False

    def read(self, word: Word, key: Key | None) -> Chord | None:
        """Return the chord; None for N.C. and, with a fault, for an invalid symbol.

        Without a key, the first number or Roman numeral is a fault.

        Raises:
            TooManyFaultsError: if there are more than `MOST_SYMBOLS` different chords.

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
                "check that this is a chart; the lines below were not read",
            )
            raise TooManyFaultsError

    def _try(self, text: str, key: Key | None) -> Chord | SymbolError | None:
        try:
            if text.upper().replace(".", "") == "NC":
                return None
            _refuse_unreadable(text)
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
            "numbers and Roman numerals need a key, but the chart has none",
            "write one above the parts, such as 'key: E'",
        )


def _spelled(chord: Chord) -> Chord:
    """Return the chord, respelled if it has three or more sharps or flats, as numbers can."""
    if max(abs(note.alter) for note in (chord.root, chord.lowest)) <= _MOST_ACCIDENTALS:
        return chord
    plain = chord.plain()
    return replace(plain, bass=None) if plain.bass == plain.root else plain


def _refuse_unreadable(text: str) -> None:
    """Raise a SymbolError for invisible characters and for symbols that are too long."""
    if not text.isprintable():
        offset = next(index for index, sign in enumerate(text) if not sign.isprintable())
        raise SymbolError(
            f"{quoted(text)} has an invisible character (U+{ord(text[offset]):04X})",
            "delete it, or write the chord again",
            offset,
        )
    if len(text) > LONGEST_CHORD:
        raise SymbolError(
            f"{quoted(text)} is {len(text)} characters long",
            f"a chord has at most {LONGEST_CHORD}; put a space or a bar line between chords",
        )
