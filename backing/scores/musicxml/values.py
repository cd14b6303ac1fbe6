"""Note values (types, dots, tuplets) for lengths in ticks; several where one is not enough."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from backing.timing import TICKS_PER_QUARTER

_TYPES = {
    "breve": 8, "whole": 4, "half": 2, "quarter": 1, "eighth": 1 / 2, "16th": 1 / 4,
    "32nd": 1 / 8, "64th": 1 / 16,
}  # fmt: skip
"""Note types and their lengths in quarter notes."""

_DOTS = {0: 1.0, 1: 1.5, 2: 1.75}
_TUPLETS = ((3, 2), (5, 4), (7, 4), (9, 8))
_MOST_PIECES = 4


@dataclass(frozen=True, slots=True)
class Value:
    """A note value.

    Attributes:
        ticks: its length.
        type: the note type; "" if no type has this length.
        dots: 0 to 2.
        actual, normal: `actual` notes in the time of `normal`; 1 and 1 without a tuplet.

    """

    ticks: int
    type: str
    dots: int = 0
    actual: int = 1
    normal: int = 1

    @property
    def base_ticks(self) -> int:
        """The length of its type within the tuplet, without dots."""
        plain = _TYPES.get(self.type, 0) * TICKS_PER_QUARTER
        return round(plain * self.normal / self.actual)


@cache
def _values() -> dict[int, Value]:
    """Return the simplest value of each length in ticks."""
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
    """Return the single value of a length in ticks, or None."""
    return _values().get(ticks)


def values_of(ticks: int) -> list[Value]:
    """Return the values that add up to a length in ticks, the longest first.

    A length that needs more than four is one value without a type.
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
