"""The music of a part, measure by measure, at concert pitch, and its bar lines, marks and tempi.

Conventions: `sound` takes precedence over words and signs; where there are both, words add where
the jump ends ("al fine"). A jump in a `sound` at the start of a bar belongs after the bar before.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field, fields
from typing import TYPE_CHECKING

from backing.chart.model import MOST_TIMES
from backing.errors import SymbolError
from backing.scores.abc.signs import read_jump
from backing.scores.musicxml.parse import read_number
from backing.scores.tune import Jump, read_passes
from backing.timing import UNITS, Tempo

if TYPE_CHECKING:
    from collections.abc import Callable

    from backing.chart.melody import MelodyNote
    from backing.harmony.chord import Chord
    from backing.harmony.key import Key
    from backing.scores.musicxml.parse import Node
    from backing.timing import Meter

SOUNDS = {
    "dacapo": Jump.DA_CAPO, "dalsegno": Jump.DAL_SEGNO, "tocoda": Jump.TO_CODA,
    "fine": Jump.FINE, "segno": Jump.SEGNO, "coda": Jump.CODA,
}  # fmt: skip
"""The jump of each attribute of `sound`."""

_THIN = ("regular", "none", "short", "tick", "dotted", "dashed", "heavy", "")
_QUARTERS = {
    "breve": 8.0, "whole": 4.0, "half": 2.0, "quarter": 1.0, "eighth": 0.5, "16th": 0.25,
    "32nd": 0.125,
}  # fmt: skip
_PER_MINUTE = re.compile(r"[0-9]{1,4}(?:\.[0-9]{1,3})?")
_NO_CHORD = re.compile(r"\(?(?:n\.?\s?c\.?|no chord)\)?", re.I)
_LONGEST_LABEL = 60


@dataclass(frozen=True, slots=True)
class JumpSign:
    """A navigation mark at its place.

    Attributes:
        tick: its place from the start of its measure.
        jump: the mark.
        sounded: whether it comes from a `sound`.

    """

    tick: int
    jump: Jump
    sounded: bool


@dataclass(frozen=True, slots=True)
class Line:
    """A bar line inside a measure.

    Attributes:
        tick: its place in the measure.
        closes, opens, double: as in `TuneBar`, for the bars before and after it.

    """

    tick: int
    closes: int
    opens: bool
    double: bool


@dataclass(eq=False, slots=True)
class Signs:
    """The bar lines and marks of a measure; attributes as in `TuneBar`.

    Attributes:
        double_before: whether a double bar line precedes it.
        lines: bar lines inside it.

    """

    opens: bool = False
    closes: int = 0
    ending: tuple[int, ...] = ()
    ending_stops: bool = False
    double: bool = False
    double_before: bool = False
    label: str = ""
    jumps: list[JumpSign] = field(default_factory=list)
    tempo: Tempo | None = None
    lines: list[Line] = field(default_factory=list)

    def join(self, other: Signs) -> None:
        """Add the signs of another part in the same measure."""
        there = {each.jump for each in self.jumps}
        jumps = [*self.jumps, *(each for each in other.jumps if each.jump not in there)]
        closes = max(self.closes, other.closes)
        for name in (each.name for each in fields(self)):
            setattr(self, name, getattr(self, name) or getattr(other, name))
        self.jumps, self.closes = jumps, closes


def read_barline(node: Node, tick: int, signs: Signs) -> None:
    """Add a bar line to the signs of its measure."""
    where = node.get("location") or "right"
    repeat = node.child("repeat")
    direction = repeat.get("direction") if repeat else ""
    double = node.at("bar-style") not in _THIN
    closes = _times(repeat) if repeat and direction == "backward" else 0
    if where == "middle":
        if direction or double:
            signs.lines.append(Line(tick, closes, direction == "forward", double))
        return
    signs.opens = signs.opens or direction == "forward"
    signs.closes = max(signs.closes, closes)
    if where == "left":
        signs.double_before = signs.double_before or (double and not direction)
    else:
        signs.double = signs.double or (double and not direction)
    for each in node.all("ending"):
        if each.get("type") == "start":
            written = (each.get("number"), each.text)
            signs.ending = next(filter(None, (read_passes(text[:200]) for text in written)), (1,))
        else:
            signs.ending_stops = True
    for tag, jump in (("segno", Jump.SEGNO), ("coda", Jump.CODA)):
        if node.child(tag) or node.get(tag):
            at = 0 if where == "left" else tick
            signs.jumps.append(JumpSign(at, jump, bool(node.get(tag))))


def _times(repeat: Node) -> int:
    found = read_number(repeat.get("times"))
    return 2 if found is None else max(2, min(MOST_TIMES, int(found)))


def no_chord_in(node: Node) -> str:
    """Return the words of a direction that is only N.C., or ""."""
    kinds = node.all("direction-type/*")
    text = kinds[0].text.strip() if len(kinds) == 1 and kinds[0].tag == "words" else ""
    return text if _NO_CHORD.fullmatch(text) else ""


def read_direction(
    node: Node, tick: int, meter: Meter | None, signs: Signs, remark: Callable[[str], None]
) -> None:
    """Add a direction, or a `sound` by itself, to the signs of its measure.

    Args:
        node: the element.
        tick: its place in the measure.
        meter: the meter of the measure.
        signs: receives marks and tempo.
        remark: receives what is left out.

    """
    seen: list[str] = []
    for each in node.all("direction-type/*"):
        if each.tag == "words":
            seen.append(each.text)
        elif each.tag in ("segno", "coda"):
            seen.append(each.tag)
        elif each.tag == "rehearsal" and each.text:
            _label(each.text[:_LONGEST_LABEL], signs, remark)
        elif each.tag == "metronome":
            text = " ".join(part.text for part in each.children if part.text)[:40]
            _take_tempo(_metronome(each), f"the tempo {text}", tick, signs, remark)
    sound = node if node.tag == "sound" else node.child("sound")
    text = " ".join(" ".join(seen).split())
    if not _jumps(seen, sound, tick, signs) and any(map(str.isalnum, text)):
        remark(f"the words '{text[:60]}' are left out")
    if sound and sound.get("tempo"):
        name = f"the tempo {sound.get('tempo')[:20]}"
        if meter and not node.all("direction-type/metronome"):
            bpm = read_number(sound.get("tempo"))
            tempo = _checked(Tempo.in_beats(float(bpm), meter)) if bpm else None
            _take_tempo(tempo, name, tick, signs, remark)


def _label(text: str, signs: Signs, remark: Callable[[str], None]) -> None:
    """Add a rehearsal mark, at most one a measure."""
    if signs.label and signs.label != text:
        remark(f"the mark {text} beside {signs.label}: left out")
    signs.label = signs.label or text


def _take_tempo(
    tempo: Tempo | None, name: str, tick: int, signs: Signs, remark: Callable[[str], None]
) -> None:
    """Add a tempo, at most one a measure, from the start of the measure."""
    if tempo is None:
        remark(f"{name} is not understood: left out")
    elif signs.tempo is None:
        signs.tempo = tempo
        if tick:
            remark(f"{name} inside a bar counts from the start of the bar")
    elif tempo != signs.tempo:
        remark(f"{name} beside {signs.tempo}: left out")


def _jumps(seen: list[str], sound: Node | None, tick: int, signs: Signs) -> bool:
    """Add the jumps of words, signs and sound; return whether there are any."""
    words = read_jump(" ".join(seen)) or next(filter(None, map(read_jump, seen)), None)
    sounding = [] if sound is None else [
        jump for name, jump in SOUNDS.items() if sound.get(name).lower() not in ("", "no")
    ]  # fmt: skip
    for jump in sounding:
        more = words is not None and words.value.startswith(jump.value)
        signs.jumps.append(JumpSign(tick, words if words and more else jump, sounded=True))
    if words and not sounding:
        signs.jumps.append(JumpSign(tick, words, sounded=False))
    return bool(words or sounding)


def _metronome(node: Node) -> Tempo | None:
    """Return the tempo of a metronome mark; None if it is invalid or equates two notes."""
    if len(node.all("beat-unit")) != 1:
        return None
    unit, dots = node.at("beat-unit"), len(node.all("beat-unit-dot"))
    match = _PER_MINUTE.search(node.at("per-minute")[:40])
    if not match or unit not in _QUARTERS:
        return None
    bpm = float(match[0])
    if (name := "dotted-" * dots + unit) in UNITS:
        return _checked(Tempo(bpm, name))
    return _checked(Tempo(round(bpm * _QUARTERS[unit] * (2 - 0.5 ** min(dots, 4)), 3)))


def _checked(tempo: Tempo) -> Tempo | None:
    """Return a tempo, or None if it is outside the band's range."""
    try:
        return Tempo.parse(str(tempo))
    except SymbolError:
        return None


