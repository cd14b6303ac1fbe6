"""The screen of a live session, as lines of text.

Conventions: what matters is said in words and signs, colour and bold only underline it; the bar
being played stands between > and <. Every line fits the width.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from backing.live.keys import KEYS
from backing.live.letters import large_lines
from backing.live.source import COUNT_IN
from backing.live.verbs import next_part
from backing.notes import Player

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backing.live.session import Session

BARS_A_LINE = 4
_PLAY, _PAUSE, _NO = "playing", "paused", "--"


def screen(session: Session, width: int, height: int, *, large: bool) -> list[str]:
    """Return the lines of the screen, at most `height` of at most `width` signs."""
    top = [_title(session), _where(session), ""]
    bottom = ["", _who(session), _lateness(session), *_news(session), *_help(width)]
    room = max(height - len(top) - len(bottom), 1)
    middle = _large(session, width, room) if large else _chart(session, room)
    return [line[:width] for line in (*top, *middle[:room], *bottom)][:height]


def _title(session: Session) -> str:
    transport = session.transport
    wishes, bar = transport.wishes, transport.now_bar
    key = bar.key if bar else wishes.chart.key
    style = bar.style.name if bar else wishes.style or wishes.chart.style or ""
    state = _PLAY if transport.playing else _PAUSE
    return f"{wishes.chart.title}   key {key}   tempo {transport.bpm:g}   {style}   {state}"


def _where(session: Session) -> str:
    transport = session.transport
    bar = transport.now_bar
    if bar is None:
        return "about to begin"
    words = [f"part {bar.part}, bar {bar.index + 1} of {bar.length}", f"chorus {bar.chorus}"]
    chart = transport.wishes.chart
    if transport.wishes.loop:
        words.append(f"loop {transport.wishes.loop}")
    elif transport.wishes.last_time:
        words.append("LAST TIME")
    elif bar.part in chart.order:
        words.append(f"next {next_part(chart, bar.position.bar)[0]}")
    ladder = transport.wishes.ladder
    if ladder:
        words.append(f"ladder {ladder.start_bpm:g} to {ladder.goal_bpm:g}")
    return "   ".join(words)


def _chart(session: Session, room: int) -> list[str]:
    """Return the part being played, the bar being played marked, and what fits around it."""
    transport = session.transport
    now = transport.now_bar
    lines: list[str] = []
    at = 0
    for part in dict.fromkeys(transport.wishes.chart.order):
        bars = _bars_of(session, part)
        width = max((len(text) for text in bars), default=1)
        lines.append(f"[{part}]")
        for start in range(0, len(bars), BARS_A_LINE):
            cells = []
            for index, text in enumerate(bars[start : start + BARS_A_LINE], start):
                here = now is not None and (now.part, now.index) == (part, index)
                cells.append(f">{text:<{width}}<" if here else f" {text:<{width}} ")
                at = len(lines) if here else at
            lines.append("|" + "|".join(cells) + "|")
    first = max(0, min(at - room // 2, len(lines) - room))
    return lines[first : first + room]


def _bars_of(session: Session, part: str) -> list[str]:
    """Return the chords of a part's bars as they sound now, in the key that sounds."""
    wishes = session.transport.wishes
    fifths = wishes.chart.key.fifths_up(wishes.semitones)
    return [
        " ".join(
            str(span.chord.up(fifths).plain()) if span.chord else "N.C." for span in bar.chords
        )
        for bar in wishes.chart.part(part).played()
    ]


def _large(session: Session, width: int, height: int) -> list[str]:
    """Return the chords of this bar in letters to be read from across the room."""
    bar = session.transport.now_bar
    if bar is None:
        return []
    if bar.part == COUNT_IN:
        return large_lines(str(bar.index + 1), width, height)
    return large_lines(" ".join(bar.chords), width, height)


def _who(session: Session) -> str:
    wishes = session.transport.wishes
    players = [
        f"{player} {_NO if player in wishes.muted else dict(wishes.levels)[player]}"
        for player in Player
    ]
    return "   ".join([*players, f"level {wishes.level}"])


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


def _news(session: Session) -> Sequence[str]:
    return [f"! {text}" for text in session.news[-2:]]


def _help(width: int) -> list[str]:
    """Return the keys in as few lines as fit."""
    lines = [""]
    for key, (_, word) in KEYS.items():
        name = "space" if key == " " else key
        entry = f"{name} {word}"
        if lines[-1] and len(lines[-1]) + 3 + len(entry) > width:
            lines.append("")
        lines[-1] += f"   {entry}" if lines[-1] else entry
    return lines
