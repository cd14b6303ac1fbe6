"""Further paths: other shapes for the chords of a path, so that choruses can differ.

Conventions: a further path is the cheapest that avoids the sounds of the paths before it, by a cost
for each path that has the chord in the same pitches. Where a request names the strings, the second
path may also use those one nearer to the treble, the third those one nearer to the bass, but never
the lowest string. A path is taken if enough of its chords are new and the hand moves little more
than in the first one. All figures are our own choice, no source.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from itertools import pairwise
from math import fsum
from typing import TYPE_CHECKING

from backing.errors import ShapeError
from backing.fretboard.fingering_path import (
    CANDIDATES,
    candidates,
    fingering_path,
    move_cost,
    move_costs_of,
    path_through,
)

if TYPE_CHECKING:
    from backing.fretboard.fingering_path import FingeringPath
    from backing.fretboard.hand import Hand, Shape
    from backing.fretboard.instrument import Instrument
    from backing.fretboard.request import ShapeRequest
    from backing.harmony.chord import Chord

MOST_PATHS = 3

_STRING_STEPS = (0, -1, 1)
"""Shift of the named strings, the treble string being 1, in each path."""

_KNOWN_COST = 2.0
"""For each earlier path in which the chord has the same pitches."""

_LEAP_COST = 0.75
"""For each semitone of a leap, as in `MoveCosts`: a further path keeps its register."""

_LEAST_NEW = 1 / 3
"""Least share of chords with other pitches than in all paths before."""

_MOST_MOVES, _FREE_MOVES = 1.4, 0.2
"""Most cost of moves, as a share of the first path's, and what is free for each chord."""

_STEP = 5.0
"""Most semitones that the mean pitch moves to a neighbouring inversion."""


@lru_cache(256)
def fingering_paths(
    instrument: Instrument, hand: Hand, chords: tuple[Chord, ...], request: ShapeRequest
) -> tuple[FingeringPath, ...]:
    """Return the fingering path of some chords, and up to two others with other shapes.

    Args and raises: as for `fingering_path`.
    """
    first = fingering_path(instrument, hand, chords, request)
    found = [first]
    sounds = [_sounds(instrument, chords, first)]
    most = len(chords) * _FREE_MOVES + _MOST_MOVES * _cost_of_moves(instrument, first)
    while len(found) < MOST_PATHS:
        path = _further(instrument, hand, chords, request, tuple(sounds))
        here = _sounds(instrument, chords, path)
        new = here.difference(*sounds)
        if len(new) < _LEAST_NEW * len(here) or _cost_of_moves(instrument, path) > most:
            break
        found.append(path)
        sounds.append(here)
    return tuple(found)


def options(
    instrument: Instrument, hand: Hand, chord: Chord, request: ShapeRequest, path: int
) -> tuple[Shape, ...]:
    """Return the shapes of a chord that path number `path`, from 0, may use."""
    found: dict[tuple[int, ...], Shape] = {}
    for each in _requests(instrument, request, path):
        try:
            shapes = candidates(instrument, hand, chord, each)
        except ShapeError:
            if each is request:
                raise
            continue
        for shape in shapes:
            known = found.setdefault(shape.keys(instrument), shape)
            if shape.total < known.total:
                found[shape.keys(instrument)] = shape
    return tuple(sorted(found.values(), key=lambda shape: (shape.total, str(shape)))[:CANDIDATES])


def neighbour(
    instrument: Instrument, hand: Hand, chord: Chord, request: ShapeRequest, path: int, held: Shape
) -> Shape:
    """Return the nearest other inversion of a held chord, or the same shape if none is near."""
    middle = _middle(instrument, held)
    near = [
        shape
        for shape in options(instrument, hand, chord, request, path)
        if 0 < abs(_middle(instrument, shape) - middle) <= _STEP
    ]
    return min(
        near,
        key=lambda shape: (shape.total + 2 * move_cost(instrument, held, shape), str(shape)),
        default=held,
    )


def _further(
    instrument: Instrument,
    hand: Hand,
    chords: tuple[Chord, ...],
    request: ShapeRequest,
    sounds: tuple[frozenset[tuple[Chord, tuple[int, ...]]], ...],
) -> FingeringPath:
    """Return the cheapest path that avoids the sounds of those before."""

    def cost(chord: Chord, shape: Shape) -> float:
        sound = chord, shape.keys(instrument)
        return shape.total + _KNOWN_COST * sum([sound in known for known in sounds])

    return path_through(
        instrument,
        chords,
        {
            chord: options(instrument, hand, chord, request, len(sounds))
            for chord in dict.fromkeys(chords)
        },
        replace(move_costs_of(request.voicing), leap=_LEAP_COST),
        cost,
    )


def _requests(instrument: Instrument, request: ShapeRequest, path: int) -> list[ShapeRequest]:
    step = _STRING_STEPS[path]
    if not step or not isinstance(request.strings, tuple):
        return [request]
    moved = tuple([string + step for string in request.strings])
    if min(moved) < 1 or max(moved) >= len(instrument.strings):
        return [request]
    return [request, replace(request, strings=moved)]


def _sounds(
    instrument: Instrument, chords: tuple[Chord, ...], path: FingeringPath
) -> frozenset[tuple[Chord, tuple[int, ...]]]:
    """Return the pitches of each chord in a path."""
    held = zip(chords, path.shapes, strict=True)
    return frozenset((chord, shape.keys(instrument)) for chord, shape in held)


def _cost_of_moves(instrument: Instrument, path: FingeringPath) -> float:
    round_ = (*path.shapes, *path.shapes[:1])
    return fsum(move_cost(instrument, before, after) for before, after in pairwise(round_))


def _middle(instrument: Instrument, shape: Shape) -> float:
    return sum(shape.keys(instrument)) / shape.strings
