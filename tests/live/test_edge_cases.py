"""Commands at awkward moments, on a manual clock."""

from __future__ import annotations

from dataclasses import replace

import pytest
from charts import IN_TWO, LONGER, TWO_PARTS, WITH_PICKUP
from take import Take, keys_are_released, names, sounding, symbols

from backing.chart.read import read_chart
from backing.errors import BackingError
from backing.timing import Tempo

FAST_PART = read_chart(
    "title: Fast Part\nkey: C\nstyle: swing\ntempo: 100\ncount-in: 0\nform: A B\n"
    "[A] 2\n| C6 | G7 |\n[B] 2\ntempo: 400\n| F6 | G7 |\n"
)
WITH_A_TAG = read_chart(
    "title: With a Tag\nkey: C\nstyle: swing\ntempo: 200\ncount-in: 0\nform: Intro A B Tag\n"
    "[Intro] 1\n| G7 |\n[A] 2\n| C6 | G7 |\n[B] 1\n| F6 |\n[Tag] 1\n| C6 |\n"
)


def tapped(take: Take, seconds: float) -> None:
    """Tap four times."""
    for _ in range(4):
        take.command("tap")
        take.run(seconds)


def test_taps_are_beats_of_the_meter() -> None:
    """In 2/2 the half note is the beat: 100 taps a minute are 200 quarter notes."""
    take = Take(IN_TWO)
    take.command("play")
    take.run_bars(3)
    tapped(take, 0.6)

    assert take.transport.bpm == pytest.approx(200, abs=0.5)


def test_taps_are_beats_before_the_first_bar() -> None:
    """Before the first bar a tap is a beat of the chart's meter."""
    take = Take(IN_TWO)
    for _ in range(4):
        take.now += 0.5
        take.command("tap")

    assert take.transport.settings.bpm == pytest.approx(240, abs=0.5)


def test_taps_in_a_part_with_its_own_tempo_are_that_tempo() -> None:
    """Taps in a slower part set the tempo of that part; the ratio to the others stays."""
    take = Take(LONGER, count_in=0)
    take.command("part C", "play")
    while take.transport.bpm != 180:
        take.run_bars(1)
    tapped(take, 0.4)

    assert take.transport.settings.bpm == pytest.approx(150 * 220 / 180, abs=0.5)


def test_no_part_is_faster_than_the_band_can_play() -> None:
    """A part four times as fast is limited to 500 when the main tempo rises."""
    take = Take(FAST_PART)
    take.command("loop B", "play")
    take.run_bars(1)
    take.command("tempo 300")
    at_once = take.transport.bpm
    take.run_bars(1)

    assert (at_once, take.transport.bpm) == (500, 500)


@pytest.mark.parametrize(
    "bpm, line, change", [(300, "double", "twice 300 is 600"), (30, "half", "half of 30 is 15")]
)
def test_half_and_double_are_exactly_that(bpm: int, line: str, change: str) -> None:
    """Half or twice the tempo is refused when out of range, with the range."""
    take = Take(TWO_PARTS, bpm=bpm)

    with pytest.raises(BackingError, match=f"{change}.* from 20 to 500"):
        take.command(line)
    assert take.transport.settings.bpm == bpm


@pytest.mark.parametrize("bars", [0, 1])
def test_a_jump_keeps_the_count_in(bars: int) -> None:
    """A part chosen during the count-in starts after it."""
    take = Take(TWO_PARTS, count_in=2)
    take.command("play")
    take.run_bars(bars)
    take.command("part B")
    take.run_bars(4 - bars)

    assert names(take) == [("count-in", 0), ("count-in", 1), ("B", 0), ("B", 1)]


def test_a_jump_in_the_count_in_drops_the_pickup() -> None:
    """A pickup belongs to the first bar of the tune; another part has none before it."""
    take = Take(WITH_PICKUP, count_in=2)
    take.command("only bass", "play")
    take.run_bars(1)
    take.command("part B")
    take.run_bars(2)

    assert names(take) == [("count-in", 0), ("count-in", 1), ("B", 0)]
    assert {channel for when, channel, *_ in take.strokes() if when < take.times[2] - 0.05} == {9}


@pytest.mark.parametrize("wait", [2, 3, 4, 5])
def test_trading_in_a_loop_starts_with_the_band(wait: int) -> None:
    """In a loop of two bars the band plays the first and the player the second."""
    take = Take(TWO_PARTS, count_in=0, looseness=0.0)
    take.command("loop 6-7", "play")
    take.run_bars(wait)
    take.command("trade 1")
    take.run_bars(7)
    played = list(zip(names(take), sounding(take), strict=False))[wait:]

    assert set(played) == {(("B", 1), True), (("B", 2), False)}


