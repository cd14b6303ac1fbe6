"""MIDI clock for followers (MIDI 1.0: 24 a quarter note, song position in sixteenths)."""

from __future__ import annotations

import pytest
from charts import TWO_PARTS, WITH_PICKUP
from take import Take

CLOCK, START, CONTINUE, STOP, SONG_POSITION = 0xF8, 0xFA, 0xFB, 0xFC, 0xF2


def led(take: Take) -> list[tuple[int, ...]]:
    """Return the messages to a follower, without clocks."""
    leads = (START, CONTINUE, STOP, SONG_POSITION)
    return [tuple(message) for _, message in take.sent if message[0] in leads]


def test_clocks_come_before_the_start() -> None:
    """Clocks run during the count-in; start comes right before the first clock of bar 1."""
    take = Take(TWO_PARTS, clock_out=True)
    take.command("play")
    take.run_bars(2)
    kinds = [message[0] for _, message in take.sent if message[0] >= CLOCK]

    assert kinds == [*[CLOCK] * 96, START, CLOCK]


def test_a_pickup_comes_before_the_start() -> None:
    """The pickup sounds during the count-in; the follower starts with the first full bar."""
    take = Take(WITH_PICKUP, clock_out=True)
    take.command("play")
    take.run_bars(4)
    (start,) = [when for when, message in take.sent if message[0] == START]

    whole = [bar.part for bar in take.bars].index("A")
    assert take.times[whole] == start


@pytest.mark.parametrize(
    "bars, position",
    [
        (1, None),
        (2, (SONG_POSITION, 16, 0)),
        (5, (SONG_POSITION, 64, 0)),
        (10, (SONG_POSITION, 16, 1)),
    ],
)
def test_after_a_pause_the_follower_continues_with_the_band(
    bars: int, position: tuple[int, ...] | None
) -> None:
    """Song position is that of the bar played again: 16 sixteenths for each bar of 4/4."""
    take = Take(TWO_PARTS, clock_out=True, count_in=1)
    take.command("play")
    take.run_bars(1 + bars)
    take.run(0.5)
    take.command("pause", "play")
    take.run_bars(2)

    restarted = [position, (CONTINUE,)] if position else [(START,)]
    assert led(take) == [(START,), (STOP,), *restarted]
    continued = [when for when, message in take.sent if message[0] in (START, CONTINUE)][-1]
    assert take.times[-1] == continued


def test_a_follower_is_repositioned_after_a_stall() -> None:
    """After lost clocks come stop, the song position of the next bar, and continue."""
    take = Take(TWO_PARTS, clock_out=True, count_in=1)
    take.command("play")
    take.run_bars(3)
    take.now += 5.0
    take.run(4.0)
    stop, position, go_on = led(take)[1:]
    at = next(when for when, message in take.sent if message[0] == CONTINUE)
    bar = take.bars[take.times.index(at)]

    assert (stop, go_on) == ((STOP,), (CONTINUE,))
    assert position == (
        SONG_POSITION,
        bar.position.ticks // 240 % 128,
        bar.position.ticks // 240 // 128,
    )
    assert bar.position.ticks == 960 * 4 * (take.times.index(at) - 1)


def test_a_follower_waits_during_the_count_in_of_a_round() -> None:
    """With a count-in every round, the follower stops for the clicks and then continues."""
    take = Take(TWO_PARTS, clock_out=True, count_in=1)
    take.command("count-in on", "loop 1-2", "play")
    take.run_bars(5)

    assert led(take) == [(START,), (STOP,), (SONG_POSITION, 32, 0), (CONTINUE,)]


def test_stop_and_play_start_from_the_top() -> None:
    """After a stop the follower starts from the beginning."""
    take = Take(TWO_PARTS, clock_out=True)
    take.command("play")
    take.run_bars(4)
    take.command("stop", "play")
    take.run_bars(2)

    assert led(take) == [(START,), (STOP,), (START,)]
