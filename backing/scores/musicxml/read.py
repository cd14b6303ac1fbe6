"""Reads a score in MusicXML (4.0 and what came before) as a tune.

Conventions: the melody is the first voice of the first part that has notes with a pitch. Chord
signs are taken measure by measure from the first part that has some there, signs of the way and
tempi from all parts. A measure is as long as in the melody's part, or as its meter says where
another part fills it.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import groupby, pairwise
from typing import TYPE_CHECKING

from backing.chart.melody import MelodyNote
from backing.chart.model import MOST_BARS
from backing.harmony.key import Key
from backing.scores.musicxml.attributes import WHOLE, meter_of
from backing.scores.musicxml.container import is_packed, unpacked
from backing.scores.musicxml.measures import read_part
from backing.scores.musicxml.parse import Node, parse, refuse
from backing.scores.musicxml.signs import Signs
from backing.scores.musicxml.way import with_jumps, with_repeats
from backing.scores.tune import Tune, TuneBar, TuneChord
from backing.scores.whole import cut
from backing.timing import Meter

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from backing.scores.musicxml.measures import Measure, PartMusic, Sign
    from backing.scores.musicxml.signs import JumpSign

RHYTHM = "rhythm"
NOTE = "note"
"""Names of `miscellaneous-field`s: the kind of tune or groove, and a free remark."""

_MOST_PARTS = 200
_MOST_REMARKS = 200
_DRUM_CHANNEL = "10"
_FREE = Meter(4, 4)


def read_musicxml(data: bytes, name: str = "tune.musicxml") -> Tune:
    """Return the tune of a score.

    Args:
        data: the bytes of a `.musicxml` or a `.mxl` file.
        name: its name, for faults.

    Raises:
        ScoreError: when it is no score, cannot be read, or holds more than a chart can.

    """
    root = parse(unpacked(data, name) if is_packed(data) else data, name)
    return _Score(root, name).tune()


class _Score:
    """Puts the parts of a score together."""

    def __init__(self, root: Node, source: str) -> None:
        self._root, self._source = root, source
        self._remarks: list[str] = []
        self._parts = [self._part(*each) for each in self._measures()]
        self._melody = next((each for each in self._parts if _has_melody(each)), None)
        self._lead = self._melody or next(
            (each for each in self._parts if not each.drums), self._parts[0]
        )
        self._voice = self._first_voice()

    def tune(self) -> Tune:
        bars = self._bars()
        root = self._root
        fields = [
            each
            for identity in root.all("identification")
            for group in identity.all("miscellaneous")
            for each in group.all("miscellaneous-field")
        ]
        if not self._lead.mode_said:
            bars = _with_mode(bars, self._remarks)
        tempo = bars[0].tempo
        bars[0] = replace(bars[0], tempo=None)
        return Tune(
            title=root.at("work/work-title") or root.at("movement-title") or _credit(root),
            key=bars[0].key,
            bars=tuple(bars),
            meter=bars[0].meter,
            composer=_composer(root),
            tempo=tempo,
            rhythm=next((each.text for each in fields if each.get("name") == RHYTHM), ""),
            notes=tuple(each.text for each in fields if each.get("name") == NOTE and each.text)[
                :20
            ],
            remarks=tuple(self._remarks[:_MOST_REMARKS]),
        )

    # parts

    def _measures(self) -> Iterator[tuple[str, list[Node]]]:
        """Yield the id of each part and its measures, whichever way the score is sorted.

        Raises:
            ScoreError: when this is no score.

        """
        root = self._root
        if root.tag == "score-partwise":
            parts = [(part.get("id"), list(part.all("measure"))) for part in root.all("part")]
        elif root.tag == "score-timewise":
            parts = _by_part(root)
        else:
            refuse(
                self._source,
                root.line,
                f"this is <{root.tag[:40]}> and not a score in MusicXML",
                "export the tune as MusicXML, partwise",
            )
        parts = [(name, measures) for name, measures in parts if measures]
        if not parts:
            refuse(
                self._source, root.line, "the score has no measures", "export the tune once more"
            )
        if len(parts) > _MOST_PARTS:
            what = f"the score has {len(parts)} parts"
            refuse(self._source, root.line, what, f"save the tune alone: {_MOST_PARTS} are read")
        longest = max(len(measures) for _, measures in parts)
        if longest > MOST_BARS:
            what = f"the score has {longest} measures"
            refuse(self._source, root.line, what, f"a chart has at most {MOST_BARS} bars: split it")
        yield from parts

    def _part(self, name: str, measures: list[Node]) -> PartMusic:
        listed = self._root.child("part-list")
        entries = listed.all("score-part") if listed else iter(())
        entry = next((each for each in entries if each.get("id") == name), None)
        title = (entry.at("part-name") if entry else "") or name
        channels = (
            [each.at("midi-channel") for each in entry.all("midi-instrument")] if entry else []
        )
        drums = bool(channels) and set(channels) == {_DRUM_CHANNEL}
        return read_part(title, measures, self._source, self._remarks, drums=drums)

    def _first_voice(self) -> str:
        voices = self._melody.voices() if self._melody else []
        if len(voices) > 1:
            self._remarks.append("the melody is the first voice: other voices are left out")
        playing = [each for each in self._parts if _has_melody(each)]
        if len(playing) > 1 and self._melody:
            name = self._melody.name[:40]
            self._remarks.append(f"the melody is the part {name}: notes of others are left out")
        return "1" if "1" in voices else (voices[0] if voices else "")

    # bars

    def _bars(self) -> list[TuneBar]:
        bars: list[TuneBar] = []
        jumps: list[Sequence[JumpSign]] = []
        for index in range(max(len(each.measures) for each in self._parts)):
            there = [each.measures[index] for each in self._parts if index < len(each.measures)]
            lead = self._lead.measures[index] if index < len(self._lead.measures) else there[0]
            signs = Signs()
            for each in (lead, *there):
                signs.join(each.signs)
            if signs.double_before and bars:
                bars[-1] = replace(bars[-1], double=True)
            pieces = self._pieces(lead, there, signs, bars)
            bars += pieces
            jumps += [[]] * (len(pieces) - 1) + [signs.jumps]
        return with_repeats(with_jumps(bars, jumps), self._remarks)

    def _pieces(
        self, lead: Measure, there: list[Measure], signs: Signs, before: list[TuneBar]
    ) -> list[TuneBar]:
        """Return the bars of a measure: more than one where bar lines stand inside it."""
        meter, ticks = self._length(lead, there)
        bar = TuneBar(
            meter=meter,
            key=lead.key,
            ticks=ticks,
            chords=self._chords(there, ticks),
            notes=self._notes(lead, ticks),
            opens=signs.opens,
            closes=signs.closes,
            ending=signs.ending,
            ending_stops=signs.ending_stops,
            double=signs.double,
            part=signs.label,
            tempo=signs.tempo,
            place=lead.place,
        )
        if lead.same_as and not bar.notes and lead.same_as <= len(before):
            like = before[-lead.same_as]
            if like.ticks == bar.ticks:
                bar = replace(bar, notes=like.notes, chords=bar.chords or like.chords)
        lines = sorted(
            (each for each in signs.lines if 0 < each.tick < ticks), key=lambda x: x.tick
        )
        edges = [0, *dict.fromkeys(each.tick for each in lines), ticks]
        if len(edges) == 2:
            return self._free(bar, lead)
        pieces = [cut(bar, a, b) for a, b in pairwise(edges)]
        last = len(pieces) - 1
        for n, piece in enumerate(pieces):
            at_end = next((each for each in lines if each.tick == edges[n + 1]), None)
            at_start = next((each for each in lines if each.tick == edges[n]), None)
            pieces[n] = replace(
                piece,
                opens=at_start.opens if at_start else piece.opens,
                closes=at_end.closes if at_end else piece.closes,
                double=at_end.double and not at_end.closes if at_end else piece.double,
                ending=() if n else piece.ending,
                ending_stops=piece.ending_stops and n == last,
                part="" if n else piece.part,
                tempo=None if n else piece.tempo,
            )
        return pieces

    def _length(self, lead: Measure, there: list[Measure]) -> tuple[Meter, int]:
        """Return the meter of a measure and how long it is."""
        lengths = [each.ticks for each in there if each.ticks]
        meter = lead.meter
        if meter is None:
            ticks = lead.ticks or max(lengths, default=_FREE.bar_ticks)
            return meter_of(ticks / WHOLE, 4) or _FREE, ticks
        if not lengths or meter.bar_ticks in lengths:
            return meter, meter.bar_ticks
        return meter, lead.ticks or max(lengths)

    def _free(self, bar: TuneBar, lead: Measure) -> list[TuneBar]:
        """Return a measure without meter as bars: one, or some where it is long or crooked."""
        if lead.meter is not None:
            return [bar]
        self._remarks.append(f"{lead.place}: free of meter: taken as {bar.meter}")
        if bar.ticks == bar.meter.bar_ticks:
            return [bar]
        step = _FREE.bar_ticks
        starts = range(0, bar.ticks, step)
        pieces = [cut(replace(bar, ticks=len(starts) * step), n, n + step) for n in starts]
        first, last = pieces[0], pieces[-1]
        plain = [
            replace(each, opens=False, closes=0, ending=(), ending_stops=False, part="", tempo=None)
            for each in pieces
        ]
        plain[0] = replace(plain[0], opens=first.opens, ending=first.ending, part=first.part)
        plain[-1] = replace(
            plain[-1], closes=last.closes, ending_stops=last.ending_stops, double=last.double
        )
        return plain

    # notes and chords

    def _notes(self, lead: Measure, ticks: int) -> tuple[MelodyNote, ...]:
        if self._melody is None:
            return ()
        found = [
            MelodyNote(
                note.tick,
                min(note.end, ticks) - note.tick,
                note.pitch,
                note.tied and abs(note.end - ticks) <= 1,
                note.graces,
            )
            for note in lead.notes
            if note.voice == self._voice and note.tick < min(note.end, ticks)
        ]
        return tuple(sorted(found, key=lambda each: (each.tick, each.pitch.key)))

    def _chords(self, there: list[Measure], ticks: int) -> tuple[TuneChord, ...]:
        measure = next((each for each in there if each.chords), None)
        if measure is None:
            return ()
        found: dict[int, TuneChord] = {}
        signs = sorted(measure.chords, key=lambda each: each.tick)
        groups = [list(group) for _, group in groupby(signs, key=lambda each: each.tick)]
        for index, group in enumerate(groups):
            following = groups[index + 1][0].tick if index + 1 < len(groups) else ticks
            if len(group) > 1:
                self._remarks.append(
                    f"{measure.place}: chord signs stand at one place: spread evenly"
                )
            for tick, sign in zip(_spread(group, following), group, strict=True):
                found[min(tick, ticks - 1)] = TuneChord(min(tick, ticks - 1), sign.chord)
        return tuple(found[tick] for tick in sorted(found))


def _has_melody(part: PartMusic) -> bool:
    return not part.drums and any(measure.notes for measure in part.measures)


def _spread(group: list[Sign], following: int) -> list[int]:
    """Return where the signs at one place go: over the note there, or up to the next sign."""
    start = group[0].tick
    long = max(each.ticks for each in group)
    span = min(long, following - start) if long else following - start
    return [start + n * max(span, 0) // len(group) for n in range(len(group))]


def _by_part(root: Node) -> list[tuple[str, list[Node]]]:
    """Return the measures of each part of a score that is sorted by measures."""
    found: dict[str, list[Node]] = {}
    for index, measure in enumerate(root.all("measure")):
        for part in measure.all("part"):
            measures = found.setdefault(part.get("id"), [])
            while len(measures) < index:  # the part was silent so far
                measures.append(measure.like([]))
            measures.append(measure.like(part.children))
    return list(found.items())


def _credit(root: Node) -> str:
    for each in root.all("credit"):
        if each.at("credit-type") == "title":
            return each.at("credit-words")
    return ""


def _composer(root: Node) -> str:
    creators = [each for identity in root.all("identification") for each in identity.all("creator")]
    named = [each for each in creators if each.get("type") in ("composer", "")]
    return named[0].text if named else ""


def _with_mode(bars: list[TuneBar], remarks: list[str]) -> list[TuneBar]:
    """Return the bars in minor where no key says its mode and the last chord is its home."""
    last = next((sign.chord for bar in reversed(bars) for sign in reversed(bar.chords)), None)
    home = bars[0].key.tonic.up(3)
    if last is None or last.root != home or not last.quality.is_minor:
        return bars
    remarks.append(f"no key says its mode: taken as minor, since the tune ends on {last}")
    return [
        replace(bar, key=Key(bar.key.tonic.up(3), "minor")) if bar.key.mode == "major" else bar
        for bar in bars
    ]
