"""Writes the text of a chart, which reads as the same chart.

Conventions: a line has four bars; a repeat and an ending each begin a line. Lengths are written
only if even division or slashes cannot express them. Charts are saved in letters; numbers and Roman
numerals are for display, and cannot express more than two sharps or flats against the key.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

from backing.chart.fields import CHART_NAMES, PART_NAMES
from backing.chart.layout import rows_of
from backing.chart.lengths import changes_between_beats, length_suffixes
from backing.chart.tidy import align_bars
from backing.harmony.numbers import letter_text

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence

    from backing.chart.layout import Row
    from backing.chart.model import Bar, Chart, Direction, Part
    from backing.harmony.chord import Chord
    from backing.harmony.key import Key
    from backing.timing import Meter

BARS_A_LINE = (4, 2, 1)
"""The possible numbers of bars on a line; the first that fits is used."""

Spell: TypeAlias = "Callable[[Chord, Key], str]"
"""A function that writes a chord in a key."""


@dataclass(frozen=True, slots=True)
class Comment:
    """A comment in the text of a chart.

    Attributes:
        text: its text.
        part: the name of its part, or "" above all parts.
        bar: the index of its bar in the part as written, from 0, including the pickup.
        place: its place in another file, such as "line 12", or "".

    """

    text: str
    part: str = ""
    bar: int = 0
    place: str = ""


def write_chart(chart: Chart, comments: Sequence[Comment] = ()) -> str:
    """Return the text of a chart; reading it gives an equal chart.

    Args:
        chart: the chart.
        comments: written above the rows of their bars; equal ones of a row are one line.

    """
    return "\n".join(chart_lines(chart, comments=comments)) + "\n"


def chart_lines(
    chart: Chart,
    spell: Spell = letter_text,
    width: int | None = None,
    comments: Sequence[Comment] = (),
) -> list[str]:
    """Return the lines of a chart's text.

    Args:
        chart: the chart.
        spell: how chords are written: in letters, numbers or Roman numerals.
        width: the longest line of bars in characters, unless one bar is longer; None for no limit.
        comments: as for `write_chart`.

    """
    fields = _fields(chart)
    column = max(len(name) for name, _ in fields) + len(":  ")
    lines = [f"{name + ':':<{column}}{value}" for name, value in fields]
    above = dict.fromkeys(_one_line(each.text) for each in comments if not each.part)
    lines += ["", *(f"# {text}" for text in above)] if above else []
    for part in chart.parts:
        rows = _bars(chart, part, spell, width)
        own = [each for each in comments if each.part == part.name]
        lines += ["", *_head(chart, part), *_with_comments(rows, part, own)]
    return lines


def _with_comments(
    rows: Sequence[tuple[str, int]], part: Part, comments: Sequence[Comment]
) -> Iterator[str]:
    """Yield the rows of a part, each after the comments on its bars."""
    first = 0
    for text, count in rows:
        row = [each for each in comments if first <= each.bar < first + count]
        for words in dict.fromkeys(each.text for each in row):
            yield _comment([each for each in row if each.text == words], part)
        yield text
        first += count


def _comment(comments: Sequence[Comment], part: Part) -> str:
    """Return equal comments on bars of a row as one line."""
    shift = 0 if part.pickup else 1
    bars = [each + shift for each in sorted({each.bar for each in comments})]
    names = ["pickup"] * (0 in bars)
    names += [_listed("bar", list(map(str, filter(None, bars))))] if any(bars) else []
    places = [each.place.split(" ") for each in comments if each.place]
    origin = _listed(places[0][0], list(dict.fromkeys(p[-1] for p in places))) if places else ""
    source = f" ({origin})" if origin else ""
    return f"# {' and '.join(names)}{source}: {_one_line(comments[0].text)}"


def _listed(word: str, numbers: Sequence[str]) -> str:
    return f"{word}{'s' * (len(numbers) > 1)} {', '.join(numbers)}"


def _fields(chart: Chart) -> list[tuple[str, str]]:
    values = {
        "title": chart.title,
        "by": chart.by,
        "key": str(chart.key),
        "meter": str(chart.meter),
        "tempo": chart.tempo.plain(chart.meter.beat) if chart.tempo else "",
        "style": chart.style or "",
        "form": " ".join(chart.form),
        "count-in": "" if chart.count_in is None else str(chart.count_in),
        "intro": f"last {chart.intro}" if isinstance(chart.intro, int) else chart.intro or "",
        "ending": chart.ending or "",
        "melody": chart.melody_file,
    }
    single = [(name, _one_line(values[name])) for name in CHART_NAMES if values.get(name)]
    return [*single, *(("note", _one_line(note)) for note in chart.notes)]


def _one_line(text: str) -> str:
    """Return a text with line ends and other control characters replaced by spaces."""
    return re.sub(r"[\x00-\x1f\x7f-\x9f]+", " ", text).strip()


def _head(chart: Chart, part: Part) -> list[str]:
    """Return the lines with the name of a part and its headers."""
    name = f"[{part.name}]" + ("" if part.expected is None else f" {part.expected}")
    values = (part.key, part.meter, chart.own_tempo_text(part), part.style)
    own = zip(PART_NAMES, values, strict=True)
    return [name, *(f"{field}: {value}" for field, value in own if value)]


def _bars(chart: Chart, part: Part, spell: Spell, width: int | None) -> list[tuple[str, int]]:
    """Return the rows of a part, as long as the width allows, with their numbers of bars."""
    lines: list[str] = []
    rows: list[Row] = []
    writer = _Writer(part.meter or chart.meter, part.key or chart.key, spell)
    for bars_a_line in BARS_A_LINE:
        rows = rows_of(part, bars_a_line, stacked=False)
        lines = align_bars(list(map(writer.row, rows)))
        if width is None or max(map(len, lines)) <= width:
            break
    return [(line, len(row.cells)) for line, row in zip(lines, rows, strict=True)]


@dataclass(frozen=True, slots=True)
class _Writer:
    """Writes the bars of a part.

    Attributes:
        meter: the meter that bars do not write.
        key: the key of the part.
        spell: writes a chord.

    """

    meter: Meter
    key: Key
    spell: Spell

    def row(self, row: Row) -> str:
        """Return the text of a row, not yet aligned."""
        words = []
        for cell in row.cells:
            figures = ",".join(map(str, cell.ending))
            words += ["|:" if cell.opens else f"|{figures}", self._bar(cell.bar)]
        times = row.cells[-1].closes
        words.append(f":|{f'x{times}' if times > 2 else ''}" if times else "|")
        return " ".join(words)

    def _bar(self, bar: Bar) -> str:
        words = [f"(pickup {bar.meter})"] if bar.pickup else []
        if bar.meter != self.meter and not bar.pickup:
            words.append(f"({bar.meter})")
        of_bar = [each for each in bar.directions if each.ticks == bar.ticks]
        words += _quoted(of_bar)
        for span, (length, slashes) in zip(bar.chords, _shares(bar), strict=True):
            words.append((self.spell(span.chord, self.key) if span.chord else "N.C.") + length)
            at = span.tick, span.ticks
            own = [each for each in bar.directions if (each.tick, each.ticks) == at]
            words += _quoted(each for each in own if each not in of_bar)
            words += ["/"] * slashes
        return " ".join(words)


def _shares(bar: Bar) -> list[tuple[str, int]]:
    """Return for each chord of a bar its length, "" for none, and its number of slashes."""
    lengths = [span.ticks for span in bar.chords]
    beat = bar.meter.beat_ticks
    if changes_between_beats(bar):
        return [(suffix, 0) for suffix in length_suffixes(lengths)]
    even = len(set(lengths)) == 1
    return [("", 0 if even else ticks // beat - 1) for ticks in lengths]


def _quoted(directions: Iterable[Direction]) -> list[str]:
    return [f'"{each.word}"' for each in directions]
