"""Reads the text of a part into a part; its chords in letters, or numbers and Roman numerals."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from backing.chart.bars import BarReader
from backing.chart.common_mistakes import OWN_LINE, comment_at, read_meter
from backing.chart.diagnostics import TooManyFaultsError, quoted
from backing.chart.fields import read_style
from backing.chart.model import MOST_BARS, Part
from backing.chart.repeats import Sections
from backing.chart.tokens import MOST_CELLS, has_content, is_against_key, read_cells, settle_figures
from backing.errors import SymbolError
from backing.harmony.chord import Chord, read_chord
from backing.harmony.key import Key
from backing.harmony.numbers import read_symbol
from backing.harmony.pitch import NoteName
from backing.timing import Meter, Tempo

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backing.chart.diagnostics import Diagnostics
    from backing.chart.model import Bar, Counted, Repeat
    from backing.chart.outline import PartText
    from backing.chart.tokens import Cell, Word

MOST_SYMBOLS = 1000
"""The most different chords of a chart, which limits the time to read it."""

LONGEST_CHORD = 40
"""The longest chord symbol, in characters."""


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
            self._faults.add_symbol(word.place, result)
            return None
        return result

    def _count(self, word: Word) -> None:
        if len(self._read) == MOST_SYMBOLS:
            self._faults.add(
                word.place,
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
                return read_symbol(text, key).readable()
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


PLACEHOLDER_KEY = Key(NoteName(0))
"""The key in which chords are read if the given one is invalid."""


class PartReader:
    """Reads the parts of one chart.

    The key is None for a chart without one; the meter is None if it could not be read.
    """

    def __init__(
        self, faults: Diagnostics, key: Key | None, meter: Meter | None, counted: Counted
    ) -> None:
        self._faults = faults
        self._chords = ChordReader(faults)
        self._key = key
        self._meter = meter
        self._counted = counted
        self._bars_written = 0
        self._full = False

    def read(self, text: PartText) -> Part:
        """Return the part; after faults, only what could be read."""
        fields = text.fields
        key = fields.read("key", Key.parse)
        meter = fields.read("meter", read_meter)
        bar_meter = None if fields.broken("meter") else meter or self._meter
        bar_key = PLACEHOLDER_KEY if fields.broken("key") else key or self._key
        unit = self._counted.unit_in(meter)
        bars = BarReader(self._faults, lambda word: self._chords.read(word, bar_key), bar_meter)
        part = Part(
            name=text.name,
            sections=self._sections(text, bars),
            expected=int(text.expected.text) if text.expected else None,
            key=key,
            meter=meter,
            tempo=fields.read("tempo", lambda text: Tempo.parse(text, unit)),
            style=fields.read("style", read_style),
        )
        if text.valid:
            self._check_length(text, part)
        return part

    def _sections(self, text: PartText, bars: BarReader) -> tuple[Bar | Repeat, ...]:
        sections = Sections(self._faults)
        cells = self._settled(text, self._cells(text))
        for cell in cells:
            if cell.bar_line:
                sections.bar_line(cell.bar_line)
            if cell.words:
                sections.bar(bars.read(cell.words, opens=sections.opened))
        self._check_empty(text, cells)
        found = sections.finish()
        text.valid = text.valid and sections.valid
        return found

    def _cells(self, text: PartText) -> list[Cell]:
        """Return the cells of the part's lines, up to the limits."""
        cells: list[Cell] = []
        for line, written in text.bars:
            if self._full:
                text.valid = False
                break
            found = read_cells(line, self._without_comment(line, written))
            cells += found
            self._bars_written += sum(map(has_content, found))
            if self._bars_written > MOST_BARS or len(cells) > MOST_CELLS:
                self._full = True
                more = f"more than {MOST_BARS} bars are written up to here"
                self._faults.add((line, 0), more, "use repeats and the form to repeat bars")
                text.valid = False
        return cells[:MOST_BARS] if self._full else cells

    def _without_comment(self, line: int, written: str) -> str:
        """Return a line of bars without a comment in it, which is reported."""
        start = comment_at(written)
        if start is None:
            return written
        found = f"{quoted(written[start:].strip())} comes after bars"
        self._faults.add((line, start + 1), found, OWN_LINE)
        return written[:start]

    def _settled(self, text: PartText, cells: Sequence[Cell]) -> list[Cell]:
        settled, doubtful = settle_figures(cells)
        if doubtful:
            text.valid = False
            self._faults.add(
                doubtful.place,
                f"'{doubtful.text}' right after a bar line can be an ending or a chord",
                "put a space between every bar line and a chord, such as | 1 | 57 |, and none "
                "before an ending",
            )
        return settled

    def _check_empty(self, text: PartText, cells: Sequence[Cell]) -> None:
        for cell, after in pairwise(cells):
            if not cell.bar_line or cell.words or cell.last or not after.bar_line:
                continue
            if cell.bar_line.plain and after.bar_line.plain:
                text.valid = False
                self._faults.add(
                    after.bar_line.place,
                    "the bar before this bar line is empty",
                    "write a chord, N.C. for none, or % to repeat the bar before",
                )

    def _check_length(self, text: PartText, part: Part) -> None:
        played = part.length()
        written = sum(not bar.pickup for bar in part.written())
        if not played:
            self._faults.add(
                (text.line, 0),
                f"part {part.name} has no bars",
                "write them below its name between bar lines, such as | C | G7 |",
            )
        elif played > MOST_BARS:
            self._faults.add(
                (text.line, 0),
                f"part {part.name} has {played} bars as played",
                f"at most {MOST_BARS} are allowed",
            )
        elif text.expected and part.expected not in (played, written):
            self._faults.add(
                text.expected.place,
                f"you wrote [{part.name}] {part.expected}, but the part has "
                f"{_bars(played, written)}",
                "correct its bars or the number",
            )


def _bars(played: int, written: int) -> str:
    """Return the number of bars in words."""
    if played == written:
        return f"{played} bar{'s' if played > 1 else ''}"
    return f"{written} bar{'s' if written > 1 else ''} as written and {played} as played"
