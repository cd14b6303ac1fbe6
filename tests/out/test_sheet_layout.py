"""Sheets measured: nothing cut, nothing covered, one page where it can be."""

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
from tests.out.sheets import CHARTS, faults, on_black, sheet_of

if TYPE_CHECKING:
    from backing.chart.model import Chart

DEMOS = sorted(Path("demos").glob("*.chart"))
LONG = ("20 parts", "64 bars", "long words")
"""Charts that take long to lay out, and are laid out in one look only."""

SQUEEZED = MARGIN - 1.0
"""A thick final bar line may reach half its width over the edge of the bars."""


@pytest.mark.parametrize("name", CHARTS)
def test_nothing_is_cut_or_covered_on_odd_sheets(name: str) -> None:
    """Every mark stands within the margins, and no text on another or on a line."""
    for page in pages_of(sheet_of(CHARTS[name]), SheetStyle()):
        assert faults(page, SQUEEZED) == []
        assert on_black(page) == []


@pytest.mark.slow
@pytest.mark.parametrize("name", [name for name in CHARTS if name not in LONG])
def test_nothing_is_cut_or_covered_in_any_look(name: str) -> None:
    """The same on both papers, in both prints, with shapes below, above and none."""
    for paper, large, shapes in product(PAPERS, (False, True), SHAPES):
        sheet = sheet_of(CHARTS[name], instrument=None if shapes == "none" else "mandolin")
        for page in pages_of(sheet, SheetStyle(paper, large, shapes)):
            assert (paper, large, shapes, []) == (paper, large, shapes, faults(page, SQUEEZED))
            assert on_black(page) == []


def test_what_measures_pages_finds_faults() -> None:
    """A chord moved onto its neighbour, onto a bar line or over the edge is told."""
    (page,) = pages_of(
        sheet_of("| C | G7 | Am | F |\n", instrument=None), SheetStyle(shapes="none")
    )
    chord = next(m for m in page.marks if isinstance(m, Text) and m.text == "G7")
    other = next(m for m in page.marks if isinstance(m, Text) and m.text == "Am")

    for dx, said in ((other.x - chord.x, "overlap"), (-9.0, "stands on"), (-600.0, "margin")):
        marks = tuple(m.moved(dx, 0) if m is chord else m for m in page.marks)
        assert any(said in told for told in faults(replace(page, marks=marks), SQUEEZED))


@pytest.mark.slow
@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_demos_stand_on_one_page_each(path: Path) -> None:
    """Every demo has one page in ordinary print, with a guitar's left-handed shapes as well."""
    sheet = sheet_of(load_chart(str(path)), instrument="guitar", left=True)

    pages = pages_of(sheet, SheetStyle())
    assert len(pages) == 1
    assert faults(pages[0], SQUEEZED) == []


@pytest.mark.slow
@examples(12)
@given(charts())
def test_nothing_is_cut_or_covered_on_any_sheet(chart: Chart) -> None:
    """The same for charts made up, in letters and in Roman numerals."""
    for spell, large in ((letter_text, False), (roman_text, True)):
        sheet = sheet_of(chart, spell=spell, instrument=None)
        for page in pages_of(sheet, SheetStyle(large=large, shapes="none")):
            assert faults(page, SQUEEZED) == []


def test_large_print_is_larger() -> None:
    """Chords in large print are at least 24 points, ordinary ones at least 12."""
    sizes = {}
    for large in (False, True):
        sheet = sheet_of("title: x\n| C | G7 |\n", instrument=None)
        texts = [
            m for m in pages_of(sheet, SheetStyle(large=large))[0].marks if isinstance(m, Text)
        ]
        sizes[large] = next(m.runs[0].size for m in texts if m.text == "G7")

    assert sizes[False] >= 12
    assert sizes[True] >= 24


def test_chords_stand_at_their_beats_or_give_way() -> None:
    """What has room stands where it belongs; what has none moves, and never beyond the ends."""
    assert spread([0, 50], [10, 10], 5, 0, 100) == [0, 50]
    assert spread([0, 50], [60, 10], 5, 0, 100) == [0, 65]
    assert spread([0, 75], [10, 40], 5, 0, 100) == [0, 60]
    assert spread([0, 50, 75], [30, 30, 30], 5, 0, 100) == [0, 35, 70]


def test_chords_between_beats_stand_between_them() -> None:
    """As far along their bar as they come in it, their lengths above them, and no strokes."""
    text = '| N.C. | A:5/8 B:3/8 "stop" | C D | E / / F |\n'
    (page,) = pages_of(sheet_of(text, instrument=None), SheetStyle())
    texts = {m.text: m for m in page.marks if isinstance(m, Text)}
    x = {name: texts[name].x for name in "ABCDEF"}
    assert (x["B"] - x["A"]) / (x["D"] - x["C"]) == pytest.approx((5 / 8) / (1 / 2), abs=0.01)
    for chord, above in (("A", "5/8"), ("B", "3/8, stop")):
        assert texts[above].x <= x[chord]
        assert texts[above].y < texts[chord].y
    strokes = [m.x1 for m in page.marks if isinstance(m, Line) and m.x1 != m.x2 and m.y1 != m.y2]
    assert len(strokes) == 2
    assert min(strokes) > x["E"]


def test_a_songbook_names_pages_rightly() -> None:
    """Contents and index give the page on which each tune begins, and lead there."""
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
