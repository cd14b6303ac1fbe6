"""The screen, as lines of text."""

from __future__ import annotations

import io
import re

import pytest
from charts import LONGER, TWO_PARTS
from stage import Stage

from backing.live.console import Console
from backing.live.keys import KEYS
from backing.live.screen import screen

COLOUR = re.compile(r"\x1b\[[0-9;]*m")


@pytest.mark.parametrize("chart", [TWO_PARTS, LONGER], ids=["two parts", "longer"])
@pytest.mark.parametrize("large", [False, True])
@pytest.mark.parametrize("width, height", [(80, 24), (40, 24), (40, 12), (200, 60)])
def test_it_fits(chart: object, large: bool, width: int, height: int) -> None:
    """No line is wider than the terminal, and there are not more lines than it has."""
    stage = Stage(chart)
    stage.session.tell("a long piece of news " * 10)
    for _ in range(12):
        stage.run_bars(1)
        lines = screen(stage.session, width, height, large=large)
        assert len(lines) <= height
        assert max(map(len, lines)) <= width


def test_the_bar_being_played_is_marked() -> None:
    """Exactly one bar stands between > and <: the one that is played."""
    stage = Stage(TWO_PARTS)
    stage.run_bars(2)
    marked = []
    for _ in range(8):
        stage.run_bars(1)
        text = "\n".join(screen(stage.session, 80, 24, large=False))
        marked += re.findall(r">(\S+) *<", text)

    assert marked == ["C9", "D7", "G6", "Em7", "A7", "Am7", "D7", "G6"]


def test_in_a_loop_of_bars_the_right_bar_is_marked() -> None:
    """A loop that begins in mid-part marks the bar of the chart, not of the loop."""
    stage = Stage(TWO_PARTS)
    stage.session.say("loop 6-7")
    stage.run_bars(2)
    text = "\n".join(screen(stage.session, 80, 24, large=False))

    assert re.findall(r">(\S+) *<", text) == ["A7"]
    assert "part B, bar 2 of 4" in text


def test_it_tells_where_the_band_is() -> None:
    """Title, key that sounds, tempo, groove, part, chorus, what is next, who plays, lateness."""
    stage = Stage(LONGER)
    stage.session.say("key +2")
    stage.session.say("mute chop")
    stage.run_bars(5)
    text = "\n".join(screen(stage.session, 80, 24, large=False))

    for told in (
        "Longer", "key E", "tempo 220", "two-beat", "playing", "part A, bar 1 of 4", "chorus 1",
        "next A", "chop --", "bass 100", "to Cellar Synth", "late:", "one in a hundred", "worst",
    ):  # fmt: skip
        assert told in text


@pytest.mark.parametrize(
    "line, told",
    [
        ("loop B", "loop B"),
        ("last-time", "LAST TIME"),
        ("ladder 100 160", "ladder 100 to 160"),
        ("pause", "paused"),
        ("hum", "! 'hum' is not known"),
    ],
)
def test_wishes_are_shown(line: str, told: str) -> None:
    """What was wished, and what could not be, can be read."""
    stage = Stage(TWO_PARTS)
    stage.run_bars(2)
    stage.session.say(line)

    assert told in "\n".join(screen(stage.session, 80, 24, large=False))


@pytest.mark.parametrize("width", [80, 40])
def test_every_key_is_in_the_help(width: int) -> None:
    """Each key stands with its word in the help lines."""
    stage = Stage(TWO_PARTS)
    text = "   ".join(screen(stage.session, width, 24, large=False)[-10:])

    for key, (_, word) in KEYS.items():
        assert f"{'space' if key == ' ' else key} {word}" in text


def test_large_letters_fill_the_screen() -> None:
    """In large mode the chord being played is at least ten lines high on a terminal of 80 by 24."""
    stage = Stage(TWO_PARTS)
    stage.run_bars(3)
    lines = screen(stage.session, 80, 24, large=True)

    assert sum("█" in line for line in lines) >= 10


@pytest.mark.parametrize("plain", [True, False])
def test_no_color_is_obeyed(plain: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    """Under NO_COLOR there is neither colour nor bold; the mark of the bar is there either way."""

    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    terminal = Terminal()
    monkeypatch.setattr("sys.stdout", terminal)
    monkeypatch.delenv("NO_COLOR", raising=False)
    if plain:
        monkeypatch.setenv("NO_COLOR", "1")
    stage = Stage(TWO_PARTS)
    stage.run_bars(3)
    Console(json=False, large=False, keys=True).draw(stage.session)

    assert bool(COLOUR.findall(terminal.getvalue())) != plain
    assert re.findall(r">(\S+) *<", terminal.getvalue()) == ["C9"]
    assert terminal.getvalue().startswith("\x1b[H")
    assert "\x1b[2J" not in terminal.getvalue()  # to clear it all would flicker
