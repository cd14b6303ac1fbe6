"""Measure how late messages are sent; print a table, assert nothing.

    python tests/benchmarks/timing.py [SECONDS] [RUNS] [LOAD]

LOAD is idle, cores, thread or screen; all by default.

At 230 quarter notes a minute, through a JACK port of 64 frames if there is a JACK server
(named by JACK_DEFAULT_SERVER), else to nowhere: our runner playing a chart, `mido.MidiFile.play()`
and sleeping to each deadline, the last two with 16 messages a bar. Loads: none, a busy process on
each core, a busy thread in the process, and drawing the screen. Lateness is the time of the call
that sends minus the time when the message is due. Each figure is the median of the runs.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import statistics
import sys
import threading
import time
from pathlib import Path
from types import SimpleNamespace
from typing import TYPE_CHECKING

import mido

from backing.chart.read import read_chart
from backing.control.settings import LiveSettings
from backing.live.console import POLL_SECONDS
from backing.live.midi_output import Lateness
from backing.live.runner import Runner
from backing.live.screen import screen
from backing.live.source import Source
from backing.live.transport import START_DELAY_SECONDS, Transport
from backing.out.port import OutputPort, PortError
from backing.performance.settings import Settings

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

BPM = 230.0
EXACT = Settings(bpm=BPM, looseness=0.0, count_in=1)
CHART = read_chart(
    "key: G\nstyle: swing\ntempo: 230\n[A] 8\n| G6 | Em7 | Am7 | D7 | G6 | C9 | Am7 D7 | G6 |\n"
)


def port() -> Callable[[bytes], None]:
    """Return a function that sends a message to a virtual port, or to nowhere."""
    try:
        return OutputPort("timing", virtual=True).send
    except PortError:
        return lambda message: None


class EveryLateness(Lateness):
    """The lateness of every message, in seconds."""

    def __init__(self) -> None:
        super().__init__()
        self.every: list[float] = []

    def note(self, seconds: float) -> None:
        """Record one message."""
        super().note(seconds)
        self.every.append(seconds)


def ours(send: Callable[[bytes], None], seconds: float) -> list[float]:
    """Return the lateness of every note of a live take."""
    transport = Transport(Source(), LiveSettings.of(CHART, EXACT), send)
    runner = Runner(transport, lambda error: print(error, file=sys.stderr))
    transport.lateness = EveryLateness()
    runner.start()
    transport.play(runner.now())
    time.sleep(seconds + START_DELAY_SECONDS)
    runner.close()
    return transport.lateness.every


def deadlines(seconds: float) -> list[float]:
    """Return due times in seconds from 0: sixteen a bar of four quarters."""
    step = 60.0 / BPM / 4
    return [index * step for index in range(int(seconds / step))]


def plain_sleep(send: Callable[[bytes], None], seconds: float) -> list[float]:
    """Return the lateness of sleeping to each deadline."""
    late = []
    start = time.perf_counter() + 0.05
    for due in deadlines(seconds):
        rest = start + due - time.perf_counter()
        if rest > 0:
            time.sleep(rest)
        late.append(time.perf_counter() - start - due)
        send(bytes((0x90, 60, 1)))
    return late


def mido_play(send: Callable[[bytes], None], seconds: float) -> list[float]:
    """Return the lateness of `mido.MidiFile.play()`."""
    file = mido.MidiFile(ticks_per_beat=960)
    track = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=round(60e6 / BPM))])
    track += [
        mido.Message("note_on", note=60, velocity=1, time=240 if index else 0)
        for index in range(len(deadlines(seconds)))
    ]
    file.tracks.append(track)
    late = []
    begun = time.perf_counter()
    for due, message in zip(deadlines(seconds), file.play(), strict=False):
        late.append(time.perf_counter() - begun - due)
        send(bytes(message.bytes()))
    soonest = min(late)  # it has its own start time: the earliest message counts as on time
    return [each - soonest for each in late]


def _spin() -> None:
    while True:
        pass


@contextlib.contextmanager
def busy_cores() -> Iterator[None]:
    """Keep a process busy on each core."""
    others = [
        multiprocessing.Process(target=_spin, daemon=True)
        for _ in range(multiprocessing.cpu_count())
    ]
    for other in others:
        other.start()
    try:
        yield
    finally:
        for other in others:
            other.terminate()
            other.join()


@contextlib.contextmanager
def busy_thread() -> Iterator[None]:
    """Keep a thread of this process busy."""
    done = threading.Event()

    def work() -> None:
        while not done.is_set():
            sum(range(1000))

    thread = threading.Thread(target=work, daemon=True)
    thread.start()
    try:
        yield
    finally:
        done.set()
        thread.join()


@contextlib.contextmanager
def screen_on() -> Iterator[None]:
    """Draw the screen of a session ten times a second, as the console does."""
    transport = Transport(Source(), LiveSettings.of(CHART, Settings(bpm=BPM)), lambda message: None)
    transport.play(0.0)
    transport.pump(1.0)
    session = SimpleNamespace(transport=transport, output=SimpleNamespace(name="none"), news=[])
    done = threading.Event()

    def draw() -> None:
        with Path(os.devnull).open("w", encoding="utf-8") as terminal:
            while not done.wait(POLL_SECONDS):
                terminal.write("\n".join(screen(session, 80, 24, large=False)))
                terminal.flush()

    thread = threading.Thread(target=draw, daemon=True)
    thread.start()
    try:
        yield
    finally:
        done.set()
        thread.join()


def figures(late: list[float]) -> tuple[float, float, float, float]:
    """Return p50, p95, p99 and the worst, in milliseconds."""
    ranked = sorted(late)
    picked = (ranked[min(int(len(ranked) * share), len(ranked) - 1)] for share in (0.5, 0.95, 0.99))
    p50, p95, p99 = picked
    return p50 * 1000, p95 * 1000, p99 * 1000, ranked[-1] * 1000


LOADS: dict[str, Callable[[], contextlib.AbstractContextManager[None]]] = {
    "idle": contextlib.nullcontext,
    "cores": busy_cores,
    "thread": busy_thread,
    "screen": screen_on,
}


def main() -> None:
    """Print the table."""
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 60.0
    runs = int(sys.argv[2]) if len(sys.argv) > 2 else 3
    send = port()
    print(f"{seconds:g} s at {BPM:g}, median of {runs}; ms late: p50 / p95 / p99 / worst")
    for name, load in LOADS.items():
        if sys.argv[3:] and sys.argv[3] != name:
            continue
        for who, play in (("ours", ours), ("mido play", mido_play), ("plain sleep", plain_sleep)):
            with load():
                rows = [figures(play(send, seconds)) for _ in range(runs)]
            middle = [statistics.median(column) for column in zip(*rows, strict=True)]
            print(f"{name:<8} {who:<12} " + " / ".join(f"{each:.3f}" for each in middle))


if __name__ == "__main__":
    main()
