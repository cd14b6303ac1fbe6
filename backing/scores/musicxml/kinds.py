"""Maps the chord kinds of MusicXML to qualities and back.

Conventions: a kind and its degrees are a set of degrees above the root; the quality is the one with
these degrees. An added or subtracted degree is relative to the dominant chord (a plain 7 is b7), an
altered one to the degree of the kind (MusicXML 4.0, `degree-alter`). In a chord with a third a
second is a ninth and a fourth an eleventh. The written root of the functional sixths is the tonic,
as music21 reads them; MusicXML leaves it open. Other sets of degrees become the nearest quality,
with a remark.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, lru_cache

from backing.harmony.pitch import Degree
from backing.harmony.quality import Quality, quality_of, read_quality, table

NO_CHORD = "none"
OTHER = "other"

#  kind                quality
_KINDS = """
  major
  minor                m
  augmented            aug
  diminished           dim
  dominant             7
  major-seventh        maj7
  minor-seventh        m7
  diminished-seventh   dim7
  augmented-seventh    aug7
  half-diminished      m7b5
  major-minor          mmaj7
  major-sixth          6
  minor-sixth          m6
  dominant-ninth       9
  major-ninth          maj9
  minor-ninth          m9
  dominant-11th        11
  major-11th           maj11
  minor-11th           m11
  dominant-13th        13
  major-13th           maj13
  minor-13th           m13
  suspended-second     sus2
  suspended-fourth     sus4
  power                5
"""

#  kind         root above the written root, quality, bass above the new root
_NEAR_KINDS = """
  Neapolitan   b2  maj    3
  Italian      b6  7      1
  French       b6  7b5    1
  German       b6  7      1
  pedal        1   5      1
  Tristan      1   m7b5   1
