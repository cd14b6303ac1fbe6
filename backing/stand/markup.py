"""Markup for the page, from the folder `templates`; chord symbols in pieces, and in words.

All markup with users' texts is made here, and Jinja escapes them; the page's scripts make no markup
from text.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from backing.errors import SymbolError
from backing.harmony.numbers import small_quality
from backing.harmony.quality import Quality, read_quality
from backing.harmony.signs import NO_CHORD, signed
from backing.out.note_sign import tempo_html

if TYPE_CHECKING:
    from collections.abc import Iterable

    from backing.timing import Tempo


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


_TEMPLATES = Environment(
    loader=PackageLoader("backing.stand"), autoescape=True, undefined=StrictUndefined
)
_TEMPLATES.filters["symbol"] = symbol


def render(template: str, **values: object) -> str:
    """Return a template of the page with its values.

    Args:
        template: its name without suffix.
        values: its variables.
    """
    return _TEMPLATES.get_template(f"{template}.html").render(**values)


@lru_cache(1024)
def symbol_markup(text: str) -> str:
    """Return a chord symbol as markup."""
    module: Any = _TEMPLATES.get_template("symbol.html").module
    return str(module.symbol(text))


def tempo_markup(tempo: Tempo | None) -> Markup:
    """Return a tempo as markup with its note drawn; "" for None."""
    return Markup(tempo_html(tempo)) if tempo else Markup()


def joined(pieces: Iterable[str | Markup], between: str = " · ") -> Markup:
    """Return texts, which are escaped, and markup joined; empty pieces are left out."""
    return Markup(between).join(each for each in pieces if each)
