"""The hands and feet of the drummer: how late and how loud each stroke of a bar is.

Conventions and sources: `hands`.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import pairwise
from math import sqrt
from typing import TYPE_CHECKING, NamedTuple

from backing import chance
from backing.band.drummer import KICK, PEDAL, SNARE, TIME, drummer
from backing.band.hands import TOGETHER, Nuances, close, is_inside, sizes, within
from backing.band.walks import LIMBS, along, line, slow_walks
from backing.style.model import DRUM_KEYS, LIGHT, PLAIN
from backing.timing import seconds_to_ticks

if TYPE_CHECKING:
    from collections.abc import Iterator

    from backing.band.context import BarContext, Stroke
    from backing.style.model import DrumStyle

_FEET_AND_SNARE = {"kick": KICK, "pedal-hat": PEDAL, "snare": SNARE, "side-stick": SNARE}
_OTHER_HAND = ("sweep", "floor-tom", "tom", "high-tom", "high-wood-block", "low-wood-block")
_LIMBS = {
    key: _FEET_AND_SNARE.get(lane, SNARE if lane in _OTHER_HAND else TIME)
    for lane, key in DRUM_KEYS.items()
}
"""The limb that strikes each key."""

_CALM_MS = 90.0
"""Strokes closer than this scatter less, in proportion, so that a roll stays in order."""

_DRUMS_MOST_MS = 60.0
"""The farthest from the beat (ours): strokes of the takes count up to 50 ms from their place."""

_ROOM, _STEADIEST = 0.4, 0.06
"""Most scatter as a share of the room above a stroke, and the least scatter (ours)."""

_SOFTEST = 0.2
"""The least factor on loudness (ours)."""

_SHUFFLED, _LATER = 0.018, 2.9
"""Strokes between beats are early by less than this share of a beat where two to one is meant, and
late by so many times more (ours: the ratios of the shuffle takes are 1.67 to 2.76)."""


class _Moment(NamedTuple):
    """What all limbs have in common at one tick.

    Attributes:
        here_ms: the line of the band.
        apart_ms: how far all limbs are from it.
        both_ms: the same for both hands, further.
        still: the factor on scatter.
        is_beat: whether it is a beat.
        own_ms: standard deviation of each limb.
        is_hit: whether the whole band hits.
    """

    here_ms: float
    apart_ms: float
    both_ms: float
    still: float
    is_beat: bool
    own_ms: tuple[float, ...]
    is_hit: bool


def drummers_nuances(
    context: BarContext, strokes: list[Stroke], *, seed: int, loudest: float
) -> Nuances:
    """Return how the drummer of a seed plays the strokes of a bar.

    Args:
        context: the bar.
        strokes: the notated strokes.
        seed: the seed of the performance.
        loudest: the greatest velocity of ordinary strokes; those near it vary less.
    """
    ticks = sorted({each[0] for each in strokes})
    count = 2 * len(ticks) + 2 * len(strokes)
    drawn = iter(chance.normals(seed, "drums", context.chorus, context.step, count=count))
    moments = _moments(context, strokes, ticks, seed, drawn)
    return Nuances(
        _late(context, strokes, moments, seed, drawn),
        _loudness(context, strokes, moments, seed, loudest, drawn),
        [each[1] for each in strokes],
    )


def _moments(
    context: BarContext, strokes: list[Stroke], ticks: list[int], seed: int, drawn: Iterator[float]
) -> dict[int, _Moment]:
    """Return the moments of a bar by tick."""
    size, limbs = sizes(seed, context.style.feel, context.bpm), _limbs(context.style.drums)
    beat, bar_ticks = context.sequenced.meter.beat_ticks, context.ticks
    steps = line(seed, context.number)
    calm = _calm(ticks, context.bpm)
    timed = {tick for tick, _, pitch, _, _ in strokes if limbs[pitch] == TIME}
    hits = [each for each in context.harmony if each.hit is not None]
    found = {}
    for tick in ticks:
        still = calm.get(tick, 1.0) if calm else 1.0
        is_beat = not tick % beat
        found[tick] = _Moment(
            size.line * along(steps, tick / bar_ticks),
            still * (size.at_once if is_beat else size.between) * next(drawn),
            still * size.both * next(drawn),
            still,
            is_beat,
            size.own if is_beat or tick in timed else size.alone,
            bool(hits) and is_inside(tick, hits),
        )
    return found


def _late(
    context: BarContext,
    strokes: list[Stroke],
    moments: dict[int, _Moment],
    seed: int,
    drawn: Iterator[float],
) -> list[float]:
    """Return the delay of each stroke."""
    feel, limbs = context.style.feel, _limbs(context.style.drums)
    after = sizes(seed, feel, context.bpm).after
    plain_ms = _SHUFFLED * 60_000.0 / context.bpm if feel == "shuffle" else 0.0
    is_hand = [limb in (TIME, SNARE) for limb in range(LIMBS)]
    found = []
    for tick, _, pitch, _, _ in strokes:
        here, apart, both, still, is_beat, own, is_hit = moments[tick]
        limb = limbs[pitch]
        apart += still * own[limb] * next(drawn)
        if is_hand[limb]:
            apart += both
        if plain_ms and not is_beat:
            most_ms = _LATER * plain_ms if apart > 0 else plain_ms
            apart /= sqrt(1.0 + (apart / most_ms) ** 2)
        apart += after[limb]
        found.append(
            TOGETHER * here + close(apart) if is_hit else within(here + apart, _DRUMS_MOST_MS)
        )
    return found


def _loudness(
    context: BarContext,
    strokes: list[Stroke],
    moments: dict[int, _Moment],
    seed: int,
    loudest: float,
    drawn: Iterator[float],
) -> list[float]:
    """Return the factor on the velocity of each stroke."""
    hands = drummer(seed, context.style.feel)
    slow = slow_walks(seed, context.number)
    walks = [1.0 + size * each for size, each in zip(hands.slow, slow, strict=False)]
    soft, scatters, depth = _soft(context.style.drums), hands.scatter, hands.depth
    found = []
    for tick, _, pitch, velocity, _ in strokes:
        limb = _LIMBS[pitch]
        scatter = scatters[limb]
        if limb == SNARE:
            light, plain = soft[pitch]
            scatter = hands.weights[0 if velocity <= light else 1 if velocity <= plain else 2]
        room = _ROOM * (loudest / velocity - 1.0)
        if scatter > room:
            scatter = room if room > _STEADIEST else _STEADIEST
        varied = scatter * next(drawn)
        skew = 0.5 * (varied * varied - scatter * scatter)
        varied += walks[limb] + (skew if limb != PEDAL else -skew)
        varied *= 1.0 + (depth[limb] if moments[tick][4] else -depth[limb])
        found.append(varied if varied > _SOFTEST else _SOFTEST)
    return found


def _calm(ticks: list[int], bpm: float) -> dict[int, float]:
    """Return the factor on the scatter of strokes that others follow or precede closely."""
    close = seconds_to_ticks(_CALM_MS / 1000.0, bpm)
    found: dict[int, float] = {}
    for before, after in pairwise(ticks):
        if after - before < close:
            share = (after - before) / close
            found[before] = min(found.get(before, 1.0), share)
            found[after] = share
    return found


@lru_cache(64)
def _limbs(style: DrumStyle) -> dict[int, int]:
    """Return the limb as which each key is in time: without cymbals, the other hand keeps time."""
    lanes = {lane for groove in style.grooves for lane, grid in groove.lanes if grid.hits}
    if any(_LIMBS[DRUM_KEYS[lane]] == TIME for lane in lanes):
        return _LIMBS
    return {key: TIME if limb == SNARE else limb for key, limb in _LIMBS.items()}


@lru_cache(64)
def _soft(style: DrumStyle) -> dict[int, tuple[int, int]]:
    """Return the velocities of light and plain strokes by key."""
    return {
        DRUM_KEYS[lane]: (velocity[LIGHT], velocity[PLAIN]) for lane, velocity in style.velocity
    }
