"""Lengths in ticks as they are written: values, dots, tuplets, and ties where one will not do."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from backing.timing import TICKS_PER_QUARTER

_TYPES = {
    "breve": 8, "whole": 4, "half": 2, "quarter": 1, "eighth": 1 / 2, "16th": 1 / 4,
    "32nd": 1 / 8, "64th": 1 / 16,
}  # fmt: skip
"""Types of notes and their quarter notes."""

_DOTS = {0: 1.0, 1: 1.5, 2: 1.75}
_TUPLETS = ((3, 2), (5, 4), (7, 4), (9, 8))
_MOST_PIECES = 4


@dataclass(frozen=True, slots=True)
class Value:
    """How a length is written.

    Attributes:
        ticks: its length.
        type: the type of note; "" where there is none for it.
        dots: 0 to 2.
        actual, normal: so many in the time of so many; 1 and 1 without a tuplet.

    """

    ticks: int
    type: str
    dots: int = 0
    actual: int = 1
    normal: int = 1

    @property
    def base_ticks(self) -> int:
        """Length of its type as a part of the tuplet, without dots."""
        plain = _TYPES.get(self.type, 0) * TICKS_PER_QUARTER
        return round(plain * self.normal / self.actual)


@cache
def _values() -> dict[int, Value]:
    """Map lengths to how they are written, the plainest way of each."""
    found: dict[int, Value] = {}
    for actual, normal in ((1, 1), *_TUPLETS):
        for dots, more in _DOTS.items():
            for name, quarters in _TYPES.items():
                ticks = quarters * TICKS_PER_QUARTER * more * normal / actual
                if ticks == int(ticks) and (actual == 1 or dots < 2):
                    value = Value(int(ticks), name, dots, actual, normal)
                    found.setdefault(int(ticks), value)
    return found


def value_of(ticks: int) -> Value | None:
    """Return the value that is a length by itself, or None."""
    return _values().get(ticks)


def values_of(ticks: int) -> list[Value]:
    """Return the values that together are a length, the longest first.

    A length that four are not enough for is one value without a type.
    """
    values = _values()
    pieces: list[Value] = []
    rest = ticks
    while rest and len(pieces) < _MOST_PIECES:
        piece = values.get(rest) or max(
            (
                each
                for each in values.values()
                if each.actual == 1 and each.dots < 2 and each.ticks < rest
            ),
            key=lambda each: each.ticks,
            default=None,
        )
        if piece is None:
            break
        pieces.append(piece)
        rest -= piece.ticks
    return pieces if not rest else [Value(ticks, "")]
