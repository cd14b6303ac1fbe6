"""Splits a line of bars into bar lines and words.

Conventions: a bar line is a run of `|` and `:`; double strokes count as one. A colon between a
chord and its length (`Em:1/4`) is not a bar line. `x` and a number after `:|` tell how often the
bars are played (`:|x3`). Digits right after a bar line are an ending or a chord: `|1` can be the
first ending or, in a chart written in numbers, the home chord.

- With a space (`| 1`) it is always a chord; with a comma (`|1,2`) always an ending.
- In a part whose chords are letters or Roman numerals it is an ending.
- In a part whose chords are numbers it is an ending only where endings fit: its bar has chords, the
  repeat has bars before it, and the next ending follows the `:|` that closes it. Everywhere else
  it is a chord, so `|1 |4 |57 |1 |` is four chords.
- Where an ending fits but other chords of the part have no space after their bar lines either, it
  is ambiguous: the reader asks for a space.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from backing.chart.model import MOST_BARS
from backing.harmony.pitch import ACCIDENTAL_PATTERN

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from backing.chart.diagnostics import Place

MOST_CELLS = 4 * MOST_BARS
"""The most cells of a part; valid parts need fewer."""

_SIGN = re.compile(
    r"""
    (?P<closed>:[|:]*\|)\s*[xX×]\s*(?P<times>[0-9]+)(?![^\s|:"(])
  | (?P<run>[|:]+)(?:(?<=\|)(?P<figures>[0-9]+(?:,[0-9]+)*)(?=[\s|"(]|:(?:[\s|:"(]|$)|$))?
  | (?P<word>"[^"|]*"?|\([^()|"]{0,40}\)|[^\s|":]+(?::[^\s|":]+)*)
    """,
    re.VERBOSE,
)
_STROKES = re.compile(r"\|+")
_SHAPES = {"|", "|:", ":|", ":|:", "::"}


@dataclass(frozen=True, slots=True)
class Word:
    """A word between bar lines: a chord with its length, a slash, %, a direction, a bracket.

    Attributes:
        text: as written, with its quotes or brackets.
        place: of its first character.

    """

    text: str
    place: Place


@dataclass(frozen=True, slots=True)
class BarLine:
    """A bar line.

    Attributes:
        text: the run of `|` and `:` as written.
        place: of its first character.
        times: the number after it of times that the repeat is played, or None.
        figures: the digits right after it, or None.

    """

    text: str
    place: Place
    times: Word | None = None
    figures: Word | None = None

    @property
    def known(self) -> bool:
        """Whether it is a valid bar line."""
        return _STROKES.sub("|", self.text) in _SHAPES

    @property
    def closes(self) -> bool:
        """Whether it closes a repeat."""
        return self.text.startswith(":")

    @property
    def opens(self) -> bool:
        """Whether it opens a repeat."""
        return self.text.endswith(":")

    @property
    def plain(self) -> bool:
        """Whether it only separates two bars."""
        return not (self.closes or self.opens or self.figures)


@dataclass(frozen=True, slots=True)
class Cell:
    """The words between two bar lines, or between a bar line and the end of the text line.

    Attributes:
        bar_line: the bar line before it; None at the start of a text line.
        words: its words; empty between adjacent bar lines or line ends.
        last: whether the text line ends here.

    """

    bar_line: BarLine | None
    words: tuple[Word, ...] = ()
    last: bool = False


def read_cells(line: int, text: str) -> list[Cell]:
    """Split a line of bars, numbered from 1, into at most `MOST_CELLS` cells and the last one."""
    cells: list[Cell] = []
    bar_line: BarLine | None = None
    words: list[Word] = []
    for sign in _SIGN.finditer(text):
        if len(cells) == MOST_CELLS:
            break
        if sign["word"]:
            words.append(Word(sign["word"], (line, sign.start() + 1)))
            continue
        if words or bar_line:
            cells.append(Cell(bar_line, tuple(words)))
        words = []
        times, figures = (
            Word(sign[name], (line, sign.start(name) + 1)) if sign[name] else None
            for name in ("times", "figures")
        )
        run = sign["closed"] or sign["run"]
        bar_line = BarLine(run, (line, sign.start() + 1), times, figures)
    return [*cells, Cell(bar_line, tuple(words), last=True)]


_NUMBER = re.compile(f"{ACCIDENTAL_PATTERN}[1-7]")
_LETTER_OR_ROMAN = re.compile(f"[A-G]|{ACCIDENTAL_PATTERN}[IViv]")


def is_against_key(text: str) -> bool:
    """Whether a chord is a number or a Roman numeral of the key, not letters."""
    return bool(_NUMBER.match(text)) or bool(re.match(f"{ACCIDENTAL_PATTERN}[IViv]", text))


def settle_figures(cells: Sequence[Cell]) -> tuple[list[Cell], Word | None]:
    """Turn digits after bar lines that are chords into words.

    Returns:
        The cells of the part, and the first digits that can be an ending or a chord, or None.

    """
    if _in_letters(cells):
        return list(cells), None
    marks = _fitting(cells)
    commas = {index for index, cell in enumerate(cells) if "," in _figures(cell)}
    kept = marks | commas
    settled = [cell if index in kept else _with_chord(cell) for index, cell in enumerate(cells)]
    doubtful = [cells[index].bar_line for index in sorted(marks - commas)]
    if doubtful and doubtful[0] and any(map(_is_tight_number, settled)):
        return settled, doubtful[0].figures
    return settled, None


def _in_letters(cells: Iterable[Cell]) -> bool:
    """Whether the chords are letters or Roman numerals and none is a number."""
    texts = [word.text for cell in cells for word in cell.words]
    return any(map(_LETTER_OR_ROMAN.match, texts)) and not any(map(_NUMBER.match, texts))


def _figures(cell: Cell) -> str:
    return cell.bar_line.figures.text if cell.bar_line and cell.bar_line.figures else ""


def _with_chord(cell: Cell) -> Cell:
    """Return the cell with the digits of its bar line as its first word."""
    if not cell.bar_line or not cell.bar_line.figures:
        return cell
    bar_line = replace(cell.bar_line, figures=None)
    return replace(cell, bar_line=bar_line, words=(cell.bar_line.figures, *cell.words))


def _is_tight_number(cell: Cell) -> bool:
    """Whether the cell begins with a number right after its bar line."""
    if not cell.bar_line or cell.bar_line.figures or not cell.words:
        return False
    end = cell.bar_line.place[1] + len(cell.bar_line.text)
    first = cell.words[0]
    return first.place[1] == end and bool(_NUMBER.match(first.text))


def ending_times(figures: str) -> tuple[int, ...]:
    """Return the times round in digits such as `1,2`; empty if one is 0 or over 99."""
    numbers = [int(each) if len(each) < 3 else 0 for each in figures.split(",")]
    return tuple(numbers) if all(numbers) else ()


class _Span:
    """The bars and endings since a repeat began."""

    def __init__(self) -> None:
        self.bars = 0
        self.first: int | None = None
        self.given: set[int] = set()
        self.closed = False

    def fits_next(self, times: Sequence[int]) -> bool:
        missing = next(n for n in range(1, 101) if n not in self.given)
        return self.first is not None and self.closed and times[0] == missing

    def fits_first(self, bar_line: BarLine, times: Sequence[int]) -> bool:
        return times[0] == 1 and self.bars > 0 and not bar_line.closes


def _fitting(cells: Sequence[Cell]) -> set[int]:
    """Return the indices of the cells in which an ending fits."""
    fitting: set[int] = set()
    span = _Span()
    for index, cell in enumerate(cells):
        if cell.bar_line and cell.bar_line.closes:
            span.closed = True
        times = ending_times(_figures(cell)) if _figures(cell) and cell.words else ()
        if times and span.first is not None and span.fits_next(times):
            fitting |= {span.first, index}
            span.given.update(times)
            span.closed = False
        elif cell.bar_line and times and span.fits_first(cell.bar_line, times):
            span.first, span.given = index, set(times)
        if (cell.bar_line and cell.bar_line.opens) or (span.closed and has_content(cell)):
            span = _Span()
        span.bars += has_content(cell)
    return fitting


def has_content(cell: Cell) -> bool:
    """Whether a cell has words or digits after its bar line."""
    return bool(cell.words or _figures(cell))