@pytest.mark.parametrize("line, bars", [("loop 6-7", [1, 2]), ("loop B", [0, 1, 2, 3])])
def test_a_loop_restarts_trading(line: str, bars: list[int]) -> None:
    """Trading restarts with the band in the first bar of a new loop."""
    take = Take(TWO_PARTS, count_in=0, looseness=0.0)
    take.command("trade 1", "play")
    take.run_bars(2)
    take.command(line)
    take.run_bars(6)
    played = list(zip(names(take), sounding(take), strict=False))[2:]

    assert played[: len(bars)] == [(("B", bar), not at % 2) for at, bar in enumerate(bars)]


@pytest.mark.parametrize("bars", [1, 2, 3])
@pytest.mark.parametrize("lines", [["part B"], ["pause", "part B", "play"]])
def test_a_jump_restarts_trading(bars: int, lines: list[str]) -> None:
    """Trading counts from the start of the part that was chosen."""
    take = Take(TWO_PARTS, count_in=0, looseness=0.0)
    take.command("trade 2", "play")
    take.run_bars(bars)
    take.command(*lines)
    take.run_bars(5)
    played = list(zip(names(take), sounding(take), strict=False))[-4:]

    assert played == [(("B", bar), bar < 2) for bar in range(4)]


def test_trading_leaves_the_count_in_alone() -> None:
    """With a count-in every round, clicks also come before the player's bars."""
    take = Take(TWO_PARTS, count_in=1, looseness=0.0)
    take.command("loop 1-2", "trade 2", "count-in on", "play")
    take.run_bars(8)

    assert list(zip((bar.part for bar in take.bars), sounding(take), strict=False)) == [
        *[("count-in", True), ("A", True), ("A", True)],
        *[("count-in", True), ("A", False), ("A", False)],
        ("count-in", True),
    ]


def test_the_part_after_the_last_is_not_the_intro() -> None:
    """After the last part `part next` goes to the first part after the intro."""
    take = Take(LONGER, count_in=0)
    take.command("part C", "play")
    take.run_bars(2)
    take.command("part next")
    take.run_bars(1)

    assert take.bars[-1].position.bar == ("A", 0, 0)


def test_part_goes_to_the_intro_at_any_time() -> None:
    """`part intro` works in a later chorus too."""
    take = Take(WITH_A_TAG)
    take.command("play")
    take.run_bars(6)
    assert take.bars[-1].chorus == 2
    take.command("part intro")
    take.run_bars(2)

    assert names(take)[-2:] == [("Intro", 0), ("A", 0)]


def test_a_tag_is_the_end() -> None:
    """A tag is played the last time; before, the message says how to get there."""
    take = Take(WITH_A_TAG)
    take.command("play")
    take.run_bars(6)
    with pytest.raises(BackingError, match="Tag is played the last time only: use last-time first"):
        take.command("part tag")
    take.command("last-time", "part tag")
    take.run()

    assert [each.part for each in take.bars[6:]] == ["Tag", "ending"]
    assert keys_are_released(take.sent)


def test_last_time_in_a_loop_on_a_ladder() -> None:
    """The current round is the last, at its tempo; the next start is from the beginning."""
    take = Take(TWO_PARTS, count_in=0)
    take.command("loop 1-2", "ladder 100 140 10 1", "play")
    take.run_bars(5)
    assert take.transport.bpm == 120
    take.command("last-time")
    take.run()

    assert [bar.part for bar in take.bars[5:]] == ["A", "ending"]
    assert {bar.bpm for bar in take.bars[4:]} == {120}
    assert keys_are_released(take.sent)
    take.command("play")
    take.run_bars(1)
    assert take.transport.bpm == 100


def test_commands_after_the_end_apply_to_the_next_start() -> None:
    """Settings and a part chosen after the end apply when the band starts again."""
    take = Take(TWO_PARTS, choruses=1, count_in=0)
    take.command("play")
    take.run()
    assert take.transport.ended
    take.command("tempo 200", "key +2", "part B", "play", "play")
    begun = len(take.bars)
    take.run_bars(1)

    assert len(take.bars) == begun + 1
    bar = take.bars[-1]
    assert (bar.part, str(bar.key), take.transport.bpm) == ("B", "A", 200)


