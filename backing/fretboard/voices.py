"""Which degrees of a chord a shape needs, may omit and must avoid.

Conventions (common practice, no source): the most needed degree is the third, or the suspended
fourth or second, then the seventh or sixth, then altered degrees, then the added or highest written
one. The fifth and the root are omitted first; the lower extensions of a 13 or an 11 are optional. A
natural eleventh is avoided with a major third and a seventh. A chord without a third (G5) keeps its
fifth. The bass player has the slash bass.
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
"""Number of strings of a shell."""

_ADDED = {("", "6"): "6", ("7", "9"): "9"}
"""The quality that results from a plain one and an added degree."""

VOICING_ADDS = {"swing": ("6",)}
"""Degrees that a voicing adds to plain chords."""


@dataclass(frozen=True, slots=True)
class Voices:
    """The degrees of a quality by how much they are needed.

    Attributes:
        needed: degrees that define the chord, most needed first, without root and plain fifth.
        optional: root, plain fifth and lower extensions.
        avoided: written degrees that must not sound.
    """

    needed: tuple[Degree, ...]
    optional: tuple[Degree, ...]
    avoided: tuple[Degree, ...]


@lru_cache(512)
def voices(quality: Quality) -> Voices:
    """Return the needed, optional and avoided degrees of a quality."""
    numbers = {degree.number for degree in quality.degrees}
    clashes = Degree(THIRD, 0) in quality.degrees and SEVENTH in numbers
    avoided = (_NATURAL_ELEVENTH,) if clashes and _NATURAL_ELEVENTH in quality.degrees else ()
    has_third = bool(numbers & {THIRD, *_SUSPENDED})
    extensions = [each for each in quality.degrees if each.number > SEVENTH and each not in avoided]
    highest = max(extensions, default=None)
    natural = [each for each in extensions if not each.alter]
    # the 9 of a 69, the 13 of a 13 and an added note are written; the 9 of a 13 is only implied
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
            if each not in avoided
            if (rank := need(each)) is not None
        ),
    )
    needed = tuple(each for *_, each in ranked)
    optional = tuple(each for each in quality.degrees if each not in needed and each not in avoided)
    return Voices(needed, optional, avoided)


@lru_cache(512)
def required(quality: Quality, strings: int, *, rootless: bool, shell: bool) -> tuple[Degree, ...]:
    """Return the degrees that must sound on so many strings, the most needed first.

    Args:
        quality: the chord's quality.
        strings: number of strings that sound, at least 1.
        rootless: whether the root may be left to the bass.
        shell: whether the root is most needed.
    """
    found = list(voices(quality).needed)
    others = {each.number: each for each in voices(quality).optional}
    if not rootless:
        found.insert(0 if shell else len(found), others[ROOT])
    elif len(found) < 2:
        found.append(others.get(FIFTH, others[ROOT]))
    return tuple(found[:strings])


def fits_a_shell(quality: Quality) -> bool:
    """Whether the root and two more notes define the quality; only extensions may be missing."""
    return len([each for each in voices(quality).needed if each.number <= SEVENTH]) < _SHELL


@lru_cache(1024)
def as_played(chord: Chord, adds: tuple[str, ...] = ()) -> Chord:
    """Return the chord that is played for a written one, without its slash bass.

    Args:
        chord: the chord as written.
        adds: degrees added to plain chords: "6" to a major triad, "9" to a seventh.
    """
    found = (_ADDED.get((chord.quality.name, degree)) for degree in adds)
    richer = next(filter(None, found), None)
    return replace(chord, quality=read_quality(richer) if richer else chord.quality, bass=None)
