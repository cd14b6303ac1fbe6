"""The tune model that ABC, MusicXML and charts are converted through, and remarks on it.

Conventions: bars are in written order. Repeats, endings and jumps are marks on bars, as on paper;
`scores/to_chart.py` writes them out. Chords are at concert pitch. Readers put what they corrected,
guessed or left out into the `remarks` of a bar or of the tune. A remark is a sentence without its
place; one on a bar has the number of that bar, by which the chart shows it at the right bar.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TYPE_CHECKING

from backing.chart.model import COMMON_TIME, MOST_TIMES

if TYPE_CHECKING:
    from collections.abc import Iterable

    from backing.chart.melody import MelodyNote
    from backing.harmony.chord import Chord
    from backing.harmony.key import Key
    from backing.timing import Meter, Tempo


class Jump(StrEnum):
    """A navigation mark.

    `SEGNO` and `CODA` come before their bar, all others after it. `TO_CODA` and `FINE` apply after
    a jump back only. After a D.C. or D.S. without "al ..." the music ends at a fine or leaves at a
    to-coda if there is one; otherwise it runs up to the jump.
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

    @property
    def is_before(self) -> bool:
        """Whether it comes before its bar."""
        return self in (Jump.SEGNO, Jump.CODA)

    @property
    def goes_back(self) -> bool:
        """Whether it is a D.C. or D.S."""
        return self.startswith("D.")


@dataclass(frozen=True, slots=True)
class TuneChord:
    """A chord sign.

    Attributes:
        tick: its place in ticks from the start of its bar, from 0, less than the bar's length.
        chord: the chord, which lasts to the next sign; None is no chord (N.C.).

    """

    tick: int
    chord: Chord | None


@dataclass(frozen=True, slots=True)
class Remark:
    """A remark on what was corrected, guessed or left out.

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
    """The music between two bar lines.

    A bar split by a repeat sign or a double bar line is two of these, each shorter than its meter.

    Attributes:
        meter: the current meter.
        key: the current key.
        ticks: its written length, at least 1; a pickup is shorter than its meter.
        chords: signs in the order of their ticks, at most one at a tick; without one at tick 0 the
            chord before continues.
        notes: the melody (see `MelodyNote`) in the order of ticks, simultaneous notes from the
            lowest up; a note tied over the bar line is two, the first `tied`.
        opens: whether a repeat begins before it.
        closes: how often the repeat that ends after it is played, 2 or more; 0 if none ends.
        ending: the passes, from 1, of the ending that begins here; () if none begins.
        ending_stops: whether the bracket of an ending is closed after it.
        double: whether a double bar line, thin or thick, follows it.
        part: the label of the part that begins here (`P:`, a rehearsal mark), or "".
        jumps: navigation marks before and after it.
        tempo: a tempo that begins here, or None; the tempo of the tune is in `Tune` alone.
        place: its place in the source, for remarks: "line 12", "measure 7", or "".
        remarks: what the reader corrected, guessed or left out in it.
        number: its number among the bars of the source, from 0, set by `remarks.numbered`.

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

    def ends_ending(self, after: TuneBar | None) -> bool:
        """Whether an ending that is played here ends with it, given the bar after it."""
        if after is None or self.closes or self.ending_stops or self.double:
            return True
        return bool(after.opens or after.ending or after.part)


@dataclass(frozen=True, slots=True)
class Tune:
    """A tune as it is written.

    Attributes:
        title: its name, or "".
        key: the key at its start.
        bars: in written order, at least one.
        meter: the meter at its start.
        composer: its composer, or "".
        tempo: as written, or None.
        rhythm: the kind of tune or groove (`R:` of ABC, such as "reel"), or "".
        order: part labels in performance order (`P:` in the head of ABC, repeats included as
            `scores/parts.py` defines it); () for the written order.
        notes: the writer's own notes on the tune.
        remarks: what the reader corrected, guessed or left out, except in `TuneBar.remarks`; one
            with a place begins with it: "line 12: ...", "measure 7: ...".

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


OVERLAP = "notes of one voice overlap: each ends where the next begins"

_MOST_PLACES = 5
_MOST_LINES = 200
_PLACE = re.compile(r"((?:line|measure) [0-9]+): (.*)", re.DOTALL)


def read_passes(text: str) -> tuple[int, ...]:
    """Return the passes, from 1 to 99, of an ending such as `1`, `1,3` or `1-3`."""
    found: set[int] = set()
    for low, high in re.findall(r"([0-9]{1,3})(?:\s*-\s*([0-9]{1,3}))?", text, re.ASCII):
        found.update(range(int(low), min(int(high or low), MOST_TIMES) + 1))
    return tuple(sorted(each for each in found if 1 <= each <= MOST_TIMES))


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
