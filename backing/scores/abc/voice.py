"""Builds the bars of one voice in ABC from signs.

Conventions: lengths are added as fractions and rounded to ticks at the end of each bar, so that
tuplets are exact. An accidental holds to the end of its bar for its letter in every octave, the
default of v2.1, 11.3, unless a directive narrows that, and over the bar line for a tied note.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from typing import TYPE_CHECKING

from backing.chart.diagnostics import shown
from backing.chart.melody import MelodyNote, overlap
from backing.harmony.key import Key
from backing.harmony.pitch import NoteName, Pitch
from backing.scores.abc.fields import WHOLE, Spread
from backing.scores.abc.scan import inside, read_length, read_pitch
from backing.scores.abc.signs import ChordSigns
from backing.scores.tune import OVERLAP, Jump, Remark, TuneBar
from backing.timing import Meter

if TYPE_CHECKING:
    from backing.scores.abc.fields import AbcKey
    from backing.scores.abc.scan import BarSign, WrittenPitch
    from backing.scores.abc.signs import Symbol
    from backing.timing import Tempo

LONGEST_BAR = 64
"""The most whole notes in one bar."""

MOST_GRACES = 16
"""The most grace notes before a note."""

LONGEST_NOTE = 16
"""The most whole notes in one note."""

_OTHER_OCTAVE = (
    "an accidental holds in every octave up to the bar line, as the standard says: where it "
    "should not, write one before the other note too"
)
_MOST_RESTS = 256
_LETTERS = {letter: index - 1 for index, letter in enumerate("FCGDAEB")}


@dataclass(slots=True)
class _Event:
    """A note, a chord of notes or a rest (no pitches); start and length are in whole notes."""

    start: Fraction
    length: Fraction
    pitches: tuple[Pitch, ...] = ()
    tied: frozenset[Pitch] = frozenset()
    graces: tuple[Pitch, ...] = ()


_NO_BAR = TuneBar(Meter(4, 4), Key(NoteName(0)), 0)


class Voice:
    """Takes the signs of one voice in order.

    Attributes:
        key, meter, unit, spread: the current values; no meter is free meter; `unit` is in whole
            notes.
        bars: the completed bars with their remarks.
        line: the line of the file, for remarks.

    """

    def __init__(
        self, key: AbcKey, meter: Meter | None, unit: Fraction, spread: Spread = Spread.PITCH
    ) -> None:
        self.key, self.meter, self.unit, self.spread = key, meter, unit, spread
        self.bars: list[TuneBar] = []
        self.line = 0
        self._remarks: dict[Remark, None] = {}
        self._events: list[_Event] = []
        self._chords = ChordSigns(self.remark)
        self._position = Fraction(0)
        self._in_all: dict[str, int] = {}
        self._in_octave: dict[tuple[str, int], int] = {}
        self._ties: dict[tuple[str, int], Pitch] = {}
        self._factor = Fraction(1)
        self._tuplet: tuple[Fraction, int] | None = None
        self._graces: tuple[Pitch, ...] = ()
        self._next = _NO_BAR  # with the marks read before the bar that they belong to
        self._marks_after: list[Jump] = []
        self._begun_at = 0
        self._overlaid = False
        self._key_of_bar, self._meter_of_bar = key, meter

    # the content of a bar

    def note(self, pitch_text: str, length_text: str) -> None:
        """Take a note."""
        written = read_pitch(pitch_text)
        self._sound((self._pitch(written),), read_length(length_text), [False])

    def chord_of_notes(self, text: str, length_text: str) -> None:
        """Take a chord of notes; its length is that of its first note (v2.1, 4.17)."""
        notes = inside(text)
        if not notes:
            return
        pitches = tuple(self._pitch(written) for written, _, _ in notes)
        length = notes[0][1] * read_length(length_text)
        self._sound(pitches, length, [tie for _, _, tie in notes])

    def grace(self, text: str) -> None:
        """Take grace notes."""
        if not self._overlaid:
            found = tuple(self._pitch(written) for written, _, _ in inside(text))
            if len(self._graces) + len(found) > MOST_GRACES:
                self.remark(f"more than {MOST_GRACES} grace notes before a note: the rest is cut")
            self._graces = (self._graces + found)[:MOST_GRACES]

    def rest(self, length_text: str) -> None:
        """Take a rest."""
        self._add(_Event(self._position, read_length(length_text)))

    def whole_bars(self, count: int) -> None:
        """Take a rest of several bars (v2.1, 4.5)."""
        meter = self.meter or Meter(4, 4)
        if count > _MOST_RESTS:
            self.remark(f"a rest of {count} bars is shortened to {_MOST_RESTS}")
        for number in range(min(count, _MOST_RESTS)):
            if number:
                self._finish_bar()
            length = Fraction(meter.count, meter.unit)
            self._begin()
            self._events.append(_Event(self._position, length))
            self._position += length

    def broken(self, signs: str) -> None:
        """Take broken rhythm, `>` or `<`: lengthen one neighbour, shorten the other (v2.1, 4.4)."""
        before = self._events[-1] if self._events else None
        if not before or self._overlaid or len(set(signs)) > 1:
            return
        short = Fraction(1, 2 ** len(signs))
        first = 2 - short if signs[0] == ">" else short
        before.length *= first
        end = before.start + before.length
        self._chords.move(self._position, end)
        self._position = end
        self._factor = 2 - first

    def tuplet(self, tuplet: tuple[Fraction, int]) -> None:
        """Take the start of a tuplet: the length factor and the number of notes."""
        self._tuplet = tuplet

    def tie(self) -> None:
        """Tie the last note, or all of a chord of notes, to the next."""
        if self._overlaid:
            return
        if self._events:
            self._events[-1].tied = frozenset(self._events[-1].pitches)
            self._remember_ties(self._events[-1])
        elif self.bars and self.bars[-1].notes:  # after the bar line: |-A
            self._tie_bar_before()

    def overlay(self) -> None:
        """Ignore the rest of this bar, a voice overlay (v2.1, 7.4)."""
        self.remark("the notes after & in this bar are left out")
        self._overlaid = True

    def chord(self, symbol: Symbol) -> None:
        """Take a chord sign."""
        if self._overlaid:
            return
        self._begin()
        if symbol.bass:
            self._chords.add_bass(self._position, symbol)
        else:
            self._chords.add(self._position, symbol)
        if symbol.inexact:
            self.remark(f"'{shown(symbol.text)}' is read as {symbol.chord or 'N.C.'}")

    # bar lines and what belongs to them

    def bar_sign(self, sign: BarSign) -> None:
        """Take a bar line."""
        self._overlaid = False
        self._finish_bar()
        if self.bars:
            last = self.bars[-1]
            fresh = not (self._next.opens or self._next.ending)
            closes = min(sign.closes, 99) if fresh else 0
            if closes or sign.double:
                self.bars[-1] = replace(
                    last,
                    closes=max(last.closes, closes),
                    double=last.double or sign.double,
                    ending_stops=last.ending_stops or bool(closes) or sign.double,
                )
        self._next = replace(self._next, opens=self._next.opens or sign.opens)
        self.ending(sign.ending)

    def ending(self, times: tuple[int, ...]) -> None:
        """Take the start of an ending."""
        if times:
            self._finish_bar()
            self._next = replace(self._next, ending=times)

    def part(self, label: str) -> None:
        """Take the label of a part, which begins with the next bar."""
        if not self._position:
            self._finish_bar()
        self._next = replace(self._next, part=label)

    def tempo(self, tempo: Tempo) -> None:
        """Take a tempo for the bar that is being read."""
        self._next = replace(self._next, tempo=tempo)

    def jump(self, jump: Jump) -> None:
        """Take a navigation mark."""
        if jump is Jump.CODA and self._position:
            jump = Jump.TO_CODA  # after notes the sign leads to the coda
        if not jump.is_before and (self._position or not self.bars):
            self._marks_after.append(jump)
        elif not jump.is_before:
            self.bars[-1] = replace(self.bars[-1], jumps=(*self.bars[-1].jumps, jump))
        elif jump not in self._next.jumps:
            self._next = replace(self._next, jumps=(*self._next.jumps, jump))

    def finish(self) -> None:
        """Complete the last bar."""
        self._overlaid = False
        self._finish_bar()
        self._chords.finish()
        if self.bars and self._remarks:
            last = self.bars[-1]
            self.bars[-1] = replace(last, remarks=(*last.remarks, *self._remarks))

    def remark(self, text: str) -> None:
        """Add a remark on this bar, or before the next one."""
        self._remarks.setdefault(Remark(text, f"line {self.line}"))

    # inside

    def _sound(self, pitches: tuple[Pitch, ...], length: Fraction, ties: list[bool]) -> None:
        tied = frozenset(pitch for pitch, tie in zip(pitches, ties, strict=True) if tie)
        ordered = tuple(sorted(dict.fromkeys(pitches), key=lambda each: each.key))
        event = _Event(self._position, length, ordered, tied, self._graces)
        self._graces = ()
        self._add(event)
        if tied:
            self._remember_ties(event)

    def _add(self, event: _Event) -> None:
        if self._overlaid:
            return
        self._ties.clear()  # a tie leads to the next note only
        self._begin()
        event.length *= self.unit * self._factor
        self._factor = Fraction(1)
        if self._tuplet:
            factor, left = self._tuplet
            event.length *= factor
            self._tuplet = (factor, left - 1) if left > 1 else None
        if event.length > LONGEST_NOTE or self._position > LONGEST_BAR:
            self.remark("a note too long for any bar is left out")
            return
        if not event.length:
            self.remark("a note without length is left out")
            return
        self._events.append(event)
        self._position += event.length

    def _begin(self) -> None:
        """Store line, key and meter when a bar begins."""
        if not self._position and not self._chords:
            self._begun_at = self.line
            self._key_of_bar, self._meter_of_bar = self.key, self.meter

    def _pitch(self, written: WrittenPitch) -> Pitch:
        octave = written.octave + self.key.octave
        tied = self._ties.get((written.letter, written.octave))
        if written.alter is not None:
            alter = written.alter
            if self.spread is not Spread.NOT:
                self._in_octave[written.letter, written.octave] = alter
            if self.spread is Spread.PITCH:
                self._in_all[written.letter] = alter
        elif tied:
            alter = tied.name.alter
        else:
            alter = self._held(written)
        return Pitch(NoteName(_LETTERS[written.letter] + 7 * alter), octave)

    def _held(self, written: WrittenPitch) -> int:
        """Return the semitones that alter a note without an accidental of its own."""
        usual = self.key.alters.get(written.letter, 0)
        here = self._in_octave.get((written.letter, written.octave), usual)
        if self.spread is not Spread.PITCH:
            return here
        alter = self._in_all.get(written.letter, usual)
        if alter != here:
            self.remark(_OTHER_OCTAVE)
        return alter

    def _remember_ties(self, event: _Event) -> None:
        for pitch in event.tied:
            self._ties[pitch.name.letter, pitch.octave - self.key.octave] = pitch

    def _tie_bar_before(self) -> None:
        last = self.bars[-1]
        end = last.notes[-1].end
        notes = tuple(
            replace(note, tied=True) if note.end == end == last.ticks else note
            for note in last.notes
        )
        self.bars[-1] = replace(last, notes=notes)

    def _finish_bar(self) -> None:
        """Append the bar to `bars` unless it is empty."""
        self._in_all, self._in_octave = {}, {}
        if not self._position and not self._chords:
            return
        marks, self._next = self._next, _NO_BAR
        ticks = round(self._position * WHOLE)
        meter = self._meter_of_bar or Meter.lasting(ticks, 4, 8, 16) or Meter(4, 4)
        onsets = [(each.start, each.pitches) for each in self._events]
        chords = self._chords.take(self._position, meter, onsets)
        notes = _notes(self._events)
        if overlap(notes):
            self.remark(OVERLAP)
        self.bars.append(
            replace(
                marks,
                meter=meter,
                key=self._key_of_bar.key,
                ticks=ticks or meter.bar_ticks,
                chords=chords,
                notes=notes,
                jumps=(*marks.jumps, *self._marks_after),
                place=f"line {self._begun_at}",
                remarks=tuple(self._remarks),
            )
        )
        self._remarks = {}
        self._events, self._marks_after = [], []
        self._position = Fraction(0)


def _notes(events: list[_Event]) -> tuple[MelodyNote, ...]:
    """Return the notes of a bar, those tied inside it joined."""
    notes: list[MelodyNote] = []
    open_ties: dict[int, int] = {}  # MIDI key -> index of the note tied to the next
    for event in events:
        start = round(event.start * WHOLE)
        end = round((event.start + event.length) * WHOLE)
        if end <= start:
            continue
        still: dict[int, int] = {}
        for pitch in event.pitches:
            index = open_ties.get(pitch.key)
            if index is not None and notes[index].end == start:
                notes[index] = replace(notes[index], ticks=end - notes[index].tick, tied=False)
            else:
                index = len(notes)
                notes.append(MelodyNote(start, end - start, pitch, graces=event.graces))
                event.graces = ()
            if pitch in event.tied:
                still[pitch.key] = index
        open_ties = still
    for index in open_ties.values():
        notes[index] = replace(notes[index], tied=True)
    return tuple(notes)
