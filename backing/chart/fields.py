"""Header lines such as `key: E`, above the parts and at the top of a part."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeVar

from backing.chart.common_mistakes import OWN_LINE, advice_for, header_elsewhere, plain_name
from backing.chart.diagnostics import TooManyFaultsError, quoted
from backing.chart.model import ENDINGS, KICK_OFF, MOST_INTRO
from backing.errors import SymbolError
from backing.nearest import did_you_mean, nearest

if TYPE_CHECKING:
    from collections.abc import Callable

    from backing.chart.diagnostics import Diagnostics, Place

CHART_NAMES = (
    "title", "by", "key", "meter", "tempo", "style", "form", "count-in", "intro", "ending",
    "melody", "note",
)  # fmt: skip
"""The headers above the parts, in the order in which they are written."""

MELODY_SUFFIXES = (".melody", ".abc", ".mid")
"""Suffixes of the files that can hold a chart's melody."""

PART_NAMES = ("key", "meter", "tempo", "style")
"""The headers that a part can have of its own."""

MOST_COUNT_IN = 8
"""The longest count-in, in bars."""

_FIELD = re.compile(r"\s{0,200}([A-Za-z][A-Za-z_ -]{0,40}):")
_LENGTH = re.compile(r"[0-9]{1,5}(?:/[0-9]{1,5})?(?![^\s|:\"])")
_LONGEST_VALUE = 60
_MOST_NOTES = 1000
_COMMENT = re.compile(r"\s(#\s.*|#[A-Za-z]{2}.*)")
_STYLE = re.compile(r"[a-z0-9-]{1,40}")
_Value = TypeVar("_Value")


@dataclass(frozen=True, slots=True)
class Field:
    """A header line.

    Attributes:
        name: its name in lower case with hyphens, known or not.
        value: its value without surrounding space, perhaps empty.
        name_place: where its name begins.
        place: where its value begins.
        written: the name as written.

    """

    name: str
    value: str
    name_place: Place
    place: Place
    written: str


def read_field(line: int, text: str) -> Field | None:
    """Read a line `name: value`; return None for any other line.

    Unless it is a known name, a word before `:|` or `::` is a chord before a bar line, and a word
    before `:1/4` in a line with bar lines is a chord with its length.
    """
    match = _FIELD.match(text)
    if not match:
        return None
    name = plain_name(match[1])
    name = "note" if name == "notes" else name
    rest = text[match.end() :]
    value = rest.strip().replace("\t", " ")  # a tab would not survive writing
    is_bars = value[:1] in ("|", ":") or ("|" in rest and _LENGTH.match(rest))
    if is_bars and name not in CHART_NAMES:
        return None
    column = match.end() + len(rest) - len(rest.lstrip()) + 1
    return Field(name, value, (line, match.start(1) + 1), (line, column), match[1].strip())


class Fields:
    """The headers of the chart or of one part.

    A header is broken if it cannot be read, or if a faulty line may be meant for it. A fault that
    depends on a broken header is not reported.

    Attributes:
        notes: the values of all `note` lines.

    """

    def __init__(self, faults: Diagnostics, names: tuple[str, ...]) -> None:
        self.notes: list[str] = []
        self._faults = faults
        self._names = names
        self._found: dict[str, Field] = {}
        self._broken: set[str] = set()
        self._missed: set[str] = set()
        self._doubtful = False

    def add(self, field: Field) -> None:
        """Add a header; report it if it is unknown, empty or repeated."""
        first = self._found.get(field.name)
        if field.name not in self._names:
            self._refuse(field)
        elif not field.value:
            self._broken.add(field.name)
            self._faults.add(
                field.name_place,
                f"'{field.name}' has no value",
                "write one after the colon, or delete the line",
            )
        elif field.name == "note":
            self._take_note(field)
        elif first:
            self._faults.add(
                field.name_place,
                f"'{field.name}' is there twice",
                f"the first is in line {first.place[0]}; delete one of the two",
            )
        else:
            self._found[field.name] = field

    def _take_note(self, field: Field) -> None:
        """Add a note.

        Raises:
            TooManyFaultsError: if there are more than `_MOST_NOTES`.

        """
        self.notes.append(field.value)
        if len(self.notes) == _MOST_NOTES + 1:
            self._faults.add(
                field.name_place,
                f"there are more than {_MOST_NOTES} notes up to here",
                "check that this is a chart; the lines below were not read",
            )
            raise TooManyFaultsError

    def _refuse(self, field: Field) -> None:
        if field.name in CHART_NAMES:
            self._faults.add(
                field.name_place,
                f"'{field.name}' is in a part",
                f"write it above the first part; a part can only have {', '.join(self._names)}",
            )
            return
        found = f"there is no header '{field.written}:'"
        self.refuse(field.name_place, found, field.name, field.value)

    def refuse(self, place: Place, found: str, name: str, value: str) -> None:
        """Report an unknown header, and count the header that it means as broken.

        Args:
            place: of the name.
            found: what was found.
            name: its name in lower case with hyphens.
            value: its value.

        """
        meant = name if name in CHART_NAMES else header_elsewhere(name, value)
        if meant is None:
            self.doubt()
        else:
            self._missed.add(meant)
        self._faults.add(place, found, lambda: advice_for(name, value, CHART_NAMES, self._names))

    def doubt(self) -> None:
        """Count every missing header as broken, because a line was not understood."""
        self._doubtful = True

    def miss(self, name: str) -> None:
        """Count a missing header as broken, because it is in the wrong place."""
        self._missed.add(name)

    def get(self, name: str) -> Field | None:
        """Return the header, or None if it is missing."""
        return self._found.get(name)

    def text(self, name: str) -> str:
        """Return the value as written, or "" if it is missing."""
        field = self._found.get(name)
        return field.value if field else ""

    def broken(self, name: str) -> bool:
        """Whether the header cannot be read, or a faulty line may be meant for it."""
        missing = name not in self._found
        return name in self._broken or (missing and (self._doubtful or name in self._missed))

    def read(self, name: str, parse: Callable[[str], _Value]) -> _Value | None:
        """Return the parsed value; None if it is missing or, with a fault, cannot be read."""
        field = self._found.get(name)
        if not field:
            return None
        try:
            return parse(_short(field.value))
        except SymbolError as error:
            self._broken.add(name)
            self._doubtful = self._doubtful or ":" in field.value  # two headers in a line
            fault = comment_after(field.value) or error
            self._faults.add_symbol(field.place, fault)
            return None


