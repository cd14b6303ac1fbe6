"""Rendering charts, one or many, two at a time."""

from __future__ import annotations

import os
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from backing.cli.report import print_error, print_remark
from backing.errors import BackingError, OutputError, SettingsError
from backing.notes import Player

if TYPE_CHECKING:
    from backing.performance import Performance, Settings

SUFFIX = ".chart"

_MOST_AT_ONCE = 2
_WORTH_A_BAR = 500
"""Bars from which on one file is worth a progress bar."""


@dataclass(frozen=True, slots=True)
class Job:
    """One chart to be rendered.

    Attributes:
        source: the chart file, or "-".
        target: the MIDI file.
        settings: what the player wishes.
        key: the key to play in, or None.
        transpose: semitones to play higher.
        force: whether a file that is there is replaced.

    """

    source: str
    target: Path
    settings: Settings
    key: str | None
    transpose: int
    force: bool


@dataclass(frozen=True, slots=True)
class Report:
    """What came of a job: one line, and remarks that are no faults."""

    line: str
    remarks: tuple[str, ...]


def players_of(only: str | None, without: str | None) -> frozenset[Player]:
    """Return who plays, from the texts of two options that exclude each other.

    Raises:
        SettingsError: for a player that is not in the band.

    """
    if only and without:
        raise SettingsError("--only and --without exclude each other: choose one")
    named = {_player(name) for name in (only or without or "").split(",") if name.strip()}
    if only:
        return frozenset(named)
    return frozenset(Player) - named


def _player(name: str) -> Player:
    try:
        return Player(name.strip().lower())
    except ValueError:
        raise SettingsError(
            f"'{name.strip()}' is not in the band: choose from {', '.join(Player)}"
        ) from None


def targets(charts: list[str], output: str | None) -> list[tuple[str, Path]]:
    """Return (chart, MIDI file) of every chart, folders opened.

    Raises:
        OutputError: when there is no name for a file, or two charts would make the same file.
        SettingsError: when a folder has no charts.

    """
    sources = [each for chart in charts for each in _charts_in(chart)]
    if sources == charts and len(charts) == 1 and not (output and _names_folder(output)):
        if charts == ["-"] and not output:
            raise OutputError(
                "a chart from standard input wants a name for its file: add -o NAME.mid"
            )
        return [(charts[0], Path(output) if output else Path(f"{Path(charts[0]).stem}.mid"))]
    if "-" in sources:
        raise OutputError("standard input cannot be rendered together with other charts")
    folder = Path(output or ".")
    found = [(source, folder / f"{Path(source).stem}.mid") for source in sources]
    seen: dict[Path, str] = {}
    for source, target in found:
        if target in seen:
            raise OutputError(f"{seen[target]} and {source} would both become {target}: rename one")
        seen[target] = source
    _make(folder)
    return found


def _charts_in(chart: str) -> list[str]:
    folder = Path(chart)
    if chart == "-" or not folder.is_dir():
        return [chart]
    found = [str(path) for path in sorted(folder.glob(f"*{SUFFIX}"))]
    if not found:
        raise SettingsError(f"{chart} has no charts in it: their names end in {SUFFIX}")
    return found


def _names_folder(output: str) -> bool:
    return output.endswith(("/", os.sep)) or Path(output).is_dir()


def _make(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(f"{folder} cannot be made: {error.strerror}: choose another") from None


def render_all(jobs: list[Job]) -> None:
    """Render every job; a bad chart does not stop the others, but the exit code is then 2."""
    if len(jobs) == 1:
        _say(render_one(jobs[0], alone=True))
        return
    if not _render_together(jobs):
        sys.exit(2)


def _render_together(jobs: list[Job]) -> bool:
    """Render jobs two at a time with a progress bar; return whether all went well."""
    from concurrent.futures import ProcessPoolExecutor

    from rich.console import Console
    from rich.progress import Progress

    well = True
    workers = min(_MOST_AT_ONCE, os.cpu_count() or 1, len(jobs))
    with (
        Progress(console=Console(stderr=True), transient=True) as progress,
        ProcessPoolExecutor(workers) as pool,
    ):
        bar = progress.add_task("rendering", total=len(jobs))
        try:
            for result in [pool.submit(_attempt, job) for job in jobs]:
                outcome = result.result()
                progress.advance(bar)
                if isinstance(outcome, BackingError):
                    well = False
                    print_error(outcome)
                else:
                    _say(outcome)
        except BaseException:
            pool.shutdown(wait=True, cancel_futures=True)
            raise
    return well


def _attempt(job: Job) -> Report | BackingError:
    try:
        return render_one(job)
    except BackingError as error:
        return error


def _say(report: Report) -> None:
    print(report.line)
    for remark in report.remarks:
        print_remark(remark)


def render_one(job: Job, *, alone: bool = False) -> Report:
    """Render one chart and return what to say about it.

    Args:
        job: what to do.
        alone: whether a long file may show its own progress bar.

    Raises:
        BackingError: when the chart, the settings or the file will not do.

    """
    from backing.chart.read import load_chart
    from backing.chart.transpose import by_semitones, in_key
    from backing.out.files import check_free, write_file
    from backing.performance import Performance

    check_free(job.target, force=job.force)
    chart = load_chart(job.source)
    chart = in_key(chart, job.key) if job.key else by_semitones(chart, job.transpose)
    performance = Performance(chart, job.settings)
    write_file(job.target, _with_progress(performance, alone=alone), force=job.force)
    minutes, seconds = divmod(round(performance.seconds()), 60)
    choruses = job.settings.choruses
    line = (
        f"{job.target}: {chart.title}, key {chart.key.plain()}, {performance.style.name} at "
        f"{performance.bpm:g}, {choruses} chorus{'es' if choruses > 1 else ''}, "
        f"{minutes}:{seconds:02}"
    )
    return Report(line, tuple(f"{job.source}: {each}" for each in performance.remarks()))


def _with_progress(performance: Performance, *, alone: bool) -> bytes:
    from backing.out.midifile import midi_bytes

    if not alone or performance.length < _WORTH_A_BAR:
        return midi_bytes(performance)
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as progress:
        bar = progress.add_task("arranging", total=performance.length)
        return midi_bytes(performance, lambda: progress.advance(bar))
