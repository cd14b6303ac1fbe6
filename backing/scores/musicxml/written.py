"""Measures as they are written, element by element in the order of the schema."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING
from xml.etree import ElementTree

from backing.scores.musicxml.kinds import NO_CHORD, kind_of
from backing.scores.musicxml.values import Value, values_of
from backing.scores.tune import Jump
from backing.timing import TICKS_PER_QUARTER

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backing.chart.melody import MelodyNote
    from backing.harmony.pitch import NoteName, Pitch
    from backing.scores.tune import TuneBar, TuneChord
    from backing.timing import Tempo

_SOUNDS = {
    Jump.SEGNO: ("segno", "segno"), Jump.CODA: ("coda", "coda"), Jump.TO_CODA: ("tocoda", "coda"),
    Jump.FINE: ("fine", "yes"), Jump.DA_CAPO: ("dacapo", "yes"),
    Jump.DA_CAPO_AL_FINE: ("dacapo", "yes"), Jump.DA_CAPO_AL_CODA: ("dacapo", "yes"),
    Jump.DAL_SEGNO: ("dalsegno", "segno"), Jump.DAL_SEGNO_AL_FINE: ("dalsegno", "segno"),
    Jump.DAL_SEGNO_AL_CODA: ("dalsegno", "segno"),
}  # fmt: skip
"""What each jump is in a `sound`: MusicXML 4.0."""

_WORDS = {Jump.TO_CODA: "To Coda", Jump.FINE: "Fine"}
_BEFORE = (Jump.SEGNO, Jump.CODA)


def add(
    parent: ElementTree.Element, tag: str, text: object = "", /, **attributes: str
) -> ElementTree.Element:
    """Add an element with a text and attributes; return it."""
    element = ElementTree.SubElement(parent, tag, attributes)
    if text != "":
        element.text = str(text)
    return element


@dataclass(frozen=True, slots=True)
class _Event:
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
            add(
                _type_of(add(measure, "direction", placement="above")),
                "rehearsal",
                _shown(bar.part),
            )
        if bar.tempo:
            _tempo(measure, bar.tempo)
        for jump in bar.jumps:
            if jump in _BEFORE:
                _jump(measure, jump)
        self._music(measure, bar, before)
        for jump in bar.jumps:
            if jump not in _BEFORE:
                _jump(measure, jump)
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
        for event in _events(bar):
            for sign in bar.chords:
                if event.tick <= sign.tick < event.tick + event.ticks:
                    self._harmony(measure, sign, sign.tick - event.tick)
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
        event: _Event,
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
                _grace(measure, grace)
        for index, each in enumerate(event.notes):
            note = add(measure, "note")
            if index:
                add(note, "chord")
            _pitch(note, each.pitch)
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

    def _harmony(self, measure: ElementTree.Element, sign: TuneChord, offset: int) -> None:
        harmony = add(measure, "harmony")
        chord = sign.chord
        root = add(harmony, "root")
        if chord is None:
            add(root, "root-step", "C", text="")
            add(harmony, "kind", NO_CHORD, text="N.C.")
        else:
            _name(root, "root", chord.root)
            kind, changes = kind_of(chord.quality)
            add(harmony, "kind", kind, text=chord.quality.name)
            if chord.bass:
                _name(add(harmony, "bass"), "bass", chord.bass)
            for change in changes:
                degree = add(harmony, "degree")
                degree.set("print-object", "no")
                add(degree, "degree-value", change.number)
                add(degree, "degree-alter", change.alter)
                add(degree, "degree-type", change.action)
        if offset:
            add(harmony, "offset", self._duration(offset))

    def _duration(self, ticks: int) -> int:
        return ticks * self._divisions // TICKS_PER_QUARTER


def _events(bar: TuneBar) -> list[_Event]:
    """Return what a bar is made of; a rest is parted where a chord begins."""
    groups: dict[int, list[MelodyNote]] = {}
    for note in bar.notes:
        groups.setdefault(note.tick, []).append(note)
    found: list[_Event] = []
    now = 0
    for tick, notes in groups.items():
        found += _rests(bar, now, tick)
        now = notes[0].end
        found.append(_Event(tick, now - tick, tuple(notes)))
    return found + _rests(bar, now, bar.ticks)


def _rests(bar: TuneBar, start: int, end: int) -> list[_Event]:
    edges = [start, *(s.tick for s in bar.chords if start < s.tick < end), end]
    return [_Event(a, b - a, ()) for a, b in pairwise(edges) if b > a]


def _ending_stops(bar: TuneBar, after: TuneBar | None) -> bool:
    if after is None or bar.closes or bar.ending_stops or bar.double:
        return True
    return bool(after.opens or after.ending or after.part)


def _numbers(times: Sequence[int]) -> str:
    return ", ".join(map(str, times))


def _shown(text: str) -> str:
    return "".join(sign for sign in text if sign.isprintable())


def _type_of(direction: ElementTree.Element) -> ElementTree.Element:
    return add(direction, "direction-type")


def _tempo(measure: ElementTree.Element, tempo: Tempo) -> None:
    direction = add(measure, "direction", placement="above")
    mark = add(_type_of(direction), "metronome")
    dotted, _, unit = tempo.unit.rpartition("-")
    add(mark, "beat-unit", unit)
    if dotted:
        add(mark, "beat-unit-dot")
    add(mark, "per-minute", f"{tempo.bpm:.10g}")
    add(direction, "sound", tempo=f"{tempo.quarter_bpm:.10g}")


def _jump(measure: ElementTree.Element, jump: Jump) -> None:
    direction = add(measure, "direction", placement="above")
    if jump in _BEFORE:
        add(_type_of(direction), jump.value)
    else:
        add(_type_of(direction), "words", _WORDS.get(jump, jump.value))
    name, value = _SOUNDS[jump]
    add(direction, "sound", **{name: value})


def _grace(measure: ElementTree.Element, pitch: Pitch) -> None:
    note = add(measure, "note")
    add(note, "grace", slash="yes")
    _pitch(note, pitch)
    add(note, "voice", 1)
    add(note, "type", "eighth")


def _pitch(note: ElementTree.Element, pitch: Pitch) -> None:
    element = add(note, "pitch")
    add(element, "step", str(pitch.name)[0])
    if pitch.name.alter:
        add(element, "alter", pitch.name.alter)
    add(element, "octave", pitch.octave)


def _name(element: ElementTree.Element, tag: str, name: NoteName) -> None:
    add(element, f"{tag}-step", str(name)[0])
    if name.alter:
        add(element, f"{tag}-alter", name.alter)
