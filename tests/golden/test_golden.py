"""One chorus of each style as readable text, so that a changed groove shows as a diff.

A line is `bar.beat.tick player pitch velocity length`: bars and beats from 1, ticks from the
beat, 960 a quarter, at looseness 1. Where a loose note comes before its beat the tick is negative.

When a change of the music is meant, write the files anew and read the diff before it is committed:

    BACKING_GOLDEN=write pytest tests/golden
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from backing.chart.read import read_chart
from backing.notes import without_overlaps
from backing.performance.performance import Performance, PlayedBar
from backing.performance.settings import Settings
from backing.timing import TICKS_PER_QUARTER

HERE = Path(__file__).parent
BPM = {"two-beat": 200, "swing": 160, "shuffle": 116}

CHART = """\
title: Eight Bars
key: G
form: A B
[A] 4
| G | C | D7 "push" | G E7 |
[B] 4
| Am7 | D7/F# | G "stop" | "build" Am7 D7 |
"""


def lines_of(bars: list[PlayedBar]) -> list[str]:
    """Return a header for each bar and a line for each note, in the order of the notes."""
    heard = without_overlaps(note for bar in bars for note in bar.notes)
    found: list[str] = []
    for number, bar in enumerate(bars, 1):
        names = " ".join(str(chord) if chord else "N.C." for _, chord in bar.chords)
        found.append(f"# {number} {bar.marker} {names}".rstrip())
        own = {(note.tick, note.player, note.pitch) for note in bar.notes}
        for note in heard:
            if (note.tick, note.player, note.pitch) in own:
                ahead = note.tick - bar.start + TICKS_PER_QUARTER // 6  # the beat it is meant for
                beat = ahead // TICKS_PER_QUARTER
                tick = note.tick - bar.start - beat * TICKS_PER_QUARTER
                place = f"{number}.{beat + 1}.{tick}"
                found.append(f"{place} {note.player} {note.pitch} {note.velocity} {note.length}")
    return found


@pytest.mark.parametrize("style", BPM)
def test_golden(style: str) -> None:
    """A style's notes are those of its golden file."""
    settings = Settings(style=style, bpm=BPM[style], choruses=1, count_in=1, seed=1)
    made = Performance(read_chart(CHART, "eight-bars.chart"), settings)
    text = "\n".join(lines_of(list(made.bars()))) + "\n"
    path = HERE / f"{style}.txt"
    if os.environ.get("BACKING_GOLDEN") == "write":
        path.write_text(text, encoding="utf-8")
    assert path.read_text(encoding="utf-8") == text
