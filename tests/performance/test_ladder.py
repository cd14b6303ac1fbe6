"""Tempo ladders."""

from __future__ import annotations

import pytest

from backing.performance.ladder import Ladder, practice_rungs
from backing.timing import Tempo


@pytest.mark.parametrize(
    "ladder, rungs",
    [
        (Ladder(120, 135, 5, 2), [120, 125, 130, 135]),
        (Ladder(120, 133, 5, 1), [120, 125, 130, 133]),
        (Ladder(200, 180, 10, 1), [200, 190, 180]),
        (Ladder(100, 120, 10, 1, back=True), [100, 110, 120, 110, 100]),
        (Ladder(100, 100, 5, 1), [100]),
    ],
)
def test_a_ladder_ends_at_its_goal(ladder: Ladder, rungs: list[float]) -> None:
    """A ladder climbs or falls by its step, ends exactly at its goal, and returns if asked to."""
    rounds = range(len(rungs) * ladder.every + 2)

    assert rungs == list(ladder.rungs())
    assert [ladder.bpm(each) for each in rounds] == [
        rungs[min(each // ladder.every, len(rungs) - 1)] for each in rounds
    ]


@pytest.mark.parametrize(
    "ends, found",
    [
        ((120,), (120,)),
        ((120, 160), (120, 125, 130, 135, 140, 145, 150, 155, 160)),
        ((120, 160, 230), (120, 135, 150, 165, 180, 195, 210, 225, 230)),
        ((121, 162), (121, 130, 140, 150, 160, 162)),
        ((67, 113), (67, 70, 80, 90, 100, 110, 113)),
        ((98, 112), (98, 100, 105, 110, 112)),
        ((38, 46, 62), (38, 40, 44, 48, 52, 56, 60, 62)),
        ((44.5, 50), (44.5, 46, 48, 50)),
    ],
)
@pytest.mark.parametrize("unit", ["quarter", "dotted-quarter", "half"])
def test_rungs_for_practice_are_round(
    ends: tuple[float, ...], found: tuple[float, ...], unit: str
) -> None:
    """Between first and last are round numbers of the unit, at most nine tempi in all."""
    rungs = practice_rungs(tuple(Tempo(each, unit) for each in ends))
    assert rungs == tuple(Tempo(each, unit) for each in found)
