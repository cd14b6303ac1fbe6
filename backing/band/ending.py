"""How a performance ends.

Conventions: when the last chord of the last bar is the home chord, that is the end, from where it
begins; otherwise the home chord comes in a bar of its own. The words at it count: a stop ends
short, a hold is held, a push brings the end an eighth early.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil
from typing import TYPE_CHECKING

from backing.band.place import Sounding
from backing.chart.form import RoadBar
from backing.chart.model import Bar, ChordSpan
from backing.harmony.chord import read_chord
from backing.timing import EIGHTH, ticks_to_seconds

if TYPE_CHECKING:
    from collections.abc import Callable

    from backing.band.route import Route
    from backing.chart.model import Chart
    from backing.harmony.chord import Chord
    from backing.harmony.key import Key
    from backing.style.model import Style

_HELD_SECONDS = 1.8
"""How long the last chord is held at least."""


@dataclass(frozen=True, slots=True)
class Ending:
    """The end of a performance.

    Attributes:
        extra: bars behind the last chorus.
        bar: the number of the bar in which the last chord begins.
        last: the last chord, or None when the band just stops at the last bar line.
    """

    extra: tuple[RoadBar, ...]
    bar: int
    last: Sounding | None

    def changed(self, number: int, harmony: tuple[Sounding, ...]) -> tuple[Sounding, ...]:
        """Return what sounds in a bar, given what would sound without an ending."""
        if self.last is None or number < self.bar:
            return harmony
        if number > self.bar:
            return ()
        return (*(each for each in harmony if each.tick < self.last.tick), self.last)

    def begins(self, number: int) -> bool:
        """Whether the last chord is struck in this bar."""
        return self.last is not None and number == self.bar

    def begins_on_one(self, number: int) -> bool:
        """Whether the last chord is struck on the first beat of this bar."""
        return self.begins(number) and self.last is not None and self.last.tick == 0


def ending_of(
    chart: Chart, style: Style, route: Route, bpm_at: Callable[[RoadBar], float]
) -> Ending:
    """Return the ending: the home chord, held at least 1.8 seconds, or hit and damped."""
    last = route.last
    span = last.bar.chords[-1]
    words = last.bar.words_at(span.tick)
    kind = _kind(chart, style, words)
    at_home = _is_home(span, last.key) and "break" not in words
    chord = span.chord if at_home else _home_chord(chart, last.key)
    if kind == "none" or chord is None:
        return Ending((), route.bars, None)
    left_ticks = last.bar.ticks - span.tick if at_home else 0
    extra = _extra_bars(kind, left_ticks, last, bpm_at(last))
    ticks = left_ticks + extra * last.meter.bar_ticks
    bar, tick = (route.bars - 1, span.tick) if at_home else (route.bars, 0)
    if at_home and "push" in words:
        bar, tick, ticks = _pushed(route, bar, tick, ticks)
    behind = tuple(_extra_bar(last, chord, index, extra) for index in range(extra))
    word = "hold" if kind == "hold" else "stop"
    return Ending(behind, bar, Sounding(tick, ticks, chord, frozenset((word,))))


def _kind(chart: Chart, style: Style, words: frozenset[str]) -> str:
    if "stop" in words:
        return "short"
    return "hold" if "hold" in words else chart.ending or style.ending


def _is_home(span: ChordSpan, key: Key) -> bool:
    return span.chord is not None and span.chord.root == key.tonic


def _extra_bars(kind: str, left_ticks: int, last: RoadBar, bpm: float) -> int:
    """Return the bars that the last chord needs behind the last chorus."""
    least = 0 if left_ticks else 1
    if kind != "hold":
        return least
    missing = _HELD_SECONDS - ticks_to_seconds(left_ticks, bpm)
    return max(ceil(missing / ticks_to_seconds(last.meter.bar_ticks, bpm)), least)


def _pushed(route: Route, bar: int, tick: int, ticks: int) -> tuple[int, int, int]:
    """Return bar, tick and length of the last chord when it comes an eighth early."""
    if tick >= EIGHTH:
        return bar, tick - EIGHTH, ticks + EIGHTH
    if bar == 0:
        return bar, tick, ticks
    return bar - 1, route.road_bar(bar - 1).bar.ticks - EIGHTH, ticks + EIGHTH


def _home_chord(chart: Chart, key: Key) -> Chord | None:
    """Return the home chord as the chart writes it, else the key's triad; None without chords."""
    chords = [
        span.chord
        for part in chart.parts
        for bar in part.written()
        for span in bar.chords
        if span.chord
    ]
    homes = (chord for chord in chords if chord.root == key.tonic and not chord.bass)
    if not chords:
        return None
    return next(homes, None) or _triad(key)


def _triad(key: Key) -> Chord:
    return read_chord(f"{key.tonic}{'m' if key.is_minor else ''}")


def _extra_bar(last: RoadBar, chord: Chord, index: int, length: int) -> RoadBar:
    meter = last.meter
    return RoadBar(
        bar=Bar(meter, (ChordSpan(0, meter.bar_ticks, chord),)),
        part=last.part,
        turn=last.turn + 1,
        index=index,
        length=length,
        key=last.key,
        meter=meter,
        tempo=last.tempo,
        style=last.style,
    )
