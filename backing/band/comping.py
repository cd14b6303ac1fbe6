"""Comping: what the chop makes of its pattern in one bar, before it is fitted to the chords.

Conventions: the strokes of a pattern on the style's steady places never move and are never left
out, if the pattern has all of them: the backbeat is the one steady thing (common practice, no
source). Of the others some are left out: by habit, where another player answers, in a fill, and
where the band is thin; none that is the only one of its chord. The first bar of a part lands: it
has its whole pattern, and the first stroke is firm. The accents of the band are struck if they are
off the beat. Ghost strokes are damped and light, and come in phrases. How much of all this a player
does is drawn from the seed once. Shares are in the style files, the rest is ours.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

from backing import chance
from backing.band.plan import PHRASE_BARS
from backing.notes import Player
from backing.style.model import FIRM, LIGHT

if TYPE_CHECKING:
    from collections.abc import Iterator

    from backing.band.context import BarContext
    from backing.style.model import Grid

_THIN_LIGHT_SHARE, _THIN_SHARE = 0.7, 0.3
"""Shares of light strokes and of others that are left out where the band is thin."""

_TOUCHED_SHARE = 0.5
"""Share of bars in which strokes are left out by habit; changes come in clumps."""

_THIN_GHOSTS, _TURN_GHOSTS, _TURN_LEAST = 0.4, 2.5, 0.3
"""Factors on the share of ghost strokes where the band is thin and in the last bar of a phrase,
which leads on, and the least share there."""

_QUIET_SHARE = 0.8
"""Share of strokes that are left out where another player answers or fills."""

_LEFT_OUT, _GHOSTED = (1.4, -0.8), (0.3, 1.0)
"""Factor on a habit's share without energy, and what full energy adds to it."""

_LEAST, _MOST = 0.5, 1.6
"""Range of a player's own factor on a habit."""

_NONE: frozenset[int] = frozenset()

Strokes = list[tuple[int, int]]
"""Pairs of (tick, LIGHT, PLAIN or FIRM)."""


class Comping(NamedTuple):
    """What the chop strikes in a bar.

    Attributes:
        strokes: those in full.
        steady: ticks of the strokes that stay where they are.
        ghosts: ticks of ghost strokes, for where there is no stroke in full.
    """

    strokes: Strokes
    steady: frozenset[int]
    ghosts: list[int]


def comped(context: BarContext, seed: int) -> Comping:
    """Return the strokes of a bar as its pattern and the plan have them."""
    habits = context.style.chop.habits
    grid, ticks, phase = context.pattern.grid, context.ticks, context.phase
    strokes = [*grid.within(0, ticks, phase)]
    steady = _steady(grid, habits.steady, ticks, phase % grid.ticks)
    if context.plan.answers is Player.CHOP and habits.answer:
        strokes = _answered(context, strokes, habits.answer, steady)
    quiet = _quiet_from(context)
    places = habits.ghosts.within(0, quiet, phase) if habits.ghost_share else ()
    count = 1 + len(strokes) + len(places)
    drawn = chance.units(seed, "chop", context.chorus, context.step, count=count)
    strokes = _thinned(context, strokes, steady, drawn, seed, quiet)
    damped: list[int] = []
    if habits.ghost_share and context.sequenced.index:
        share = _ghost_share(context, seed)
        damped = [tick for tick, _ in places if next(drawn) < share]
    if context.plan.accents:
        strokes = _accented(context, strokes, steady, quiet)
    if context.sequenced.index == 0 and strokes:
        strokes = _firm(strokes, min(steady, default=strokes[0][0]))
    return Comping(strokes, steady, damped)


def _ghost_share(context: BarContext, seed: int) -> float:
    """Return the share of the places of ghost strokes that have one in a bar."""
    phrase = context.step - context.sequenced.index % PHRASE_BARS
    life = 2 * chance.unit(seed, "chop's phrase", context.chorus, phrase)
    least, more = _GHOSTED
    share = context.style.chop.habits.ghost_share * life * _player(seed)[1]
    share *= least + more * context.energy
    share *= _THIN_GHOSTS if context.plan.is_thin else 1.0
    return max(_TURN_GHOSTS * share, _TURN_LEAST) if _turns(context) else share


