"""What a session tells the player when cables, files and players of the band let go."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from charts import TWO_PARTS
from stage import Stage
from take import symbols

from backing.chart.read import load_chart

if TYPE_CHECKING:
    from pathlib import Path

SWUNG = "title: Kitchen\nkey: G\nstyle: swing\ntempo: 150\n[A] 2\n| G | D7 |\n[B] 2\n| C | G |\n"


@pytest.fixture
def edited(tmp_path: Path) -> Path:
    """Return a chart file to be edited."""
    path = tmp_path / "kitchen.chart"
    path.write_text(SWUNG, encoding="utf-8")
    return path


def test_a_lost_output_is_told_once_and_found_again() -> None:
    """However long it is away: one line when it goes, one when it is back, programs anew."""
    stage = Stage(TWO_PARTS)
    stage.run_bars(3)
    stage.cable.is_there = False
    for _ in range(5):
        stage.session.look_around()
    stage.run_bars(2)
    stage.cable.comes_back = True
    stage.cable.arrived.clear()
    stage.session.look_around()
    programs = [message[0] for message in stage.cable.arrived if message[0] >> 4 == 12]
    stage.run_bars(2)
    struck = [message for message in stage.cable.arrived if message[0] >> 4 == 9]

    assert stage.session.news == [
        "Cellar Synth is gone; looking for it",
        "Cellar Synth is back",
    ]
    assert programs == [0xC0, 0xC1, 0xC9]
    assert struck


def test_a_faulty_edit_is_told_and_the_band_plays_on(edited: Path) -> None:
    """A chart saved with a fault is told with its place; mended, it comes in at the next part."""
    stage = Stage(load_chart(str(edited)), str(edited))
    stage.run_bars(3)
    edited.write_text(SWUNG.replace("D7", "D7x"), encoding="utf-8")
    stage.session.look_around()
    stage.session.look_around()
    stage.run_bars(4)
    (told,) = stage.session.news
    assert "kitchen.chart:6:9: 'D7x' is not a chord" in told
    assert stage.session.transport.playing

    edited.write_text(SWUNG.replace("| C | G |", "| Am | Bm |"), encoding="utf-8")
    stage.session.look_around()
    chords = []
    for _ in range(8):
        stage.run_bars(1)
        bar = stage.session.transport.now_bar
        assert bar is not None
        chords.append(symbols(bar))

    assert stage.session.news[1:] == ["the chart has been saved: it comes in at the next part"]
    assert ("Am",) in chords
    assert ("C",) not in chords[3:]


def test_an_edit_that_the_groove_cannot_play_is_told(edited: Path) -> None:
    """A sound chart in a meter that the wished style does not know stays out, with the reason."""
    stage = Stage(load_chart(str(edited)), str(edited))
    stage.session.say("style swing")
    stage.run_bars(3)
    edited.write_text(SWUNG.replace("style: swing", "meter: 2/4"), encoding="utf-8")
    stage.session.look_around()
    stage.run_bars(5)

    assert [told[:32] for told in stage.session.news if "style" in told] == [
        "the style swing is played in 4/4"
    ]
    assert str(stage.session.transport.settings.chart.meter) == "4/4"


def test_a_loop_that_an_edit_takes_away_is_told(edited: Path) -> None:
    """When the looped part is gone from the saved chart, the player is told that it ends."""
    stage = Stage(load_chart(str(edited)), str(edited))
    stage.session.say("loop B")
    stage.run_bars(3)
    edited.write_text(SWUNG.replace("[B]", "[Bridge]"), encoding="utf-8")
    stage.session.look_around()

    assert stage.session.news[-1] == "the loop B is not in the saved chart and ends there"


def test_a_broken_player_is_told_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """A player that raises in every bar is told a single time."""

    def broken(*_: object) -> None:
        raise RuntimeError("a string has snapped")

    monkeypatch.setattr("backing.band.bass.Bass.play", broken)
    stage = Stage(TWO_PARTS)
    stage.run_bars(6)

    assert stage.session.news == ["bass: RuntimeError('a string has snapped'); silent for this bar"]


def test_what_cannot_be_done_is_told_and_changes_nothing() -> None:
    """A line that is refused becomes news; the band plays on."""
    stage = Stage(TWO_PARTS)
    before = stage.session.transport.settings
    stage.session.say("loop Z")
    stage.session.say("")

    assert stage.session.news == ["'Z' is not a part: choose from A, B"]
    assert before == stage.session.transport.settings


def test_news_is_told_to_whoever_has_not_heard_it() -> None:
    """Of many news the last twenty are kept, and none is told twice."""
    stage = Stage(TWO_PARTS)
    for number in range(30):
        stage.session.tell(str(number))
    heard = stage.session.news_since(0)
    stage.session.tell("30")

    assert heard == ([str(number) for number in range(10, 30)], 30)
    assert stage.session.news_since(30) == (["30"], 31)
    assert stage.session.news_since(31) == ([], 31)


def test_quitting_is_the_end() -> None:
    """Who says quit has left, and the band is silent."""
    stage = Stage(TWO_PARTS)
    stage.run_bars(2)
    assert not stage.session.is_over
    stage.session.say("quit")

    assert stage.session.is_over
    assert not stage.session.transport.playing
