"""Advice for common mistakes: what other notations write, and how a chart writes it.

Conventions: tables hold the names that other notations give to headers. An invalid or unknown
header is one fault: the header that it means counts as broken, which avoids follow-on errors.
"""

from __future__ import annotations

import re
import unicodedata
from typing import TYPE_CHECKING, NamedTuple

from backing.chart.diagnostics import quoted
from backing.chart.model import DIRECTIONS
from backing.errors import SymbolError
from backing.harmony.key import Key
from backing.nearest import nearest
from backing.timing import Meter, Tempo

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterable

_OTHER_NAMES = {
    "title": "name tune song piece song-title t",
    "by": "composer author artist writer written-by composed-by music music-by words-by credit "
    "credits arranger arranged-by performer",
    "key": "k tonality tonic tonic-key key-signature keysig mode",
    "meter": "m time time-signature timesignature timesig time-sig signature metre beats",
    "tempo": "q bpm speed pace metronome mm beats-per-minute quarter quarters",
    "style": "feel groove rhythm genre beat",
    "form": "structure arrangement order sequence layout roadmap road-map parts sections",
    "count-in": "countin count count-off lead-in precount pre-count",
    "intro": "introduction",
    "ending": "end outro finish",
    "melody": "melody-file",
    "note": "comment comments remark remarks source copyright date year album publisher n",
}
_MEANT = {other: name for name, others in _OTHER_NAMES.items() for other in others.split()}
_MEANT |= {"notes": "note"}

_ELSEWHERE = {
    "capo": "use the option --capo, such as --capo 2, and delete the line",
    "tuning": "use an option, such as --instrument guitar, and delete the line",
    "instrument": "use an option, such as --instrument guitar, and delete the line",
    "transpose": "use an option, such as --key G, and delete the line",
    "transposition": "use an option, such as --key G, and delete the line",
    "seed": "use an option, such as --take 2, and delete the line",
    "choruses": "use an option, such as --choruses 5, and delete the line",
    "repeats": "write a part in the form as often as it is played, such as form: A A B",
    "repeat": "write a part in the form as often as it is played, such as form: A A B",
    "measures": "write the number of bars after the name of a part, such as [A] 8",
    "bars": "write the number of bars after the name of a part, such as [A] 8",
    "lyrics": "a chart has no lyrics; delete the line, or write them in a note",
    "words": "a chart has no lyrics; delete the line, or write them in a note",
    "l": "a chart has no unit of length; delete the line",
    "x": "a chart is one tune without a number; delete the line",
}
"""Names that are not headers, and advice for each."""

_METERS = {
    "c": "4/4", "common": "4/4", "common time": "4/4", "four-four": "4/4", "c-time": "4/4",
    "c|": "2/2", "¢": "2/2", "cut": "2/2", "cut time": "2/2", "cut-time": "2/2", "split": "2/2",
    "alla breve": "2/2", "cut common": "2/2", "2": "2/2", "three-four": "3/4", "waltz": "3/4",
    "two-four": "2/4", "six-eight": "6/8", "jig": "6/8", "nine-eight": "9/8",
    "twelve-eight": "12/8", "\U0001d134": "4/4", "\U0001d135": "2/2",
}  # fmt: skip
"""Signs and words for meters; C and cut C are the signs of music notation."""

_TWO_FIGURES = re.compile(r"\D*([0-9]{1,2})\s*(?:[-/:,;.\\ ⁄∕|]|by|x)?\s*([0-9]{1,2})(?![0-9])\D*")
_AROUND = "\"'“”‘’{}<>*,;`"
_PARENTHESIS = re.compile(r"\([^()]{0,30}\)")
_NAME_FIRST = re.compile(r"[^A-Za-z]{0,20}([A-Za-z][A-Za-z_-]{1,24})\s+(\S.{0,80})")
_LONGEST_VALUE = 40
_LONGEST_NAME = 60


def read_meter(text: str) -> Meter:
    """Read a meter.

    Raises:
        SymbolError: if it is not a meter; suggests the meter that seems to be meant.

    """
    try:
        return Meter.parse(text)
    except SymbolError as error:
        meant = _meter_meant(text)
        if not meant:
            raise
        raise SymbolError(error.found, f"write {meant}", error.column) from None


def _meter_meant(text: str) -> str:
    """Return the meter that a text seems to mean, or ""."""
    small = " ".join(text.strip().lower().removesuffix("time").split()) or "common"
    figures = _TWO_FIGURES.fullmatch(small)
    found = _METERS.get(small, f"{figures[1]}/{figures[2]}" if figures else "")
    try:
        return str(Meter.parse(found))
    except SymbolError:
        return ""


