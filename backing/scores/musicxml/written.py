"""Measures as they are written, element by element in the order of the schema."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from backing.scores.musicxml.elements import (
    BEFORE,
    add,
    add_chord,
    add_direction,
    add_grace,
    add_jump,
    add_pitch,
    add_tempo,
)
from backing.scores.musicxml.values import Value, values_of
from backing.timing import TICKS_PER_QUARTER

if TYPE_CHECKING:
    from collections.abc import Sequence
    from xml.etree import ElementTree

    from backing.chart.melody import MelodyNote
    from backing.scores.tune import TuneBar


@dataclass(frozen=True, slots=True)
class Event:
    """What begins and ends together: notes, or a rest.

    Attributes:
        tick, ticks: from the start of the bar, and how long.
        notes: from the lowest up; none is a rest.

    """

    tick: int
    ticks: int
    notes: tuple[MelodyNote, ...]


class MeasureWriter:
    """Writes bar after bar into a part.

    Args:
        part: the `part` element.
        divisions: of a quarter note.
        low: whether the melody is written in the bass clef.
        slashes: whether there is no melody.

    """

    def __init__(
        self, part: ElementTree.Element, divisions: int, *, low: bool, slashes: bool
    ) -> None:
        self._part, self._divisions = part, divisions
        self._low, self._slashes = low, slashes
        self._number = 0
        self._ending: tuple[int, ...] = ()
        self._tuplet: tuple[int, int, int] | None = None

    def measure(self, bar: TuneBar, before: TuneBar | None, after: TuneBar | None) -> None:
        """Write a bar between its neighbours as they are written."""
        measure = add(self._part, "measure")
        if bar.is_short:
            number = f"X{self._number}" if before else "0"
            measure.attrib = {"number": number, "implicit": "yes"}
        else:
            self._number += 1
            measure.set("number", str(self._number))
        self._left(measure, bar)
        self._attributes(measure, bar, before)
        if bar.part:
            add_direction(measure, "rehearsal", bar.part)
        if bar.tempo:
            add_tempo(measure, bar.tempo)
        for jump in bar.jumps:
            if jump in BEFORE:
                add_jump(measure, jump)
        self._music(measure, bar, before)
        for jump in bar.jumps:
            if jump not in BEFORE:
                add_jump(measure, jump)
        self._right(measure, bar, after)

    def _left(self, measure: ElementTree.Element, bar: TuneBar) -> None:
        if not (bar.opens or bar.ending):
            return
        line = add(measure, "barline", location="left")
        if bar.opens:
            add(line, "bar-style", "heavy-light")
        if bar.ending:
            self._ending = bar.ending
            add(line, "ending", number=_numbers(bar.ending), type="start")
        if bar.opens:
            add(line, "repeat", direction="forward")

    def _right(self, measure: ElementTree.Element, bar: TuneBar, after: TuneBar | None) -> None:
        stops = self._ending and _ending_stops(bar, after)
        style = (
            "light-heavy" if bar.closes or after is None else "light-light" if bar.double else ""
        )
        if not (stops or style):
            return
        line = add(measure, "barline", location="right")
        if style:
            add(line, "bar-style", style)
        if stops:
            kind = "stop" if bar.closes else "discontinue"
            add(line, "ending", number=_numbers(self._ending), type=kind)
            self._ending = ()
        if bar.closes:
            repeat = add(line, "repeat", direction="backward")
            if bar.closes != 2:
                repeat.set("times", str(bar.closes))

    def _attributes(
        self, measure: ElementTree.Element, bar: TuneBar, before: TuneBar | None
    ) -> None:
        key = before is None or before.key != bar.key
        meter = before is None or before.meter != bar.meter
        if not (key or meter):
            return
        group = add(measure, "attributes")
        if before is None:
            add(group, "divisions", self._divisions)
        if key:
            element = add(group, "key")
            add(element, "fifths", bar.key.signature)
            add(element, "mode", bar.key.mode)
        if meter:
            element = add(group, "time")
            add(element, "beats", bar.meter.count)
            add(element, "beat-type", bar.meter.unit)
        if before is None:
            clef = add(group, "clef")
            add(clef, "sign", "F" if self._low else "G")
            add(clef, "line", 4 if self._low else 2)
            if self._slashes:
                style = add(group, "measure-style")
                add(style, "slash", type="start", **{"use-stems": "no"})

    # what sounds

    def _music(self, measure: ElementTree.Element, bar: TuneBar, before: TuneBar | None) -> None:
        tied = {note.pitch.key for note in before.notes if note.tied} if before else set()
        self._tuplet = None
        for event in events(bar):
            for sign in bar.chords:
                if event.tick <= sign.tick < event.tick + event.ticks:
                    add_chord(measure, sign.chord, self._duration(sign.tick - event.tick))
            if not event.notes and event.ticks == bar.ticks:
                self._whole_rest(measure, bar.ticks)
                continue
            values = values_of(event.ticks)
            for index, value in enumerate(values):
                first, last = index == 0, index == len(values) - 1
                self._value(measure, event, value, tied, first=first, last=last)
            if event.notes:
                tied = set()

    def _whole_rest(self, measure: ElementTree.Element, ticks: int) -> None:
        note = add(measure, "note")
        add(note, "rest", measure="yes")
        add(note, "duration", self._duration(ticks))
        add(note, "voice", 1)

    def _value(
        self,
        measure: ElementTree.Element,
        event: Event,
        value: Value,
        tied: set[int],
        *,
        first: bool,
        last: bool,
    ) -> None:
        """Write a rest, or a note or chord with the ties that it needs."""
        bracket = self._bracket(value)
        if not event.notes:
            note = add(measure, "note")
            add(note, "rest")
            self._length(note, value, (), bracket)
            return
        if first:
            for grace in event.notes[0].graces:
                add_grace(measure, grace)
        for index, each in enumerate(event.notes):
            note = add(measure, "note")
            if index:
                add(note, "chord")
            add_pitch(note, each.pitch)
            stops = not first or (event.tick == 0 and each.pitch.key in tied)
            starts = not last or each.tied
            ties = tuple(kind for kind, is_so in (("stop", stops), ("start", starts)) if is_so)
            self._length(note, value, ties, () if index else bracket)

    def _length(
        self,
        note: ElementTree.Element,
        value: Value,
        ties: Sequence[str],
        bracket: Sequence[str],
    ) -> None:
        add(note, "duration", self._duration(value.ticks))
        for kind in ties:
            add(note, "tie", type=kind)
        add(note, "voice", 1)
        if value.type:
            add(note, "type", value.type)
            for _ in range(value.dots):
                add(note, "dot")
        if value.actual != 1:
            time = add(note, "time-modification")
            add(time, "actual-notes", value.actual)
            add(time, "normal-notes", value.normal)
        if ties or bracket:
            notations = add(note, "notations")
            for kind in ties:
                add(notations, "tied", type=kind)
            for kind in bracket:
                add(notations, "tuplet", type=kind)

    def _bracket(self, value: Value) -> list[str]:
        """Return where a tuplet begins or ends with this value: when it fills its plain notes."""
        if value.actual == 1:
            self._tuplet = None
            return []
        ratio = (value.actual, value.normal)
        found = []
        if self._tuplet is None or self._tuplet[:2] != ratio:
            self._tuplet = (*ratio, 0)
            found.append("start")
        length = self._tuplet[2] + value.ticks
        self._tuplet = (*ratio, length)
        if length % (value.base_ticks * value.actual) == 0:
            found.append("stop")
            self._tuplet = None
        return found

    def _duration(self, ticks: int) -> int:
        return ticks * self._divisions // TICKS_PER_QUARTER


def events(bar: TuneBar) -> list[Event]:
    """Return what a bar is made of; a rest is parted where a chord begins."""
    groups: dict[int, list[MelodyNote]] = {}
    for note in bar.notes:
        groups.setdefault(note.tick, []).append(note)
    found: list[Event] = []
    now = 0
    for tick, notes in groups.items():
        found += _rests(bar, now, tick)
        now = notes[0].end
        found.append(Event(tick, now - tick, tuple(notes)))
    return found + _rests(bar, now, bar.ticks)


def _rests(bar: TuneBar, start: int, end: int) -> list[Event]:
    edges = [start, *(s.tick for s in bar.chords if start < s.tick < end), end]
    return [Event(a, b - a, ()) for a, b in pairwise(edges) if b > a]


def _ending_stops(bar: TuneBar, after: TuneBar | None) -> bool:
    if after is None or bar.closes or bar.ending_stops or bar.double:
        return True
    return bool(after.opens or after.ending or after.part)


def _numbers(times: Sequence[int]) -> str:
    return ", ".join(map(str, times))
