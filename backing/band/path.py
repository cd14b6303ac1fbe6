"""A line of notes that aims: first its goals, then a random path from each goal to the next.

Goals are the notes that the harmony asks for: the bass of a new chord. They are chosen first, near
the contour of the phrase and near each other. Between them the line is a Markov chain: each onset
has weights for its pitches, each step between two onsets has weights for its interval. The weights
of all continuations are summed backwards from the end; then the line is drawn forwards. So it is a
fair sample of all lines that reach the goals, and never gets stuck (forward filtering, backward
sampling, as for hidden Markov models, in the opposite direction).
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

_TOO_WIDE = NEVER**3

LEAP = 8
"""Smallest interval that the next note answers by going back: a minor sixth (common practice)."""

_KEYS = 128
_FEW = 9

_ONWARDS, _ENCLOSED = 1.5, 0.05
"""Factors on the same direction, and on the same direction within an enclosure."""

_UNANSWERED = 0.003
"""Factor on a leap that the next note cannot answer, and on any step but back after a leap."""

_GOAL_STEPS = (1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 0.8, 0.7, 0.25, 0.2, 0.1, 0.05, 0.08)
"""Weights of intervals between one goal and the next."""

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
    (),
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
        steps: weight of each interval from a note with the exit `FREE`, from `WIDEST` semitones
            down to `WIDEST` up.
        encloses: whether this note and the one before enclose the next note.
        is_goal: whether the line aims at it.
        leads: whether it must be left by step.
        back: factor on returning to the note before the last.
    """

    bar: int
    tick: int
    ticks: int
    choices: Choices
    steps: tuple[float, ...]
    encloses: bool = False
    is_goal: bool = False
    leads: bool = False
    back: float = 0.35


def draw_line(onsets: Sequence[Onset], chance: random.Random) -> list[int]:
    """Return one pitch for each onset.

    No pitch comes three times in a row unless an onset allows nothing else. Lines tend to keep
    their direction; after a leap they go back.
    """
    aimed = _with_goals(onsets, chance)
    line: list[int] = []
    enclosed, exit = False, FREE
    ahead = weights_ahead(aimed)
    for index, onset in enumerate(aimed):
        choices, future = ahead[index]
        if len(choices) == 1:
            pitch, _, exit = choices[0]
        else:
            steps = _EXIT_STEPS[exit] or onset.steps
            onwards = _ENCLOSED if enclosed else _ONWARDS
            answers = [each[0] for each in ahead[index + 1 : index + 3]]
            weighed = _weighed(line, choices, future, steps, (onwards, onset.back), answers)
            pitch, _, exit = choices[_pick(weighed, chance)]
        enclosed = onset.encloses
        line.append(pitch)
    return line


def _with_goals(onsets: Sequence[Onset], chance: random.Random) -> list[Onset]:
    """Return the onsets with a single pitch for each goal."""
    found = list(onsets)
    places = [i for i, each in enumerate(onsets) if each.is_goal or len(each.choices) == 1]
    goals = [onsets[place].choices for place in places]
    ahead = [[1.0] * len(goals[-1])] if goals else []
    for here, after in zip(goals[-2::-1], goals[:0:-1], strict=True):
        onward = ahead[-1]
        row = [
            fsum(
                weight * weight * _goal_step(pitch - before) * rest
                for (pitch, weight, _), rest in zip(after, onward, strict=True)
            )
            for before, _, _ in here
        ]
        most = max(row)
        ahead.append([each / most for each in row])
    before: int | None = None
    for place, choices, onward in zip(places, goals, ahead[::-1], strict=True):
        goal = choices[0]
        if len(choices) > 1:
            weighed = [
                weight * weight * rest * (1.0 if before is None else _goal_step(pitch - before))
                for (pitch, weight, _), rest in zip(choices, onward, strict=True)
            ]
            goal = choices[_pick(weighed, chance)]
            found[place] = onsets[place]._replace(choices=(goal,))
        before = goal[0]
    return found


def _goal_step(step: int) -> float:
    size = abs(step)
    return _GOAL_STEPS[size] if size <= WIDEST else NEVER / size


