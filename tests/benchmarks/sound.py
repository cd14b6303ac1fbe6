"""Measure the time and memory of recordings, as ratios in one run.

    python tests/benchmarks/sound.py

- A recording of five minutes against the renderer alone on the same MIDI (at most 1.15).
- A pack of 22 recordings on one core against two (at least 1.7).
- Memory of the processes of a pack.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING

from backing.chart.read import read_chart
from backing.out.audio import RecordingSettings, record
from backing.out.formats import FORMATS
from backing.out.midifile import midi_tracks
from backing.out.renderer import rendering, usual_sound_font
from backing.out.tags import Tags
from backing.performance.performance import Performance
from backing.performance.settings import Settings

if TYPE_CHECKING:
    from collections.abc import Callable

CHART = """title: Benchmark
key: G
style: swing
tempo: 200
[A] 16
| G | G7 | C | Cm | G | E7 | A7 | D7 | G | G7 | C | Cm | G D7 | G | Am7 | D7 |
"""
CHOICES = ["--choruses", "1", "--keys", "G,A", "--tempi", "140,160,180,200,240", "--minus", "none"]
"""For each of two keys: 5 whole tunes, a ladder, 5 loops, a sheet and a MIDI file."""
ROUNDS = 5


def seconds_of(work: Callable[[], object]) -> float:
    """Return the time that a function takes, in seconds."""
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def benchmark_recording() -> None:
    """Print the time of a recording against the renderer alone."""
    performance = Performance(read_chart(CHART), Settings(choruses=15))
    midi, font = midi_tracks(performance), usual_sound_font()
    settings = RecordingSettings(font)
    tags = Tags("Benchmark", "", performance.chart.key, performance.bpm, "swing", "")
    print(f"{midi.length.seconds:.0f} seconds of music")
    alone = [sys.executable, "-P", rendering.__file__, str(font), str(4 << 30), "600"]

    def renderer() -> None:
        subprocess.run(alone, input=midi.file(), stdout=subprocess.DEVNULL, check=True)

    for ending, kind in FORMATS.items():
        pairs = []
        for _ in range(ROUNDS if ending == "wav" else 2):
            floor = seconds_of(renderer)
            mine = seconds_of(lambda: record(midi, kind, settings, tags, stems=False))  # noqa: B023
            pairs.append((mine, floor, mine / floor))
        mine, floor, ratio = (statistics.median(each) for each in zip(*pairs, strict=True))
        print(f"{ending}: {mine:.2f} s, renderer alone {floor:.2f} s, ratio {ratio:.2f}")


def benchmark_pack() -> None:
    """Print the speed-up by two processes."""
    with tempfile.TemporaryDirectory() as made:
        chart = Path(made) / "benchmark.chart"
        chart.write_text(CHART, encoding="utf-8")
        took: dict[int, list[float]] = {}
        for processes in (1, 2, 1, 2):  # on as many cores
            target = Path(made) / f"{processes}-{time.monotonic_ns()}"
            command = ["backing", "pack", str(chart), "-o", str(target), *CHOICES]
            command += ["--format", "flac"]
            command += ["--processes", str(processes)]
            cores = sorted(os.sched_getaffinity(0))[:processes]
            time_taken = seconds_of(lambda: _quietly(command, cores))  # noqa: B023
            took.setdefault(processes, []).append(time_taken)
        one, two = min(took[1]), min(took[2])
        print(f"pack: one core {one:.1f} s, two {two:.1f} s, {one / two:.2f} times (1.7)")


def benchmark_memory() -> None:
    """Print the peak memory of any process for few and many files."""
    with tempfile.TemporaryDirectory() as made:
        chart = Path(made) / "benchmark.chart"
        chart.write_text(CHART, encoding="utf-8")
        for keys in ("G", "G,A,C,D,E,F"):
            command = ["backing", "pack", str(chart), "-o", f"{made}/{keys}", "--keys", keys]
            command += ["--tempi", "200,240", "--choruses", "2", "--format", "wav"]
            code = (
                "import resource, subprocess, sys; subprocess.run(sys.argv[1:], check=True);"
                "print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)"
            )
            run = [sys.executable, "-c", code, sys.executable, "-m", *command]
            done = subprocess.run(run, capture_output=True, text=True, check=True)
            files = sum(path.is_file() for path in Path(made, keys).rglob("*.wav"))
            print(f"{files} recordings: at most {int(done.stdout.split()[-1]) / 1000:.0f} MB")


def _quietly(command: list[str], cores: list[int]) -> None:
    subprocess.run(
        [sys.executable, "-m", *command],
        capture_output=True,
        check=True,
        preexec_fn=lambda: os.sched_setaffinity(0, cores),
    )


if __name__ == "__main__":
    benchmark_recording()
    benchmark_pack()
    benchmark_memory()
