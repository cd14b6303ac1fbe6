"""Hours of playing on a manual clock."""

from __future__ import annotations

import gc
import random
import sys
import tracemalloc
from typing import TYPE_CHECKING

import pytest
from charts import TWO_PARTS
from take import Keys, Take

from backing.errors import BackingError
from backing.timing import ticks_to_seconds

if TYPE_CHECKING:
    from collections.abc import Callable

HOURS = 8
LINES = (
    "tempo +7",
    "tempo -6",
    "tempo 140",
    "key +1",
    "key -1",
    "key G",
    "style swing",
    "style two-beat",
    "loop A",
    "loop off",
    "part B",
    "mute chop",
    "unmute chop",
    "only all",
    "level 90",
    "rest 1 4",
    "rest off",
    "count-in on",
    "count-in off",
    "ladder 120 160 10 1",
    "ladder off",
)


@pytest.mark.long
def test_eight_hours_leak_nothing() -> None:
    """Eight hours with a command every minute: few more blocks after the first hour, no key down.

    An object for each bar played would be 15,000 blocks, on top of growing caches. Objects over 512
    bytes are not counted; the test below counts every byte, at six times the cost.
    """
    held = evening(sys.getallocatedblocks)
    assert max(held[1:]) - held[0] < 20_000


@pytest.mark.long
def test_eight_hours_leak_no_byte() -> None:
    """The same by bytes: less than 2 MB more after the first hour."""
    tracemalloc.start()
    try:
        held = evening(lambda: tracemalloc.get_traced_memory()[0])
    finally:
        tracemalloc.stop()
    assert max(held[1:]) - held[0] < 2_000_000


def evening(measure: Callable[[], int]) -> list[int]:
    """Play for hours with a command every minute; return the memory in use after each hour."""
    chance = random.Random(8)
    take, keys = Take(TWO_PARTS), Keys()
    take.command("play")
    held = []
    for minute in range(HOURS * 60):
        take.run(60.0)
        keys.take(take.sent)
        for kept in (take.sent, take.bars, take.times):
            kept.clear()
        if minute % 60 == 59:
            gc.collect()  # as the maker's thread does every other second
            held.append(measure())
        try:
            take.command(chance.choice(LINES))
        except BackingError as error:
            pytest.fail(str(error))
    take.command("stop")
    keys.take(take.sent)
    assert keys.down == set()
    return held


def test_no_drift_in_an_hour() -> None:
    """After an hour at one tempo each bar line is at its exact time."""
    take = Take(TWO_PARTS, count_in=0)
    take.command("play")
    first = None
    bars = 0
    while take.now < 3600.0:
        take.run_bars(50)
        first = take.times[0] if first is None else first
        bars += len(take.times)
        ideal = first + ticks_to_seconds((bars - 1) * take.bars[-1].ticks, 150.0)
        assert take.times[-1] == pytest.approx(ideal, abs=1e-6)
        for kept in (take.sent, take.bars, take.times):
            kept.clear()
