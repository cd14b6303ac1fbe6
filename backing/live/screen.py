"""The screen of a live session, as lines of text.

Conventions: the screen is readable without colour or bold. The bar being played is between > and <.
Every line fits the width, in cells: a character takes none, one or two. Cut text ends in an
ellipsis. A small terminal shows the bar being played rather than keys and lateness.
"""

from __future__ import annotations

import textwrap
import unicodedata
from pathlib import Path
from typing import TYPE_CHECKING

from backing.chart.sequence import part_label, played_bars
from backing.control.commands import keys
from backing.control.progress import next_part
from backing.harmony.chord import chord_text
from backing.live.source import COUNT_IN
from backing.timing import Tempo

if TYPE_CHECKING:
    from collections.abc import Iterable

    from backing.live.session import Session


_GAP = "   "
_MORE = "…"


def cells(text: str) -> int:
    """Return the width of a text (Unicode Standard Annex 11: wide and full-width are two)."""
    return sum(map(_cells_of, text))


def _cells_of(sign: str) -> int:
    if unicodedata.combining(sign):
        return 0
    return 2 if unicodedata.east_asian_width(sign) in "WF" else 1


def cut(text: str, width: int) -> str:
    """Return the text, cut with an ellipsis when it is too long."""
    if cells(text) <= width:
        return text
    kept, wide = "", 0
    for sign in text:
        wide += _cells_of(sign)
        if wide > width - 1:
            break
        kept += sign
    return (kept + _MORE)[: max(width, 0)]


def packed(entries: Iterable[str], width: int) -> list[str]:
    """Return the entries in as few lines as possible; cut those that are too long."""
    lines: list[str] = []
    for entry in entries:
        if lines and cells(lines[-1]) + len(_GAP) + cells(entry) <= width:
            lines[-1] += _GAP + entry
        else:
            lines.append(cut(entry, width))
    return lines


def wrapped(text: str, width: int, most: int) -> list[str]:
    """Return a text in at most `most` lines, broken between words."""
    lines = [cut(line, width) for line in textwrap.wrap(text, width)]
    return (
        lines if len(lines) <= most else [*lines[: most - 1], cut(lines[most - 1] + _MORE, width)]
    )


_ROWS = 5
_LARGEST = 4

_FONT = Path(__file__).with_name("letters.txt")
_LETTERS = {row[0]: row[2:].split() for row in _FONT.read_text("utf-8").splitlines()}
"""The rows of dots of each large letter."""
_BLANK = ["....."] * _ROWS


def large_lines(text: str, width: int, height: int) -> list[str]:
    """Return a text in the largest letters that fit a width and a height, in characters.

    Words are side by side or, when that allows larger letters, one below the other. When no size
    fits, or a character has no large form, the text comes as one ordinary line.
    """
    if not set(text) <= _LETTERS.keys() | {" "}:
        return [text]
    sizes = [*((scale, 2 * scale) for scale in range(_LARGEST, 0, -1)), (1, 1)]
    for rows, columns in sizes:
        for words in ([text], text.split()):
            wide = max((len(word) for word in words), default=0) * 6 * columns - columns
            if wide <= width and len(words) * (_ROWS * rows + 1) - 1 <= height:
                return _stacked(words, rows, columns)
    return [text]


def _stacked(words: list[str], rows: int, columns: int) -> list[str]:
    lines: list[str] = []
    for word in words:
        lines += [*([""] if lines else []), *_scaled(word, rows, columns)]
    return lines


def _scaled(text: str, rows: int, columns: int) -> list[str]:
    lines = []
    for row in range(_ROWS):
        dots = ".".join(_LETTERS.get(sign, _BLANK)[row] for sign in text)
        line = "".join(("█" if dot == "#" else " ") * columns for dot in dots)
        lines += [line.rstrip()] * rows
    return lines


BARS_A_LINE = (4, 2, 1)
MARK = "|>"
"""Only the line with the bar being played has this text."""

_PLAY, _PAUSE, _MUTED = "playing", "paused", "--"
_LEAST_ROOM, _LEAST_LARGE = 3, 7
_LEAST_TITLE = 20
_TALL = 16


def screen(session: Session, width: int, height: int, *, large: bool) -> list[str]:
    """Return the lines of the screen, at most `height` lines of `width` cells."""
    top = [*_title(session, width), *packed(_position_words(session), width)]
    bottom = [
        *packed(_players(session), width),
        *_messages(session, width, 4 if height >= _TALL else 2),
    ]
    spare = height - len(top) - len(bottom) - (_LEAST_LARGE if large else _LEAST_ROOM)
    wanted = [
        cut(_lateness(session), width),
        *packed([f"{key.name} {key.label}" for key, _ in keys()], width),
    ]
    more = wanted[: max(spare, 0)]
    gap = [""] if spare >= len(wanted) + 2 else []
    room = max(height - len(top) - len(bottom) - len(more) - 2 * len(gap), 1)
    middle = (_large if large else _chart)(session, width, room)
    return [*top, *gap, *middle, *gap, *bottom, *more][:height]


