"""Which kind of line each line of a chart is, and to which part it belongs.

Conventions: a line ends with a line feed, a carriage return or both. A line whose first sign is a
hash is a comment. Bars above the first part are a part called A.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from enum import Enum, auto
from itertools import islice
from typing import TYPE_CHECKING

from backing.chart.common_mistakes import ENDING_CLOSE, apart, behind_part
from backing.chart.diagnostics import TooManyFaultsError, quoted
from backing.chart.fields import CHART_NAMES, PART_NAMES, Fields, read_field
from backing.chart.headers import is_other_name, nearly_header
from backing.chart.tokens import Word
from backing.nearest import did_you_mean, nearest

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backing.chart.diagnostics import Diagnostics
    from backing.chart.fields import Field

_PART = re.compile(r"\s{0,200}\[([^\]]*)(\]?)\s*(.*)")
_NAME = re.compile(r"[A-Za-z][A-Za-z0-9'-]{0,23}")
_NAME_AND_NUMBER = re.compile(r"\s*\[\s*([A-Za-z][A-Za-z0-9'-]{0,23})\s+([0-9]{1,5})\s*\]")
_NAME_BEFORE_BARS = re.compile(r"\s{0,200}([A-Za-z][A-Za-z0-9'-]{0,23}):\s+(?=\|)")
_ENDING = re.compile(r"(?P<blank>\s*)\[(?P<figures>[0-9](?:,?[0-9])*)[.\]]?(?=.*\|)")
_MOST_PARTS = 200
_NAMES_OF_BOTH = ("intro", "outro")
"""What both a header and a part may be called."""
_MOST_FIELDS = 20
"""Lines that are looked through for the bars of a part."""
_NAMES = (
    "write between brackets a letter and then letters, figures, ' or -, 24 at most, such as [A] or "
    "[Intro]"
)
_RAISED_CHORD = re.compile(
    r"#(?:[1-7]|[IV]+|[iv]+)(?:maj|min|dim|sus|add|m|[ø°Δ0-9b#/+-])*(?:\s*\||:[0-9].*\|)"
)


class Kind(Enum):
    """What a line of a chart is."""

    BLANK = auto()
    COMMENT = auto()
    PART = auto()
    FIELD = auto()
    BARS = auto()
    OTHER = auto()


def kind_of(text: str) -> Kind:
    """Return what a line is, without its line end."""
    start = text.lstrip()
    if not start:
        return Kind.BLANK
    if start[0] == "#":
        return Kind.COMMENT
    if start[0] == "[":
        return Kind.PART
    if read_field(0, text):
        return Kind.FIELD
    return Kind.BARS if "|" in text or "::" in text else Kind.OTHER


def _is_heading(found: Field, below: Sequence[str]) -> bool:
    """Whether a line like a field is meant for the name of a part, such as `A:`.

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
    """Whether bars come next, perhaps below fields that a part may have; or nothing at all."""
    for text in islice(lines, _MOST_FIELDS):
        kind = kind_of(text)
        own = kind is Kind.FIELD and (found := read_field(0, text)) and found.name in PART_NAMES
        if kind not in (Kind.BLANK, Kind.COMMENT) and not own:
            return kind is Kind.BARS
    return True


def split_lines(text: str) -> list[str]:
    """Return the lines without their ends; a line feed, a carriage return or both end a line."""
    return re.split(r"\r\n|\r|\n", text)


@dataclass(slots=True)
class PartText:
    """The text of a part.

    Attributes:
        name: its name.
        line: the line of its name, from 1; of its first bars where it has no name.
        fields: what it has of its own.
        expected: the figures behind its name, or None.
        bars: its lines of bars with their numbers, from 1.
        sound: whether every line in it was understood.

    """

    name: str
    line: int
    fields: Fields
    expected: Word | None = None
    bars: list[tuple[int, str]] = field(default_factory=list)
    sound: bool = True


