"""Commands of live playing, from lines, keys and pedals."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest

from backing.chart.read import read_chart
from backing.control.band_commands import after_tap, tapped_bpm
from backing.control.commands import COMMANDS, keys, line_of
from backing.errors import BackingError
from backing.live.console import single_keys
from backing.live.pedal import Presses, button_of, load_mapping, mapping_text, read_mapping
from backing.live.session import ChartFile, state_line
from backing.notes import Player
from tests.live.charts import LONGER, SHORTER, TWO_PARTS
from tests.live.take import Take, sounding, starts_part, symbols

if TYPE_CHECKING:
    from pathlib import Path


@pytest.mark.parametrize(
    "line, expected",
    [
        ("tempo 120", {"bpm": 120}),
        ("tempo +5", {"bpm": 155}),
        ("tempo half=100", {"bpm": 200}),
        ("half", {"bpm": 75}),
        ("double", {"bpm": 300}),
        ("tempo 2000", None),
        ("key +2", {"semitones": 2}),
        ("key Bb", {"semitones": 3}),
        ("key D", {"semitones": -5}),
        ("key own", {"semitones": 0}),
        ("tempo own", {"bpm": 150}),
        ("style shuffle", {"style": "shuffle"}),
        ("mute chop", {"players": frozenset(Player) - {Player.CHOP}}),
        ("unmute chop", {"players": frozenset(Player), "called": frozenset({Player.CHOP})}),
        ("only bass", {"players": frozenset({Player.BASS})}),
        ("only all", {"players": frozenset(Player)}),
        ("level 80", {"level": 80}),
        ("level +10", {"level": 110}),
        ("rest 2 8", {"rest": (2, 8)}),
        ("rest 2/8", {"rest": (2, 8)}),
        ("rest 2 / 8", {"rest": (2, 8)}),
        ("rest 2 of 8", {"rest": (2, 8)}),
        ("trade 4", {"rest": (4, 8)}),
        ("count-in on", {"count_each": True}),
        ("last-time", {"last_time": True}),
        ("ladder 100 120 10 1", {"bpm": 100}),
    ],
)
def test_a_line_changes_settings(line: str, expected: dict[str, object] | None) -> None:
    """Each line changes the settings that it names; a refused one changes nothing."""
    take = Take(TWO_PARTS)
    before = take.transport.settings
    if expected is None:
        with pytest.raises(BackingError, match="20 to 500"):
            take.command(line)
        assert before == take.transport.settings
        return
    take.command(line)

    now = take.transport.settings
    found = {name: getattr(now if hasattr(now, name) else now.base, name) for name in expected}
    assert expected == found


@pytest.mark.parametrize(
    "line, sentence",
    [
        ("temop 120", "'temop' is not a command.*did you mean 'tempo'"),
        ("tempo", "tempo needs BPM"),
        ("tempo fast", "'fast' is not a tempo"),
        ("key H", "'H' is not a key"),
        ("key +99", "24"),
        ("style stroll", "'stroll' is not a style"),
        ("loop Z", "Z"),
        ("loop 3-99", "the form has bars 1 to 8"),
        ("mute flute", "'flute' is not in the band"),
        ("level", "level needs"),
        ("ladder 100", "ladder needs"),
        ("rest 8 2", "rest 8 2: the silent bars must be at least 1 and fewer"),
        ("rest 8/2", "rest 8 2: the silent bars must be at least 1 and fewer"),
        ("rest 2/", r"rest needs BARS OF \| BARS/OF .*, not '2/'"),
        ("rest 1/2/8", r"rest needs BARS OF \| BARS/OF .*, not '1/2/8'"),
        ("part Z", "'Z' is not a part: choose from A, B"),
        ("part", r"part needs PART \[NUMBER\] \| next .*, but nothing was given"),
        ("part A 3", "A 3: A comes 1 time in the form"),
        ("play now", "play takes no arguments, but 'now' was given"),
        ("key +x", r"key needs KEY | \+N | -N .*, not '\+x'"),
        ("key", "key needs KEY"),
        ("tempo +x", r"not '\+x'"),
        ("half 2", "half takes no arguments, but '2' was given"),
        ("style", "style needs NAME"),
        ("loop", "loop needs PART"),
        ("loop 4-2", "bars 4-2: the first is after the last; write 2-4"),
        ("loop B-A", "part A does not come after part B"),
        ("unmute flute", "'flute' is not in the band"),
        ("unmute lead", "the lead has nothing to play"),
        ("mute", r"mute needs bass \| chop \| drums"),
        ("only flute", "'flute' is not in the band: choose from bass, chop, drums"),
        ("level 999", "level 999: a level is from 0 to 150 percent"),
        ("level flute 20", "'flute' is not in the band"),
        ("level chop loud", "level needs .*0 to 150.*, not 'chop loud'"),
        ("ladder 10 900", "tempo '10' is 10 quarter notes a minute: the band plays from 20 to 500"),
        ("ladder 100 120 0", "at least 0.1"),
        ("ladder 100 120 5 1.5", "not '100 120 5 1.5'"),
        (
            "rest eight",
            "rest needs BARS OF .*keep the band silent for BARS of every OF bars.*, not 'eight'",
        ),
        ("trade 0", "trade needs BARS"),
        ("trade four", r"trade needs BARS \| off .*, not 'four'"),
        ("count-in maybe", r"count-in needs on \| off .*, not 'maybe'"),
        ("last-time please", "last-time takes no arguments"),
    ],
)
def test_a_wrong_line_is_refused(line: str, sentence: str) -> None:
    """The message says what is wrong and what is allowed; nothing changes."""
    take = Take(TWO_PARTS)
    before = take.transport.settings

    with pytest.raises(BackingError, match=sentence):
        take.command(line)
    assert before == take.transport.settings


def test_every_key_sends_a_command() -> None:
    """Each key sends commands; upper and lower case are the same."""
    for key, _ in keys():
        line = line_of(key.sign)
        assert line
        assert all(each.split()[0] in COMMANDS for each in line.split("|"))
        assert line == line_of(key.sign.upper())
    assert line_of("?") is None


@pytest.mark.parametrize("player", ["bass", "chop", "drums"])
@pytest.mark.parametrize("style", ["swing", "bluegrass"])
def test_mute_and_unmute_twice_change_nothing_more(style: str, player: str) -> None:
    """`mute` silences and `unmute` brings in a player, even one who sits out in the style."""
    take = Take(TWO_PARTS)
    take.command(f"style {style}")
    for line, plays in (("mute", False), ("unmute", True), ("mute", False)):
        take.command(f"{line} {player}")
        once = take.transport.settings
        take.command(f"{line} {player}")
        assert take.transport.settings == once
        assert once.plays(Player(player)) is plays


def test_the_first_command_that_changes_anything_is_carried_out() -> None:
    """So a line of several commands is a toggle."""
    take = Take(TWO_PARTS)
    key = {each.sign: each.line for each, _ in keys()}
    heard = []
    for name in "ccdd":
        take.command(key[name])
        heard.append(
            [player for player in ("chop", "drums") if take.transport.settings.plays(player)]
        )
    assert heard == [["drums"], ["chop", "drums"], ["chop"], ["chop", "drums"]]
    loops = []
    for _ in range(2):
        take.command(key["l"])
        loops.append(take.transport.settings.loop)
    assert loops == ["A", None]
    running = []
    for _ in range(3):
        take.command(key[" "])
        running.append(take.transport.playing)
    assert running == [True, False, True]


@pytest.mark.parametrize("line", ["mute flute | tap", "mute chop | hum", "hum | tap"])
def test_an_error_in_a_line_of_several_commands_is_reported(line: str) -> None:
    """Nothing changes, and later commands are not carried out."""
    take = Take(TWO_PARTS)
    take.command("mute chop")
    before = take.transport.settings
    with pytest.raises(BackingError, match="not"):
        take.command(line)
    assert take.transport.settings == before


@pytest.mark.parametrize(
    "typed, keys",
    [
        ("\x1b[A", ""),
        ("\x1b[B+\x1b[C", "+"),
        ("\x1bOD", ""),
        ("\x1b[1;5Cq", "q"),
        ("\x1b[15~", ""),
        ("\x1bt", ""),
        ("\x1b", ""),
        ("[b", "[b"),
    ],
)
def test_arrows_and_function_keys_do_nothing(typed: str, keys: str) -> None:
    """The `[` and letter in an arrow's escape sequence are not keys."""
    assert keys == single_keys(typed)


