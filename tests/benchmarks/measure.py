"""Measure time and memory as ratios in one run; print a table, assert nothing.

    python tests/benchmarks/measure.py

- Arranging and writing 960 bars (a 48-bar chart, 20 choruses) of every style, against what mido
  alone needs to build and save the same messages. Chord shapes and fingering paths are not cached.
- `backing --help`, and `backing play` until its first note, against importing the library that
  reads the command line. The band begins .06 s after `play`.
- Memory while bars are made, by the number of choruses.

Each ratio is the median of several pairs that were run one right after the other.
"""

from __future__ import annotations

import io
import os
import re
import statistics
import subprocess
import sys
import tempfile
import time
import tracemalloc
from pathlib import Path
from typing import TYPE_CHECKING

import mido

from backing.chart.read import read_chart
from backing.fretboard import fingering_path, further_paths, hand, shapes
from backing.out.midifile import midi_bytes
from backing.performance.performance import Performance
from backing.performance.settings import Settings
from backing.style.library import all_styles

if TYPE_CHECKING:
    from collections.abc import Callable

    from backing.chart.model import Chart
    from backing.timing import Meter

PAIRS = 7
CHORUSES = 20

CHART = """
title:  Forty-Eight Bars
key:    E
form:   A B C
[A] 16
| E     | %     | E7    | A     | A7    | E     | F#7   | B7    |
| E     | %     | E7    | A     | Am6   | E C#7 | F#7 B7 | E    |
[B] 16
| C#7   | %     | F#7   | %     | B7    | %     | E     | C#7   |
| F#m7  | B7    | G#m7  | C#7   | F#m7 B7 | E   | F#7   | B7    |
[C] 16
| A     | A#dim7 | E/B  | C#7   | F#7   | B7    | E     | E7    |
| A     | A#dim7 | E/B  | C#7   | F#7   | B7    | E A7  | E     |
"""


def seconds(work: Callable[[], object]) -> float:
    """Return the time that a function takes, in seconds."""
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def ratio(ours: Callable[[], object], theirs: Callable[[], object]) -> tuple[float, float, float]:
    """Return medians of ours, of theirs, and of the ratio pair by pair."""
    ours(), theirs()
    pairs = [(seconds(ours), seconds(theirs)) for _ in range(PAIRS)]
    middle = statistics.median
    return (
        middle(pair[0] for pair in pairs),
        middle(pair[1] for pair in pairs),
        middle(pair[0] / pair[1] for pair in pairs),
    )


def rebuild(tracks: list[list[tuple[bool, str, dict[str, object]]]]) -> None:
    """Build messages with mido and save them: the least time for a MIDI file."""
    file = mido.MidiFile(type=1, ticks_per_beat=960, charset="utf-8")
    for messages in tracks:
        track = mido.MidiTrack()
        for is_meta, kind, values in messages:
            make = mido.MetaMessage if is_meta else mido.Message
            track.append(make(kind, **values))
        file.tracks.append(track)
    file.save(file=io.BytesIO())


def taken_apart(data: bytes) -> list[list[tuple[bool, str, dict[str, object]]]]:
    """Return the messages of a MIDI file as plain values."""
    tracks = []
    for track in mido.MidiFile(file=io.BytesIO(data), charset="utf-8").tracks:
        rows = []
        for message in track:
            values = {key: value for key, value in vars(message).items() if key != "type"}
            rows.append((message.is_meta, message.type, values))
        tracks.append(rows)
    return tracks


def chart_in(meter: Meter) -> Chart:
    """Return the chart in a meter; in three beats the first of two chords has two."""
    text = CHART
    if meter.beats % 2:
        text = re.sub(r"([^|\s]+) +([^|\s]+)(?= +\|)", r"\1 / \2", CHART)
    return read_chart(f"meter: {meter}{text}")


def forget_shapes() -> None:
    """Clear the caches of shapes."""
    paths = fingering_path.fingering_path, further_paths.fingering_paths
    for cached in (shapes.easiest, *paths, hand._holds):
        cached.cache_clear()


def benchmark_writing() -> None:
    """Print the time of 960 bars in every style."""
    for style in all_styles()[0]:
        chart = chart_in(style.meters[0])
        settings = Settings(style=style.name, choruses=CHORUSES)

        def ours(chart: Chart = chart, settings: Settings = settings) -> bytes:
            forget_shapes()
            return midi_bytes(Performance(chart, settings))

        parts = taken_apart(ours())
        messages = sum(map(len, parts))
        mine, floor, times = ratio(ours, lambda parts=parts: rebuild(parts))
        print(
            f"{style.name:<14} 960 bars, {messages} messages: {mine:.2f} s, "
            f"mido alone {floor:.2f} s, ratio {times:.2f} (wanted: at most 1.3)"
        )


def benchmark_start() -> None:
    """Print the time of the start of the program, with all modules compiled."""
    tests = Path(__file__).parents[1]
    tune = str(tests.parent / "demos" / "quarry-hill.chart")
    with tempfile.TemporaryDirectory() as compiled:
        for arguments in (["--help"], ["play", tune]):
            ours, floor, times = ratio(
                lambda given=arguments: _run(compiled, str(tests / "first_note.py"), *given),
                lambda: _run(compiled, "-c", "import typer"),
            )
            print(
                f"backing {arguments[0]}: {ours * 1000:.0f} ms, import typer {floor * 1000:.0f} ms,"
                f" ratio {times:.2f}"
            )


def _run(compiled: str, *arguments: str) -> None:
    """Run Python, which keeps compiled modules in a folder."""
    environment = {**os.environ, "PYTHONPYCACHEPREFIX": compiled, "PYTHONDONTWRITEBYTECODE": ""}
    command = [sys.executable, *arguments]
    subprocess.run(
        command, stdin=subprocess.DEVNULL, capture_output=True, check=True, env=environment
    )


def benchmark_memory() -> None:
    """Print the memory used while bars are made, one after the other."""
    chart = read_chart(CHART)
    for choruses in (2, 20, 200):
        tracemalloc.start()
        for _ in Performance(chart, Settings(style="swing", choruses=choruses)).bars():
            pass
        held, most = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        print(f"{choruses:4} choruses: {most / 1e6:.2f} MB at most, {held / 1e6:.2f} MB at the end")


if __name__ == "__main__":
    benchmark_writing()
    benchmark_start()
    benchmark_memory()
