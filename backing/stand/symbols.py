"""Chord symbols as players read them, in pieces for the eye, and in words for the ear."""

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
    """A chord's text in pieces, with real sharps and flats.

    Attributes:
        before: the accidental before a number.
        root: a letter or a number; the whole text for what is no chord, such as N.C.
        after: the accidental behind a letter.
        minor: `m` or nothing.
        quality: what is raised behind the root.
        bass: the note in the bass, or nothing.
        is_chord: whether it is one.
    """

    root: str
    before: str = ""
    after: str = ""
    minor: str = ""
    quality: str = ""
    bass: str = ""
    is_chord: bool = True


def symbol(text: str) -> Symbol:
    """Return the pieces of a chord's text: letters, numbers or Roman."""
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
    """Return a chord's text as it is said: `F#m7/E` is F sharp minor 7 over E."""
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
    """Return the quality behind a root, or None where there is none such."""
    written = (found["minor"] or "") + found["quality"]
    if (found["degree"] or "").islower():
        return small_quality(written)
    try:
        return read_quality(written)
    except SymbolError:
        return None


def _in_words(note: str | None) -> str:
    return re.sub("##?|bb?", lambda sign: f" {_ACCIDENTALS[sign[0]]} ", note or "")
