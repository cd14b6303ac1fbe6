"""Merges the parts of a score bar by bar.

Conventions: the melody is the first voice of the first part with pitched notes. The chord signs of
a measure come from the first part that has some in it; repeats, jumps and tempi come from all
parts. A measure is as long as its meter where any part fills it, else as in the melody's part. A
repeat without a start sign begins after the last repeat, or with the tune (common practice, no
source). A rehearsal mark inside a repeat names no part, for a part holds whole repeats. Of two
undistinguished coda signs the first is the to-coda.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import groupby, pairwise
from typing import TYPE_CHECKING

from backing.chart.melody import MelodyNote, overlap
from backing.harmony.key import Key
from backing.scores.musicxml.music import Signs
from backing.scores.normalise import cut
from backing.scores.tune import OVERLAP, Jump, TuneBar, TuneChord
from backing.timing import Meter

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from backing.scores.musicxml.music import ChordSign, JumpSign, Line, Measure, PartMusic

_FREE = Meter(4, 4)
_OTHER_VOICES = "the melody is the first voice: notes of other voices are left out"


def bars_of(parts: Sequence[PartMusic], remarks: list[str]) -> list[TuneBar]:
    """Return the bars of a score's parts; add what was corrected or left out to the remarks."""
    merger = _Merger(parts, remarks)
    bars = merger.bars()
    return bars if merger.main.mode_given else _with_mode(bars, remarks)