def test_taps_are_a_tempo() -> None:
    """Taps half a second apart are 120; one slip does not matter; a pause starts over."""
    taps: tuple[float, ...] = ()
    found = []
    for now in (0.0, 0.5, 1.0, 1.6, 2.0, 2.5, 9.0, 9.25):
        taps = after_tap(taps, now)
        found.append(tapped_bpm(taps))

    assert found[0] is None
    assert round(found[5] or 0) == 120
    assert found[6:] == [None, 240]


@pytest.mark.parametrize(
    "message, button",
    [
        (bytes((0x90, 60, 100)), "note 60"),
        (bytes((0x95, 60, 0)), None),
        (bytes((0x80, 60, 64)), None),
        (bytes((0xB0, 64, 127)), "control 64"),
        (bytes((0xB0, 64, 0)), None),
        (bytes((0xC0, 3)), "program 3"),
        (bytes((0xF8,)), None),
    ],
)
def test_buttons_are_pressed_not_released(message: bytes, button: str | None) -> None:
    """A note-on, a controller from 64 and a program change press a button (MIDI 1.0)."""
    assert button == button_of(message)


@pytest.mark.parametrize(
    "values, presses",
    [
        ([127, 0, 127, 0], 2),
        ([127, 127], 2),
        ([10, 40, 70, 100, 127, 90, 30, 0], 1),
        ([70, 127, 60, 80], 2),
    ],
)
def test_a_pedal_is_pressed_once_on_its_way_down(values: list[int], presses: int) -> None:
    """For a switch, a switch without release, and a pedal that sends all values."""
    pedal = Presses()
    pressed = [pedal.button(bytes((0xB0, 64, value))) for value in values]

    assert [each for each in pressed if each] == ["control 64"] * presses