_READERS: dict[str, Callable[[str], object]] = {
    "key": Key.parse,
    "meter": read_meter,
    "tempo": Tempo.parse,
}


def plain_name(text: str) -> str:
    """Return the name of a header in lower case with hyphens."""
    return re.sub(r"[\s_-]+", "-", text.strip().lower())


def is_other_name(name: str) -> bool:
    """Whether other notations use a name for a header, and it is not a usual part name."""
    return (name in _MEANT or name in _ELSEWHERE) and name != "outro"


def header_meant(name: str, value: str, names: Collection[str]) -> str:
    """Return the known header that a name and its value mean, or "".

    Args:
        name: as `plain_name` returns it.
        value: the text after the colon.
        names: the known names.

    """
    if name in names or name in _ELSEWHERE:
        return name if name in names else ""
    if _looks_like_a_meter(name, value):
        return "meter"
    near = nearest(name[:_LONGEST_NAME], [*names, *_MEANT], 0.7)
    return _MEANT.get(near, near)


def _looks_like_a_meter(name: str, value: str) -> bool:
    """Whether a value is a meter and its name can mean one."""
    return (
        _MEANT.get(name) not in ("title", "by", "note") and "/" in value and _reads("meter", value)
    )


def line_for(name: str, value: str) -> str:
    """Return the header line to write, without the value if it is invalid."""
    value = value.strip().strip(_AROUND).strip()
    if name == "style":
        value = re.sub(r"[^a-z0-9]+", "-", value.lower()).strip("-")
    elif name == "meter":
        value = _meter_meant(value) or value
    if not value or len(value) > _LONGEST_VALUE or not _reads(name, value):
        return f"{name}:"
    return f"{name}: {value}"


def advice_for(name: str, value: str, names: Collection[str], allowed: Collection[str]) -> str:
    """Return advice for an unknown header: the one that it means, and all allowed ones.

    Args:
        name: as for `header_meant`.
        value: as for `header_meant`.
        names: as for `header_meant`.
        allowed: the names that are allowed at its place.

    """
    choice = f"choose from {', '.join(allowed)}"
    if name in _ELSEWHERE:
        return f"{_ELSEWHERE[name]}; for other headers {choice}"
    meant = header_meant(name, value, names)
    if not meant:
        return choice
    where = "" if meant in allowed else " above the first part"
    return f"write '{line_for(meant, value)}'{where}, or {choice}"


def header_elsewhere(name: str, value: str) -> str | None:
    """Return the header that a foreign name means, "" for none, None for an unknown name."""
    if name in _MEANT and _looks_like_a_meter(name, value):
        return "meter"
    return _MEANT.get(name, "" if name in _ELSEWHERE else None)


class NearHeader(NamedTuple):
    """A line that is nearly a header.

    Attributes:
        name: as `plain_name` returns it.
        value: its value.
        known: whether charts or other notations have a header of that name.

    """

    name: str
    value: str
    known: bool


def nearly_header(text: str, names: Collection[str]) -> NearHeader | None:
    """Return the header that a line is nearly, or None.

    Args:
        text: a line that is not a header, such as `key = E`, `tempo 120` or `**title**: Mill`.
        names: the known names.

    """
    plain = unicodedata.normalize("NFKC", text[: 2 * _LONGEST_NAME]).strip("\ufeff\u200b \t[]")
    for sign in ":=;":
        before, found, value = plain.partition(sign)
        name = plain_name(re.sub(r"[^\w\s-]+", "", _PARENTHESIS.sub("", before)).strip("-_ "))
        known = name in names or name in _MEANT or name in _ELSEWHERE
        if not found or "|" in before or value.lstrip()[:1] in ("|", ":"):
            continue
        if known or (sign == ":" and name and "|" not in plain):
            return NearHeader(name, value.strip(), known)
    match = _NAME_FIRST.fullmatch(plain)
    if not match:
        return None
    name, value = plain_name(match[1]), match[2].lstrip("-–—.> ").strip()
    if name in _ELSEWHERE and value.isdigit():
        return NearHeader(name, value, known=True)
    meant = header_meant(name, value, names) if name in names or name in _MEANT else ""
    if not meant or (meant in _READERS and not _reads(meant, value)):
        return None
    if meant not in _READERS and (name not in names or "|" in value):
        return None
    return NearHeader(name, value, known=True)


def _reads(name: str, value: str) -> bool:
    """Whether a value is valid for a header; True if it cannot be checked here."""
    try:
        _READERS.get(name, str)(value)
    except SymbolError:
        return name == "meter" and bool(_meter_meant(value))
    return True


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
