"""The drummer of a performance, drawn from the seed within the spread of people."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import sqrt
from typing import TYPE_CHECKING

from backing import chance
from backing.band.hand_figures import FAMILIES, FIGURES

if TYPE_CHECKING:
    from backing.band.hand_figures import Spread

TIME, KICK, SNARE, PEDAL = range(4)
"""The limbs: the hand that keeps time, bass drum, the other hand, hat by foot."""

_Z = 1.6
"""A drawn figure is at most so many standard deviations from the median."""

_SHARED, _OWN = 1.3, 1.05
"""The parts add up to less than one limb's strokes on beats have, 17.3 ms in swing, and more is
missing in the shared part, which was measured where limbs strike together."""


@dataclass(frozen=True, slots=True)
class Drummer:
    """A drummer drawn from the takes.

    Attributes:
        shared_ms: standard deviation of the band's line, at 120 quarter notes a minute.
        limbs_ms: standard deviation of what all limbs share at one moment.
        wander: the same, further, between beats, as a share of a beat.
        hands_ms: standard deviation of what both hands share.
        own_ms: standard deviation of each limb's own part, without the former.
        alone: factor on it between beats without the hand that keeps time.
        after_ms: the place of each limb.
        scatter: standard deviation of each limb's loudness from stroke to stroke, as a share.
        slow: standard deviation of its slow walk.
        depth: what beats are louder, and strokes between beats softer, by limb.
        weights: scatter of the snare's light, plain and firm strokes: ghosts to backbeats.
    """

    shared_ms: float
    limbs_ms: float
    wander: float
    hands_ms: float
    own_ms: tuple[float, ...]
    alone: tuple[float, ...]
    after_ms: tuple[float, ...]
    scatter: tuple[float, ...]
    slow: tuple[float, ...]
    depth: tuple[float, ...]
    weights: tuple[float, float, float]


@lru_cache(16)
def drummer(seed: int, feel: str) -> Drummer:
    """Return the drummer of a seed, as they play a feel: in each by the same turns of mind."""
    figures = FIGURES[FAMILIES.get(feel, "all")]
    limbs = (figures.time, figures.kick, figures.snare, figures.pedal)

    def figure(spread: Spread, name: str) -> float:
        return _drawn(spread, turn(seed, name))

    own = [(_OWN * figure(each.own_ms, f"own {limb}")) ** 2 for limb, each in enumerate(limbs)]
    all_limbs, both_hands = (
        share * own[TIME] for share in (figures.limbs_share, figures.hands_share)
    )
    apart = [max(each - all_limbs, 0.25 * each) for each in own]
    for hand in (TIME, SNARE):
        apart[hand] = max(own[hand] - all_limbs - both_hands, 0.2 * own[hand])
    scatter = [figure(each.scatter, f"scatter {limb}") for limb, each in enumerate(limbs)]
    slow = [min(figure(each.slow, f"slow {limb}"), 0.9) for limb, each in enumerate(limbs)]
    ghosts, backbeats = figure(figures.ghosts, "ghosts"), figure(figures.backbeats, "backbeats")
    return Drummer(
        shared_ms=_SHARED * figure(figures.shared_ms, "shared"),
        limbs_ms=sqrt(all_limbs),
        wander=figures.wander,
        hands_ms=sqrt(both_hands),
        own_ms=tuple(sqrt(each) for each in apart),
        alone=tuple(each.alone for each in limbs),
        after_ms=tuple(figure(each.after, f"after {limb}") for limb, each in enumerate(limbs)),
        scatter=tuple(s * sqrt(1.0 - w) for s, w in zip(scatter, slow, strict=True)),
        slow=tuple(s * sqrt(w) for s, w in zip(scatter, slow, strict=True)),
        depth=tuple(each.depth * turn(seed, f"depth {limb}") for limb, each in enumerate(limbs)),
        weights=(ghosts, 0.5 * (ghosts + backbeats), backbeats),
    )


def turn(seed: int, name: str) -> float:
    """Return where a player of a seed stands among players in one respect.

    An even seed has the opposites of the players of the odd one before it, so that one take more is
    surely another evening (ours).
    """
    (drawn,) = chance.normals((seed + 1) // 2, "players", name, count=1)
    return min(max(drawn if seed % 2 else -drawn, -_Z), _Z)


def drawn(spread: tuple[float, float, float], where: float) -> float:
    """Return a player's figure, given p10, p50 and p90 of many and where the player stands."""
    low, middle, high = spread
    return middle + where * (high - middle if where > 0 else middle - low) / 1.28


def _drawn(spread: Spread, where: float) -> float:
    """Return a figure; one that is a size is never drawn below half of the median (ours)."""
    found = drawn(spread, where)
    return max(found, 0.5 * spread.middle) if spread.low >= 0 else found
