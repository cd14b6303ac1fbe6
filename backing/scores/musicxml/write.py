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
from backing.scores.musicxml.container import packed
from backing.scores.musicxml.elements import add
from backing.scores.musicxml.pieces import offsets, pieces_of, slashes_of
from backing.scores.musicxml.read import NOTE, RHYTHM
from backing.scores.musicxml.rows import row_starts
from backing.scores.musicxml.written import MeasureWriter
from backing.scores.order import times_played
from backing.scores.pickups import with_pickups
from backing.scores.remarks import Remarks
from backing.scores.sections import sections_of
from backing.timing import TICKS_PER_QUARTER

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backing.scores.tune import Tune, TuneBar

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
        found += bars * times_played(len(list(run)), _repeats(bars))
    return found or list(tune.bars)


def _repeats(bars: Sequence[TuneBar]) -> set[int]:
    """Return the numbers of times that the sections of a part are played."""
    return {section.times for section in with_pickups(sections_of(bars, Remarks()))}


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
