"""The chop: short chords on a style's grid, in shapes that a hand holds.

Conventions: every written chord is struck, however short it is. Where a pattern misses a chord, its
off-beat stroke an eighth or less before the chord moves onto it, if the chord before keeps another
stroke; else a light stroke is added where the chord begins. Strokes on beats do not move, so the
backbeat stays (common practice, no source). A chord that is written again in its bar is one chord.
Pickups have no chop.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

from backing import chance
from backing.band.context import Stroke
from backing.style.model import FIRM, LIGHT
from backing.timing import EIGHTH

if TYPE_CHECKING:
    from backing.band.context import BarContext, PerformanceView, Sounding
    from backing.band.voicing import Voicing
    from backing.style.model import ChopPattern, Grid, Style

_NOISE = 11
"""Address of the chop's wobbling loudness."""

_UP_STROKE_SHARE = 0.8
"""How long an up-stroke takes, compared with a down-stroke."""


class Chop:
    """The chop player of one performance."""

    def __init__(self, look: PerformanceView) -> None:
        self._look = look

    def play(self, place: BarContext) -> list[Stroke]:
        """Return the strokes of one bar; a pickup has none but those of the whole band."""
        if not any(sounding.chord for sounding in place.harmony):
            return []
        style = place.style.chop
        wobble = chance.noise(self._look.seed, _NOISE, place.chorus, place.step)
        grid = None if place.sequenced.bar.pickup else self._pattern(place).grid
        strokes: list[Stroke] = []
        pattern = _adapted(place, grid) if grid else []
        planned = [_strokes_at(place, sounding, pattern) for sounding in place.harmony]
        if grid and not any(planned):
            planned = _touch(place)
        for index, wanted in enumerate(planned):
            voicing = self._voicing(place, place.harmony[index]) if wanted else ()
            for tick, weight, ticks in wanted if voicing else ():
                velocity = style.velocity[weight] + round(3 * next(wobble))
                strokes += _struck(voicing, tick, ticks, velocity, _roll(place, tick, weight))
        return strokes

    def _pattern(self, place: BarContext) -> ChopPattern:
        """Return the pattern of a bar; one of several bars begins with the part or its phrase."""
        patterns = _patterns_in(place.style, place.variation)
        longest = max(pattern.grid.ticks for pattern, _ in patterns)
        bars = max(longest // place.sequenced.meter.bar_ticks, 1)
        step = place.step - place.sequenced.index % bars
        return chance.choose(patterns, self._look.seed, "chop pattern", place.chorus, step)

    def _voicing(self, place: BarContext, sounding: Sounding) -> Voicing:
        """Return what sounds of a chord; one that comes early is the next bar's."""
        if sounding.chord is None:
            return ()
        after = self._look.place(place.number + 1) if sounding.is_coming else None
        sequenced = after.sequenced if after else place.sequenced
        return self._look.voicings.voicing(sequenced, sounding.span, sounding.chord)


@lru_cache(64)
def _patterns_in(style: Style, variation: str) -> tuple[tuple[ChopPattern, float], ...]:
    return tuple(
        (pattern, pattern.weight)
        for pattern in style.chop.patterns
        if pattern.variation in ("", variation)
    )


def _roll(place: BarContext, tick: int, weight: int) -> float:
    """Return milliseconds from string to string; below 0 for an up-stroke, high strings first.

    The hand goes down on beats and up between them, where it is light (common practice, no source).
    """
    roll_ms = place.style.chop.roll_ms
    is_up = weight == LIGHT and tick % place.sequenced.meter.beat_ticks
    return -_UP_STROKE_SHARE * roll_ms if is_up else roll_ms


def _struck(voicing: Voicing, tick: int, ticks: int, velocity: int, roll_ms: float) -> list[Stroke]:
    """Return a chord string by string."""
    if roll_ms < 0:
        voicing = voicing[::-1]
    return [
        Stroke(tick, ticks, pitch, velocity - string, abs(roll_ms) * string)
        for string, pitch in enumerate(voicing)
    ]


class _Span(NamedTuple):
    """The time of one chord in a bar.

    Attributes:
        start, end: in ticks from the bar line.
        is_pushed: whether a push strikes it, whatever the pattern has.
    """

    start: int
    end: int
    is_pushed: bool

    def own(self, strokes: list[tuple[int, int]]) -> list[tuple[int, int]]:
        """Return the strokes in its time."""
        return [stroke for stroke in strokes if self.start <= stroke[0] < self.end]


def _adapted(place: BarContext, grid: Grid) -> list[tuple[int, int]]:
    """Return (tick, weight) of a bar's strokes: the pattern's, fitted to the chords of the bar."""
    strokes = [
        (tick, weight)
        for tick, weight in grid.within(0, place.ticks, place.phase)
        if (sounding := place.at(tick)) and _takes(sounding, tick)
    ]
    chords = _spans(place)
    for index, chord in enumerate(chords):
        if chord.is_pushed or chord.own(strokes):
            continue
        weight = LIGHT
        early = _early(place, strokes, chords[index - 1], chord.start) if index else None
        if early:
            strokes.remove(early)
            weight = early[1]
        strokes.append((chord.start, weight))
    return sorted(strokes)


def _takes(sounding: Sounding, tick: int) -> bool:
    """Whether the pattern's stroke at a tick sounds on a chord; a push leaves room behind it."""
    if not sounding.flows or not sounding.chord:
        return False
    if sounding.held_over:  # struck in the bar before, it rings over the beat
        return tick >= sounding.tick + EIGHTH
    return "push" not in sounding.words or tick >= sounding.tick + 2 * EIGHTH


def _spans(place: BarContext) -> list[_Span]:
    """Return the chords of a bar through which the groove goes on, each as it is written."""
    return [
        _Span(each.tick, each.end, each.held_over or "push" in each.words)
        for each in place.harmony
        if each.chord and each.flows
    ]


def _early(
    place: BarContext, strokes: list[tuple[int, int]], before: _Span, start: int
) -> tuple[int, int] | None:
    """Return the off-beat stroke that comes an eighth or less before a chord.

    None without one, or where the chord before has no other stroke.
    """
    own = before.own(strokes)
    if not own or (len(own) == 1 and not before.is_pushed):
        return None
    tick = own[-1][0]
    is_near = start - tick <= EIGHTH and tick % place.sequenced.meter.beat_ticks
    return own[-1] if is_near else None


def _touch(place: BarContext) -> list[list[tuple[int, int, int]]]:
    """Return a light stroke in the middle of a chord that was struck in the bar before.

    For a bar that has no stroke else.
    """
    length = place.style.chop.length[LIGHT]
    first, *rest = place.harmony
    middle = first.ticks // 2 // EIGHTH * EIGHTH
    stroke = (first.tick + middle, LIGHT, min(length, first.ticks - middle))
    is_touched = first.held_over and first.flows and first.chord is not None
    return [[stroke] if is_touched else [], *([] for _ in rest)]


def _strokes_at(
    place: BarContext, sounding: Sounding, pattern: list[tuple[int, int]]
) -> list[tuple[int, int, int]]:
    """Return (tick, weight, ticks) of the strokes on one chord."""
    style = place.style.chop
    start, end = sounding.tick, sounding.end
    if sounding.hit is not None:
        ticks = sounding.ticks if sounding.hit.rings else EIGHTH
        return [(start, FIRM, ticks)] if sounding.is_hit else []
    found = [
        (tick, weight, min(style.length[weight], end - tick))
        for tick, weight in pattern
        if start <= tick < end
    ]
    if "push" in sounding.words and not sounding.held_over:
        found.insert(0, (start, FIRM, style.length[FIRM]))
    return found
