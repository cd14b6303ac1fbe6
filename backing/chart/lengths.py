"""Lengths of chords and melody notes as fractions of a whole note, such as `1/8`."""

from __future__ import annotations

import re
from fractions import Fraction
from typing import TYPE_CHECKING

from backing.chart.diagnostics import quoted
from backing.errors import SymbolError
from backing.timing import TICKS_PER_QUARTER

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from backing.chart.model import Bar

WHOLE_TICKS = 4 * TICKS_PER_QUARTER

_LONGEST = 64
_LENGTH = re.compile(r"([0-9]{1,5})(?:/([0-9]{1,5}))?")


def read_length(text: str) -> Fraction:
    """Return a length in whole notes, above 0 and at most 64.

    Raises:
        SymbolError: if it is not a length.

    """
    match = _LENGTH.fullmatch(text)
    above, below = (int(match[1]), int(match[2] or 1)) if match else (0, 0)
    if not above or not below or above > _LONGEST * below:
        raise SymbolError(
            f"{quoted(text)} is not a length",
            "write a fraction of a whole note, such as 1/8, 3/8 or 1",
        )
    return Fraction(above, below)


def read_ticks(text: str) -> int:
    """Return a length in ticks.

    Raises:
        SymbolError: if it is not a length or not a whole number of ticks.

    """
    ticks = read_length(text) * WHOLE_TICKS
    if ticks.denominator > 1:
        raise SymbolError(
            f"{quoted(text)} of a whole note is not a whole number of ticks",
            f"a whole note has {WHOLE_TICKS} ticks; write a length such as 1/8, 1/12 or 3/16",
        )
    return ticks.numerator


def changes_between_beats(bar: Bar) -> bool:
    """Whether a chord begins between beats, so that the bar must be written with lengths."""
    return any(span.ticks % bar.meter.beat_ticks for span in bar.chords)


def length_text(ticks: int) -> str:
    """Return a length in ticks as a fraction of a whole note."""
    return str(Fraction(ticks, WHOLE_TICKS))


def length_suffixes(lengths: Iterable[int]) -> Iterator[str]:
    """Yield the text after each name in a row: a colon and its length, "" if it is unchanged."""
    before = 0
    for ticks in lengths:
        yield "" if ticks == before else f":{length_text(ticks)}"
        before = ticks
