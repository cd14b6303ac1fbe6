"""Charts for the tests of sheets, and checks of pages."""

from __future__ import annotations

from functools import cache
from itertools import combinations
from typing import TYPE_CHECKING

from fontTools.ttLib import TTFont

from backing.chart.read import read_chart
from backing.fretboard.request import FrettingSettings
from backing.harmony.numbers import letter_text
from backing.notes import Player
from backing.out.sheet.faces import FACES, FONTS
from backing.out.sheet.fretboard import fingerings_of
from backing.out.sheet.marks import BLACK, WHITE, Box, Disc, Line, Text
from backing.out.sheet.style import Sheet
from backing.performance.performance import Performance
from backing.performance.settings import Settings
from backing.timing import Tempo

if TYPE_CHECKING:
    from backing.chart.model import Chart
    from backing.chart.write import Spell
    from backing.out.sheet.marks import Mark, Page

    Bounds = tuple[float, float, float, float]
    """Left, top, right, bottom."""

ODD = """\
title: A Very Long Title About the Day on Which the Lighthouse Keeper's Second Cousin Mislaid
by: Somebody With a Rather Long Name and Their Whole Family Band of Seven and a Dog Named Tuesday
key: Bb
tempo: 132
style: two-beat
form: Intro A A Bridge Interlude-lost-umbrellas A Tag
ending: tag
note: Odd things on one sheet.
[Intro]
| (pickup 1/4) F7 | Bb | Bb "stop" | (3/4) Eb "hold" | F7 |
[A]
|: Ebmaj7#11/Bb | Bb Gm7 Cm7 F7 | Bb / Bdim7 / | Cm7 "push" F7 "fill" |
|1 Dm7 G7 | Cm7 F7 :|2 Bb6 | % :|3 Bb "stop" | N.C. "break" |
[Bridge]
key: Eb mixolydian
tempo: dotted-quarter=120.125
style: western-swing
| Abmaj7 | Abm7 Db9 | Gm7b5 C7(b9,#11) | "build" Fm7 "push" "fill" Bb13 "walk" |
| Ebmaj7#11/Bb Abm7b5/Gb Db7(b9,#11)/F C7alt | Ebmaj7 | (5/4) Bb7 / Eb7 / / | Eb |
[Interlude-lost-umbrellas]
|: Bb | Eb F7 :|x4
|: Cm7 | F7 :|x12
[Tag]
| (5/4) Ebmaj7 Ebm6 Dm7 Dbdim7 Cm7b5/Gb | F13 | Bb69 | % |
"""

REELS = "title: Twenty Parts\nkey: D\n" + "".join(
    f"[{letter}]\n|: D | G | A7 | D :|\n| Bm | Em | A7 | D |\n" for letter in "ABCDEFGHIJKLMNOPQRST"
)

CHARTS = {
    "odd": ODD,
    "one bar": "| C |\n",
    "silent": "| N.C. |\n",
    "64 bars": "key: Ab\n[A] 64\n" + "| Abmaj7 | Fm7 Bb7 | Bbm7 Eb7 | Abmaj7 Db7 |\n" * 16,
    "20 parts": REELS,
    "12/8": "key: E\nmeter: 12/8\n| E7 | E7 / / B7 | A7 E7 B7 A7 | (9/8) E |\n",
    "crooked": 'key: G\nstyle: two-beat\n| G | (2/4) C | (7/8) D "soft" | (1/4) G | (6/4) C D |\n',
    "between beats": """\
meter: 2/4
| (pickup 1/8) D7 | Em:1/4 A:1/8 D | G:3/8 Bbmaj7:1/8 | C#m7b5:1/24 D Eb:5/12 |
| Gm:1/16 "stop" C7:7/16 "push" | G:3/8 C:1/8 |
|: D |1 Bb:319/1920 A:101/768 F:191/1280 Eb9:17/320 :|2 F |
""",
    "figures": "|: (1/4) C |1,2,3,4,5,6,7,8 (1/4) C :|9 F |\n",
    "long form": "form: " + "A B " * 60 + "\n[A]\n| G |\n[B]\n| C |\n",
    "long words": f"title: {'Hippo ' * 900}\n" + f"note: {'talk ' * 900}\n" * 2 + "| C |\n",
    "one word": f"title: {'Hippopotamus' * 12}\nby: {'x' * 200}\nnote: {'y' * 300}\n| C |\n",
}
"""Unusual charts, by what is unusual about them."""


def sheet_of(
    chart: Chart | str,
    *,
    spell: Spell = letter_text,
    instrument: str | None = "mandolin",
    left: bool = False,
) -> Sheet:
    """Return the sheet of a chart, without shapes if there is no instrument."""
    chart = read_chart(chart) if isinstance(chart, str) else chart
    settings = Settings(called=frozenset(Player), fretting=FrettingSettings(instrument))
    path = Performance(chart, settings).voicings.chords if instrument else ()
    fingerings = fingerings_of(path, left=left) if path else None
    tempi = (60.0, 112.5, 120.0, 132.0, 200.0)
    tempo = chart.tempo or Tempo(132)
    return Sheet(chart, tempo, "two-beat", tempi, spell, fingerings, instrument or "")


