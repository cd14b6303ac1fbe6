"""Tempo ladders: the tempo of each step, and a ladder as one performance.

A player's `Ladder` counts its steps from the first tempo; a practice pack has round tempi between
the first and the last (`practice_rungs`).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import ceil
from typing import TYPE_CHECKING

from backing.performance.performance import Performance
from backing.timing import QUARTER, Tempo, practice_grid

if TYPE_CHECKING:
    from collections.abc import Iterator

    from backing.chart.model import Chart
    from backing.performance.performance import PlayedBar
    from backing.performance.settings import Settings

SMALLEST_STEP_BPM = 0.1
"""The smallest step of a ladder, in units a minute."""

_MOST_RUNGS = 9


@dataclass(frozen=True, slots=True)
class Ladder:
    """A tempo that climbs or falls step by step.

    Attributes:
        start_bpm, goal_bpm: first and last tempo, in units a minute.
        step_bpm: difference between two tempi, in units a minute, 0.1 or more.
        every: times round at each tempo, from 1.
        back: whether it returns to the start after the goal.
        unit: the note that is counted.

    """

    start_bpm: float
    goal_bpm: float
    step_bpm: float = 5.0
    every: int = 2
    back: bool = False
    unit: str = QUARTER

    def bpm(self, rounds: int) -> float:
        """Return the tempo after `rounds` times round, in quarter notes a minute."""
        rungs = self.rungs()
        return Tempo(rungs[min(rounds // self.every, len(rungs) - 1)], self.unit).quarter_bpm

    def rungs(self) -> list[float]:
        """Return the tempi in order, in units a minute; the last step may be smaller."""
        distance = self.goal_bpm - self.start_bpm
        sign = 1 if distance > 0 else -1
        steps = range(int(abs(distance) // self.step_bpm) + 1)
        up = [self.start_bpm + sign * self.step_bpm * step for step in steps]
        if up[-1] != self.goal_bpm:
            up.append(self.goal_bpm)
        return up + up[-2::-1] if self.back else up


def practice_rungs(tempi: tuple[Tempo, ...]) -> tuple[Tempo, ...]:
    """Return the first tempo, round tempi between, and the last tempo; at most nine.

    The round tempi are multiples of the smallest multiple of the goal's practice grid that fits.
    """
    start, goal = tempi[0], tempi[-1]
    step = grid = practice_grid(goal)
    while len(found := _with_multiples(start, goal, step)) > _MOST_RUNGS:
        step += grid
    return found


def _with_multiples(start: Tempo, goal: Tempo, step: int) -> tuple[Tempo, ...]:
    """Return two tempi and the multiples of a step between them."""
    between = range((int(start.bpm // step) + 1) * step, ceil(goal.bpm), step)
    return tuple(dict.fromkeys((start, *(Tempo(float(bpm), goal.unit) for bpm in between), goal)))


class LadderPerformance:
    """A performance in which each chorus has its own tempo.

    Ticks are the same at every tempo, so the bars of each chorus are taken from a performance at
    its tempo.

    Attributes:
        chart: the chart.
        style: the style whose programs and volumes are used.
        bpm: the first tempo, in quarter notes a minute.

    Args:
        chart: the chart.
        settings: the settings; tempo and choruses are ignored.
        tempi: tempo of each chorus in quarter notes a minute, at least one.

    Raises:
        SettingsError: if the settings do not fit the chart.

    """

    def __init__(self, chart: Chart, settings: Settings, tempi: tuple[float, ...]) -> None:
        settings = replace(settings, choruses=len(tempi))
        first = Performance(chart, replace(settings, bpm=tempi[0]))
        settings = replace(settings, count_in=first.count_in.bars)
        others = [Performance(chart, replace(settings, bpm=bpm)) for bpm in tempi[1:]]
        self._choruses = [first, *others]
        self.chart, self.style, self.bpm = chart, first.style, first.bpm

    def bars(self) -> Iterator[PlayedBar]:
        """Yield the count-in and every bar, in order."""
        first, last = self._choruses[0], self._choruses[-1]
        for bar in range(first.count_in.bars):
            yield first.counted(bar)
        for number in range(first.count_in.has_pickup, last.length):
            chorus, _ = last.route.locate(number)
            yield self._choruses[chorus - 1].bar(number)
