"""The fingering path: a shape for every chord, with the least total cost of shapes and moves.

Conventions: a repeated chord keeps its shape. The chords repeat as a cycle, so the move from the
last to the first counts. The hand's position is its lowest pressed fret; with open strings only, it
is anywhere. The costs of moves are our own choice, no source:

- a closed shape that slides, same fingers on same strings, costs its distance in millimetres;
- any other move costs twice its distance, and a little for every finger that changes place;
- a finger that stays in place costs nothing;
- if the mean pitch moves by more than a whole tone, every semitone beyond costs a little, so that
  the register does not jump just because that is easy for the hand.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby
from math import inf
from typing import TYPE_CHECKING

from backing.fretboard.request import EASY
from backing.fretboard.shapes import easiest

if TYPE_CHECKING:
    from collections.abc import Callable

    from backing.fretboard.hand import Hand, Shape
    from backing.fretboard.instrument import Instrument
    from backing.fretboard.request import ShapeRequest
    from backing.harmony.chord import Chord

CANDIDATES = 24
"""Number of shapes of each chord, the easiest, that a path may use."""

_SLIDE_COST = 0.01
"""For each millimetre of a slide."""

_MOVE_COST = 0.02
"""For each millimetre of any other move."""

_LANDING_COST = 0.3
"""For each finger that changes place."""

_LEAP_COST = 0.25
"""For each semitone beyond `_NO_LEAP` that the mean pitch moves."""

_NO_LEAP = 2.0
"""Semitones that the mean pitch moves at no cost."""

_Matrix = tuple[tuple[float, ...], ...]
"""Cost of the move from each shape of a chord (row) to each shape of the next (column)."""


@dataclass(frozen=True, slots=True)
class FingeringPath:
    """A path through some chords and back to the first.

    Attributes:
        shapes: one for every chord, in order.
        cost: total cost of shapes and moves in one cycle; a repeated chord counts once.
    """

    shapes: tuple[Shape, ...]
    cost: float


def candidates(
    instrument: Instrument, hand: Hand, chord: Chord, request: ShapeRequest
) -> tuple[Shape, ...]:
    """Return the shapes of a chord that a path may use.

    Raises:
        ShapeError: if there are none.
    """
    return easiest(instrument, hand, chord, request, CANDIDATES)


@dataclass(frozen=True, slots=True)
class MoveCosts:
    """The costs of moves.

    Attributes:
        slide, move: for each millimetre of a slide, and of any other move.
        landing: for each finger that changes place.
        leap: for each semitone beyond a whole tone that the mean pitch moves.
    """

    slide: float = _SLIDE_COST
    move: float = _MOVE_COST
    landing: float = _LANDING_COST
    leap: float = _LEAP_COST

    def between(self, before: _Fingering, after: _Fingering) -> float:
        """Return the cost of the move from one fingering to another."""
        distance_mm = _apart_mm(before.place_mm, after.place_mm)
        leap = self.leap * max(abs(after.middle - before.middle) - _NO_LEAP, 0.0)
        if before.pattern == after.pattern and after.pattern is not None:
            return self.slide * distance_mm + leap
        landing = len(after.fingers)
        if not before.pressed.isdisjoint(after.pressed):
            landing -= sum([finger <= before.pressed for finger in after.fingers])
        return self.move * distance_mm + self.landing * landing + leap


ONE_POSITION = MoveCosts(2 * _SLIDE_COST, 2 * _MOVE_COST, 2 * _LANDING_COST, 0.0)
"""In the voicing easy the hand stays in one position, and leaps of pitch cost nothing."""


def move_costs_of(voicing: str) -> MoveCosts:
    """Return the costs of moves in a voicing."""
    return ONE_POSITION if voicing == EASY else MoveCosts()


def move_cost(
    instrument: Instrument, before: Shape, after: Shape, move_costs: MoveCosts = MoveCosts()
) -> float:
    """Return the cost of the move from one shape to another; 0 to itself."""
    return move_costs.between(_fingering_of(instrument, before), _fingering_of(instrument, after))


@dataclass(frozen=True, slots=True)
class _Fingering:
    """The properties of a shape that matter to a move.

    Attributes:
        place_mm: position of the hand in millimetres from the nut; None for open strings only.
        pattern: the shape as it slides: fingers, and frets from its lowest; None with open strings.
        pressed: (string, fret, finger) of all pressed strings.
        fingers: the same for each finger by itself.
        middle: mean of the MIDI keys that sound.
    """

    place_mm: float | None
    pattern: tuple[tuple[int | None, int | None], ...] | None
    pressed: frozenset[tuple[int, int, int]]
    fingers: tuple[frozenset[tuple[int, int, int]], ...]
    middle: float


def _fingering_of(instrument: Instrument, shape: Shape) -> _Fingering:
    lowest = shape.position
    by_finger: dict[int, set[tuple[int, int, int]]] = {}
    for string, (fret, finger) in enumerate(zip(shape.frets, shape.fingers, strict=True)):
        if fret and finger:
            by_finger.setdefault(finger, set()).add((string, fret, finger))
    pattern = [
        (None if fret is None else fret - lowest, finger)
        for fret, finger in zip(shape.frets, shape.fingers, strict=True)
    ]
    return _Fingering(
        place_mm=instrument.fret_mm(lowest) if lowest else None,
        pattern=tuple(pattern) if shape.closed else None,
        pressed=frozenset().union(*by_finger.values()),
        fingers=tuple(map(frozenset, by_finger.values())),
        middle=sum(shape.keys(instrument)) / shape.strings,
    )


@lru_cache(256)
def fingering_path(
    instrument: Instrument, hand: Hand, chords: tuple[Chord, ...], request: ShapeRequest
) -> FingeringPath:
    """Return the path of least cost through a cycle of chords, exact among the candidates.

    Args:
        instrument: the instrument.
        hand: the player's hand.
        chords: the chords as played, in order; without any the path is empty.
        request: voicing, strings, position.

    Raises:
        ShapeError: if one of the chords cannot be held.
    """
    return path_through(
        instrument,
        chords,
        {chord: candidates(instrument, hand, chord, request) for chord in dict.fromkeys(chords)},
        move_costs_of(request.voicing),
    )


def path_through(
    instrument: Instrument,
    chords: tuple[Chord, ...],
    options: dict[Chord, tuple[Shape, ...]],
    move_costs: MoveCosts,
    costs: Callable[[Chord, Shape], float] = lambda _, shape: shape.total,
) -> FingeringPath:
    """Return the path of least cost through a cycle of chords, given the shapes of each.

    Args:
        instrument: the instrument.
        chords: the chords as played, in order; without any the path is empty.
        options: the shapes of each chord.
        move_costs: the costs of moves.
        costs: returns the cost of a chord's shape.
    """
    if not chords:
        return FingeringPath((), 0.0)
    runs = [(chord, len(list(group))) for chord, group in groupby(chords)]
    ring = [chord for chord, _ in runs]
    if len(ring) > 1 and ring[0] == ring[-1]:
        ring.pop()  # it continues into the next cycle
    fingerings = {
        chord: [_fingering_of(instrument, shape) for shape in options[chord]]
        for chord in dict.fromkeys(ring)
    }
    matrices: dict[tuple[Chord, Chord], _Matrix] = {}
    moves = []
    for pair in zip(ring, ring[1:] + ring[:1], strict=True):
        if pair not in matrices:
            matrices[pair] = _moves(fingerings[pair[0]], fingerings[pair[1]], move_costs)
        moves.append(matrices[pair])
    shape_costs = [tuple([costs(chord, shape) for shape in options[chord]]) for chord in ring]
    total, chosen = cheapest_round(shape_costs, moves)
    taken = [options[chord][place] for chord, place in zip(ring, chosen, strict=True)]
    if len(ring) < len(runs):
        taken.append(taken[0])
    repeated = [shape for shape, (_, times) in zip(taken, runs, strict=True) for _ in range(times)]
    return FingeringPath(tuple(repeated), total)


def _moves(starts: list[_Fingering], ends: list[_Fingering], costs: MoveCosts) -> _Matrix:
    """Return the cost of every move, as `MoveCosts.between` does, but faster.

    Nearly always all fingers change place; the few moves in which one stays, or the whole shape
    slides, are computed one by one.
    """
    alike: dict[object, list[int]] = {}
    for index, end in enumerate(ends):
        for mark in (end.pattern, *end.pressed):
            alike.setdefault(mark, []).append(index)
    move, leap = costs.move, costs.leap
    landings = [(end.place_mm, costs.landing * len(end.fingers), end.middle) for end in ends]
    rows = []
    for start in starts:
        here, sound = start.place_mm, start.middle
        row = [
            move * _apart_mm(here, there)
            + landing
            + (leap * beyond if (beyond := abs(middle - sound) - _NO_LEAP) > 0 else 0.0)
            for there, landing, middle in landings
        ]
        for mark in (start.pattern, *start.pressed):
            for index in alike.get(mark, ()) if mark else ():
                row[index] = costs.between(start, ends[index])
        rows.append(tuple(row))
    return tuple(rows)


def _apart_mm(here: float | None, there: float | None) -> float:
    return 0.0 if here is None or there is None else abs(there - here)


def cheapest_round(costs: list[tuple[float, ...]], moves: list[_Matrix]) -> tuple[float, list[int]]:
    """Return the least cost of a cycle, and the option chosen at every step.

    The result is exact. The search starts at the step with the fewest options. The cost of a path
    from a start to any end is a lower bound for its cycle; starts are tried in the order of this
    bound, until it is no better than the best cycle found.

    Args:
        costs: for every step the cost of each option.
        moves: for every step the cost of moves from its options to those of the next step; the
            last step's lead to the first.
    """
    steps = len(costs)
    first = min(range(steps), key=lambda step: len(costs[step]))
    costs, moves = costs[first:] + costs[:first], moves[first:] + moves[:first]
    rest = _least_rest(costs, moves)
    best, chosen = inf, [0] * steps
    for bound, start in sorted((bound, start) for start, bound in enumerate(rest[0])):
        if bound >= best:
            break
        best, chosen = _round_from(start, costs, moves, rest, best, chosen)
    return best, chosen[steps - first :] + chosen[: steps - first]


def _least_rest(costs: list[tuple[float, ...]], moves: list[_Matrix]) -> list[list[float]]:
    """Return, for every step and option, the least cost from it to any option of the first step."""
    rest: list[list[float]] = []
    after = [0.0] * len(costs[0])
    for own, matrix in zip(reversed(costs), reversed(moves), strict=True):
        after = [
            cost + min([move + then for move, then in zip(row, after, strict=True)])
            for cost, row in zip(own, matrix, strict=True)
        ]
        rest.append(after)
    return rest[::-1]


def _round_from(
    start: int,
    costs: list[tuple[float, ...]],
    moves: list[_Matrix],
    rest: list[list[float]],
    best: float,
    chosen: list[int],
) -> tuple[float, list[int]]:
    """Return the best cycle from an option of the first step, or `best` if it is no cheaper."""
    spent = {start: costs[0][start]}
    origins: list[dict[int, int]] = []
    for step in range(1, len(costs)):
        reached: dict[int, float] = {}
        origin: dict[int, int] = {}
        for place, cost in enumerate(costs[step]):
            matrix = moves[step - 1]
            until, here = min([(paid + matrix[here][place], here) for here, paid in spent.items()])
            if until + rest[step][place] < best:
                reached[place], origin[place] = until + cost, here
        if not reached:
            return best, chosen
        spent = reached
        origins.append(origin)
    total, last = min((paid + moves[-1][place][start], place) for place, paid in spent.items())
    if total >= best:
        return best, chosen
    path = [last]
    for origin in reversed(origins):
        path.append(origin[path[-1]])
    return total, path[::-1]
