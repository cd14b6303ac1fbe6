"""The bands of the table are those of the reference, with both their sides."""

from __future__ import annotations

import math
import re

import pytest

from .musicianship import TABLE
from .reference import DOCUMENT, Entry, check, entries, read_entries
from .rows import OURS, REFERENCE, TRADE, judged

NAMES = sorted(entries())
OPEN = {"short note", "players apart at a hit"}
"""What a source, or our choice, bounds on one side only."""


def test_an_entry_is_read_with_its_ends() -> None:
    """A table is read by its head; other tables and the text around it are not."""
    text = (
        "| a | b |\n|---|---|\n| 1 | 2 |\n\n"
        "| entry | low | high | unit | of | source |\n|---|---|---|---|---|---|\n"
        "| lag | -3.5 | 2 | ms | 4 takes | GMD |\n| gap | | 19 | ms | pairs | JNMR |\n\n| x | y |\n"
    )
    assert read_entries(text) == [
        Entry("lag", -3.5, 2, "ms", "4 takes", "GMD"),
        Entry("gap", -math.inf, 19, "ms", "pairs", "JNMR"),
    ]


def test_every_name_is_there_once() -> None:
    """Entry names are unique, and no row matches an entry by accident."""
    names = [each.name for each in read_entries(DOCUMENT.read_text(encoding="utf-8"))]
    assert sorted(names) == NAMES


@pytest.mark.parametrize("name", NAMES)
def test_a_band_has_two_sides(name: str) -> None:
    """Both ends of a band lie in it, and values beyond them do not."""
    entry = entries()[name]
    sides = [each for each in (entry.low, entry.high) if math.isfinite(each)]
    assert len(sides) == (1 if name in OPEN else 2)
    assert entry.low < entry.high
    for end in sides:
        assert check(name, end).is_good
    for value in (entry.low - 0.01, entry.high + 0.01):
        if math.isfinite(value):
            assert not judged([check(name, value)], "").is_good


@pytest.mark.parametrize("name", NAMES)
def test_every_source_is_explained(name: str) -> None:
    """The head of the document lists the short names of sources."""
    known = set(re.findall(r"^- \*\*(\w+)\*\*", DOCUMENT.read_text(encoding="utf-8"), re.M))
    assert set(entries()[name].source.split(", ")) <= known


def test_every_row_says_what_it_rests_on() -> None:
    """A row has entries, or is common practice, or ours; and every entry has a row."""
    for row in TABLE:
        assert row.source == (REFERENCE if row.entries else row.source)
        assert row.entries or row.source in (TRADE, OURS)
        for begin in row.entries:
            assert any(name.startswith(begin) for name in NAMES), begin
    assert all(name.startswith(tuple(e for row in TABLE for e in row.entries)) for name in NAMES)


@pytest.mark.parametrize("row", [row for row in TABLE if row.entries], ids=lambda row: row.name)
def test_a_row_prints_the_bands_of_the_reference(row: object) -> None:
    """The printed band of a row is read from the document."""
    assert hasattr(row, "entries")
    assert hasattr(row, "band")
    for name in NAMES:
        entry = entries()[name]
        assert (f"{entry.low:g} to {entry.high:g}" in row.band) or not name.startswith(row.entries)


@pytest.mark.parametrize(
    "name, value",
    [
        ("time's spread, swing", 7),
        ("kick minus cymbal, scatter, swing", 0),
        ("bass minus cymbal, scatter", 0),
        ("backbeat, shuffle", 53),
        ("walking bars with four notes", 64),
    ],
)
def test_too_little_and_too_much_are_misses(name: str, value: float) -> None:
    """Perfect evenness is outside the bands, and so is twice the human deviation."""
    assert not check(name, value).is_good
