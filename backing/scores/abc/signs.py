"""The chord signs of a bar and their ticks.

Conventions (our choices; the standard leaves them to the program): of several signs at one place
the first is used. A sign after the last note of its bar moves to the next bar, unless that begins
with its own. In a bar without notes the signs share it evenly. A root followed by `d` or `a` is
diminished; `a` is augmented where the notes below it fit that better.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import groupby
from typing import TYPE_CHECKING

from backing.harmony.pitch import NoteName
from backing.scores.abc.fields import WHOLE
from backing.scores.tune import TuneChord

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable
    from fractions import Fraction

    from backing.harmony.chord import Chord
    from backing.harmony.pitch import Pitch
    from backing.scores.abc.symbols import Symbol
    from backing.timing import Meter


@dataclass(frozen=True, slots=True)
class Onset:
    """Notes that begin together.

    Attributes:
        start: their start, in whole notes from the bar line.
        pitches: the notes; () is a rest.

    """

    start: Fraction
    pitches: tuple[Pitch, ...]


@dataclass(slots=True)
class _Sign:
    at: Fraction
    symbol: Symbol


class ChordSigns:
    """Collects the chord signs of a voice, bar by bar."""

    def __init__(self, remark: Callable[[str], None]) -> None:
        self._remark = remark
        self._signs: list[_Sign] = []
        self._late: list[_Sign] = []
        self._before: Chord | None = None

    def __bool__(self) -> bool:
        return bool(self._signs)

    def add(self, at: Fraction, symbol: Symbol) -> None:
        """Add a sign at a place in the bar, in whole notes."""
        self._signs.append(_Sign(at, symbol))

    def add_bass(self, at: Fraction, symbol: Symbol) -> None:
        """Put a bass alone, `/F#`, under the chord before."""
        last = self._signs[-1] if self._signs else None
        chord = last.symbol.chord if last else self._before
        if chord is None:
            self._remark(f"'{symbol.text}' has no chord before it: left out")
            return
        bass = NoteName.parse(symbol.bass)
        chord = replace(chord, bass=None if bass == chord.root else bass)
        if last and last.at == at:
            last.symbol = replace(last.symbol, chord=chord)
        else:
            self.add(at, replace(symbol, chord=chord))

    def move(self, old: Fraction, new: Fraction) -> None:
        """Move the signs at a place, when the note before them has changed its length."""
        for sign in self._signs:
            if sign.at == old:
                sign.at = new

    def take(
        self, length: Fraction, meter: Meter, onsets: Iterable[Onset]
    ) -> tuple[TuneChord, ...]:
        """Return the signs of the current bar and start the next.

        Args:
            length: the length of the bar in whole notes; 0 if it has no notes.
            meter: its meter.
            onsets: its notes.

        """
        signs = self._shared(meter) if not length else self._in_time(length, list(onsets))
        if self._signs:
            self._before = self._signs[-1].symbol.chord
        self._signs = []
        return tuple(signs)

    def finish(self) -> None:
        """Remark the signs after the last note of the tune."""
        for sign in self._late:
            self._remark(_late(sign, "left out"))

    def _shared(self, meter: Meter) -> list[TuneChord]:
        """Return the signs of a bar without notes, evenly spaced."""
        ticks = meter.bar_ticks
        count = len(self._signs)
        return [
            TuneChord(index * ticks // count, sign.symbol.chord)
            for index, sign in enumerate(self._signs)
        ]

    def _in_time(self, length: Fraction, onsets: list[Onset]) -> list[TuneChord]:
        early = [sign for sign in self._signs if sign.at < length]
        signs = [*self._from_bar_before(early), *early]
        self._late = [sign for sign in self._signs if sign.at >= length]
        places = [list(group) for _, group in groupby(signs, key=lambda sign: sign.at)]
        found: dict[int, Chord | None] = {}
        for index, (first, *others) in enumerate(places):
            self._remark_others(first, others)
            end = places[index + 1][0].at if index + 1 < len(places) else length
            below = [
                pitch for each in onsets if first.at <= each.start < end for pitch in each.pitches
            ]
            found.setdefault(round(first.at * WHOLE), self._chord(first.symbol, below))
        return [TuneChord(tick, chord) for tick, chord in sorted(found.items())]

    def _from_bar_before(self, early: list[_Sign]) -> list[_Sign]:
        """Return the signs after the last note of the bar before, unless this bar has its own."""
        has_own = any(not sign.at for sign in early)
        for sign in self._late:
            self._remark(_late(sign, "left out" if has_own else "moved to the next"))
        return [] if has_own else [replace(sign, at=sign.at * 0) for sign in self._late]

    def _remark_others(self, first: _Sign, others: list[_Sign]) -> None:
        if any(each.symbol.chord != first.symbol.chord for each in others):
            named = " and ".join(f"'{each.symbol.text}'" for each in (first, *others))
            self._remark(f"{named} stand at one place: the first is used")

    def _chord(self, symbol: Symbol, below: list[Pitch]) -> Chord | None:
        """Return the chord of a sign; the notes below decide where it is ambiguous."""
        if symbol.chord is None or symbol.other is None:
            return symbol.chord
        classes = {pitch.name.pitch_class for pitch in below}
        first, other = symbol.chord.pitch_classes, symbol.other.pitch_classes
        is_other = len(classes & (other - first)) > len(classes & (first - other))
        chord = symbol.other if is_other else symbol.chord
        self._remark(f"'{symbol.text}' is read as {chord}: correct the chart if that is wrong")
        return chord


def _late(sign: _Sign, what: str) -> str:
    return f"'{sign.symbol.text}' stands after the last note of its bar: {what}"
