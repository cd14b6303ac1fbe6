"""Reads TOML tables key by key, and reports every fault with its file, line and key."""

from __future__ import annotations

import re
import tomllib
from collections import Counter
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, TypeVar

from backing.errors import Diagnostic
from backing.nearest import did_you_mean, nearest

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from backing.errors import FileError

Value = TypeVar("Value")
Path = tuple[str | int, ...]

_HEADER = re.compile(r"\s*(\[\[?)\s*([A-Za-z0-9_.\-]+)\s*\]")
_KEY = re.compile(r"\s*([A-Za-z0-9_-]+)\s*=")


@dataclass(slots=True)
class Document:
    """A TOML text while it is read.

    Attributes:
        source: the file's name.
        thing: what the file describes, for messages, such as "a style".
        error: the class of error to raise.
        lines: its lines.
        places: line numbers from 1 by path.
        faults: the faults found so far.
    """

    source: str
    thing: str
    error: type[FileError]
    lines: list[str]
    places: dict[Path, int]
    faults: list[Diagnostic] = field(default_factory=list)

    def fault(self, path: Path, found: str, allowed: str) -> None:
        """Add a fault at the line of `path`, or of the nearest table around it."""
        known = (path[:end] for end in range(len(path), 0, -1))
        line = next((self.places[each] for each in known if each in self.places), 0)
        text = self.lines[line - 1][:120] if line else ""
        self.faults.append(Diagnostic(line, 0, found, allowed, text))

    def finish(self) -> None:
        """Raise the faults, if there are any.

        Raises:
            FileError: of class `error`, with the faults in the order of lines.
        """
        if self.faults:
            raise self.error(self.source, tuple(sorted(self.faults, key=lambda each: each.line)))


@dataclass(slots=True)
class Table:
    """One table of the document; keys that are never read are faults in the end.

    Attributes:
        document: its document.
        path: its path in the document.
        values: its values by key.
        absent: whether the whole table is missing; then its keys are not reported.
        keys_read: the keys that have been read.
        broken: the keys that are missing, invalid or misspelt.
        missing: the fault of each missing key.
    """

    document: Document
    path: Path
    values: dict[str, Any]
    absent: bool = False
    keys_read: set[str] = field(default_factory=set)
    broken: set[str] = field(default_factory=set)
    missing: dict[str, Diagnostic] = field(default_factory=dict)

    def read(self, key: str, kind: Callable[[Any], Value], fallback: Value) -> Value:
        """Return the value of a required key, read by `kind`; the fallback after a fault.

        `kind` raises ValueError(found, allowed) for an invalid value.
        """
        self.keys_read.add(key)
        if key not in self.values:
            self.broken.add(key)
            if not self.absent:
                self.document.fault(self.path, f"{self.name(key)} is missing", "write it here")
                self.missing[key] = self.document.faults[-1]
            return fallback
        return self._value(key, kind, fallback)

    def read_or(self, key: str, kind: Callable[[Any], Value], default: Value) -> Value:
        """Return the value of an optional key, or the default."""
        self.keys_read.add(key)
        return self._value(key, kind, default) if key in self.values else default

    def _value(self, key: str, kind: Callable[[Any], Value], fallback: Value) -> Value:
        try:
            return kind(self.values[key])
        except ValueError as error:
            found, allowed = error.args if len(error.args) == 2 else (str(error), "see the README")
            self.document.fault((*self.path, key), f"{self.name(key)}: {found}", allowed)
            self.broken.add(key)
            return fallback

    def table(self, key: str) -> Table:
        """Return the table under a required key; after a fault, an empty one."""
        nothing: dict[str, Any] = {}
        values = self.read(key, _as_table, nothing)
        return Table(self.document, (*self.path, key), values, absent=values is nothing)

    def tables(self, key: str, *, least: int = 0) -> list[Table]:
        """Return the tables of an array of tables, `[[key]]`."""
        self.keys_read.add(key)
        found = self.values.get(key, [])
        if not isinstance(found, list) or not all(isinstance(each, dict) for each in found):
            self.document.fault(
                (*self.path, key), f"{self.name(key)} is not a list", f"write [[{key}]]"
            )
            return []
        if len(found) < least and not self.absent:
            self.document.fault(
                self.path, f"{self.name(key)} is missing", f"write at least {least}"
            )
        return [
            Table(self.document, (*self.path, key, index), each) for index, each in enumerate(found)
        ]

    def rest(self) -> list[str]:
        """Return the keys that have not been read yet, in order."""
        return [key for key in self.values if key not in self.keys_read]

    def close(self, *, also: Iterable[str] = ()) -> None:
        """Add a fault for every key that was never read.

        A misspelt key is not reported as missing, too.
        """
        allowed = sorted({*self.keys_read, *also})
        for key in self.rest():
            near = nearest(key, allowed)
            self.broken.add(near)
            if near in self.missing:
                self.document.faults.remove(self.missing.pop(near))
            self.document.fault(
                (*self.path, key),
                f"{self.name(key)} is not a key of {self.document.thing}",
                f"choose from {', '.join(allowed)}" + (did_you_mean(near) or "; or delete it"),
            )

    def name(self, key: str) -> str:
        """Return the dotted name of a key for messages."""
        return ".".join(str(each) for each in (*self.path, key) if isinstance(each, str))