def test_an_unreadable_mapping_is_refused(tmp_path: Path) -> None:
    """A missing file is no mapping; a folder and bytes that are not text are refused."""
    path = tmp_path / "pedal.toml"
    assert load_mapping(path) is None
    path.write_bytes(b"[buttons]\n\xff")
    with pytest.raises(BackingError, match="2:1: the byte 0xFF is not UTF-8"):
        load_mapping(path)
    with pytest.raises(BackingError, match="this is a folder"):
        load_mapping(tmp_path)


def test_a_mapping_is_written_and_read() -> None:
    """A written mapping reads back the same."""
    buttons = {
        "note 60": "tap",
        "control 64": "last-time",
        "program 3": "part next",
        "program 20": 'loop "A\\',
        "control 5": "mute chop | unmute chop",
    }

    assert buttons == read_mapping(mapping_text(buttons), "pedal.toml")


@pytest.mark.parametrize(
    "text, sentence",
    [
        ("[buttons", "pedal.toml: "),
        ("[knobs]\n", r"one table, \[buttons\]"),
        ('[buttons]\n"note 200" = "tap"\n', "'note 200' is not a button"),
        ('[buttons]\n"note ²" = "tap"\n', "'note ²' is not a button"),
        ('[buttons]\n"note 060" = "tap"\n', "'note 060' is not a button"),
        ('[buttons]\n"note 60" = "dance"\n', "'dance' of 'note 60' is not a command"),
        ('[buttons]\n"note 60" = "tap | dance"\n', "'tap | dance' of 'note 60' is not a command"),
        ('[buttons]\n"note 60" = "tap |"\n', "'tap |' of 'note 60' is not a command"),
    ],
)
def test_a_faulty_mapping_is_refused(text: str, sentence: str) -> None:
    """The message says what is allowed."""
    with pytest.raises(BackingError, match=sentence):
        read_mapping(text, "pedal.toml")


