"""The hand on the neck: shapes, which finger presses which string, and the cost of that.

Conventions: fingers are numbered 1 (index) to 4 (little finger); the thumb stays behind the neck. A
shape is a fret for each string from the bass side: None is muted, 0 is open. It is written as its
frets: 7523, 3x34xx; above fret 9 with dashes, 12-10-9-x. A closed shape has no open strings, so it
can slide along the neck. A finger presses one string, or several at one fret as a barre over all
strings between. The rules of a fingering, which the tests check independently:

- every string sounds at the fret its finger presses; open and muted strings have no finger;
- no string under a barre is muted or sounds below the barre's fret;
- fingers never cross: a higher-numbered finger is never on a lower fret, and on the same fret it is
  nearer to the treble side;
- two fingers are no farther apart, fret to fret in millimetres, than this hand reaches with them.

The reach of an average adult hand, the shares of it between two fingers and all costs are our own
choice by common practice, no source. The unit of cost is two fingers.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations, pairwise, product
from math import isfinite
from typing import TYPE_CHECKING

from backing.errors import SettingsError

if TYPE_CHECKING:
    from backing.fretboard.instrument import Instrument
    from backing.harmony.pitch import Degree

Frets = tuple[int | None, ...]
"""A fret for each string from the bass side: None is muted, 0 is open."""

AVERAGE_REACH_MM = 100.0
"""From first to fourth finger; frets 1 to 4 of a guitar, one finger a fret, are 97.3 mm."""

SMALL_REACH_MM = 70.0
"""Reach of a small hand; a wider shape is a big stretch."""

LEAST_REACH_MM, MOST_REACH_MM = 20.0, 250.0

REACH_SHARES = {
    (1, 2): 0.65,
    (2, 3): 0.6,
    (3, 4): 0.6,
    (1, 3): 0.85,
    (2, 4): 0.85,
    (1, 4): 1.0,
}
"""Share of the hand's reach between two fingers."""

_STRETCH_COST = 3.0
"""At the limit of the reach; it grows with the square."""

_FINGER_COST = 0.5
_LITTLE_FINGER_COST = 0.6
_SKIPPED_COST = 0.15
"""For each idle finger between two that press."""

_BAR_COST = 0.4
_WIDER_BAR_COST = 0.2
"""For each string of a barre beyond two."""

_OTHER_BAR_COST = 0.9
"""For a barre by another finger than the first."""


@dataclass(frozen=True, slots=True)
class Hand:
    """A hand and its limits.

    Attributes:
        reach_mm: greatest distance from the first finger to the fourth, in millimetres along the
            strings, 20 to 250.
        open_strings: whether open strings may sound; the chop cannot damp them by lifting fingers.
        barre: whether a finger may press several strings.
        inner_muted: most muted strings between sounding ones, 0 or more; guitar shells in the
            voicing swing mute one in any case.
    """

    reach_mm: float = AVERAGE_REACH_MM
    open_strings: bool = False
    barre: bool = True
    inner_muted: int = 0

    def __post_init__(self) -> None:
        """Check the reach.

        Raises:
            SettingsError: if it is out of range.
        """
        if not isfinite(self.reach_mm) or not LEAST_REACH_MM <= self.reach_mm <= MOST_REACH_MM:
            raise SettingsError(
                f"reach {self.reach_mm:g}: a hand reaches {LEAST_REACH_MM:g} to "
                f"{MOST_REACH_MM:g} mm from the first finger to the fourth; an average adult hand "
                f"{AVERAGE_REACH_MM:g}, a small one {SMALL_REACH_MM:g}"
            )


AVERAGE_HAND = Hand()


@dataclass(frozen=True, slots=True)
class Fingering:
    """How a hand holds a shape.

    Attributes:
        fingers: for each string 1 to 4, 0 for an open one, None for a muted one.
        span_mm: millimetres from the lowest pressed fret to the highest.
        costs: its costs for the stretch, the fingers and the barres, each 0 or more.
    """

    fingers: tuple[int | None, ...]
    span_mm: float
    costs: tuple[float, float, float]


_Group = tuple[int, tuple[int, ...]]
"""A fret and the strings that one finger presses there."""


@dataclass(frozen=True, slots=True)
class _Hold:
    """A way to hold a form anywhere on the neck.

    Attributes:
        fingers: for each string, as in `Fingering`.
        chosen: the fingers that press, in ascending order.
        finger_cost, bar_cost: parts of its cost that do not depend on its position.
        pairs: (lower fret, higher fret, share of the reach) for every two fingers at two frets.
    """

    fingers: tuple[int | None, ...]
    chosen: tuple[int, ...]
    finger_cost: float
    bar_cost: float
    pairs: tuple[tuple[int, int, float], ...]


def fingering(instrument: Instrument, hand: Hand, frets: Frets) -> Fingering | None:
    """Return the cheapest fingering of a shape, or None if this hand cannot hold it.

    Args:
        instrument: the instrument.
        hand: the hand; its limits on open and muted strings are not checked here.
        frets: one for each string.
    """
    pressed = [fret for fret in frets if fret]
    if not pressed:
        return Fingering(frets, 0.0, (0.0, 0.0, 0.0))
    lowest, highest = min(pressed), max(pressed)
    below = lowest - 1
    places = [instrument.fret_mm(fret) for fret in range(below, highest + 1)]
    span = places[-1] - places[1]
    if span > hand.reach_mm:
        return None
    pattern = tuple([fret - below if fret else fret for fret in frets])
    best: tuple[float, tuple[int, ...]] | None = None
    found = None
    for hold in _holds(pattern, hand.barre):
        stretch = _stretch(hold, places, hand.reach_mm)
        if stretch is not None:
            cost = stretch + hold.finger_cost + hold.bar_cost, hold.chosen
            if best is None or cost < best:
                best = cost
                found = Fingering(hold.fingers, span, (stretch, hold.finger_cost, hold.bar_cost))
    return found


