"""The blocks above and below the bars: head, shapes, practice box, lines for notes."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

from backing.chart.model import KICK_OFF
from backing.chart.sequence import length_in_bars
from backing.out.sheet.faces import BOLD, PLAIN, TITLE, width_of
from backing.out.sheet.fretboard import fretboard_block
from backing.out.sheet.letters import key_text
from backing.out.sheet.marks import BLACK, GREY, PALE, Block, Box, Line, Mark, fitted, word, wrapped
from backing.timing import note_words

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from backing.out.sheet.style import Sheet, SheetStyle

_MOST_CHIPS = 48
"""The most boxes of the form; in a longer form successive equal parts share a box."""

_MOST_ROWS = 4
"""The most parts with rows of their own in the practice box."""

_FEWEST_LINES, _MOST_LINES = 3, 8
"""Lines for notes."""

HEAD, FOOT = 0, 2_000_000
"""Reading order of texts above and below the bars."""


def head(sheet: Sheet, style: SheetStyle) -> list[Block]:
    """Return title, composer, key, meter, tempo, style, form and notes."""
    blocks = [*_title(sheet, style), _facts(sheet, style), _form(sheet, style)]
    blocks += _paragraphs(sheet.chart.notes, style)
    last, size = blocks[-1], style.text_size
    return [*blocks[:-1], Block(last.height, last.marks, 0.9 * size, 0.5 * size)]


def _title(sheet: Sheet, style: SheetStyle) -> list[Block]:
    size = 30.0 if style.large else 25.0
    size, lines = fitted(_one_line(sheet.chart.title), TITLE, size, style.width, 0.62 * size)
    blocks = [
        Block(1.2 * size, (word(0, 0.98 * size, line, size, TITLE, order=HEAD),)) for line in lines
    ]
    last, level = blocks.pop(), 1.3 * size
    rule = Line(0, level, style.width, level, 1.6)
    return [*blocks, Block(level + 2, (*last.marks, rule), 0.2 * size)]


def _facts(sheet: Sheet, style: SheetStyle) -> Block:
    chart, size = sheet.chart, 1.08 * style.text_size
    facts = "  ·  ".join((key_text(chart.key), str(chart.meter), sheet.tempo.drawn(), sheet.style))
    by = _one_line(chart.by)
    lines = wrapped(facts, PLAIN, size, style.width) if "  " not in facts else [facts]
    if width_of(facts, PLAIN, size) > style.width:
        lines = wrapped(facts, PLAIN, size, style.width)
    marks: list[Mark] = [
        word(0, size * (0.85 + 1.3 * index), line, size, BOLD if not index else PLAIN, order=HEAD)
        for index, line in enumerate(lines)
    ]
    height = 1.3 * size * len(lines)
    if by:
        room = style.width - width_of(lines[-1], BOLD, size) - 2 * size
        if width_of(by, PLAIN, size) <= room:
            x = style.width - width_of(by, PLAIN, size)
            marks.append(word(x, height - 0.45 * size, by, size, PLAIN, order=HEAD))
        else:
            for line in wrapped(by, PLAIN, size, style.width):
                marks.append(word(0, height + 0.85 * size, line, size, PLAIN, order=HEAD))
                height += 1.3 * size
    return Block(height, tuple(marks), 0.45 * size)


def _form(sheet: Sheet, style: SheetStyle) -> Block:
    """Return the parts in boxes in playing order, and the facts of the form."""
    chart, size = sheet.chart, style.text_size
    names = [_one_line(name) for name in chart.order]
    if len(names) > _MOST_CHIPS:
        runs = [(name, len(list(same))) for name, same in groupby(names)]
        names = [f"{name} ×{count}" if count > 1 else name for name, count in runs]
    more = len(names) - _MOST_CHIPS
    if more > 0:
        names = [*names[:_MOST_CHIPS], f"and {more} more"]
    marks: list[Mark] = [word(0, 1.2 * size, "Form", size, PLAIN, GREY, HEAD)]
    start = width_of("Form", PLAIN, size) + 0.8 * size
    x, y = start, 0.0
    pad, step = 0.5 * size, 1.9 * size
    for name in names:
        small, lines = fitted(name, BOLD, size, style.width - start - 2 * pad, 0.6 * size)
        text = lines[0] if len(lines) == 1 else f"{lines[0][:-1]}…"
        width = max(width_of(text, BOLD, small) + 2 * pad, 1.7 * size)
        if x + width > style.width:
            x, y = start, y + step
        marks.append(Box(x, y, width, 1.6 * size, 0.8, None, 0.3 * size))
        left = x + (width - width_of(text, BOLD, small)) / 2
        marks.append(word(left, y + 1.16 * size, text, small, BOLD, order=HEAD))
        x += width + 0.35 * size
    text = _form_facts(sheet)
    x += 0.5 * size
    if x + width_of(text, PLAIN, size) > style.width:
        x, y = start, y + step
    for line in wrapped(text, PLAIN, size, style.width - x):
        marks.append(word(x, y + 1.16 * size, line, size, PLAIN, GREY, HEAD))
        y += 1.3 * size
    return Block(y + 0.4 * size, tuple(marks), 0.5 * size)


def _form_facts(sheet: Sheet) -> str:
    chart = sheet.chart
    bars = length_in_bars(chart)
    text = [f"{bars} bar{'s' if bars != 1 else ''} once round"]
    if chart.intro == KICK_OFF:
        text.append("kick-off first")
    elif chart.intro:
        text.append(f"intro: the last {chart.intro}")
    if chart.ending:
        text.append(f"ending: {chart.ending}")
    return "  ·  ".join(text)


def _paragraphs(texts: Sequence[str], style: SheetStyle) -> list[Block]:
    size = 0.92 * style.text_size
    lines = [line for text in texts for line in wrapped(_one_line(text), PLAIN, size, style.width)]
    return [
        Block(1.3 * size, (word(0, 0.85 * size, line, size, PLAIN, GREY, HEAD),)) for line in lines
    ]


def _one_line(text: str) -> str:
    """Return a text on one line."""
    return " ".join(text.split())


def shapes(sheet: Sheet, style: SheetStyle, unit: float) -> list[Block]:
    """Return each distinct shape once, in rows."""
    if not sheet.fingerings:
        return []
    size = style.text_size
    drawn = [
        fretboard_block(fingering, sheet.spell, unit, left=sheet.fingerings.left)
        for fingering in sheet.fingerings.different
    ]
    title = f"Shapes for {sheet.instrument}" + (", left hand" if sheet.fingerings.left else "")
    blocks = [_heading(title, style)]
    row: list[Block] = []
    gap = 7 * unit
    for block in drawn:
        if row and sum(each.width + gap for each in row) + block.width > style.width:
            blocks.append(_side_by_side(row, gap, 0.7 * size))
            row = []
        row.append(block)
    return [*blocks, _side_by_side(row, gap, 1.2 * size)]


def _side_by_side(blocks: Sequence[Block], gap: float, below: float) -> Block:
    x, marks = 0.0, []
    for block in blocks:
        marks += [mark.moved(x, 0) for mark in block.marks]
        x += block.width + gap
    return Block(max(block.height for block in blocks), tuple(marks), below)


def _heading(text: str, style: SheetStyle) -> Block:
    size = 1.05 * style.text_size
    start = width_of(text, BOLD, size) + 0.7 * size
    rule = Line(start, 0.6 * size, style.width, 0.6 * size, 0.6, GREY)
    return Block(
        1.3 * size,
        (word(0, 0.9 * size, text, size, BOLD, order=FOOT), rule),
        0.35 * size,
        together=True,
    )


def notes(style: SheetStyle, room: float) -> list[Block]:
    """Return lines for notes, or nothing if too few fit.

    Args:
        style: the style of the sheet.
        room: the height that is free, in points.
    """
    step = 2.4 * style.text_size
    title = _heading("Notes", style)
    count = int((room - title.height - title.gap) / step)
    if count < _FEWEST_LINES:
        return []
    lines = tuple(
        Line(0, step * (index + 1), style.width, step * (index + 1), 0.5, PALE)
        for index in range(min(count, _MOST_LINES))
    )
    return [title, Block(step * len(lines), lines)]


def practice(sheet: Sheet, style: SheetStyle, *, full: bool) -> list[Block]:
    """Return the practice box: a box to tick at each tempo, for each part and the whole tune.

    Args:
        sheet: the sheet.
        style: its style.
        full: whether parts have rows of their own, if they are few.
    """
    if not sheet.tempi:
        return []
    names = [_one_line(part.name) for part in sheet.chart.parts]
    rows = [*names, "whole tune"] if full and 1 < len(names) <= _MOST_ROWS else ["whole tune"]
    size = style.text_size
    text = (
        "Tick a box when it went well three times in a row. Keep the volume moderate, take breaks, "
        "and stop when a hand hurts."
    )
    marks = list(_ticks(sheet, style, rows))
    height = 1.5 * size + 1.75 * size * len(rows)
    for line in wrapped(text, PLAIN, 0.86 * size, style.width):
        marks.append(word(0, height + 0.9 * size, line, 0.86 * size, PLAIN, GREY, FOOT))
        height += 1.15 * size
    title = _heading(f"Practice: {note_words(sheet.tempo.unit)} notes a minute", style)
    return [title, Block(height + 0.2 * size, tuple(marks))]


def _ticks(sheet: Sheet, style: SheetStyle, rows: Sequence[str]) -> Iterator[Mark]:
    size = style.text_size
    names = [fitted(name, PLAIN, size, 0.24 * style.width, 0.6 * size) for name in rows]
    label = max(width_of(lines[0], PLAIN, small) for small, lines in names) + size
    step = (style.width - label) / len(sheet.tempi)
    small = min(size, size * 0.8 * step / width_of("000.0", BOLD, size))
    for column, tempo in enumerate(sheet.tempi):
        text = f"{tempo:g}"
        middle = label + step * (column + 0.5)
        x = middle - width_of(text, BOLD, small) / 2
        yield word(x, 1.0 * size, text, small, BOLD, BLACK, FOOT)
        for index in range(len(rows)):
            side = min(1.25 * size, 0.8 * step)
            top = 1.5 * size + 1.75 * size * index
            yield Box(middle - side / 2, top, side, side, 0.8, None, 0.15 * size)
    for index, (tiny, lines) in enumerate(names):
        text = lines[0] if len(lines) == 1 else f"{lines[0][:-1]}…"
        base = 1.5 * size + 1.75 * size * index + 0.95 * size
        yield word(0, base, text, tiny, PLAIN, BLACK, FOOT)
