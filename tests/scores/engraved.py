"""Reads the picture that an independent engraver, verovio, makes of a score.

Pitches, key signatures and accidentals are read from the picture as a player reads them: a note
head's distance from the lowest line, under the clef and signature of its row, with the accidentals
of its bar. Grace notes and ties are read from verovio's MEI. Signs are identified by their names in
SMuFL (W3C), from memory: E260 flat, E261 natural, E262 sharp, E263 double sharp,
E264 double flat, E265 and E266 triple; E050 and E062 the clefs of G and F.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from functools import cache
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree

if TYPE_CHECKING:
    from collections.abc import Iterator

_ALTERS = {"E260": -1, "E261": 0, "E262": 1, "E263": 2, "E264": -2, "E265": 3, "E266": -3}
_SIGNS = str.maketrans({"\uea64": "b", "\uea66": "#", "♭": "b", "♯": "#"})
_LOWEST = {"E050": (4, "E"), "E062": (2, "G")}
_LETTERS = "CDEFGAB"
_SEMITONES = dict(zip(_LETTERS, (0, 2, 4, 5, 7, 9, 11), strict=True))
_SVG = "{http://www.w3.org/2000/svg}"
_MEI = "{http://www.music-encoding.org/ns/mei}"
_ID = "{http://www.w3.org/XML/1998/namespace}id"
_HREF = "{http://www.w3.org/1999/xlink}href"


@dataclass(frozen=True)
class Head:
    """A note.

    Its MIDI key as a player reads it, whether it is a grace, and whether it is tied to one before.
    """

    key: int
    grace: bool
    tied: bool


@dataclass
class Bar:
    """A measure of the picture.

    `heads` holds chord by chord, `values` what divides the whole note in each, without dots;
    `beamed` the places among `heads` of what each beam joins, graces'
    beams apart; `marks` how often each kind of sign stands in it; `chords` the signs with their
    beats from 1, in notes of the meter.
    """

    heads: list[list[Head]] = field(default_factory=list)
    values: list[int] = field(default_factory=list)
    beamed: list[list[int]] = field(default_factory=list)
    marks: dict[str, int] = field(default_factory=dict)
    chords: list[tuple[float, str]] = field(default_factory=list)


@dataclass
class Picture:
    """Bars row by row, and the words printed with them."""

    rows: list[list[Bar]]
    labels: list[str]

    @property
    def bars(self) -> list[Bar]:
        """All bars in order."""
        return [bar for row in self.rows for bar in row]


@cache
def _toolkit() -> Any:
    import verovio

    verovio.enableLog(verovio.LOG_OFF)
    return verovio.toolkit()


def engraved(data: bytes) -> Picture:
    """Return the picture of a score."""
    toolkit = _toolkit()
    toolkit.setOptions(
        {"pageHeight": 60_000, "pageWidth": 4000, "breaks": "encoded", "header": "none",
         "footer": "none", "svgViewBox": True}
    )  # fmt: skip
    assert toolkit.loadData(data.decode())
    assert toolkit.getPageCount() == 1
    mei = {each.get(_ID): each for each in ElementTree.fromstring(toolkit.getMEI()).iter()}
    return _Reader(mei).picture(ElementTree.fromstring(toolkit.renderToSVG(1)))


def _all(node: ElementTree.Element, *names: str) -> Iterator[ElementTree.Element]:
    for each in node.iter(f"{_SVG}g"):
        if set(each.get("class", "").split()) & set(names):
            yield each


def _glyph(use: ElementTree.Element) -> str:
    return use.get(_HREF, "")[1:].split("-")[0]


def _place(use: ElementTree.Element) -> tuple[float, float]:
    match = re.match(r"translate\(([-\d.]+), ([-\d.]+)\)", use.get("transform", ""))
    assert match
    return float(match[1]), float(match[2])


def _uses(node: ElementTree.Element) -> Iterator[ElementTree.Element]:
    return node.iter(f"{_SVG}use")


class _Reader:
    def __init__(self, mei: dict[str | None, ElementTree.Element]) -> None:
        self._mei = mei
        self._tied = {
            each.get("endid", "")[1:]: each.get("startid", "")[1:]
            for each in mei.values() if each.tag == f"{_MEI}tie"
        }  # fmt: skip
        self._heads: dict[str, tuple[str, int, int]] = {}
        self._clef = "E050"
        self._signature: dict[str, int] = {}

    def picture(self, svg: ElementTree.Element) -> Picture:
        rows = [list(map(self._bar, _all(each, "measure"))) for each in _all(svg, "system")]
        words = ["".join(each.itertext()).strip() for each in _all(svg, "label", "labelAbbr")]
        return Picture(rows, words)

    def _bar(self, node: ElementTree.Element) -> Bar:
        bar = Bar()
        lines = sorted(
            float(each.get("d", "").split()[1])
            for each in next(_all(node, "staff")).findall(f"{_SVG}path")
        )
        self._low, self._step = lines[-1], (lines[-1] - lines[0]) / 8
        self._held: dict[tuple[str, int], int] = {}
        beams: dict[int, list[int]] = {}
        self._take(node, bar, beams, None)
        bar.beamed = [each for each in beams.values() if not bar.heads[each[0]][0].grace]
        return bar

    def _take(
        self, node: ElementTree.Element, bar: Bar, beams: dict[int, list[int]], beam: int | None
    ) -> None:
        """Read the signs from left to right."""
        for each in node:
            kinds = each.get("class", "").split()
            inside = beam
            for kind in kinds:
                bar.marks[kind] = bar.marks.get(kind, 0) + 1
            if "clef" in kinds:
                self._clef = next(map(_glyph, _uses(each)), self._clef)
            elif "keySig" in kinds:
                self._signature = self._read_signature(each)
            elif "harm" in kinds:
                self._chord(each, bar)
            elif "beam" in kinds:
                inside = len(beams)
                beams[inside] = []
            elif self._mei.get(each.get("id"), each).get("head.shape") == "slash":
                bar.marks["slash"] = bar.marks.get("slash", 0) + 1
            elif "note" in kinds or "chord" in kinds:
                heads = [each] if "note" in kinds else list(_all(each, "note"))
                bar.heads.append([self._head(head) for head in heads])
                bar.values.append(int(self._mei[each.get("id")].get("dur", "0")))
                if beam is not None:
                    beams[beam].append(len(bar.heads) - 1)
                continue
            self._take(each, bar, beams, inside)

    def _chord(self, node: ElementTree.Element, bar: Bar) -> None:
        mei = self._mei[node.get("id")]
        text = "".join("".join(node.itertext()).split()).translate(_SIGNS)
        bar.chords.append((float(mei.get("tstamp", "0")), text))

    def _letter(self, y: float) -> tuple[str, int]:
        octave, letter = _LOWEST[self._clef]
        steps = octave * 7 + _LETTERS.index(letter) + round((self._low - y) / self._step)
        return _LETTERS[steps % 7], steps // 7

    def _read_signature(self, node: ElementTree.Element) -> dict[str, int]:
        return {
            self._letter(_place(use)[1])[0]: _ALTERS[_glyph(use)]
            for use in _uses(node)
            if _ALTERS[_glyph(use)]
        }

    def _head(self, node: ElementTree.Element) -> Head:
        name = node.get("id", "")
        (head,) = (use for each in _all(node, "notehead") for use in _uses(each))
        letter, octave = self._letter(_place(head)[1])
        signs = [_glyph(use) for each in _all(node, "accid") for use in _uses(each)]
        if signs:
            alter = self._held[letter, octave] = _ALTERS[signs[0]]
        else:
            alter = self._held.get((letter, octave), self._signature.get(letter, 0))
            tied = self._heads.get(self._tied.get(name, ""))
            if tied and tied[:2] == (letter, octave):
                alter = tied[2]
        self._heads[name] = (letter, octave, alter)
        key = 12 * (octave + 1) + _SEMITONES[letter] + alter
        own = self._mei[name]
        return Head(key, own.get("grace") is not None, name in self._tied)


def sizes(bar: Bar) -> list[int]:
    """Return how many notes or chords each beam of a bar joins."""
    return [len(each) for each in bar.beamed]
