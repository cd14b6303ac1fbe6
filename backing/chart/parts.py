"""Reads the text of a part into a part."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from backing.chart.bars import BarReader
from backing.chart.common_mistakes import OWN_LINE, comment_at
from backing.chart.diagnostics import quoted
from backing.chart.endings import has_content, settle_figures
from backing.chart.fields import read_style
from backing.chart.headers import read_meter
from backing.chart.model import MOST_BARS, Part
from backing.chart.repeats import Sections
from backing.chart.symbols import ChordReader
from backing.chart.tokens import MOST_CELLS, read_cells
from backing.harmony.key import Key
from backing.harmony.pitch import NoteName
from backing.timing import Meter, Tempo

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backing.chart.diagnostics import Diagnostics
    from backing.chart.model import Bar, Counted, Repeat
    from backing.chart.outline import PartText
    from backing.chart.tokens import Cell
    from backing.timing import Meter

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
        bars = BarReader(self._faults, self._chords, bar_key, bar_meter)
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
                self._refuse_more(line)
                text.valid = False
        return cells[:MOST_BARS] if self._full else cells

    def _without_comment(self, line: int, written: str) -> str:
        """Return a line of bars without a comment in it, which is reported."""
        start = comment_at(written)
        if start is None:
            return written
        found = f"{quoted(written[start:].strip())} comes after bars"
        self._faults.add(line, start + 1, found, OWN_LINE)
        return written[:start]

    def _refuse_more(self, line: int) -> None:
        self._full = True
        self._faults.add(
            line,
            0,
            f"more than {MOST_BARS} bars are written up to here",
            "use repeats and the form to repeat bars",
        )

    def _settled(self, text: PartText, cells: Sequence[Cell]) -> list[Cell]:
        settled, doubtful = settle_figures(cells)
        if doubtful:
            text.valid = False
            self._faults.add(
                doubtful.line,
                doubtful.column,
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
                    after.bar_line.line,
                    after.bar_line.column,
                    "the bar before this bar line is empty",
                    "write a chord, N.C. for none, or % to repeat the bar before",
                )

    def _check_length(self, text: PartText, part: Part) -> None:
        played = part.length()
        written = sum(not bar.pickup for bar in part.written())
        if not played:
            self._faults.add(
                text.line,
                0,
                f"part {part.name} has no bars",
                "write them below its name between bar lines, such as | C | G7 |",
            )
        elif played > MOST_BARS:
            self._faults.add(
                text.line,
                0,
                f"part {part.name} has {played} bars as played",
                f"at most {MOST_BARS} are allowed",
            )
        elif text.expected and part.expected not in (played, written):
            self._faults.add(
                text.expected.line,
                text.expected.column,
                f"you wrote [{part.name}] {part.expected}, but the part has "
                f"{_bars(played, written)}",
                "correct its bars or the number",
            )


def _bars(played: int, written: int) -> str:
    """Return the number of bars in words."""
    if played == written:
        return f"{played} bar{'s' if played > 1 else ''}"
    return f"{written} bar{'s' if written > 1 else ''} as written and {played} as played"
