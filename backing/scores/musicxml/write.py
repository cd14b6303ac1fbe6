"""Writes a tune as a score in MusicXML 4.0.

Conventions: one part, partwise. An order of parts is written out, for MusicXML has only repeats and
jumps. A chord sign precedes the note or rest over which it begins, with an offset if it begins
later. Without a melody, bars with chords have unpitched slashes without stems, one a beat, in a
part at volume 0; a silent bar is one rest. A row has four bars; the name of the part is hidden.
"""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import groupby
from math import gcd
from typing import TYPE_CHECKING
from xml.etree import ElementTree

from backing.chart.melody import one_line
from backing.scores.musicxml.notes import (
    MusicWriter,
    add,
    add_direction,
    add_jump,
    add_tempo,
)
from backing.scores.musicxml.parse import packed
from backing.scores.musicxml.pieces import offsets, pieces_of, slashes_of
from backing.scores.musicxml.read import NOTE, RHYTHM
from backing.scores.normalise import with_pickups
from backing.scores.parts import times_played
from backing.scores.sections import sections_of
from backing.scores.tune import Remarks
from backing.timing import TICKS_PER_QUARTER

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backing.harmony.chord import Chord
    from backing.scores.tune import Tune, TuneBar

_BARS_A_ROW = 4

_MOST_NOTES = 40
"""The most notes in a row of five bars; the engraver in the tests crowds more than that."""


def row_starts(bars: Sequence[TuneBar], offsets: Sequence[int]) -> set[int]:
    """Return the indices of the bars that begin a row, without the first bar.

    Every part begins a row. Pickups are not counted, and the pieces of a measure stay together. A
    last ending of one bar stays with the ending before it: as a fifth bar, or both in the next row
    where that would crowd this one.

    Args:
        bars: the bars of the score.
        offsets: the tick in its whole measure at which each begins.

    """
    found: set[int] = set()
    start = count = 0
    for index, (bar, offset) in enumerate(zip(bars, offsets, strict=True)):
        full = count >= _BARS_A_ROW and not _is_rest_of(bars[index - 1], bar)
        if full and count == _BARS_A_ROW and _is_lone(bars, index):
            crowded = sum(len(each.notes) for each in bars[start : index + 1]) > _MOST_NOTES
            begins = _first_ending(bars, index) if crowded else start
        else:
            begins = index if index and (bar.part or full) else start
        if begins > start:
            found.add(begins)
            count = sum(not each for each in offsets[begins:index])
            start = begins
        count += not offset
    return found


def _is_lone(bars: Sequence[TuneBar], index: int) -> bool:
    """Whether a bar is a later ending and the last bar of its part or repeat."""
    bar, behind = bars[index], bars[index + 1 : index + 2]
    is_later = bool(bar.ending) and bars[index - 1].ending_stops
    return is_later and (bar.double or not behind or bool(behind[0].part or behind[0].opens))


def _first_ending(bars: Sequence[TuneBar], index: int) -> int:
    """Return the index of the last bar before this one that begins an ending."""
    return max(n for n in range(index) if bars[n].ending)


def _is_rest_of(before: TuneBar, bar: TuneBar) -> bool:
    """Whether a bar is the second half of a measure."""
    full = before.is_short and before.ticks + bar.ticks == bar.meter.bar_ticks
    return full and not (before.closes or bar.opens)