def test_the_state_is_one_line_of_json() -> None:
    """The state has part, bar from 1, key, tempo and players."""
    take = Take(TWO_PARTS)
    take.command("mute chop", "loop B", "play")
    take.run_bars(2)
    state = json.loads(state_line(take.transport, take.bars[-1]))

    assert "\n" not in state_line(take.transport, take.bars[-1])
    assert (state["part"], state["bar"], state["bars"], state["loop"]) == ("B", 1, 4, [5, 8])
    assert (state["key"], state["tempo"], state["plays"]) == ("G", 150, ["bass", "drums"])


AABA = read_chart(
    "title: Four Parts\nkey: C\nstyle: swing\ntempo: 200\ncount-in: 0\nform: Intro A A B A\n"
    "[Intro] 1\n| G7 |\n[A] 2\n| C6 | G7 |\n[B] 1\n| F6 |\n"
)


def test_an_occurrence_of_a_part_has_a_label() -> None:
    """`A 2` is the second A of the form, in the state and in `part`; so are choruses."""
    take = Take(AABA)
    take.command("play")
    take.run_bars(10)
    told = [(bar.label, bar.chorus) for bar in take.bars if starts_part(bar)]
    first = [("Intro", 1), ("A", 1), ("A 2", 1), ("B", 1), ("A 3", 1)]
    assert told == [*first, ("A", 2)]
    assert json.loads(state_line(take.transport, take.bars[3]))["part"] == "A 2"
    for label, _ in first[::-1]:
        take.command(f"part {label}")
        take.run_bars(1)
        assert (take.bars[-1].label, take.bars[-1].index) == (label, 0)


@pytest.mark.parametrize(
    "loop, bars",
    [
        ("A", (2, 3)),
        ("a 1", (2, 3)),
        ("A 2", (4, 5)),
        ("A 3", (7, 8)),
        ("A-A 2", (2, 5)),
        ("A 2-B", (4, 6)),
        ("A - A 3", (2, 8)),
        ("A 2-A", (4, 5)),
        ("B-A", (6, 8)),
        ("B-A 3", (6, 8)),
        ("Intro-A", (1, 3)),
    ],
)
def test_a_loop_repeats_the_right_occurrence(loop: str, bars: tuple[int, int]) -> None:
    """Any A of the form can be a loop, or its first or last part."""
    take = Take(AABA)
    take.command(f"loop {loop}", "play")
    take.run_bars(1)
    state = json.loads(state_line(take.transport, take.bars[-1]))
    assert tuple(state["loop"]) == bars


@pytest.mark.parametrize("loop", ["A 4", "A 0", "B 2", "A 2-A 1", "B-A 2", "A x", "A 2-Z"])
def test_a_loop_outside_the_form_is_refused(loop: str) -> None:
    """Also a loop whose end comes before its start."""
    take = Take(AABA)
    with pytest.raises(BackingError, match=r"times? in the form|does not come after|not a part"):
        take.command(f"loop {loop}")


def test_the_loop_key_loops_the_part_being_played() -> None:
    """In the second A it is the second A."""
    take = Take(AABA)
    take.command("play")
    take.run_bars(4)
    take.command(line_of("l") or "")
    take.run_bars(4)
    assert [bar.label for bar in take.bars[3:]] == ["A 2"] * 5
    assert take.transport.settings.loop == "A 2"


def test_an_edited_chart_is_read_once(tmp_path: Path) -> None:
    """A saved chart is read once; one with errors is reported once and read after the next save."""
    path = tmp_path / "tune.chart"
    path.write_text("| C |\n", encoding="utf-8")
    file = ChartFile(str(path))
    assert file.changed() is None
    path.write_text("| D | G |\n", encoding="utf-8")
    chart = file.changed()
    assert chart
    assert str(chart.key) == "D"
    assert file.changed() is None
    path.write_text("", encoding="utf-8")  # some editors empty a file before they write it
    assert file.changed() is None
    path.write_text("| D | Gmay |\n", encoding="utf-8")
    with pytest.raises(BackingError, match="'Gmay' is not a chord"):
        file.changed()

    assert file.changed() is None


