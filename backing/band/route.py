"""The route: all choruses one after the other, and the ending behind them.

Three roads say it all - the first time round, the times between, the last time - so that a bar of
any chorus is found by arithmetic, however many choruses there are.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import accumulate
from math import ceil
from typing import TYPE_CHECKING

from backing.band import arrange
from backing.band.place import Sounding
from backing.chart.form import RoadBar, is_intro, loop_of, once_round
from backing.chart.model import Bar, ChordSpan
from backing.harmony.chord import read_chord
from backing.timing import ticks_to_seconds

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from backing.band.arrange import Levels
    from backing.chart.model import Chart
    from backing.harmony.chord import Chord
    from backing.harmony.key import Key
    from backing.style.model import Style
    from backing.timing import Meter

_HELD_SECONDS = 1.8
"""How long the last chord is held at least."""


BarName = tuple[str, int, int]
"""A bar as a player would name it: its part, which one of that name in the form, the bar in it."""


class _Round:
    """Once round the form, with what is known about each bar beforehand."""

    def __init__(self, road: tuple[RoadBar, ...]) -> None:
        self.road = road
        self.ticks = list(accumulate((each.bar.ticks for each in road), initial=0))
        self.names = _names(road)
        self.steps: dict[BarName | None, int] = {name: i for i, name in enumerate(self.names)}
        self.levels = arrange.levels_of(road)
        self.top = next(
            (
                step
                for step, each in enumerate(road)
                if each.is_part_start and not is_intro(each.part)
            ),
            0,
        )


def _names(road: tuple[RoadBar, ...]) -> list[BarName]:
    seen: dict[str, dict[int, int]] = {}
    names = []
    for each in road:
        turns = seen.setdefault(each.part, {})
        which = turns.setdefault(each.turn, len(turns))
        names.append((each.part, which, each.index))
    return names


class Route:
    """The bars of all choruses.

    Attributes:
        choruses: how many there are, from 1.
        bars: how many bars they have together, a pickup counted as one.

    """

    def __init__(self, chart: Chart, choruses: int, loop: tuple[int, int] | None = None) -> None:
        self.choruses = choruses
        if loop:
            looped = _Round(loop_of(chart, *loop))
            self._first = self._middle = self._last = looped
            self.bars = choruses * len(looped.road)
            return
        self._first = _Round(once_round(chart, first=True, last=choruses == 1))
        self._middle = _Round(once_round(chart, first=False, last=False))
        self._last = (
            self._first if choruses == 1 else _Round(once_round(chart, first=False, last=True))
        )
        self.bars = len(self._first.road)
        if choruses > 1:
            self.bars += (choruses - 2) * len(self._middle.road) + len(self._last.road)

    @property
    def pickup(self) -> Bar | None:
        """The pickup that the performance begins with, if there is one."""
        first = self._first.road[0].bar
        return first if first.pickup else None

    @property
    def meter(self) -> Meter:
        """The meter in which the count-in is counted."""
        return self._first.road[0].meter

    @property
    def last(self) -> RoadBar:
        """The last bar of the last chorus."""
        return self._last.road[-1]

    def rounds(self) -> Iterator[tuple[int, tuple[RoadBar, ...]]]:
        """Yield (how often, bars) of the rounds that make up the performance."""
        yield 1, self._first.road
        if self.choruses > 1:
            yield self.choruses - 2, self._middle.road
            yield 1, self._last.road

    def locate(self, number: int) -> tuple[int, int]:
        """Return the chorus, from 1, and the place in it, from 0, of a bar; the ending goes on."""
        rest = number - len(self._first.road)
        if rest < 0 or self.choruses == 1:
            return 1, number
        turn, step = divmod(rest, len(self._middle.road))
        if turn < self.choruses - 2:
            return turn + 2, step
        return self.choruses, rest - (self.choruses - 2) * len(self._middle.road)

    def name_of(self, number: int) -> BarName | None:
        """Return what a bar is called in any road of the chart; None behind the last chorus."""
        if number >= self.bars:
            return None
        chorus, step = self.locate(number)
        return self._round(chorus).names[step]

    def find(self, chorus: int, name: BarName | None) -> int:
        """Return the number of a chorus's bar of this name; its first bar when it has none."""
        start = 0
        if chorus > 1:
            start = len(self._first.road) + (chorus - 2) * len(self._middle.road)
        return start + self._round(chorus).steps.get(name, 0)

    def length_of(self, chorus: int) -> int:
        """Return the number of bars of a chorus."""
        return len(self._round(chorus).road)

    def road_bar(self, number: int) -> RoadBar:
        """Return a bar of the choruses by its number."""
        chorus, step = self.locate(number)
        return self._round(chorus).road[step]

    def tick(self, number: int) -> int:
        """Return where a bar begins, in ticks from the first bar; the ending goes on from there."""
        chorus, step = self.locate(number)
        ticks = self._round(chorus).ticks
        start = 0 if chorus == 1 else self._first.ticks[-1] + (chorus - 2) * self._middle.ticks[-1]
        beyond = step - (len(ticks) - 1)
        if beyond > 0:
            return start + ticks[-1] + beyond * self.last.meter.bar_ticks
        return start + ticks[step]

    def levels(self, number: int) -> Levels:
        """Return the loudness of a bar; the ending keeps that of the last bar."""
        chorus, step = self.locate(number)
        levels = self._round(chorus).levels
        return levels[step] if step < len(levels) else ((0, levels[-1][-1][1]),)

    def is_top(self, number: int) -> bool:
        """Whether a chorus begins at this bar, after an intro."""
        chorus, step = self.locate(number)
        return step == self._round(chorus).top

    def _round(self, chorus: int) -> _Round:
        if chorus == 1:
            return self._first
        return self._last if chorus == self.choruses else self._middle


