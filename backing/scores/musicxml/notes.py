"""Adds elements to a score: the notes, rests, chord signs and directions of a measure.

Conventions: elements are in the order of the schema. An accidental holds to the bar line for its
letter in its octave, and a note that is tied over the bar line has none (common practice, no
source).
"""

from __future__ import annotations

from typing import TYPE_CHECKING
from xml.etree import ElementTree

from backing.harmony.signs import signed
from backing.scores.musicxml.beams import beams_of, brackets_of, grace_beams
from backing.scores.musicxml.kinds import NO_CHORD, kind_of, read_kind
from backing.scores.musicxml.music import SOUNDS
from backing.scores.musicxml.pieces import pieces_of, slashes_of
from backing.scores.tune import Jump
from backing.timing import TICKS_PER_QUARTER

if TYPE_CHECKING:
    from collections.abc import Sequence, Set

    from backing.harmony.chord import Chord
    from backing.harmony.key import Key
    from backing.harmony.pitch import NoteName, Pitch
    from backing.scores.musicxml.pieces import Piece, Value
    from backing.scores.tune import TuneBar
    from backing.timing import Tempo

_NAMES = {
    -3: "triple-flat", -2: "flat-flat", -1: "flat", 0: "natural", 1: "sharp", 2: "double-sharp",
    3: "triple-sharp",
}  # fmt: skip


class Accidentals:
    """The accidentals that hold in a bar."""

    def __init__(self, key: Key) -> None:
        self._signature = key.alters
        self._held: dict[tuple[str, int], int] = {}

    def shown(self, pitch: Pitch) -> str:
        """Return the accidental to print for a note, or ""; it holds from here on."""
        letter, alter = pitch.name.letter, pitch.name.alter
        held = self._held.get((letter, pitch.octave), self._signature.get(letter, 0))
        self._held[letter, pitch.octave] = alter
        return _NAMES.get(alter, "") if alter != held else ""


_TARGETS = {"segno": "segno", "coda": "coda", "tocoda": "coda", "dalsegno": "segno"}
"""Values of attributes of `sound` that name a place; others are "yes" (MusicXML 4.0)."""

_WORDS = {Jump.TO_CODA: "To Coda", Jump.FINE: "Fine"}


def add(
    parent: ElementTree.Element, tag: str, content: object = "", /, **attributes: str
) -> ElementTree.Element:
    """Add an element with attributes; return it.

    Args:
        parent: the element around it.
        tag: its name.
        content: its text, or the texts of its children by their names.
        attributes: its attributes.

    """
    element = ElementTree.SubElement(parent, tag, attributes)
    if isinstance(content, dict):
        for name, text in content.items():
            add(element, name, text)
    elif content != "":
        element.text = str(content)
    return element


def add_direction(
    measure: ElementTree.Element, tag: str, text: str = ""
) -> tuple[ElementTree.Element, ElementTree.Element]:
    """Add a direction with one child in its type; return both elements."""
    direction = add(measure, "direction", placement="above")
    return direction, add(add(direction, "direction-type"), tag, text)


def add_tempo(measure: ElementTree.Element, tempo: Tempo) -> None:
    """Add a metronome mark and its `sound`."""
    direction, mark = add_direction(measure, "metronome")
    dotted, _, unit = tempo.unit.rpartition("-")
    add(mark, "beat-unit", unit)
    if dotted:
        add(mark, "beat-unit-dot")
    add(mark, "per-minute", f"{tempo.bpm:.10g}")
    add(direction, "sound", tempo=f"{tempo.quarter_bpm:.10g}")


def add_jump(measure: ElementTree.Element, jump: Jump) -> None:
    """Add a navigation mark and its `sound`."""
    if jump.is_before:
        direction, _ = add_direction(measure, jump.value)
    else:
        direction, _ = add_direction(measure, "words", _WORDS.get(jump, jump.value))
    name = next(name for name, sound in SOUNDS.items() if jump.startswith(sound))
    add(direction, "sound", **{name: _TARGETS.get(name, "yes")})


def add_chord(measure: ElementTree.Element, chord: Chord | None, offset: int) -> None:
    """Add a chord sign, its offset in divisions; None is no chord (N.C.).

    The text names only the kind where degrees follow, as engravers print those after it.
    """
    harmony = add(measure, "harmony")
    if chord is None:
        add(add(harmony, "root"), "root-step", "C", text="")
        add(harmony, "kind", NO_CHORD, text="N.C.")
    else:
        add(harmony, "root", _named("root-", chord.root))
        kind, changes = kind_of(chord.quality)
        own = read_kind(kind)
        quality = own.quality if own and changes else chord.quality
        add(harmony, "kind", kind, text=signed(quality.name))
        if chord.bass:
            add(harmony, "bass", _named("bass-", chord.bass))
        for change in changes:
            degree = add(harmony, "degree", {"degree-value": change.number})
            add(degree, "degree-alter", change.alter)
            add(degree, "degree-type", change.action)
    if offset:
        add(harmony, "offset", offset)


def _named(prefix: str, name: NoteName) -> dict[str, object]:
    """Return the elements of a note name, each name of an element with a prefix."""
    found: dict[str, object] = {f"{prefix}step": name.letter}
    return found | {f"{prefix}alter": name.alter} if name.alter else found


def _add_pitch(note: ElementTree.Element, pitch: Pitch) -> None:
    add(note, "pitch", _named("", pitch.name) | {"octave": pitch.octave})


class MusicWriter:
    """Writes the chord signs, notes and rests of one bar.

    Args:
        measure: receives the elements.
        bar: the bar.
        offset: the tick in its whole measure at which it begins.
        tied: the pitches tied over from the bar before.
        divisions: divisions of a quarter note.

    """

    def __init__(
        self,
        measure: ElementTree.Element,
        bar: TuneBar,
        offset: int,
        tied: Set[Pitch],
        divisions: int,
    ) -> None:
        self._measure, self._bar, self._offset, self._divisions = measure, bar, offset, divisions
        self._tied = {pitch.key: pitch for pitch in tied}
        self._accidentals = Accidentals(bar.key)

    def write(self) -> None:
        """Write a bar with its melody."""
        pieces = pieces_of(self._bar, self._offset)
        brackets = brackets_of(pieces)
        beams = beams_of(pieces, self._bar.meter, self._offset)
        for piece, bracket, beam in zip(pieces, brackets, beams, strict=True):
            self._signs(piece)
            if piece.notes:
                self._notes(piece, bracket, beam)
            else:
                self._rest(piece, bracket)

    def write_slashes(self) -> None:
        """Write a bar without melody in slashes."""
        for piece in slashes_of(self._bar, self._offset):
            self._signs(piece)
            note = add(self._measure, "note")
            add(note, "unpitched", {"display-step": "B", "display-octave": 4})
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
            _add_pitch(note, each.pitch)
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
            _add_pitch(note, pitch)
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
        ratio = {"actual-notes": value.actual, "normal-notes": value.normal}
        add(note, "time-modification", ratio)


def _add_notations(note: ElementTree.Element, ties: Sequence[str], bracket: Sequence[str]) -> None:
    if ties or bracket:
        notations = add(note, "notations")
        for kind in ties:
            add(notations, "tied", type=kind)
        for kind in bracket:
            add(notations, "tuplet", type=kind)
