"""Measure the processor time of an idle stand.

    python tests/benchmarks/idle.py [CHARTS [SECONDS]]

It starts a stand with invented charts (1,000), waits until it is idle, and prints the share of one
core that it uses over some seconds (30). It needs /proc.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tempfile
import time
from pathlib import Path

CHART = "title: Pasture {number}\nkey: {key}\n[A]\n| {key} | Am | D7 | {key} |\n[B]\n| C | G |\n"
KEYS = ("C", "D", "E", "F", "G", "A", "Bb", "Eb")
SETTLED = 3
"""Successive idle windows before the stand counts as idle."""

WINDOW_SECONDS = 2.0


def worked(process: int) -> float:
    """Return the processor time of a process and its finished children, in seconds."""
    status = Path(f"/proc/{process}/stat").read_text(encoding="ascii")
    fields = status.rpartition(")")[2].split()  # from the third field of proc(5) on
    return sum(map(int, fields[11:15])) / os.sysconf("SC_CLK_TCK")


def wait_until_idle(process: int) -> None:
    """Wait while the stand reads charts and renders sounds."""
    calm, before = 0, worked(process)
    while calm < SETTLED:
        time.sleep(WINDOW_SECONDS)
        now = worked(process)
        calm = calm + 1 if now - before < 0.2 * WINDOW_SECONDS else 0
        before = now


def main(charts: int = 1000, seconds: float = 30.0) -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place, "charts")
        folder.mkdir()
        for number in range(charts):
            text = CHART.format(number=number, key=KEYS[number % len(KEYS)])
            (folder / f"pasture-{number:04}.chart").write_text(text, encoding="utf-8")
        command = [sys.executable, "-m", "backing", "stand", str(folder)]
        stand = subprocess.Popen(
            [*command, "--no-browser", "--http-port", "0"],
            stdout=subprocess.PIPE,
            text=True,
            env={**os.environ, "BACKING_CACHE": place, "PYTHONUNBUFFERED": "1"},
        )
        try:
            assert stand.stdout
            while not re.search("the stand is at", stand.stdout.readline()):
                pass
            wait_until_idle(stand.pid)
            start, before = time.monotonic(), worked(stand.pid)
            time.sleep(seconds)
            spent, passed = worked(stand.pid) - before, time.monotonic() - start
        finally:
            stand.terminate()
            stand.wait()
    print(f"{charts} charts: {spent:.2f} s in {passed:.1f} s, {spent / passed:.2%} of a core")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:3]))
