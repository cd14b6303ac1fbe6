"""Writes a tune in ABC (v2.1).

Conventions: the unit note length is 1/8 throughout; lengths are exact fractions of it. A line has
four bars. Every accidental that differs from the key, or from an earlier one in the bar, is
written. A bar without notes is rests under its chord signs.
"""

from __future__ import annotations

import re
from fractions import Fraction
from itertools import pairwise
from typing import TYPE_CHECKING

from backing.scores.abc.fields import WHOLE, write_tempo
from backing.scores.tune import Jump

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from backing.chart.melody import MelodyNote
    from backing.harmony.key import Key
    from backing.harmony.pitch import Pitch
    from backing.scores.tune import Tune, TuneBar

_UNIT = WHOLE // 8
_BARS_A_LINE = 4
_SIGNS = {-2: "__", -1: "_", 0: "=", 1: "^", 2: "^^"}
_MODES = {"major": "", "minor": "m"}


def write_abc(tune: Tune, number: int = 1) -> bytes:
    """Return a tune in ABC, in UTF-8; reading it returns the same bars, chords and notes."""
    labels = _labels(tune)
    lines = ["%abc-2.1", *_head(tune, number, labels), *_Body(tune, labels).lines()]
    return ("\n".join(lines) + "\n").encode()


def _labels(tune: Tune) -> dict[str, str]:
    """Return a letter for every label, as an order of parts needs (v2.1, 3.1.9)."""
    if not tune.order:
        return {}
    labels = list(dict.fromkeys(bar.part for bar in tune.bars if bar.part))
    letters = [chr(code) for code in (*range(65, 91), *range(97, 123))]
    kept = {each: each for each in labels if each in letters[:26]}
    free = (each for each in letters if each not in kept)
    return kept | {each: next(free, each) for each in labels if each not in kept}


def _head(tune: Tune, number: int, labels: dict[str, str]) -> Iterator[str]:
    yield f"X:{number}"
    yield f"T:{_text(tune.title)}"
    if tune.composer:
        yield f"C:{_text(tune.composer)}"
    if tune.rhythm:
        yield f"R:{_text(tune.rhythm)}"
    yield from (f"N:{_text(note)}" for note in tune.notes)
    if tune.order:
        yield f"P:{_order([labels.get(each, each) for each in tune.order])}"
    yield f"M:{tune.meter}"
    yield "L:1/8"
    if tune.tempo:
        yield f"Q:{write_tempo(tune.tempo)}"
    yield f"K:{_key(tune.key)}"


def _order(labels: Sequence[str]) -> str:
    """Return an order of parts; dots separate letters that could be read as a word."""
    joined = "".join(labels)
    return ".".join(labels) if re.match("[A-Z]?[a-z]{2}", joined) else joined


def _text(text: str) -> str:
    """Return text with the special characters of ABC escaped (v2.1, 8.2)."""
    plain = " ".join(text.split())
    return re.sub(r"([%\\&])", r"\\\1", plain)


def _key(key: Key) -> str:
    return f"{key.tonic}{_MODES.get(key.mode, ' ' + key.mode)}"


class _Body:
    """Writes the bars of a tune."""

    def __init__(self, tune: Tune, labels: dict[str, str]) -> None:
        self._tune, self._labels = tune, labels
        self._key, self._meter = tune.key, tune.meter
        self._tied: set[tuple[str, int]] = set()

    def lines(self) -> Iterator[str]:
        """Yield the lines of music with the fields between them."""
        row: list[str] = []
        count = 0
        bars = self._tune.bars
        for index, bar in enumerate(bars):
            fields = self._fields(bar)
            if fields or count == _BARS_A_LINE:
                yield from (["".join(row)] if row else [])
                row, count = [], 0
                yield from fields
            behind = bars[index + 1] if index + 1 < len(bars) else None
            row.append(self._opening(bar) + self._bar(bar) + self._closing(bar, behind))
            count += not bar.is_short
        yield "".join(row)

    def _fields(self, bar: TuneBar) -> list[str]:
        """Return the fields before a bar: label, key, meter, tempo (v2.1, 3.2)."""
        fields = []
        if bar.part:
            fields.append(f"P:{self._labels.get(bar.part, bar.part)}")
        if bar.meter != self._meter:
            fields.append(f"M:{bar.meter}")
        if bar.key != self._key:
            fields.append(f"K:{_key(bar.key)}")
        if bar.tempo:
            fields.append(f"Q:{write_tempo(bar.tempo)}")
        self._key, self._meter = bar.key, bar.meter
        return fields

    def _opening(self, bar: TuneBar) -> str:
        ending = f"[{','.join(map(str, bar.ending))} " if bar.ending else ""
        signs = "".join(_decoration(each) for each in bar.jumps if each.is_before)
        return ("|:" if bar.opens else "") + ending + signs

    def _closing(self, bar: TuneBar, behind: TuneBar | None) -> str:
        words = "".join(_decoration(each) for each in bar.jumps if not each.is_before)
        if bar.closes:
            return f"{words}{':' * (bar.closes - 1)}| "
        if behind is None:
            return f"{words}|]"
        return f"{words}{'||' if bar.double else '|'} "

    def _bar(self, bar: TuneBar) -> str:
        """Return the notes and signs of a bar, with spaces between beats."""
        alters = _Alters(bar.key, self._tied)
        self._tied = {_place(n.pitch) for n in bar.notes if n.tied and n.end == bar.ticks}
        text = ""
        chords = {each.tick: each.chord for each in bar.chords}
        events = _events(bar)
        tuplets = _tuplets([Fraction(end - start, _UNIT) for start, end, _ in events])
        for (start, end, notes), (prefix, factor) in zip(events, tuplets, strict=True):
            sign = f'"{chords[start] or "N.C."}"' if start in chords else ""
            on_beat = start and start % bar.meter.beat_ticks == 0 and factor == 1
            sound = _sound(notes, start, end, factor, alters)
            alters.end_ties()
            text += f"{' ' if on_beat or prefix else ''}{sign}{prefix}{sound}"
        return f"{text.strip()} "


