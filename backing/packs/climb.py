"""A ladder as a recording: every chorus at a tempo of its own."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from backing.performance import Performance

if TYPE_CHECKING:
    from collections.abc import Iterator

    from backing.chart.model import Chart
    from backing.performance import PlayedBar, Settings


class Climb:
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
        settings = replace(settings, count_in=first.count_in_bars)
        self._rungs = [Performance(chart, replace(settings, bpm=bpm)) for bpm in tempi]
        self.chart = chart
        self.style = first.style
        self.bpm = first.bpm

    def bars(self) -> Iterator[PlayedBar]:
        """Yield the count-in and every bar, in order."""
        first, last = self._rungs[0], self._rungs[-1]
        swallowed = 1 if first.route.pickup and first.count_in_bars else 0
        for bar in range(first.count_in_bars):
            yield first.counted(bar)
        for number in range(swallowed, last.length):
            chorus, _ = last.route.locate(number)
            yield self._rungs[chorus - 1].bar(number)
