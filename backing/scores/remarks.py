"""Remarks on what a reader or a conversion corrected, guessed or left out.

Conventions: a remark is a sentence without its place. A remark on a bar has the number of that bar
in the source, by which the chart shows it at the right bar.
"""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

from backing.scores.tune import Remark

if TYPE_CHECKING:
    from collections.abc import Iterable

    from backing.scores.tune import Tune, TuneBar

OVERLAP = "notes of one voice overlap: each ends where the next begins"

_MOST_PLACES = 5
_MOST_LINES = 200
_PLACE = re.compile(r"((?:line|measure) [0-9]+): (.*)", re.DOTALL)


class Remarks:
    """Collects remarks, each once.

    Attributes:
        found: the remarks in the order they were made.

    """

    def __init__(self) -> None:
        self.found: dict[Remark, None] = {}

    def add(self, text: str, place: str = "") -> None:
        """Add a remark on the whole tune, or on a place outside any bar."""
        self.found.setdefault(Remark(text, place))

    def at(self, bar: TuneBar, text: str) -> None:
        """Add a remark on a bar."""
        self.found.setdefault(Remark(text, bar.place, bar.number))


def numbered(tune: Tune) -> tuple[tuple[TuneBar, ...], Remarks]:
    """Return the bars of a tune with their numbers, and the remarks of its reader."""
    bars = tuple(replace(bar, number=n) for n, bar in enumerate(tune.bars))
    first: dict[str, TuneBar] = {}
    for bar in bars:
        first.setdefault(bar.place, bar)
    remarks = Remarks()
    for text in tune.remarks:
        match = _PLACE.fullmatch(text)
        if match and match[1] in first:
            remarks.at(first[match[1]], match[2])
        elif match:
            remarks.add(match[2], match[1])
        else:
            remarks.add(text)
    for bar in bars:
        for remark in bar.remarks:
            remarks.found.setdefault(replace(remark, number=bar.number))
    return bars, remarks


def remark_lines(remarks: Iterable[Remark]) -> tuple[str, ...]:
    """Return remarks as lines; equal ones become one line with all their places."""
    places: dict[str, dict[str, None]] = {}
    for remark in remarks:
        found = places.setdefault(remark.text, {})
        if remark.place:
            found.setdefault(remark.place)
    lines = [f"{_listed(list(found))}: {text}" if found else text for text, found in places.items()]
    if len(lines) > _MOST_LINES:
        lines[_MOST_LINES:] = [f"{len(lines) - _MOST_LINES} more remarks are not shown here"]
    return tuple(lines)


def _listed(places: list[str]) -> str:
    word = places[0].split()[0]
    numbers = [place.split()[1] for place in places[:_MOST_PLACES]]
    more = f" and {len(places) - _MOST_PLACES} more" if len(places) > _MOST_PLACES else ""
    return f"{word}{'s' * (len(places) > 1)} {', '.join(numbers)}{more}"
