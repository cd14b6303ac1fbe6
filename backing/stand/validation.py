"""The faults of a chart's text, with their places, for the editor."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from backing.chart.read import read_chart_bytes
from backing.errors import BackingError, FileError
from backing.performance.performance import Performance
from backing.performance.settings import Settings
from backing.stand.markup import render
from backing.style.library import style_meters

if TYPE_CHECKING:
    from collections.abc import Iterator

Diagnostic = dict[str, Any]
"""`line` and `column` from 1, or 0 for the whole text or line; the `text` of the sentence; `at`,
the
offset in the chart's text in UTF-16 units, as browsers count."""

_WORD_END = re.compile(r"[\s|]|$")

_FIRST_TEXT = """title:  {title}
key:    G
meter:  4/4
tempo:  120
form:   A A B A

[A] 8
| G | % | C | G |
| G | D7 | G | D7 |

[B] 8
| C | % | G | % |
| A7 | % | D7 | % |
"""


def starter_text(title: str) -> str:
    """Return a valid chart to start from."""
    return _FIRST_TEXT.format(title=title)


def check_text(data: bytes) -> dict[str, Any]:
    """Check a chart's text.

    Returns:
        `faults`, and as markup: `list`, the faults and remarks, and `marks`, the text with its
        faults marked.
    """
    faults, remarks = _faults(data)
    lines = data.decode("utf-8", "replace").split("\n")
    for fault in faults:
        before = "".join(f"{line}\n" for line in lines[: max(fault["line"] - 1, 0)])
        here = lines[fault["line"] - 1][: max(fault["column"] - 1, 0)] if fault["line"] else ""
        fault["at"] = len(f"{before}{here}".encode("utf-16-le")) // 2
    pieces = list(_pieces(lines, faults))
    return {
        "faults": faults,
        "list": render("validation", faults=faults, remarks=remarks),
        "marks": render("marks", pieces=pieces),
    }


def _faults(data: bytes) -> tuple[list[Diagnostic], list[str]]:
    try:
        chart = read_chart_bytes(data, "chart", style_meters())
        return [], list(Performance(chart, Settings(choruses=1)).remarks())
    except FileError as error:
        return [
            {
                "line": fault.line,
                "column": fault.column,
                "text": f"{fault.found}: {fault.allowed}",
            }
            for fault in error.faults
        ], []
    except BackingError as error:
        return [{"line": 0, "column": 0, "text": str(error)}], []


def _pieces(lines: list[str], faults: list[Diagnostic]) -> Iterator[tuple[str, Diagnostic | None]]:
    """Yield the pieces of the text, each with the fault that marks it, or None."""
    by_line: dict[int, list[Diagnostic]] = {}
    for fault in sorted(faults, key=lambda each: int(each["column"])):
        by_line.setdefault(fault["line"], []).append(fault)
    for number, line in enumerate(lines, start=1):
        begin = 0
        for fault in by_line.get(number, ()):
            at = max(min(max(fault["column"], 1) - 1, len(line)), begin)
            end = _end(line, at) if fault["column"] else len(line)
            yield line[begin:at], None
            yield line[at:end] or " ", fault
            begin = end
        yield f"{line[begin:]}\n", None


def _end(line: str, at: int) -> int:
    found = _WORD_END.search(line, min(at + 1, len(line)))
    return found.start() if found else len(line)
