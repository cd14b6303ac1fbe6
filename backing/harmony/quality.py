"""Chord qualities, read and named by the table in `quality_table`."""

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
"""The degrees of every spelling of a base."""

_LONGEST_FIRST = sorted(_SPELLINGS, key=len, reverse=True)

_ALTERATIONS = {spelling: each for each in ALTERATIONS for spelling in each.spellings}
"""The alteration of every spelling."""


@dataclass(frozen=True, slots=True)
class Quality:
    """The degrees of a chord above its root.

    Attributes:
        name: its spelling in output; empty for a major triad.
        degrees: the degrees in ascending order, the root first.
        spoken: the words after the root's name; empty for a major triad.
    """

    name: str
    degrees: tuple[Degree, ...]
    spoken: str = field(compare=False)

    def __hash__(self) -> int:
        """Hash by name, which is unique and cheap."""
        return hash(self.name)

    def degree(self, number: int) -> Degree | None:
        """Return the degree with this number, the lower of two (b9 and #9), or None."""
        return next((each for each in self.degrees if each.number == number), None)

    @property
    def is_minor(self) -> bool:
        """Whether the third is minor."""
        third = self.degree(3)
        return third is not None and third.alter == -1


def table() -> dict[str, Quality]:
    """Return the quality of every spelling in the table."""
    return {spelling: _named(degrees) for spelling, degrees in _SPELLINGS.items()}


@lru_cache(4096)
def read_quality(text: str) -> Quality:
    """Read a whole quality, such as `m7b5` or `7(b9,#11)`; the empty text is a major triad.

    Raises:
        SymbolError: with the offset of the first character that cannot be read.
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
    """Return the quality with exactly these degrees, or None if it has no spelling."""
    found = frozenset(degrees)
    reached = (_between(base.degrees, found) for base in BASES)
    return _named(found) if any(each is not None for each in reached) else None


def _with_alterations(
    degrees: frozenset[Degree], text: str, start: int
) -> tuple[frozenset[Degree], int]:
    """Read as many alterations as possible; return the degrees and the offset reached."""
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
    """Return the alteration at a position, or ""; digits alone need brackets."""
    words = (word for word in _ALTERATIONS if text.startswith(word, position))
    return max((word for word in words if inside or not word.isdigit()), key=len, default="")


def _altered(degrees: frozenset[Degree], alteration: Alteration) -> frozenset[Degree] | None:
    """Return the degrees with the alteration, or None if it does not apply.

    A chord has each note once: 9 cannot be added to 2, and a suspended 4 replaces an 11.
    """
    numbers = {degree.number for degree in degrees}
    plain, octave = Degree(alteration.removes, 0), Degree(alteration.adds.number + 7, 0)
    if alteration.adds in degrees or alteration.needs not in numbers:
        return None
    if alteration.adds.number - 7 in numbers:
        return None
    if alteration.removes == 3 and plain not in degrees:  # only a major third is suspended
        return None
    return degrees - {plain, octave} | {alteration.adds}


@lru_cache(4096)
def _named(degrees: frozenset[Degree]) -> Quality:
    """Return the quality with the name of the table row that needs the fewest alterations."""
    ordered = tuple(sorted(degrees, key=lambda each: (each.number, each.alter)))
    spellings = [
        (base, found) for base in BASES if (found := _between(base.degrees, degrees)) is not None
    ]
    base, alterations = min(spellings, key=lambda each: len(each[1]))
    return Quality(base.name + _joined(base, alterations), ordered, _spoken(base, alterations))


def _joined(base: Base, alterations: list[Alteration]) -> str:
    """Return the text of alterations; right after a root they need brackets: C(b5), not Cb5."""
    names = [each.name for each in alterations]
    return "".join(names) if base.name or not names else f"({','.join(names)})"


def _spoken(base: Base, alterations: list[Alteration]) -> str:
    """Return the spoken words; right after a root, alterations follow the word major."""
    words = [base.spoken, *(each.spoken for each in alterations)]
    return " ".join(words) if base.spoken or not alterations else f"major{' '.join(words)}"


def _between(base: frozenset[Degree], degrees: frozenset[Degree]) -> list[Alteration] | None:
    """Return the alterations that turn `base` into `degrees`, or None if none do."""
    needed, reached = [], base
    for alteration in ALTERATIONS:
        if alteration.adds in degrees - base:
            altered = _altered(reached, alteration)
            if altered is None:
                return None
            needed.append(alteration)
            reached = altered
    return needed if reached == degrees else None


def _advice(text: str, furthest: int) -> str:
    """Return advice with the nearest quality: one in the table, or the readable start."""
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
