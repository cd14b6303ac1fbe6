"""A tempo ladder as one performance: every chorus at a tempo of its own."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from backing.performance.performance import Performance

if TYPE_CHECKING:
    from collections.abc import Iterator

    from backing.chart.model import Chart
    from backing.performance.performance import PlayedBar
    from backing.performance.settings import Settings


class LadderPerformance:
    """Choruses that follow each other, each from a performance at its tempo.

    Any bar of a performance can be asked for alone, and ticks are the same at every tempo; so the
    bars of each chorus are taken from the performance that has its tempo.

    Attributes:
        chart: what is played.
        style: whose sounds are heard.
        bpm: the first tempo, in quarter notes a minute.

    Args:
        chart: what is played.
        settings: how; tempo and choruses are those of the ladder.
        tempi: quarter notes a minute of each chorus, at least one.

    Raises:
        SettingsError: when the settings do not fit the chart.

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
