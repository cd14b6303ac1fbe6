"""Sheet files, read by independent libraries and programs."""

from __future__ import annotations

import io
import shutil
import subprocess
import xml.etree.ElementTree as ET
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from pypdf import PdfReader

from backing.chart.read import load_chart, read_chart
from backing.chart.transpose import in_key
from backing.harmony.numbers import letter_text, number_text, roman_text
from backing.out.sheet.pages import pages_of
from backing.out.sheet.pdf import pdf_bytes
from backing.out.sheet.songbook import songbook
from backing.out.sheet.style import SheetStyle
from backing.out.sheet.svg import svg_bytes
from tests.out.sheets import CHARTS, sheet_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backing.chart.model import Chart
    from backing.chart.write import Spell
    from backing.out.sheet.style import Sheet

DEMOS = sorted(Path("demos").glob("*.chart"))
TWELVE = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
SVG = "{http://www.w3.org/2000/svg}"


def expected(chart: Chart, spell: Spell = letter_text) -> list[str]:
    """Return the name and the chords of each part in order, as the text must have them."""
    words = []
    for part in chart.parts:
        words.append(part.name)
        for bar in part.written():
            for span in bar.chords:
                text = spell(span.chord, part.key or chart.key) if span.chord else "N.C."
                words.append(text.replace("#", "♯").replace("b", "♭"))
    return words


def made(sheet: Sheet, style: SheetStyle | None = None) -> bytes:
    """Return the PDF file of a sheet."""
    return pdf_bytes(pages_of(sheet, style or SheetStyle()), sheet.chart.title, sheet.chart.by)


def by_pypdf(data: bytes) -> list[list[str]]:
    """Return the words of each page by pypdf."""
    return [page.extract_text().split() for page in PdfReader(io.BytesIO(data)).pages]


def by_pdftotext(data: bytes) -> list[list[str]]:
    """Return the words of each page by Poppler's pdftotext, in the order of the file."""
    done = subprocess.run(
        ["pdftotext", "-raw", "-", "-"], input=data, capture_output=True, check=True
    )
    return [page.split() for page in done.stdout.decode().split("\f")[:-1]]


READERS = [by_pypdf, *([by_pdftotext] if shutil.which("pdftotext") else [])]


def has_run(words: Sequence[str], run: Sequence[str]) -> bool:
    """Return whether a run of words occurs without anything in between."""
    return any(list(words[i : i + len(run)]) == list(run) for i in range(len(words)))


@pytest.mark.parametrize("key", TWELVE)
def test_the_text_is_the_chart_in_every_key(key: str) -> None:
    """The text has each part's name and chords in order, with nothing in between."""
    chart = in_key(load_chart("demos/quarry-hill.chart"), key).plain()
    data = made(sheet_of(chart, instrument=None))

    for reader in READERS:
        (words,) = reader(data)
        assert has_run(words, expected(chart)), words


@pytest.mark.slow
@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_the_text_is_the_chart_for_every_demo(path: Path) -> None:
    """Repeats, endings, pickups, directions and meters do not separate chords."""
    chart = load_chart(str(path))
    data = made(sheet_of(chart))

    for reader in READERS:
        (words,) = reader(data)
        assert has_run(words, expected(chart)), words


@pytest.mark.parametrize("spell", [letter_text, number_text, roman_text])
def test_the_text_of_odd_chords(spell: Spell) -> None:
    """Long names, slash chords and altered chords are complete in each spelling."""
    chart = read_chart(CHARTS["odd"].replace("Interlude-lost-umbrellas", "Interlude"))
    (words,) = by_pypdf(
        made(sheet_of(chart, spell=spell, instrument=None), SheetStyle(shapes="none"))
    )

    assert has_run(words, expected(chart, spell)), words


