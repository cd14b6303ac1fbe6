"""MIDI clock for followers (MIDI 1.0: 24 a quarter note, song position in sixteenths)."""

from __future__ import annotations

import pytest
from charts import TWO_PARTS, WITH_PICKUP
from take import Take

CLOCK, START, CONTINUE, STOP, SONG_POSITION = 0xF8, 0xFA, 0xFB, 0xFC, 0xF2


def led(take: Take) -> list[tuple[int, ...]]:
    """Return what leads a follower, without the clocks."""
    leads = (START, CONTINUE, STOP, SONG_POSITION)
    return [tuple(message) for _, message in take.sent if message[0] in leads]


def test_clocks_come_before_the_start() -> None:
    """In the count-in the clock tells the tempo; start comes right before the first bar's clock."""
    take = Take(TWO_PARTS, clock_out=True)
    take.say("play")
    take.run_bars(2)
    kinds = [message[0] for _, message in take.sent if message[0] >= CLOCK]

    assert kinds == [*[CLOCK] * 96, START, CLOCK]


def test_a_pickup_lies_before_the_start() -> None:
    """The pickup sounds in the count-in; the follower starts on the first whole bar."""
    take = Take(WITH_PICKUP, clock_out=True)
    take.say("play")
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
def test_after_a_pause_the_follower_goes_on_where_the_band_does(
    bars: int, position: tuple[int, ...] | None
) -> None:
    """Song position is that of the bar that is played again: sixteen sixteenths a bar of 4/4."""
    take = Take(TWO_PARTS, clock_out=True, count_in=1)
    take.say("play")
    take.run_bars(1 + bars)
    take.run(0.5)
    take.say("pause", "play")
    take.run_bars(2)

    again = [position, (CONTINUE,)] if position else [(START,)]
    assert led(take) == [(START,), (STOP,), *again]
    continued = [when for when, message in take.sent if message[0] in (START, CONTINUE)][-1]
    assert take.times[-1] == continued


def test_a_follower_that_was_held_up_is_put_right() -> None:
    """Clocks that a stall swallowed are made good: stop, the position of the next bar, continue."""
    take = Take(TWO_PARTS, clock_out=True, count_in=1)
    take.say("play")
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


def test_a_follower_waits_while_a_round_is_counted_in() -> None:
    """Where every round is counted in, the follower stops for the clicks and then goes on."""
    take = Take(TWO_PARTS, clock_out=True, count_in=1)
    take.say("count-in on", "loop 1-2", "play")
    take.run_bars(5)

    assert led(take) == [(START,), (STOP,), (SONG_POSITION, 32, 0), (CONTINUE,)]


def test_stop_and_play_start_from_the_top() -> None:
    """After a stop the follower starts anew, from the beginning."""
    take = Take(TWO_PARTS, clock_out=True)
    take.say("play")
    take.run_bars(4)
    take.say("stop", "play")
    take.run_bars(2)

    assert led(take) == [(START,), (STOP,), (START,)]
