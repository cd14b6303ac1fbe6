"""Layout of sheets: nothing is cut or covered, and one page is enough if possible."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from properties import examples

from backing.chart.read import load_chart
from backing.harmony.numbers import letter_text, roman_text
from backing.out.sheet.cell import spread
from backing.out.sheet.marks import Line, Text
from backing.out.sheet.pages import pages_of
from backing.out.sheet.songbook import songbook
from backing.out.sheet.style import MARGIN, PAPERS, SHAPES, SheetStyle
from tests.chart.strategies import charts
from tests.out.sheets import CHARTS, faults, on_black, sheet_of, text_of

if TYPE_CHECKING:
    from backing.chart.model import Chart

DEMOS = sorted(Path("demos").glob("*.chart"))
LONG = ("20 parts", "64 bars", "long words")
"""Charts that take long to lay out; tested in one style only."""

SQUEEZED = MARGIN - 1.0
"""A thick final bar line may extend half its width into the margin."""


@pytest.mark.parametrize("name", CHARTS)
def test_nothing_is_cut_or_covered_on_odd_sheets(name: str) -> None:
    """Every mark is within the margins, and no text is on another or on a line."""
    for page in pages_of(sheet_of(CHARTS[name]), SheetStyle()):
        assert faults(page, SQUEEZED) == []
        assert on_black(page) == []


@pytest.mark.slow
@pytest.mark.parametrize("name", [name for name in CHARTS if name not in LONG])
def test_nothing_is_cut_or_covered_in_any_style(name: str) -> None:
    """The same for each paper, print size and place of shapes."""
    for paper, large, shapes in product(PAPERS, (False, True), SHAPES):
        sheet = sheet_of(CHARTS[name], instrument=None if shapes == "none" else "mandolin")
        for page in pages_of(sheet, SheetStyle(paper, large, shapes)):
            assert (paper, large, shapes, []) == (paper, large, shapes, faults(page, SQUEEZED))
            assert on_black(page) == []


def test_the_checks_find_faults() -> None:
    """A chord moved onto its neighbour, a bar line or the margin is reported."""
    (page,) = pages_of(
        sheet_of("| C | G7 | Am | F |\n", instrument=None), SheetStyle(shapes="none")
    )
    chord = next(m for m in page.marks if isinstance(m, Text) and text_of(m) == "G7")
    other = next(m for m in page.marks if isinstance(m, Text) and text_of(m) == "Am")

    for dx, fault in ((other.x - chord.x, "overlap"), (-9.0, "stands on"), (-600.0, "margin")):
        marks = tuple(m.moved(dx, 0) if m is chord else m for m in page.marks)
        assert any(fault in each for each in faults(replace(page, marks=marks), SQUEEZED))


@pytest.mark.slow
@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_demos_stand_on_one_page_each(path: Path) -> None:
    """Every demo fits on a page in ordinary print, with left-handed guitar shapes."""
    sheet = sheet_of(load_chart(str(path)), instrument="guitar", left=True)

    pages = pages_of(sheet, SheetStyle())
    assert len(pages) == 1
    assert faults(pages[0], SQUEEZED) == []


@pytest.mark.slow
@examples(12)
@given(charts())
def test_nothing_is_cut_or_covered_on_any_sheet(chart: Chart) -> None:
    """The same for generated charts, in letters and in Roman numerals."""
    for spell, large in ((letter_text, False), (roman_text, True)):
        sheet = sheet_of(chart, spell=spell, instrument=None)
        for page in pages_of(sheet, SheetStyle(large=large, shapes="none")):
            assert faults(page, SQUEEZED) == []


def test_large_print_is_larger() -> None:
    """Chords have at least 24 points in large print, 12 in ordinary print."""
    sizes = {}
    for large in (False, True):
        sheet = sheet_of("title: x\n| C | G7 |\n", instrument=None)
        texts = [
            m for m in pages_of(sheet, SheetStyle(large=large))[0].marks if isinstance(m, Text)
        ]
        sizes[large] = next(m.runs[0].size for m in texts if text_of(m) == "G7")

    assert sizes[False] >= 12
    assert sizes[True] >= 24


def test_chords_stand_at_their_beats_or_give_way() -> None:
    """Positions are ideal where there is room; otherwise they move, within the limits."""
    assert spread([0, 50], [10, 10], 5, 0, 100) == [0, 50]
    assert spread([0, 50], [60, 10], 5, 0, 100) == [0, 65]
    assert spread([0, 75], [10, 40], 5, 0, 100) == [0, 60]
    assert spread([0, 50, 75], [30, 30, 30], 5, 0, 100) == [0, 35, 70]


def test_chords_between_beats_stand_between_them() -> None:
    """Chords between beats are placed in proportion, with lengths above them and no strokes."""
    text = '| N.C. | A:5/8 B:3/8 "stop" | C D | E / / F |\n'
    (page,) = pages_of(sheet_of(text, instrument=None), SheetStyle())
    texts = {text_of(m): m for m in page.marks if isinstance(m, Text)}
    x = {name: texts[name].x for name in "ABCDEF"}
    assert (x["B"] - x["A"]) / (x["D"] - x["C"]) == pytest.approx((5 / 8) / (1 / 2), abs=0.01)
    for chord, above in (("A", "5/8"), ("B", "3/8, stop")):
        assert texts[above].x <= x[chord]
        assert texts[above].y < texts[chord].y
    strokes = [m.x1 for m in page.marks if isinstance(m, Line) and m.x1 != m.x2 and m.y1 != m.y2]
    assert len(strokes) == 2
    assert min(strokes) > x["E"]


def test_page_numbers_of_a_songbook() -> None:
    """Contents and index link to the first page of each tune."""
    names = ["Zebra", "Apple", "Twenty"]
    texts = [f"title: {names[0]}\nkey: E\n| E |\n", f"title: {names[1]}\nkey: Bb\n| Bb |\n"]
    texts.append(CHARTS["20 parts"].replace("Twenty Parts", names[2]))
    sheets = [sheet_of(text) for text in (*texts, *texts)]

    pages = songbook(sheets, SheetStyle())

    begins = [number for number, page in enumerate(pages, 1) if page.name in names]
    assert begins == [2, 3, 4, 6, 7, 8]
    assert [page.name for page in pages if page.name][:: len(begins) + 1] == ["Contents", "By key"]
    for page in pages:
        assert faults(page, SQUEEZED) == []
    links = [m.page for m in pages[0].marks if hasattr(m, "page")]
    assert links == begins
    index = [m.page for m in pages[-1].marks if hasattr(m, "page")]
    assert index == [3, 7, 4, 8, 2, 6]
