"""Chord qualities, and their reader, which is built from the table in `quality_table`."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING

from backing.errors import SymbolError
from backing.harmony.pitch import Degree
from backing.harmony.quality_table import ALTERATIONS, BASES
from backing.nearest import did_you_mean, nearest

if TYPE_CHECKING:
    from collections.abc import Iterable

    from backing.harmony.quality_table import Alteration, Base

_SPELLINGS = {spelling: base.degrees for base in BASES for spelling in base.spellings}
"""Every spelling of a base, and its degrees."""

_LONGEST_FIRST = sorted(_SPELLINGS, key=len, reverse=True)

_ALTERATIONS = {spelling: each for each in ALTERATIONS for spelling in each.spellings}
"""Every spelling of an alteration, and the alteration."""


@dataclass(frozen=True, slots=True)
class Quality:
    """What a chord is above its root.

    Attributes:
        name: the one spelling we write; the empty name is a major triad.
        degrees: the degrees in ascending order of their numbers, the root first.
        spoken: what is said behind the root's name; empty for a major triad.
    """

    name: str
    degrees: tuple[Degree, ...]
    spoken: str = field(compare=False)

    def __hash__(self) -> int:
        """Hash by name: a quality has but one, and chords are looked up all the time."""
        return hash(self.name)

    def degree(self, number: int) -> Degree | None:
        """Return the chord's degree of this number (a second is a ninth), or None without one.

        Of two (b9 and #9) the lower is returned.
        """
        return next((each for each in self.degrees if each.number == number), None)

    @property
    def is_minor(self) -> bool:
        """Whether the third is minor."""
        third = self.degree(3)
        return third is not None and third.alter == -1


def table() -> dict[str, Quality]:
    """Return every spelling in the table with its quality, for tests and for help."""
    return {spelling: _named(degrees) for spelling, degrees in _SPELLINGS.items()}


@lru_cache(4096)
def read_quality(text: str) -> Quality:
    """Read a whole quality, such as `m7b5` or `7(b9,#11)`; the empty text is a major triad.

    Raises:
        SymbolError: with the offset of the first sign that cannot be read.
    """
    furthest = 0
    for base in _LONGEST_FIRST:
        if not text.startswith(base):
            continue
        degrees, used = _with_alterations(_SPELLINGS[base], text, len(base))
        if used == len(text):
            return _named(degrees)
        furthest = max(furthest, used)
    raise SymbolError(f"'{text}' is not a chord quality", _advice(text, furthest), furthest)


def quality_of(degrees: Iterable[Degree]) -> Quality | None:
    """Return the quality that has just these degrees, or None where no spelling says them."""
    found = frozenset(degrees)
    reached = (_between(base.degrees, found) for base in BASES)
    return _named(found) if any(each is not None for each in reached) else None


def _with_alterations(
    degrees: frozenset[Degree], text: str, start: int
) -> tuple[frozenset[Degree], int]:
    """Read as many alterations as can be read; return the degrees and the offset reached."""
    position, inside = start, False
    while position < len(text):
        sign = text[position]
        if sign == "(" and not inside and ")" in text[position:]:
            inside, position = True, position + 1
        elif sign == ")" and inside and text[position - 1] not in "(,/":
            inside, position = False, position + 1
        elif sign in ",/" and inside and text[position - 1] not in "(,/":
            position += 1
        else:
            word = _longest_alteration(text, position, inside=inside)
            altered = _altered(degrees, _ALTERATIONS[word]) if word else None
            if altered is None:
                break
            degrees, position = altered, position + len(word)
    return degrees, position


def _longest_alteration(text: str, position: int, *, inside: bool) -> str:
    """Return the alteration written here, or ""; a mere figure is one only inside brackets."""
    words = (word for word in _ALTERATIONS if text.startswith(word, position))
    return max((word for word in words if inside or not word.isdigit()), key=len, default="")


def _altered(degrees: frozenset[Degree], alteration: Alteration) -> frozenset[Degree] | None:
    """Return the degrees with the alteration, or None where it makes no sense.

    A note is in a chord once: a 9 does not join a 2, and a suspended 4 takes the place of an 11.
    """
    numbers = {degree.number for degree in degrees}
    plain, octave = Degree(alteration.takes, 0), Degree(alteration.puts.number + 7, 0)
    if alteration.puts in degrees or alteration.wants not in numbers:
        return None
    if alteration.puts.number - 7 in numbers:
        return None
    if alteration.takes == 3 and plain not in degrees:  # only a major third is suspended
        return None
    return degrees - {plain, octave} | {alteration.puts}


@lru_cache(4096)
def _named(degrees: frozenset[Degree]) -> Quality:
    """Return the quality with the name of the table row that needs the fewest alterations."""
    ordered = tuple(sorted(degrees, key=lambda each: (each.number, each.alter)))
    ways = [(base, way) for base in BASES if (way := _between(base.degrees, degrees)) is not None]
    base, alterations = min(ways, key=lambda each: len(each[1]))
    return Quality(base.name + _joined(base, alterations), ordered, _said(base, alterations))


def _joined(base: Base, alterations: list[Alteration]) -> str:
    """Join alterations; straight after a root they need brackets, or Cb5 would be Cb and 5."""
    names = [each.name for each in alterations]
    return "".join(names) if base.name or not names else f"({','.join(names)})"


def _said(base: Base, alterations: list[Alteration]) -> str:
    """Return what is said; straight after a root a fifth needs a word before it, as in writing."""
    words = [base.spoken, *(each.spoken for each in alterations)]
    return " ".join(words) if base.spoken or not alterations else f"major{' '.join(words)}"


def _between(base: frozenset[Degree], degrees: frozenset[Degree]) -> list[Alteration] | None:
    """Return the alterations that lead from `base` to `degrees`, or None when none do."""
    needed, reached = [], base
    for alteration in ALTERATIONS:
        if alteration.puts in degrees - base:
            altered = _altered(reached, alteration)
            if altered is None:
                return None
            needed.append(alteration)
            reached = altered
    return needed if reached == degrees else None


def _advice(text: str, furthest: int) -> str:
    """Say what would have been a quality, and name the nearest one.

    The nearest is a name in the table, or as much of the text as is a quality by itself.
    """
    begun = [text[:furthest]] if _is_quality(text[:furthest]) else []
    names = [*(base.name for base in BASES), *begun]
    near = nearest(re.sub(r"\s", "", text)[:24], names)
    return "expected a quality such as m, 7, m7, maj7, 6, dim, sus4 or 7b9" + did_you_mean(near)


def _is_quality(text: str) -> bool:
    try:
        read_quality(text)
    except SymbolError:
        return False
    return True
