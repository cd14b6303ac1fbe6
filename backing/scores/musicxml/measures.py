"""Reads one part: notes at concert pitch, chord signs, repeats and jumps.

Conventions: time is counted in exact fractions of a quarter note and rounded to ticks at the end. A
measure is as long as its content. Cue notes, notes without pitch and slashes take time but are not
melody. Several chord signs at one place are spread evenly over the note there. The words `N.C.` are
a chord sign where there is no other (common practice, no source).
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING

from backing.chart.melody import MelodyNote
from backing.errors import SymbolError
from backing.harmony.key import Key
from backing.harmony.pitch import NoteName, Pitch
from backing.scores.musicxml import attributes
from backing.scores.musicxml.attributes import Shift, read_harmony
from backing.scores.musicxml.music import (
    ChordSign,
    Measure,
    PartMusic,
    no_chord_in,
    read_barline,
    read_direction,
)
from backing.scores.musicxml.parse import refuse
from backing.timing import TICKS_PER_QUARTER, Meter

if TYPE_CHECKING:
    from backing.harmony.chord import Chord
    from backing.scores.musicxml.parse import Node

_LONGEST_MEASURE = 128
_SNAP_TICKS = 24
_SEMITONES = range(128)
_UNDER_PERCUSSION = "a note with a pitch under a percussion clef: kept in the melody"
_GRACES_TOGETHER = "grace notes sound together: the first is kept"
_NO_LENGTH = "a note without length is left out"


def read_part(name: str, measures: list[Node], source: str, *, drums: bool) -> PartMusic:
    """Return the music of a part.

    Args:
        name: its name.
        measures: its `measure` elements.
        source: the file's name, for error messages.
        drums: whether the part list assigns it to percussion.

    Raises:
        ScoreError: when a measure cannot be read.

    """
    return _Reader(PartMusic(name, drums=drums), source).read(measures)


class _Reader:
    """Reads one part; holds the current key, meter, divisions and transposition."""

    def __init__(self, part: PartMusic, source: str) -> None:
        self._part, self._source = part, source
        self._key = Key(NoteName(0))
        self._meter: Meter | None = Meter(4, 4)
        self._divisions = Fraction(1)
        self._shift = self._sounds = Shift()
        self._same_as = 0
        self._slashes = False
        self._clefs: dict[str, str] = {}
        self._tick_of_last = Fraction(0)
        self._waiting: list[tuple[Fraction, Chord | None]] = []
        self._silences: list[tuple[int, str]] = []
        self._graces: dict[str, list[Pitch]] = {}

    def read(self, measures: list[Node]) -> PartMusic:
        for place, node in zip(_measure_places(measures), measures, strict=True):
            self._now = self._end = Fraction(0)
            self._measure = Measure(place, self._key.up(self._sounds.fifths), self._meter)
            self._part.measures.append(self._measure)
            for each in node.children:
                self._take(each)
            self._finish()
        return self._part

    def _take(self, node: Node) -> None:
        try:
            match node.tag:
                case "note":
                    self._note(node)
                case "backup":
                    self._now = max(self._now - self._duration(node), Fraction(0))
                case "forward":
                    self._advance(self._duration(node))
                case "harmony":
                    self._harmony(node)
                case "attributes":
                    self._attributes(node)
                case "barline":
                    read_barline(node, _ticks(self._now), self._measure.signs)
                case "direction" | "sound":
                    self._direction(node)
                case _:
                    pass
        except SymbolError as error:
            self._refuse(node, error.found, error.allowed)

    def _refuse(self, node: Node, found: str, allowed: str) -> None:
        refuse(self._source, node.line, f"{self._measure.place}: {found}", allowed)

    def _remark(self, text: str) -> None:
        self._part.remarks.append(f"{self._measure.place}: {text}")

    def _remark_chord(self, text: str) -> None:
        self._part.chord_remarks.append(f"{self._measure.place}: {text}")

    # attributes

    def _attributes(self, node: Node) -> None:
        divisions = node.number("divisions")
        if divisions is not None:
            if divisions <= 0:
                raise SymbolError(f"{divisions} divisions of a quarter note", "write 1 or more")
            self._divisions = divisions
        shift = node.child("transpose")
        if shift:
            self._shift = attributes.read_shift(shift)
        key = node.child("key")
        if key:
            self._key, has_mode = attributes.read_key(key, self._remark)
            self._part.mode_given = self._part.mode_given or has_mode
        time = node.child("time")
        if time and (self._now == 0 or not self._measure.voices):
            self._meter = self._measure.meter = attributes.read_meter(time)
        elif time:
            self._remark("a meter that changes inside a bar is left out")
        self._sounds = self._shift.for_key(self._key)
        if self._now == 0:
            self._measure.key = self._key.up(self._sounds.fifths)
        elif key:
            self._remark("a key change inside a bar takes effect in the next bar")
        for clef in node.all("clef"):
            self._clefs[clef.get("number") or "1"] = clef.at("sign").lower()
        for style in node.all("measure-style"):
            self._style(style)

    def _style(self, node: Node) -> None:
        repeat, slash = (
            node.child("measure-repeat"),
            node.child("slash") or node.child("beat-repeat"),
        )
        if repeat:
            number = node.whole("measure-repeat", 1)
            self._same_as = min(max(number, 1), 8) if repeat.get("type") == "start" else 0
        if slash:
            self._slashes = slash.get("type") == "start"

    # time

    def _duration(self, node: Node) -> Fraction:
        found = node.number("duration")
        if found is None or found < 0:
            raise SymbolError(
                f"'{node.at('duration')[:20]}' is not a duration", "write how many divisions it is"
            )
        return found / self._divisions

    def _advance(self, quarters: Fraction) -> None:
        self._now += quarters
        self._end = max(self._end, self._now)
        if self._end > _LONGEST_MEASURE:
            raise SymbolError(
                f"the measure lasts more than {_LONGEST_MEASURE} quarter notes",
                "split it with bar lines",
            )

    def _offset(self, node: Node) -> Fraction:
        """Return the place of a direction or chord sign, in quarter notes."""
        offset = node.number("offset") or Fraction(0)
        return min(
            max(self._now + offset / self._divisions, Fraction(0)), Fraction(_LONGEST_MEASURE)
        )

    # notes

    def _note(self, node: Node) -> None:
        voice = node.at("voice") or "1"
        if node.child("lyric"):
            self._part.remarks.append("lyrics are left out")
        if node.child("grace"):
            self._grace(node, voice)
            return
        duration = self._duration(node)
        self._part.plays = self._part.plays or not (node.child("rest") or _is_slash(node))
        if node.child("chord"):
            start = self._tick_of_last
        else:
            start = self._tick_of_last = self._now
            rest = node.child("rest")
            whole = rest and rest.get("measure") == "yes" and self._now == 0
            if whole and self._meter:
                duration = min(duration, Fraction(self._meter.bar_ticks, TICKS_PER_QUARTER))
            self._advance(duration)
            self._add_chord_signs(start, duration)
        pitch = self._pitch(node)
        tick, end = _ticks(start), _ticks(start + duration)
        if pitch and tick < end:
            if self._clefs.get(node.at("staff") or "1") == "percussion":
                self._remark(_UNDER_PERCUSSION)
            else:
                self._part.pitched = True
            self._sound(node, voice, pitch, tick, end)
        elif pitch:
            self._remark(_NO_LENGTH)

    def _grace(self, node: Node, voice: str) -> None:
        pitch = self._pitch(node)
        if pitch and node.child("chord"):
            self._remark(_GRACES_TOGETHER)
        elif pitch:
            self._graces.setdefault(voice, []).append(pitch)

    def _pitch(self, node: Node) -> Pitch | None:
        """Return the sounding pitch of a melody note; None for other notes."""
        found = node.child("pitch")
        kind = self._kind_left_out(node)
        if kind:
            self._remark(f"{kind} is left out")
        if kind or found is None or _is_slash(node):
            return None
        alter = found.number("alter")
        if alter and alter.denominator != 1:
            self._remark("a quarter tone is rounded to the nearer natural")
        name = attributes.read_name(found.at("step"), alter)
        octave = found.number("octave")
        if octave is None or not 0 <= octave <= 9:
            raise SymbolError(f"'{found.at('octave')[:20]}' is not an octave", "write 0 to 9")
        pitch = self._sounds.pitch(Pitch(name, int(octave)))
        if pitch.key not in _SEMITONES:
            self._remark("a note outside the MIDI range is left out")
            return None
        return pitch.plain() if abs(pitch.name.alter) > 2 else pitch

    def _kind_left_out(self, node: Node) -> str:
        """Return the name of a kind of note that is left out of the melody, or ""."""
        if node.child("rest") or (_is_slash(node) and node.at("stem").lower() == "none"):
            return ""
        if node.child("cue"):
            return "a cue note"
        if _is_slash(node) or self._slashes:
            return "a note under a slash"
        return "" if node.child("pitch") else "a note without pitch"

    def _sound(self, node: Node, voice: str, pitch: Pitch, tick: int, end: int) -> None:
        ties = {each.get("type") for each in node.all("tie") or node.all("notations/tied")}
        tied = "start" in ties
        line = self._measure.voices.setdefault(voice, [])
        for index in reversed(range(len(line))) if "stop" in ties else ():
            note = line[index]
            if note.tied and note.end == tick and note.pitch.key == pitch.key:
                line[index] = replace(note, ticks=end - note.tick, tied=tied)
                return
        graces = tuple(self._graces.pop(voice, ()))
        line.append(MelodyNote(tick, end - tick, pitch, tied, graces))

    def _direction(self, node: Node) -> None:
        tick = _ticks(self._offset(node))
        if text := no_chord_in(node):
            self._silences.append((tick, text))
            return
        if node.all("direction-type/wedge"):
            self._part.remarks.append("dynamics are left out")
        read_direction(node, tick, self._meter, self._measure.signs, self._remark)

    # chord signs

    def _harmony(self, node: Node) -> None:
        if node.get("type") == "alternate":
            self._remark_chord("an alternate chord is left out")
            return
        chord = read_harmony(node, self._key, self._remark_chord)
        chord = self._sounds.chord(chord) if chord else None
        self._waiting.append((self._offset(node), chord))

    def _add_chord_signs(self, start: Fraction, duration: Fraction) -> None:
        """Add the waiting chord signs, now that the length of their note is known."""
        for at, chord in self._waiting:
            ticks = _ticks(start + duration) - _ticks(at) if at == start else 0
            self._measure.chords.append(ChordSign(_ticks(at), chord, ticks))
        self._waiting.clear()

    def _add_silences(self) -> None:
        """Add N.C. signs for words that say so, where there is no chord sign."""
        chords = self._measure.chords
        for tick, text in self._silences:
            at_tick = [each.chord for each in chords if each.tick == tick]
            if any(at_tick):
                self._remark_chord(f"the words '{text}' beside a chord are left out")
            elif not at_tick:
                chords.append(ChordSign(tick, None, 0))
        self._silences.clear()

    def _finish(self) -> None:
        self._add_chord_signs(Fraction(-1), Fraction(0))
        self._add_silences()
        measure = self._measure
        measure.ticks = _ticks(self._end)
        full = measure.meter.bar_ticks if measure.meter else 0
        if full and abs(measure.ticks - full) <= _SNAP_TICKS:
            measure.ticks = full
        measure.same_as = self._same_as
        if any(self._graces.values()):
            self._remark("grace notes after the last note are left out")
            self._graces.clear()


def _measure_places(measures: list[Node]) -> list[str]:
    """Return the places of measures for remarks, by their written numbers.

    A measure without a number of its own gets its count, or shares the place of the one before.
    """
    numbers = [each.get("number") for each in measures]
    written = {each for each in numbers if each.isascii() and each.isdigit()}
    found: list[str] = []
    for count, number in enumerate(numbers, 1):
        own = f"measure {number}"
        if number not in written or own in found:
            own = found[-1] if found and str(count) in written else f"measure {count}"
        found.append(own)
    return found


def _is_slash(note: Node) -> bool:
    return note.at("notehead").lower() == "slash"


def _ticks(quarters: Fraction) -> int:
    return round(quarters * TICKS_PER_QUARTER)