class MeasureWriter:
    """Writes the bars of a part one by one.

    Args:
        part: the `part` element.
        divisions: divisions of a quarter note.
        low: whether the melody is written in the bass clef.
        slashes: whether there is no melody, so that bars with chords are written in slashes.

    """

    def __init__(
        self, part: ElementTree.Element, divisions: int, *, low: bool, slashes: bool
    ) -> None:
        self._part, self._divisions = part, divisions
        self._low, self._slashes = low, slashes
        self._number = 0
        self._ending: tuple[int, ...] = ()
        self._chord: Chord | None = None

    def measure(
        self,
        bar: TuneBar,
        before: TuneBar | None,
        after: TuneBar | None,
        *,
        offset: int,
        new_row: bool,
    ) -> None:
        """Write a bar.

        Args:
            bar: the bar.
            before: the bar before it, or None.
            after: the bar after it, or None.
            offset: the tick in its whole measure at which it begins.
            new_row: whether it begins a row.

        """
        measure = add(self._part, "measure")
        if bar.is_short:
            number = f"X{self._number}" if before else "0"
            measure.attrib = {"number": number, "implicit": "yes"}
        else:
            self._number += 1
            measure.set("number", str(self._number))
        if new_row:
            add(measure, "print", **{"new-system": "yes"})
        self._left(measure, bar)
        self._attributes(measure, bar, before)
        if bar.part:
            add_direction(measure, "rehearsal", bar.part)
        if bar.tempo:
            add_tempo(measure, bar.tempo)
        for jump in bar.jumps:
            if jump.is_before:
                add_jump(measure, jump)
        tied = {note.pitch for note in (before.notes if before else ()) if note.tied}
        music = MusicWriter(measure, bar, offset, tied, self._divisions)
        if self._slashes and self._is_played(bar):
            music.write_slashes()
        else:
            music.write()
        for jump in bar.jumps:
            if not jump.is_before:
                add_jump(measure, jump)
        self._right(measure, bar, after)

    def _is_played(self, bar: TuneBar) -> bool:
        """Whether any chord sounds in a bar; store its last chord."""
        played = self._chord is not None and not (bar.chords and not bar.chords[0].tick)
        played = played or any(sign.chord for sign in bar.chords)
        self._chord = bar.chords[-1].chord if bar.chords else self._chord
        return played

    def _left(self, measure: ElementTree.Element, bar: TuneBar) -> None:
        if not (bar.opens or bar.ending):
            return
        line = add(measure, "barline", location="left")
        if bar.opens:
            add(line, "bar-style", "heavy-light")
        if bar.ending:
            self._ending = bar.ending
            add(line, "ending", number=_numbers(bar.ending), type="start")
        if bar.opens:
            add(line, "repeat", direction="forward")

    def _right(self, measure: ElementTree.Element, bar: TuneBar, after: TuneBar | None) -> None:
        stops = self._ending and bar.ends_ending(after)
        style = (
            "light-heavy" if bar.closes or after is None else "light-light" if bar.double else ""
        )
        if not (stops or style):
            return
        line = add(measure, "barline", location="right")
        if style:
            add(line, "bar-style", style)
        if stops:
            kind = "stop" if bar.closes else "discontinue"
            add(line, "ending", number=_numbers(self._ending), type=kind)
            self._ending = ()
        if bar.closes:
            repeat = add(line, "repeat", direction="backward")
            if bar.closes != 2:
                repeat.set("times", str(bar.closes))

    def _attributes(
        self, measure: ElementTree.Element, bar: TuneBar, before: TuneBar | None
    ) -> None:
        key = before is None or before.key != bar.key
        meter = before is None or before.meter != bar.meter
        if not (key or meter):
            return
        group = add(measure, "attributes")
        if before is None:
            add(group, "divisions", self._divisions)
        if key:
            add(group, "key", {"fifths": bar.key.signature, "mode": bar.key.mode})
        if meter:
            add(group, "time", {"beats": bar.meter.count, "beat-type": bar.meter.unit})
        if before is None:
            sign, line = ("F", 4) if self._low else ("G", 2)
            add(group, "clef", {"sign": sign, "line": line})


def _numbers(times: Sequence[int]) -> str:
    return ", ".join(map(str, times))


_HEAD = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">\n'
)
_NO_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_MIDDLE_OF_STAVES = 55


