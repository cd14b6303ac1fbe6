"""The chart as markup for the page: rows as they are engraved, and words for those who listen."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from backing.harmony.signs import signed
from backing.stand.markup import drawn, joined, symbol_markup
from backing.stand.sheet import BARS_A_LINE
from backing.stand.symbols import spoken
from backing.timing import Meter

if TYPE_CHECKING:
    from collections.abc import Iterator

Cell = dict[str, Any]

_NAME_PX = 38
"""The height of a drawing's own name, which is cut off: the chord stands below it."""


def paper(written: dict[str, Any]) -> dict[str, Any]:
    """Return what a page shows of a chart.

    Args:
        written: the chart, as `sheet.sheet` has it.

    Returns:
        Its title, key and so on; markup: `html` of parts and bars, `grips` of shapes, `form` and
        `loops` of buttons, `begins` of the first chord; `bars`, the length of the whole form.
    """
    form = written["form"]
    parts = [_part(written, part) for part in written["parts"]]
    named = {part["name"]: part for part in parts}
    first = named[form[0]]["rows"][0][0]["chords"][0]["text"]
    kept = ("title", "names", "instrument", "left", "shapes_fault")
    return {
        **{name: written[name] for name in kept},
        "key": signed(written["key"]),
        "has_shapes": bool(written["shapes"]),
        "bars": sum(named[name]["bars"] for name in form),
        "begins": symbol_markup(first),
        "html": drawn("chart", parts=parts, shapes=_drawings(written["shapes"])),
        "grips": drawn("grips", shapes=_drawings(written["shapes"]).values()),
        "form": drawn("form", turns=_turns(form)),
        "loops": drawn("loops", parts=[named[name] for name in dict.fromkeys(form)]),
    }


def _turns(form: list[str]) -> list[tuple[str, int, bool]]:
    """Return each place in the form: its part, which turn of it, whether there is no other."""
    return [
        (name, form[:place].count(name), form.count(name) == 1) for place, name in enumerate(form)
    ]


def _drawings(shapes: dict[str, dict[str, Any]]) -> dict[str, dict[str, Any]]:
    return {number: {**each, "svg": _without_name(each["svg"])} for number, each in shapes.items()}


def _without_name(svg: str) -> str:
    """Return a drawing cut at its top: the chord's name stands below it."""

    def cut(box: re.Match[str]) -> str:
        left, top, width, height = map(float, box[1].split())
        return f'viewBox="{left:g} {top + _NAME_PX:g} {width:g} {height - _NAME_PX - 8:g}"'

    return re.sub('viewBox="([^"]+)"', cut, svg, count=1)


def _part(written: dict[str, Any], part: dict[str, Any]) -> dict[str, Any]:
    """Return a part with its rows, and where its bars are played first."""
    own = [
        f"in {signed(part['key'])}" if part["key"] != written["key"] else "",
        part["style"],
        part["tempo"],
        part["meter"] if part["meter"] != written["meter"] else "",
    ]
    form, lengths = written["form"], {each["name"]: each["bars"] for each in written["parts"]}
    turns = [place for place, name in enumerate(form) if name == part["name"]]
    starts = [1 + sum(lengths[name] for name in form[:turn]) for turn in turns]
    rows = [list(_cells(part, row, starts)) for row in rows_of(part["lines"])]
    return {**part, "own": joined(own, ", "), "rows": rows}


def rows_of(lines: list[list[Cell]]) -> list[list[Cell]]:
    """Return lines as they are engraved: a first ending goes on in its line, others stand under it.

    Cells that do not stand behind the one before them have an `offset`, in bars from the left.
    """
    rows: list[list[Cell]] = []
    left = [0]  # of each row
    column = 0
    for line in lines:
        ending = line[0]["ending"]
        is_first = bool(ending) and ending.split(",")[0] == "1"
        if is_first and rows and len(rows[-1]) + left[-1] + len(line) <= BARS_A_LINE:
            column = left[-1] + len(rows[-1])
            rows[-1] = [*rows[-1], *line]
            continue
        if not ending or is_first:
            column = 0
        left.append(column if column + len(line) <= BARS_A_LINE else 0)
        rows.append([{**line[0], "offset": left[-1]}, *line[1:]])
    return rows


def _cells(part: dict[str, Any], row: list[Cell], starts: list[int]) -> Iterator[Cell]:
    """Yield the cells of a row with what the page wants of them.

    Args:
        part: their part.
        row: the cells.
        starts: the number of the part's first bar in each turn, in the whole form from 1.
    """
    in_ending = False
    for cell, before in zip(row, [None, *row], strict=False):
        in_ending = bool(cell["ending"]) or (in_ending and not (before and before["repeat_end"]))
        yield {
            "offset": 0,
            **cell,
            "numbers": [start + place for start in starts for place in cell["played"]],
            "classes": _classes(cell, in_ending=in_ending),
            "label": _label(cell),
            "chords": list(_chords(cell, cell["meter"] or part["meter"])),
        }


def _chords(cell: Cell, meter: str) -> Iterator[dict[str, Any]]:
    """Yield chords with their lengths in beats, and what is to be done there."""
    beats = Meter(*map(int, meter.split("/"))).beats
    ends = [*(each["beat"] for each in cell["chords"][1:]), beats]
    for chord, end in zip(cell["chords"], ends, strict=True):
        words = [each["word"] for each in cell["directions"] if chord["beat"] <= each["beat"] < end]
        yield {**chord, "beats": max(end - chord["beat"], 0.5), "said": " ".join(words)}


def _classes(cell: Cell, *, in_ending: bool) -> str:
    names = {
        "pickup": cell["pickup"],
        "repeat-start": cell["repeat_start"],
        "repeat-end": cell["repeat_end"],
        "ending": cell["ending"],
        "in-ending": in_ending,
    }
    return " ".join(["bar", *(name for name, holds in names.items() if holds)])


def _label(cell: Cell) -> str:
    """Return a bar in words, for a screen reader."""
    chords = ", ".join(spoken(each["text"]) for each in cell["chords"])
    said = [
        "pickup" if cell["pickup"] else f"bar {cell['bar'] + 1}",
        "repeat from here" if cell["repeat_start"] else "",
        f"ending {cell['ending']}" if cell["ending"] else "",
        f"in {cell['meter']}" if cell["meter"] and not cell["pickup"] else "",
        "as before" if cell["same"] else chords,
        *(each["word"] for each in cell["directions"]),
        f"repeat, {cell['repeat_end']} times in all" if cell["repeat_end"] > 1 else "",
    ]
    return ", ".join(filter(None, said))
