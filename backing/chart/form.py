"""The road: the bars of a chart in playing order, once round.

Conventions: parts called Intro are played the first time round only, parts called Tag, Outro or
Coda at the end of the form the last time only. A pickup is played once, before the first bar;
later it lies inside the bar before it, unless that bar is written short by just its length.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import groupby
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from backing.chart.model import Bar, Chart, Part
    from backing.harmony.key import Key
    from backing.timing import Meter, Tempo

_FIRST_TIME = {"intro"}
_LAST_TIME = {"tag", "outro", "coda"}


@dataclass(frozen=True, slots=True)
class RoadBar:
    """A bar on the road.

    Attributes:
        bar: the bar as written.
        part: the name of its part.
        turn: which part of the form it is in, counted from 0 once round; below 0 before the form.
        index: its place in the part as played, from 0.
        length: bars of the part as played.
        key: the key that holds in it.
        meter: the meter of its part; the bar's own may differ.
        tempo: its part's own tempo, or None.
        style: its part's own style, or None.
        written: (turn in the form with everything in it, bar in the part as played), however the
            bar is used; the bar of a pickup is -1. No part holds (-1, 0).

    """

    bar: Bar
    part: str
    turn: int
    index: int
    length: int
    key: Key
    meter: Meter
    tempo: Tempo | None
    style: str | None
    written: tuple[int, int] = (-1, 0)

    @property
    def is_intro(self) -> bool:
        """Whether it lies before the form, in no part of the chart."""
        return self.turn < 0

    @property
    def is_part_start(self) -> bool:
        """Whether a part begins here."""
        return self.index == 0 and not self.bar.pickup

    @property
    def is_part_end(self) -> bool:
        """Whether a part ends here."""
        return self.index == self.length - 1 and not self.bar.pickup


def once_round(chart: Chart, *, first: bool = True, last: bool = True) -> tuple[RoadBar, ...]:
    """Return the bars of one chorus in playing order.

    Args:
        chart: the chart.
        first: whether it is the first chorus; then it begins with the pickup, if there is one.
        last: whether it is the last chorus.

    """
    names = _names(chart, first=first, last=last)
    skipped = 0 if first else every_time(chart).start
    road: list[RoadBar] = []
    before = None if first else _last_bar(chart, names)
    for turn, name in enumerate(names):
        part = chart.part(name)
        pickup = part.pickup
        if pickup and ((first and not turn) or _completes(before, pickup, part, chart)):
            road.append(_road_bar(chart, part, turn, 0, pickup, (turn + skipped, -1)))
        road.extend(
            _road_bar(chart, part, turn, index, bar, (turn + skipped, index))
            for index, bar in enumerate(part.played())
        )
        before = road[-1].bar
    return tuple(road)


def loop_of(chart: Chart, first: int, last: int) -> tuple[RoadBar, ...]:
    """Return some bars of the whole form, to go round by themselves.

    A part that is cut begins anew: its bars are counted from where the loop enters it.

    Args:
        chart: the chart.
        first: the first bar, from 0 through the whole form without its pickup.
        last: the last bar, itself in the loop; beyond the end it is the end.

    """
    whole = [each for each in once_round(chart) if not each.bar.pickup]
    bars = whole[max(first, 0) : last + 1] or whole
    parts = [list(group) for _, group in groupby(bars, key=lambda each: each.turn)]
    return tuple(
        replace(each, index=index, length=len(part))
        for part in parts
        for index, each in enumerate(part)
    )


def length_in_bars(chart: Chart) -> int:
    """Return the bars of the whole form, every part in it once round, without pickups."""
    return sum(chart.part(name).length() for name in chart.order)


def opens(name: str) -> bool:
    """Whether a part of this name is played the first time round only."""
    return name.lower() in _FIRST_TIME


def every_time(chart: Chart) -> range:
    """Return which parts of the form, from 0, are played every time round."""
    names = chart.order
    start, end = 0, len(names)
    while start < end and opens(names[start]):
        start += 1
    while end > start and names[end - 1].lower() in _LAST_TIME:
        end -= 1
    # nothing but intros and tags: play them all
    return range(len(names)) if start == end else range(start, end)


def part_label(name: str, occurrence: int) -> str:
    """Return what players call a part that comes several times: A, then A 2 for the second A.

    Args:
        name: its name.
        occurrence: which part of that name in the form it is, from 0.

    """
    return f"{name} {occurrence + 1}" if occurrence else name


def has_closing_part(chart: Chart) -> bool:
    """Whether the form ends with a part that is played the last time only."""
    return every_time(chart).stop < len(chart.order)


def _names(chart: Chart, *, first: bool, last: bool) -> list[str]:
    names, body = list(chart.order), every_time(chart)
    return names[0 if first else body.start : len(names) if last else body.stop]


def _last_bar(chart: Chart, names: list[str]) -> Bar:
    ends = [name for name in names if name.lower() not in _LAST_TIME] or names
    return list(chart.part(ends[-1]).played())[-1]


def _completes(before: Bar | None, pickup: Bar, part: Part, chart: Chart) -> bool:
    meter = part.meter or chart.meter
    return before is not None and before.ticks + pickup.ticks == meter.bar_ticks


def _road_bar(
    chart: Chart, part: Part, turn: int, index: int, bar: Bar, written: tuple[int, int]
) -> RoadBar:
    return RoadBar(
        bar=bar,
        part=part.name,
        turn=turn,
        index=index,
        length=part.length(),
        key=part.key or chart.key,
        meter=part.meter or chart.meter,
        tempo=part.tempo,
        style=part.style,
        written=written,
    )
