"""Charts with bars in columns."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st
from properties import examples
from strategies import charts, spoilt

from backing.chart.read import read_chart
from backing.chart.tidy import tidy_text
from backing.chart.write import write_chart
from backing.errors import ChartError

if TYPE_CHECKING:
    from hypothesis.strategies import DrawFn

LOOSE = """\
title:   Low  Meadow
key: G

# |a | comment|
[A] 8
|G|C|D7|G|
  |G / C  D7|%| N.C.|G ||
[B]
|:C|G|1 A7|D:|
|2 D7 |G7/B "fill"  |
"""

TIDY = """\
title:   Low  Meadow
key: G

# |a | comment|
[A] 8
| G        | C | D7   | G |
| G / C D7 | % | N.C. | G ||
[B]
|: C  | G           |1 A7 | D :|
|2 D7 | G7/B "fill" |
"""

ALIGNED = [
    (
        ["G | C", "Am | D7 | G"],
        ["G  | C", "Am | D7 | G"],
    ),
    (
        ["| G | C |", "Am | D7 |"],
        ["| G  | C  |", "  Am | D7 |"],
    ),
    (
        ["|: G | C :|x3", "|: Am | D7 :| x12", "| G | G |"],
        ["|: G  | C  :|x3", "|: Am | D7 :|x12", "|  G  | G   |"],
    ),
    (
        ["| (pickup 1/4) D7 | G | C |", "| Am | D7 |"],
        ["| (pickup 1/4) D7 | G  | C  |", "                  | Am | D7 |"],
    ),
    (
        ["(pickup 1/4) D7 |", "| Am | D7 |"],
        ["  (pickup 1/4) D7 |", "| Am              | D7 |"],
    ),
    (
        ["| G :||: C :|", "| Am :| |: D7 :|", "| G | C |"],
        ["| G  :||:  C  :|", "| Am :| |: D7 :|", "| G   |    C   |"],
    ),
]


@st.composite
def loose(draw: DrawFn) -> str:
    """Return a chart with random spaces in its lines of bars."""
    blanks = st.sampled_from([" ", "  ", "\t", "\u00a0 "])
    lines = write_chart(draw(charts())).split("\n")
    for number, line in enumerate(lines):
        if line.lstrip().startswith("|"):
            spaced = re.sub(" +", lambda _: draw(blanks), line)
            lines[number] = draw(st.sampled_from(["", "  "])) + re.sub(r"\s+(?=[|:])", "", spaced)
    return draw(st.sampled_from(["\n", "\r\n", "\r"])).join(lines)


def without_blanks(text: str) -> str:
    """Return a text without spaces, except line ends."""
    return re.sub(r"[^\S\r\n]", "", text)


@examples(50)
@given(loose())
def test_only_blanks_change(text: str) -> None:
    """Tidying changes only spaces, keeps the chart, and changes nothing the second time."""
    tidy = tidy_text(text)
    assert without_blanks(text) == without_blanks(tidy)
    assert read_chart(text) == read_chart(tidy)
    assert tidy == tidy_text(tidy)


@given(spoilt())
def test_odd_charts(text: str) -> None:
    """The same is true of every valid text; others are refused."""
    try:
        chart = read_chart(text)
    except ChartError:
        with pytest.raises(ChartError, match="chart:"):
            tidy_text(text)
        return
    tidy = tidy_text(text)
    assert chart == read_chart(tidy)
    assert without_blanks(text) == without_blanks(tidy)
    assert tidy == tidy_text(tidy)


def test_whole_chart() -> None:
    """Bars are aligned part by part; comments, headers and blank lines do not change."""
    assert tidy_text(LOOSE) == TIDY


@pytest.mark.parametrize("lines, expected", ALIGNED)
def test_aligned(lines: list[str], expected: list[str]) -> None:
    """Bar lines are in columns, with the colons of repeats at their sides."""
    assert expected == tidy_text("\n".join(lines)).split("\n")


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_line_ends_stay(end: str) -> None:
    """Line ends, a byte order mark and a missing last line end do not change."""
    before = "\ufefftitle: x  \n\n| C|\n|  Am |"
    after = "\ufefftitle: x\n\n| C  |\n| Am |"
    assert after.replace("\n", end) == tidy_text(before.replace("\n", end))


def test_numbers_close_to_bar_lines() -> None:
    """A chord gets a space after its bar line, an ending does not."""
    assert tidy_text("key: G\n|1 |4 |57 |1 |") == "key: G\n| 1 | 4 | 57 | 1 |"
    assert tidy_text("key: G\n| 1 |1 4  :|2 5  |") == "key: G\n| 1 |1 4 :|2 5 |"


def test_faults() -> None:
    """A chart with faults is not changed."""
    with pytest.raises(ChartError, match=r"low\.chart:1:3: 'H' is not a chord"):
        tidy_text("| H |", "low.chart")