@lru_cache(64)
def _player(seed: int) -> tuple[float, float]:
    """Return a player's own factors on leaving out and on ghost strokes."""
    source = chance.source(seed, "chop's habits")
    return source.uniform(_LEAST, _MOST), source.uniform(_LEAST, _MOST)


def _answered(
    context: BarContext, strokes: Strokes, answer: Grid, steady: frozenset[int]
) -> Strokes:
    """Return the strokes of a pattern, with the chop's answer in the last two beats."""
    begins = max(context.ticks - 2 * context.sequenced.meter.beat_ticks, 0)
    kept = [stroke for stroke in strokes if stroke[0] < begins or stroke[0] in steady]
    return sorted((dict(kept) | dict(answer.within(begins, context.ticks, context.phase))).items())


@lru_cache(1024)
def _steady(pattern: Grid, grid: Grid, ticks: int, phase: int) -> frozenset[int]:
    """Return the ticks of the strokes that stay; none if the pattern misses one of them."""
    steady = frozenset(tick for tick, _ in grid.within(0, ticks, phase))
    return steady if steady <= {tick for tick, _ in pattern.within(0, ticks, phase)} else _NONE


def _quiet_from(context: BarContext) -> int:
    """Return the tick from which another player answers or fills; the bar's end if none does."""
    answers, fill = context.plan.answers, context.fill
    is_answered = answers is not None and answers is not Player.CHOP
    answer = context.sequenced.meter.beat_ticks if is_answered else 0
    return context.ticks - max(answer, fill.ticks if fill else 0)


def _thinned(
    context: BarContext,
    strokes: Strokes,
    steady: frozenset[int],
    drawn: Iterator[float],
    seed: int,
    quiet: int,
) -> Strokes:
    """Return the strokes that are not left out."""
    if len(strokes) == len(steady):
        return strokes
    most, less = _LEFT_OUT
    share = context.style.chop.habits.leaves_out * (most + less * context.energy) * _player(seed)[0]
    share *= 1 / _TOUCHED_SHARE if next(drawn) < _TOUCHED_SHARE else 0.0
    is_thin, turns = context.plan.is_thin, _turns(context)
    kept = list(strokes)
    for stroke in strokes:
        tick, weight = stroke
        if tick in steady:
            continue
        here = share
        if is_thin:
            here = max(here, _THIN_LIGHT_SHARE if weight == LIGHT else _THIN_SHARE)
        if turns or not context.sequenced.index:  # it keeps what makes it differ
            here = 0.0
        if tick >= quiet:
            here = _QUIET_SHARE
        if next(drawn) < here and not _is_alone(context, kept, tick):
            kept.remove(stroke)
    return kept


def _firm(strokes: Strokes, firm: int) -> Strokes:
    """Return the strokes with a firm one at a tick."""
    return [(tick, FIRM if tick == firm else weight) for tick, weight in strokes]


def _turns(context: BarContext) -> bool:
    """Whether a bar is the last of its phrase."""
    sequenced = context.sequenced
    return sequenced.index % PHRASE_BARS == PHRASE_BARS - 1 or sequenced.is_part_end


def _is_alone(context: BarContext, strokes: Strokes, tick: int) -> bool:
    """Whether a stroke is the only one of its chord, or of the bar."""
    sounding = context.at(tick)
    if sounding is None:
        return len(strokes) == 1
    return sum([sounding.tick <= other < sounding.end for other, _ in strokes]) == 1


def _accented(context: BarContext, strokes: Strokes, steady: frozenset[int], quiet: int) -> Strokes:
    """Return the strokes with the accents of the plan.

    A player who keeps time adds them off the beat, and on it stresses the steady strokes alone; one
    who comps moves the nearest stroke of the chord there.
    """
    beat_ticks = context.sequenced.meter.beat_ticks
    for accent in context.plan.accents:
        if any(tick == accent for tick, _ in strokes):
            if accent in steady or accent % beat_ticks or not steady:
                strokes = _firm(strokes, accent)
        elif accent % beat_ticks and accent < quiet:
            near = [
                stroke
                for stroke in strokes
                if abs(stroke[0] - accent) <= beat_ticks
                and context.at(stroke[0]) is context.at(accent)
            ]
            if near and not steady:
                moved = min(near, key=lambda stroke: (abs(stroke[0] - accent), stroke))
                strokes = [stroke for stroke in strokes if stroke != moved]
            if near or steady:
                strokes = sorted([*strokes, (accent, FIRM)])
    return strokes
