"""Reads keys, meters and transposition from `attributes`."""

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
    from collections.abc import Callable

    from backing.harmony.chord import Chord
    from backing.scores.musicxml.parse import Node

_MODES = {"aeolian": "minor", "ionian": "major"} | {mode: mode for mode in MODES}
_MOST_OCTAVES = 9
_MOST_SIGNS = 14
"""The most sharps or flats of a signature: two on each of seven notes."""

_NO_STEP = "write a step from A to G"


def read_name(step: str, alter: Fraction | None) -> NoteName:
    """Return the name of a note; an alteration by quarter tones is rounded towards the natural.

    Raises:
        SymbolError: when the step is not A to G.

    """
    if step not in tuple("ABCDEFG"):
        raise SymbolError(f"'{step[:20]}' is not a step", _NO_STEP)
    half_steps = max(-2, min(2, int(alter or 0)))
    return NoteName(NoteName.parse(step).fifths + 7 * half_steps)


def read_key(node: Node, remark: Callable[[str], None]) -> tuple[Key, bool]:
    """Return a key, and whether its mode is given; the default is major.

    A non-traditional signature becomes the key with as many sharps or flats.

    Args:
        node: the `key` element.
        remark: receives a remark where the key differs from what is written.

    Raises:
        SymbolError: when its signature is invalid.

    """
    if node.child("key-step"):
        return _key_of_signs(node, remark), False
    mode = _MODES.get(node.at("mode").lower())
    signature = read_signature(node, "fifths")
    key = key_of(signature, mode or "major")
    if key.signature != signature:
        signs = "sharps" if signature > 0 else "flats"
        remark(f"a key of {abs(signature)} {signs} is written as {key}")
    return key, mode is not None


def _key_of_signs(node: Node, remark: Callable[[str], None]) -> Key:
    """Return the key with as many sharps or flats as a non-traditional signature."""
    alters = [int(read_number(each.text) or 0) for each in node.all("key-alter")]
    signature = sum(alters)
    if abs(signature) > _MOST_SIGNS:
        raise _no_signature(str(signature))
    key = key_of(signature, "major")
    steps = [each.text for each in node.all("key-step")]
    if sorted(zip(steps, alters, strict=False)) != sorted(key.alters.items()):
        remark(f"a non-traditional key signature is written as {key}")
    return key


def read_signature(node: Node, tag: str) -> int:
    """Return the number of sharps in an element, flats negative; 0 without the element.

    Raises:
        SymbolError: when it is not an integer from -14 to 14.

    """
    text = node.at(tag)
    found = read_number(text) if text else Fraction(0)
    if found is None or found.denominator != 1 or abs(found) > _MOST_SIGNS:
        raise _no_signature(text)
    return int(found)


def _no_signature(text: str) -> SymbolError:
    return SymbolError(
        f"'{text[:20]}' is not a key signature",
        f"write -7 (flats) to 7 (sharps); up to {_MOST_SIGNS} of either are understood",
    )


def key_of(signature: int, mode: str) -> Key:
    """Return the key of a mode with a number of sharps, flats negative, respelled within seven."""
    return Key(NoteName(signature + MODES[mode]), mode).plain()


def read_meter(node: Node) -> Meter | None:
    """Return a meter, composite ones added up; None for senza misura.

    Raises:
        SymbolError: when it is not a meter, or one that charts cannot have.

    """
    if node.child("senza-misura"):
        return None
    counts = [_sum(each.text) for each in node.all("beats")]
    units = [_sum(each.text) for each in node.all("beat-type")]
    text = " ".join(each.text[:20] for each in node.children if each.tag.startswith("beat"))
    if not counts or len(counts) != len(units) or not all(counts) or not all(units):
        raise SymbolError(f"'{text}' is not a meter", "write beats and beat-type, such as 4 and 4")
    length = sum(Fraction(count, unit) for count, unit in zip(counts, units, strict=True))
    meter = Meter.lasting(length * 4 * TICKS_PER_QUARTER, max(units), 4, 8, 16, 2)
    if meter is None:
        raise SymbolError(
            f"a meter of '{text}' is not played here",
            "the beats are a half, a quarter, an eighth or a sixteenth, at most 32 to a bar",
        )
    return meter


def _sum(text: str) -> int:
    """Return the sum in a text such as `3+2`; 0 if it is invalid."""
    numbers = text.replace(" ", "").split("+")
    if not all(each.isascii() and each.isdigit() and len(each) < 4 for each in numbers):
        return 0
    return sum(int(each) for each in numbers)


@dataclass(frozen=True, slots=True)
class Shift:
    """The transposition from written to sounding pitch.

    Attributes:
        fifths: steps on the line of fifths.
        semitones: semitones, octaves included.

    """

    fifths: int = 0
    semitones: int = 0

    def for_key(self, key: Key) -> Shift:
        """Return the shift respelled so that a written key sounds within seven sharps or flats."""
        concert = key.up(self.fifths)
        return replace(
            self, fifths=self.fifths + concert.plain().tonic.fifths - concert.tonic.fifths
        )

    def pitch(self, pitch: Pitch) -> Pitch:
        """Return the sounding pitch of a written one."""
        return pitch.up(self.fifths, self.semitones) if self != Shift() else pitch

    def chord(self, chord: Chord) -> Chord:
        """Return the sounding chord of a written one."""
        return chord.up(self.fifths).plain() if self.fifths else chord


def read_shift(node: Node) -> Shift:
    """Return the transposition of a `transpose` element; `double` is ignored.

    Raises:
        SymbolError: when it is more than nine octaves.

    """
    chromatic, octaves = node.whole("chromatic"), node.whole("octave-change")
    if abs(chromatic) > 12 * _MOST_OCTAVES or abs(octaves) > _MOST_OCTAVES:
        raise SymbolError("the part is transposed too far", "correct its transpose element")
    diatonic = node.number("diatonic")
    names = [fifths for fifths in range(-18, 19) if (fifths * 7 - chromatic) % 12 == 0]
    if diatonic is not None:
        same = [fifths for fifths in names if (fifths * 4 - round(diatonic)) % 7 == 0]
        names = same or names
    return Shift(min(names, key=abs), chromatic + 12 * octaves)
