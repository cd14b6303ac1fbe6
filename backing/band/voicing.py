"""Chord voicings for the chop: closed, in a range, moving as little as they can.

Conventions: which notes are left out when a chord has more than the hand plays is common practice,
no source: first the fifth and the root, never the third or a written seventh; a natural eleventh
is left out beside a major third. The bass player has the slash bass.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import TYPE_CHECKING

from backing.harmony.pitch import Degree
from backing.harmony.quality import read_quality

if TYPE_CHECKING:
    from backing.harmony.chord import Chord
    from backing.harmony.quality import Quality

Voicing = tuple[int, ...]
"""MIDI keys from low to high."""

Wanted = tuple["Chord", int, int, int]
"""A chord, how many voices, and the lowest and highest MIDI key."""

_WIDEST = 16
_AWAY_COST = 0.25
"""Cost of each semitone that a voicing lies away from the middle of the range, on average."""

_NEVER = 9
_AFTER_NINTH = 7
"""How soon the root is wanted beside a ninth, which takes its place: after the fifth."""

_NEEDS = {3: (0, 0), 4: (0, 0), 2: (0, 0), 7: (1, 1), 6: (1, 1), 5: (6, 2), 1: (5, 5)}
"""How soon a degree is wanted, plain and altered; others, such as ninths, (4, 3)."""


def essential_degrees(quality: Quality, voices: int) -> tuple[int, ...]:
    """Return the semitones above the root that are played, most needed first, at most `voices`."""
    degrees = quality.degrees
    natural_third = Degree(3, 0) in degrees

    has_ninth = any(each.number == 9 for each in degrees)

    def need(number: int, alter: int) -> int:
        if number == 1 and has_ninth:
            return _AFTER_NINTH
        if number == 11 and natural_third and not alter:
            return _NEVER
        plain, altered = _NEEDS.get(number, (4, 3))
        return altered if alter else plain

    ordered = sorted(
        quality.degrees, key=lambda each: (need(each.number, each.alter), -each.number)
    )
    kept = [each for each in ordered if need(each.number, each.alter) < 9]
    return tuple(each.semitones for each in kept[:voices])


_ADDED = {("", "6"): "6", ("7", "9"): "9"}
"""The quality that a plain one becomes where a style adds a degree to it."""


@lru_cache(256)
def with_added(chord: Chord, adds: tuple[str, ...]) -> Chord:
    """Return a plain chord with the sixth or ninth that a style adds; any other as it is."""
    for degree in adds:
        richer = _ADDED.get((chord.quality.name, degree))
        if richer:
            return replace(chord, quality=read_quality(richer))
    return chord


@lru_cache(256)
def closed_voicings(chord: Chord, voices: int, low: int, high: int) -> tuple[Voicing, ...]:
    """Return every closed voicing of the chord between two MIDI keys, from low to high.

    Closed: each voice is the next note of the chord above the one below. A triad in four voices
    doubles its lowest note at the octave. Where no voicing fits the hand or the range, as for the
    two notes of A5 in four voices, a voice less is played.
    """
    classes = {
        (chord.root.pitch_class + semitones) % 12
        for semitones in essential_degrees(chord.quality, voices)
    }
    fitting = (_closed(classes, count, low, high) for count in range(voices, 0, -1))
    return next(filter(None, fitting))


def _closed(classes: set[int], voices: int, low: int, high: int) -> tuple[Voicing, ...]:
    found = []
    for lowest in range(low, high + 1):
        if lowest % 12 in classes:
            ladder = [key for key in range(lowest, lowest + 25) if key % 12 in classes]
            voicing = tuple(ladder[:voices])
            if voicing[-1] <= high and voicing[-1] - voicing[0] <= _WIDEST:
                found.append(voicing)
    return tuple(found)


def movement(before: Voicing, after: Voicing) -> int:
    """Return how far the voices move, in semitones summed over the voices.

    Of voicings with different numbers of notes the nearest notes are counted.
    """
    if len(before) == len(after):
        return sum([abs(to - start) for start, to in zip(before, after, strict=True)])
    return sum([min([abs(to - start) for start in before]) for to in after])


@lru_cache(4)
def voice_leading(wanted: tuple[Wanted, ...]) -> tuple[Voicing, ...]:
    """Return a voicing for each chord so that all voices together move as little as can be.

    The cheapest path through all closed voicings (dynamic programming), with a little pull to the
    middle of the range so that it does not drift away. The chords go round: they are led through
    twice and the second time is taken, so that the last leads back to the first.
    """
    steps: list[dict[Voicing, tuple[float, Voicing | None]]] = []
    for chord, voices, low, high in (*wanted, *wanted):
        before = steps[-1] if steps else {}
        middle = (low + high) / 2
        steps.append(
            {
                voicing: _cheapest(
                    before, voicing, _AWAY_COST * abs(sum(voicing) / len(voicing) - middle)
                )
                for voicing in closed_voicings(chord, voices, low, high)
            }
        )
    return _trace(steps)[len(wanted) :] if steps else ()


def _cheapest(
    before: dict[Voicing, tuple[float, Voicing | None]], voicing: Voicing, cost: float
) -> tuple[float, Voicing | None]:
    """Return the least cost of reaching a voicing, and from where."""
    if not before:
        return cost, None
    least = min([(spent + movement(last, voicing), last) for last, (spent, _) in before.items()])
    return least[0] + cost, least[1]


def _trace(steps: list[dict[Voicing, tuple[float, Voicing | None]]]) -> tuple[Voicing, ...]:
    last = min(steps[-1], key=lambda voicing: (steps[-1][voicing][0], voicing))
    path = [last]
    for row in steps[:0:-1]:
        before = row[path[-1]][1]
        assert before is not None  # only the first row has no way back
        path.append(before)
    return tuple(reversed(path))
