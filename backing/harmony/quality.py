"""Chord qualities: one table, and the reader that is built from it.

Conventions: a quality is the set of its degrees above the root. `-` means minor; `+` at the start
means a raised fifth; `Δ` means a major seventh; `°` or `o` diminished; `ø` half-diminished. A plain
9, 11 or 13 includes the minor seventh and the degrees below it, as the `kind` words of MusicXML 4.0
(W3C) do; which of them are played is for the players to say. The degrees of the plain rows
follow the shorthands of Harte, Sandler, Abdallah & Gomez (ISMIR 2005) and MusicXML's kinds; the
spellings, `alt` and the sus chords with a seventh are common practice, no source.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import TYPE_CHECKING

from backing.errors import SymbolError
from backing.harmony.pitch import Degree
from backing.nearest import did_you_mean, nearest

if TYPE_CHECKING:
    from collections.abc import Iterable

_WORDS = {
    "{maj}": "maj M ma Maj Ma MAJ MA major",
    "{Δ}": "Δ ∆ △ ^",
    "{m}": "m min mi - Min MIN MI minor −",
    "{dim}": "dim ° º o",
    "{ø}": "ø Ø ∅ h hdim",
    "{aug}": "aug +",
}
"""What may be written for a word in braces in the table of the bases."""

#  name          degrees                 other spellings
_BASES = """
                 1 3 5                   {maj}
  m              1 b3 5                  {m}
  dim            1 b3 b5                 {dim}
  aug            1 3 #5                  {aug}
  5              1 5                     no3 (no3) omit3 (omit3)
  6              1 3 5 6                 {maj}6 add6
  m6             1 b3 5 6                {m}6 {m}add6
  mb6            1 b3 5 b6               {m}b6 {m}(b6) {m}♭6
  69             1 3 5 6 9               6/9 {maj}69 {maj}6/9
  m69            1 b3 5 6 9              {m}69 {m}6/9
  7              1 3 5 b7                dom7 dom
  maj7           1 3 5 7                 {maj}7 {Δ}7 Δ ∆ △ 7M
  m7             1 b3 5 b7               {m}7
  mmaj7          1 b3 5 7                {m}{maj}7 {m}({maj}7) {m}/{maj}7 {m}{Δ}7 {m}Δ {m}7M
  m7b5           1 b3 b5 b7              {ø}7 ø Ø ∅ hdim
  dim7           1 b3 b5 bb7             {dim}7
  dimmaj7        1 b3 b5 7               {dim}{maj}7 {dim}({maj}7) {dim}{Δ}7 {dim}Δ
  aug7           1 3 #5 b7               {aug}7 7+ 7aug
  augmaj7        1 3 #5 7                {aug}{maj}7 {aug}({maj}7) {aug}{Δ}7 {aug}Δ maj7+
  9              1 3 5 b7 9              dom9
  maj9           1 3 5 7 9               {maj}9 {Δ}9
  m9             1 b3 5 b7 9             {m}9
  mmaj9          1 b3 5 7 9              {m}{maj}9 {m}({maj}9) {m}/{maj}9 {m}{Δ}9 {m}9({maj}7)
  m9b5           1 b3 b5 b7 9            {ø}9
  dim9           1 b3 b5 bb7 9           {dim}9
  aug9           1 3 #5 b7 9             {aug}9 9+
  11             1 3 5 b7 9 11           dom11
  maj11          1 3 5 7 9 11            {maj}11 {Δ}11
  m11            1 b3 5 b7 9 11          {m}11
  m11b5          1 b3 b5 b7 9 11         {ø}11
  13             1 3 5 b7 9 11 13        dom13
  maj13          1 3 5 7 9 11 13         {maj}13 {Δ}13
  m13            1 b3 5 b7 9 11 13       {m}13
  add9           1 3 5 9                 2
  madd9          1 b3 5 9
  add11          1 3 5 11
  madd11         1 b3 5 11
  sus4           1 4 5                   sus
  sus2           1 2 5
  sus2sus4       1 2 4 5                 sus24 sus4sus2
  6sus4          1 4 5 6
  7sus4          1 4 5 b7                sus7 sus47
  7sus2          1 2 5 b7
  maj7sus4       1 4 5 7
  9sus4          1 4 5 b7 9              sus9
  13sus4         1 4 5 b7 9 13           sus13
  7alt           1 3 #5 b7 b9 #9         7(alt) alt (alt)
"""

#  name   takes away  puts in   is wanted there        other spellings; a mere figure, in brackets
_ALTERATIONS = """
  b5      5           b5        5                      -5 ♭5
  #5      5           #5        5                      +5 ♯5
  b9      9           b9        7                      -9 ♭9
  #9      9           #9        7                      +9 ♯9
  #11     11          #11       3                      +11 ♯11 #4 ♯4 add#11 add♯11
  b13     13          b13       7                      -13 ♭13
  add9    .           9         5                      add2 9
  add11   .           11        3                      add4 11
  add13   .           13        7                      13
  sus4    3           4         3                      sus
  sus2    3           2         3
