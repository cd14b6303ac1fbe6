"""The table of chord qualities: one row holds all there is to say of a quality.

Conventions: a quality is the set of its degrees above the root. `-` means minor; `+` at the start
means a raised fifth; `Δ` means a major seventh; `°` or `o` diminished; `ø` half-diminished. A plain
9, 11 or 13 includes the minor seventh and the degrees below it, as the `kind` words of MusicXML 4.0
(W3C) do; which of them are played is for the players to say. The degrees of the plain rows
follow the shorthands of Harte, Sandler, Abdallah & Gomez (ISMIR 2005) and MusicXML's kinds; the
spellings, the spoken words, `alt` and the sus chords with a seventh are common practice, no source.

A row that cannot be read is a mistake of ours: a `TableError` at import, which names the row.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from backing.errors import SymbolError
from backing.harmony.pitch import Degree

if TYPE_CHECKING:
    from collections.abc import Iterator

_WORDS = {
    "{maj}": "maj M ma Maj Ma MAJ MA major",
    "{M}": "maj M ma Maj Ma MAJ MA major Δ ∆ △ ^",
    "{m}": "m min mi - Min MIN MI minor −",
    "{dim}": "dim ° º o",
    "{ø}": "ø Ø ∅ h hdim",
    "{aug}": "aug +",
}
"""What may be written for a word in braces in the table of the bases."""

#  name      degrees             spoken                other spellings
_BASES = """
           | 1 3 5             |                     | {maj}
  m        | 1 b3 5            | minor               | {m}
  dim      | 1 b3 b5           | diminished          | {dim}
  aug      | 1 3 #5            | augmented           | {aug}
  5        | 1 5               | 5                   | no3 (no3) omit3 (omit3)
  6        | 1 3 5 6           | 6                   | {maj}6 add6
  m6       | 1 b3 5 6          | minor 6             | {m}6 {m}add6
  mb6      | 1 b3 5 b6         | minor flat 6        | {m}b6 {m}(b6) {m}♭6
  69       | 1 3 5 6 9         | 6 9                 | 6/9 {maj}69 {maj}6/9
  m69      | 1 b3 5 6 9        | minor 6 9           | {m}69 {m}6/9
  7        | 1 3 5 b7          | 7                   | dom7 dom
  maj7     | 1 3 5 7           | major 7             | {M}7 Δ ∆ △ 7M
  m7       | 1 b3 5 b7         | minor 7             | {m}7
  mmaj7    | 1 b3 5 7          | minor major 7       | {m}{M}7 {m}({maj}7) {m}/{maj}7 {m}Δ {m}7M
  m7b5     | 1 b3 b5 b7        | minor 7 flat 5      | {ø}7 ø Ø ∅ hdim
  dim7     | 1 b3 b5 bb7       | diminished 7        | {dim}7
  dimmaj7  | 1 b3 b5 7         | diminished major 7  | {dim}{M}7 {dim}({maj}7) {dim}Δ
  aug7     | 1 3 #5 b7         | augmented 7         | {aug}7 7+ 7aug
  augmaj7  | 1 3 #5 7          | augmented major 7   | {aug}{M}7 {aug}({maj}7) {aug}Δ maj7+
  9        | 1 3 5 b7 9        | 9                   | dom9
  maj9     | 1 3 5 7 9         | major 9             | {M}9
  m9       | 1 b3 5 b7 9       | minor 9             | {m}9
  mmaj9    | 1 b3 5 7 9        | minor major 9       | {m}{M}9 {m}({maj}9) {m}/{maj}9 {m}9({maj}7)
  m9b5     | 1 b3 b5 b7 9      | minor 9 flat 5      | {ø}9
  dim9     | 1 b3 b5 bb7 9     | diminished 9        | {dim}9
  aug9     | 1 3 #5 b7 9       | augmented 9         | {aug}9 9+
  11       | 1 3 5 b7 9 11     | 11                  | dom11
  maj11    | 1 3 5 7 9 11      | major 11            | {M}11
  m11      | 1 b3 5 b7 9 11    | minor 11            | {m}11
  m11b5    | 1 b3 b5 b7 9 11   | minor 11 flat 5     | {ø}11
  13       | 1 3 5 b7 9 11 13  | 13                  | dom13
  maj13    | 1 3 5 7 9 11 13   | major 13            | {M}13
  m13      | 1 b3 5 b7 9 11 13 | minor 13            | {m}13
  add9     | 1 3 5 9           | added 9             | 2
  madd9    | 1 b3 5 9          | minor added 9       |
  add11    | 1 3 5 11          | added 11            |
  madd11   | 1 b3 5 11         | minor added 11      |
  sus4     | 1 4 5             | suspended 4         | sus
  sus2     | 1 2 5             | suspended 2         |
  sus2sus4 | 1 2 4 5           | suspended 2 and 4   | sus24 sus4sus2
  6sus4    | 1 4 5 6           | 6 suspended 4       |
  7sus4    | 1 4 5 b7          | 7 suspended 4       | sus7 sus47
  7sus2    | 1 2 5 b7          | 7 suspended 2       |
  maj7sus4 | 1 4 5 7           | major 7 suspended 4 |
  9sus4    | 1 4 5 b7 9        | 9 suspended 4       | sus9
  13sus4   | 1 4 5 b7 9 13     | 13 suspended 4      | sus13
  7alt     | 1 3 #5 b7 b9 #9   | 7 altered           | 7(alt) alt (alt)
