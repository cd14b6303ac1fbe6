"""Musical time: ticks, meters, tempi, and the one place where ticks become seconds.

Conventions: time is counted in whole ticks, 960 a quarter note. A tempo is counted in quarter
notes a minute unless it says its own unit. A beat is the meter's counted pulse: the lower figure
of the meter, or three of it in compound meters (6/8, 9/8, 12/8).
"""

from __future__ import annotations

import re
from bisect import bisect_right
from dataclasses import dataclass, field
from functools import cached_property
from itertools import accumulate

from backing.errors import SymbolError

TICKS_PER_QUARTER = 960
EIGHTH = TICKS_PER_QUARTER // 2

SLOWEST_BPM, FASTEST_BPM = 20.0, 500.0
"""Range of tempi in quarter notes a minute."""

_UNITS = {
    "eighth": 0.5,
    "dotted-eighth": 0.75,
    "quarter": 1.0,
    "dotted-quarter": 1.5,
    "half": 2.0,
    "dotted-half": 3.0,
}


@dataclass(frozen=True, slots=True)
class Meter:
    """A time signature.

    Attributes:
        count: the upper figure, 1 to 32.
        unit: the lower figure: 2, 4, 8 or 16.
        unit_ticks: length of the lower figure in ticks.
        bar_ticks: length of a bar in ticks.
        beat_ticks: length of a beat in ticks: three units in 6/8, 9/8 and 12/8, one unit elsewhere.
        beats: number of beats in a bar.

    """

    count: int
    unit: int
    unit_ticks: int = field(init=False, repr=False, compare=False)
    bar_ticks: int = field(init=False, repr=False, compare=False)
    beat_ticks: int = field(init=False, repr=False, compare=False)
    beats: int = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Work out the lengths once: they are asked for at every note."""
        unit_ticks = 4 * TICKS_PER_QUARTER // self.unit
        compound = self.unit >= 8 and self.count > 3 and self.count % 3 == 0
        lengths = {
            "unit_ticks": unit_ticks,
            "bar_ticks": self.count * unit_ticks,
            "beat_ticks": unit_ticks * (3 if compound else 1),
            "beats": self.count // (3 if compound else 1),
        }
        for name, value in lengths.items():
            object.__setattr__(self, name, value)

    def __str__(self) -> str:
        return f"{self.count}/{self.unit}"

    @staticmethod
    def parse(text: str) -> Meter:
        """Read `4/4`.

        Raises:
            SymbolError: when it is no meter.

        """
        match = re.fullmatch(r"([1-9][0-9]?)/(2|4|8|16)", text.strip(), re.ASCII)
        if not match or int(match[1]) > 32:
            raise SymbolError(
                f"'{text}' is not a meter",
                "write a count from 1 to 32, a slash, and 2, 4, 8 or 16, such as 4/4 or 6/8",
            )
        return Meter(int(match[1]), int(match[2]))


@dataclass(frozen=True, slots=True)
class Tempo:
    """A tempo as a player says it.

    Attributes:
        bpm: units a minute.
        unit: the note that is counted: quarter, half, dotted-quarter, ...

    """

    bpm: float
    unit: str = "quarter"

    @property
    def quarter_bpm(self) -> float:
        """Quarter notes a minute."""
        return self.bpm * _UNITS[self.unit]

    @staticmethod
    def in_beats(quarter_bpm: float, meter: Meter) -> Tempo:
        """Return a tempo in quarter notes a minute as it is counted in a meter, in its beats."""
        quarters = meter.beat_ticks / TICKS_PER_QUARTER
        unit = next((name for name, each in _UNITS.items() if each == quarters), "quarter")
        return Tempo(round(quarter_bpm / _UNITS[unit], 1), unit)

    def __str__(self) -> str:
        return f"{self.bpm:g}" if self.unit == "quarter" else f"{self.unit}={self.bpm:g}"

    @staticmethod
    def parse(text: str) -> Tempo:
        """Read `200`, `half=116` or `dotted-quarter=116`.

        Raises:
            SymbolError: when it is no tempo, or outside 20 to 500 quarter notes a minute.

        """
        match = re.fullmatch(
            r"(?:([a-z-]+)\s*=\s*)?([0-9]{1,4}(?:\.[0-9]{1,3})?)", text.strip(), re.ASCII
        )
        if not match or (match[1] or "quarter") not in _UNITS:
            raise SymbolError(
                f"'{text}' is not a tempo",
                "write quarter notes a minute, such as 200, or a note and its number, "
                f"such as half=116 (notes: {', '.join(_UNITS)})",
            )
        tempo = Tempo(float(match[2]), match[1] or "quarter")
        if not SLOWEST_BPM <= tempo.quarter_bpm <= FASTEST_BPM:
            raise SymbolError(
                f"tempo '{text}' is {tempo.quarter_bpm:g} quarter notes a minute",
                f"the band plays from {SLOWEST_BPM:g} to {FASTEST_BPM:g}",
            )
        return tempo


def microseconds_a_quarter(quarter_bpm: float) -> int:
    """Return the value of a MIDI tempo event: 60,000,000 / bpm (Standard MIDI File 1.0)."""
    return round(60_000_000 / quarter_bpm)


def ticks_to_seconds(ticks: float, quarter_bpm: float) -> float:
    """Return the length of `ticks` in seconds at a steady tempo in quarter notes a minute."""
    return ticks * 60.0 / (quarter_bpm * TICKS_PER_QUARTER)


def seconds_to_ticks(seconds: float, quarter_bpm: float) -> float:
    """Return the length of `seconds` in ticks at a steady tempo in quarter notes a minute."""
    return seconds * quarter_bpm * TICKS_PER_QUARTER / 60.0


@dataclass(frozen=True)
class TempoMap:
    """Tempo changes over a performance.

    Attributes:
        changes: pairs of (tick, quarter notes a minute), the first at tick 0, in order of ticks.

    """

    changes: tuple[tuple[int, float], ...]

    @cached_property
    def _ticks(self) -> list[int]:
        return [tick for tick, _ in self.changes]

    @cached_property
    def _starts_seconds(self) -> list[float]:
        spans = (
            ticks_to_seconds(later[0] - tick, bpm)
            for (tick, bpm), later in zip(self.changes, self.changes[1:], strict=False)
        )
        return list(accumulate(spans, initial=0.0))

    def seconds_at(self, tick: float) -> float:
        """Return the time of `tick` in seconds from tick 0."""
        index = max(bisect_right(self._ticks, tick) - 1, 0)
        start, bpm = self.changes[index]
        return self._starts_seconds[index] + ticks_to_seconds(tick - start, bpm)

    def tick_at(self, seconds: float) -> float:
        """Return the tick that sounds at `seconds`; the inverse of `seconds_at`."""
        index = max(bisect_right(self._starts_seconds, seconds) - 1, 0)
        start, bpm = self.changes[index]
        return start + seconds_to_ticks(seconds - self._starts_seconds[index], bpm)
