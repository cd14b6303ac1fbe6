"""Keys, meters and transposition: what `attributes` says."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from typing import TYPE_CHECKING

from backing.errors import SymbolError
from backing.harmony.key import MODES, Key
from backing.harmony.pitch import NoteName, Pitch
from backing.scores.musicxml.parse import read_number
from backing.timing import TICKS_PER_QUARTER, Meter

if TYPE_CHECKING:
    from backing.harmony.chord import Chord
    from backing.scores.musicxml.parse import Node

WHOLE = 4 * TICKS_PER_QUARTER
_MODES = {"aeolian": "minor", "ionian": "major"} | {mode: mode for mode in MODES}
_MOST_UNITS = 32
_MOST_OCTAVES = 9
_NO_STEP = "write a step from A to G"


def read_name(step: str, alter: Fraction | None) -> NoteName:
    """Return the name of a note; an alteration between half-steps goes to the nearer natural.

    Raises:
        SymbolError: when the step is none.

    """
    if step not in tuple("ABCDEFG"):
        raise SymbolError(f"'{step[:20]}' is not a step", _NO_STEP)
    half_steps = max(-2, min(2, int(alter or 0)))
    return NoteName(NoteName.parse(step).fifths + 7 * half_steps)


def read_key(node: Node) -> tuple[Key, bool]:
    """Return a key, and whether its mode is said; without one it is major.

    A signature of single signs becomes the key with as many sharps or flats.
    """
    mode = _MODES.get(node.at("mode").lower())
    if node.child("key-step"):
        alters = (read_number(each.text) for each in node.all("key-alter"))
        return key_of(sum(int(each or 0) for each in alters), "major"), False
    return key_of(node.whole("fifths"), mode or "major"), mode is not None


def key_of(signature: int, mode: str) -> Key:
    """Return the key with as many sharps (flats negative), at most seven."""
    sharps = max(-14, min(14, signature))
    return Key(NoteName(sharps + MODES[mode]), mode).plain()


def read_meter(node: Node) -> Meter | None:
    """Return a meter; None for senza misura. Meters that are added up become one.

    Raises:
        SymbolError: when it is none, or one that no chart has.

    """
    if node.child("senza-misura"):
        return None
    counts = [_sum(each.text) for each in node.all("beats")]
    units = [_sum(each.text) for each in node.all("beat-type")]
    text = " ".join(each.text[:20] for each in node.children if each.tag.startswith("beat"))
    if not counts or len(counts) != len(units) or not all(counts) or not all(units):
        raise SymbolError(f"'{text}' is not a meter", "write beats and beat-type, such as 4 and 4")
    length = sum(Fraction(count, unit) for count, unit in zip(counts, units, strict=True))
    meter = meter_of(length, max(units))
    if meter is None:
        raise SymbolError(
            f"a meter of '{text}' is not played here",
            "the beats are a half, a quarter, an eighth or a sixteenth, at most 32 to a bar",
        )
    return meter


def _sum(text: str) -> int:
    """Return the sum in a text such as `3+2`; 0 when it is none."""
    numbers = text.replace(" ", "").split("+")
    if not all(each.isascii() and each.isdigit() and len(each) < 4 for each in numbers):
        return 0
    return sum(int(each) for each in numbers)


def meter_of(length: Fraction | float, unit: int) -> Meter | None:
    """Return the meter of a length in whole notes, in this unit where it can be."""
    for each in dict.fromkeys((unit, 4, 8, 16, 2)):
        count = Fraction(length) * each
        if each in (2, 4, 8, 16) and count.denominator == 1 and 1 <= count <= _MOST_UNITS:
            return Meter(int(count), each)
    return None


@dataclass(frozen=True, slots=True)
class Shift:
    """How a part sounds against what is written.

    Attributes:
        fifths: steps along the line of fifths.
        semitones: half-steps, of the same name.

    """

    fifths: int = 0
    semitones: int = 0

    def for_key(self, key: Key) -> Shift:
        """Return the shift that keeps a written key within seven sharps or flats."""
        concert = key.up(self.fifths)
        return replace(
            self, fifths=self.fifths + concert.plain().tonic.fifths - concert.tonic.fifths
        )

    def pitch(self, pitch: Pitch) -> Pitch:
        """Return a pitch as it sounds."""
        return pitch.up(self.fifths, self.semitones) if self != Shift() else pitch

    def chord(self, chord: Chord) -> Chord:
        """Return a chord as it sounds."""
        return chord.up(self.fifths).plain() if self.fifths else chord


def read_shift(node: Node) -> Shift:
    """Return what a `transpose` element says; an octave doubled below is not played.

    Raises:
        SymbolError: when it is more than some octaves.

    """
    chromatic, octaves = node.whole("chromatic"), node.whole("octave-change")
    if abs(chromatic) > 12 * _MOST_OCTAVES or abs(octaves) > _MOST_OCTAVES:
        raise SymbolError("the part sounds too far from where it is written", "mend its transpose")
    diatonic = node.number("diatonic")
    names = [fifths for fifths in range(-18, 19) if (fifths * 7 - chromatic) % 12 == 0]
    if diatonic is not None:
        same = [fifths for fifths in names if (fifths * 4 - round(diatonic)) % 7 == 0]
        names = same or names
    return Shift(min(names, key=abs), chromatic + 12 * octaves)
