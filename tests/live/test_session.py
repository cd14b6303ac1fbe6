"""Messages of a session about lost outputs, edited files and failing players."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from charts import TWO_PARTS
from stage import Stage
from take import symbols

from backing.chart.read import load_chart
from backing.control.settings import LiveSettings
from backing.errors import BackingError
from backing.live.session import settings_after

if TYPE_CHECKING:
    from pathlib import Path

SWUNG = "title: Kitchen\nkey: G\nstyle: swing\ntempo: 150\n[A] 2\n| G | D7 |\n[B] 2\n| C | G |\n"


@pytest.fixture
def edited(tmp_path: Path) -> Path:
    """Return a chart file."""
    path = tmp_path / "kitchen.chart"
    path.write_text(SWUNG, encoding="utf-8")
    return path


def test_a_lost_output_is_reported_once_and_reconnected() -> None:
    """One message when the output goes, one when it returns; programs are sent again."""
    stage = Stage(TWO_PARTS)
    stage.run_bars(3)
    stage.cable.is_there = False
    for _ in range(5):
        stage.session.poll()
    stage.run_bars(2)
    stage.cable.comes_back = True
    stage.cable.arrived.clear()
    stage.session.poll()
    programs = [message[0] for message in stage.cable.arrived if message[0] >> 4 == 12]
    stage.run_bars(2)
    struck = [message for message in stage.cable.arrived if message[0] >> 4 == 9]

    assert stage.session.messages == [
        "Cellar Synth is gone; looking for it",
        "Cellar Synth is back",
    ]
    assert programs == [0xC0, 0xC1, 0xC9]
    assert struck


def test_a_faulty_edit_is_reported_and_the_band_plays_on(edited: Path) -> None:
    """An error in a saved chart is reported with its place; the corrected chart starts later."""
    stage = Stage(load_chart(str(edited)), str(edited))
    stage.run_bars(3)
    edited.write_text(SWUNG.replace("D7", "D7x"), encoding="utf-8")
    stage.session.poll()
    stage.session.poll()
    stage.run_bars(4)
    (message,) = stage.session.messages
    assert "kitchen.chart:6:9: 'D7x' is not a chord" in message
    assert stage.session.transport.playing

    edited.write_text(SWUNG.replace("| C | G |", "| Am | Bm |"), encoding="utf-8")
    stage.session.poll()
    chords = []
    for _ in range(8):
        stage.run_bars(1)
        bar = stage.session.transport.now_bar
        assert bar is not None
        chords.append(symbols(bar))

    assert stage.session.messages[1:] == ["the chart has been saved: it comes in at the next part"]
    assert ("Am",) in chords
    assert ("C",) not in chords[3:]


def test_an_edit_that_the_style_cannot_play_is_reported(edited: Path) -> None:
    """A chart in a meter that the style does not have is refused, with the reason."""
    stage = Stage(load_chart(str(edited)), str(edited))
    stage.session.command("style swing")
    stage.run_bars(3)
    edited.write_text(SWUNG.replace("style: swing", "meter: 2/4"), encoding="utf-8")
    stage.session.poll()
    stage.run_bars(5)

    assert [message[:32] for message in stage.session.messages if "style" in message] == [
        "the style swing is played in 4/4"
    ]
    assert str(stage.session.transport.settings.chart.meter) == "4/4"


def test_a_loop_that_an_edit_removes_is_reported(edited: Path) -> None:
    """A message says that a loop ends when its part is not in the saved chart."""
    stage = Stage(load_chart(str(edited)), str(edited))
    stage.session.command("loop B")
    stage.run_bars(3)
    edited.write_text(SWUNG.replace("[B]", "[Bridge]"), encoding="utf-8")
    stage.session.poll()

    assert stage.session.messages[-1] == "the loop B is not in the saved chart and ends there"


def test_a_failing_player_is_reported_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """A player that raises in every bar gives one message."""

    def broken(*_: object) -> None:
        raise RuntimeError("a string has snapped")

    monkeypatch.setattr("backing.band.bass.Bass.play", broken)
    stage = Stage(TWO_PARTS)
    stage.run_bars(6)

    assert stage.session.messages == [
        "bass: RuntimeError('a string has snapped'); silent for this bar"
    ]


def test_a_refused_line_changes_nothing() -> None:
    """A refused line gives a message; the settings stay."""
    stage = Stage(TWO_PARTS)
    before = stage.session.transport.settings
    stage.session.command("loop Z")
    stage.session.command("")

    assert stage.session.messages == ["'Z' is not a part: choose from A, B"]
    assert before == stage.session.transport.settings


def test_each_message_is_returned_once() -> None:
    """The last twenty messages are kept, and none is returned twice."""
    stage = Stage(TWO_PARTS)
    for number in range(30):
        stage.session.notify(str(number))
    kept = stage.session.messages_since(0)
    stage.session.notify("30")

    assert kept == ([str(number) for number in range(10, 30)], 30)
    assert stage.session.messages_since(30) == (["30"], 31)
    assert stage.session.messages_since(31) == ([], 31)


def test_quit_ends_the_session() -> None:
    """After quit the session is over and the band is silent."""
    stage = Stage(TWO_PARTS)
    stage.run_bars(2)
    assert not stage.session.is_over
    stage.session.command("quit")

    assert stage.session.is_over
    assert not stage.session.transport.playing


def test_settings_after_commands() -> None:
    """Commands apply in their order; an error of one is raised."""
    settings = LiveSettings.of(TWO_PARTS)
    after = settings_after(["loop B", "tempo 140", "tempo 150"], settings)

    assert (after.loop, after.bpm) == ("B", 150)
    with pytest.raises(BackingError, match="'Z' is not a part"):
        settings_after(["tempo 90", "loop Z"], settings)