@pytest.mark.parametrize("line", ["stop", "pause"])
def test_a_bar_made_during_a_stop_is_not_played(line: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """After stop and play while a bar is made, the band plays from the new start."""
    from backing.live.source import Source

    take = Take(TWO_PARTS, count_in=0)
    take.command("play")
    take.run_bars(3)
    make = Source.next
    lines = [[line, "part B", "play"]]

    def interrupted(source: Source, settings: object, position: object) -> object:
        bar = make(source, settings, position)  # type: ignore[arg-type]
        if lines:
            take.command(*lines.pop())
        return bar

    monkeypatch.setattr(Source, "next", interrupted)
    take.command("mute drums")
    take.run_bars(2)

    assert names(take) == [("A", 0), ("A", 1), ("A", 2), ("B", 0), ("B", 1)]
    take.command("stop")
    assert keys_are_released(take.sent)


@pytest.mark.parametrize(
    "tempo, lines, bpm",
    [
        ("180", [], 180),
        ("150", ["tempo 200"], 200),
        ("180", ["tempo 200"], 180),
        ("180", ["ladder 100 140"], 100),
    ],
)
def test_an_edited_tempo_comes_in_with_the_chart(tempo: str, lines: list[str], bpm: int) -> None:
    """An edited tempo applies from the next part; an unchanged one changes nothing."""
    take = Take(TWO_PARTS, count_in=0)
    take.command(*lines, "play")
    take.run_bars(2)
    before = take.transport.bpm
    edited = replace(TWO_PARTS, tempo=Tempo.parse(tempo), by="Somebody")
    take.transport.change(lambda settings: settings.edited(edited), take.now)
    take.run_bars(2)
    assert take.transport.bpm == before
    take.run_bars(2)

    assert take.transport.settings.chart is edited
    assert (take.transport.bpm, take.transport.settings.bpm) == (bpm, bpm)


def test_a_tempo_set_after_an_edit_applies() -> None:
    """A tempo command after the edit replaces the edited tempo."""
    take = Take(TWO_PARTS, count_in=0)
    take.command("play")
    take.run_bars(2)
    edited = replace(TWO_PARTS, tempo=Tempo.parse("180"))
    take.transport.change(lambda settings: settings.edited(edited), take.now)
    take.command("tempo 120")
    take.run_bars(4)

    assert take.transport.settings.chart is edited
    assert (take.transport.bpm, take.transport.settings.bpm) == (120, 120)


def test_last_time_in_the_last_bar_means_the_next_chorus() -> None:
    """In the last bar it is too late for this chorus: the next one is the last."""
    take = Take(TWO_PARTS, count_in=0)
    take.command("play")
    take.run_bars(8)
    take.command("last-time")
    take.run()

    assert [bar.chorus for bar in take.bars if bar.part != "ending"] == [1] * 8 + [2] * 8
    ending = [(bar.index, bar.length) for bar in take.bars if bar.part == "ending"]
    assert ending == [(0, 2), (1, 2)]


def test_an_edit_that_removes_the_part_being_played() -> None:
    """The part is played to its end; then the new chart starts."""
    take = Take(TWO_PARTS, count_in=0)
    take.command("play")
    take.run_bars(6)
    assert take.bars[-1].part == "B"
    only_a = read_chart("key: G\nstyle: swing\ntempo: 150\n[A] 2\n| Am7 | D7 |\n")
    take.transport.change(lambda settings: replace(settings, pending=only_a), take.now)
    take.run_bars(4)

    assert names(take)[5:] == [("B", 1), ("B", 2), ("B", 3), ("A", 0), ("A", 1)]
    assert symbols(take.bars[-1]) == ("D7",)


def test_a_jump_to_a_part_that_an_edit_removes() -> None:
    """A jump to a part that the new chart lacks goes to the top of the form."""
    take = Take(TWO_PARTS, count_in=0)
    take.command("play")
    take.run_bars(2)
    only_a = read_chart("key: G\nstyle: swing\ntempo: 150\n[A] 2\n| Am7 | D7 |\n")
    take.command("part B")
    take.transport.change(lambda settings: replace(settings, pending=only_a), take.now)
    take.run_bars(2)

    assert [symbols(bar) for bar in take.bars[2:]] == [("Am7",), ("D7",)]


def test_a_pushed_chord_is_shown_in_its_own_bar() -> None:
    """A pushed chord sounds before the bar line and is shown in the bar after it."""
    take = Take(LONGER, count_in=0)
    take.command("loop B", "play")
    take.run_bars(4)

    assert [symbols(bar) for bar in take.bars] == [("Bm",), ("E7",), ("A",), ("A7",)]