def test_the_text_over_several_pages() -> None:
    """Parts continue over pages in order; other texts come before and after."""
    chart = read_chart(CHARTS["20 parts"])
    data = made(sheet_of(chart, instrument=None))

    for reader in READERS:
        pages = reader(data)
        assert len(pages) == 2
        left = iter([word for page in pages for word in page])
        assert all(word in left for word in expected(chart))


def test_fonts_are_embedded_subsets() -> None:
    """Each font is embedded as a subset that is far smaller than the font."""
    reader = PdfReader(io.BytesIO(made(sheet_of(load_chart("demos/quarry-hill.chart")))))
    fonts = reader.pages[0]["/Resources"]["/Font"].values()

    names = []
    for font in fonts:
        inner = font.get_object()["/DescendantFonts"][0].get_object()
        names.append(inner["/BaseFont"])
        program = inner["/FontDescriptor"].get_object()["/FontFile2"].get_object().get_data()
        assert 1_000 < len(program) < 30_000
    assert len(names) == 3
    assert all(name[7] == "+" for name in names)


def test_a_sheet_has_no_images() -> None:
    """A page consists of vectors alone."""
    reader = PdfReader(io.BytesIO(made(sheet_of(load_chart("demos/brass-button.chart")))))

    assert [len(page.images) for page in reader.pages] == [0]


def test_document_information() -> None:
    """Title and author are the chart's, and the same chart gives the same bytes."""
    sheet = sheet_of(CHARTS["odd"])
    data = made(sheet)

    about = PdfReader(io.BytesIO(data)).metadata
    assert (about.title, about.author) == (sheet.chart.title, sheet.chart.by)
    assert data == made(sheet)


def test_paper() -> None:
    """A4 is 210 by 297 mm (ISO 216), Letter 8.5 by 11 inches."""
    for paper, size in (("a4", (210 / 25.4 * 72, 297 / 25.4 * 72)), ("letter", (612, 792))):
        reader = PdfReader(io.BytesIO(made(sheet_of("| C |\n"), SheetStyle(paper))))
        box = reader.pages[0].mediabox
        assert (float(box.width), float(box.height)) == pytest.approx(size, abs=0.05)


def test_a_songbook_has_bookmarks_and_links() -> None:
    """Bookmarks lead to contents, tunes and index; links in the contents lead to the tunes."""
    sheets = [sheet_of(load_chart(str(path)), instrument=None) for path in DEMOS[:4]]
    reader = PdfReader(io.BytesIO(pdf_bytes(songbook(sheets, SheetStyle()), "book")))

    outline = [(mark.title, reader.get_destination_page_number(mark)) for mark in reader.outline]
    titles = [sheet.chart.title for sheet in sheets]
    assert outline == [(title, n) for n, title in enumerate(["Contents", *titles, "By key"])]
    pages = [page.indirect_reference.idnum for page in reader.pages]
    links = [note.get_object()["/Dest"][0].idnum for note in reader.pages[0]["/Annots"]]
    assert [pages.index(link) for link in links] == [1, 2, 3, 4]


def test_svg_reads_as_the_chart_too() -> None:
    """An SVG file has the chords as text in order, embedded fonts and no images."""
    chart = in_key(load_chart("demos/twice-mended-fence.chart"), "Db").plain()
    data = svg_bytes(pages_of(sheet_of(chart), SheetStyle()), "a < b & c\x00")

    root = ET.fromstring(data)
    words = [w for text in root.iter(f"{SVG}text") for w in "".join(text.itertext()).split()]
    assert has_run(words, expected(chart))
    assert root.find(f"{SVG}title").text == "a < b & c"
    assert data.count(b"@font-face") == 3
    assert b"<image" not in data


def test_svg_has_pages_below_each_other() -> None:
    """A drawing of two pages has the height of both and the space between."""
    pages = pages_of(sheet_of(CHARTS["20 parts"], instrument=None), SheetStyle())
    root = ET.fromstring(svg_bytes(pages, "x"))

    height = float(root.get("viewBox").split()[3])
    assert height == pytest.approx(2 * pages[0].height + 12, abs=1)
