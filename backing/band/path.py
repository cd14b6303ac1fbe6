"""A line of notes found as one path: every note is chosen with an eye on all that follow.

The line is a chain: each place in it has weights for its pitches, each step between two places has
weights for its interval. Weights of all possible continuations are summed backwards from the end;
then the line is drawn forwards, so that it is a fair sample of all lines and never runs into a
corner (forward filtering, backward sampling, as for hidden Markov models, turned round).
"""

from __future__ import annotations

from math import fsum
from operator import mul
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    import random
    from collections.abc import Sequence

WIDEST = 12
"""Largest interval of a line in semitones; wider ones are taken only when there is no other way."""

_NEVER = 1e-9
_KEYS = 128

_ONWARDS, _BACK, _TURNED = 1.5, 0.35, 0.05


class Slot(NamedTuple):
    """A place in the line; a named tuple, as there are thousands of them.

    Attributes:
        bar: number of the bar in the performance.
        tick: from that bar's line, as notated.
        ticks: how long it may sound at most; the next note ends it earlier.
        weights: pairs of (MIDI key, weight above 0), at least one.
        steps: weight of each interval from the note before, by semitones from 0 to `WIDEST`.
        leads: whether it leads into the next note, so that a step is wanted there.
        turns: whether it lies on the other side of what it leads into than the note before.
    """

    bar: int
    tick: int
    ticks: int
    weights: tuple[tuple[int, float], ...]
    steps: tuple[float, ...]
    leads: bool = False
    turns: bool = False


def draw_line(slots: Sequence[Slot], chance: random.Random) -> list[int]:
    """Return one pitch for each slot.

    No pitch comes three times running unless a slot allows nothing else; lines tend to go on in
    their direction.
    """
    line: list[int] = []
    turned = False
    for slot, future in zip(slots, weights_ahead(slots), strict=True):
        around = slot.steps[:0:-1] + slot.steps
        fits = _fits(line, around, _TURNED if turned else _ONWARDS)
        turned = slot.turns
        weighed = [
            weight * ahead * fits[pitch + WIDEST]
            for (pitch, weight), ahead in zip(slot.weights, future, strict=True)
        ]
        line.append(slot.weights[_pick(weighed, chance)][0])
    return line


def weights_ahead(slots: Sequence[Slot]) -> list[list[float]]:
    """Return, for each slot and pitch, the summed weight of all ways to go on from there."""
    ahead = [[1.0] * len(slots[-1].weights)] if slots else []
    for slot, after in zip(slots[-2::-1], slots[:0:-1], strict=True):
        onward = [0.0] * (_KEYS + 2 * WIDEST)
        for (pitch, weight), rest in zip(after.weights, ahead[-1], strict=True):
            onward[pitch + WIDEST] = weight * rest
        around = after.steps[:0:-1] + after.steps
        row = [
            fsum(map(mul, around, onward[pitch : pitch + 2 * WIDEST + 1]))
            for pitch, _ in slot.weights
        ]
        most = max(row)
        ahead.append([each / most for each in row] if most else [1.0] * len(row))
    return ahead[::-1]


def _fits(line: list[int], around: tuple[float, ...], onwards: float) -> list[float]:
    """Return how well each MIDI key follows the line so far, at the key plus `WIDEST`.

    Args:
        line: the keys so far.
        around: weights of the steps from the last key, from `WIDEST` below it to `WIDEST` above.
        onwards: factor on going on in the same direction.
    """
    if not line:
        return [1.0] * (_KEYS + WIDEST)
    last = line[-1]
    fits = [_NEVER] * (_KEYS + 2 * WIDEST)
    fits[last : last + 2 * WIDEST + 1] = around
    if len(line) > 1 and line[-2] == last:
        fits[last + WIDEST] *= _NEVER
    elif len(line) > 1:
        before = line[-2]
        same = range(WIDEST + 1, 2 * WIDEST + 1) if last > before else range(WIDEST)
        for place in same:
            fits[last + place] *= onwards
        fits[before + WIDEST] *= _BACK
    return fits


def _pick(weights: list[float], chance: random.Random) -> int:
    """Return the place of one of the weights, drawn by weight."""
    rest = chance.random() * fsum(weights)
    for place, weight in enumerate(weights):
        rest -= weight
        if rest < 0.0:
            return place
    return weights.index(max(weights))
