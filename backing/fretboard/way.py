"""The way through a part: a shape for every chord, so that shapes and moves together cost least.

Conventions: a chord that goes on keeps its shape. The chords go round: the end leads back to the
start, and what that move costs counts. A hand is where its lowest pressed fret is; open strings let
it go anywhere. What a move costs is our own choice, no source:

- a closed shape that slides, same fingers on same strings, costs its way in millimetres;
- any other move costs twice its way, and a little for every finger that lands anew;
- a finger that stays where it is costs nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby
from math import inf
from typing import TYPE_CHECKING

from backing.fretboard.shapes import EASY, easiest

if TYPE_CHECKING:
    from backing.fretboard.hand import Hand
    from backing.fretboard.instrument import Instrument
    from backing.fretboard.shapes import Shape, Wish
    from backing.harmony.chord import Chord

CANDIDATES = 40
"""How many shapes of each chord, the easiest, a way is made from."""

_SLIDE_COST = 0.01
"""A millimetre that a shape slides."""

_MOVE_COST = 0.02
"""A millimetre that the hand moves otherwise."""

_LANDING_COST = 0.3
"""For every finger that lands anew."""

_EASY_WEIGHT = 2.0
"""At the level easy the hand is to stay in one position."""

_Matrix = tuple[tuple[float, ...], ...]
"""What it costs from each shape of a chord (row) to each of the next (column)."""


@dataclass(frozen=True, slots=True)
class Way:
    """A way through some chords and back to the first.

    Attributes:
        shapes: one for every chord, in their order.
        cost: of all shapes and moves, once round; a chord that goes on counts once.
        moved_mm: how far the hand moves once round, in millimetres.
    """

    shapes: tuple[Shape, ...]
    cost: float
    moved_mm: float


def candidates(instrument: Instrument, hand: Hand, chord: Chord, wish: Wish) -> tuple[Shape, ...]:
    """Return the shapes of a chord that a way may take.

    Raises:
        ShapeError: when there are none.
    """
    return easiest(instrument, hand, chord, wish, CANDIDATES)


def hand_moves_mm(instrument: Instrument, before: Shape, after: Shape) -> float:
    """Return how far the hand moves between two shapes in millimetres; 0 from or to open ones."""
    if not before.position or not after.position:
        return 0.0
    return abs(instrument.fret_mm(after.position) - instrument.fret_mm(before.position))


def move_cost(instrument: Instrument, before: Shape, after: Shape) -> float:
    """Return what it costs to go from one shape to another; 0 to itself."""
    return _cost_between(_grip(instrument, before), _grip(instrument, after))


@dataclass(frozen=True, slots=True)
class _Grip:
    """What of a shape matters to a move.

    Attributes:
        place_mm: where the hand is, in millimetres from the nut; None for open strings only.
        form: the shape as it slides: fingers, and frets from its lowest; None with open strings.
        held: (string, fret, finger) of all pressed strings.
        fingers: the same for each finger by itself.
    """

    place_mm: float | None
    form: tuple[tuple[int | None, int | None], ...] | None
    held: frozenset[tuple[int, int, int]]
    fingers: tuple[frozenset[tuple[int, int, int]], ...]


def _grip(instrument: Instrument, shape: Shape) -> _Grip:
    lowest = shape.position
    by_finger: dict[int, set[tuple[int, int, int]]] = {}
    for string, (fret, finger) in enumerate(zip(shape.frets, shape.fingers, strict=True)):
        if fret and finger:
            by_finger.setdefault(finger, set()).add((string, fret, finger))
    form = [
        (None if fret is None else fret - lowest, finger)
        for fret, finger in zip(shape.frets, shape.fingers, strict=True)
    ]
    return _Grip(
        place_mm=instrument.fret_mm(lowest) if lowest else None,
        form=tuple(form) if shape.closed else None,
        held=frozenset().union(*by_finger.values()),
        fingers=tuple(map(frozenset, by_finger.values())),
    )


def _cost_between(before: _Grip, after: _Grip) -> float:
    way_mm = _apart_mm(before.place_mm, after.place_mm)
    if before.form == after.form and after.form is not None:
        return _SLIDE_COST * way_mm
    landing = len(after.fingers)
    if not before.held.isdisjoint(after.held):
        landing -= sum([finger <= before.held for finger in after.fingers])
    return _MOVE_COST * way_mm + _LANDING_COST * landing


@lru_cache(256)
def way_through(instrument: Instrument, hand: Hand, chords: tuple[Chord, ...], wish: Wish) -> Way:
    """Return the cheapest way through chords that go round, exact among the candidates.

    Args:
        instrument: what it is played on.
        hand: whose hand plays.
        chords: as they are played, one after the other; none give an empty way.
        wish: level, strings, position.

    Raises:
        ShapeError: when one of the chords cannot be held.
    """
    if not chords:
        return Way((), 0.0, 0.0)
    runs = [(chord, len(list(group))) for chord, group in groupby(chords)]
    ring = [chord for chord, _ in runs]
    if len(ring) > 1 and ring[0] == ring[-1]:
        ring.pop()  # it goes on into the next time round
    options = [candidates(instrument, hand, chord, wish) for chord in ring]
    weight = _EASY_WEIGHT if wish.level == EASY else 1.0
    known: dict[tuple[Chord, Chord], _Matrix] = {}
    moves = []
    for index, chord in enumerate(ring):
        after = (index + 1) % len(ring)
        pair = chord, ring[after]
        if pair not in known:
            known[pair] = _moves(instrument, options[index], options[after], weight)
        moves.append(known[pair])
    costs = [tuple(shape.total for shape in each) for each in options]
    total, chosen = cheapest_round(costs, moves)
    taken = [options[index][place] for index, place in enumerate(chosen)]
    moved = [
        hand_moves_mm(instrument, shape, taken[(index + 1) % len(taken)])
        for index, shape in enumerate(taken)
    ]
    if len(ring) < len(runs):
        taken.append(taken[0])
    spread = [shape for shape, (_, times) in zip(taken, runs, strict=True) for _ in range(times)]
    return Way(tuple(spread), total, sum(moved))


def _moves(
    instrument: Instrument, before: tuple[Shape, ...], after: tuple[Shape, ...], weight: float
) -> _Matrix:
    """Return what every move costs, by `_cost_between`.

    Nearly always all fingers land anew; the few moves in which one stays, or the whole shape
    slides, are looked up and told apart.
    """
    starts, ends = ([_grip(instrument, shape) for shape in each] for each in (before, after))
    alike: dict[object, list[int]] = {}
    for index, end in enumerate(ends):
        for mark in (end.form, *end.held):
            alike.setdefault(mark, []).append(index)
    landings = [(end.place_mm, _LANDING_COST * len(end.fingers)) for end in ends]
    rows = []
    for start in starts:
        row = [
            weight * (_MOVE_COST * _apart_mm(start.place_mm, there) + landing)
            for there, landing in landings
        ]
        for mark in (start.form, *start.held):
            for index in alike.get(mark, ()) if mark else ():
                row[index] = weight * _cost_between(start, ends[index])
        rows.append(tuple(row))
    return tuple(rows)


def _apart_mm(here: float | None, there: float | None) -> float:
    return 0.0 if here is None or there is None else abs(there - here)


def cheapest_round(costs: list[tuple[float, ...]], moves: list[_Matrix]) -> tuple[float, list[int]]:
    """Return the least cost of going once round, and the place chosen at every step.

    Exact. From each place of the step with the fewest the rest of a round costs at least what it
    costs with any end; places are tried in the order of this bound, until it is no better than the
    best round found.

    Args:
        costs: for every step the cost of each of its places.
        moves: for every step the cost of going from its places to those of the next; the last
            step's lead to the first step.
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
    """Return, for every place, the least cost from it on to any place of the first step."""
    rest: list[list[float]] = []
    after = [0.0] * len(costs[0])
    for own, lead in zip(reversed(costs), reversed(moves), strict=True):
        after = [
            cost + min([move + then for move, then in zip(row, after, strict=True)])
            for cost, row in zip(own, lead, strict=True)
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
    """Return the best round that begins at a place, if it is cheaper than the best so far."""
    spent = {start: costs[0][start]}
    origins: list[dict[int, int]] = []
    for step in range(1, len(costs)):
        reached: dict[int, float] = {}
        origin: dict[int, int] = {}
        for place, cost in enumerate(costs[step]):
            lead = moves[step - 1]
            until, here = min([(paid + lead[here][place], here) for here, paid in spent.items()])
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
