"""Writes notes, rests and chord signs of a measure in the order of the schema."""

from __future__ import annotations

from typing import TYPE_CHECKING

from backing.scores.musicxml.accidentals import Accidentals
from backing.scores.musicxml.beams import beams_of, brackets_of, grace_beams
from backing.scores.musicxml.elements import add, add_chord, add_pitch
from backing.scores.musicxml.pieces import pieces_of, slashes_of
from backing.timing import TICKS_PER_QUARTER

if TYPE_CHECKING:
    from collections.abc import Sequence, Set
    from xml.etree import ElementTree

    from backing.harmony.pitch import Pitch
    from backing.scores.musicxml.pieces import Piece
    from backing.scores.musicxml.values import Value
    from backing.scores.tune import TuneBar


def write_slashes(measure: ElementTree.Element, bar: TuneBar, offset: int, divisions: int) -> None:
    """Write the slashes and chord signs of a bar without melody.

    Args:
        measure: receives the elements.
        bar: the bar.
        offset: the tick in its whole measure at which it begins.
        divisions: divisions of a quarter note.

    """
    _MusicWriter(measure, bar, set(), divisions).write_slashes(slashes_of(bar, offset))


def write_music(
    measure: ElementTree.Element, bar: TuneBar, offset: int, tied: Set[Pitch], divisions: int
) -> None:
    """Write the chord signs, notes and rests of a bar.

    Args:
        measure: receives the elements.
        bar: the bar.
        offset: the tick in its whole measure at which it begins.
        tied: the pitches tied over from the bar before.
        divisions: divisions of a quarter note.

    """
    _MusicWriter(measure, bar, tied, divisions).write(pieces_of(bar, offset), offset)


class _MusicWriter:
    """Writes the music of one bar."""

    def __init__(
        self, measure: ElementTree.Element, bar: TuneBar, tied: Set[Pitch], divisions: int
    ) -> None:
        self._measure, self._bar, self._divisions = measure, bar, divisions
        self._tied = {pitch.key: pitch for pitch in tied}
        self._accidentals = Accidentals(bar.key)

    def write(self, pieces: Sequence[Piece], offset: int) -> None:
        brackets = brackets_of(pieces)
        beams = beams_of(pieces, self._bar.meter, offset)
        for piece, bracket, beam in zip(pieces, brackets, beams, strict=True):
            self._signs(piece)
            if piece.notes:
                self._notes(piece, bracket, beam)
            else:
                self._rest(piece, bracket)

    def write_slashes(self, pieces: Sequence[Piece]) -> None:
        for piece in pieces:
            self._signs(piece)
            note = add(self._measure, "note")
            place = add(note, "unpitched")
            add(place, "display-step", "B")
            add(place, "display-octave", 4)
            add(note, "duration", self._duration(piece.value.ticks))
            add(note, "voice", 1)
            _add_value(note, piece.value)
            add(note, "stem", "none")
            add(note, "notehead", "slash")

    def _signs(self, piece: Piece) -> None:
        for sign in self._bar.chords:
            if piece.tick <= sign.tick < piece.end:
                add_chord(self._measure, sign.chord, self._duration(sign.tick - piece.tick))

    def _rest(self, piece: Piece, bracket: Sequence[str]) -> None:
        note = add(self._measure, "note")
        is_whole = piece.value.ticks == self._bar.meter.bar_ticks
        add(note, "rest", **({"measure": "yes"} if is_whole else {}))
        add(note, "duration", self._duration(piece.value.ticks))
        add(note, "voice", 1)
        if not is_whole:
            _add_value(note, piece.value)
        _add_notations(note, (), bracket)

    def _notes(self, piece: Piece, bracket: Sequence[str], beam: Sequence[str]) -> None:
        """Write a note or simultaneous notes with their ties."""
        if piece.first:
            self._graces(piece.notes[0].graces)
        for index, each in enumerate(piece.notes):
            note = add(self._measure, "note")
            if index:
                add(note, "chord")
            add_pitch(note, each.pitch)
            add(note, "duration", self._duration(piece.value.ticks))
            goes_on = piece.first and piece.tick == 0 and each.pitch.key in self._tied
            stops = not piece.first or goes_on
            starts = not piece.last or each.tied
            ties = [kind for kind, is_so in (("stop", stops), ("start", starts)) if is_so]
            for kind in ties:
                add(note, "tie", type=kind)
            add(note, "voice", 1)
            is_new = not goes_on or self._tied[each.pitch.key] != each.pitch
            shown = self._accidentals.shown(each.pitch) if is_new else ""
            _add_value(note, piece.value, shown)
            for level, word in enumerate(beam if index == 0 else (), 1):
                add(note, "beam", word, number=str(level))
            _add_notations(note, ties, bracket if index == 0 else ())

    def _graces(self, graces: Sequence[Pitch]) -> None:
        """Write grace notes: a single one slashed, several beamed."""
        for pitch, beam in zip(graces, grace_beams(len(graces)), strict=True):
            note = add(self._measure, "note")
            add(note, "grace", **({} if beam else {"slash": "yes"}))
            add_pitch(note, pitch)
            add(note, "voice", 1)
            add(note, "type", "16th" if beam else "eighth")
            if shown := self._accidentals.shown(pitch):
                add(note, "accidental", shown)
            for level, word in enumerate(beam, 1):
                add(note, "beam", word, number=str(level))

    def _duration(self, ticks: int) -> int:
        return ticks * self._divisions // TICKS_PER_QUARTER


def _add_value(note: ElementTree.Element, value: Value, accidental: str = "") -> None:
    """Add type, dots, accidental and tuplet of a note."""
    if value.type:
        add(note, "type", value.type)
        for _ in range(value.dots):
            add(note, "dot")
    if accidental:
        add(note, "accidental", accidental)
    if value.actual != 1:
        time = add(note, "time-modification")
        add(time, "actual-notes", value.actual)
        add(time, "normal-notes", value.normal)


def _add_notations(note: ElementTree.Element, ties: Sequence[str], bracket: Sequence[str]) -> None:
    if ties or bracket:
        notations = add(note, "notations")
        for kind in ties:
            add(notations, "tied", type=kind)
        for kind in bracket:
            add(notations, "tuplet", type=kind)
