"""Reads a score in MusicXML (up to 4.0) as a tune."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

from backing.chart.model import MOST_BARS
from backing.scores.musicxml.measures import read_part
from backing.scores.musicxml.merge import bars_of
from backing.scores.musicxml.parse import Node, is_packed, parse, refuse, unpacked
from backing.scores.tune import Tune

if TYPE_CHECKING:
    from backing.scores.musicxml.music import PartMusic

RHYTHM = "rhythm"
NOTE = "note"
"""Names of `miscellaneous-field`s: the kind of tune or groove, and a note on the tune."""

_MOST_PARTS = 200
_MOST_REMARKS = 2000
_MOST_NOTES = 20
_DRUM_CHANNEL = "10"
_LINE_ENDS = re.compile("[\n\r\t\x0b\x0c\x1c-\x1f\x85]+ *")


def read_musicxml(data: bytes, name: str = "tune.musicxml") -> Tune:
    """Return the tune of a score.

    Args:
        data: the bytes of a `.musicxml` or a `.mxl` file.
        name: its name, for error messages.

    Raises:
        ScoreError: when it is not a score, cannot be read, or holds more than a chart can.

    """
    root = parse(unpacked(data, name) if is_packed(data) else data, name)
    parts = [_part(root, *each, name) for each in _measures(root, name)]
    remarks: list[str] = []
    first, *others = bars_of(parts, remarks)
    return Tune(
        title=_title(root),
        key=first.key,
        bars=(replace(first, tempo=None), *others),
        meter=first.meter,
        composer=_composer(root),
        tempo=first.tempo,
        rhythm=next(iter(_fields(root, RHYTHM)), ""),
        notes=tuple([*_collection(root), *_fields(root, NOTE)][:_MOST_NOTES]),
        remarks=_each_once(remarks),
    )


def _each_once(remarks: list[str]) -> tuple[str, ...]:
    found = tuple(dict.fromkeys(remarks))
    more = len(found) - _MOST_REMARKS
    return (*found[:_MOST_REMARKS], f"{more} more remarks are not shown") if more > 0 else found


def _measures(root: Node, source: str) -> list[tuple[str, list[Node]]]:
    """Return the id and the measures of each part of a partwise or timewise score.

    Raises:
        ScoreError: when it is not a score, or is too long.

    """
    if root.tag not in ("score-partwise", "score-timewise"):
        what = f"this is <{root.tag[:40]}> and not a score in MusicXML"
        refuse(source, root.line, what, "export the tune as MusicXML, partwise")
    by_measure = root.tag == "score-timewise"
    found = _by_part(root) if by_measure else [
        (part.get("id"), part.all("measure")) for part in root.all("part")
    ]  # fmt: skip
    parts = [(name, measures) for name, measures in found if measures]
    if not parts:
        refuse(source, root.line, "the score has no measures", "export the tune once more")
    if len(parts) > _MOST_PARTS:
        what = f"the score has {len(parts)} parts"
        refuse(source, root.line, what, f"save the tune alone: {_MOST_PARTS} are read")
    longest = max(len(measures) for _, measures in parts)
    if longest > MOST_BARS:
        what = f"the score has {longest} measures"
        refuse(source, root.line, what, f"a chart has at most {MOST_BARS} bars: split it")
    return parts


def _by_part(root: Node) -> list[tuple[str, list[Node]]]:
    """Return the id and the measures of each part of a timewise score."""
    found: dict[str, list[Node]] = {}
    for index, measure in enumerate(root.all("measure")):
        for part in measure.all("part"):
            measures = found.setdefault(part.get("id"), [])
            while len(measures) < index:  # the part begins later
                measures.append(measure.like([]))
            measures.append(measure.like(part.children))
    return list(found.items())


def _part(root: Node, name: str, measures: list[Node], source: str) -> PartMusic:
    entries = [each for each in root.all("part-list/score-part") if each.get("id") == name]
    title = entries[0].at("part-name") if entries else ""
    players = [each for entry in entries for each in entry.all("midi-instrument")]
    drums = {each.at("midi-channel") for each in players} == {_DRUM_CHANNEL}
    return read_part(title or name, measures, source, drums=drums)


def _title(root: Node) -> str:
    credits = (each for each in root.all("credit") if each.at("credit-type") == "title")
    credited = next((each.at("credit-words") for each in credits), "")
    return _one_line(root.at("movement-title") or root.at("work/work-title") or credited)


def _collection(root: Node) -> list[str]:
    """Return the title of the work where the tune is one movement of it."""
    work = _one_line(root.at("work/work-title"))
    return [work] if work and work != _title(root) else []


def _composer(root: Node) -> str:
    creators = root.all("identification/creator")
    named = (each.text for each in creators if each.get("type") in ("composer", ""))
    return _one_line(next(named, ""))


def _fields(root: Node, name: str) -> list[str]:
    """Return the texts of the miscellaneous fields with a name."""
    fields = root.all("identification/miscellaneous/miscellaneous-field")
    return [_one_line(each.text) for each in fields if each.get("name") == name and each.text]


def _one_line(text: str) -> str:
    return _LINE_ENDS.sub(" ", text)
