"""What players write elsewhere, and how it is written here: advice for faults."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from backing.chart.diagnostics import quoted
from backing.chart.model import DIRECTIONS
from backing.errors import SymbolError

if TYPE_CHECKING:
    from collections.abc import Iterable

COMMENT_APART = "a comment stands on a line of its own, which begins with a hash"

TIMES = "how often bars are played stands behind the sign that closes the repeat, such as :|x3"

ENDING_CLOSE = "the number of an ending stands close behind its bar line, such as |1 or |1,2"

JUMPS = "a chart has no jumps; a line above the parts says what is played when, such as form: A B A"

_QUOTES = "“”„‟«»‘’‚‛'`´"
_QUOTED = re.compile(f"[{_QUOTES}]")
_HABITS = (
    (re.compile(r"[xX×][0-9]+|[0-9]+[xX×]"), TIMES),
    (
        re.compile(r"[-–—−.*_~\\]+"),
        "one more beat of a chord is written /, such as | E / A B7 |; the bar before once more %",
    ),
    (
        re.compile(r"\[[0-9][0-9,.-]*\]?|[0-9][.)]|[0-9]{1,2}(?:,[0-9]{1,2})+"),
        ENDING_CLOSE,
    ),
    (re.compile(r"d\.?[cs]\.?|al|to|fine|coda|segno", re.IGNORECASE), JUMPS),
)
_BARS_BEHIND = re.compile(r"([0-9]{1,5})\s*bars?", re.IGNORECASE)
_TIMES_BEHIND = re.compile(r"[xX×]\s*[0-9]+|[0-9]+\s*[xX×]")
_COMMENT = re.compile(r"(?<![^\s|])#(?=\s|$|(?![IViv])[^\W\d_])")
_TIMES_IN_FORM = re.compile(r"\W*[xX×*]?\W*[0-9]*\W*[xX×*]?\W*")
_NUMBER_IN_FORM = re.compile(r"[0-9]+")
_LONGEST_FORM_WORD = 80
_MOST_IN_EXAMPLE = 4


def refuse_habit(text: str) -> None:
    """Raise for a word in a bar that is written here in another way."""
    bare = _QUOTED.sub("", text)
    if bare.lower() in DIRECTIONS:
        advice = f'directions stand in straight double quotes: write "{bare.lower()}"'
    elif bare != text:
        advice = 'directions stand in straight double quotes, such as "stop"'
    else:
        advice = next((words for pattern, words in _HABITS if pattern.fullmatch(text)), "")
    if advice:
        found = quoted(text) if bare == text else quoted(text)[1:-1]
        raise SymbolError(f"{found} is not a chord", advice)


def comment_at(text: str) -> int | None:
    """Return where in a line of bars a comment begins, in characters from 0; None without one."""
    found = _COMMENT.search(text)
    return found.start() if found else None


def behind_part(text: str, name: str) -> str:
    """Return advice for what stands behind the name of a part and is no number of bars.

    Args:
        text: what stands there.
        name: the name of the part.

    """
    if bars := _BARS_BEHIND.fullmatch(text):
        return f"write [{name}] {bars[1]}"
    if _TIMES_BEHIND.fullmatch(text):
        return (
            f"a line above the parts says how often parts are played, such as form: {name} {name}"
        )
    return COMMENT_APART if "#" in text and "|" not in text else "write its bars on the next line"


def apart(text: str, names: Iterable[str]) -> str:
    """Return advice for a word of a form that is made of names of parts, or "".

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
    return f"; write a part as often as it is played, such as {example}"


def _names_in(text: str, by_small: dict[str, str]) -> tuple[list[str], str]:
    """Return the names that a text begins with, the longest first, and what is left of it."""
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
