"""Hands: what players add to strokes that a style has in one place and one loudness.

Conventions: milliseconds are at looseness 1, above 0 late. A seed draws its players once, for the
whole performance: a drummer within the spread of the takes in `hand_figures`, and companions. Each
stroke is late by the sum of
- the line of the band, a random walk over the beats that is drawn back to the beat. Bass and drums
  follow it, chop and lead in part, for the chop's backbeat is the steadiest thing in the band;
- the drummer's own: of all limbs at one moment, of both hands at one moment, and of each limb;
- the place of the limb or of the player.

Sources: the drummer's figures in `hand_figures`. Correlated deviations are preferred to independent
ones: Hennig et al. 2011, PLoS ONE, PMC3202537.
How far bass, chop and lead are from the line, and how their loudness and their lengths vary, is
ours: no figures are known to us.
"""

from __future__ import annotations

from functools import lru_cache
from math import sqrt
from typing import TYPE_CHECKING, NamedTuple

from backing.band.drummer import drummer
from backing.band.hand_figures import SHARED_TEMPO_MS, TEMPO_MS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backing.band.context import SoundingChord

_JITTER = 0.1
"""Share of the shared variance that is white."""

_MEASURED_BEAT_MS = (207.0, 600.0)
"""Beats at 290 and 100 bpm, where most takes are: beyond them the scatter stays the same."""

_USUAL_BEAT_MS = 500.0

TOGETHER = 0.25
_TOGETHER_OWN, _TOGETHER_MS = 0.3, 6.0
"""Shares of the line and of a player's own part at hits of the whole band, and its limit."""


class Nuances(NamedTuple):
    """What a player adds to the strokes of one bar, stroke by stroke.

    Attributes:
        late_ms: the delay at looseness 1.
        loudness: the factor on velocity.
        ticks: the notated length.
        next_ms: the least delay at looseness 1 of a stroke on the next bar line.
    """

    late_ms: Sequence[float]
    loudness: Sequence[float]
    ticks: Sequence[int]
    next_ms: float = 0.0


@lru_cache(64)
def _tempo(bpm: float) -> tuple[float, float]:
    """Return the factors of the shared and of all other scatter at a tempo."""
    beat_ms = min(max(60_000.0 / bpm, _MEASURED_BEAT_MS[0]), _MEASURED_BEAT_MS[1])
    shared, total = (
        (zero + slope * beat_ms) / (zero + slope * _USUAL_BEAT_MS)
        for zero, slope in (SHARED_TEMPO_MS, TEMPO_MS)
    )
    return shared, total


class Sizes(NamedTuple):
    """A drummer's deviations at a tempo, in milliseconds: standard deviations and places.

    Attributes:
        line: of the band's line.
        at_once, between: of all limbs at one moment, on beats and between them.
        both: of both hands.
        own, alone: of each limb, and between beats without the hand that keeps time.
        after: places of the limbs.
    """

    line: float
    at_once: float
    between: float
    both: float
    own: tuple[float, ...]
    alone: tuple[float, ...]
    after: tuple[float, ...]


@lru_cache(64)
def sizes(seed: int, feel: str, bpm: float) -> Sizes:
    """Return a drummer's deviations at a tempo."""
    hands = drummer(seed, feel)
    shared, rest = _tempo(bpm)
    line = hands.shared_ms * shared
    at_once = sqrt(_JITTER * line**2 + (hands.limbs_ms * rest) ** 2)
    wander = hands.wander * min(60_000.0 / bpm, _MEASURED_BEAT_MS[1])
    own = tuple(rest * each for each in hands.own_ms)
    return Sizes(
        line,
        at_once,
        sqrt(at_once**2 + wander**2),
        rest * hands.hands_ms,
        own,
        tuple(a * b for a, b in zip(own, hands.alone, strict=True)),
        hands.after_ms,
    )


def within(value: float, most: float) -> float:
    """Return a value at most so far from 0."""
    return most if value > most else -most if value < -most else value


def close(own: float) -> float:
    """Return a player's own part at a hit of the whole band."""
    return within(_TOGETHER_OWN * own, _TOGETHER_MS)


def is_inside(tick: int, chords: list[SoundingChord]) -> bool:
    """Whether a tick lies in one of the chords."""
    return any(each.tick <= tick < each.end for each in chords)
