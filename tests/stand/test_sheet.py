"""The chart for a page: as written, and every bar that is played has its place on it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given
from properties import examples

from backing.chart.read import read_chart
from backing.chart.transpose import by_semitones
from backing.fretboard.fretting import FrettingWish
from backing.fretboard.instrument import instrument_files
from backing.notes import Player
from backing.performance.performance import Performance
from backing.performance.settings import Settings
from backing.stand.sheet import Shown, View, sheet
from tests.chart.strategies import charts

if TYPE_CHECKING:
    from backing.chart.model import Chart

ENDINGS = read_chart(
    "title: Gate\nby: Nobody\nkey: D\ntempo: 110\nform: A B A\n"
    "[A] 12\n| (pickup 1/4) A7 |: D | G | D | Em |1 A7 | A7 :|2 D | D |\n"
    '[B]\nmeter: 3/4\n| "stop" Bm | Bm | (2/4) A7 | D / A "push" |\n|: G | A7 :|x3\n'
)


def _cells(written: dict[str, Any], part: int) -> list[dict[str, Any]]:
    return [cell for line in written["parts"][part]["lines"] for cell in line]


def test_repeats_and_endings_stand_as_written() -> None:
    """Four bars a line, a pickup over and above; a repeat and an ending begin a line."""
    written = sheet(Shown(ENDINGS, 0), View())
    lines = written["parts"][0]["lines"]
    cells = _cells(written, 0)

    assert [len(line) for line in lines] == [5, 2, 2]
    assert [cell["bar"] for cell in cells] == list(range(9))
    assert [cell["pickup"] for cell in cells] == [True, *[False] * 8]
    assert [cell["repeat_start"] for cell in cells] == [False, True, *[False] * 7]
    assert [cell["ending"] for cell in cells] == [None] * 5 + ["1", None, "2", None]
    assert [cell["repeat_end"] for cell in cells] == [0] * 6 + [1, 0, 0]
    assert (written["title"], written["by"], written["form"]) == ("Gate", "Nobody", ["A", "B", "A"])


def test_a_bar_is_like_the_one_that_is_played_before_it() -> None:
    """A second ending follows the repeat's last bar; the first bar of a repeat follows two bars."""
    text = "key: D\n|: D | G | A7 |1 D :|2 D | A7 |\n"
    cells = _cells(sheet(Shown(read_chart(text)), View()), 0)
    assert [cell["same"] for cell in cells] == [False] * 6
    text = "key: D\n| D |: D | G :|2 G | G |\n".replace(":|2 G | G |", ":| G | G |")
    cells = _cells(sheet(Shown(read_chart(text)), View()), 0)
    assert [cell["same"] for cell in cells] == [False, False, False, True, True]


def test_a_bar_says_what_is_its_own() -> None:
    """Another meter, directions at their beats, chords at theirs; a bar like the one before."""
    cells = _cells(sheet(Shown(ENDINGS, 0), View()), 1)

    assert cells[0]["directions"] == [{"beat": 0, "word": "stop"}]
    assert [cell["same"] for cell in cells[:3]] == [False, True, False]
    assert [cell["meter"] for cell in cells[:4]] == [None, None, "2/4", None]
    assert [(each["beat"], each["text"]) for each in cells[3]["chords"]] == [(0, "D"), (2, "A")]
    assert cells[3]["directions"] == [{"beat": 2, "word": "push"}]
    assert cells[4]["repeat_start"]
    assert cells[5]["repeat_end"] == 3


def test_it_is_shown_in_the_key_that_sounds() -> None:
    """Two semitones up D is E; numbers stay what they are."""
    letters = sheet(Shown(ENDINGS, 2), View())
    numbers, higher = (sheet(Shown(ENDINGS, up), View("numbers")) for up in (0, 5))

    assert letters["key"] == "E"
    assert [each["text"] for each in _cells(letters, 0)[1]["chords"]] == ["E"]
    assert _cells(numbers, 0) == _cells(higher, 0)
    assert (
        sheet(Shown(ENDINGS, 0), View("roman"))["parts"][1]["lines"][0][0]["chords"][0]["text"]
        == "vi"
    )


@examples(25)
@given(charts())
def test_every_written_bar_is_shown_once(chart: Chart) -> None:
    """In order, with all its chords, in letters that read as the chart's own chords."""
    written = sheet(Shown(chart, 0), View())
    plain = chart.plain()
    for number, part in enumerate(plain.parts):
        cells = _cells(written, number)
        bars = list(part.written())
        assert [cell["bar"] for cell in cells] == list(range(len(bars)))
        for cell, bar in zip(cells, bars, strict=True):
            texts = [str(span.chord) if span.chord else "N.C." for span in bar.chords]
            assert [each["text"] for each in cell["chords"]] == texts


@pytest.mark.parametrize("instrument", [None, *instrument_files()])
def test_every_chord_has_a_shape_that_is_drawn(instrument: str | None) -> None:
    """On each of our instruments; the drawings have no inline styles, which pages refuse."""
    written = sheet(Shown(ENDINGS, 0, None, FrettingWish(instrument)), View(shapes=True))
    used = [
        chord["shape"]
        for part in (0, 1)
        for cell in _cells(written, part)
        for chord in cell["chords"]
    ]

    assert written["shapes_fault"] is None
    assert set(used) == set(written["shapes"])
    for shape in written["shapes"].values():
        assert shape["svg"].startswith("<svg")
        assert "style=" not in shape["svg"]


@pytest.mark.parametrize("instrument", [None, "tenor-banjo"])
@pytest.mark.parametrize("style", [None, "swing", "bossa-nova"])
def test_the_shapes_of_the_band_are_what_its_chop_plays(
    style: str | None, instrument: str | None
) -> None:
    """Note for note, bar for bar, in the first chorus, two semitones up."""
    chart = read_chart("key: G\ntempo: 160\n[A] 4\n| G | C7 | Am7 D7 | G |\n[B] 2\n| Em7 | A7 |\n")
    wish = FrettingWish(instrument)
    written = sheet(Shown(chart, 2, style, wish), View(shapes=True))
    performance = Performance(
        by_semitones(chart, 2), Settings(style=style, looseness=0, fretting=wish)
    )
    shown = [
        [written["shapes"][chord["shape"]]["keys"] for chord in cell["chords"]]
        for part in (0, 1)
        for cell in _cells(written, part)
    ]

    for number, keys in enumerate(shown):
        bar = performance.bar(number)
        struck = {note.pitch for note in bar.notes if note.player is Player.CHOP}
        near = [*keys, *(shown[number + 1] if number + 1 < len(shown) else shown[0])]
        assert struck
        assert struck <= {key for shape in near for key in shape}  # some come early
        assert any(set(shape) <= struck for shape in keys)


def test_an_instrument_that_there_is_not_is_told() -> None:
    """The chart is shown all the same."""
    written = sheet(Shown(ENDINGS, 0, None, FrettingWish("kazoo")), View(shapes=True))

    assert "'kazoo' is not an instrument" in written["shapes_fault"]
    assert written["shapes"] == {}
    assert _cells(written, 0)[1]["chords"][0]["text"] == "D"
