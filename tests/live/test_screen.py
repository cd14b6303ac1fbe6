"""The screen, as lines of text."""

from __future__ import annotations

import io
import re

import pytest
from charts import LONGER, TWO_PARTS
from stage import Stage
from take import symbols

from backing.chart.read import read_chart
from backing.control.commands import keys
from backing.harmony.quality import table
from backing.live.console import Console
from backing.live.screen import cells, cut, large_lines, packed, screen, wrapped

LONG = read_chart(
    "title: The Very Long Way Round the Back of the Old Brick Kiln in the Rain, Slowly\n"
    "key: Db\nstyle: swing\ntempo: 133.333\nform: Verse Verse Bridge\n"
    "[Verse] 9\n| Dbmaj7 Bbm7b5 | Ebm7b5/Gb Ab7#9 | Gbmaj7#11 Gbm6 | Fm7 Bb7b9 |"
    " Dbmaj7 Bbm7b5 Ebm7b5 Ab7#9 | Db6 | Db6 | Db6 | Ab7 |\n"
    "[Bridge] 12\n" + "| Ebm7b5/Gb Ab7b9 | Dbmaj7 Gbmaj7 " * 6 + "|\n"
)
WIDE = read_chart(
    "title: 山の上の古い家で雨の夜に弾く長い長い曲の題名\nkey: C\nstyle: swing\n"
    "[A] 2\n| C6 | G7 |\n"
)
CHARTS = {"two parts": TWO_PARTS, "longer": LONGER, "long names": LONG, "wide": WIDE}
SIZES = [(80, 24), (40, 24), (40, 12), (40, 10), (80, 10), (120, 40), (200, 60)]

COLOUR = re.compile(r"\x1b\[[0-9;]*m")


@pytest.mark.parametrize("chart", CHARTS.values(), ids=CHARTS)
@pytest.mark.parametrize("large", [False, True])
@pytest.mark.parametrize("width, height", SIZES)
def test_it_fits(chart: object, large: bool, width: int, height: int) -> None:
    """The lines fit the terminal in width and number."""
    stage = Stage(chart)
    for messages in range(4):
        for _ in range(5):
            stage.run_bars(1)
            lines = screen(stage.session, width, height - 1, large=large)
            assert len(lines) <= height - 1
            assert max(map(cells, lines)) <= width
        stage.session.notify("a rather long message " * 5 * messages)


@pytest.mark.parametrize("chart", CHARTS.values(), ids=CHARTS)
@pytest.mark.parametrize("width, height", SIZES)
def test_the_bar_being_played_is_in_sight(chart: object, width: int, height: int) -> None:
    """On any terminal exactly one bar is marked, between > and <, and its position is shown."""
    stage = Stage(chart)
    stage.session.command("hum")
    for _ in range(30):
        stage.run_bars(1)
        bar = stage.session.transport.now_bar
        assert bar is not None
        lines = screen(stage.session, width, height - 1, large=False)
        if bar.part == "count-in":
            continue
        (marked,) = re.findall(r"\|>(.*?)<\|", "\n".join(lines))
        assert marked.strip(" …")
        assert " ".join(symbols(bar)).startswith(marked.rstrip(" …"))
        assert any(f"part {bar.label}, bar {bar.index + 1} of" in line for line in lines)
        assert any("playing" in line for line in lines)


@pytest.mark.parametrize("width, height", [(80, 24), (120, 40), (200, 60)])
def test_in_large_mode_the_bar_being_played_is_in_the_chart_too(width: int, height: int) -> None:
    """The line of the chart is below the large letters, so that the next bar can be read."""
    stage = Stage(TWO_PARTS)
    stage.run_bars(3)
    text = "\n".join(screen(stage.session, width, height - 1, large=True))

    assert re.findall(r"\|>(.*?) *<\|", text) == ["C9"]
    assert " D7 " in text


def test_in_large_mode_nothing_moves_but_the_letters() -> None:
    """Players and keys stay on their lines, whatever the length of the chords."""
    stage = Stage(LONG)
    places = set()
    for _ in range(12):
        stage.run_bars(1)
        lines = screen(stage.session, 80, 23, large=True)
        places.add(next(at for at, line in enumerate(lines) if line.startswith("bass 100")))

    assert len(places) == 1


def test_two_long_chords_are_large_one_below_the_other() -> None:
    """At 80 columns two chords of six characters are five lines high, two columns for each dot."""
    lines = large_lines("Dbmaj7 Bbm7b5", 80, 14)

    assert sum("█" in line for line in lines) == 10
    assert max(map(len, lines)) > 60
    assert all(len(run) % 2 == 0 for line in lines for run in re.findall("█+", line))


