"""Rendering charts, one or many, two at a time."""

from __future__ import annotations

import os
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from backing.cli.report import named, print_error, print_remark
from backing.cli.together import ended_by_signals, together
from backing.errors import BackingError, OutputError, SettingsError

if TYPE_CHECKING:
    from backing.chart.model import Chart
    from backing.performance import Performance, Settings

SUFFIX = ".chart"

MOST_BARS = 6_000
"""The most bars that are rendered into one file: some hours of music."""

STANDARD_OUTPUT = "-"

_MIDI_SUFFIXES = {".mid", ".midi", ".smf"}
_WORTH_A_BAR = 500
"""Bars from which on one file is worth a progress bar."""


@dataclass(frozen=True, slots=True)
class Job:
    """One chart to be rendered.

    Attributes:
        source: the chart file, or "-".
        target: the MIDI file; None for standard output.
        settings: what the player wishes.
        key: the key to play in, or None.
        transpose: semitones to play higher.
        force: whether a file that is there is replaced.

    """

    source: str
    target: Path | None
    settings: Settings
    key: str | None
    transpose: int
    force: bool


@dataclass(frozen=True, slots=True)
class Take:
    """What came of a job.

    Attributes:
        data: the bytes of the MIDI file.
        line: what to say about it.
        remarks: what is no fault but worth knowing.

    """

    data: bytes
    line: str
    remarks: tuple[str, ...]


def targets(charts: list[str], output: str | None) -> list[tuple[str, Path | None]]:
    """Return (chart, MIDI file) of every chart, folders opened; None for standard output.

    Raises:
        OutputError: when there is no name for a file, or two charts would make the same file.
        SettingsError: when a folder has no charts.

    """
    sources = [each for chart in charts for each in _charts_in(chart)]
    if output == STANDARD_OUTPUT:
        return [(_only_one(sources), None)]
    if sources == charts and len(charts) == 1 and not (output and _names_folder(output)):
        if charts == ["-"] and not output:
            raise OutputError(
                "a chart from standard input wants a name for its file: add -o NAME.mid"
            )
        return [(charts[0], Path(output) if output else Path(f"{Path(charts[0]).stem}.mid"))]
    if "-" in sources:
        raise OutputError("standard input cannot be rendered together with other charts")
    folder = Path(output or ".")
    if folder.suffix.lower() in _MIDI_SUFFIXES and not _names_folder(str(output)):
        raise OutputError(
            f"{folder} is the name of one file, and there {_charts(len(sources))} to render: name "
            f"a folder, such as -o {folder.with_suffix('')}/"
        )
    found = [(source, folder / f"{Path(source).stem}.mid") for source in sources]
    _refuse_twins(found)
    _make(folder)
    return [*found]


def _refuse_twins(found: list[tuple[str, Path]]) -> None:
    seen: dict[Path, str] = {}
    for source, target in found:
        if target in seen:
            raise OutputError(f"{seen[target]} and {source} would both become {target}: rename one")
        seen[target] = source


def _only_one(sources: list[str]) -> str:
    """Return the one chart that goes to standard output."""
    if len(sources) > 1:
        raise OutputError(
            f"standard output takes one file, and there {_charts(len(sources))} to render: name a "
            "folder, such as -o out/"
        )
    if sys.stdout.isatty():
        raise OutputError(
            "a terminal cannot show a MIDI file: name a file, such as -o take.mid, or lead the "
            "output into a program"
        )
    return sources[0]


def _charts(number: int) -> str:
    return "is 1 chart" if number == 1 else f"are {number} charts"


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
    with ended_by_signals():
        if len(jobs) == 1:
            _keep(jobs[0], compose(jobs[0], alone=True))
        elif not _render_together(jobs):
            sys.exit(2)


def _render_together(jobs: list[Job]) -> bool:
    """Render jobs two at a time with a progress bar; return whether all went well."""
    from rich.console import Console
    from rich.progress import Progress

    well = True
    with (
        together(_attempt, jobs) as outcomes,
        Progress(console=Console(stderr=True), transient=True) as progress,
    ):
        bar = progress.add_task("rendering", total=len(jobs))
        for job, outcome in zip(jobs, outcomes, strict=True):
            progress.advance(bar)
            try:
                if isinstance(outcome, BackingError):
                    raise outcome
                _keep(job, outcome)
            except BackingError as error:
                well = False
                print_error(error)
    return well


def _attempt(job: Job) -> Take | BackingError:
    try:
        return compose(job)
    except BackingError as error:
        return error


def _keep(job: Job, take: Take) -> None:
    """Write the file of a job and say what it is; files are written by this process alone."""
    from backing.out.files import write_file

    if job.target is None:
        sys.stdout.buffer.write(take.data)
        print(take.line, file=sys.stderr)
    else:
        write_file(job.target, take.data, force=job.force)
        print(take.line)
    for remark in take.remarks:
        print_remark(remark)


def compose(job: Job, *, alone: bool = False) -> Take:
    """Return what a job makes, nothing of it written yet.

    Args:
        job: what to do.
        alone: whether a long file may show its own progress bar.

    Raises:
        BackingError: when the chart, the settings or the name of the file will not do.

    """
    from backing.out.files import check_free
    from backing.scores.beside import load_tune
    from backing.style.library import style_meters

    if job.target:
        check_free(job.target, force=job.force)
    chart = load_tune(job.source, None if job.settings.style else style_meters())
    try:
        performance = _performance(chart, job)
    except SettingsError as error:
        raise named(job.source, error) from None
    data = _with_progress(performance, alone=alone)
    remarks = tuple(f"{job.source}: {each}" for each in performance.remarks())
    return Take(data, _line(job, performance), remarks)


def _performance(chart: Chart, job: Job) -> Performance:
    """Return the performance of a chart as the job wishes it."""
    from backing.chart.transpose import by_semitones, in_key
    from backing.performance import Performance

    chart = in_key(chart, job.key) if job.key else by_semitones(chart, job.transpose)
    performance = Performance(chart, job.settings)
    bars, choruses = performance.length, job.settings.choruses
    if bars > MOST_BARS:
        most = max(MOST_BARS * choruses // bars, 1)
        raise SettingsError(
            f"{choruses} choruses would be {bars:,} bars: at most {MOST_BARS:,} are rendered into "
            f"one file; ask for about {most} choruses"
        )
    return performance


def _line(job: Job, performance: Performance) -> str:
    from backing.timing import Tempo

    chart, choruses = performance.chart, job.settings.choruses
    tempo = Tempo.in_beats(performance.bpm, chart.meter)
    minutes, seconds = divmod(round(performance.seconds()), 60)
    return (
        f"{job.target or 'standard output'}: {chart.title}, key {chart.key.plain()}, "
        f"{performance.style.name} at {tempo}, "
        f"{choruses} chorus{'es' if choruses > 1 else ''}, {minutes}:{seconds:02}"
    )


def _with_progress(performance: Performance, *, alone: bool) -> bytes:
    from backing.out.midifile import midi_bytes

    if not alone or performance.length < _WORTH_A_BAR:
        return midi_bytes(performance)
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as progress:
        bar = progress.add_task("arranging", total=performance.length)
        return midi_bytes(performance, lambda: progress.advance(bar))
