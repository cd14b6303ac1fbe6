"""Check the reader with the MusicXML scores that music21 includes.

Every note of the melody's voice and every chord sign is in the tune, its chart and its melody, or
is reported as lost in its measure. Notes and signs are counted here from the XML alone, with the
standard library. A sample is read each time; `pytest -m long` reads all scores.
"""

from __future__ import annotations

import io
import re
import zipfile
from collections import Counter
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING
from xml.etree import ElementTree

import pytest

from backing.errors import BackingError, ScoreError
from backing.scores.musicxml import read_musicxml
from backing.scores.to_chart import to_chart

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from backing.scores.to_chart import Converted
    from backing.scores.tune import Tune, TuneBar

_SEMITONES = dict(zip("CDEFGAB", (0, 2, 4, 5, 7, 9, 11), strict=True))


@dataclass
class Measure:
    """A measure of a part as in the XML.

    Attributes:
        notes: voice, beginning in quarters, sounding MIDI key and how it is tied.
        signs: the beginnings of chord signs, in quarters.

    """

    notes: list[tuple[str, Fraction, int, frozenset[str]]] = field(default_factory=list)
    signs: list[Fraction] = field(default_factory=list)


@dataclass
class Part:
    """A part: its measures, and whether any pitch is under a pitched clef."""

    measures: list[Measure]
    pitched: bool = False


def folder() -> Path:
    """Return where music21 is installed."""
    from importlib.util import find_spec

    found = find_spec("music21")
    assert found is not None
    assert found.origin is not None
    return Path(found.origin).parent


def root_of(data: bytes) -> ElementTree.Element:
    """Return the root of a score, compressed or not."""
    if data.startswith(b"PK"):
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            names = [each for each in archive.namelist() if not each.startswith("META-INF")]
            data = archive.read(next(n for n in names if n.endswith(("xml", "musicxml"))))
    return ElementTree.fromstring(data)


def parts_of(root: ElementTree.Element) -> list[Part]:
    """Return the parts of a partwise score."""
    listed = {}
    for each in root.iter("score-part"):
        channels = {node.text for node in each.iter("midi-channel")}
        listed[each.get("id")] = channels == {"10"}
    return [_part(each, drums=listed.get(each.get("id"), False)) for each in root.iter("part")]


def _part(node: ElementTree.Element, *, drums: bool) -> Part:
    part = Part([])
    divisions, shift, clefs, slashes = Fraction(1), 0, {}, False
    for inside in node.iter("measure"):
        measure = Measure()
        part.measures.append(measure)
        now = start = Fraction(0)
        for each in inside:
            if each.tag == "attributes":
                divisions = Fraction(each.findtext("divisions") or divisions)
                if (moved := each.find("transpose")) is not None:
                    octaves = int(moved.findtext("octave-change") or 0)
                    shift = int(float(moved.findtext("chromatic") or 0)) + 12 * octaves
                for clef in each.iter("clef"):
                    clefs[clef.get("number") or "1"] = clef.findtext("sign")
                for style in each.iter("slash"):
                    slashes = style.get("type") == "start"
            elif each.tag in ("backup", "forward"):
                length = Fraction(each.findtext("duration") or 0) / divisions
                now = max(now - length, Fraction(0)) if each.tag == "backup" else now + length
            elif each.tag == "harmony":
                measure.signs.append(now + Fraction(each.findtext("offset") or 0) / divisions)
            elif each.tag == "note" and each.find("grace") is None:
                length = Fraction(each.findtext("duration") or 0) / divisions
                if each.find("chord") is None:
                    start, now = now, now + length
                key = _key(each)
                unheard = each.find("cue") is not None or slashes or not length
                if key is None or unheard or each.findtext("notehead") == "slash":
                    continue
                ties = {tie.get("type", "") for tie in (*each.iter("tie"), *each.iter("tied"))}
                voice = each.findtext("voice") or "1"
                measure.notes.append((voice, start, key + shift, frozenset(ties)))
                percussion = clefs.get(each.findtext("staff") or "1") == "percussion"
                part.pitched = part.pitched or (not percussion and not drums)
    return part


def _key(note: ElementTree.Element) -> int | None:
    pitch = note.find("pitch")
    if pitch is None:
        return None
    alter = int(float(pitch.findtext("alter") or 0))
    octave = int(pitch.findtext("octave") or 0)
    return 12 * (octave + 1) + _SEMITONES[pitch.findtext("step") or "C"] + alter


def _melody(parts: Sequence[Part]) -> list[list[tuple[int, int]]] | None:
    """Return ticks and keys of the struck notes of the melody's voice in each measure."""
    lead = next((each for each in parts if each.pitched), None)
    if lead is None:
        return None
    voices = [voice for each in lead.measures for voice, *_ in each.notes]
    voice = "1" if "1" in voices else voices[0]
    found = []
    for measure in lead.measures:
        own = [note for note in measure.notes if note[0] == voice]
        struck = [
            (round(start * 960), key)
            for _, start, key, ties in own
            if not (
                "stop" in ties
                and any(k == key and s < start and "start" in t for _, s, k, t in own)
            )
        ]
        found.append(sorted(struck))
    return found


@dataclass
class Count:
    """The findings of a check of one score."""

    notes: int = 0
    signs: int = 0
    reported: int = 0
    refused: int = 0


