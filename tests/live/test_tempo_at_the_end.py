"""The tempo at the end of a take changes gradually, whatever command comes late.

A ritard goes down to 60 % of the tempo in two bars: each beat loses 0.4 of the full tempo, divided
by the number of beats in two bars.
"""

from __future__ import annotations

from contextlib import suppress
from itertools import pairwise

import pytest
from charts import TWO_PARTS
from hypothesis import example, given
from hypothesis import strategies as st
from properties import examples
from take import Take, keys_are_released

from backing.chart.read import read_chart
from backing.errors import BackingError

AT_HOME = "| C | Am | F | C |\n"
AWAY = "| C | F | Dm | G7 |\n"
ONE_BAR, ONE_BAR_AWAY = "| C |\n", "| G7 |\n"
SHARED = "| C F | C G7 | F G7 | Dm C |\n"


def slowing(bars: str, fields: str = "") -> Take:
    """Return a take of a tune that slows down at its end, without a count-in."""
    text = f"key: C\ntempo: 200\nending: ritard\ncount-in: 0\n{fields}[A]\n{bars}"
    return Take(read_chart(text), looseness=0.0)


def shares(take: Take) -> list[float]:
    """Return the share of the main tempo at every beat."""
    found = []
    for bar in take.bars:
        tempi = [(0, bar.bpm), *bar.slower]
        for tick in range(0, bar.ticks, bar.meter.beat_ticks):
            bpm = [each for start, each in tempi if start <= tick][-1]
            found.append(bpm / bar.main_bpm)
    return found


def steps_are_small(take: Take) -> bool:
    """Return whether no beat changes the tempo by more than a step of a ritard."""
    most = max((0.4 / (2 * bar.meter.beats) for bar in take.bars), default=0)
    return all(abs(b - a) <= most + 1e-9 for a, b in pairwise(shares(take)))


@pytest.mark.parametrize("fields", ["", "meter: 3/4\n", "meter: 6/8\n", "meter: 2/2\n"])
@pytest.mark.parametrize("bars", [AT_HOME, AWAY, ONE_BAR, ONE_BAR_AWAY])
@pytest.mark.parametrize("at_bar", range(1, 10))
def test_a_late_last_time_slows_down_smoothly(bars: str, at_bar: int, fields: str) -> None:
    """Whichever bar `last-time` comes in, the tempo falls beat by beat to the end."""
    take = slowing(bars, fields)
    take.command("play")
    take.run_bars(at_bar)
    take.command("last-time")
    take.run()
    heard = shares(take)
    assert take.transport.ended
    assert steps_are_small(take)
    assert heard == sorted(heard, reverse=True)
    assert heard[: len(heard) // len(take.bars) * at_bar] == pytest.approx(
        [1.0] * (len(heard) // len(take.bars) * at_bar)
    )
    assert heard[-1] < 1.0
    assert len(take.bars) <= at_bar + 8


@pytest.mark.parametrize("fields", ["", "meter: 6/8\n", "meter: 2/2\n"])
@pytest.mark.parametrize("bars", [AT_HOME, AWAY, ONE_BAR, ONE_BAR_AWAY, "| C | G7 |\n"])
@pytest.mark.parametrize("at_bar", range(1, 8))
def test_a_count_in_sets_the_tempo_of_the_last_time(bars: str, at_bar: int, fields: str) -> None:
    """With a count-in every round, the last round starts at its tempo and slows down from there.

    Nothing slows down before the count-in: the clicks would be faster than the bar before them.
    """
    take = Take(
        read_chart(f"key: C\ntempo: 200\nending: ritard\ncount-in: 1\n{fields}[A]\n{bars}"),
        looseness=0.0,
    )
    take.command("count-in on", "play")
    take.run_bars(at_bar)
    take.command("last-time")
    take.run()
    last = max(number for number, bar in enumerate(take.bars) if bar.label == "count-in")
    assert {bar.bpm for bar in take.bars[: last + 1]} == {take.bars[0].bpm}
    assert not any(bar.slower for bar in take.bars[: last + 1])
    assert take.bars[last + 1].bpm == take.bars[0].bpm
    assert steps_are_small(take)
    if bars != ONE_BAR:  # its only chord is the last
        assert shares(take)[-1] < 1.0


@pytest.mark.parametrize("bars", [AT_HOME, AWAY, SHARED])
@pytest.mark.parametrize("line", ["loop A", "loop 1-2", "loop 1"])
@pytest.mark.parametrize("at_bar", range(1, 5))
def test_a_loop_set_during_a_ritard(bars: str, at_bar: int, line: str) -> None:
    """The loop starts at the next bar line, its tempo gradually; in the last bar it is too late.

    If too late, the last chord is as slow as without the command, and the loop applies to the next
    start.
    """
    plain, take = slowing(bars), slowing(bars)
    for each in (plain, take):
        each.command("last-time", "play")
        each.run_bars(at_bar)
    take.command(line)
    for each in (plain, take):
        each.run()
    assert take.transport.ended
    assert steps_are_small(take)
    if at_bar == 4:
        assert shares(take) == shares(plain)
        assert [bar.label for bar in take.bars] == [bar.label for bar in plain.bars]
    assert take.transport.settings.loop == line.removeprefix("loop ")
    assert keys_are_released(take.sent)


@pytest.mark.parametrize("line", ["loop off", "loop 1", "style swing", "part B"])
def test_the_ending_of_a_loop_is_the_loops(line: str) -> None:
    """An ending that has begun is played to its end, whatever command comes in the last bar."""
    plain, take = Take(TWO_PARTS, count_in=0), Take(TWO_PARTS, count_in=0)
    for each in (plain, take):
        each.command("loop 5-6", "last-time", "play")
        each.run_bars(2)
    take.command(line)
    for each in (plain, take):
        each.run(20.0)
    if line == "part B":
        assert take.bars[2].label == "B"
    else:
        assert [(bar.label, bar.chords) for bar in take.bars] == [
            (bar.label, bar.chords) for bar in plain.bars
        ]


COMMANDS = [
    "last-time",
    "loop A",
    "loop B",
    "loop 2-3",
    "loop off",
    "part A",
    "part B",
    "part next",
    "style ballad",
    "style two-beat",
    "style own",
    "mute chop",
    "key +1",
    "pause | play",
]


@examples(60)
@given(
    bars=st.sampled_from([AT_HOME, AWAY, ONE_BAR, ONE_BAR_AWAY, SHARED]),
    also=st.sampled_from(["", "ending: ritard\n", "ending: hold\n"]),
    commands=st.lists(st.tuples(st.integers(0, 3), st.sampled_from(COMMANDS)), max_size=8),
)
@example(
    bars=AWAY, also="ending: ritard\n", commands=[(3, "last-time"), (1, "part A"), (1, "loop A")]
)
def test_no_command_makes_the_tempo_jump(
    bars: str, also: str, commands: list[tuple[int, str]]
) -> None:
    """With loops, parts and grooves changed at the end, only a new start is at full tempo."""
    text = f"key: C\ntempo: 120\ncount-in: 0\nform: A B\n{also}[A]\n{bars}[B] 2\n| F | G7 |\n"
    take = Take(read_chart(text), looseness=0.0)
    take.command("style ballad", "play")
    for count, line in [*commands, (1, "last-time")]:
        take.run_bars(count)
        paused = line == "pause | play" or take.transport.ended
        with suppress(BackingError):  # loop 2-3 in a form of three bars
            take.command(line)
        if paused:
            assert steps_are_small(take)
            take.bars.clear()
        if not take.transport.playing:
            take.command("play")
    take.run()
    assert take.transport.ended
    assert steps_are_small(take)
