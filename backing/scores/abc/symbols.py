"""What stands between double quotes, and between exclamation marks (v2.1, 4.14, 4.18, 4.19).

Conventions: an alternative in parentheses behind a chord, `"G(Em)"`, and a chord that stands in
parentheses alone are printed and not played. Text that is no chord is an annotation and passed
over, unless it is a word of the way through the tune, such as `"Fine"`.
"""

from __future__ import annotations

import re
from functools import lru_cache

from backing.errors import SymbolError
from backing.harmony.chord import Chord, read_chord
from backing.harmony.pitch import other_spellings
from backing.scores.tune import Jump

NO_CHORD = "no chord"
_NO_CHORD = re.compile(r"(?:n\.?\s?c\.?|no chord|tacet)$", re.I)
_SMALL_BASS = re.compile(r"/([a-g])(?=[#b♯♭]?$)")
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
"""Words and the jumps that they are: decorations of v2.1, 4.14, and common practice, no source."""


@lru_cache(1024)
def read_jump(text: str) -> Jump | None:
    """Return the jump that a decoration or an annotation names, or None."""
    bare = text.strip("^_<>@ .,()").lower()
    if len(bare) > _LONGEST:
        return None
    found = (jump for pattern, jump in _JUMPS if re.fullmatch(pattern, bare))
    return next(found, None)


@lru_cache(4096)
def read_symbol(text: str) -> Chord | str | None:
    """Return the chord between double quotes, `NO_CHORD`, or None for what is no chord.

    A bass alone, `/F#`, is returned as text: it goes under the chord before.
    """
    if not text.strip() or text[0] in "^_<>@" or len(text) > _LONGEST:
        return None
    for piece in re.split(r"[;\n]|\\n", text):
        bare = re.sub(r"\s+", "", piece).rstrip("*!?.,:'/|")
        bare = re.sub(r"/([A-Ga-g])\+$", r"/\1#", bare)
        if _NO_CHORD.match(piece.strip()):
            return NO_CHORD
        if re.fullmatch(r"/[A-Ga-g][#b♯♭]?", bare):
            return bare[:1] + bare[1:2].upper() + bare[2:]
        if chord := _chord(bare):
            return chord
        alone = re.match(r"(.+?)\([^()]*\)?$", bare)
        if alone and (chord := _chord(alone[1])):
            return chord
    return None


def _chord(text: str) -> Chord | None:
    text = _SMALL_BASS.sub(lambda found: f"/{found[1].upper()}", text)
    for spelling in (text, *other_spellings(text)):
        try:
            return read_chord(spelling)
        except SymbolError:
            continue
    return None
