"""A shape of a chord with its fingering and cost.

Conventions: a shape is written as its frets from the bass side: 7523, 3x34xx; above fret 9 with
dashes, 12-10-9-x. A closed shape has no open strings, so it can slide along the neck.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from backing.fretboard.hand import SMALL_REACH_MM

if TYPE_CHECKING:
    from backing.fretboard.hand import Frets
    from backing.fretboard.instrument import Instrument
    from backing.harmony.pitch import Degree


@dataclass(frozen=True, slots=True)
class Shape:
    """A shape of a chord with its fingering and cost.

    Attributes:
        frets: a fret for each string from the bass side: None is muted, 0 is open.
        fingers: for each string 1 to 4, 0 for an open one, None for a muted one.
        span_mm: millimetres from the lowest pressed fret to the highest.
        total: its cost.
        left_out: degrees of the chord that it omits.
    """

    frets: Frets
    fingers: tuple[int | None, ...]
    span_mm: float
    total: float
    left_out: tuple[Degree, ...]

    def __str__(self) -> str:
        signs = ["x" if fret is None else str(fret) for fret in self.frets]
        return ("-" if any(len(sign) > 1 for sign in signs) else "").join(signs)

    @property
    def big_stretch(self) -> bool:
        """Whether it is wider than a small hand reaches."""
        return self.span_mm > SMALL_REACH_MM

    @property
    def closed(self) -> bool:
        """Whether no open string sounds."""
        return 0 not in self.frets

    @property
    def position(self) -> int:
        """The lowest pressed fret; 0 when all strings are open."""
        return min((fret for fret in self.frets if fret), default=0)

    @property
    def strings(self) -> int:
        """How many strings sound."""
        return sum(fret is not None for fret in self.frets)

    def keys(self, instrument: Instrument) -> tuple[int, ...]:
        """Return the MIDI keys that sound, string by string from the bass side."""
        return tuple(
            instrument.key_at(string, fret)
            for string, fret in enumerate(self.frets)
            if fret is not None
        )