def least_cost(hand: Hand, fingers: int, span_mm: float) -> float:
    """Return a lower bound for the cost of so many fingers over a span in millimetres."""
    used = span_mm / hand.reach_mm
    return _FINGER_COST * fingers + _STRETCH_COST * used * used


def _stretch(hold: _Hold, places: list[float], reach_mm: float) -> float | None:
    """Return the cost of the widest pair of fingers, or None if it is out of reach.

    Args:
        hold: the fingers and their frets.
        places: where the frets of the form are, in millimetres from the nut.
        reach_mm: the hand's.
    """
    widest = 0.0
    for low, high, share in hold.pairs:
        used = (places[high] - places[low]) / (share * reach_mm)
        if used > widest:
            if used > 1:
                return None
            widest = used
    return _STRETCH_COST * widest * widest


@lru_cache(1 << 13)
def _holds(pattern: Frets, barre: bool) -> tuple[_Hold, ...]:
    """Return every way to hold a form, whose lowest pressed fret is 1."""
    pressed = sorted({fret for fret in pattern if fret})
    holds = []
    for groupings in product(*[_groupings(pattern, fret, barre=barre) for fret in pressed]):
        groups = [group for groups in groupings for group in groups]
        for chosen in combinations((1, 2, 3, 4), len(groups)):
            pairs = [
                (groups[low][0], groups[high][0], REACH_SHARES[chosen[low], chosen[high]])
                for low, high in combinations(range(len(groups)), 2)
                if groups[low][0] != groups[high][0]
            ]
            holds.append(
                _Hold(
                    _fingers(pattern, groups, chosen),
                    chosen,
                    _finger_cost(chosen),
                    _bar_costs(groups, chosen),
                    tuple(pairs),
                )
            )
    return tuple(holds)


def _groupings(frets: Frets, fret: int, *, barre: bool) -> list[tuple[_Group, ...]]:
    """Return every way to divide the strings at one fret among fingers, from the bass side."""
    strings = [string for string, each in enumerate(frets) if each == fret]
    if len(strings) == 1:
        return [((fret, (strings[0],)),)]
    ways = []
    can_join = [
        barre and all((each or 0) > fret for each in frets[low + 1 : high])
        for low, high in pairwise(strings)
    ]
    for joined in product(*((False, True) if can else (False,) for can in can_join)):
        groups = [[strings[0]]]
        for string, together in zip(strings[1:], joined, strict=True):
            if together:
                groups[-1].append(string)
            else:
                groups.append([string])
        ways.append(tuple([(fret, tuple(group)) for group in groups]))
    return ways


def _fingers(frets: Frets, groups: list[_Group], chosen: tuple[int, ...]) -> tuple[int | None, ...]:
    fingers: list[int | None] = [None if fret is None else 0 for fret in frets]
    for (_, strings), finger in zip(groups, chosen, strict=True):
        for string in strings:
            fingers[string] = finger
    return tuple(fingers)


def _finger_cost(chosen: tuple[int, ...]) -> float:
    skipped = chosen[-1] - chosen[0] + 1 - len(chosen)
    little = _LITTLE_FINGER_COST if 4 in chosen else 0.0
    return _FINGER_COST * len(chosen) + _SKIPPED_COST * skipped + little


def _bar_costs(groups: list[_Group], chosen: tuple[int, ...]) -> float:
    """Return the cost of all barres; the width of a barre includes the strings it only covers."""
    cost = 0.0
    for (_, strings), finger in zip(groups, chosen, strict=True):
        if len(strings) > 1:
            wider = strings[-1] - strings[0] - 1
            cost += _BAR_COST + _WIDER_BAR_COST * wider + _OTHER_BAR_COST * (finger > 1)
    return cost


@dataclass(frozen=True, slots=True)
class Shape:
    """A shape of a chord with its fingering and cost.

    Attributes:
        frets: a fret for each string from the bass side: None is muted, 0 is open.
        fingers: for each string 1 to 4, 0 for an open one, None for a muted one.
        span_mm: millimetres from the lowest pressed fret to the highest.
        total: its cost.
        left_out: degrees of the chord that it omits.
    """

    frets: Frets
    fingers: tuple[int | None, ...]
    span_mm: float
    total: float
    left_out: tuple[Degree, ...]

    def __str__(self) -> str:
        signs = ["x" if fret is None else str(fret) for fret in self.frets]
        return ("-" if any(len(sign) > 1 for sign in signs) else "").join(signs)

    @property
    def big_stretch(self) -> bool:
        """Whether it is wider than a small hand reaches."""
        return self.span_mm > SMALL_REACH_MM

    @property
    def closed(self) -> bool:
        """Whether no open string sounds."""
        return 0 not in self.frets

    @property
    def position(self) -> int:
        """The lowest pressed fret; 0 when all strings are open."""
        return min((fret for fret in self.frets if fret), default=0)

    @property
    def strings(self) -> int:
        """How many strings sound."""
        return sum(fret is not None for fret in self.frets)

    def keys(self, instrument: Instrument) -> tuple[int, ...]:
        """Return the MIDI keys that sound, string by string from the bass side."""
        strings = zip(instrument.strings, self.frets, strict=True)
        return tuple([key + fret for key, fret in strings if fret is not None])
