"""Seams of a performance that no part of the chart holds: how it begins, and the tag at its end.

Conventions: fiddle tunes begin with a kick-off of four chords by the whole band, songs with their
last bars; a tag is the last four bars twice more (common practice, no source).
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, TypeVar

from backing.chart.form import RoadBar, once_round
from backing.chart.model import KICK_OFF, Bar, ChordSpan, Direction
from backing.harmony.chord import read_chord

if TYPE_CHECKING:
    from backing.chart.model import Chart
    from backing.harmony.chord import Chord
    from backing.harmony.key import Key
    from backing.timing import Meter

INTRO, TAG = "intro", "tag"
"""What stands for the name of a part in bars that belong to none."""

TAG_BARS, _TAG_TIMES = 4, 2
_KICK_OFF_HITS = 4
_BEFORE = -1


def intro_of(chart: Chart, first: Bar) -> tuple[RoadBar, ...]:
    """Return the bars that the chart's intro puts before the first chorus.

    Args:
        chart: the chart.
        first: the first bar of the tune; when it is a pickup, it is the end of the last bar here.

    """
    if chart.intro is None:
        return ()
    road = [each for each in once_round(chart, first=False, last=False) if not each.bar.pickup]
    if chart.intro == KICK_OFF:
        bars = _kick_off(chart, road[0])
    else:
        assert isinstance(chart.intro, int)  # the only other kind
        bars = road[-chart.intro :]
    if first.pickup:
        bars = [*bars[:-1], replace(bars[-1], bar=_ending_with(bars[-1].bar, first))]
    return _apart(bars, INTRO, _BEFORE)


def _ending_with(bar: Bar, pickup: Bar) -> Bar:
    """Return a bar whose end is a pickup; its first chord keeps some time, however long that is."""
    start = max(bar.ticks - pickup.ticks, min(bar.ticks // bar.meter.beats, bar.ticks - 1))
    taken = bar.ticks - start
    own = [_until(each, start) for each in bar.chords if each.tick < start]
    words = [_until(each, start) for each in bar.directions if each.tick < start]
    behind = pickup.ticks - taken
    own += [_moved(each, start, behind) for each in pickup.chords if each.end > behind]
    words += [
        _moved(each, start, behind) for each in pickup.directions if each.tick + each.ticks > behind
    ]
    return replace(bar, chords=tuple(own), directions=tuple(words))


_Timed = TypeVar("_Timed", ChordSpan, Direction)


def _until(each: _Timed, end: int) -> _Timed:
    """Return what ends at a tick at the latest."""
    return replace(each, ticks=min(each.ticks, end - each.tick))


def _moved(each: _Timed, start: int, behind: int) -> _Timed:
    """Return what begins later by a start, without what of it lies before a tick."""
    cut = max(behind - each.tick, 0)
    return replace(each, tick=start + max(each.tick - behind, 0), ticks=each.ticks - cut)


def tag_of(road: tuple[RoadBar, ...]) -> tuple[RoadBar, ...]:
    """Return the last four bars of a road, twice more."""
    last = [each for each in road[-TAG_BARS:] if not each.bar.pickup]
    return _apart(last * _TAG_TIMES, TAG, road[-1].turn + 1)


def _apart(bars: list[RoadBar], name: str, turn: int) -> tuple[RoadBar, ...]:
    """Return bars as a part of their own."""
    return tuple(
        replace(each, part=name, turn=turn, index=index, length=len(bars))
        for index, each in enumerate(bars)
    )


def _kick_off(chart: Chart, first: RoadBar) -> list[RoadBar]:
    """Return bars in which the band hits the home chord four times."""
    meter = first.meter
    bar = hit_bar(meter, (home_chord(chart, first.key),) * hits_in(meter))
    return [replace(first, bar=bar)] * (_KICK_OFF_HITS // hits_in(meter))


def hits_in(meter: Meter) -> int:
    """Return how many hits a bar takes: two where it has two halves, else one."""
    return 1 if meter.beats % 2 else 2


def hit_bar(meter: Meter, chords: tuple[Chord, ...]) -> Bar:
    """Return a bar in which the band hits each chord and stops, one after the other."""
    ticks = meter.bar_ticks // len(chords)
    return Bar(
        meter,
        tuple(ChordSpan(ticks * place, ticks, chord) for place, chord in enumerate(chords)),
        tuple(Direction("stop", ticks * place, ticks) for place in range(len(chords))),
    )


def home_chord(chart: Chart, key: Key) -> Chord:
    """Return the home chord as the chart writes it, else the key's triad."""
    chords = (
        span.chord
        for part in chart.parts
        for bar in part.written()
        for span in bar.chords
        if span.chord
    )
    homes = (chord for chord in chords if chord.root == key.tonic and not chord.bass)
    return next(homes, None) or read_chord(f"{key.tonic}{'m' if key.is_minor else ''}")