"""

_SLIPS = {
    "minor-major": "major-minor",
    "dominant-seventh": "dominant",
    "half-diminished-seventh": "half-diminished",
    "sus2": "suspended-second",
    "sus4": "suspended-fourth",
}
"""Invalid names of kinds found in files (seen in music21's corpus, or from memory)."""

_EXTRA = {3: 2, 5: 1, 7: 2}
_MISSING = {3: 4, 5: 1, 7: 4}
"""Costs of an extra and of a missing degree in the search for the nearest; others below."""
_OTHER_EXTRA, _OTHER_MISSING = 3, 2

_ROOT = Degree(1, 0)
_TENSIONS = tuple(map(Degree.parse, ("b9", "9", "#9", "11", "#11", "b13", "13")))


@dataclass(frozen=True, slots=True)
class Kind:
    """The meaning of a chord kind.

    Attributes:
        quality: its quality.
        root: its root above the written one.
        bass: its bass above its root.
        exact: whether the quality expresses all of it.

    """

    quality: Quality
    root: Degree = _ROOT
    bass: Degree = _ROOT
    exact: bool = True


@dataclass(frozen=True, slots=True)
class DegreeChange:
    """A `degree` element.

    Attributes:
        action: add, alter or subtract.
        number: 1 to 13.
        alter: semitones, -2 to 2, relative to the degree that the module's head defines.

    """

    action: str
    number: int
    alter: int


@cache
def _kinds() -> dict[str, Kind]:
    found = {}
    for line in _KINDS.strip("\n").splitlines():
        kind, *quality = line.split()
        found[kind] = Kind(read_quality("".join(quality)))
    for line in _NEAR_KINDS.strip("\n").splitlines():
        kind, root, name, bass = line.split()
        found[kind.lower()] = Kind(
            read_quality(name), Degree.parse(root), Degree.parse(bass), exact=False
        )
    return found


def read_kind(name: str) -> Kind | None:
    """Return the meaning of a kind, ignoring case; None for `other` and unknown names."""
    bare = name.strip().lower()
    return _kinds().get(_SLIPS.get(bare, bare))


def changed(quality: Quality | None, changes: list[DegreeChange]) -> frozenset[Degree]:
    """Return the degrees of a quality, or of the root alone, with changes applied."""
    degrees = set(quality.degrees) if quality else {_ROOT}
    for change in changes:
        there = {each for each in degrees if each.number == change.number}
        if change.action == "subtract":
            degrees -= there
        elif change.action == "alter" and there:
            degrees -= there
            degrees.add(Degree(change.number, min(there).alter + change.alter))
        else:
            degrees.add(Degree(change.number, change.alter + _in_dominant(change.number)))
    return frozenset(degrees)


def _in_dominant(number: int) -> int:
    """Return the semitones by which a degree of the dominant chord differs from the major scale."""
    return -1 if number == 7 else 0


def named(degrees: frozenset[Degree]) -> Quality | None:
    """Return the quality with these degrees, or None if there is none."""
    return next((found for each in _spelled(degrees) if (found := quality_of(each))), None)


def misses_third(degrees: frozenset[Degree], quality: Quality) -> bool:
    """Whether a quality is suspended where these degrees have a ninth or eleventh and no third."""
    suspended = {each.number for each in quality.degrees} & {2, 4}
    return not suspended <= {each.number for each in degrees}


def _spelled(degrees: frozenset[Degree]) -> list[frozenset[Degree]]:
    """Return the degrees as written, and with seconds, fourths and sixths moved by an octave."""
    has_third = any(each.number == 3 for each in degrees)
    up = {2: 9, 4: 11} if has_third else {}
    downs = ({},) if has_third else ({}, {11: 4}, {9: 2}, {9: 2, 11: 4})
    found = [degrees]
    for sixth in ({}, {6: 13}, {13: 6}):
        for down in downs:
            moves = {**up, **down, **sixth}
            found.append(frozenset(Degree(moves.get(d.number, d.number), d.alter) for d in degrees))
    return found


@lru_cache(1024)
def nearest(degrees: frozenset[Degree]) -> Quality:
    """Return the quality closest to these degrees."""
    ranked = sorted(_candidates(), key=lambda each: _difference(degrees, each))
    return next(found for each in ranked if (found := quality_of(each)))


@cache
def _candidates() -> tuple[frozenset[Degree], ...]:
    """Return the degrees of every quality, and of each with one alteration or tension."""
    bases = list(dict.fromkeys(frozenset(each.degrees) for each in table().values()))
    fifths = [(Degree(5, 0), Degree(5, -1)), (Degree(5, 0), Degree(5, 1))]
    altered = [base - {old} | {new} for base in bases for old, new in fifths if old in base]
    added = [base | {new} for base in bases for new in _TENSIONS]
    return tuple(dict.fromkeys((*bases, *altered, *added)))


def _difference(degrees: frozenset[Degree], other: frozenset[Degree]) -> int:
    wanted = {each.semitones % 12: each for each in degrees}
    there = {each.semitones % 12: each for each in other}
    extra = (there[key].number for key in there.keys() - wanted.keys())
    missing = (wanted[key].number for key in wanted.keys() - there.keys())
    return sum(_EXTRA.get(number, _OTHER_EXTRA) for number in extra) + sum(
        _MISSING.get(number, _OTHER_MISSING) for number in missing
    )


@lru_cache(4096)
def kind_of(quality: Quality) -> tuple[str, tuple[DegreeChange, ...]]:
    """Return the kind of a quality and the fewest changes to it."""
    plain = (line.split()[0] for line in _KINDS.strip("\n").splitlines())
    found = [(kind, tuple(_changes(_kinds()[kind].quality, quality))) for kind in plain]
    return min(found, key=lambda each: len(each[1]))


def _changes(kind: Quality, wanted: Quality) -> list[DegreeChange]:
    changes = []
    numbers = sorted({each.number for each in (*kind.degrees, *wanted.degrees)})
    for number in numbers:
        there = kind.degree(number)
        to = [each.alter for each in wanted.degrees if each.number == number]
        if there and there.alter in to:
            to.remove(there.alter)
        elif there and to:
            changes.append(DegreeChange("alter", number, to.pop(0) - there.alter))
        elif there:
            alter = there.alter - _in_dominant(number)
            changes.append(DegreeChange("subtract", number, alter))
        changes += [DegreeChange("add", number, each - _in_dominant(number)) for each in to]
    return changes
