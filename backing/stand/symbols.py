"""Chord symbols in pieces for drawing, and in words for screen readers."""

from __future__ import annotations

import re
from dataclasses import dataclass

from backing.errors import SymbolError
from backing.harmony.numbers import small_quality
from backing.harmony.quality import Quality, read_quality
from backing.harmony.signs import NO_CHORD, signed

_SYMBOL = re.compile(
    r"(?:(?P<letter>[A-G])(?P<after>[#b]*)|(?P<before>[#b]*)(?P<degree>[1-7]|[IV]+|[iv]+))"
    r"(?P<minor>(?:m|-)(?!aj))?(?P<quality>.*?)(?:/(?!9)(?P<bass>.+))?"
)
_ACCIDENTALS = {"##": "double sharp", "#": "sharp", "bb": "double flat", "b": "flat"}
_ROMANS = ("I", "II", "III", "IV", "V", "VI", "VII")


@dataclass(frozen=True, slots=True)
class Symbol:
    """The pieces of a chord symbol, with ♯ and ♭.

    Attributes:
        before: the accidental before a number, or "".
        root: a letter or a number; the whole text where it is no chord, such as N.C.
        after: the accidental after a letter, or "".
        minor: `m` or "".
        quality: the raised rest of the quality.
        bass: the note in the bass, or "".
        is_chord: whether it is a chord.
    """

    root: str
    before: str = ""
    after: str = ""
    minor: str = ""
    quality: str = ""
    bass: str = ""
    is_chord: bool = True


def symbol(text: str) -> Symbol:
    """Return the pieces of a chord symbol with a letter, an Arabic or a Roman number."""
    found = _SYMBOL.fullmatch(text)
    if not found:
        return Symbol(text, is_chord=False)
    return Symbol(
        root=found["letter"] or found["degree"],
        before=signed(found["before"] or ""),
        after=signed(found["after"] or ""),
        minor="m" if found["minor"] else "",
        quality=signed(re.sub("^dim", "°", found["quality"])),
        bass=signed(found["bass"] or ""),
    )


def spoken(text: str) -> str:
    """Return a chord symbol in words: `F#m7/E` is F sharp minor 7 over E."""
    found = _SYMBOL.fullmatch(text)
    if not found:
        return "no chord" if text == NO_CHORD else text
    quality = _quality(found)
    if quality is None:
        return text
    degree = found["degree"] or ""
    if degree.upper() in _ROMANS:
        degree = str(_ROMANS.index(degree.upper()) + 1)
    pieces = (
        _in_words(found["before"]),
        found["letter"] or degree,
        _in_words(found["after"]),
        quality.spoken,
        f"over {_in_words(found['bass'])}" if found["bass"] else "",
    )
    return " ".join(" ".join(pieces).split())


def _quality(found: re.Match[str]) -> Quality | None:
    """Return the quality of a chord symbol; None where it is unknown."""
    written = (found["minor"] or "") + found["quality"]
    if (found["degree"] or "").islower():
        return small_quality(written)
    try:
        return read_quality(written)
    except SymbolError:
        return None


def _in_words(note: str | None) -> str:
    return re.sub("##?|bb?", lambda sign: f" {_ACCIDENTALS[sign[0]]} ", note or "")
