"""The chop: short chords on a style's grid, in shapes that a hand can hold.

Conventions: every written chord is struck, however short it is; a ghost stroke does not count. What
is struck is the pattern as `comping` has it in this bar. If that misses a chord, its
off-beat stroke an eighth or less before the chord moves onto the chord, provided that the chord
before keeps another stroke; otherwise a light stroke is added where the chord begins. Strokes on
beats never move, so the backbeat stays (common practice, no source). A chord that is repeated in
its bar counts as one chord. Pickups have no chop.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

from backing.band.comping import comped
from backing.band.context import Stroke
from backing.style.model import FIRM, LIGHT
from backing.timing import EIGHTH, seconds_to_ticks

if TYPE_CHECKING:
    from backing.band.comping import Strokes
    from backing.band.context import BarContext, PerformanceView, SoundingChord

_UP_STROKE_SHARE = 0.8
"""Duration of an up-stroke as a share of a down-stroke's."""

_GHOST_SHARE, _GHOST_SECONDS = 0.6, 0.09
"""Velocity of a ghost stroke as a share of a light one's, and its length; ours."""


class Chop:
    """The chop player of one performance."""

    def __init__(self, view: PerformanceView) -> None:
        self._view = view

    def play(self, context: BarContext) -> list[Stroke]:
        """Return the strokes of one bar; a pickup has only hits and pushes."""
        if not any(sounding.chord for sounding in context.harmony):
            return []
        style = context.style.chop
        grid = None if context.sequenced.bar.pickup else context.pattern.grid
        strokes: list[Stroke] = []
        comping = comped(context, self._view.seed) if grid else None
        pattern = _adapted(context, comping.strokes, comping.steady) if comping else []
        planned = [_strokes_at(context, sounding, pattern) for sounding in context.harmony]
        if grid and not any(planned):
            planned = _light_strokes(context)
        for index, wanted in enumerate(planned):
            keys = self._keys(context, context.harmony[index]) if wanted else ()
            for tick, weight, ticks in wanted if keys else ():
                velocity, roll = style.velocity[weight], _roll(context, tick, weight)
                strokes += _struck(keys, tick, ticks, velocity, roll)
        return strokes + self._ghosts(context, comping.ghosts if comping else [], strokes)

    def _ghosts(self, context: BarContext, ticks: list[int], strokes: list[Stroke]) -> list[Stroke]:
        """Return the ghost strokes of a bar, where nothing close is struck in full.

        A swung off-beat is played where a triplet's third is.
        """
        style = context.style.chop
        light, full = style.velocity[LIGHT], {each.tick for each in strokes} if ticks else set()
        found: list[Stroke] = []
        for tick in ticks:
            sounding = context.at(tick)
            is_near = any(abs(each - tick) < EIGHTH // 2 for each in full)
            if sounding and not is_near and _takes(sounding, tick):
                length = min(style.length[LIGHT], sounding.end - tick, _ghost_ticks(context.bpm))
                velocity, roll = round(_GHOST_SHARE * light), _roll(context, tick, LIGHT)
                found += _struck(self._keys(context, sounding), tick, length, velocity, roll)
        return found

    def _keys(self, context: BarContext, sounding: SoundingChord) -> tuple[int, ...]:
        """Return the MIDI keys of a chord; a chord of the next bar has that bar's shape."""
        if sounding.chord is None:
            return ()
        after = self._view.context(context.number + 1) if sounding.in_next_bar else None
        bar = after or context
        return self._view.voicings.keys_of(bar.sequenced, sounding.span, sounding.chord, bar.chorus)


def _roll(context: BarContext, tick: int, weight: int) -> float:
    """Return the milliseconds from string to string; negative for an up-stroke.

    Light strokes between beats are up-strokes, from the high strings to the low ones; all others
    are down-strokes (common practice, no source).
    """
    roll_ms = context.style.chop.roll_ms
    is_up = weight == LIGHT and tick % context.sequenced.meter.beat_ticks
    return -_UP_STROKE_SHARE * roll_ms if is_up else roll_ms


@lru_cache(4096)
def _struck(
    keys: tuple[int, ...], tick: int, ticks: int, velocity: int, roll_ms: float
) -> tuple[Stroke, ...]:
    """Return one stroke for each string of a chord."""
    if roll_ms < 0:
        keys = keys[::-1]
    return tuple(
        Stroke(tick, ticks, pitch, velocity - string, abs(roll_ms) * string)
        for string, pitch in enumerate(keys)
    )


@lru_cache(64)
def _ghost_ticks(bpm: float) -> int:
    """Return the length of a ghost stroke in ticks."""
    return max(round(seconds_to_ticks(_GHOST_SECONDS, bpm)), 1)


class _Span(NamedTuple):
    """The time of one chord in a bar.

    Attributes:
        start, end: in ticks from the bar line.
        is_pushed: whether a push strikes it, with or without the pattern.
    """

    start: int
    end: int
    is_pushed: bool

    def own(self, strokes: Strokes) -> Strokes:
        """Return the strokes that fall in it."""
        return [stroke for stroke in strokes if self.start <= stroke[0] < self.end]


def _adapted(context: BarContext, pattern: Strokes, steady: frozenset[int]) -> Strokes:
    """Return strokes fitted to the chords of a bar; beside steady ones, what moves is light."""
    strokes = [
        (tick, weight)
        for tick, weight in pattern
        if (sounding := context.at(tick)) and _takes(sounding, tick)
    ]
    chords = _spans(context)
    for index, chord in enumerate(chords):
        if chord.is_pushed or chord.own(strokes):
            continue
        weight = LIGHT
        early = _early(context, strokes, chords[index - 1], chord.start) if index else None
        if early:
            strokes.remove(early)
            weight = LIGHT if steady else early[1]
        strokes.append((chord.start, weight))
    return sorted(strokes)


def _takes(sounding: SoundingChord, tick: int) -> bool:
    """Whether a chord keeps the pattern's stroke at a tick; a push drops those just after it."""
    if not sounding.flows or not sounding.chord:
        return False
    if sounding.held_over:  # struck in the bar before, it rings over the beat
        return tick >= sounding.tick + EIGHTH
    return "push" not in sounding.words or tick >= sounding.tick + 2 * EIGHTH


def _spans(context: BarContext) -> list[_Span]:
    """Return the spans of the chords under which the groove continues."""
    return [
        _Span(each.tick, each.end, each.held_over or "push" in each.words)
        for each in context.harmony
        if each.chord and each.flows
    ]


def _early(
    context: BarContext, strokes: Strokes, before: _Span, start: int
) -> tuple[int, int] | None:
    """Return the off-beat stroke an eighth or less before a chord, which may move onto it.

    None if there is no such stroke, or if the chord before has no other one.
    """
    own = before.own(strokes)
    if not own or (len(own) == 1 and not before.is_pushed):
        return None
    tick = own[-1][0]
    is_near = start - tick <= EIGHTH and tick % context.sequenced.meter.beat_ticks
    return own[-1] if is_near else None


def _light_strokes(context: BarContext) -> list[list[tuple[int, int, int]]]:
    """Return the strokes of a bar that has none of its own, chord by chord.

    If its first chord was pushed into the bar before, it gets a light stroke in its middle.
    """
    length = context.style.chop.length[LIGHT]
    first, *rest = context.harmony
    middle = first.ticks // 2 // EIGHTH * EIGHTH
    stroke = (first.tick + middle, LIGHT, min(length, first.ticks - middle))
    is_struck = first.held_over and first.flows and first.chord is not None
    return [[stroke] if is_struck else [], *([] for _ in rest)]


def _strokes_at(
    context: BarContext, sounding: SoundingChord, pattern: Strokes
) -> list[tuple[int, int, int]]:
    """Return the strokes on one chord as (tick, weight, ticks)."""
    style = context.style.chop
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
