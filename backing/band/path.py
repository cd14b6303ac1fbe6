"""A line of notes, drawn as one random path that respects all later notes.

The line is a Markov chain: each onset has weights for its pitches, each step between two onsets has
weights for its interval. The weights of all continuations are summed backwards from the end; then
the line is drawn forwards. So it is a fair sample of all lines and never gets stuck (forward
filtering, backward sampling, as for hidden Markov models, in the opposite direction).
"""

from __future__ import annotations

from math import fsum
from operator import mul
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    import random
    from collections.abc import Sequence

WIDEST = 12
"""Largest interval of a line in semitones; wider ones are a last resort."""

NEVER = 1e-9
"""Weight of a last resort."""

_KEYS = 128

_ONWARDS, _BACK, _ENCLOSED = 1.5, 0.35, 0.05
"""Factors on the same direction, on returning to the note before, and on the same direction within
an enclosure."""

FREE, LEADS, BY_STEP, UP_BY_STEP, BY_FIFTH = range(5)
"""Exits, how a pitch is left: by the next onset's weights; by a half or whole step; by such a step,
more strictly, for notes foreign to the chord; by such a step upwards; by a fourth up or a fifth
down."""

Choices = tuple[tuple[int, float, int], ...]
"""The pitches of an onset: (MIDI key, weight above 0, exit)."""


def _only(steps: dict[int, float], otherwise: float = NEVER) -> tuple[float, ...]:
    """Return weights from `WIDEST` below to `WIDEST` above; the others fall with their size."""
    weights = {size: otherwise / (1 + abs(size)) for size in range(-WIDEST, WIDEST + 1)}
    return tuple((weights | steps).values())


_STEPS = {-2: 0.8, -1: 1.0, 1: 1.0, 2: 0.8}

_EXIT_STEPS = (
    _only(_STEPS),
    _only(_STEPS, NEVER * NEVER),
    _only({1: 1.0, 2: 0.8}, NEVER * NEVER),
    _only({-7: 0.7, 5: 1.0}),
)
"""Weights of the steps for each exit but `FREE`, from `WIDEST` below the pitch upwards."""


class Onset(NamedTuple):
    """The onset of a note in a line; a named tuple, as there are thousands of them.

    Attributes:
        bar: number of the bar in the performance.
        tick: from that bar's line, as notated.
        ticks: its greatest length; the next note may end it earlier.
        choices: its pitches, at least one.
        steps: weight of each interval from a note with the exit `FREE`, by semitones from 0 to
            `WIDEST`.
        encloses: whether this note and the one before enclose the next note.
    """

    bar: int
    tick: int
    ticks: int
    choices: Choices
    steps: tuple[float, ...]
    encloses: bool = False


def draw_line(onsets: Sequence[Onset], chance: random.Random) -> list[int]:
    """Return one pitch for each onset.

    No pitch comes three times in a row unless an onset allows nothing else. Lines tend to keep
    their direction.
    """
    line: list[int] = []
    enclosed, exit = False, FREE
    for onset, future in zip(onsets, weights_ahead(onsets), strict=True):
        fits = _fits(line, _steps_by_exit(onset)[exit], _ENCLOSED if enclosed else _ONWARDS)
        enclosed = onset.encloses
        weighed = [
            weight * ahead * fits[pitch + WIDEST]
            for (pitch, weight, _), ahead in zip(onset.choices, future, strict=True)
        ]
        pitch, _, exit = onset.choices[_pick(weighed, chance)]
        line.append(pitch)
    return line


def _steps_by_exit(onset: Onset) -> tuple[tuple[float, ...], ...]:
    """Return, for each exit of the note before, the weights of the steps from it."""
    return (onset.steps[:0:-1] + onset.steps, *_EXIT_STEPS)


def weights_ahead(onsets: Sequence[Onset]) -> list[list[float]]:
    """Return, for each onset and pitch, the weight of all continuations; at most 1 per onset."""
    ahead = [[1.0] * len(onsets[-1].choices)] if onsets else []
    for onset, after in zip(onsets[-2::-1], onsets[:0:-1], strict=True):
        onward = [0.0] * (_KEYS + 2 * WIDEST)
        for (pitch, weight, _), rest in zip(after.choices, ahead[-1], strict=True):
            onward[pitch + WIDEST] = weight * rest
        weights_by_exit = _steps_by_exit(after)
        row = [
            fsum(map(mul, weights_by_exit[exit], onward[pitch : pitch + 2 * WIDEST + 1]))
            for pitch, _, exit in onset.choices
        ]
        most = max(row)
        ahead.append([each / most for each in row] if most else [1.0] * len(row))
    return ahead[::-1]


def _fits(line: list[int], around: tuple[float, ...], onwards: float) -> list[float]:
    """Return how well each MIDI key follows the line so far, at the key plus `WIDEST`.

    Args:
        line: the keys so far.
        around: weights of the steps from the last key, from `WIDEST` below it to `WIDEST` above.
        onwards: factor on the same direction.
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
        for index in same:
            fits[last + index] *= onwards
        fits[before + WIDEST] *= _BACK
    return fits


def _pick(weights: list[float], chance: random.Random) -> int:
    """Return the index of one of the weights, drawn by weight."""
    rest = chance.random() * fsum(weights)
    for index, weight in enumerate(weights):
        rest -= weight
        if rest < 0.0:
            return index
    return weights.index(max(weights))
