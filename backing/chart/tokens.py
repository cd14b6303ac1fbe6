"""Splits a line of bars into bar lines and words.

Conventions: a bar line is a run of `|` and `:`; double strokes count as one. A colon between a
chord and its length (`Em:1/4`) is not a bar line. `x` and a number after `:|` tell how often the
bars are played (`:|x3`). Digits right after a bar line (`|1`, `:|2`, `|1,2`) can be an ending or a
chord, which `endings` decides.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from backing.chart.model import MOST_BARS

MOST_CELLS = 4 * MOST_BARS
"""The most cells of a part; valid parts need fewer."""

_RUN = re.compile(r"[|:]+")
_TIMES = re.compile(r"\s*[xX×]\s*([0-9]+)(?![^\s|:\"(])")
_FIGURES = re.compile(r"[0-9]+(?:,[0-9]+)*(?=[\s|\"(]|:(?:[\s|:\"(]|$)|$)")
_WORD = re.compile(r'"[^"|]*"?|\([^()|"]{0,40}\)|[^\s|":]+(?::[^\s|":]+)*')
_SPACE = re.compile(r"\s*")
_STROKES = re.compile(r"\|+")
_SHAPES = {"|", "|:", ":|", ":|:", "::"}


@dataclass(frozen=True, slots=True)
class Word:
    """A word between bar lines: a chord with its length, a slash, %, a direction, a bracket.

    Attributes:
        text: as written, with its quotes or brackets.
        line: from 1.
        column: of its first character, from 1.

    """

    text: str
    line: int
    column: int


@dataclass(frozen=True, slots=True)
class BarLine:
    """A bar line.

    Attributes:
        text: the run of `|` and `:` as written.
        line: from 1.
        column: from 1.
        times: the number after it of times that the repeat is played, or None.
        figures: the digits right after it, or None.

    """

    text: str
    line: int
    column: int
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


def read_cells(line: int, text: str, most: int = MOST_CELLS) -> list[Cell]:
    """Split a line of bars, numbered from 1, into at most `most` cells and the last one."""
    cells: list[Cell] = []
    bar_line: BarLine | None = None
    words: list[Word] = []
    position = _skip_space(text, 0)
    while position < len(text) and len(cells) < most:
        if run := _RUN.match(text, position):
            if words or bar_line:
                cells.append(Cell(bar_line, tuple(words)))
            bar_line, position = _bar_line(run[0], line, text, position)
            words = []
        elif word := _WORD.match(text, position):
            words.append(Word(word[0], line, position + 1))
            position = word.end()
        position = _skip_space(text, position)
    return [*cells, Cell(bar_line, tuple(words), last=True)]


def _skip_space(text: str, position: int) -> int:
    space = _SPACE.match(text, position)
    return space.end() if space else position


def _bar_line(run: str, line: int, text: str, start: int) -> tuple[BarLine, int]:
    """Return the bar line with its number or digits, and the offset after it."""
    end = start + len(run)
    times = _TIMES.match(text, end) if run[0] == ":" and run[-1] == "|" else None
    if times:
        number = Word(times[1], line, times.start(1) + 1)
        return BarLine(run, line, start + 1, times=number), times.end()
    figures = _FIGURES.match(text, end) if run[-1] == "|" else None
    if figures:
        mark = Word(figures[0], line, end + 1)
        return BarLine(run, line, start + 1, figures=mark), figures.end()
    return BarLine(run, line, start + 1), end
