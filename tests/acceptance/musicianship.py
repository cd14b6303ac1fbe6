"""Measures every style from written files against the figures of good playing.

    python -m tests.acceptance.musicianship [--style NAME ...] [--seeds N]
    python -m tests.acceptance.musicianship --laws [--style NAME ...]
    python -m tests.acceptance.musicianship --draw STYLE FILE.png

Run it from the top of a checkout. It prints a table of rows and styles, and ends with 1 when a row
fails. A row is measured where the style has what it speaks of. What is known to miss its band, in
`misses`, is printed as a miss and does not count as a failure.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from backing.style.library import all_styles, find_style

from .bass_rows import BASS_ROWS
from .ears import Evidence, listen
from .laws import broken_laws
from .misses import missed_by
from .rows import ROWS, Figure, Row

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from backing.style.model import Style

SEEDS = 20

TABLE = (*ROWS, *BASS_ROWS)


class Progress:
    """A progress line on standard error."""

    def __init__(self, *, is_shown: bool) -> None:
        self._is_shown = is_shown
        self._count = 0
        self.what = ""

    def step(self) -> None:
        """Count one performance."""
        self._count += 1
        if self._is_shown and self._count % 5 == 0:
            print(f"\r{self.what}: {self._count} performances\x1b[K", end="", file=sys.stderr)

    def done(self) -> None:
        """Clear the line."""
        if self._is_shown:
            print("\r\x1b[K", end="", file=sys.stderr)


def measured(
    styles: Iterable[Style], seeds: int, progress: Progress
) -> dict[tuple[str, str], Figure]:
    """Return the figures of all rows by row and style."""
    found: dict[tuple[str, str], Figure] = {}
    for style in styles:
        progress.what = style.name
        evidence = Evidence(style, seeds, progress.step)
        for row in TABLE:
            figure = row.measure(evidence)
            if figure:
                found[row.name, style.name] = figure
        listen.cache_clear()
        broken = broken_laws(style, progress.step, sample=True)
        found[LAWS.name, style.name] = Figure(not broken, "; ".join(broken[:3]) or "kept")
    progress.done()
    return found


LAWS = Row(
    "laws, a sample",
    "ranges, balanced keys, whole bars, no chord lost, hits are accents, no empty bar but breaks",
    "ours; the file: Standard MIDI Files 1.0",
    lambda _: None,
)


def word_for(row: str, style: str, figure: Figure) -> str:
    """Return the verdict on a figure: pass, FAIL, or miss if that is known."""
    if figure.is_good:
        return "pass"
    return "miss" if row in missed_by(style) else "FAIL"


def failures(figures: dict[tuple[str, str], Figure]) -> list[tuple[str, str]]:
    """Return the rows and styles that fail unexpectedly."""
    return [key for key, figure in figures.items() if word_for(*key, figure) == "FAIL"]


def table_of(figures: dict[tuple[str, str], Figure]) -> str:
    """Return the table for readers."""
    lines = []
    for row in (*TABLE, LAWS):
        here = {style: figure for (name, style), figure in figures.items() if name == row.name}
        lines += ["", row.name, f"  {row.band}", f"  {row.source}"]
        lines += [
            f"  {word_for(row.name, style, figure)}  {style:14} {figure.text}"
            for style, figure in here.items()
        ] or ["  no style has it"]
    failing = failures(figures)
    passed = sum(figure.is_good for figure in figures.values())
    missed = len(figures) - passed - len(failing)
    lines += ["", f"{passed} of {len(figures)} pass, {missed} are known misses"]
    lines += [f"  FAIL  {style}: {name}: {figures[name, style].text}" for name, style in failing]
    return "\n".join(lines).lstrip("\n") + "\n"


def main(words: Sequence[str] | None = None) -> int:
    """Run the command line; return 1 if a row fails or a law is broken."""
    parser = argparse.ArgumentParser(prog="python -m tests.acceptance.musicianship")
    parser.add_argument("--seeds", type=int, default=SEEDS, help=f"how many, {SEEDS} without")
    parser.add_argument("--style", action="append", help="only this style; may be given again")
    parser.add_argument("--laws", action="store_true", help="all keys, tempi and demos; long")
    parser.add_argument("--draw", nargs=2, metavar=("STYLE", "FILE"), help="draw two choruses")
    asked = parser.parse_args(words)
    if asked.draw:
        try:
            from .picture import draw
        except ImportError as error:
            parser.error(f"--draw needs matplotlib: pip install matplotlib ({error})")
        draw(asked.draw[0], Path(asked.draw[1]))
        return 0
    styles = [find_style(name) for name in asked.style] if asked.style else all_styles()[0]
    progress = Progress(is_shown=sys.stderr.isatty())
    if asked.laws:
        return _all_laws(styles, progress)
    figures = measured(styles, asked.seeds, progress)
    print(table_of(figures), end="")
    return 1 if failures(figures) else 0


def _all_laws(styles: Iterable[Style], progress: Progress) -> int:
    count = 0
    for style in styles:
        progress.what = style.name
        broken = broken_laws(style, progress.step)
        progress.done()
        print(f"{'FAIL' if broken else 'pass'}  {style.name}", *broken, sep="\n      ", flush=True)
        count += bool(broken)
    return 1 if count else 0


if __name__ == "__main__":
    sys.exit(main())
