"""Advice for common mistakes: what other notations write, and how a chart writes it."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from backing.chart.diagnostics import quoted
from backing.chart.model import DIRECTIONS
from backing.errors import SymbolError

if TYPE_CHECKING:
    from collections.abc import Iterable

OWN_LINE = "write a comment on a line of its own that begins with #"

TIMES = "write how often bars are played after the sign that closes the repeat, such as :|x3"

ENDING_CLOSE = "write the number of an ending right after its bar line, such as |1 or |1,2"

JUMPS = "a chart has no jumps; write the order of the parts above them, such as form: A B A"

_QUOTES = "“”„‟«»‘’‚‛'`´"
_QUOTED = re.compile(f"[{_QUOTES}]")
_MISTAKES = (
    (re.compile(r"[xX×][0-9]+|[0-9]+[xX×]"), TIMES),
    (
        re.compile(r"[-–—−.*_~\\]+"),
        "write / for one more beat of a chord, such as | E / A B7 |, and % to repeat a bar",
    ),
    (
        re.compile(r"\[[0-9][0-9,.-]*\]?|[0-9][.)]|[0-9]{1,2}(?:,[0-9]{1,2})+"),
        ENDING_CLOSE,
    ),
    (re.compile(r"d\.?[cs]\.?|al|to|fine|coda|segno", re.IGNORECASE), JUMPS),
)
_BARS = re.compile(r"([0-9]{1,5})\s*bars?", re.IGNORECASE)
_TIMES = re.compile(r"[xX×]\s*[0-9]+|[0-9]+\s*[xX×]")
_COMMENT = re.compile(r"(?<![^\s|])#(?=\s|$|(?![IViv])[^\W\d_])")
_TIMES_IN_FORM = re.compile(r"\W*[xX×*]?\W*[0-9]*\W*[xX×*]?\W*")
_NUMBER_IN_FORM = re.compile(r"[0-9]+")
_LONGEST_FORM_WORD = 80
_MOST_IN_EXAMPLE = 4


def refuse_common_mistake(text: str) -> None:
    """Raise a SymbolError with advice if a word in a bar is a common mistake."""
    bare = _QUOTED.sub("", text)
    if bare.lower() in DIRECTIONS:
        advice = f'write directions in straight double quotes: "{bare.lower()}"'
    elif bare != text:
        advice = 'write directions in straight double quotes, such as "stop"'
    else:
        advice = next((words for pattern, words in _MISTAKES if pattern.fullmatch(text)), "")
    if advice:
        found = quoted(text) if bare == text else quoted(text)[1:-1]
        raise SymbolError(f"{found} is not a chord", advice)


def comment_at(text: str) -> int | None:
    """Return the offset of a comment in a line of bars, in characters from 0, or None."""
    found = _COMMENT.search(text)
    return found.start() if found else None


def advice_after_part(text: str, name: str) -> str:
    """Return advice for text after the name of a part that is not a number of bars.

    Args:
        text: the text after the name.
        name: the name of the part.

    """
    if bars := _BARS.fullmatch(text):
        return f"write [{name}] {bars[1]}"
    if _TIMES.fullmatch(text):
        return f"to repeat the part, write above the parts a form, such as form: {name} {name}"
    return OWN_LINE if "#" in text and "|" not in text else "write its bars on the next line"


def form_advice(text: str, names: Iterable[str]) -> str:
    """Return advice for a word in the form that is made of names of parts, or "".

    Args:
        text: the word, such as `AABA`, `A2` or `x2`.
        names: the names of the chart's parts.

    """
    if len(text) > _LONGEST_FORM_WORD:
        return ""
    by_small = {name.lower(): name for name in names}
    found, rest = _names_in(text, by_small)
    if not rest and len(found) > 1:
        return f"; put spaces between the parts: {' '.join(found)}"
    if not rest or len(found) > 1 or not _TIMES_IN_FORM.fullmatch(rest):
        return ""
    name = found[0] if found else next(iter(by_small.values()), "A")
    number = _NUMBER_IN_FORM.search(rest)
    times = int(number[0]) if number and found else 2
    example = " ".join([name] * min(max(times, 2), _MOST_IN_EXAMPLE))
    return f"; write each part as often as it is played, such as {example}"


def _names_in(text: str, by_small: dict[str, str]) -> tuple[list[str], str]:
    """Split a text into names of parts, preferring long ones; return them and the rest."""
    found: list[str] = []
    rest = text
    while rest := rest.lstrip("-–+|/.;>()"):
        small = rest.lower()
        name = max((each for each in by_small if small.startswith(each)), key=len, default="")
        if not name:
            break
        found.append(by_small[name])
        rest = rest[len(name) :]
    return found, rest
