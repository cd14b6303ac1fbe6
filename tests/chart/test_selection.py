"""Selections of parts and bars, counted by hand."""

from __future__ import annotations

import pytest

from backing.chart.read import read_chart
from backing.chart.selection import bars_of, form_index_of, part_of
from backing.errors import SettingsError

CHART = read_chart("form: A A B A\n[A]\n|: C | F :|\n[B]\n(pickup 1/4) G7 | G | Am | F |\n", "x")
NAMED = read_chart("form: A B A-B A\n[A]\n| C |\n[B]\n| F | G |\n[A-B]\n| G |\n", "x")


@pytest.mark.parametrize(
    "text, bars",
    [
        ("A", (0, 3)), ("a", (0, 3)), ("A 2", (4, 7)), ("A  3", (11, 14)),
        ("B", (8, 10)), ("A-B", (0, 10)), ("A 2-B", (4, 10)), ("B-A", (8, 14)), ("B - A", (8, 14)),
        ("A-A", (0, 3)), ("A-A 2", (0, 7)), ("A 2-A 3", (4, 14)),
        ("1", (0, 0)), ("5-8", (4, 7)), ("15-15", (14, 14)), ("1 - 15", (0, 14)),
    ],
)  # fmt: skip
def test_bars_of_a_selection(text: str, bars: tuple[int, int]) -> None:
    """Bars count from 0 through the form, with repeats and without pickups."""
    assert bars_of(CHART, text) == bars


@pytest.mark.parametrize(
    "text, bars", [("A-B", (3, 3)), ("a-b 1", (3, 3)), ("B-A", (1, 4)), ("1-3", (0, 2))]
)
def test_what_is_the_name_of_a_part_is_that_part(text: str, bars: tuple[int, int]) -> None:
    """A name with a hyphen is preferred to several parts."""
    assert bars_of(NAMED, text) == bars


@pytest.mark.parametrize(
    "text, told",
    [
        ("Z", "'Z' is not a part: choose from A, B"),
        ("A 4", "A 4: A comes 3 times in the form"),
        ("B-A 2", "part A 2 does not come after part B"),
        ("8-5", "bars 8-5: the first is after the last; write 5-8"),
        ("0-3", "bars 0-3: the form has bars 1 to 15"),
        ("16", "bars 16: the form has bars 1 to 15"),
        ("", "'' is not a part: choose from A, B"),
    ],
)
def test_missing_parts_and_bars(text: str, told: str) -> None:
    """The fault has what was found and what there is."""
    with pytest.raises(SettingsError) as caught:
        bars_of(CHART, text)
    assert str(caught.value) == told


def test_a_part_and_its_place() -> None:
    """A part has its name as written; without a number it is the first occurrence."""
    assert part_of(CHART, " b ") == ("B", None)
    assert part_of(CHART, "a 2") == ("A", 1)
    assert [form_index_of(CHART, "A", which) for which in (None, 0, 1, 2)] == [0, 0, 1, 3]
