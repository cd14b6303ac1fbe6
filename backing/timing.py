"""Musical time: ticks, meters, tempi, and the conversion of ticks to seconds.

Conventions: time is counted in whole ticks, 960 a quarter note. A beat is the lower figure of the
meter, or three of it in compound meters (6/8, 9/8, 12/8). A tempo names the note that it counts; a
bare number counts the unit of the chart (`Chart.tempo_unit`). Inside the program a tempo is in
quarter notes a minute, and its name is or ends in `bpm`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from math import ceil, floor
from typing import TYPE_CHECKING

from backing.errors import SymbolError

if TYPE_CHECKING:
    from fractions import Fraction

TICKS_PER_QUARTER = 960
EIGHTH = TICKS_PER_QUARTER // 2

SLOWEST_BPM, FASTEST_BPM = 20.0, 500.0
"""The range of tempi in quarter notes a minute."""


@dataclass(frozen=True, slots=True)
class Unit:
    """A note that a tempo counts.

    Attributes:
        quarters: its length in quarter notes.
        sign: its sign; a half note is U+1D15E.
        step: one step faster or slower, in units a minute: two to five percent of the usual tempi
            of charts that count this note (common practice, no source).

    """

    quarters: float
    sign: str
    step: float


UNITS = {
    "eighth": Unit(0.5, "♪", 10),
    "dotted-eighth": Unit(0.75, "♪.", 5),
    "quarter": Unit(1.0, "♩", 5),
    "dotted-quarter": Unit(1.5, "♩.", 2),
    "half": Unit(2.0, "\U0001d15e", 2),
    "dotted-half": Unit(3.0, "\U0001d15e.", 2),
}
"""The notes that a tempo can count, by their names in charts and options."""

QUARTER = "quarter"

_COARSE_GRID, _FINE_GRID, _COARSE_FROM = 5, 2, 100
"""Practice tempi are multiples of five, or of two for goals below 100 beats a minute."""


@dataclass(frozen=True, slots=True)
class Meter:
    """A time signature.

    Attributes:
        count: the upper figure, 1 to 32.
        unit: the lower figure: 2, 4, 8 or 16.
        unit_ticks: length of the lower figure in ticks.
        bar_ticks: length of a bar in ticks.
        beat_ticks: length of a beat in ticks.
        beats: number of beats in a bar.

    """

    count: int
    unit: int
    unit_ticks: int = field(init=False, repr=False, compare=False)
    bar_ticks: int = field(init=False, repr=False, compare=False)
    beat_ticks: int = field(init=False, repr=False, compare=False)
    beats: int = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Compute the lengths once, since every note needs them."""
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

    @property
    def beat(self) -> str:
        """The note of a beat, one of `UNITS`; a quarter if the beat is none of them."""
        quarters = self.beat_ticks / TICKS_PER_QUARTER
        return next((name for name, unit in UNITS.items() if unit.quarters == quarters), QUARTER)

    @staticmethod
    def lasting(ticks: float | Fraction, *units: int) -> Meter | None:
        """Return the meter of a length, in the first possible one of some units, or None."""
        for unit in units:
            count, rest = divmod(ticks * unit, 4 * TICKS_PER_QUARTER)
            if unit in (2, 4, 8, 16) and not rest and 1 <= count <= 32:
                return Meter(int(count), unit)
        return None

    @staticmethod
    def parse(text: str) -> Meter:
        """Read `4/4`.

        Raises:
            SymbolError: if it is not a meter.

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
    """A tempo with the note that it counts.

    Attributes:
        bpm: units a minute.
        unit: the note that is counted, one of `UNITS`.

    """

    bpm: float
    unit: str = QUARTER

    @property
    def quarter_bpm(self) -> float:
        """Quarter notes a minute."""
        return self.bpm * UNITS[self.unit].quarters

    @staticmethod
    def counted(quarter_bpm: float, unit: str, digits: int = 3) -> Tempo:
        """Convert quarter notes a minute to a tempo in a unit."""
        return Tempo(round(quarter_bpm / UNITS[unit].quarters, digits), unit)

    @staticmethod
    def in_beats(quarter_bpm: float, meter: Meter) -> Tempo:
        """Convert quarter notes a minute to a tempo in the beats of a meter."""
        return Tempo.counted(quarter_bpm, meter.beat)

    @property
    def figure(self) -> str:
        """Its number as text."""
        return f"{self.bpm:g}"

    def __str__(self) -> str:
        return self.plain(QUARTER)

    def plain(self, beat: str) -> str:
        """Return the text that reads as the same tempo in a meter with this beat.

        Quarter notes are a bare number if the beat is a quarter; other tempi name their note.
        """
        return self.figure if self.unit == beat == QUARTER else f"{self.unit}={self.figure}"

    def drawn(self) -> str:
        """Return the tempo as printed above music, with the sign of its note: `♩. = 112`."""
        return f"{UNITS[self.unit].sign} = {self.figure}"

    @staticmethod
    def parse(text: str, unit: str = QUARTER) -> Tempo:
        """Read `200`, `half=116` or `dotted-quarter=116`.

        Args:
            text: the written tempo.
            unit: the note that a bare number counts.

        Raises:
            SymbolError: if it is not a tempo, or outside 20 to 500 quarter notes a minute.

        """
        return WrittenTempo.parse(text).counted_in(unit)


@dataclass(frozen=True, slots=True)
class WrittenTempo:
    """A tempo as written, read without the chart that gives a bare number its unit.

    Attributes:
        text: the written tempo.
        bpm: units a minute.
        unit: the named note, one of `UNITS`, or None for a bare number.

    """

    text: str
    bpm: float
    unit: str | None

    def __str__(self) -> str:
        return f"{self.unit}={self.bpm:g}" if self.unit else f"{self.bpm:g}"

    @staticmethod
    def parse(text: str) -> WrittenTempo:
        """Read a number, or a note and its number.

        Raises:
            SymbolError: if it is not a tempo; suggests the tempo that seems to be meant.

        """
        match = re.fullmatch(
            r"(?:([a-z-]+)\s*=\s*)?([0-9]{1,4}(?:\.[0-9]{1,3})?)", text.strip(), re.ASCII
        )
        if not match or (match[1] or QUARTER) not in UNITS:
            raise SymbolError(f"'{text}' is not a tempo", _meant(text))
        return WrittenTempo(text, float(match[2]), match[1])

    def quarter_bpm(self, unit: str) -> float:
        """Return quarter notes a minute if a bare number counts `unit`, without range check."""
        return Tempo(self.bpm, self.unit or unit).quarter_bpm

    def counted_in(self, unit: str) -> Tempo:
        """Return the tempo if a bare number counts `unit`.

        Raises:
            SymbolError: if it is outside 20 to 500 quarter notes a minute.

        """
        tempo = Tempo(self.bpm, self.unit or unit)
        if not SLOWEST_BPM <= tempo.quarter_bpm <= FASTEST_BPM:
            allowed = tempo_range(tempo.unit)
            if self.unit is None and SLOWEST_BPM <= self.bpm <= FASTEST_BPM:
                allowed += f"; {bare_number(tempo)}"
            raise SymbolError(
                f"tempo '{self.text}' is {tempo.figure} {notes_a_minute(tempo.unit)}", allowed
            )
        return tempo


_NEARLY = re.compile(r"(?:((?:dotted-)?(?:half|quarter|eighth))\s*=?\s*)?([0-9]{2,3})(?![0-9])")


def _meant(text: str) -> str:
    """Return advice for a text that is not a tempo."""
    found = _NEARLY.search(text.lower())
    if found and (found[1] or not re.search(r"[a-z]\s*=", text.lower())):
        return f"write {found[1]}={found[2]}" if found[1] else f"write {found[2]}"
    return (
        "write beats a minute, such as 200, or a note and its number, "
        f"such as half=116 (notes: {', '.join(UNITS)})"
    )


def note_words(unit: str) -> str:
    """Return a unit in words: `dotted quarter`."""
    return unit.replace("-", " ")


def notes_a_minute(unit: str) -> str:
    """Return what a tempo counts, in words: `dotted quarter notes a minute`."""
    return f"{note_words(unit)} notes a minute"


def tempo_range(unit: str) -> str:
    """Return the range of tempi in words, in whole numbers of a unit."""
    quarters = UNITS[unit].quarters
    slowest, fastest = ceil(SLOWEST_BPM / quarters), floor(FASTEST_BPM / quarters)
    return f"the band plays from {slowest} to {fastest} {notes_a_minute(unit)}"


def bare_number(tempo: Tempo) -> str:
    """Return advice on what a bare number counts, and how to write quarter notes."""
    return (
        f"a bare number counts {note_words(tempo.unit)} notes here; write "
        f"quarter={tempo.figure} for quarter notes"
    )


def practice_grid(goal: Tempo) -> int:
    """Return the step of which practice tempi towards a goal are multiples, in its unit."""
    return _COARSE_GRID if goal.bpm >= _COARSE_FROM else _FINE_GRID


def microseconds_a_quarter(quarter_bpm: float) -> int:
    """Return the value of a MIDI tempo event, 60,000,000 / bpm (Standard MIDI File 1.0)."""
    return round(60_000_000 / quarter_bpm)


def ticks_to_seconds(ticks: float, quarter_bpm: float) -> float:
    """Convert ticks to seconds at a steady tempo in quarter notes a minute."""
    return ticks * 60.0 / (quarter_bpm * TICKS_PER_QUARTER)


def seconds_to_ticks(seconds: float, quarter_bpm: float) -> float:
    """Convert seconds to ticks at a steady tempo in quarter notes a minute."""
    return seconds * quarter_bpm * TICKS_PER_QUARTER / 60.0