@dataclass(frozen=True, slots=True)
class EndingBars:
    """How the performance ends.

    Attributes:
        extra: bars behind the last chorus.
        begins: how many bars before the end of the last chorus the last chord comes: 1 when the
            last bar is at home already, 0 when it comes behind it.
        sounding: the last chord, or None when the band just stops.

    """

    extra: tuple[RoadBar, ...]
    begins: int
    sounding: Sounding | None

    def at(self, number: int, bars: int) -> tuple[Sounding, ...] | None:
        """Return what sounds in a bar of the ending, or None in the bars before it.

        Args:
            number: the bar.
            bars: the number of bars of all choruses.

        """
        if self.sounding is None or number < bars - self.begins:
            return None
        return (self.sounding,) if number == bars - self.begins else ()


def ending_of(
    chart: Chart, style: Style, route: Route, bpm_at: Callable[[RoadBar], float]
) -> EndingBars:
    """Return the ending: the home chord, held at least 1.8 seconds, or hit and damped.

    It comes in the last bar when that is a bar of the home chord, else in a bar of its own.
    """
    kind = chart.ending or style.ending
    if kind == "none":
        return EndingBars((), 0, None)
    last = route.last
    home = _last_home(last)
    begins = 1 if home else 0
    meter = last.meter
    seconds = ticks_to_seconds(meter.bar_ticks, bpm_at(last))
    held = ceil(_HELD_SECONDS / seconds) if kind == "hold" else 1
    extra = max(held - begins, 0)
    ticks = (last.bar.ticks if home else 0) + extra * meter.bar_ticks
    word = "hold" if kind == "hold" else "stop"
    chord = home or _home_chord(chart, last.key)
    bars = tuple(_extra_bar(last, chord, index, extra) for index in range(extra))
    return EndingBars(bars, begins, Sounding(0, ticks, chord, frozenset((word,))))


def _last_home(last: RoadBar) -> Chord | None:
    """Return the chord of the last bar when it is a whole bar of home with no word to it."""
    first = last.bar.chords[0]
    if len(last.bar.chords) > 1 or last.bar.directions or first.chord is None:
        return None
    return first.chord if first.chord.root == last.key.tonic else None


def _home_chord(chart: Chart, key: Key) -> Chord:
    """Return the home chord as the chart writes it, or the plain triad of the key."""
    for part in chart.parts:
        for bar in part.written():
            for span in bar.chords:
                if span.chord and span.chord.root == key.tonic and not span.chord.bass:
                    return span.chord
    return read_chord(f"{key.tonic}{'m' if key.is_minor else ''}")


def _extra_bar(last: RoadBar, chord: Chord, index: int, length: int) -> RoadBar:
    meter = last.meter
    bar = Bar(meter, (ChordSpan(0, meter.bar_ticks, chord),))
    return RoadBar(
        bar=bar,
        part=last.part,
        turn=last.turn + 1,
        index=index,
        length=length,
        key=last.key,
        meter=meter,
        tempo=last.tempo,
        style=last.style,
    )