"""

#  name    takes away   puts in   is wanted there   spoken        others; a mere figure, in brackets
_ALTERATIONS = """
  b5    | 5          | b5      | 5               | flat 5      | -5 ♭5
  #5    | 5          | #5      | 5               | sharp 5     | +5 ♯5
  b9    | 9          | b9      | 7               | flat 9      | -9 ♭9
  #9    | 9          | #9      | 7               | sharp 9     | +9 ♯9
  #11   | 11         | #11     | 3               | sharp 11    | +11 ♯11 #4 ♯4 add#11 add♯11
  b13   | 13         | b13     | 7               | flat 13     | -13 ♭13
  add9  | .          | 9       | 5               | added 9     | add2 9
  add11 | .          | 11      | 3               | added 11    | add4 11
  add13 | .          | 13      | 7               | added 13    | 13
  sus4  | 3          | 4       | 3               | suspended 4 | sus
  sus2  | 3          | 2       | 3               | suspended 2 |
"""


class TableError(Exception):
    """A row of our own tables that is written wrongly; never a fault of a user's."""


@dataclass(frozen=True, slots=True)
class Base:
    """A row of the table of bases.

    Attributes:
        name: the one spelling we write; empty for a major triad.
        degrees: its degrees, in the order of the row.
        spoken: what is said behind the root's name; empty for a major triad.
        spellings: all that may be written, the name first.
    """

    name: str
    degrees: frozenset[Degree]
    spoken: str
    spellings: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Alteration:
    """A row of the table of alterations.

    Attributes:
        name: the one spelling we write.
        takes: the number of the plain degree that it takes away; 0 for none.
        puts: the degree that it puts in.
        wants: the number of a degree that must be there.
        spoken: what is said.
        spellings: all that may be written, the name first.
    """

    name: str
    takes: int
    puts: Degree
    wants: int
    spoken: str
    spellings: tuple[str, ...]


def read_bases(table: str) -> tuple[Base, ...]:
    """Return the bases of a table's text.

    Raises:
        TableError: for a row that cannot be read, or a spelling that two rows have.
    """
    bases: list[Base] = []
    owners: dict[str, str] = {}
    for line, cells in _rows(table, 4):
        name, degrees, spoken, others = cells
        spellings = (name, *(each for other in others.split() for each in _written_out(other)))
        for spelling in spellings:
            if " " in spelling or set(spelling) & {"{", "}"}:
                raise _wrong(line, f"'{spelling}' cannot be a spelling")
            if owners.setdefault(spelling, line) != line:
                raise _wrong(line, f"'{spelling}' stands in this row too: {owners[spelling]!r}")
        if bool(spoken) != bool(name):
            raise _wrong(line, "what is said is missing, or stands in the wrong column")
        bases.append(Base(name, _degrees(degrees, line), spoken, spellings))
    return tuple(bases)


def read_alterations(table: str) -> tuple[Alteration, ...]:
    """Return the alterations of a table's text.

    Raises:
        TableError: for a row that cannot be read.
    """
    found = []
    for line, cells in _rows(table, 6):
        name, takes, puts, wants, spoken, others = cells
        if not name or not spoken or not wants.isdigit() or not (takes.isdigit() or takes == "."):
            raise _wrong(line, "a cell is missing, or stands in the wrong column")
        number = 0 if takes == "." else int(takes)
        degree = _degree(puts, line)
        found.append(Alteration(name, number, degree, int(wants), spoken, (name, *others.split())))
    return tuple(found)


def _rows(table: str, columns: int) -> Iterator[tuple[str, list[str]]]:
    for line in filter(str.strip, table.splitlines()):
        cells = [cell.strip() for cell in line.split("|")]
        if len(cells) != columns:
            raise _wrong(line, f"it has {len(cells)} columns between bars instead of {columns}")
        yield line.strip(), cells


def _degrees(text: str, line: str) -> frozenset[Degree]:
    degrees = [_degree(each, line) for each in text.split()]
    places = [(each.number, each.alter) for each in degrees]
    if places[:1] != [(1, 0)] or len(degrees) < 2:
        raise _wrong(line, f"'{text}' are not degrees that begin with 1")
    if not all(one < other for one, other in pairwise(places)):
        raise _wrong(line, f"the degrees '{text}' do not rise")
    return frozenset(degrees)


def _degree(text: str, line: str) -> Degree:
    try:
        return Degree.parse(text)
    except SymbolError as error:
        raise _wrong(line, f"{error.found} ({error.allowed})") from None


def _wrong(line: str, found: str) -> TableError:
    return TableError(f"harmony/quality_table.py, the row {line.strip()!r}: {found}")


def _written_out(spelling: str) -> list[str]:
    """Return a spelling with its words in braces written in every way."""
    for word, ways in _WORDS.items():
        if word in spelling:
            return [
                each for way in ways.split() for each in _written_out(spelling.replace(word, way))
            ]
    return [spelling]


BASES = read_bases(_BASES)
ALTERATIONS = read_alterations(_ALTERATIONS)