class Outline:
    """The fields and the parts of a chart's text.

    Attributes:
        fields: the fields above the parts.
        parts: the parts in the order written, each name once.
        sound: whether every line above the parts was understood.

    """

    def __init__(self, lines: Sequence[str], faults: Diagnostics) -> None:
        self.fields = Fields(faults, CHART_NAMES)
        self.parts: list[PartText] = []
        self.sound = True
        self._faults = faults
        self._lines_of_parts: dict[str, int] = {}
        self._named = True
        self._lines = lines
        for number, text in enumerate(lines, 1):
            self._take(number, text)

    def _take(self, line: int, text: str) -> None:
        kind = kind_of(text)
        if kind is Kind.COMMENT:
            self._check_comment(line, text)
        elif kind in (Kind.PART, Kind.BARS, Kind.OTHER) and self._refuse_near(line, text, kind):
            return
        elif kind is Kind.PART and (ending := _ENDING.match(text)):
            self._refuse_name(line, text, ENDING_CLOSE)
            figures = f"{ending['blank']}|{ending['figures']}"
            self._take_bars(line, figures.ljust(ending.end()) + text[ending.end() :])
        elif kind is Kind.PART:
            self._take_part(line, text)
        elif kind is Kind.FIELD:
            if found := read_field(line, text):
                self._take_field(found)
        elif kind is Kind.BARS:
            if heading := _NAME_BEFORE_BARS.match(text):
                self._take_heading(heading[1], line, heading.start(1) + 1)
                text = " " * heading.end() + text[heading.end() :]
            self._take_bars(line, text)
        elif kind is Kind.OTHER:
            self._refuse(line, text)

    def _check_comment(self, line: int, text: str) -> None:
        """Refuse a comment that can be a line of bars whose first chord is raised."""
        start = text.lstrip()[:80]
        if _RAISED_CHORD.match(start):
            chord = start.split("|")[0].strip()
            self._faults.add(
                line,
                text.index("#") + 1,
                f"{quoted(chord)} at the start of a line can be a comment or a chord",
                "for a comment put a space behind the hash, for a chord a bar line before it",
            )

    def _take_part(self, line: int, text: str) -> None:
        part = self._begin(line)
        match = _PART.match(text)
        name = match[1].strip() if match and match[2] else ""
        if not match or not _NAME.fullmatch(name):
            part.sound = False
            self._refuse_name(line, text)
            return
        part.name = name
        self._take_expected(part, Word(match[3].strip(), line, match.start(3) + 1))
        if name in self._lines_of_parts:
            self._refuse_again(line, text.index("[") + 1, name)
        self._lines_of_parts.setdefault(name, line)

    def _begin(self, line: int) -> PartText:
        """Begin a part without a name.

        Raises:
            TooManyFaultsError: when there are too many parts.

        """
        part = PartText("", line, Fields(self._faults, PART_NAMES))
        self.parts.append(part)
        if len(self.parts) > _MOST_PARTS:
            self._faults.add(
                line,
                0,
                f"there are more than {_MOST_PARTS} parts up to here",
                "let the form say what returns; nothing below was read",
            )
            raise TooManyFaultsError
        return part

    def _take_heading(self, name: str, line: int, column: int) -> None:
        """Refuse a part's name with a colon behind it, and begin the part all the same."""
        self._faults.add(
            line,
            column,
            f"'{name}:' is not the name of a part",
            f"write it in brackets on a line of its own: [{name}]",
        )
        part = self._begin(line)
        part.name, part.sound = name, False
        self._lines_of_parts.setdefault(name, line)

    def _refuse_name(self, line: int, text: str, allowed: str = _NAMES) -> None:
        if found := _NAME_AND_NUMBER.match(text):
            name, number = found.groups()
            allowed = (
                f"the number of bars stands behind the bracket: [{name}] {number}; a name has no "
                f"space: [{name}-{number}]"
            )
        column = text.index("[") + 1
        self._faults.add(line, column, f"{quoted(text.strip())} is not the name of a part", allowed)

    def _refuse_again(self, line: int, column: int, name: str) -> None:
        before = self._lines_of_parts[name]
        if self.parts[0].line == before and not self._named:
            found = f"part {name} stands here, and the bars above the first part are part {name}"
            allowed = f"write their own name above line {before}, such as [Intro]"
        else:
            found = f"part {name} stands a second time"
            allowed = (
                f"it stands in line {before} already; rename one, or let the form say when it "
                "returns"
            )
        self._faults.add(line, column, found, allowed)

    def _take_expected(self, part: PartText, rest: Word) -> None:
        if not rest.text:
            return
        if re.fullmatch("[0-9]{1,5}", rest.text):
            part.expected = rest
            return
        self._faults.add(
            rest.line,
            rest.column,
            f"{quoted(rest.text)} stands behind the name of part {part.name}",
            f"only its number of bars may stand there; {behind_part(rest.text, part.name)}",
        )
        part.sound = False

    def _take_field(self, found: Field) -> None:
        if _is_heading(found, self._lines[found.line : found.line + _MOST_FIELDS]):
            self._take_heading(found.written, found.line, found.name_column)
        elif not self.parts:
            self.fields.add(found)
        elif self.parts[-1].bars and found.name in PART_NAMES:
            self._faults.add(
                found.line,
                found.name_column,
                f"'{found.name}' stands behind bars",
                "write it above the first bar of its part; for a change inside begin a new part",
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
        column = len(text) - len(text.lstrip()) + 1
        found = f"{quoted(text.strip())} is not understood"
        if self.parts:
            self.parts[-1].sound = False
            allowed = "write bars between bar lines, such as | C | G7 |"
        else:
            self.sound = False
            self.fields.doubt()
            allowed = (
                "above the parts stand lines such as 'key: E'; then parts such as [A], and bars "
                "between bar lines, such as | C | G7 |"
            )
        self._faults.add(line, column, found, allowed)

    def _refuse_near(self, line: int, text: str, kind: Kind) -> bool:
        """Refuse a line that is nearly a header; return whether it is one."""
        start = text.lstrip()
        if start.startswith("|") or (kind is Kind.PART and ":" not in start):
            return False
        near = nearly_header(text, CHART_NAMES)
        if near is None or (kind is not Kind.OTHER and not near.known):
            return False
        if kind is Kind.PART and near.name in _NAMES_OF_BOTH:
            return False
        found = f"{quoted(start.strip())} is not understood"
        if not near.known:
            found = f"there is no line {quoted(f'{near.name}:')}"
        fields = self.parts[-1].fields if self.parts else self.fields
        fields.refuse(line, len(text) - len(start) + 1, found, near.name, near.value)
        return True

    def near_part(self, name: str) -> str:
        """Return a suggestion for a name in the form that is no part's."""
        return apart(name, self._lines_of_parts) or did_you_mean(
            nearest(name, self._lines_of_parts)
        )

    def some_names(self) -> str:
        """Return the names of the parts, the first twenty where there are more."""
        names = list(islice(self._lines_of_parts, 21))
        return ", ".join(names[:20]) + (", ..." if len(names) > 20 else "")