@dataclass(frozen=True, slots=True)
class ChordSign:
    """A chord sign of a part.

    Attributes:
        tick: its place in the measure.
        chord: the sounding chord; None is no chord (N.C.).
        ticks: the length of the note below it; 0 if unknown.

    """

    tick: int
    chord: Chord | None
    ticks: int


@dataclass(eq=False, slots=True)
class Measure:
    """A measure of a part.

    Attributes:
        place: "measure 7", for remarks.
        key: the sounding key.
        meter: the meter; None is senza misura.
        ticks: the length of its content; 0 if empty.
        voices: the sounding notes of each voice, by its name; those tied inside it are joined.
        chords, signs: its chord signs, and its bar lines and marks.
        same_as: how many measures back the repeated measure is; 0 if it repeats none.

    """

    place: str
    key: Key
    meter: Meter | None
    ticks: int = 0
    voices: dict[str, list[MelodyNote]] = field(default_factory=dict)
    chords: list[ChordSign] = field(default_factory=list)
    signs: Signs = field(default_factory=Signs)
    same_as: int = 0


@dataclass(eq=False, slots=True)
class PartMusic:
    """A part.

    Attributes:
        name: its name, for remarks.
        measures: in written order.
        drums: whether the part list assigns it to percussion.
        pitched: whether it has a pitch under a clef other than the percussion clef.
        plays: whether it has any note, pitched or not.
        mode_given: whether any of its keys gives the mode.
        remarks: what was corrected or left out of its notes.
        chord_remarks: the same for its chord signs.

    """

    name: str
    measures: list[Measure] = field(default_factory=list)
    drums: bool = False
    pitched: bool = False
    plays: bool = False
    mode_given: bool = False
    remarks: list[str] = field(default_factory=list)
    chord_remarks: list[str] = field(default_factory=list)

    @property
    def has_melody(self) -> bool:
        """Whether it has pitched notes and is not a percussion part."""
        return self.pitched and not self.drums

    def voices(self) -> list[str]:
        """Return its voices in the order in which they begin."""
        return list(dict.fromkeys(voice for each in self.measures for voice in each.voices))
