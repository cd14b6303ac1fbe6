"""The way through a part: a shape for every chord, so that shapes and moves together cost least.

Conventions: a chord that goes on keeps its shape. The chords go round: the end leads back to the
start, and what that move costs counts. A hand is where its lowest pressed fret is; open strings let
it go anywhere. What a move costs is our own choice, no source:

- a closed shape that slides, same fingers on same strings, costs its way in millimetres;
- any other move costs twice its way, and a little for every finger that lands anew;
- a finger that stays where it is costs nothing;
- where the middle of what sounds leaps by more than a whole tone, every semitone beyond it costs a
  little, so that the band does not jump about because it is easy for the hand.
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
    from backing.fretboard.hand import Hand
    from backing.fretboard.instrument import Instrument
    from backing.fretboard.request import ShapeRequest
    from backing.fretboard.shape import Shape
    from backing.harmony.chord import Chord

CANDIDATES = 24
"""How many shapes of each chord, the easiest, a way is made from."""

_SLIDE_COST = 0.01
"""A millimetre that a shape slides."""

_MOVE_COST = 0.02
"""A millimetre that the hand moves otherwise."""

_LANDING_COST = 0.3
"""For every finger that lands anew."""

_LEAP_COST = 0.25
"""For every semitone beyond a whole tone that the middle of the sound moves."""

_NO_LEAP = 2.0
"""Semitones."""

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


def candidates(
    instrument: Instrument, hand: Hand, chord: Chord, wish: ShapeRequest
) -> tuple[Shape, ...]:
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


@dataclass(frozen=True, slots=True)
class Manner:
    """What moves cost.

    Attributes:
        slide, move: for every millimetre of a slide, and of any other move.
        landing: for every finger that lands anew.
        leap: for every semitone beyond a whole tone that the middle of the sound leaps.
    """

    slide: float = _SLIDE_COST
    move: float = _MOVE_COST
    landing: float = _LANDING_COST
    leap: float = _LEAP_COST

    def between(self, before: _Fingering, after: _Fingering) -> float:
        """Return what it costs to go from one grip to another."""
        way_mm = _apart_mm(before.place_mm, after.place_mm)
        leap = self.leap * max(abs(after.middle - before.middle) - _NO_LEAP, 0.0)
        if before.form == after.form and after.form is not None:
            return self.slide * way_mm + leap
        landing = len(after.fingers)
        if not before.held.isdisjoint(after.held):
            landing -= sum([finger <= before.held for finger in after.fingers])
        return self.move * way_mm + self.landing * landing + leap


STILL = Manner(2 * _SLIDE_COST, 2 * _MOVE_COST, 2 * _LANDING_COST, 0.0)
"""At the level easy the hand is to stay in one position, whatever that sounds like."""


def manner_of(level: str) -> Manner:
    """Return what moves cost at a level."""
    return STILL if level == EASY else Manner()


def move_cost(
    instrument: Instrument, before: Shape, after: Shape, manner: Manner = Manner()
) -> float:
    """Return what it costs to go from one shape to another; 0 to itself."""
    return manner.between(_grip(instrument, before), _grip(instrument, after))


@dataclass(frozen=True, slots=True)
class _Fingering:
    """What of a shape matters to a move.

    Attributes:
        place_mm: where the hand is, in millimetres from the nut; None for open strings only.
        form: the shape as it slides: fingers, and frets from its lowest; None with open strings.
        held: (string, fret, finger) of all pressed strings.
        fingers: the same for each finger by itself.
        middle: of the MIDI keys that sound.
    """

    place_mm: float | None
    form: tuple[tuple[int | None, int | None], ...] | None
    held: frozenset[tuple[int, int, int]]
    fingers: tuple[frozenset[tuple[int, int, int]], ...]
    middle: float


def _grip(instrument: Instrument, shape: Shape) -> _Fingering:
    lowest = shape.position
    by_finger: dict[int, set[tuple[int, int, int]]] = {}
    for string, (fret, finger) in enumerate(zip(shape.frets, shape.fingers, strict=True)):
        if fret and finger:
            by_finger.setdefault(finger, set()).add((string, fret, finger))
    form = [
        (None if fret is None else fret - lowest, finger)
        for fret, finger in zip(shape.frets, shape.fingers, strict=True)
    ]
    return _Fingering(
        place_mm=instrument.fret_mm(lowest) if lowest else None,
        form=tuple(form) if shape.closed else None,
        held=frozenset().union(*by_finger.values()),
        fingers=tuple(map(frozenset, by_finger.values())),
        middle=sum(shape.keys(instrument)) / shape.strings,
    )


@lru_cache(256)
def fingering_path(
    instrument: Instrument, hand: Hand, chords: tuple[Chord, ...], wish: ShapeRequest
) -> Way:
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
    manner = manner_of(wish.level)
    known: dict[tuple[Chord, Chord], _Matrix] = {}
    moves = []
    for index, chord in enumerate(ring):
        after = (index + 1) % len(ring)
        pair = chord, ring[after]
        if pair not in known:
            known[pair] = _moves(instrument, options[index], options[after], manner)
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
    instrument: Instrument, before: tuple[Shape, ...], after: tuple[Shape, ...], manner: Manner
) -> _Matrix:
    """Return what every move costs, as `Manner.between` tells.

    Nearly always all fingers land anew; the few moves in which one stays, or the whole shape
    slides, are looked up and told apart.
    """
    starts, ends = ([_grip(instrument, shape) for shape in each] for each in (before, after))
    alike: dict[object, list[int]] = {}
    for index, end in enumerate(ends):
        for mark in (end.form, *end.held):
            alike.setdefault(mark, []).append(index)
    move, leap = manner.move, manner.leap
    landings = [(end.place_mm, manner.landing * len(end.fingers), end.middle) for end in ends]
    rows = []
    for start in starts:
        here, sound = start.place_mm, start.middle
        row = [
            move * _apart_mm(here, there)
            + landing
            + (leap * beyond if (beyond := abs(middle - sound) - _NO_LEAP) > 0 else 0.0)
            for there, landing, middle in landings
        ]
        for mark in (start.form, *start.held):
            for index in alike.get(mark, ()) if mark else ():
                row[index] = manner.between(start, ends[index])
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
