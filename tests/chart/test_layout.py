"""Bars in rows, compared with rows by hand."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hypothesis import given
from properties import examples

from backing.chart.layout import rows_of
from backing.chart.read import read_chart
from backing.timing import Meter
from tests.chart.strategies import charts

if TYPE_CHECKING:
    from backing.chart.model import Chart


def _numbers(text: str) -> list[list[int]]:
    rows = rows_of(read_chart(text).parts[0], 4)
    return [[cell.number for cell in row.cells] for row in rows]


def test_rows_of_four_broken_where_repeats_and_endings_are() -> None:
    """A row has four bars, not counting a pickup; a repeat and a second ending begin a row."""
    assert _numbers("| C | C | C | C | C |\n") == [[1, 2, 3, 4], [5]]
    assert _numbers("| (pickup 1/4) G | C | C | C | C |\n") == [[0, 1, 2, 3, 4]]
    assert _numbers("| C | C |: C | C :| C |\n") == [[1, 2], [3, 4], [5]]
    assert _numbers("|: C | C |1 C | C :|2 G | G |\n") == [[1, 2, 3, 4], [5, 6]]
    assert _numbers("|: C | C | C |1 C | C :|2 G | G |\n") == [[1, 2, 3], [4, 5], [6, 7]]


def test_a_second_ending_stands_below_the_first() -> None:
    """A second ending is aligned with the first."""
    rows = rows_of(read_chart("|: C | C |1 C | C :|2 G | G |\n").parts[0], 4)

    assert [row.indent for row in rows] == [0, 2]


def test_meters_are_written_where_they_change() -> None:
    """The first bar, a bar of another meter and the next bar show their meter."""
    rows = rows_of(read_chart("style: two-beat\n| C | (2/4) C | C | C |\n").parts[0], 4)

    assert [cell.shows_meter for cell in rows[0].cells] == [True, True, True, False]
    (part,) = read_chart("| C |\n").parts
    assert not rows_of(part, 4, Meter(4, 4))[0].cells[0].shows_meter
    assert rows_of(part, 4, Meter(3, 4))[0].cells[0].shows_meter


def test_endings_of_a_later_repeat_stand_under_its_own_first_ending() -> None:
    """If the first ending has no room in its row, all endings begin at the left."""
    text = "|: C | C |1 C | C :|2 G | G |\n|: C | C | C | C |1 F :|2 G |\n"
    rows = rows_of(read_chart(text).parts[0], 4)

    assert [len(row.cells) for row in rows] == [4, 2, 4, 1, 1]
    assert [row.indent for row in rows] == [0, 2, 0, 0, 0]


def test_every_ending_begins_a_row_of_a_text() -> None:
    """In text no ending is indented."""
    text = "|: C | C |1 C | C :|2 G | G |\n"
    rows = rows_of(read_chart(text).parts[0], 4, stacked=False)

    assert [[cell.number for cell in row.cells] for row in rows] == [[1, 2], [3, 4], [5, 6]]
    assert not any(row.indent for row in rows)


@examples(40)
@given(charts())
def test_every_bar_has_its_place(chart: Chart) -> None:
    """Rows have every bar once, as written, and no more than fit."""
    for part in chart.parts:
        for columns in (1, 2, 4):
            for stacked in (True, False):
                rows = rows_of(part, columns, stacked=stacked)
                cells = [cell for row in rows for cell in row.cells]
                assert [cell.bar for cell in cells] == list(part.written())
                assert [cell.written for cell in cells] == list(range(len(cells)))
                assert [row.first for row in rows] == [True, *[False] * (len(rows) - 1)]
                for row in rows:
                    bars = sum(not cell.bar.pickup for cell in row.cells)
                    assert row.indent + bars <= columns
                    assert not any(cell.opens for cell in row.cells if cell.number > 1) or (
                        row.cells[0].opens
                    )