def test_every_chord_has_its_letters() -> None:
    """Every character of a chord has a large letter."""
    for sign in set("".join(quality.name for quality in table().values())) | set("ABCDEFG#b/N.C."):
        assert any("█" in line for line in large_lines(sign, 80, 24)), sign


def test_messages_are_shown_as_far_as_there_is_room() -> None:
    """The message for a refused line takes as many lines as it needs."""
    stage = Stage(TWO_PARTS)
    stage.run_bars(2)
    stage.session.command("humm")
    text = " ".join(screen(stage.session, 80, 23, large=False))

    assert "! 'humm' is not a command: choose from play, pause, stop," in text
    assert "last-time" in text


def test_text_is_cut_in_cells() -> None:
    """A wide character takes two cells, a combining one none; cut text ends in an ellipsis."""
    assert (cells("山a"), cells("e\u0301")) == (3, 1)
    assert (cut("山山山", 6), cut("山山山", 5), cut("abc", 2), cut("abc", 1)) == (
        "山山山",
        "山山…",
        "a…",
        "…",
    )
    assert packed(["aaaa", "bb", "c"], 9) == ["aaaa   bb", "c"]
    assert wrapped("one two three four", 9, 2) == ["one two", "three…"]


def test_the_bar_being_played_is_marked() -> None:
    """Exactly one bar is between > and <: the one being played."""
    stage = Stage(TWO_PARTS)
    stage.run_bars(2)
    marked = []
    for _ in range(8):
        stage.run_bars(1)
        text = "\n".join(screen(stage.session, 80, 24, large=False))
        marked += re.findall(r">(\S+) *<", text)

    assert marked == ["C9", "D7", "G6", "Em7", "A7", "Am7", "D7", "G6"]


def test_in_a_loop_of_bars_the_right_bar_is_marked() -> None:
    """In a loop from mid-part the marked bar is that of the chart."""
    stage = Stage(TWO_PARTS)
    stage.session.command("loop 6-7")
    stage.run_bars(2)
    text = "\n".join(screen(stage.session, 80, 24, large=False))

    assert re.findall(r">(\S+) *<", text) == ["A7"]
    assert "part B, bar 2 of 4" in text


def test_it_shows_the_state() -> None:
    """Title, sounding key, tempo, groove, part, chorus, next part, players, lateness."""
    stage = Stage(LONGER)
    stage.session.command("key +2")
    stage.session.command("mute chop")
    stage.run_bars(5)
    text = "\n".join(screen(stage.session, 80, 24, large=False))

    for expected in (
        "Longer", "key E", "tempo 220", "two-beat", "playing", "part A, bar 1 of 4", "chorus 1",
        "next A", "chop --", "bass 100", "to Cellar Synth", "late:", "one in a hundred", "worst",
    ):  # fmt: skip
        assert expected in text


@pytest.mark.parametrize(
    "line, expected",
    [
        ("loop B", "loop B"),
        ("last-time", "LAST TIME"),
        ("ladder 100 160", "ladder 100 to 160"),
        ("trade 4", "silent 4 of 8"),
        ("pause", "paused"),
        ("hum", "! 'hum' is not a command"),
    ],
)
def test_settings_and_errors_are_shown(line: str, expected: str) -> None:
    """The effect of a command, or its error, is on the screen."""
    stage = Stage(TWO_PARTS)
    stage.run_bars(2)
    stage.session.command(line)

    assert expected in "\n".join(screen(stage.session, 80, 24, large=False))


@pytest.mark.parametrize("width", [80, 40])
def test_every_key_is_in_the_help(width: int) -> None:
    """The help lines have each key with its label."""
    stage = Stage(TWO_PARTS)
    text = "   ".join(screen(stage.session, width, 24, large=False)[-10:])

    for key, _ in keys():
        assert f"{key.name} {key.label}" in text


def test_large_letters_fill_the_screen() -> None:
    """In large mode the chord being played is at least ten lines high on a terminal of 80 by 24."""
    stage = Stage(TWO_PARTS)
    stage.run_bars(3)
    lines = screen(stage.session, 80, 24, large=True)

    assert sum("█" in line for line in lines) >= 10


@pytest.mark.parametrize("plain", [True, False])
def test_no_color_is_obeyed(plain: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    """With NO_COLOR there is no colour or bold; the bar is marked in both cases."""

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
    assert "\x1b[2J" not in terminal.getvalue()  # clearing the screen would flicker
