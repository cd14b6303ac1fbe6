"""Tempi on the page count the note that the chart counts."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest

from backing.chart.read import read_chart
from backing.control.settings import LiveSettings
from backing.stand.labels import about
from backing.stand.sheet import SheetSource, View, chart_fields, sheet

if TYPE_CHECKING:
    from collections.abc import Callable

    from tests.stand.server import Server

CHARTS = {
    "a-jig.chart": ("meter: 6/8\ntempo: 112\n", "dotted-quarter", 1.5, 2),
    "b-reel.chart": ("meter: 2/2\ntempo: 110\n", "half", 2.0, 2),
    "c-two.chart": ("tempo: half=110\n", "half", 2.0, 2),
    "d-four.chart": ("tempo: 112\n", "quarter", 1.0, 5),
    "e-slow.chart": ("meter: 12/8\n", "dotted-quarter", 1.5, 2),
    "f-old.chart": ("meter: 6/8\ntempo: quarter=168\n", "quarter", 1.0, 5),
}


@pytest.fixture(scope="module")
def counting(start: Callable[..., Server]) -> Server:
    """Return a server with charts that count different notes."""
    return start(
        charts={file: f"key: G\n{head}[A] 2\n| G | D7 |\n" for file, (head, *_) in CHARTS.items()}
    )


@pytest.mark.parametrize("file", CHARTS)
def test_a_page_counts_as_the_chart(counting: Server, file: str) -> None:
    """Bare numbers, steps and ladders count the chart's note."""
    _, unit, quarters, step = CHARTS[file]
    words = unit.replace("-", " ")
    with counting.page() as page:
        page.send(type="open", tune=file)
        page.command("tempo 100")
        state = page.state(tune=file, tempo_wished=100)
        assert {"name": unit, "words": words, "step": step}.items() <= state["unit"].items()
        assert state["unit"]["slowest"] * quarters >= 20
        assert state["unit"]["fastest"] * quarters <= 500
        assert f'aria-label="{words}"' in state["unit"]["mark"]
        assert state["snapshot"]["settings"]["bpm"] == pytest.approx(100 * quarters)
        page.command("tempo +")
        state = page.state(tempo_wished=100 + step)
        assert (state["words"]["tempo +"], state["words"]["tempo -"]) == (f"+{step}", f"−{step}")
        page.command("ladder 60 101 3 1")
        state = page.state(tempo_wished=60)
        assert state["words"]["ladder"].endswith("</svg> = 60 to 101")
        page.command("tempo 77")
        assert page.state(tempo_wished=77)["words"]["ladder"] == ""
        page.command("tempo 90.5")
        page.command("play")
        state = page.state(playing=True, tempo_wished=90.5)
        assert (state["tempo"], state["tempo_unit"]) == (90.5, unit)
        assert state["quarter_bpm"] == pytest.approx(90.5 * quarters)
        page.command("stop")


def test_texts_beside_a_drawn_note_are_escaped() -> None:
    """The author of a tune is escaped, while the note of a tempo is drawn."""
    evil = "<b>Nobody</b> & Sons"
    chart = read_chart(f"by: {evil}\nmeter: 6/8\ntempo: 112\n[A]\ntempo: 100\n| C |\n")
    told = about(LiveSettings.of(chart), "C", "jig")
    html = chart_fields(sheet(SheetSource(chart), View()))["html"]

    assert told.startswith("&lt;b&gt;Nobody&lt;/b&gt; &amp; Sons · Key of C · jig · 6/8 · <svg ")
    assert told.endswith("</svg> = 112")
    assert 'aria-label="dotted quarter"' in html
    assert "</svg> = 100" in html


def test_the_songbook_shows_the_note(counting: Server) -> None:
    """Each tune shows its tempo with a drawn note, and is found by the shown number."""
    with counting.page() as page:
        tunes = page.receive("songbook")["tunes"]
    for (head, unit, *_), row in zip(CHARTS.values(), tunes.split("</li>"), strict=False):
        number = re.search(r"tempo: \D*(\d+)", head)
        if number:
            assert f'aria-label="{unit.replace("-", " ")}"' in row
            assert f"</svg> = {number[1]}" in row
            assert f'data-bpm="{number[1]}.0"' in row
