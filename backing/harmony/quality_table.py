"""The table of chord qualities, one row for each.

Conventions: a quality is the set of its degrees above the root. `-` means minor; `+` at the start
means a raised fifth; `Δ` means a major seventh; `°` or `o` diminished; `ø` half-diminished. A plain
9, 11 or 13 includes the minor seventh and the degrees below it, as the `kind` words of MusicXML 4.0
(W3C) do; the players choose which of them to play. The degrees of the plain rows follow the
shorthands of Harte, Sandler, Abdallah & Gomez (ISMIR 2005) and MusicXML's kinds; the spellings, the
spoken words, `alt` and the sus chords with a seventh are common practice, no source.

An invalid row raises a `TableError` with the row at import.
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
"""The spellings of each word in braces in the table of bases."""

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

#  name    removes      adds      needs             spoken        others; digits alone in brackets
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
    """An invalid row of these tables, which is a bug, not a user's fault."""


@dataclass(frozen=True, slots=True)
class Base:
    """A row of the table of bases.

    Attributes:
        name: its spelling in output; empty for a major triad.
        degrees: its degrees.
        spoken: the words after the root's name; empty for a major triad.
        spellings: all its spellings, the name first.
    """

    name: str
    degrees: frozenset[Degree]
    spoken: str
    spellings: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Alteration:
    """A row of the table of alterations.

    Attributes:
        name: its spelling in output.
        removes: the number of the plain degree that it removes; 0 for none.
        adds: the degree that it adds.
        needs: the number of a degree that the chord must have.
        spoken: its words.
        spellings: all its spellings, the name first.
    """

    name: str
    removes: int
    adds: Degree
    needs: int
    spoken: str
    spellings: tuple[str, ...]


def read_bases(table: str) -> tuple[Base, ...]:
    """Return the bases in the text of a table.

    Raises:
        TableError: for an invalid row, or a spelling of two rows.
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
                raise _wrong(line, f"'{spelling}' is in this row, too: {owners[spelling]!r}")
        if bool(spoken) != bool(name):
            raise _wrong(line, "the spoken words are missing or in the wrong column")
        bases.append(Base(name, _degrees(degrees, line), spoken, spellings))
    return tuple(bases)


def read_alterations(table: str) -> tuple[Alteration, ...]:
    """Return the alterations in the text of a table.

    Raises:
        TableError: for an invalid row.
    """
    found = []
    for line, cells in _rows(table, 6):
        name, removes, adds, needs, spoken, others = cells
        digits = needs.isdigit() and (removes.isdigit() or removes == ".")
        if not name or not spoken or not digits:
            raise _wrong(line, "a cell is missing or in the wrong column")
        number = 0 if removes == "." else int(removes)
        degree = _degree(adds, line)
        found.append(Alteration(name, number, degree, int(needs), spoken, (name, *others.split())))
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
    """Return every spelling that replaces the words in braces."""
    for word, texts in _WORDS.items():
        if word in spelling:
            return [
                each
                for text in texts.split()
                for each in _written_out(spelling.replace(word, text))
            ]
    return [spelling]


BASES = read_bases(_BASES)
ALTERATIONS = read_alterations(_ALTERATIONS)
