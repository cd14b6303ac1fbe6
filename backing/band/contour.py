"""Contour: how high each bar of a phrase lies.

A phrase of four bars rises and falls as a whole or two bars by two, on its way to the next phrase.
With the energy of the chorus the bass goes up the neck, and back down with it (common practice, no
source). Shapes and sizes: ours.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from backing import chance
from backing.band.ways import ABOVE, BELOW, DOTTED, way_of

if TYPE_CHECKING:
    from backing.band.context import BarContext

_SHAPES = (
    ((0.0, 0.6, 1.0, 0.5), 3.0),
    ((0.0, 0.5, 0.9, 1.0), 1.5),
    ((0.0, -0.5, -0.9, -0.3), 2.0),
    ((0.0, 1.0, 0.1, 1.0), 1.5),
    ((0.0, -0.8, 0.4, -0.5), 1.0),
    ((0.0, 0.2, 0.3, 1.0), 1.0),
)
"""Pairs of (height of each bar of a phrase, weight): an arch, a climb, a valley, two and two."""

_SHIFTS = {BELOW: -6, ABOVE: 6, DOTTED: 6}
"""Semitones by which a bar of few notes lies apart, by its way."""

_LEAST, _MORE = 3.5, 4.0
"""Size of a shape in semitones without energy, and what full energy adds."""

_FARTHEST = 8
"""Greatest distance of a bar from the way to the next phrase, in semitones."""

_LOWEST_ABOVE, _HIGHEST_BELOW = 5, 7
"""Least distances of a centre from the ends of the range, in semitones."""

_LAST_CENTRE = 6
_STEP = 2

LIFT = 0.28
"""What full energy adds to the centre of a phrase, as a share of the range."""


def centre_of(context: BarContext, seed: int, heights: tuple[float, float]) -> int:
    """Return the MIDI key around which a phrase begins.

    Args:
        context: its first bar.
        seed: the seed of the performance.
        heights: lowest and highest centre without energy, as shares of the range.
    """
    low, high = context.style.bass.range
    if context.is_end:  # the last note lies low, and the line goes down to it
        return low + _LAST_CENTRE
    share = chance.unit(seed, "bass centre", context.chorus, context.step)
    lowest, highest = heights
    height = lowest + (highest - lowest) * share + LIFT * context.energy
    return _inside(context, low + (high - low) * height)


def centres_of(contexts: list[BarContext], seed: int, here: int, there: int) -> list[int]:
    """Return the MIDI key around which the line moves in each bar of a phrase.

    Args:
        contexts: the bars.
        seed: the seed of the performance.
        here: the centre at its start.
        there: the centre of the next phrase.
    """
    first = contexts[0]
    shape = chance.choose(_SHAPES, seed, "bass contour", first.chorus, first.step)
    size = _LEAST + _MORE * first.energy
    found = []
    for index, each in enumerate(contexts):
        apart = size * shape[index % 4]
        if each.plan.is_thin or each.style.bass.pulse_ticks >= each.ticks:
            apart += _SHIFTS.get(way_of(seed, each.chorus, each.step), 0)
        apart = max(min(apart, _FARTHEST), -_FARTHEST)
        found.append(_inside(each, here + (there - here) * index / len(contexts) + apart))
    return found


def _inside(context: BarContext, centre: float) -> int:
    """Return a centre inside the range; neighbouring ones are rounded to the same key."""
    low, high = context.style.bass.range
    rounded = round(centre / _STEP) * _STEP
    return max(min(rounded, high - _HIGHEST_BELOW), min(low + _LOWEST_ABOVE, high - _HIGHEST_BELOW))