def _decoration(jump: Jump) -> str:
    """Return the decoration of a navigation mark (v2.1, 4.14)."""
    return "!dacoda!" if jump is Jump.TO_CODA else f"!{jump.replace(' ', '')}!"


def _tuplets(lengths: list[Fraction]) -> list[tuple[str, Fraction]]:
    """Return for each length the sign of the tuplet that begins there, or "", and its factor.

    Lengths in thirds or fifths of a note form tuplets until their sum has no such fraction.
    """
    found = [("", Fraction(1)) for _ in lengths]
    at = 0
    while at < len(lengths):
        first = next((n for n in (3, 5) if lengths[at].denominator % n == 0), 0)
        end = at + 1
        while first and end < len(lengths) and sum(lengths[at:end]).denominator % first == 0:
            end += 1
        even = first and sum(lengths[at:end]).denominator % first and end - at <= 9
        if even:
            times = first - 1
            count = "" if first == end - at == 3 else f":{times}:{end - at}"
            for index in range(at, end):
                found[index] = (f"({first}{count}" if index == at else "", Fraction(first, times))
        at = end if even else at + 1
    return found


def _events(bar: TuneBar) -> list[tuple[int, int, tuple[MelodyNote, ...]]]:
    """Return start, end and notes of consecutive events; a chord sign splits a note."""
    edges = {0, bar.ticks, *(each.tick for each in bar.chords)}
    edges |= {tick for note in bar.notes for tick in (note.tick, min(note.end, bar.ticks))}
    ordered = sorted(edge for edge in edges if 0 <= edge <= bar.ticks)
    return [
        (start, end, tuple(n for n in bar.notes if n.tick <= start and n.end >= end))
        for start, end in pairwise(ordered)
    ]


def _sound(
    notes: Sequence[MelodyNote], start: int, end: int, factor: Fraction, alters: _Alters
) -> str:
    """Return simultaneous notes, or a rest, between two ticks of a bar."""
    written = _length(Fraction(end - start, _UNIT) * factor)
    if not notes:
        return f"z{written}"
    begun = (note.graces for note in notes if note.tick == start)
    graces = "".join(alters.note(pitch) for pitches in begun for pitch in pitches)
    before = f"{{{graces}}}" if graces else ""
    names = [alters.note(note.pitch) for note in notes]
    ties = ["-" * (note.end > end or note.tied) for note in notes]
    if len(names) == 1:
        return f"{before}{names[0]}{written}{ties[0]}"
    together = "".join(name + tie for name, tie in zip(names, ties, strict=True))
    return f"{before}[{together}]{written}"


def _length(length: Fraction) -> str:
    if length == 1:
        return ""
    below = f"/{length.denominator}" if length.denominator > 1 else ""
    return f"{length.numerator if length.numerator > 1 or not below else ''}{below}"


class _Alters:
    """The accidentals that hold in a bar.

    Some programs apply an accidental to its octave alone, so it is repeated in another octave. One
    of a note tied over the bar line may hold on to the first note, so it is written again.
    """

    def __init__(self, key: Key, tied: Iterable[tuple[str, int]]) -> None:
        self._usual = key.alters
        self._letters: dict[str, int] = {}
        self._places: dict[tuple[str, int], int] = {}
        self._tied = set(tied)

    def end_ties(self) -> None:
        """Drop the accidentals tied over from the bar before."""
        self._tied.clear()

    def note(self, pitch: Pitch) -> str:
        """Return a note, with its accidental if needed."""
        place = _place(pitch)
        letter, octave = place
        alter, usual = pitch.name.alter, self._usual.get(letter, 0)
        held = {self._letters.get(letter, usual), self._places.get(place, usual)}
        sign = ""
        if held != {alter} or place in self._tied:
            sign = _SIGNS[alter]
            self._letters[letter] = self._places[place] = alter
        if octave >= 5:
            return sign + letter.lower() + "'" * (octave - 5)
        return sign + letter + "," * (4 - octave)


def _place(pitch: Pitch) -> tuple[str, int]:
    """Return the letter and the octave of a pitch."""
    return pitch.name.letter, pitch.octave