def _title(session: Session, width: int) -> list[str]:
    """Return title, key, tempo, groove and state; cut a long title."""
    transport = session.transport
    settings, bar = transport.settings, transport.now_bar
    key = bar.key if bar else settings.chart.key
    style = bar.style.name if bar else settings.base.style or settings.chart.style or ""
    state = _PLAY if transport.playing else _PAUSE
    tempo = settings.chart.tempo_text(transport.bpm, 2)
    if (tune := settings.chart.counted(settings.bpm, 2)) != settings.chart.counted(
        transport.bpm, 2
    ):
        tempo += f", the tune's {tune.figure}"
    words = [f"key {key}", f"tempo {tempo}", style, state]
    room = width - sum(len(word) + 3 for word in words)
    title = cut(settings.chart.title, room) if room >= _LEAST_TITLE else settings.chart.title
    return packed([title, *words], width)


def _position_words(session: Session) -> list[str]:
    transport = session.transport
    bar = transport.now_bar
    if bar is None:
        return ["about to start"]
    words = [f"part {bar.label}, bar {bar.index + 1} of {bar.length}", f"chorus {bar.chorus}"]
    chart = transport.settings.chart
    if transport.settings.loop:
        progress = transport.progress.at(bar.position)
        words.append(f"loop {transport.settings.loop}, round {progress.loop_round}")
    if transport.settings.last_time:
        words.append("LAST TIME")
    elif not transport.settings.loop and bar.part in chart.order:
        words.append(f"next {part_label(*next_part(chart, bar.position.bar)[:2])}")
    ladder = transport.settings.ladder
    if ladder:
        start = Tempo(ladder.start_bpm, ladder.unit).plain(chart.meter.beat)
        words.append(f"ladder {start} to {Tempo(ladder.goal_bpm, ladder.unit).figure}")
    if transport.settings.rest:
        words.append("silent {} of {}".format(*transport.settings.rest))
    return words


def _chart(session: Session, width: int, room: int) -> list[str]:
    """Return as much of the chart as fits around the bar being played, which is marked."""
    transport = session.transport
    now = transport.now_bar
    lines: list[str] = []
    at = 0
    for part in dict.fromkeys(transport.settings.chart.order):
        bars = _bars_of(session, part)
        wide = max((len(text) for text in bars), default=1)
        a_line = next((many for many in BARS_A_LINE if many * (wide + 3) < width), 1)
        wide = max(min(wide, width // a_line - 4), 1)
        lines.append(cut(f"[{part}]", width))
        for start in range(0, len(bars), a_line):
            cells = []
            for index, text in enumerate(bars[start : start + a_line], start):
                here = now is not None and (now.part, now.index) == (part, index)
                shown = f"{cut(text, wide):<{wide}}"
                cells.append(f">{shown}<" if here else f" {shown} ")
                at = len(lines) if here else at
            lines.append("|" + "|".join(cells) + "|")
    first = max(0, min(at - room // 2, len(lines) - room))
    return lines[first : first + room]


def _bars_of(session: Session, part: str) -> list[str]:
    """Return the chords of each bar of a part, in the sounding key."""
    settings = session.transport.settings
    fifths = settings.chart.key.fifths_up(settings.semitones)
    return [
        " ".join(chord_text(span.chord and span.chord.up(fifths)) for span in bar.chords)
        for bar in played_bars(settings.chart.part(part))
    ]


def _large(session: Session, width: int, height: int) -> list[str]:
    """Return the chords of this bar in large letters, and as much of the chart as fits below.

    The number of lines is always `height`, so that nothing else moves.
    """
    bar = session.transport.now_bar
    below = 3 if height >= 2 * _LEAST_LARGE - 1 else 0
    text = ""
    if bar is not None:
        chords = " ".join(chord_text(chord) for _, chord in bar.chords)
        text = str(bar.index + 1) if bar.part == COUNT_IN else chords
    letters = large_lines(text, width, height - below)
    if letters == [text] and len(large_lines(text, width, height)) > 1:
        letters, below = large_lines(text, width, height), 0
    letters = [cut(line, width) for line in letters]
    letters += [""] * (height - below - len(letters))
    return [*letters, *(["", *_chart(session, width, below - 1)] if below else [])]


def _players(session: Session) -> list[str]:
    settings, bar = session.transport.settings, session.transport.now_bar
    style = bar.style if bar else None
    players = [
        f"{player} {dict(settings.levels)[player] if settings.plays(player, style) else _MUTED}"
        for player in settings.band
    ]
    return [*players, f"level {settings.level}"]


def _lateness(session: Session) -> str:
    lateness = session.transport.lateness
    late = sorted(lateness.last)
    if not late:
        return f"to {session.output.name}"
    middle, high = late[len(late) // 2], late[int(len(late) * 0.99)]
    left_out = f", {lateness.left_out} left out" if lateness.left_out else ""
    return (
        f"to {session.output.name}   late: {middle * 1000:.1f} ms, "
        f"one in a hundred {high * 1000:.1f}, worst {lateness.worst * 1000:.1f}{left_out}"
    )


def _messages(session: Session, width: int, most: int) -> list[str]:
    """Return the last two messages in at most `most` lines; the older one only if it fits."""
    lines: list[str] = []
    for text in reversed(session.messages[-2:]):
        more = wrapped(f"! {text}", width, most)
        if len(more) + len(lines) <= most:
            lines = [*more, *lines]
    return lines
