"""Reads the bands of the musicianship table from the document beside it, `reference.md`."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import NamedTuple

DOCUMENT = Path(__file__).with_name("reference.md")
HEAD = "| entry | low | high | unit | of | source |"


@dataclass(frozen=True)
class Entry:
    """A figure of the reference.

    Attributes:
        name: what it is called.
        low, high: the band, both ends in it; infinite where a side is open.
        unit: of both.
        of: over what the band is taken.
        source: the short names of its sources.
    """

    name: str
    low: float
    high: float
    unit: str
    of: str
    source: str

    def holds(self, value: float) -> bool:
        """Return whether a value lies in the band."""
        return self.low <= value <= self.high

    def __str__(self) -> str:
        ends = " to ".join(f"{each:g}" for each in (self.low, self.high))
        unit = f" {self.unit}" if self.unit else ""
        return f"{self.name} {ends}{unit} ({self.of}; {self.source})"


class Check(NamedTuple):
    """A value compared with an entry."""

    entry: Entry
    value: float

    @property
    def is_good(self) -> bool:
        """Whether the value lies in the band."""
        return self.entry.holds(self.value)


def read_entries(text: str) -> list[Entry]:
    """Return the entries of all tables with our head, in order."""
    found, inside = [], False
    for line in text.splitlines():
        inside = line == HEAD or (inside and line.startswith("|"))
        if inside and line != HEAD and not line.startswith("|---"):
            name, low, high, unit, of, source = (
                each.strip() for each in line.strip("|").split("|")
            )
            ends = float(low or "-inf"), float(high or "inf")
            found.append(Entry(name, *ends, unit, of, source))
    return found


@cache
def entries() -> dict[str, Entry]:
    """Return the entries of the document by name."""
    return {each.name: each for each in read_entries(DOCUMENT.read_text(encoding="utf-8"))}


def check(name: str, value: float) -> Check:
    """Compare a value with an entry."""
    return Check(entries()[name], value)
