"""The chord signs of a bar, and text in quotes and exclamation marks (v2.1, 4.14, 4.18, 4.19).

Conventions (our choices; the standard leaves them to the program): a chord may be in brackets,
`"(E7)"`, and a bracket may stay open over several signs, `"(E7"`. Of alternatives in one sign,
`"G(Em)"`, `"G or Em"`, `"G/Em"`, and of several signs at one place, the first is used. Other text
is a remark to the player and ignored, unless it is a navigation mark such as `"Fine"`. A sign after
the last note of its bar moves to the next bar, unless that begins with its own. In a bar without
notes the signs share it evenly. A root followed by `d` or `a` is diminished; `a` is augmented where
the notes below it fit that better.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import groupby
from typing import TYPE_CHECKING, TypeAlias

from backing.errors import SymbolError
from backing.harmony.chord import Chord, read_chord
from backing.harmony.pitch import NoteName, other_spellings
from backing.scores.abc.fields import WHOLE
from backing.scores.tune import Jump, TuneChord

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from fractions import Fraction

    from backing.harmony.pitch import Pitch
    from backing.timing import Meter

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


Onset: TypeAlias = "tuple[Fraction, Sequence[Pitch]]"
"""Notes that begin together, after their start in whole notes from the bar line."""


@dataclass(slots=True)
class _Sign:
    at: Fraction
    symbol: Symbol


class ChordSigns:
    """Collects the chord signs of a voice, bar by bar."""

    def __init__(self, remark: Callable[[str], None]) -> None:
        self._remark = remark
        self._signs: list[_Sign] = []
        self._late: list[_Sign] = []
        self._before: Chord | None = None

    def __bool__(self) -> bool:
        return bool(self._signs)

    def add(self, at: Fraction, symbol: Symbol) -> None:
        """Add a sign at a place in the bar, in whole notes."""
        self._signs.append(_Sign(at, symbol))

    def add_bass(self, at: Fraction, symbol: Symbol) -> None:
        """Put a bass alone, `/F#`, under the chord before."""
        last = self._signs[-1] if self._signs else None
        chord = last.symbol.chord if last else self._before
        if chord is None:
            self._remark(f"'{symbol.text}' has no chord before it: left out")
            return
        bass = NoteName.parse(symbol.bass)
        chord = replace(chord, bass=None if bass == chord.root else bass)
        if last and last.at == at:
            last.symbol = replace(last.symbol, chord=chord)
        else:
            self.add(at, replace(symbol, chord=chord))

    def move(self, old: Fraction, new: Fraction) -> None:
        """Move the signs at a place, when the note before them has changed its length."""
        for sign in self._signs:
            if sign.at == old:
                sign.at = new

    def take(
        self, length: Fraction, meter: Meter, onsets: Sequence[Onset]
    ) -> tuple[TuneChord, ...]:
        """Return the signs of the current bar and start the next.

        Args:
            length: the length of the bar in whole notes; 0 if it has no notes.
            meter: its meter.
            onsets: its notes.

        """
        signs = self._shared(meter) if not length else self._in_time(length, onsets)
        if self._signs:
            self._before = self._signs[-1].symbol.chord
        self._signs = []
        return tuple(signs)

    def finish(self) -> None:
        """Remark the signs after the last note of the tune."""
        for sign in self._late:
            self._remark(_late(sign, "left out"))

    def _shared(self, meter: Meter) -> list[TuneChord]:
        """Return the signs of a bar without notes, evenly spaced."""
        ticks = meter.bar_ticks
        count = len(self._signs)
        return [
            TuneChord(index * ticks // count, sign.symbol.chord)
            for index, sign in enumerate(self._signs)
        ]

    def _in_time(self, length: Fraction, onsets: Sequence[Onset]) -> list[TuneChord]:
        early = [sign for sign in self._signs if sign.at < length]
        signs = [*self._from_bar_before(early), *early]
        self._late = [sign for sign in self._signs if sign.at >= length]
        places = [list(group) for _, group in groupby(signs, key=lambda sign: sign.at)]
        found: dict[int, Chord | None] = {}
        for index, (first, *others) in enumerate(places):
            if any(each.symbol.chord != first.symbol.chord for each in others):
                named = " and ".join(f"'{each.symbol.text}'" for each in (first, *others))
                self._remark(f"{named} stand at one place: the first is used")
            end = places[index + 1][0].at if index + 1 < len(places) else length
            below = [each for start, group in onsets if first.at <= start < end for each in group]
            found.setdefault(round(first.at * WHOLE), self._chord(first.symbol, below))
        return [TuneChord(tick, chord) for tick, chord in sorted(found.items())]

    def _from_bar_before(self, early: list[_Sign]) -> list[_Sign]:
        """Return the signs after the last note of the bar before, unless this bar has its own."""
        has_own = any(not sign.at for sign in early)
        for sign in self._late:
            self._remark(_late(sign, "left out" if has_own else "moved to the next"))
        return [] if has_own else [replace(sign, at=sign.at * 0) for sign in self._late]

    def _chord(self, symbol: Symbol, below: list[Pitch]) -> Chord | None:
        """Return the chord of a sign; the notes below decide where it is ambiguous."""
        if symbol.chord is None or symbol.other is None:
            return symbol.chord
        classes = {pitch.name.pitch_class for pitch in below}
        first, other = symbol.chord.pitch_classes, symbol.other.pitch_classes
        is_other = len(classes & (other - first)) > len(classes & (first - other))
        chord = symbol.other if is_other else symbol.chord
        self._remark(f"'{symbol.text}' is read as {chord}: correct the chart if that is wrong")
        return chord


def _late(sign: _Sign, what: str) -> str:
    return f"'{sign.symbol.text}' stands after the last note of its bar: {what}"