def weights_ahead(onsets: Sequence[Onset]) -> list[tuple[Choices, list[float]]]:
    """Return, for each onset, its pitches and the weights of all continuations from them.

    The weights are at most 1. A leading note keeps only the pitches next to the notes that it may
    lead to.
    """
    if not onsets:
        return []
    after = onsets[-1]
    choices, ahead = after.choices, [1.0] * len(after.choices)
    found = [(choices, ahead)]
    for onset in onsets[-2::-1]:
        if len(onset.choices) == 1:
            choices, ahead = onset.choices, [1.0]
        else:
            targets = [
                (pitch, weight * rest)
                for (pitch, weight, _), rest in zip(choices, ahead)  # noqa: B905
            ]
            choices = onset.choices
            if onset.leads and len(targets) <= _FEW:
                near = {pitch + step for pitch, _ in targets for step in _STEPS}
                choices = tuple([each for each in choices if each[0] in near]) or choices
            row = _row(choices, targets, after.steps)
            most = max(row)
            ahead = [each / most for each in row] if most else [1.0] * len(row)
        after = onset
        found.append((choices, ahead))
    return found[::-1]


def _row(
    choices: Choices, targets: list[tuple[int, float]], steps: tuple[float, ...]
) -> list[float]:
    """Return the weight of all continuations from each of the choices."""
    if len(targets) <= _FEW:
        row = []
        for pitch, _, exit in choices:
            here = _EXIT_STEPS[exit] or steps
            total = 0.0
            for target, weight in targets:
                step = target - pitch
                if -WIDEST <= step <= WIDEST:
                    total += here[step + WIDEST] * weight
            row.append(total)
        return row
    onward = [0.0] * (_KEYS + 2 * WIDEST)
    for pitch, weight in targets:
        onward[pitch + WIDEST] = weight
    return [
        fsum(map(mul, _EXIT_STEPS[exit] or steps, onward[pitch : pitch + 2 * WIDEST + 1]))
        for pitch, _, exit in choices
    ]


def _weighed(
    line: list[int],
    choices: Choices,
    future: list[float],
    steps: tuple[float, ...],
    factors: tuple[float, float],
    answers: list[Choices],
) -> list[float]:
    """Return the weight of each choice after the line so far.

    Args:
        line: the keys so far.
        choices: the pitches.
        future: the weights of all continuations from them.
        steps: weights of the steps from the last key, from `WIDEST` below it to `WIDEST` above.
        factors: on the same direction, and on returning to the note before the last.
        answers: the pitches of the next two onsets.
    """
    if not line:
        return [weight * ahead for (_, weight, _), ahead in zip(choices, future)]  # noqa: B905
    onwards, back = factors
    last = line[-1]
    before = line[-2] if len(line) > 1 else last
    came = last - before
    leapt = abs(came) >= LEAP
    lowest, highest = (answers[0][0][0], answers[0][-1][0]) if answers else (0, _KEYS)
    first, final = -1, _KEYS  # lowest and highest answer to a leap to the next note, if that is set
    if len(answers) == 2 and lowest == highest:
        first, final = answers[1][0][0], answers[1][-1][0]
    found = []
    for (pitch, weight, _), ahead in zip(choices, future):  # noqa: B905
        step = pitch - last
        fit = steps[step + WIDEST] if -WIDEST <= step <= WIDEST else _TOO_WIDE
        if not step:
            is_third = (len(line) > 1 and not came) or lowest == pitch == highest
            fit *= NEVER if is_third else _UNANSWERED if leapt else 1.0
        elif came and (step > 0) == (came > 0):
            fit *= _UNANSWERED if leapt else onwards
        if came and pitch == before and not leapt:
            fit *= back
        if first == pitch == final:  # and the next note, which is set, is the same
            fit *= NEVER if pitch == lowest else 1.0
        if (step >= LEAP and lowest >= pitch) or (step <= -LEAP and highest <= pitch):
            fit *= _UNANSWERED
        if (lowest - pitch >= LEAP and first >= lowest) or (
            pitch - highest >= LEAP and final <= highest
        ):
            fit *= _UNANSWERED
        found.append(weight * ahead * fit)
    return found


def _pick(weights: list[float], chance: random.Random) -> int:
    """Return the index of one of the weights, drawn by weight."""
    rest = chance.random() * fsum(weights)
    for index, weight in enumerate(weights):
        rest -= weight
        if rest < 0.0:
            return index
    return weights.index(max(weights))


def moved(steps: tuple[float, ...]) -> tuple[float, ...]:
    """Return weights of steps without the repetition of a note."""
    middle = len(steps) // 2
    return (*steps[:middle], NEVER, *steps[middle + 1 :])