def open_document(text: str, source: str, thing: str, error: type[FileError]) -> Table:
    """Return the outermost table of a TOML text.

    Args:
        text: the file's text.
        source: the file's name for messages.
        thing: what the file describes, such as "a style".
        error: the class of error to raise.

    Raises:
        FileError: of class `error`, if the text is not TOML.
    """
    lines = text.splitlines()
    try:
        values = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as broken:
        place = re.search(r"\(at line (\d+), column (\d+)\)", str(broken))
        last = len(lines) if "(at end of document)" in str(broken) else 0
        line, column = (int(place[1]), int(place[2])) if place else (last, 0)
        found = re.sub(r"\s*\(at .*\)$", "", str(broken)) or "not TOML"
        here = lines[line - 1][:120] if 0 < line <= len(lines) else ""
        case = " (write true or false)" if re.search(r"\b(True|False)\b", here) else ""
        advice = f"{thing} is a TOML file; correct this{case}"
        fault = Diagnostic(line, column, found, advice, here, column - 1)
        raise error(source, (fault,)) from None
    return Table(Document(source, thing, error, lines, _places(lines)), (), values)


def _places(lines: list[str]) -> dict[Path, int]:
    """Return the line number of every table and key by path, for plain TOML files."""
    places: dict[Path, int] = {}
    counts: dict[Path, int] = {}
    here: Path = ()
    for number, line in enumerate(lines, start=1):
        if header := _HEADER.match(line):
            here = ()
            for name in header[2].split("."):
                here = (*here, name)
                if here in counts:
                    here = (*here, counts[here])
            if header[1] == "[[":
                bare = here[:-1] if isinstance(here[-1], int) else here
                counts[bare] = counts.get(bare, -1) + 1
                here = (*bare, counts[bare])
            places[here] = number
        elif key := _KEY.match(line):
            places.setdefault((*here, key[1]), number)
    return places


def _as_table(value: object) -> dict[str, Any]:
    if not isinstance(value, dict):
        raise ValueError(f"{shown(value)} is not a table", "write it as a [table]")
    return value


def shown(value: object) -> str:
    """Return a value as text for messages, true and false as in TOML."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list):
        return f"[{', '.join(map(shown, value))}]"
    if isinstance(value, dict):
        return "a table"
    return repr(value) if isinstance(value, str) else str(value)


def as_text(value: object) -> str:
    """Read a non-empty text."""
    if not isinstance(value, str) or not value.strip():
        raise ValueError(f"{shown(value)} is not a text", "write a sentence in quotes")
    return value


def as_number(low: float, high: float) -> Callable[[Any], float]:
    """Return a reader of numbers from `low` to `high`."""

    def kind(value: Any) -> float:
        if (
            isinstance(value, bool)
            or not isinstance(value, int | float)
            or not low <= value <= high
        ):
            raise ValueError(
                f"{shown(value)} will not do", f"write a number from {low:g} to {high:g}"
            )
        return float(value)

    return kind


def as_whole(low: int, high: int) -> Callable[[Any], int]:
    """Return a reader of whole numbers from `low` to `high`."""

    def kind(value: object) -> int:
        if type(value) is not int or not low <= value <= high:
            raise ValueError(
                f"{shown(value)} will not do", f"write a whole number from {low} to {high}"
            )
        return value

    return kind


def as_one_of(allowed: Iterable[str]) -> Callable[[Any], str]:
    """Return a reader of one of the allowed words."""
    words = list(allowed)

    def kind(value: object) -> str:
        if value not in words:
            raise ValueError(f"{shown(value)} is not known", f"choose from {', '.join(words)}")
        return str(value)

    return kind


def as_list_of(things: str, example: str) -> Callable[[Any], tuple[str, ...]]:
    """Return a reader of non-empty lists of different texts.

    Args:
        things: what the texts are, such as "players".
        example: a list in TOML, such as '["drums"]'.
    """

    def kind(value: Any) -> tuple[str, ...]:
        if not isinstance(value, list) or not value or not all(isinstance(x, str) for x in value):
            raise ValueError(f"{shown(value)} will not do", f"write {things}, such as {example}")
        twice = [each for each, times in Counter(value).items() if times > 1]
        if twice:
            raise ValueError(f"{twice[0]!r} is there twice", "write each once")
        return tuple(value)

    return kind


def as_yes_or_no(value: object) -> bool:
    """Read true or false."""
    if not isinstance(value, bool):
        raise ValueError(f"{shown(value)} will not do", "write true or false")
    return value
