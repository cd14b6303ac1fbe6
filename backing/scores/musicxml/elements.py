"""Adds elements to a score: directions, chord signs, pitches."""

from __future__ import annotations

from typing import TYPE_CHECKING
from xml.etree import ElementTree

from backing.harmony.signs import signed
from backing.scores.musicxml.kinds import NO_CHORD, kind_of, read_kind
from backing.scores.tune import Jump

if TYPE_CHECKING:
    from backing.harmony.chord import Chord
    from backing.harmony.pitch import NoteName, Pitch
    from backing.timing import Tempo

_SOUNDS = {
    Jump.SEGNO: ("segno", "segno"), Jump.CODA: ("coda", "coda"), Jump.TO_CODA: ("tocoda", "coda"),
    Jump.FINE: ("fine", "yes"), Jump.DA_CAPO: ("dacapo", "yes"),
    Jump.DA_CAPO_AL_FINE: ("dacapo", "yes"), Jump.DA_CAPO_AL_CODA: ("dacapo", "yes"),
    Jump.DAL_SEGNO: ("dalsegno", "segno"), Jump.DAL_SEGNO_AL_FINE: ("dalsegno", "segno"),
    Jump.DAL_SEGNO_AL_CODA: ("dalsegno", "segno"),
}  # fmt: skip
"""The attribute of `sound` for each jump, and its value (MusicXML 4.0)."""

_WORDS = {Jump.TO_CODA: "To Coda", Jump.FINE: "Fine"}

BEFORE = (Jump.SEGNO, Jump.CODA)
"""Jumps written before their bar."""


def add(
    parent: ElementTree.Element, tag: str, text: object = "", /, **attributes: str
) -> ElementTree.Element:
    """Add an element with text and attributes; return it."""
    element = ElementTree.SubElement(parent, tag, attributes)
    if text != "":
        element.text = str(text)
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
    if jump in BEFORE:
        direction, _ = add_direction(measure, jump.value)
    else:
        direction, _ = add_direction(measure, "words", _WORDS.get(jump, jump.value))
    name, value = _SOUNDS[jump]
    add(direction, "sound", **{name: value})


def add_chord(measure: ElementTree.Element, chord: Chord | None, offset: int) -> None:
    """Add a chord sign, its offset in divisions; None is no chord (N.C.).

    The text names only the kind where degrees follow, as engravers print those after it.
    """
    harmony = add(measure, "harmony")
    root = add(harmony, "root")
    if chord is None:
        add(root, "root-step", "C", text="")
        add(harmony, "kind", NO_CHORD, text="N.C.")
    else:
        _add_name(root, "root", chord.root)
        kind, changes = kind_of(chord.quality)
        own = read_kind(kind)
        quality = own.quality if own and changes else chord.quality
        add(harmony, "kind", kind, text=signed(quality.name))
        if chord.bass:
            _add_name(add(harmony, "bass"), "bass", chord.bass)
        for change in changes:
            degree = add(harmony, "degree")
            add(degree, "degree-value", change.number)
            add(degree, "degree-alter", change.alter)
            add(degree, "degree-type", change.action)
    if offset:
        add(harmony, "offset", offset)


def _add_name(element: ElementTree.Element, tag: str, name: NoteName) -> None:
    add(element, f"{tag}-step", str(name)[0])
    if name.alter:
        add(element, f"{tag}-alter", name.alter)


def add_pitch(note: ElementTree.Element, pitch: Pitch) -> None:
    """Add the pitch of a note."""
    element = add(note, "pitch")
    add(element, "step", str(pitch.name)[0])
    if pitch.name.alter:
        add(element, "alter", pitch.name.alter)
    add(element, "octave", pitch.octave)
