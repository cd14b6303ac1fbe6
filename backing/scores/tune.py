"""A tune between the formats: what ABC, MusicXML and a chart with its melody can say.

Conventions: bars stand in written order. Repeats, endings and jumps stand at the bars, as signs
do on paper, and are worked out by whoever needs the playing order (`scores/to_chart.py`). Readers
write chords at concert pitch and put into `remarks`, of a bar or of the tune, whatever they mended
or left out.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

from backing.chart.model import COMMON_TIME

if TYPE_CHECKING:
    from backing.chart.melody import MelodyNote
    from backing.harmony.chord import Chord
    from backing.harmony.key import Key
    from backing.timing import Meter, Tempo


class Jump(StrEnum):
    """A sign or a word of the way through a tune.

    `SEGNO` and `CODA` stand before their bar, all others behind it. `TO_CODA` counts after a jump
    back only, and `FINE` likewise. Without "al ..." the music goes on to a fine or a to-coda if
    there is one, else to the end.
    """

    SEGNO = "segno"
    CODA = "coda"
    TO_CODA = "to coda"
    FINE = "fine"
    DA_CAPO = "D.C."
    DA_CAPO_AL_FINE = "D.C. al fine"
    DA_CAPO_AL_CODA = "D.C. al coda"
    DAL_SEGNO = "D.S."
    DAL_SEGNO_AL_FINE = "D.S. al fine"
    DAL_SEGNO_AL_CODA = "D.S. al coda"


@dataclass(frozen=True, slots=True)
class TuneChord:
    """A chord sign.

    Attributes:
        tick: where it stands, in ticks from the start of its bar, 0 up to below its length.
        chord: the chord; None is no chord (N.C.). It holds until the next sign.

    """

    tick: int
    chord: Chord | None


@dataclass(frozen=True, slots=True)
class Remark:
    """What was mended, guessed or left out.

    Attributes:
        text: a sentence without its place.
        place: where it is in the source, such as "line 12", or "".
        number: the number of its bar in the source (see `TuneBar`), or None for the whole tune.

    """

    text: str
    place: str = ""
    number: int | None = None


@dataclass(frozen=True, slots=True)
class TuneBar:
    """What stands between two bar lines.

    A bar split by a repeat sign or a double bar is two of these, each shorter than its meter.

    Attributes:
        meter: the meter that holds in it.
        key: the key that holds in it.
        ticks: its length as it is written, at least 1; a pickup is shorter than its meter.
        chords: signs in the order of their ticks, at most one at a tick; none goes on with the
            chord before.
        notes: the melody (see `MelodyNote`): in the order of their ticks, those that sound
            together from the lowest up; a note tied over the bar line is two, the first `tied`.
        opens: whether a repeat begins before it.
        closes: how often the repeat that ends behind it is played, 2 or more; 0 where none ends.
        ending: the times round at which the ending that begins here is played; () where none does.
        ending_stops: whether the bracket of an ending is seen to end behind it.
        double: whether a double bar line, thin or thick, stands behind it.
        part: the label of the part that begins here (`P:`, a rehearsal mark), or "".
        jumps: signs before and words behind it.
        tempo: a tempo that begins here, or None. That of the tune stands in `Tune` alone.
        place: where it is in the source, for remarks: "line 12", "measure 7", or "".
        remarks: what the reader mended, guessed or left out in it.
        number: its number among the bars of the source, from 0, once they have been counted.

    """

    meter: Meter
    key: Key
    ticks: int
    chords: tuple[TuneChord, ...] = ()
    notes: tuple[MelodyNote, ...] = ()
    opens: bool = False
    closes: int = 0
    ending: tuple[int, ...] = ()
    ending_stops: bool = False
    double: bool = False
    part: str = ""
    jumps: tuple[Jump, ...] = ()
    tempo: Tempo | None = None
    place: str = ""
    remarks: tuple[Remark, ...] = ()
    number: int = 0

    @property
    def is_short(self) -> bool:
        """Whether it is shorter than its meter: a pickup, or a piece of a split bar."""
        return self.ticks < self.meter.bar_ticks


@dataclass(frozen=True, slots=True)
class Tune:
    """A tune as it is written.

    Attributes:
        title: its name, or "".
        key: the key it begins in.
        bars: in written order, at least one.
        meter: the meter it begins in.
        composer: who wrote it, or "".
        tempo: as written, or None.
        rhythm: the kind of tune or groove (`R:` of ABC, "reel"; the style's words), or "".
        order: labels of parts in playing order (`P:` in the head of ABC, repeats counted in as
            `scores/order.py` says); () for as written.
        notes: free remarks of its writer.
        remarks: what the reader mended, guessed or left out, and does not stand at a bar; where
            one has a place, it begins with it: "line 12: ...", "measure 7: ...".

    """

    title: str
    key: Key
    bars: tuple[TuneBar, ...]
    meter: Meter = COMMON_TIME
    composer: str = ""
    tempo: Tempo | None = None
    rhythm: str = ""
    order: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()
