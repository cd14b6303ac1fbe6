"""Reads keys, meters and transposition from `attributes`, and chord signs from `harmony`.

Conventions: a root is a note, a degree of the key (`numeral`), or a Roman numeral (`function`, in
the scale of the key). Of chords stacked in one sign the first is read, with a remark. A written
bass overrides an inversion.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import TYPE_CHECKING

from backing.errors import SymbolError
from backing.harmony.chord import Chord
from backing.harmony.key import MODES, Key
from backing.harmony.pitch import ACCIDENTALS, Degree, NoteName, Pitch
from backing.harmony.quality import Quality, read_quality
from backing.scores.musicxml import kinds
from backing.scores.musicxml.kinds import DegreeChange
from backing.scores.musicxml.parse import read_number
from backing.timing import TICKS_PER_QUARTER, Meter

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

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


_ROMAN = re.compile(r"([b#♭♯]{0,2})(VII|VI|V|IV|III|II|I)(?![A-Z])", re.I)
_NUMBERS = {"I": 1, "II": 2, "III": 3, "IV": 4, "V": 5, "VI": 6, "VII": 7}
_MOST_ALTER = 2
_ABOVE = {1: 3, 2: 5, 3: 7, 4: 9, 5: 11, 6: 13}
"""The degree in the bass by inversion (MusicXML 4.0, `inversion`)."""


def read_harmony(node: Node, key: Key, remark: Callable[[str], None]) -> Chord | None:
    """Return the written chord of a sign; None is no chord (N.C.).

    Args:
        node: the `harmony` element.
        key: the written key, for numerals.
        remark: receives a remark where the chord differs from what is written.

    Raises:
        SymbolError: when its root is missing or invalid.

    """
    named = [index for index, each in enumerate(node.children) if each.tag == "kind"]
    sign = node.like(node.children[: named[1]]) if len(named) > 1 else node
    name = sign.at("kind")
    if named and name.lower() == kinds.NO_CHORD:
        return None
    root = _root(node, key)
    if len(named) > 1:
        remark("chords are stacked: the first is used")
    kind = kinds.read_kind(name if named else "major")
    quality = _quality(sign, kind, remark)
    if kind and kind.root.number != 1:
        root = root.up(kind.root.fifths)
    bass = _bass(sign, root, quality, remark)
    if bass is None and kind and kind.bass.number != 1:
        bass = root.up((quality.degree(kind.bass.number) or kind.bass).fifths)
    chord = Chord(root, quality, None if bass == root else bass)
    if kind and not kind.exact:
        remark(f"the chord kind '{name[:30]}' is not supported: written {chord}")
    return chord.readable()


def _root(node: Node, key: Key) -> NoteName:
    for each in node.children:
        if each.tag == "root":
            return read_name(each.at("root-step"), each.number("root-alter"))
        if each.tag == "numeral":
            return _numeral(each, key)
        if each.tag == "function":
            return _function(each.text, key)
    raise SymbolError("this chord sign has no root", "give it a root, a numeral or a function")


def _numeral(node: Node, key: Key) -> NoteName:
    own = node.child("numeral-key")
    if own:
        mode = own.at("numeral-mode").lower()
        key = key_of(read_signature(own, "numeral-fifths"), "major" if mode == "major" else "minor")
    number = node.whole("numeral-root")
    if not 1 <= number <= 7:
        raise SymbolError(f"'{node.at('numeral-root')[:20]}' is not a numeral", "write 1 to 7")
    alter = max(-2, min(2, node.whole("numeral-alter")))
    return key.scale[number - 1].up(7 * alter)


def _function(text: str, key: Key) -> NoteName:
    match = _ROMAN.match(text.strip())
    if not match:
        raise SymbolError(f"the function '{text[:20]}' is not known", "write I to VII")
    return key.scale[_NUMBERS[match[2].upper()] - 1].up(7 * ACCIDENTALS[match[1]])


def _quality(sign: Node, kind: kinds.Kind | None, remark: Callable[[str], None]) -> Quality:
    """Return the quality of a sign; remark one that is not exact."""
    named = sign.child("kind")
    name, text = (named.text[:30], named.get("text")[:30]) if named else ("", "")
    changes = [change for each in sign.all("degree") for change in _read_degrees(each, remark)]
    if kind is None and not changes:
        return _unknown(name, text, remark)
    degrees = kinds.changed(kind.quality if kind else None, changes)
    exact = kinds.named(degrees)
    if exact:
        if kinds.misses_third(degrees, exact):
            remark(f"{_listed(degrees)} is written as {exact.name}")
        return exact
    found = _from_text(text)
    if found is None or found.degrees == (kind.quality.degrees if kind else ()):
        found = kinds.nearest(degrees)
    remark(f"no known chord is {_listed(degrees)}: read as {_spoken(found)}")
    return found


def _listed(degrees: frozenset[Degree]) -> str:
    return " ".join(map(str, sorted(degrees)))


def _unknown(name: str, text: str, remark: Callable[[str], None]) -> Quality:
    """Return the quality of an unknown kind from its printed text, with a remark."""
    found = _from_text(text) or _from_text(name if name != kinds.OTHER else "")
    taken = found or read_quality("")
    remark(f"the chord kind '{name}' is not known: read as {_spoken(taken)}")
    return taken


def _from_text(text: str) -> Quality | None:
    try:
        return read_quality(text.replace(" ", "")) if text else None
    except SymbolError:
        return None


def _spoken(quality: Quality) -> str:
    return quality.name or "a major chord"


def _read_degrees(node: Node, remark: Callable[[str], None]) -> Iterator[DegreeChange]:
    """Yield the changes in a `degree` element; some programs write several in one."""
    for start, each in enumerate(node.children):
        if each.tag != "degree-value":
            continue
        rest = node.children[start + 1 :]
        end = next((n for n, other in enumerate(rest) if other.tag == "degree-value"), len(rest))
        own = {other.tag: other.text for other in rest[:end]}
        number, alter = _whole(each.text), _whole(own.get("degree-alter", ""))
        if 1 <= number <= 13 and abs(alter) <= _MOST_ALTER:
            yield DegreeChange(own.get("degree-type", "add").lower(), number, alter)
        else:
            elements = f"{each.text[:10]} altered by {alter}" if alter else f"'{each.text[:10]}'"
            remark(f"the degree {elements} is not understood: left out")


def _whole(text: str) -> int:
    match = re.fullmatch(r"\s*([+-]?[0-9]{1,3})(?:\.[0-9]{0,9})?\s*", text, re.ASCII)
    return int(match[1]) if match else 0


def _bass(
    sign: Node, root: NoteName, quality: Quality, remark: Callable[[str], None]
) -> NoteName | None:
    if bass := sign.child("bass"):
        return read_name(bass.at("bass-step"), bass.number("bass-alter"))
    inversion = sign.whole("inversion")
    if not inversion:
        return None
    number = _ABOVE.get(inversion, 0)
    degree = quality.degree(number) or _suspended(quality, number)
    if degree is None:
        remark(f"this chord has no inversion {inversion}: read without one")
        return None
    return root.up(degree.fifths)


def _suspended(quality: Quality, number: int) -> Degree | None:
    """Return the degree that replaces a third or a seventh, or None."""
    instead = {3: (4, 2), 7: (6,)}.get(number, ())
    return next((found for each in instead if (found := quality.degree(each))), None)
