"""Reads text in double quotes and in exclamation marks (v2.1, 4.14, 4.18, 4.19).

Conventions: a chord may be in brackets, `"(E7)"`, and a bracket may stay open over several signs,
`"(E7"`. Of alternatives in one sign, `"G(Em)"`, `"G or Em"`, `"G/Em"`, the first is played. Other
text is a remark to the player and ignored, unless it is a navigation mark such as `"Fine"`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import lru_cache

from backing.errors import SymbolError
from backing.harmony.chord import Chord, read_chord
from backing.harmony.pitch import other_spellings
from backing.scores.tune import Jump

_NO_CHORD = re.compile(r"(?:n\.?\s?c\.?|no chord|tacet)$", re.I)
_SMALL_BASS = re.compile(r"/([a-g])(?=[#b♯♭]?$)")
_DIMINISHED = re.compile(r"([A-G][#b♯♭]?)([da])(7?)((?:/[A-Ga-g][#b♯♭]?)?)")
_BETWEEN = re.compile(r"\s*(?:\bor\b|[,/|])\s*|\s+")
_LONGEST = 40

_JUMPS = (
    (r"d\.?\s*c\.?\s*al\s*fine|da\s*capo\s*al\s*fine", Jump.DA_CAPO_AL_FINE),
    (r"d\.?\s*s\.?\s*al\s*fine|dal\s*segno\s*al\s*fine", Jump.DAL_SEGNO_AL_FINE),
    (r"d\.?\s*c\.?\s*al\s*coda|da\s*capo\s*al\s*coda", Jump.DA_CAPO_AL_CODA),
    (r"d\.?\s*s\.?\s*al\s*coda|dal\s*segno\s*al\s*coda", Jump.DAL_SEGNO_AL_CODA),
    (r"d\.\s*c\.?|dc|da\s*capo", Jump.DA_CAPO),
    (r"d\.\s*s\.?|ds|dal\s*segno", Jump.DAL_SEGNO),
    (r"to\s*coda|da\s*coda", Jump.TO_CODA),
    (r"fine", Jump.FINE),
    (r"segno", Jump.SEGNO),
    (r"coda", Jump.CODA),
)
"""Expressions for jumps: decorations of v2.1, 4.14, and common practice, no source."""


@lru_cache(1024)
def read_jump(text: str) -> Jump | None:
    """Return the jump that a decoration or annotation names, or None."""
    bare = text.strip("^_<>@ .,()").lower()
    if len(bare) > _LONGEST:
        return None
    found = (jump for pattern, jump in _JUMPS if re.fullmatch(pattern, bare))
    return next(found, None)


@dataclass(frozen=True, slots=True)
class Symbol:
    """A chord sign.

    Attributes:
        text: as written, without brackets around it.
        chord: the chord; None for no chord (N.C.), and for a bass alone.
        bass: a bass alone, such as "F#", which goes under the chord before, or "".
        other: the other possible chord of an ambiguous sign, between which the notes decide.
        inexact: whether a further chord in the sign is ignored.

    """

    text: str
    chord: Chord | None = None
    bass: str = ""
    other: Chord | None = None
    inexact: bool = False


@lru_cache(4096)
def read_symbol(text: str) -> Symbol | None:
    """Return the chord sign in a quoted text, or None if there is none."""
    if not text.strip() or text[0] in "^_<>@" or len(text) > _LONGEST:
        return None
    whole = text.strip()
    bare = re.sub(r"^[(\[]|[)\]]$", "", whole).strip()
    return _read(whole) or (_read(bare) if bare != whole else None)


def _read(whole: str) -> Symbol | None:
    pieces = [piece for piece in re.split(r"[;\n]|\\n", whole) if piece.strip()]
    for index, piece in enumerate(pieces):
        if symbol := _symbol(piece):
            others = any(_symbol(each) for each in pieces[index + 1 :])
            return replace(symbol, text=whole, inexact=symbol.inexact or others)
    return None


def _symbol(piece: str) -> Symbol | None:
    bare = re.sub(r"\s+", "", piece).rstrip("*!?.,:'/|")
    bare = re.sub(r"/([A-Ga-g])\+$", r"/\1#", bare)
    if _NO_CHORD.match(piece.strip()):
        return Symbol(piece)
    if re.fullmatch(r"/[A-Ga-g][#b♯♭]?", bare):
        sign = bare[2:].replace("♯", "#").replace("♭", "b")
        return Symbol(piece, bass=bare[1].upper() + sign)
    if chord := _chord(bare):
        return Symbol(piece, chord)
    if short := _DIMINISHED.fullmatch(bare):
        root, word, seventh, bass = short.groups()
        other = f"{root}aug{seventh}{bass}" if word == "a" else f"{root}dim{seventh}{bass}"
        return Symbol(piece, _chord(f"{root}dim{seventh}{bass}"), other=_chord(other))
    alone = re.match(r"(.+?)\(([^()]*)\)?$", bare)
    if alone and (chord := _chord(alone[1])):
        return Symbol(piece, chord, inexact=_chord(alone[2]) is not None)
    each = [_chord(one) for one in _BETWEEN.split(piece.strip())]
    return Symbol(piece, each[0], inexact=True) if len(each) > 1 and all(each) else None


def _chord(text: str) -> Chord | None:
    text = _SMALL_BASS.sub(lambda found: f"/{found[1].upper()}", text)
    for spelling in (text, *other_spellings(text)):
        try:
            return read_chord(spelling)
        except SymbolError:
            continue
    return None