"""


@dataclass(frozen=True, slots=True)
class Quality:
    """What a chord is above its root.

    Attributes:
        name: the one spelling we write; the empty name is a major triad.
        degrees: the degrees in ascending order of their numbers, the root first.
    """

    name: str
    degrees: tuple[Degree, ...]

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


@dataclass(frozen=True, slots=True)
class _Alteration:
    name: str
    takes: int
    puts: Degree
    wants: int


def _rows(table: str) -> list[list[str]]:
    return [line.split() for line in table.strip("\n").splitlines()]


def _degrees(texts: list[str]) -> frozenset[Degree]:
    return frozenset(Degree.parse(text) for text in texts)


@cache
def _bases() -> dict[str, frozenset[Degree]]:
    """Map each name of the table to its degrees, in the order of the table."""
    return {name: degrees for name, degrees, _ in _base_rows()}


def _base_rows() -> list[tuple[str, frozenset[Degree], list[str]]]:
    rows = []
    for line in _BASES.strip("\n").splitlines():
        name, degrees, others = line[:17].strip(), line[17:41], line[41:].split()
        spellings = [spelling for other in others for spelling in _written_out(other)]
        rows.append((name, _degrees(degrees.split()), spellings))
    return rows


def _written_out(spelling: str) -> list[str]:
    """Return a spelling with its words in braces written in every way."""
    for word, ways in _WORDS.items():
        if word in spelling:
            return [
                each for way in ways.split() for each in _written_out(spelling.replace(word, way))
            ]
    return [spelling]


@cache
def _spellings() -> dict[str, frozenset[Degree]]:
    """Map every spelling of the table to its degrees."""
    return {
        spelling: degrees for name, degrees, others in _base_rows() for spelling in (name, *others)
    }


@cache
def _alterations() -> dict[str, _Alteration]:
    """Map every spelling of an alteration to it."""
    found = {}
    for name, takes, puts, wants, *others in _rows(_ALTERATIONS):
        number = 0 if takes == "." else int(takes)
        alteration = _Alteration(name, number, Degree.parse(puts), int(wants))
        found.update(dict.fromkeys([name, *others], alteration))
    return found


def table() -> dict[str, Quality]:
    """Return every spelling in the table with its quality, for tests and for help."""
    return {spelling: _named(degrees) for spelling, degrees in _spellings().items()}


@lru_cache(4096)
def read_quality(text: str) -> Quality:
    """Read a whole quality, such as `m7b5` or `7(b9,#11)`; the empty text is a major triad.

    Raises:
        SymbolError: with the offset of the first sign that cannot be read.
    """
    furthest = 0
    for base in sorted(_spellings(), key=len, reverse=True):
        if not text.startswith(base):
            continue
        degrees, used = _with_alterations(_spellings()[base], text, len(base))
        if used == len(text):
            return _named(degrees)
        furthest = max(furthest, used)
    raise SymbolError(f"'{text}' is not a chord quality", _advice(text, furthest), furthest)


def quality_of(degrees: Iterable[Degree]) -> Quality | None:
    """Return the quality that has just these degrees, or None where no spelling says them."""
    found = frozenset(degrees)
    reached = (_words_between(base, found) for base in _bases().values())
    return _named(found) if any(words is not None for words in reached) else None


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
            altered = _altered(degrees, _alterations()[word]) if word else None
            if altered is None:
                break
            degrees, position = altered, position + len(word)
    return degrees, position


def _longest_alteration(text: str, position: int, *, inside: bool) -> str:
    """Return the alteration written here, or ""; a mere figure is one only inside brackets."""
    words = (word for word in _alterations() if text.startswith(word, position))
    return max((word for word in words if inside or not word.isdigit()), key=len, default="")


def _altered(degrees: frozenset[Degree], alteration: _Alteration) -> frozenset[Degree] | None:
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
    candidates = [
        (len(words), index, name + _joined(words, brackets=not name))
        for index, (name, base) in enumerate(_bases().items())
        if (words := _words_between(base, degrees)) is not None
    ]
    return Quality(min(candidates)[2], ordered)


def _joined(words: list[str], *, brackets: bool) -> str:
    """Join alterations; straight after a root they need brackets, or Cb5 would be Cb and 5."""
    return f"({','.join(words)})" if brackets and words else "".join(words)


def _words_between(base: frozenset[Degree], degrees: frozenset[Degree]) -> list[str] | None:
    """Return the alterations that lead from `base` to `degrees`, or None when none do."""
    words, reached = [], base
    for name, alteration in _alterations().items():
        if name == alteration.name and alteration.puts in degrees - base:
            altered = _altered(reached, alteration)
            if altered is None:
                return None
            words.append(name)
            reached = altered
    return words if reached == degrees else None


def _advice(text: str, furthest: int) -> str:
    """Say what would have been a quality, and name the nearest one.

    The nearest is a name in the table, or as much of the text as is a quality by itself.
    """
    names = [*_bases(), text[:furthest]] if _is_quality(text[:furthest]) else _bases()
    near = nearest(re.sub(r"\s", "", text)[:24], names)
    return "expected a quality such as m, 7, m7, maj7, 6, dim, sus4 or 7b9" + did_you_mean(near)


def _is_quality(text: str) -> bool:
    try:
        read_quality(text)
    except SymbolError:
        return False
    return True