def comment_after(value: str) -> SymbolError | None:
    """Return the error for a comment after a value, or None without one."""
    found = _COMMENT.search(value)
    if not found:
        return None
    return SymbolError(f"{quoted(found[1])} comes after a value", OWN_LINE, found.start(1))


def _short(text: str) -> str:
    if len(text) > _LONGEST_VALUE:
        raise SymbolError(
            f"{quoted(text)} is {len(text)} characters long",
            f"write at most {_LONGEST_VALUE}",
        )
    return text


def read_style(text: str) -> str:
    """Read the name of a style, whether or not it exists.

    Raises:
        SymbolError: if it cannot be the name of a style.

    """
    if _STYLE.fullmatch(text):
        return text
    plain = re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-")
    raise SymbolError(
        f"{quoted(text)} is not the name of a style",
        "write lower-case letters, digits and hyphens" + (f", such as '{plain}'" if plain else ""),
    )


def read_count_in(text: str) -> int:
    """Read a number of bars from 0 to 8.

    Raises:
        SymbolError: if it is not such a number.

    """
    if re.fullmatch(f"[0-{MOST_COUNT_IN}]", text):
        return int(text)
    raise SymbolError(
        f"{quoted(text)} is not a count-in", f"write a number of bars from 0 to {MOST_COUNT_IN}"
    )


def read_ending(text: str) -> str:
    """Read an ending, one of `ENDINGS`.

    Raises:
        SymbolError: if it is not an ending.

    """
    if text.lower() in ENDINGS:
        return text.lower()
    raise SymbolError(
        f"{quoted(text)} is not an ending",
        f"choose from {', '.join(ENDINGS)}" + did_you_mean(nearest(text, ENDINGS)),
    )


def read_melody_name(text: str) -> str:
    """Read the name of the melody file, which lies in the folder of the chart.

    Raises:
        SymbolError: if it has a folder or another suffix than `MELODY_SUFFIXES`.

    """
    bare = not re.search(r"[/\\:\x00]", text) and not text.startswith((".", "~"))
    if bare and text.lower().endswith(MELODY_SUFFIXES):
        return text
    raise SymbolError(
        f"{quoted(text)} is not the name of a melody file",
        f"write the name of a file in the chart's folder that ends in {', '.join(MELODY_SUFFIXES)}",
    )


def read_intro(text: str) -> int | str:
    """Read an intro: the number of bars in `last 4`, or `kick-off`.

    Raises:
        SymbolError: if it is neither.

    """
    words = text.lower().split()
    if len(words) == 1 and words[0].replace("-", "") == KICK_OFF.replace("-", ""):
        return KICK_OFF
    match = re.fullmatch(r"last (?:the )?([0-9]{1,2})(?: bars)?", " ".join(words), re.ASCII)
    if match and 1 <= int(match[1]) <= MOST_INTRO:
        return int(match[1])
    raise SymbolError(
        f"{quoted(text)} is not an intro",
        f"write {KICK_OFF}, or last and a number of bars from 1 to {MOST_INTRO}, such as last 4",
    )