def test_an_edited_chart_starts_at_the_next_part() -> None:
    """Until the next part the old chart is played."""
    from dataclasses import replace

    take = Take(LONGER)
    take.command("play")
    take.run_bars(7)
    assert take.bars[-1].part == "A"
    take.transport.change(lambda settings: replace(settings, pending=SHORTER), take.now)
    take.run_bars(8)
    chords = [symbols(bar) for bar in take.bars[6:]]
    at = chords.index(("C6",))

    assert all(bar.part == "A" for bar in take.bars[6 : 6 + at])
    assert starts_part(take.bars[6 + at])


def test_bars_of_rest_are_silent() -> None:
    """The band is silent in two bars of every four."""
    take = Take(TWO_PARTS, looseness=0.0, count_in=0)
    take.command("rest 2 4", "play")
    take.run_bars(9)
    assert sounding(take) == [True, True, False, False] * 2


@pytest.mark.parametrize("bars", [1, 2, 3])
def test_trading_takes_turns(bars: int) -> None:
    """The band plays, then is silent for as many bars, until trading is off."""
    take = Take(TWO_PARTS, looseness=0.0, count_in=0)
    take.command(f"trade {bars}", "play")
    take.run_bars(4 * bars)
    take.command("trade off")
    take.run_bars(2 * bars + 1)
    assert sounding(take) == [*(2 * ([True] * bars + [False] * bars)), *[True] * 2 * bars]


def test_clock_is_twenty_four_a_quarter() -> None:
    """MIDI clock comes 24 times a quarter, with start before the tune and stop at its end."""
    take = Take(TWO_PARTS, clock_out=True, choruses=1)
    take.command("play")
    take.run()
    kinds = [message[0] for _, message in take.sent]
    ticks = sum(bar.ticks for bar in take.bars)

    assert kinds.count(0xF8) == ticks * 24 // 960
    assert kinds.count(0xFA) == 1
    assert kinds[-1] == 0xFC


def test_twelve_key_changes_keep_the_band_in_range() -> None:
    """After twelve transpositions by a tone, notes stay in the range of the instrument."""
    take = Take(TWO_PARTS)
    take.command("play")
    for step in range(12):
        take.command("key -10" if step == 8 else "key +2")
        take.run_bars(2)
    bass = [key for _, channel, key, _ in take.strokes() if channel == 0]
    chop = [key for _, channel, key, _ in take.strokes() if channel == 1]

    assert min(bass) >= 28
    assert max(bass) <= 60
    assert min(chop) > 45  # on strings 4-3-2 of a guitar, or 5-4-3 in later choruses
    assert max(chop) <= 81


def test_several_play_alone_and_the_style_goes_back() -> None:
    """`only` takes several players; `style own` is the chart's groove again."""
    take = Take(TWO_PARTS)
    take.command("only bass drums", "style two-beat")
    settings = take.transport.settings
    assert [player for player in Player if settings.plays(player)] == [Player.BASS, Player.DRUMS]
    take.command("style own")
    assert take.transport.settings.base.style is None


def test_a_style_change_keeps_the_pulse() -> None:
    """Another groove comes in at a bar line and the bars go on at their length."""
    take = Take(TWO_PARTS, looseness=0.0)
    take.command("play")
    take.run_bars(3)
    take.command("style two-beat")
    take.run_bars(4)
    lengths = {round(b - a, 6) for a, b in zip(take.times, take.times[1:], strict=False)}

    assert {1.6} == lengths
    assert [bar.style.name for bar in take.bars[-3:]] == ["two-beat"] * 3


def test_who_played_before_one_was_alone_comes_back() -> None:
    """Whoever was out stays out, however many played alone in between; else as the style has it."""
    take = Take(TWO_PARTS)
    for line in ("mute chop", "only bass", "only drums", "only before"):
        take.command(line)
    assert take.transport.settings.base.players == frozenset(Player) - {Player.CHOP}

    for line in ("only bass drums", "only before"):
        take.command(line)
    assert take.transport.settings.base.players == frozenset(Player)
