"""Which degrees of a chord a shape must sound, which may go, and in which order.

Conventions (common practice, no source): first stand the third, or the fourth or second that is
suspended in its place, then the seventh or the sixth, then altered degrees, then the added or
highest written one; the fifth and the root go first, and the lower extensions of a 13 or an 11 are
not asked for. A natural eleventh is left out beside a major third and a seventh. A chord without a
third (G5) keeps its fifth. The bass player has the slash bass.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING

from backing.harmony.pitch import Degree
from backing.harmony.quality import read_quality

if TYPE_CHECKING:
    from backing.harmony.chord import Chord
    from backing.harmony.quality import Quality

ROOT, THIRD, FIFTH, SEVENTH = 1, 3, 5, 7
_SUSPENDED = (2, 4)
_NATURAL_ELEVENTH = Degree(11, 0)
_SHELL = 3
"""Strings of a shell."""

_ADDED = {("", "6"): "6", ("7", "9"): "9"}
"""The quality that a plain one becomes with a degree added to it."""

LEVEL_ADDS = {"swing": ("6",)}
"""What a level adds to plain chords."""


@dataclass(frozen=True, slots=True)
class Voices:
    """The degrees of a quality by how much they are needed.

    Attributes:
        needed: what makes the chord what it is, most needed first, without root and plain fifth.
        may: what else may sound: root, plain fifth, lower extensions.
        barred: what must not sound although it is written.
    """

    needed: tuple[Degree, ...]
    may: tuple[Degree, ...]
    barred: tuple[Degree, ...]


@lru_cache(512)
def voices(quality: Quality) -> Voices:
    """Return which degrees of a quality are needed, may sound and must not."""
    numbers = {degree.number for degree in quality.degrees}
    clashes = Degree(THIRD, 0) in quality.degrees and SEVENTH in numbers
    barred = (_NATURAL_ELEVENTH,) if clashes and _NATURAL_ELEVENTH in quality.degrees else ()
    has_third = bool(numbers & {THIRD, *_SUSPENDED})
    extensions = [each for each in quality.degrees if each.number > SEVENTH and each not in barred]
    highest = max(extensions, default=None)
    natural = [each for each in extensions if not each.alter]
    # the 9 of a 69, a 13 and an added note are written; the 9 in a 13 only comes with it
    stacked = SEVENTH in numbers

    def need(degree: Degree) -> int | None:
        if degree.number == ROOT:
            return None
        if degree.number == THIRD or degree.number in _SUSPENDED:
            return 0
        if degree.number in (6, SEVENTH):
            return 1
        if degree.number == FIFTH:
            return 2 if degree.alter or not has_third else None
        if degree.alter:
            return 3
        return 4 if degree == highest or not stacked or len(natural) == 1 else None

    ranked = sorted(
        (
            (rank, -each.number, each.alter, each)
            for each in quality.degrees
            if each not in barred
            if (rank := need(each)) is not None
        ),
    )
    needed = tuple(each for *_, each in ranked)
    may = tuple(each for each in quality.degrees if each not in needed and each not in barred)
    return Voices(needed, may, barred)


@lru_cache(512)
def required(quality: Quality, strings: int, *, rootless: bool, shell: bool) -> tuple[Degree, ...]:
    """Return the degrees that so many strings must sound, the most needed first.

    Args:
        quality: the chord's.
        strings: how many strings sound, at least 1.
        rootless: whether the root need not be among them, since the bass has it.
        shell: whether the root comes first and the fifth is not asked for.
    """
    found = list(voices(quality).needed)
    others = {each.number: each for each in voices(quality).may}
    if not rootless:
        found.insert(0 if shell else len(found), others[ROOT])
    elif len(found) < 2:
        found.append(others.get(FIFTH, others[ROOT]))
    return tuple(found[:strings])


def fits_a_shell(quality: Quality) -> bool:
    """Whether root and two more notes tell the quality; a ninth may be missed, a fifth may not."""
    return len([each for each in voices(quality).needed if each.number <= SEVENTH]) < _SHELL


@lru_cache(1024)
def as_played(chord: Chord, adds: tuple[str, ...] = ()) -> Chord:
    """Return the chord that is played for the one written.

    Its slash bass is the bass player's.

    Args:
        chord: as written.
        adds: what plain chords get: "6" to a major triad, "9" to a seventh.
    """
    found = (_ADDED.get((chord.quality.name, degree)) for degree in adds)
    richer = next(filter(None, found), None)
    return replace(chord, quality=read_quality(richer) if richer else chord.quality, bass=None)
