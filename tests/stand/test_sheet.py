"""The chart as a client shows it: as written, in the sounding key, with chord shapes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from properties import examples

from backing.chart.read import read_chart
from backing.chart.transpose import by_semitones
from backing.fretboard.instrument import instrument_files
from backing.fretboard.request import FrettingSettings
from backing.notes import Player
from backing.performance.performance import Performance
from backing.performance.settings import Settings
from backing.stand.sheet import (
    PageBar,
    Sheet,
    SheetSource,
    View,
    chart_fields,
    parts_of,
    sheet,
)
from tests.chart.strategies import charts

if TYPE_CHECKING:
    from backing.chart.model import Chart

ENDINGS = read_chart(
    "title: Gate\nby: Nobody\nkey: D\ntempo: 110\nform: A B A\n"
    "[A] 12\n| (pickup 1/4) A7 |: D | G | D | Em |1 A7 | A7 :|2 D | D |\n"
    '[B]\nmeter: 3/4\n| "stop" Bm | Bm | (2/4) A7 | D / A "push" |\n|: G | A7 :|x3\n'
)


def _bars(written: Sheet, part: int) -> list[PageBar]:
    return [bar for row in parts_of(written)[part].rows for bar in row]


def test_repeats_and_endings_stand_as_written() -> None:
    """A row has four bars and may have a pickup besides; repeats and endings begin a row."""
    written = sheet(SheetSource(ENDINGS, 0), View())
    rows = parts_of(written)[0].rows
    bars = _bars(written, 0)
    cells = [bar.cell for bar in bars]

    assert [len(row) for row in rows] == [5, 2, 2]
    assert [cell.written for cell in cells] == list(range(9))
    assert ["pickup" in bar.classes.split() for bar in bars] == [True, *[False] * 8]
    assert [cell.opens for cell in cells] == [False, True, *[False] * 7]
    assert [bar.ending for bar in bars] == [""] * 5 + ["1", "", "2", ""]
    assert [bool(cell.closes) for cell in cells] == [False] * 6 + [True, False, False]
    chart = written.chart
    assert (chart.title, chart.by, chart.order) == ("Gate", "Nobody", ("A", "B", "A"))


def test_a_bar_is_like_the_one_that_is_played_before_it() -> None:
    """The sign for a repeated bar depends on every bar that may be played before it."""
    text = "key: D\n|: D | G | A7 |1 D :|2 D | A7 |\n"
    bars = _bars(sheet(SheetSource(read_chart(text)), View()), 0)
    assert [bar.cell.same for bar in bars] == [False] * 6
    text = "key: D\n| D |: D | G :|2 G | G |\n".replace(":|2 G | G |", ":| G | G |")
    bars = _bars(sheet(SheetSource(read_chart(text)), View()), 0)
    assert [bar.cell.same for bar in bars] == [False, False, False, True, True]


def test_a_bar_has_meter_directions_and_label() -> None:
    """A bar has its meter where that differs, directions at its chords, and a label."""
    bars = _bars(sheet(SheetSource(ENDINGS, 0), View()), 1)

    assert [each.directions for each in bars[0].chords] == ["stop"]
    assert [bar.cell.same for bar in bars[:3]] == [False, True, False]
    assert [bar.meter for bar in bars[:4]] == ["", "", "2/4", ""]
    assert [(each.text, each.beats) for each in bars[3].chords] == [("D", 2), ("A", 1)]
    assert [each.directions for each in bars[3].chords] == ["", "push"]
    assert "repeat-start" in bars[4].classes
    assert bars[5].cell.closes == 3
    assert bars[5].label == "bar 6, A 7, repeat, 3 times in all"


def test_it_is_shown_in_the_key_that_sounds() -> None:
    """Two semitones higher D is E; numbers stay the same."""
    letters = sheet(SheetSource(ENDINGS, 2), View())
    numbers, higher = (sheet(SheetSource(ENDINGS, up), View("numbers")) for up in (0, 5))
    roman = sheet(SheetSource(ENDINGS, 0), View("roman"))

    assert str(letters.chart.key) == "E"
    assert [each.text for each in _bars(letters, 0)[1].chords] == ["E"]
    assert [bar.chords for bar in _bars(numbers, 0)] == [bar.chords for bar in _bars(higher, 0)]
    assert _bars(roman, 1)[0].chords[0].text == "vi"


@examples(25)
@given(charts())
def test_every_written_bar_is_shown_once(chart: Chart) -> None:
    """Bars are in order, with all their chords as the chart writes them."""
    written = sheet(SheetSource(chart, 0), View())
    plain = chart.plain()
    for number, part in enumerate(plain.parts):
        shown = _bars(written, number)
        bars = list(part.written())
        assert [each.cell.written for each in shown] == list(range(len(bars)))
        for each, bar in zip(shown, bars, strict=True):
            texts = [str(span.chord) if span.chord else "N.C." for span in bar.chords]
            assert [chord.text for chord in each.chords] == texts


@pytest.mark.parametrize("instrument", [None, *instrument_files()])
def test_every_chord_has_a_shape_that_is_drawn(instrument: str | None) -> None:
    """Every instrument has shapes; drawings have no inline styles, which the policy forbids."""
    written = sheet(SheetSource(ENDINGS, 0, None, FrettingSettings(instrument)), View(shapes=True))
    bars = [bar for part in (0, 1) for bar in _bars(written, part)]
    chords = [chord for bar in bars for chord in bar.chords]

    assert written.shapes.fault is None
    assert {shape for chord in chords for shape in chord.shapes} == set(written.shapes.drawings())
    for chord in (chord for bar in bars if not bar.cell.same for chord in bar.chords):
        assert sorted(number for paths in chord.shapes.values() for number in paths) == [0, 1, 2]
    for shape in written.shapes.drawings():
        assert shape.svg.startswith("<svg")
        assert "style=" not in shape.svg


BAND = read_chart(
    "key: G\ntempo: 160\n[A] 6\n| G | C7 | Am7 D7 | G | % | % |\n[B] 2\n| Em7 | A7 |\n"
)


def _shown(written: Sheet, path: int) -> list[list[tuple[int, ...]]]:
    """Return the keys of the shapes that are shown for each bar in a path of the chop."""
    found: list[list[tuple[int, ...]]] = []
    for part in (0, 1):
        for bar in _bars(written, part):
            keys = [
                shape.keys
                for chord in bar.chords
                for shape, paths in chord.shapes.items()
                if path in paths
            ]
            found.append(keys or found[-1])  # a repeated bar shows what differs from the one before
    return found


@pytest.mark.parametrize("instrument", [None, "tenor-banjo"])
@pytest.mark.parametrize("style", [None, "swing", "bossa-nova", "western-swing"])
def test_the_shapes_of_the_band_are_what_its_chop_plays(
    style: str | None, instrument: str | None
) -> None:
    """The shapes of each bar, in the path of its chorus, have the notes of the chop."""
    fretting = FrettingSettings(instrument)
    written = sheet(SheetSource(BAND, 2, style, fretting), View(shapes=True))
    performance = Performance(
        by_semitones(BAND, 2), Settings(style=style, choruses=8, looseness=0, fretting=fretting)
    )
    numbers = set()
    for number in range(64):
        bar, after = performance.bar(number), performance.bar((number + 1) % 64)
        numbers.add(bar.path)
        keys = _shown(written, bar.path)[number % 8]
        struck = {note.pitch for note in bar.notes if note.player is Player.CHOP}
        near = [*keys, *_shown(written, after.path)[(number + 1) % 8]]
        assert struck
        assert struck <= {key for shape in near for key in shape}  # anticipated chords
        assert any(set(shape) <= struck for shape in keys)
    assert len(numbers) >= 2


def test_a_repeated_bar_shows_the_inversion_it_walks_to() -> None:
    """In the first path a lasting chord keeps its shape; in a later one it moves and is drawn."""
    written = sheet(SheetSource(BAND, 0, "swing"), View(shapes=True))
    first, second, third = (_bars(written, 0)[number].chords[0].shapes for number in (3, 4, 5))
    assert {0} <= {number for paths in first.values() for number in paths}
    walked = {number for paths in second.values() for number in paths}
    assert walked
    assert 0 not in walked
    assert {number for paths in third.values() for number in paths} == walked
    html = str(chart_fields(written)["html"])
    assert html.count('class="shape" data-path=') == html.count("<svg")


def test_an_unknown_instrument_is_an_error() -> None:
    """The chart is shown without shapes, with the error."""
    written = sheet(SheetSource(ENDINGS, 0, None, FrettingSettings("kazoo")), View(shapes=True))

    assert written.shapes.fault
    assert "'kazoo' is not an instrument" in written.shapes.fault
    assert not written.shapes.paths
    assert _bars(written, 0)[1].chords[0].text == "D"
