"""Reads the fields of ABC (v2.1, 3.1 and 4.6), and keeps those of the head of a tune."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from enum import StrEnum
from fractions import Fraction

from backing.errors import SymbolError
from backing.harmony.key import MODES, Key
from backing.harmony.pitch import NoteName
from backing.scores.abc.text import plain_text
from backing.timing import (
    FASTEST_BPM,
    QUARTER,
    SLOWEST_BPM,
    TICKS_PER_QUARTER,
    UNITS,
    Meter,
    Tempo,
    tempo_range,
)

_MODES = {
    "maj": "major", "ion": "major", "min": "minor", "aeo": "minor", "m": "minor",
    "mix": "mixolydian", "dor": "dorian", "phr": "phrygian", "lyd": "lydian", "loc": "locrian",
}  # fmt: skip
_KEY = re.compile(r"([A-G])([#b♯♭]?)\s*([A-Za-z]*)")
_MARKED = re.compile(r"(\^\^|__|\^|_|=)([A-Ga-g])")
_OCTAVE = re.compile(r"octave=\s*(-?[0-9])")
_CLEF = re.compile(
    r"(?:clef=)?(?:treble|bass|alto|tenor|baritone|mezzosoprano|soprano|perc|none)[0-9]?", re.I
)
_PROPERTIES = re.compile(
    "clef|octave|middle|transpose|treble|bass|alto|tenor|baritone|mezzo|soprano|perc|none|staff|stem"
    "|name|score|sound|shift|style|instrument"
)
_OTHER = re.compile("none|exp|octave|middle|transpose|staff", re.I)
_SIGNS = {"^": 1, "^^": 2, "_": -1, "__": -2, "=": 0}


@dataclass(frozen=True, slots=True)
class AbcKey:
    """A key and the notes that it alters.

    Attributes:
        key: the key.
        alters: semitones by altered letter.
        octave: octaves added to the written notes.

    """

    key: Key
    alters: dict[str, int] = field(default_factory=dict)
    octave: int = 0


def with_signature(key: Key) -> AbcKey:
    """Return a key with the alterations of its signature."""
    return AbcKey(key.plain(), key.alters)


def read_key(text: str, before: AbcKey | None = None) -> AbcKey:
    """Return the key of `G`, `F#m`, `A Mixolydian`, `D Phr ^f`, `HP` or `none`.

    Clefs and other properties are ignored, except `octave=`.

    Args:
        text: the value of `K:`.
        before: the key so far, for a field that only names a clef; None for C.

    Raises:
        SymbolError: when it is not a key.

    """
    text = text.strip()
    octave = int(found[1]) if (found := _OCTAVE.search(text)) else 0
    if re.match(r"H[Pp]\b", text):
        return replace(with_signature(Key(NoteName.parse("A"), "mixolydian")), octave=octave)
    bare = re.sub(r"[A-Za-z]+=\S*", "", text)
    marked = {letter.upper(): _SIGNS[sign] for sign, letter in _MARKED.findall(bare)}
    match = _KEY.match(text)
    tonic, mode = _tonic_and_mode(match, text)
    if tonic is None:
        if text and not marked and not _OTHER.match(text) and not _CLEF.match(text):
            raise SymbolError(f"'{text[:40]}' is not a key", "write such as K:G, K:Am or K:D mix")
        fresh = not text or re.match("none", text, re.I)
        base = with_signature(Key(NoteName(0))) if fresh or before is None else before
        return AbcKey(base.key, {**base.alters, **marked}, octave or base.octave)
    key = Key(tonic, mode)
    explicit = bool(re.search(r"\bexp", text[match.end(2) :] if match else ""))
    alters = marked if explicit else {**key.alters, **marked}
    alters = {letter: alter for letter, alter in alters.items() if alter}
    modes = (key, *(Key(key.tonic, mode) for mode in MODES))
    named = next((each for each in modes if each.alters == alters), key)
    return AbcKey(named.plain(), alters, octave)


def _tonic_and_mode(match: re.Match[str] | None, text: str) -> tuple[NoteName | None, str]:
    """Return the tonic and the mode; None and "" where the text names no key."""
    if not match:
        return None, ""
    word = match[3]
    if re.match("[#b♯♭0-9]", text[match.end() :]):
        raise SymbolError(f"'{text[:40]}' is not a key", "write such as K:C#, K:Am or K:D mix")
    sign = match[2].replace("♯", "#").replace("♭", "b")
    if word.lower() in ("maj", "major", "exp") or not word or word == "M":
        mode = "major"
    elif word in ("m", "mi") or word.lower()[:3] in _MODES:
        mode = _MODES.get(word.lower()[:3], "minor")
    elif not sign and _CLEF.match(text):  # alto and bass are clefs
        return None, ""
    elif _PROPERTIES.match(word):
        mode = "major"
    else:
        raise SymbolError(
            f"'{text[:40]}' is not a key",
            f"'{word[:20]}' is not a mode: write such as K:Am, K:D mix",
        )
    return NoteName.parse(match[1] + sign), mode


WHOLE = 4 * TICKS_PER_QUARTER
"""Ticks of a whole note."""

MOST_PARTS = 200
"""The most parts in an order of parts, written out."""

_METER = re.compile(r"\(?\s*([0-9]{1,3}(?:\s*\+\s*[0-9]{1,3}){0,9})\s*\)?\s*/\s*([0-9]{1,3})")
_LENGTH = re.compile(r"([0-9]{1,3})\s*/\s*([0-9]{1,4})|([0-9]{1,2})")
_FRACTION = re.compile(r"([0-9]{1,3})\s*/\s*([0-9]{1,3})")
_UNITS = {Fraction(unit.quarters) / 4: name for name, unit in UNITS.items()}


def read_meter(text: str) -> Meter | None:
    """Return the meter of `6/8`, `C`, `C|` or `(2+3)/8`; None for `none` (v2.1, 3.1.6).

    Raises:
        SymbolError: when it is not a meter.

    """
    text = text.strip()
    if text in ("C", "c"):
        return Meter(4, 4)
    if text in ("C|", "c|"):
        return Meter(2, 2)
    if text.lower() in ("none", ""):
        return None
    match = _METER.match(text)
    count = sum(map(int, match[1].split("+"))) if match else 0
    unit = int(match[2]) if match else 0
    if unit == 1:
        count, unit = 2 * count, 2
    if not 1 <= count <= 32 or unit not in (2, 4, 8, 16):
        raise SymbolError(
            f"'{text[:40]}' is not a meter that can be played",
            "write M:4/4, M:6/8, M:C or M:C|, at most 32 of a half, quarter, eighth or sixteenth",
        )
    return Meter(count, unit)


def read_length(text: str) -> Fraction:
    """Return the unit note length, such as `1/8`, in whole notes (v2.1, 3.1.7).

    Raises:
        SymbolError: when it is not a length.

    """
    match = _LENGTH.match(text.strip())
    if match and match[3] and int(match[3]):
        return Fraction(int(match[3]))
    if not match or not int(match[1]) or not int(match[2]) or int(match[2]) > 1024:
        raise SymbolError(f"'{text.strip()[:40]}' is not a length", "write L:1/8 or L:1/4")
    return Fraction(int(match[1]), int(match[2]))


def usual_length(meter: Meter | None) -> Fraction:
    """Return the default unit note length: 1/16 for meters below 3/4, else 1/8 (v2.1, 3.1.7)."""
    short = meter is not None and Fraction(meter.count, meter.unit) < Fraction(3, 4)
    return Fraction(1, 16) if short else Fraction(1, 8)


def read_tempo(text: str, unit: Fraction) -> Tempo | None:
    """Return the tempo of `1/4=120`, `"Allegro" 3/8=80`, `120` or `C3=40` (v2.1, 3.1.8, 10.1).

    Words alone give None.

    Args:
        text: the value of `Q:`.
        unit: the unit note length in whole notes, the beat of a bare number and of `C`.

    Raises:
        SymbolError: when it is not a tempo, or outside 20 to 500 quarter notes a minute.

    """
    bare = re.sub(r'"[^"]*"?', " ", text).strip()
    if not bare:
        return None
    left, equals, right = bare.partition("=")
    number = re.match(r"\s*(?:ca\.?\s*)?([0-9]{1,4}(?:\.[0-9]{1,3})?)", right if equals else left)
    beat = _beat(left, unit) if equals else unit
    if not number or not beat:
        raise SymbolError(f"'{text.strip()[:40]}' is not a tempo", "write such as Q:1/4=120")
    bpm = float(number[1])
    quarters = bpm * float(4 * beat)
    if not SLOWEST_BPM <= quarters <= FASTEST_BPM:
        raise SymbolError(
            f"the tempo '{text.strip()[:40]}' is {quarters:g} quarter notes a minute",
            tempo_range(QUARTER),
        )
    if beat in _UNITS:
        return Tempo(bpm, _UNITS[beat])
    return Tempo(round(quarters, 1))


def _beat(text: str, unit: Fraction) -> Fraction:
    """Return the beat in whole notes, or 0 if there is none."""
    if match := re.match(r"\s*C\s*([0-9]{0,2})", text):
        return unit * int(match[1] or 1)
    return sum(
        (Fraction(int(a), int(b)) for a, b in _FRACTION.findall(text) if int(b)), Fraction(0)
    )


def write_tempo(tempo: Tempo) -> str:
    """Return the value of `Q:` for a tempo."""
    return f"{Fraction(UNITS[tempo.unit].quarters) / 4}={tempo.bpm:g}"


class Spread(StrEnum):
    """The notes of a bar that an accidental applies to besides its own (v2.1, 11.3)."""

    PITCH = "pitch"
    OCTAVE = "octave"
    NOT = "not"


def read_spread(text: str) -> Spread | None:
    """Return the spread that `propagate-accidentals octave` sets; None for other instructions.

    Raises:
        SymbolError: when it is none of not, octave and pitch.

    """
    name, _, value = text.strip().partition(" ")
    if name != "propagate-accidentals":
        return None
    try:
        return Spread(value.strip().lower())
    except ValueError:
        raise SymbolError(
            f"'{text.strip()[:40]}' is not understood: accidentals count in every octave",
            "write not, octave or pitch",
        ) from None


def read_order(text: str) -> tuple[str, ...]:
    """Return the order of parts of `ABAC`, `A2B2`, `((AB)3.C)2` (v2.1, 3.1.9), written out.

    Spaces and dots are ignored.

    Raises:
        SymbolError: when it is not an order, or has more than 200 parts.

    """
    stack: list[list[str]] = [[]]
    group: list[str] = []
    for sign in re.findall(r"[A-Za-z(){}]|[0-9]+|[.\s,;|-]+|.", text.strip()):
        if sign == "(":
            stack.append([])
            group = []
        elif sign == ")" and len(stack) > 1:
            group = stack.pop()
            stack[-1] += group
        elif sign.isalpha():
            group = [sign]
            stack[-1].append(sign)
        elif sign.isdecimal() and group and len(sign) < 4:
            stack[-1] += group * (int(sign) - 1)
            group = []
        elif not re.fullmatch(r"[.\s,;|-]+", sign):
            raise SymbolError(
                f"'{text.strip()[:40]}' is not an order of parts", "write such as P:AABB"
            )
        if len(stack[-1]) > MOST_PARTS or len(stack) > MOST_PARTS:
            raise SymbolError(
                f"the order of parts '{text.strip()[:40]}' is too long",
                f"at most {MOST_PARTS} parts are played",
            )
    if len(stack) > 1:
        raise SymbolError(f"'{text.strip()[:40]}' has an open bracket", "close it: P:(AB)2C")
    return tuple(stack[0])


_MOST_NOTES = 20


@dataclass(slots=True)
class Head:
    """The fields before the music read so far.

    Attributes:
        title, composer, rhythm, notes, order: as in `Tune`.
        key: the key.
        meter: the meter, or None for free time.
        unit: the unit note length in whole notes; `end` sets the default if there is none.
        spread: the notes of a bar that an accidental applies to.
        label: the label of the first part, or "".
        tempo_line, tempo_text: the line and the text of the tempo.
        is_done: whether the music has begun.

    """

    title: str = ""
    composer: str = ""
    rhythm: str = ""
    notes: list[str] = field(default_factory=list)
    order: tuple[str, ...] = ()
    key: AbcKey = field(default_factory=lambda: with_signature(Key(NoteName(0))))
    meter: Meter | None = field(default_factory=lambda: Meter(4, 4))
    unit: Fraction | None = None
    spread: Spread = Spread.PITCH
    label: str = ""
    tempo_line: int = 0
    tempo_text: str = ""
    is_done: bool = False

    def take(self, name: str, value: str, line: int) -> None:
        """Take a field; unknown ones are ignored.

        Raises:
            SymbolError: when its value cannot be read.
        """
        match name:
            case "T" | "C" | "N" | "H" if value:
                self._take_words(name, plain_text(value))
            case "R":
                self.rhythm = plain_text(value)
            case "M":
                self.meter = read_meter(value)
            case "L":
                self.unit = read_length(value)
            case "Q":
                self.tempo_line, self.tempo_text = line, value
            case "P" if re.fullmatch(r"[A-Z]?[a-z]{2,}.*", value):  # a word is a label and no order
                self.label = value
            case "P":
                self.order = read_order(value)
            case "I":
                self.spread = read_spread(value) or self.spread

    def _take_words(self, name: str, words: str) -> None:
        if name == "T" and not self.title:
            self.title = words
        elif name == "C":
            self.composer = self.composer or words
        elif len(self.notes) < _MOST_NOTES:
            self.notes.append(f"also called {words}" if name == "T" else words)

    def end(self) -> None:
        """End the head; the music follows."""
        self.is_done = True
        self.unit = self.unit or usual_length(self.meter)

    def tempo(self) -> Tempo | None:
        """Return the tempo, or None without one. Call `end` first.

        Raises:
            SymbolError: when it cannot be read.
        """
        if not self.tempo_line or self.unit is None:
            return None
        return read_tempo(self.tempo_text, self.unit)
