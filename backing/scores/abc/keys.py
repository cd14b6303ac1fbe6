"""Reads the value of `K:` (v2.1, 3.1.14 and 4.6)."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace

from backing.errors import SymbolError
from backing.harmony.key import MODES, Key
from backing.harmony.pitch import NoteName

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
    return AbcKey(_key_with(key, alters).plain(), alters, octave)


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


def _key_with(key: Key, alters: dict[str, int]) -> Key:
    """Return the key on the same tonic whose signature has these alterations, else the key."""
    modes = (key, *(Key(key.tonic, mode) for mode in MODES))
    return next((each for each in modes if each.alters == alters), key)
