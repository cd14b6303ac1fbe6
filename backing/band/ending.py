"""How a performance ends.

Conventions: fiddle tunes end with two hits, songs with a tag, ballads and waltzes slow down over
their last two bars (common practice, no source). If the last chord of the last bar is the home
chord, the band ends on it; otherwise the home chord gets a bar of its own. Directions at the last
chord apply: a stop ends short, a hold is held, a push brings the end an eighth early.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil
from typing import TYPE_CHECKING

from backing.band.context import SoundingChord, early_ticks
from backing.band.hits import HITS, LAST_HELD, LAST_SHORT, hit_of
from backing.band.intro_and_tag import hit_bar, hits_in, home_chord
from backing.chart.model import Bar, ChordSpan
from backing.chart.sequence import SequencedBar, has_closing_part
from backing.harmony.chord import Chord
from backing.harmony.quality import read_quality
from backing.timing import ticks_to_seconds

if TYPE_CHECKING:
    from collections.abc import Callable

    from backing.band.route import Route
    from backing.chart.model import Chart
    from backing.harmony.key import Key
    from backing.style.model import Style

_HELD_SECONDS = 1.8
"""Least length of a held last chord."""

_ENDING_WORDS = HITS.keys() | {"push"}
"""Directions at the last chord that say how to end."""


@dataclass(frozen=True, slots=True)
class Ending:
    """The end of a performance.

    Attributes:
        extra: bars after the last chorus.
        bar: the number of the bar in which the last chord begins.
        last: the last chord, or None if the band just stops at the last bar line.
    """

    extra: tuple[SequencedBar, ...]
    bar: int
    last: SoundingChord | None

    def changed(self, number: int, harmony: tuple[SoundingChord, ...]) -> tuple[SoundingChord, ...]:
        """Return the chords of a bar with the ending applied."""
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


def ending_kind(chart: Chart, style: Style, *, live: bool) -> str:
    """Return the ending that the chart names, else the style's, as one of `ENDINGS`.

    A fade becomes a hold in live playing, and so does a tag if the form ends with its own tag.
    """
    kind = chart.ending or style.ending
    if kind == "tag" and has_closing_part(chart):
        return "hold"
    return "hold" if live and kind == "fade" else kind


def ending_of(
    chart: Chart, kind: str, route: Route, bpm_at: Callable[[SequencedBar], float]
) -> Ending:
    """Return the ending: the home chord, held for at least 1.8 seconds, or hit and damped.

    Args:
        chart: the chart.
        kind: one of `ENDINGS`.
        route: the bars of all choruses.
        bpm_at: the tempo of a bar in quarter notes a minute.
    """
    last = route.last
    span = last.bar.chords[-1]
    words = last.bar.words_at(span.tick)
    if kind in ("none", "fade") or not chart.has_chords:
        return Ending((), route.bars, None)
    if kind == "two-hit" and not words & _ENDING_WORDS:
        return _two_hits(chart, route)
    at_home = _is_home(span, last.key) and "break" not in words
    chord = span.chord if at_home and span.chord else home_chord(chart, last.key)
    is_held = "stop" not in words and ("hold" in words or kind != "short")
    left_ticks = last.bar.ticks - span.tick if at_home else 0
    extra = _extra_bars(is_held, left_ticks, last, bpm_at(last))
    ticks = left_ticks + extra * last.meter.bar_ticks
    bar, tick = (route.bars - 1, span.tick) if at_home else (route.bars, 0)
    if at_home:
        bar, tick, ticks = _pushed(route, bar, tick, ticks)
    held = Bar(last.meter, (ChordSpan(0, last.meter.bar_ticks, chord),))
    bars = tuple(_extra_bar(last, held, index, extra) for index in range(extra))
    written = hit_of(words) if at_home else None
    hit = written or (LAST_HELD if is_held else LAST_SHORT)
    return Ending(bars, bar, SoundingChord(tick, ticks, chord, hit=hit))


def _two_hits(chart: Chart, route: Route) -> Ending:
    """Return two hits, dominant seventh and home chord, in one bar or, in odd meters, two."""
    last = route.last
    home = home_chord(chart, last.key)
    chords = (Chord(home.root.up(1), read_quality("7")), home)
    together = hits_in(last.meter) > 1
    bars = [hit_bar(last.meter, each) for each in ([chords] if together else zip(chords))]
    second = bars[-1].chords[-1]
    hit = SoundingChord(second.tick, second.ticks, home, hit=LAST_SHORT)
    extra = tuple(_extra_bar(last, bar, index, len(bars)) for index, bar in enumerate(bars))
    return Ending(extra, route.bars + len(bars) - 1, hit)


def _is_home(span: ChordSpan, key: Key) -> bool:
    return span.chord is not None and span.chord.root == key.tonic


def _extra_bars(is_held: bool, left_ticks: int, last: SequencedBar, bpm: float) -> int:
    """Return how many bars the last chord needs after the last chorus."""
    least = 0 if left_ticks else 1
    if not is_held:
        return least
    missing = _HELD_SECONDS - ticks_to_seconds(left_ticks, bpm)
    return max(ceil(missing / ticks_to_seconds(last.meter.bar_ticks, bpm)), least)


def _pushed(route: Route, bar: int, tick: int, ticks: int) -> tuple[int, int, int]:
    """Return bar number, tick and length of the last chord, an eighth early if it is pushed."""
    last = route.last.bar
    before = route.sequenced_bar(bar - 1).bar if bar else None
    early = early_ticks(before, last, len(last.chords) - 1)
    if before is None or tick >= early:
        return bar, tick - early, ticks + early
    return bar - 1, before.ticks - early, ticks + early


def _extra_bar(last: SequencedBar, bar: Bar, index: int, length: int) -> SequencedBar:
    return SequencedBar(
        bar=bar,
        part=last.part,
        form_index=last.form_index + 1,
        index=index,
        length=length,
        key=last.key,
        meter=last.meter,
        tempo=last.tempo,
        style=last.style,
    )