@cache
def _reaches(face: str) -> tuple[dict[int, tuple[float, float]], tuple[float, float]]:
    """Return the extents of glyphs by code point, and that for a missing character."""
    with TTFont(FONTS / FACES[face]) as font:
        units, outlines = font["head"].unitsPerEm, font["glyf"]

        def reach(name: str) -> tuple[float, float]:
            outline = outlines[name]
            empty = not outline.numberOfContours
            return (0, 0) if empty else (outline.yMax / units, -outline.yMin / units)

        return {code: reach(name) for code, name in font.getBestCmap().items()}, reach(".notdef")


def reach_of(text: str, face: str, size: float) -> tuple[float, float]:
    """Return the extent of a text above and below its base line, in points."""
    reaches, missing = _reaches(face)
    found = [reaches.get(ord(sign), missing) for sign in text] or [(0.0, 0.0)]
    return size * max(above for above, _ in found), size * max(below for _, below in found)


def text_of(mark: Text) -> str:
    """Return the text of all runs of a mark."""
    return "".join(run.text for run in mark.runs)


def box_of(mark: Mark) -> Bounds:
    """Return the bounding box of a mark."""
    match mark:
        case Text():
            reaches = [reach_of(run.text, run.face, run.size) for run in mark.runs]
            above, below = (max(reach) for reach in zip(*reaches, strict=True))
            return (
                mark.x,
                mark.y - above,
                mark.x + sum(run.width for run in mark.runs),
                mark.y + below,
            )
        case Line():
            half = mark.width / 2
            across = half if mark.x1 == mark.x2 else 0.0
            along = half if mark.y1 == mark.y2 else 0.0
            left, right = sorted((mark.x1, mark.x2))
            top, bottom = sorted((mark.y1, mark.y2))
            return left - across, top - along, right + across, bottom + along
        case Disc():
            half = mark.radius + mark.line / 2
            return mark.x - half, mark.y - half, mark.x + half, mark.y + half
        case _:
            half = mark.line / 2 if isinstance(mark, Box) else 0.0
            right, bottom = mark.x + mark.width, mark.y + mark.height
            return mark.x - half, mark.y - half, right + half, bottom + half


def faults(page: Page, margin: float) -> list[str]:
    """Return the faults of a page: marks in the margin, and texts that something covers."""
    found = [
        f"{_name(mark)} reaches into the margin: {box_of(mark)}"
        for mark in page.marks
        if not _within(box_of(mark), (margin, margin, page.width - margin, page.height - margin))
    ]
    texts = [(mark, box_of(mark)) for mark in page.marks if isinstance(mark, Text)]
    found += [
        f"{_name(one)} and {_name(other)} overlap: {box} {other_box}"
        for (one, box), (other, other_box) in combinations(texts, 2)
        if _overlap(box, other_box)
    ]
    drawn = [(mark, box_of(mark)) for mark in page.marks if isinstance(mark, (Line, Disc, Box))]
    return found + [
        f"{_name(text)} stands on {mark}: {box}"
        for text, box in texts
        for mark, covered in drawn
        if _overlap(covered, box) and _spoils(mark, text)
    ]


def _name(mark: Mark) -> str:
    return repr(text_of(mark)) if isinstance(mark, Text) else type(mark).__name__


def _spoils(mark: Line | Disc | Box, text: Text) -> bool:
    """Return whether a drawing that overlaps a text makes it hard to read.

    White texts always stand on black: a finger's number on a disc or bar, a part's name in a box.
    """
    if text.shade == WHITE:
        return False
    if isinstance(mark, Box):
        around = mark.fill is None and _within(box_of(text), box_of(mark))
        return bool(mark.line or mark.fill is not None) and not around
    return True


def on_black(page: Page) -> list[str]:
    """Return the white texts of a page that are not on black."""
    drawn = [
        mark
        for mark in page.marks
        if (isinstance(mark, Disc) and not mark.line)
        or (isinstance(mark, Box) and mark.fill == BLACK)
    ]
    return [
        repr(text_of(text))
        for text in page.marks
        if isinstance(text, Text)
        and text.shade == WHITE
        and not any(_within(box_of(text), box_of(mark)) for mark in drawn)
    ]


def _within(inner: Bounds, outer: Bounds, slack: float = 0.5) -> bool:
    return (
        inner[0] >= outer[0] - slack
        and inner[1] >= outer[1] - slack
        and inner[2] <= outer[2] + slack
        and inner[3] <= outer[3] + slack
    )


def _overlap(one: Bounds, other: Bounds, slack: float = 0.2) -> bool:
    return (
        one[0] + slack < other[2]
        and other[0] + slack < one[2]
        and one[1] + slack < other[3]
        and other[1] + slack < one[3]
    )
