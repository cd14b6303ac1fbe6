"""Splits a bar into notes, chords and rests of one note value each: type, dots and tuplet.

Conventions: offsets count from the bar line of the whole measure, so a pickup is at its end. A note
of several values is split at the strongest beat inside it, and tied. So is a rest, which fills a
beat, a half bar, a bar or a beat halved repeatedly, and is dotted in compound meters only (common
practice, no source).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING

from backing.timing import TICKS_PER_QUARTER

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backing.chart.melody import MelodyNote
    from backing.scores.tune import TuneBar
    from backing.timing import Meter

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


_MOST_SLASH = TICKS_PER_QUARTER
_SHORTEST_STEP = 60
"""The shortest part of a beat at which a note is split: a 64th."""


@dataclass(frozen=True, slots=True)
class Piece:
    """A note, simultaneous notes or a rest of one note value.

    Attributes:
        tick: its start from the start of the bar.
        value: its note value.
        notes: from the lowest up; () is a rest.
        first, last: whether its notes begin with it, and end with it.

    """

    tick: int
    value: Value
    notes: tuple[MelodyNote, ...]
    first: bool = True
    last: bool = True

    @property
    def end(self) -> int:
        """The tick of its end from the start of the bar."""
        return self.tick + self.value.ticks


def offsets(bars: Sequence[TuneBar]) -> list[int]:
    """Return for each bar the tick in its whole measure at which it begins; 0 for whole bars.

    A short bar is a pickup where a part or a repeat begins, and the rest of a measure behind a
    piece that lacks so much.
    """
    found: list[int] = []
    before: TuneBar | None = None
    for bar in bars:
        full = bar.meter.bar_ticks
        halves = before is not None and before.is_short and not found[-1]
        begins = before is None or bar.part or bar.opens or before.closes or before.double
        if bar.is_short and ((halves and before and before.ticks + bar.ticks == full) or begins):
            found.append(full - bar.ticks)
        else:
            found.append(0)
        before = bar
    return found


def pieces_of(bar: TuneBar, offset: int) -> list[Piece]:
    """Return what a bar is made of; a whole measure of silence is one rest without a type.

    Args:
        bar: the bar.
        offset: where in its whole measure it begins.

    """
    if not bar.notes and not bar.is_short:
        return [Piece(0, Value(bar.ticks, ""), ())]
    groups: dict[int, list[MelodyNote]] = {}
    for note in bar.notes:
        groups.setdefault(note.tick, []).append(note)
    found: list[Piece] = []
    now = 0
    for tick, notes in groups.items():
        found += _split(bar.meter, offset, now, tick, ())
        now = notes[0].end
        found += _split(bar.meter, offset, tick, now, tuple(notes))
    return found + _split(bar.meter, offset, now, bar.ticks, ())


def slashes_of(bar: TuneBar, offset: int) -> list[Piece]:
    """Return the slashes of a bar without melody: one a beat, but quarters where a beat is a half.

    Args:
        bar: the bar.
        offset: the tick in its whole measure at which it begins.

    """
    beat = min(bar.meter.beat_ticks, _MOST_SLASH) if bar.meter.unit == 2 else bar.meter.beat_ticks
    edges = [0, *range(beat - offset % beat, bar.ticks, beat), bar.ticks]
    return [
        piece
        for start, end in pairwise(edges)
        for piece in _split(bar.meter, offset, start, end, ())
    ]


def _split(
    meter: Meter, offset: int, start: int, end: int, notes: tuple[MelodyNote, ...]
) -> list[Piece]:
    if start >= end:
        return []
    part = _note_values if notes else _rest_values
    values = part(meter, offset + start, end - start) or values_of(end - start)
    found: list[Piece] = []
    for index, value in enumerate(values):
        tick = found[-1].end if found else start
        found.append(Piece(tick, value, notes, index == 0, index == len(values) - 1))
    return found


@lru_cache(4096)
def _steps(meter: Meter) -> tuple[int, ...]:
    """Return the lengths between beats of the same weight, the strongest first."""
    found = [meter.bar_ticks]
    if meter.beats == 4:
        found.append(meter.bar_ticks // 2)
    found.append(meter.beat_ticks)
    if meter.beat_ticks != meter.unit_ticks:
        found.append(meter.unit_ticks)
    while found[-1] >= 2 * _SHORTEST_STEP:
        found.append(found[-1] // 2)
    return tuple(dict.fromkeys(found))


@lru_cache(4096)
def _note_values(meter: Meter, tick: int, ticks: int) -> tuple[Value, ...]:
    """Return the values of a note at a tick of a measure, or () if there are none."""
    value = value_of(ticks)
    if value:
        return (value,)
    for step in _steps(meter):
        ways = [
            (*left, *right)
            for at in range(tick - tick % step + step, tick + ticks, step)
            if (left := _note_values(meter, tick, at - tick))
            and (right := _note_values(meter, at, tick + ticks - at))
        ]
        if ways:
            return min(reversed(ways), key=len)
    return ()


@lru_cache(4096)
def _rest_values(meter: Meter, tick: int, ticks: int) -> tuple[Value, ...]:
    """Return the values of a rest at a tick of a measure, or () if there are none."""
    value = value_of(ticks)
    if value and _is_rest(meter, tick, value):
        return (value,)
    for step in _steps(meter):
        at = tick - tick % step + step
        if at < tick + ticks:
            left = _rest_values(meter, tick, at - tick)
            right = _rest_values(meter, at, tick + ticks - at)
            return (*left, *right) if left and right else ()
    return ()


def _is_rest(meter: Meter, tick: int, value: Value) -> bool:
    """Whether a rest of a value is allowed at a tick."""
    beat = meter.beat_ticks
    if value.actual != 1:
        return tick // beat == (tick + value.ticks - 1) // beat
    if beat != meter.unit_ticks and value.ticks == 2 * meter.unit_ticks:
        return tick % beat == 0
    return value.ticks in _steps(meter) and tick % value.ticks == 0