class _Merger:
    """Merges parts.

    Attributes:
        main: the part that meters and keys are taken from: the melody's if there is one.

    """

    def __init__(self, parts: Sequence[PartMusic], remarks: list[str]) -> None:
        self._parts, self._remarks = parts, remarks
        playing = [each for each in parts if each.has_melody]
        pitched = [each for each in parts if not each.drums]
        self.main = (playing or pitched or list(parts))[0]
        self._has_melody = bool(playing)
        voices = self.main.voices()
        self._pending: list[TuneChord] = []
        self._voice = "1" if "1" in voices else (voices or [""])[0]
        remarks += self.main.remarks
        remarks += [text for each in parts for text in each.chord_remarks]
        if playing and any(each.plays for each in parts if each is not self.main):
            name = self.main.name[:40]
            remarks.append(f"the melody is the part {name}: notes of other parts are left out")
        if not playing and any(measure.voices for each in parts for measure in each.measures):
            remarks.append("all parts play on percussion: their notes are left out")

    def _remark(self, measure: Measure, text: str) -> None:
        self._remarks.append(f"{measure.place}: {text}")

    def bars(self) -> list[TuneBar]:
        bars: list[TuneBar] = []
        jumps: list[Sequence[JumpSign]] = []
        for index in range(max(len(each.measures) for each in self._parts)):
            there = [each.measures[index] for each in self._parts if index < len(each.measures)]
            main = self.main.measures[index] if index < len(self.main.measures) else there[0]
            signs = Signs()
            for each in (main, *there):
                signs.join(each.signs)
            if signs.double_before and bars:
                bars[-1] = replace(bars[-1], double=True)
            pieces = self._pieces(main, there, signs, bars)
            bars += pieces
            jumps += [[]] * (len(pieces) - 1) + [signs.jumps]
        if self._pending and bars:
            self._remarks.append(f"{bars[-1].place}: a chord sign after the last bar is left out")
        return with_repeats(with_jumps(bars, jumps), self._remarks)

    def _pieces(
        self, main: Measure, there: list[Measure], signs: Signs, before: list[TuneBar]
    ) -> list[TuneBar]:
        """Return the bars of a measure: several if it has bar lines inside."""
        meter, ticks = self._length(main, there)
        bar = TuneBar(
            meter=meter,
            key=main.key,
            ticks=ticks,
            chords=self._chords(there, ticks),
            notes=self._notes(main, ticks),
            opens=signs.opens,
            closes=signs.closes,
            ending=signs.ending,
            ending_stops=signs.ending_stops,
            double=signs.double,
            part=signs.label,
            tempo=signs.tempo,
            place=main.place,
        )
        if main.same_as and not bar.notes and main.same_as <= len(before):
            like = before[-main.same_as]
            if like.ticks == bar.ticks:
                bar = replace(bar, notes=like.notes, chords=bar.chords or like.chords)
            else:
                self._remark(main, "the measure to repeat has another length: left silent")
        lines: dict[int, Line] = {}
        for line in sorted(signs.lines, key=lambda each: each.tick):
            if 0 < line.tick < ticks:
                lines.setdefault(line.tick, line)
        if not lines:
            return self._free(bar, main)
        pieces = _cut_apart(bar, [0, *lines, ticks])
        for n, line in enumerate(lines.values()):
            double = line.double and not line.closes
            pieces[n] = replace(pieces[n], closes=line.closes, double=double)
            pieces[n + 1] = replace(pieces[n + 1], opens=line.opens)
        return pieces

    def _length(self, main: Measure, there: list[Measure]) -> tuple[Meter, int]:
        """Return the meter of a measure and its length in ticks."""
        lengths = [each.ticks for each in there if each.ticks]
        meter = main.meter
        if meter is None:
            ticks = main.ticks or max(lengths, default=_FREE.bar_ticks)
            return Meter.lasting(ticks, 4, 8, 16, 2) or _FREE, ticks
        if not lengths or meter.bar_ticks in lengths:
            return meter, meter.bar_ticks
        return meter, main.ticks or max(lengths)

    def _free(self, bar: TuneBar, main: Measure) -> list[TuneBar]:
        """Return the bars of a measure; one without meter is cut where no meter has its length."""
        if main.meter is not None:
            return [bar]
        self._remarks.append(f"{main.place}: no meter: read as {bar.meter}")
        if bar.ticks == bar.meter.bar_ticks:
            return [bar]
        step = _FREE.bar_ticks
        edges = range(0, bar.ticks + step, step)
        return _cut_apart(replace(bar, ticks=edges[-1]), edges)

    # notes and chords

    def _notes(self, main: Measure, ticks: int) -> tuple[MelodyNote, ...]:
        if not self._has_melody:
            return ()
        if main.voices.keys() - {self._voice}:
            self._remark(main, _OTHER_VOICES)
        own = main.voices.get(self._voice, [])
        if any(note.end > ticks for note in own):
            self._remark(main, "notes beyond the end of the bar are cut off")
        found = [
            replace(
                note,
                ticks=min(note.end, ticks) - note.tick,
                tied=note.tied and abs(note.end - ticks) <= 1,
            )
            for note in own
            if note.tick < min(note.end, ticks)
        ]
        notes = tuple(sorted(found, key=lambda each: (each.tick, each.pitch.key)))
        if overlap(notes):
            self._remark(main, OVERLAP)
        return notes

    def _chords(self, there: list[Measure], ticks: int) -> tuple[TuneChord, ...]:
        """Return the chord signs of a measure, with those moved from the measure before."""
        measure = next((each for each in there if each.chords), None)
        found = {each.tick: each for each in self._pending if each.tick < ticks}
        late = [each for each in self._pending if each.tick >= ticks]
        self._pending = [replace(each, tick=each.tick - ticks) for each in late]
        for sign in self._spread_out(measure, ticks) if measure else ():
            if sign.tick >= ticks:
                self._pending.append(replace(sign, tick=sign.tick - ticks))
                continue
            if found.get(sign.tick, sign) != sign:
                self._remark(there[0], f"two chords at one place: {sign.chord or 'N.C.'} is used")
            found[sign.tick] = sign
        for other in there:
            signs = {(each.tick, each.chord) for each in other.chords}
            if other is not measure and not signs <= {(s.tick, s.chord) for s in found.values()}:
                self._remark(other, "other chord signs of another part are left out")
        return tuple(found[tick] for tick in sorted(found))

    def _spread_out(self, measure: Measure, ticks: int) -> Iterator[TuneChord]:
        """Yield the signs of a measure, those at one place spread; some may lie beyond its end."""
        signs = sorted(measure.chords, key=lambda each: each.tick)
        groups = [list(group) for _, group in groupby(signs, key=lambda each: each.tick)]
        for index, group in enumerate(groups):
            following = groups[index + 1][0].tick if index + 1 < len(groups) else ticks
            if len(group) > 1:
                self._remark(measure, "chord signs stand at one place: spread evenly")
            for tick, sign in zip(_spread(group, following), group, strict=True):
                yield TuneChord(tick, sign.chord)


def _cut_apart(bar: TuneBar, edges: Sequence[int]) -> list[TuneBar]:
    """Return the pieces of a bar between ticks, its marks on the first and the last."""
    pieces = [cut(bar, start, end) for start, end in pairwise(edges)]
    for n in range(len(pieces) - 1):
        pieces[n] = replace(pieces[n], closes=0, ending_stops=False, double=False)
        pieces[n + 1] = replace(pieces[n + 1], opens=False, ending=(), part="", tempo=None)
    return pieces


