"""Every style plays within the bands of trade and datasets; figures and sources in `rows`.

The short run listens to a few takes at the usual tempo and leaves out what many takes or tempi are
needed for; the gate's is the whole table, as `python -m tests.acceptance.musicianship` prints it.
Where our players are not yet inside a band, `misses` has the figure and the test is expected to
fail: who mends the players takes the line out.
"""

from __future__ import annotations

from functools import cache

import pytest

from backing.style.library import find_style, style_files

from .ears import Evidence, Quick, listen
from .laws import broken_laws
from .misses import MISSES, missed_by
from .musicianship import TABLE
from .rows import Figure, form, shuffles, swings, swings_lightly, variety, walking_bars

DAILY = {"jig", "shuffle", "swing", "two-beat"}
"""The styles that every run listens to; the gate listens to all, with `-m slow`."""

SOME = [
    name if name in DAILY else pytest.param(name, marks=pytest.mark.slow) for name in style_files()
]

NEED_MANY = {form, shuffles, swings, swings_lightly, variety, walking_bars}
QUICK = [row for row in TABLE if row.measure not in NEED_MANY]

KNOWN = [
    pytest.param(
        name,
        row.name,
        id=f"{name}-{row.name}",
        marks=[
            pytest.mark.xfail(
                strict=True, raises=AssertionError, reason=f"known miss: {MISSES[row.name][name]}"
            ),
            *([] if name in DAILY else [pytest.mark.slow]),
        ],
    )
    for row in QUICK
    for name in MISSES.get(row.name, {})
]


@cache
def quick_figures(name: str) -> dict[str, Figure]:
    """Return the figures of a few takes of a style, by row."""
    evidence = Quick(find_style(name), 2 if name in DAILY else 4)
    figures = {row.name: row.measure(evidence) for row in QUICK}
    listen.cache_clear()
    return {row: figure for row, figure in figures.items() if figure}


@pytest.mark.parametrize("name", SOME)
def test_a_few_takes(name: str) -> None:
    """The figures of a few takes lie in their bands, except for known misses."""
    figures = quick_figures(name)
    assert len(figures) >= 4
    bad = {row: each.text for row, each in figures.items() if not each.is_good}
    assert {row: text for row, text in bad.items() if row not in missed_by(name)} == {}


@pytest.mark.parametrize("name, row", KNOWN)
def test_a_known_miss(name: str, row: str) -> None:
    """A known miss still misses; otherwise its line in `misses` must go."""
    assert quick_figures(name)[row].is_good


@pytest.mark.parametrize("name", SOME)
def test_rows_are_held_to_what_they_name(name: str) -> None:
    """A row is judged by exactly the entries that it names."""
    figures = quick_figures(name)
    for row in QUICK:
        if row.entries and row.name in figures:
            held = [each.entry.name for each in figures[row.name].checks]
            assert held
            assert all(each.startswith(row.entries) for each in held)


@pytest.mark.parametrize("name", SOME)
def test_laws(name: str) -> None:
    """In a few keys, tempi and charts no law is broken."""
    assert not broken_laws(find_style(name), sample=True)


@pytest.mark.slow
@pytest.mark.parametrize("name", style_files())
def test_the_whole_table(name: str) -> None:
    """All rows lie in their bands over twenty seeds and all tempi, except for known misses."""
    evidence = Evidence(find_style(name), 20)
    figures = {row.name: row.measure(evidence) for row in TABLE}
    listen.cache_clear()
    bad = {row for row, figure in figures.items() if figure and not figure.is_good}
    assert bad == missed_by(name)


@pytest.mark.slow
@pytest.mark.parametrize("name", style_files())
def test_all_laws(name: str) -> None:
    """In twelve keys, at the ends and in the middle of its tempi, no law is broken."""
    assert not broken_laws(find_style(name))
