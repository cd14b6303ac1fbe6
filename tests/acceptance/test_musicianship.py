"""Every style is played as its trade and the datasets have it; figures and sources in `rows`.

The short run listens to a few takes at the usual tempo and leaves out what many takes or tempi are
needed for; the long one is the whole table, as `python -m tests.acceptance.musicianship` prints it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from backing.style.library import find_style, style_files

from .ears import Evidence, Quick, listen
from .laws import broken_laws
from .musicianship import TABLE
from .rows import (
    bass_after_cymbal,
    form,
    swings,
    swings_lightly,
    variety,
    walking_bars,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

DAILY = {"jig", "shuffle", "swing", "two-beat"}
"""The styles that every run listens to; the others are listened to by hand, with `-m long`."""

SOME = [
    name if name in DAILY else pytest.param(name, marks=pytest.mark.long) for name in style_files()
]

NEED_MANY = {bass_after_cymbal, form, swings, swings_lightly, variety, walking_bars}


@pytest.fixture(autouse=True)
def _forgetful() -> Iterator[None]:
    """Keep no takes from one style to the next."""
    yield
    listen.cache_clear()


@pytest.mark.parametrize("name", SOME)
def test_a_few_takes(name: str) -> None:
    """What a few takes can show lies in its band."""
    evidence = Quick(find_style(name), 2)
    figures = {row.name: row.measure(evidence) for row in TABLE if row.measure not in NEED_MANY}
    measured = {name: figure for name, figure in figures.items() if figure}
    assert len(measured) >= 4
    assert not [f"{name}: {each.text}" for name, each in measured.items() if not each.is_good]


@pytest.mark.parametrize("name", SOME)
def test_laws(name: str) -> None:
    """In a few keys, tempi and charts no law is broken."""
    assert not broken_laws(find_style(name), sample=True)


@pytest.mark.long
@pytest.mark.parametrize("name", style_files())
def test_the_whole_table(name: str) -> None:
    """All rows lie in their bands over twenty seeds and all tempi."""
    evidence = Evidence(find_style(name), 20)
    figures = {row.name: row.measure(evidence) for row in TABLE}
    assert not [
        f"{name}: {each.text}" for name, each in figures.items() if each and not each.is_good
    ]


@pytest.mark.long
@pytest.mark.parametrize("name", style_files())
def test_all_laws(name: str) -> None:
    """In twelve keys, at the ends and in the middle of its tempi, no law is broken."""
    assert not broken_laws(find_style(name))