def _spread(group: list[ChordSign], following: int) -> list[int]:
    """Return ticks for the signs at one place: over the note there, or up to the next sign."""
    start = group[0].tick
    long = max(each.ticks for each in group)
    span = min(long, following - start) if long else following - start
    return [start + n * max(span, 0) // len(group) for n in range(len(group))]


def _with_mode(bars: list[TuneBar], remarks: list[str]) -> list[TuneBar]:
    """Return the bars in minor if no key gives its mode and the last chord is the minor tonic."""
    last = next((sign.chord for bar in reversed(bars) for sign in reversed(bar.chords)), None)
    home = bars[0].key.tonic.up(3)
    if last is None or last.root != home or not last.quality.is_minor:
        return bars
    remarks.append(f"no key names its mode: read as minor, because the tune ends on {last}")
    return [
        replace(bar, key=Key(bar.key.tonic.up(3), "minor")) if bar.key.mode == "major" else bar
        for bar in bars
    ]


def with_jumps(bars: Sequence[TuneBar], signs: Sequence[Sequence[JumpSign]]) -> list[TuneBar]:
    """Return the bars with their jumps, each moved to the bar that it belongs to.

    Args:
        bars: the bars.
        signs: the jump signs in each bar.

    """
    found: list[list[Jump]] = [[] for _ in bars]
    for index, (bar, here) in enumerate(zip(bars, _distinguished(signs), strict=True)):
        for sign in here:
            at = _bar_of(sign, index, bar, len(bars))
            if sign.jump not in found[at]:
                found[at].append(sign.jump)
    return [
        replace(bar, jumps=tuple(sorted(jumps, key=lambda each: not each.is_before)))
        for bar, jumps in zip(bars, found, strict=True)
    ]


def _bar_of(sign: JumpSign, index: int, bar: TuneBar, count: int) -> int:
    if sign.jump.is_before:
        return index + 1 if sign.tick >= bar.ticks and index + 1 < count else index
    return index - 1 if sign.sounded and sign.tick == 0 and index else index


def _distinguished(signs: Sequence[Sequence[JumpSign]]) -> list[list[JumpSign]]:
    """Return the signs, the first of two coda signs as a to-coda if there is none yet."""
    found = [list(here) for here in signs]
    jumps = [each.jump for here in signs for each in here]
    if Jump.TO_CODA in jumps or jumps.count(Jump.CODA) < 2:
        return found
    here = next(here for here in found if any(each.jump is Jump.CODA for each in here))
    index = next(n for n, each in enumerate(here) if each.jump is Jump.CODA)
    if not here[index].sounded:
        here[index] = replace(here[index], jump=Jump.TO_CODA)
    return found


def with_repeats(bars: list[TuneBar], remarks: list[str]) -> list[TuneBar]:
    """Return the bars with every repeat opened, and no labels or double bar lines inside one."""
    bars = list(bars)
    start = 0
    for end in [n for n, bar in enumerate(bars) if bar.closes]:
        if end < start:
            continue
        opening, last = _opening(bars, start, end), _last_ending(bars, end)
        bars[opening] = replace(bars[opening], opens=True)
        for index in range(opening, last + 1):
            bars[index] = _inside(bars[index], remarks, first=index == opening, last=index == last)
        start = last + 1
    return bars


def _opening(bars: Sequence[TuneBar], start: int, end: int) -> int:
    """Return the index at which the repeat that ends at `end` begins."""
    for index in range(end, start - 1, -1):
        if bars[index].opens:
            return index
    return start


def _last_ending(bars: Sequence[TuneBar], end: int) -> int:
    """Return the index of the last bar of a repeat's endings, or of the repeat itself."""
    while end + 1 < len(bars) and bars[end + 1].ending and not bars[end + 1].opens:
        end += 1
        while not bars[end].ends_ending(bars[end + 1] if end + 1 < len(bars) else None):
            end += 1
    return end


def _inside(bar: TuneBar, remarks: list[str], *, first: bool, last: bool) -> TuneBar:
    if bar.part and not first:
        remarks.append(f"{bar.place}: the mark {bar.part} is inside a repeat: left out")
        bar = replace(bar, part="")
    return bar if last else replace(bar, double=False)