def look_at(path: Path) -> Count:
    """Check that every note and chord sign of a score is kept or reported."""
    data = path.read_bytes()
    try:
        tune = read_musicxml(data, path.name)
    except ScoreError:
        return Count(refused=1)
    root = root_of(data)
    if root.tag != "score-partwise":
        return Count()
    parts = parts_of(root)
    count = Count()
    melody = _melody(parts)
    whole = [each for each in tune.remarks if not re.match(r"measure [0-9]+: ", each)]
    bars = _by_measure(tune, max(len(part.measures) for part in parts))
    for index, here in enumerate(bars):
        places = {bar.place for bar in here}
        reported = any(each.split(":")[0] in places for each in tune.remarks)
        _notes_of(melody, index, here, count, reported=reported)
        _signs_of(parts, index, bars, count, reported=reported)
    assert melody or not any(m.notes for p in parts for m in p.measures) or whole, path.name
    try:
        found = to_chart(tune)
    except BackingError:
        count.refused = 1
        return count
    _chart_of(tune, found, path.name)
    return count


def _by_measure(tune: Tune, count: int) -> list[list[TuneBar]]:
    """Return the bars of each measure, several if it has a bar line inside."""
    found: list[list[TuneBar]] = []
    for bar in tune.bars:
        more = len(tune.bars) - sum(map(len, found)) - (count - len(found))
        if found and more > 0 and found[-1][0].place == bar.place:
            found[-1].append(bar)
        else:
            found.append([bar])
    assert len(found) == count
    return found


def _notes_of(
    melody: list[list[tuple[int, int]]] | None,
    index: int,
    here: list[TuneBar],
    count: Count,
    *,
    reported: bool,
) -> None:
    theirs = melody[index] if melody and index < len(melody) else []
    ours, start = [], 0
    tied: set[int] = set()
    for bar in here:
        ours += [
            (start + n.tick, n.pitch.key) for n in bar.notes if n.tick or n.pitch.key not in tied
        ]
        tied = {n.pitch.key for n in bar.notes if n.tied}
        start += bar.ticks
    count.notes += len(theirs)
    if sorted(ours) != theirs:
        assert reported, (here[0].place, ours, theirs)
        count.reported += 1


def _signs_of(
    parts: Sequence[Part],
    index: int,
    bars: Sequence[Sequence[TuneBar]],
    count: Count,
    *,
    reported: bool,
) -> None:
    """Check the chord signs of the first part that has some in a measure."""
    there = [p.measures[index].signs for p in parts if index < len(p.measures)]
    theirs = next((each for each in there if each), [])
    ticks = sum(bar.ticks for bar in bars[index])
    ours = {c.tick for bar in bars[index] for c in bar.chords} if len(bars[index]) == 1 else None
    behind = (
        {c.tick for bar in bars[index + 1] for c in bar.chords} if index + 1 < len(bars) else {}
    )
    for sign in theirs:
        tick = max(round(sign * 960), 0)
        count.signs += 1
        if ours is not None and tick not in ours and not (tick >= ticks and tick - ticks in behind):
            assert reported, (bars[index][0].place, tick, ours)
            count.reported += 1


def _chart_of(tune: Tune, found: Converted, name: str) -> None:
    """Check that each bar of a tune is in its chart."""
    keys = _text(
        found.melody.parts and [n.pitch.key for b in p.bars for n in b] for p in found.melody.parts
    )
    chords = _text(
        _joined(str(c.chord) for bar in part.written() for c in bar.chords)
        for part in found.chart.parts
    )
    reported = {place for line in found.remarks for place in _places(line)}
    for bar in tune.bars:
        if bar.place not in reported:
            assert _text([[note.pitch.key for note in bar.notes]])[1:-1] in keys, (name, bar.place)
            written = _joined(str(sign.chord) for sign in bar.chords)
            assert _text([written])[1:-1] in chords, (name, bar.place)


def _places(line: str) -> Iterator[str]:
    match = re.match(r"measures? ([0-9, ]+)( and [0-9]+ more)?: ", line)
    if match:
        yield from (f"measure {each}" for each in match[1].split(", "))


def _text(lines: Iterable[Iterable[object]]) -> str:
    return "|" + "|".join("".join(f" {each}," for each in line) for line in lines) + "|"


def _joined(names: Iterable[str]) -> list[str]:
    found: list[str] = []
    for name in names:
        if found[-1:] != [name]:
            found.append(name)
    return found


def scores() -> list[Path]:
    """Return all MusicXML scores that music21 includes."""
    return sorted(path for end in ("mxl", "xml", "musicxml") for path in folder().rglob(f"*.{end}"))


SAMPLE = 40
"""One of this many scores is read each time."""


WITH_CHORDS = ("leadSheet", "ChordOffset", "testNC", "ComprehensiveChordSymbols", "71")
"""Parts of the names of scores with chord signs that are read each time too."""


@pytest.mark.parametrize(
    "path",
    [
        *scores()[::SAMPLE],
        *(p for p in scores() if any(each in f"{p.parent.name}{p.name}" for each in WITH_CHORDS)),
    ],
    ids=lambda path: path.stem,
)
def test_a_sample(path: Path) -> None:
    """Nothing in a score of the sample is lost without a remark."""
    look_at(path)


@pytest.mark.slow
@pytest.mark.parametrize("first", range(8))
def test_all(first: int) -> None:
    """Nothing in any score is lost without a remark."""
    found = [look_at(path) for path in scores()[first::8]]
    total = Counter()
    for each in found:
        total.update(vars(each))
    assert total["refused"] <= len(found) // 20, total