def write_musicxml(tune: Tune) -> bytes:
    """Return a tune as a score, in UTF-8; reading it returns the same bars, chords and notes."""
    bars = [_in_voice(bar) for bar in in_order(tune)]
    root = ElementTree.Element("score-partwise", version="4.0")
    _head(root, tune, silent=_is_silent(bars))
    part = add(root, "part", id="P1")
    starts = offsets(bars)
    rows = row_starts(bars, starts)
    divisions = _divisions(bars, starts)
    writer = MeasureWriter(part, divisions, low=_is_low(bars), slashes=_is_silent(bars))
    for index, bar in enumerate(bars):
        before = bars[index - 1] if index else None
        after = bars[index + 1] if index + 1 < len(bars) else None
        tempo = bar.tempo or (tune.tempo if before is None else None)
        writer.measure(
            replace(bar, tempo=tempo), before, after, offset=starts[index], new_row=index in rows
        )
    ElementTree.indent(root)
    text = ElementTree.tostring(root, encoding="unicode")
    return f"{_HEAD}{text}\n".encode()


def write_mxl(tune: Tune) -> bytes:
    """Return a tune as a compressed score, `.mxl`."""
    return packed(write_musicxml(tune))


def in_order(tune: Tune) -> list[TuneBar]:
    """Return the bars of a tune with its order of parts written out."""
    if not tune.order:
        return list(tune.bars)
    parts: dict[str, list[TuneBar]] = {}
    label = ""
    for bar in tune.bars:
        label = bar.part or label
        parts.setdefault(label, []).append(bar)
    found: list[TuneBar] = []
    for name, run in groupby(tune.order):
        bars = parts.get(name, [])
        repeats = {section.times for section in with_pickups(sections_of(bars, Remarks()))}
        found += bars * times_played(len(list(run)), repeats)
    return found or list(tune.bars)


def _in_voice(bar: TuneBar) -> TuneBar:
    """Return a bar with a monophonic melody, without notes below octave 0."""
    audible = [note for note in bar.notes if note.pitch.octave >= 0]
    return replace(bar, notes=one_line(audible), part=clean(bar.part))


def _divisions(bars: Sequence[TuneBar], starts: Sequence[int]) -> int:
    """Return the fewest divisions of a quarter note in which all times of the bars are whole."""
    ticks = {TICKS_PER_QUARTER}
    for bar, start in zip(bars, starts, strict=True):
        ticks |= {bar.ticks, *(sign.tick for sign in bar.chords)}
        pieces = [*pieces_of(bar, start), *slashes_of(bar, start)]
        ticks |= {time for piece in pieces for time in (piece.tick, piece.end)}
    return TICKS_PER_QUARTER // gcd(*ticks)


def _is_low(bars: Sequence[TuneBar]) -> bool:
    keys = sorted(note.pitch.key for bar in bars for note in bar.notes)
    return bool(keys) and keys[len(keys) // 2] < _MIDDLE_OF_STAVES


def _is_silent(bars: Sequence[TuneBar]) -> bool:
    return not any(bar.notes for bar in bars)


def clean(text: str) -> str:
    """Return a text without the characters that XML does not allow."""
    return _NO_XML.sub("", text).strip()


def _head(root: ElementTree.Element, tune: Tune, *, silent: bool) -> None:
    title = clean(tune.title)
    if title:
        add(add(root, "work"), "work-title", title)
    identity = add(root, "identification")
    if clean(tune.composer):
        add(identity, "creator", clean(tune.composer), type="composer")
    add(add(identity, "encoding"), "software", "backing")
    fields = [(RHYTHM, tune.rhythm)] if tune.rhythm else []
    fields += [(NOTE, note) for note in tune.notes]
    if fields:
        group = add(identity, "miscellaneous")
        for name, text in fields:
            add(group, "miscellaneous-field", clean(text), name=name)
    listed = add(add(root, "part-list"), "score-part", id="P1")
    name = "Chords" if silent else "Melody"
    add(listed, "part-name", name, **{"print-object": "no"})
    if silent:
        add(add(listed, "score-instrument", id="P1-I1"), "instrument-name", name)
        add(add(listed, "midi-instrument", id="P1-I1"), "volume", 0)
