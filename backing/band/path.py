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

NEVER = 1e-9
"""Weight of what is taken only when there is no other way."""

_KEYS = 128

_ONWARDS, _BACK, _TURNED = 1.5, 0.35, 0.05

FREE, LEADS, BY_STEP, UP_BY_STEP, BY_FIFTH = range(5)
"""How a pitch is left: as the next slot likes it; by a whole or half step, and so it is with what
is foreign to its chord, more strictly; by such a step upwards; by a fourth up or a fifth down."""

Choices = tuple[tuple[int, float, int], ...]
"""The pitches of a slot: (MIDI key, weight above 0, how it is left)."""


def _only(steps: dict[int, float], otherwise: float = NEVER) -> tuple[float, ...]:
    """Return weights from `WIDEST` below to `WIDEST` above: of other steps the smallest is best."""
    weights = {size: otherwise / (1 + abs(size)) for size in range(-WIDEST, WIDEST + 1)}
    return tuple((weights | steps).values())


_STEPS = {-2: 0.8, -1: 1.0, 1: 1.0, 2: 0.8}

_LEFT = (
    _only(_STEPS),
    _only(_STEPS, NEVER * NEVER),
    _only({1: 1.0, 2: 0.8}, NEVER * NEVER),
    _only({-7: 0.7, 5: 1.0}),
)
"""Weights of the steps for each way to leave a pitch but `FREE`, from `WIDEST` below it upwards."""


class Slot(NamedTuple):
    """A place in the line; a named tuple, as there are thousands of them.

    Attributes:
        bar: number of the bar in the performance.
        tick: from that bar's line, as notated.
        ticks: how long it may sound at most; the next note ends it earlier.
        choices: its pitches, at least one.
        steps: weight of each interval from a note before that is left freely, by semitones from 0
            to `WIDEST`.
        turns: whether it lies on the other side of what it leads into than the note before.
    """

    bar: int
    tick: int
    ticks: int
    choices: Choices
    steps: tuple[float, ...]
    turns: bool = False


def draw_line(slots: Sequence[Slot], chance: random.Random) -> list[int]:
    """Return one pitch for each slot.

    No pitch comes three times running unless a slot allows nothing else; lines tend to go on in
    their direction.
    """
    line: list[int] = []
    turned, left = False, FREE
    for slot, future in zip(slots, weights_ahead(slots), strict=True):
        fits = _fits(line, _ways_into(slot)[left], _TURNED if turned else _ONWARDS)
        turned = slot.turns
        weighed = [
            weight * ahead * fits[pitch + WIDEST]
            for (pitch, weight, _), ahead in zip(slot.choices, future, strict=True)
        ]
        pitch, _, left = slot.choices[_pick(weighed, chance)]
        line.append(pitch)
    return line


def _ways_into(slot: Slot) -> tuple[tuple[float, ...], ...]:
    """Return, for each way in which the note before is left, the weights of the steps from it."""
    return (slot.steps[:0:-1] + slot.steps, *_LEFT)


def weights_ahead(slots: Sequence[Slot]) -> list[list[float]]:
    """Return, for each slot and pitch, the summed weight of all ways to go on from there."""
    ahead = [[1.0] * len(slots[-1].choices)] if slots else []
    for slot, after in zip(slots[-2::-1], slots[:0:-1], strict=True):
        onward = [0.0] * (_KEYS + 2 * WIDEST)
        for (pitch, weight, _), rest in zip(after.choices, ahead[-1], strict=True):
            onward[pitch + WIDEST] = weight * rest
        ways = _ways_into(after)
        row = [
            fsum(map(mul, ways[left], onward[pitch : pitch + 2 * WIDEST + 1]))
            for pitch, _, left in slot.choices
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
    fits = [NEVER] * (_KEYS + 2 * WIDEST)
    fits[last : last + 2 * WIDEST + 1] = around
    if len(line) > 1 and line[-2] == last:
        fits[last + WIDEST] *= NEVER
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
