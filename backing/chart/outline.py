"""Sorts the lines of a chart by kind and by part.

Conventions: a line ends with a line feed, a carriage return or both. A line that begins with # is a
comment. Bars above the first part name are a part called A.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from enum import Enum, auto
from itertools import islice
from typing import TYPE_CHECKING

from backing.chart.common_mistakes import (
    ENDING_CLOSE,
    advice_after_part,
    form_advice,
    is_other_name,
    nearly_header,
)
from backing.chart.diagnostics import TooManyFaultsError, quoted
from backing.chart.fields import CHART_NAMES, PART_NAMES, Fields, read_field
from backing.chart.tokens import Word
from backing.nearest import did_you_mean, nearest

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backing.chart.diagnostics import Diagnostics, Place
    from backing.chart.fields import Field

_PART = re.compile(r"\s{0,200}\[([^\]]*)(\]?)\s*(.*)")
_NAME = re.compile(r"[A-Za-z][A-Za-z0-9'-]{0,23}")
_NAME_AND_NUMBER = re.compile(r"\s*\[\s*([A-Za-z][A-Za-z0-9'-]{0,23})\s+([0-9]{1,5})\s*\]")
_NAME_BEFORE_BARS = re.compile(r"\s{0,200}([A-Za-z][A-Za-z0-9'-]{0,23}):\s+(?=\|)")
_ENDING = re.compile(r"(?P<blank>\s*)\[(?P<figures>[0-9](?:,?[0-9])*)[.\]]?(?=.*\|)")
_MOST_PARTS = 200
_NAMES_OF_BOTH = ("intro", "outro")
"""Names that can be a header or a part."""
_MOST_FIELDS = 20
"""How many lines are searched for the bars of a part."""
_NAMES = (
    "write a name in brackets, such as [A] or [Intro]: a letter, then letters, digits, ' or -, at "
    "most 24 characters"
)
_RAISED_CHORD = re.compile(
    r"#(?:[1-7]|[IV]+|[iv]+)(?:maj|min|dim|sus|add|m|[ø°Δ0-9b#/+-])*(?:\s*\||:[0-9].*\|)"
)


class LineKind(Enum):
    """The kind of a line."""

    BLANK = auto()
    COMMENT = auto()
    PART = auto()
    FIELD = auto()
    BARS = auto()
    OTHER = auto()


def line_kind(text: str) -> LineKind:
    """Return the kind of a line, given without its line end."""
    start = text.lstrip()
    if not start:
        return LineKind.BLANK
    if start[0] == "#":
        return LineKind.COMMENT
    if start[0] == "[":
        return LineKind.PART
    if read_field(0, text):
        return LineKind.FIELD
    return LineKind.BARS if "|" in text or "::" in text else LineKind.OTHER


def _is_heading(found: Field, below: Sequence[str]) -> bool:
    """Whether a line that looks like a header is meant as the name of a part, such as `A:`.

    Args:
        found: the line.
        below: the lines below it.

    """
    if found.name in CHART_NAMES or not _NAME.fullmatch(found.written):
        return False
    if len(found.name) > 1 and (is_other_name(found.name) or nearest(found.name, CHART_NAMES, 0.5)):
        return False
    return len(found.value) < 4 and not found.value.strip("0123456789") and _bars_begin(below)


def _bars_begin(lines: Sequence[str]) -> bool:
    """Whether the next lines are bars, perhaps after headers of a part; True if there are none."""
    for text in islice(lines, _MOST_FIELDS):
        kind = line_kind(text)
        own = kind is LineKind.FIELD and (found := read_field(0, text)) and found.name in PART_NAMES
        if kind not in (LineKind.BLANK, LineKind.COMMENT) and not own:
            return kind is LineKind.BARS
    return True


def split_lines(text: str) -> list[str]:
    """Return the lines without line ends: a line feed, a carriage return or both."""
    return re.split(r"\r\n|\r|\n", text)


@dataclass(slots=True)
class PartText:
    """The text of a part.

    Attributes:
        name: its name.
        line: the line of its name, or of its first bars if it has no name, from 1.
        fields: its headers.
        expected: the number after its name, or None.
        bars: its lines of bars with their line numbers, from 1.
        valid: whether every line in it was understood.

    """

    name: str
    line: int
    fields: Fields
    expected: Word | None = None
    bars: list[tuple[int, str]] = field(default_factory=list)
    valid: bool = True


class Outline:
    """The headers and the parts of a chart's text.

    Attributes:
        fields: the headers above the parts.
        parts: the parts in the order written.
        valid: whether every line above the parts was understood.

    """

    def __init__(self, lines: Sequence[str], faults: Diagnostics) -> None:
        self.fields = Fields(faults, CHART_NAMES)
        self.parts: list[PartText] = []
        self.valid = True
        self._faults = faults
        self._lines_of_parts: dict[str, int] = {}
        self._named = True
        self._lines = lines
        for number, text in enumerate(lines, 1):
            self._take(number, text)

    def _take(self, line: int, text: str) -> None:
        kind = line_kind(text)
        if kind is LineKind.COMMENT:
            self._check_comment(line, text)
        elif kind in (LineKind.PART, LineKind.BARS, LineKind.OTHER) and self._refuse_near(
            line, text, kind
        ):
            return
        elif kind is LineKind.PART and (ending := _ENDING.match(text)):
            self._refuse_name(line, text, ENDING_CLOSE)
            figures = f"{ending['blank']}|{ending['figures']}"
            self._take_bars(line, figures.ljust(ending.end()) + text[ending.end() :])
        elif kind is LineKind.PART:
            self._take_part(line, text)
        elif kind is LineKind.FIELD:
            if found := read_field(line, text):
                self._take_field(found)
        elif kind is LineKind.BARS:
            if heading := _NAME_BEFORE_BARS.match(text):
                self._take_heading(heading[1], (line, heading.start(1) + 1))
                text = " " * heading.end() + text[heading.end() :]
            self._take_bars(line, text)
        elif kind is LineKind.OTHER:
            self._refuse(line, text)

    def _check_comment(self, line: int, text: str) -> None:
        """Report a comment that can be a line of bars with a raised first chord, such as #4."""
        start = text.lstrip()[:80]
        if _RAISED_CHORD.match(start):
            chord = start.split("|")[0].strip()
            self._faults.add(
                (line, text.index("#") + 1),
                f"{quoted(chord)} at the start of a line can be a comment or a chord",
                "put a space after the # of a comment, or a bar line before a chord",
            )

    def _take_part(self, line: int, text: str) -> None:
        part = self._begin(line)
        match = _PART.match(text)
        name = match[1].strip() if match and match[2] else ""
        if not match or not _NAME.fullmatch(name):
            part.valid = False
            self._refuse_name(line, text)
            return
        part.name = name
        self._take_expected(part, Word(match[3].strip(), (line, match.start(3) + 1)))
        if name in self._lines_of_parts:
            self._refuse_second((line, text.index("[") + 1), name)
        self._lines_of_parts.setdefault(name, line)

    def _begin(self, line: int) -> PartText:
        """Begin a part without a name.

        Raises:
            TooManyFaultsError: if there are more than `_MOST_PARTS`.

        """
        part = PartText("", line, Fields(self._faults, PART_NAMES))
        self.parts.append(part)
        if len(self.parts) > _MOST_PARTS:
            self._faults.add(
                (line, 0),
                f"there are more than {_MOST_PARTS} parts up to here",
                "use the form to repeat parts; the lines below were not read",
            )
            raise TooManyFaultsError
        return part

    def _take_heading(self, name: str, place: Place) -> None:
        """Report a part's name with a colon, and begin the part."""
        self._faults.add(
            place,
            f"'{name}:' is not the name of a part",
            f"write it in brackets on a line of its own: [{name}]",
        )
        part = self._begin(place[0])
        part.name, part.valid = name, False
        self._lines_of_parts.setdefault(name, place[0])

    def _refuse_name(self, line: int, text: str, allowed: str = _NAMES) -> None:
        if found := _NAME_AND_NUMBER.match(text):
            name, number = found.groups()
            allowed = (
                f"write the number of bars after the bracket: [{name}] {number}; or write a name "
                f"without a space: [{name}-{number}]"
            )
        place = line, text.index("[") + 1
        self._faults.add(place, f"{quoted(text.strip())} is not the name of a part", allowed)

    def _refuse_second(self, place: Place, name: str) -> None:
        before = self._lines_of_parts[name]
        if self.parts[0].line == before and not self._named:
            allowed = f"bars without a name are part A; write a name above line {before}"
        else:
            allowed = f"the first is in line {before}; rename one, or use the form to repeat it"
        self._faults.add(place, f"part {name} is there twice", allowed)

    def _take_expected(self, part: PartText, rest: Word) -> None:
        if not rest.text:
            return
        if re.fullmatch("[0-9]{1,5}", rest.text):
            part.expected = rest
            return
        self._faults.add(
            rest.place,
            f"{quoted(rest.text)} comes after the name of part {part.name}",
            f"only its number of bars is allowed there; {advice_after_part(rest.text, part.name)}",
        )
        part.valid = False

    def _take_field(self, found: Field) -> None:
        line = found.place[0]
        if _is_heading(found, self._lines[line : line + _MOST_FIELDS]):
            self._take_heading(found.written, found.name_place)
        elif not self.parts:
            self.fields.add(found)
        elif self.parts[-1].bars and found.name in PART_NAMES:
            self._faults.add(
                found.name_place,
                f"'{found.name}' comes after bars",
                "write it above the first bar of its part, or begin a new part for the change",
            )
            self.parts[-1].fields.miss(found.name)
        else:
            self.parts[-1].fields.add(found)

    def _take_bars(self, line: int, text: str) -> None:
        if not self.parts:
            self._named = False
            self._lines_of_parts["A"] = line
            self._begin(line).name = "A"
        self.parts[-1].bars.append((line, text))

    def _refuse(self, line: int, text: str) -> None:
        place = line, len(text) - len(text.lstrip()) + 1
        found = f"{quoted(text.strip())} is not understood"
        if self.parts:
            self.parts[-1].valid = False
            allowed = "write bars between bar lines, such as | C | G7 |"
        else:
            self.valid = False
            self.fields.doubt()
            allowed = (
                "write headers such as 'key: E' first, then parts such as [A], and bars between "
                "bar lines, such as | C | G7 |"
            )
        self._faults.add(place, found, allowed)

    def _refuse_near(self, line: int, text: str, kind: LineKind) -> bool:
        """Report a line that is nearly a header; return whether it is."""
        start = text.lstrip()
        if start.startswith("|") or (kind is LineKind.PART and ":" not in start):
            return False
        near = nearly_header(text, CHART_NAMES)
        if near is None or (kind is not LineKind.OTHER and not near.known):
            return False
        if kind is LineKind.PART and near.name in _NAMES_OF_BOTH:
            return False
        found = f"{quoted(start.strip())} is not understood"
        if not near.known:
            found = f"there is no header {quoted(f'{near.name}:')}"
        fields = self.parts[-1].fields if self.parts else self.fields
        fields.refuse((line, len(text) - len(start) + 1), found, near.name, near.value)
        return True

    def suggestion(self, name: str) -> str:
        """Return a suggestion for an unknown part in the form, or ""."""
        return form_advice(name, self._lines_of_parts) or did_you_mean(
            nearest(name, self._lines_of_parts)
        )

    def some_names(self) -> str:
        """Return the names of the parts, at most twenty."""
        names = list(islice(self._lines_of_parts, 21))
        return ", ".join(names[:20]) + (", ..." if len(names) > 20 else "")
