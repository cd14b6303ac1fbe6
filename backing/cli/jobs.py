"""Renders charts to files, several of them two at a time."""

from __future__ import annotations

import sys
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from backing.cli.progress import progress_bar
from backing.cli.report import named, print_error, print_remark
from backing.cli.text import clock, counted
from backing.cli.together import ended_by_signals, together
from backing.errors import BackingError, SettingsError

if TYPE_CHECKING:
    from backing.chart.model import Chart
    from backing.cli.options import TempoAndKey
    from backing.cli.recordings import Recordings
    from backing.out.audio import Recording
    from backing.out.files import FileKind
    from backing.out.formats import Format
    from backing.out.tracks import MidiTracks
    from backing.performance.performance import Performance
    from backing.performance.settings import Settings

MOST_BARS = 6_000
"""The most bars in one file: some hours of music."""

_WORTH_A_BAR = 500
"""The number of bars from which a progress bar is shown for one file."""


@dataclass(frozen=True, slots=True)
class Job:
    """One chart to render.

    Attributes:
        source: the chart file, or "-".
        target: the MIDI or sound file; None for MIDI on standard output.
        settings: the settings of the performance.
        tempo_and_key: its tempo and key.
        sound: the settings of a sound file, and which files are written beside it.
        force: whether to overwrite existing files.

    """

    source: str
    target: Path | None
    settings: Settings
    tempo_and_key: TempoAndKey
    sound: Recordings
    force: bool


@dataclass(frozen=True, slots=True)
class Result:
    """The result of a job.

    Attributes:
        files: pairs of (file, its bytes); None for standard output.
        line: a line that describes it.
        remarks: what is worth knowing, but not an error.
        inputs: the files that it was made from.

    """

    files: tuple[tuple[Path | None, bytes], ...]
    line: str
    remarks: tuple[str, ...]
    inputs: tuple[Path, ...]


def render_all(jobs: list[Job]) -> None:
    """Render every job; report errors, go on, and exit with 2 at the end if there were any."""
    with ended_by_signals():
        if len(jobs) == 1:
            _write(jobs[0], compose(jobs[0], alone=True))
        elif not _render_together(jobs):
            sys.exit(2)


def _render_together(jobs: list[Job]) -> bool:
    """Render jobs two at a time with a progress bar; return whether there were no errors."""
    succeeded = True
    inputs = _all_inputs(jobs) if any(job.force for job in jobs) else ()
    with (
        together(compose, [(job,) for job in jobs]) as outcomes,
        progress_bar("rendering", len(jobs)) as advance,
    ):
        for job, outcome in zip(jobs, outcomes, strict=True):
            advance()
            try:
                if isinstance(outcome, BackingError):
                    raise outcome
                _write(job, replace(outcome, inputs=(*outcome.inputs, *inputs)))
            except BackingError as error:
                succeeded = False
                print_error(error)
    return succeeded


def _all_inputs(jobs: list[Job]) -> tuple[Path, ...]:
    """Return the charts of all jobs and their melodies, which no job may overwrite."""
    from backing.chart.read import load_chart
    from backing.out.inputs import inputs_of

    inputs: list[Path] = []
    for job in jobs:
        with suppress(BackingError):  # the job itself reports it
            inputs += inputs_of(job.source, load_chart(job.source))
    return tuple(inputs)


def _write(job: Job, result: Result) -> None:
    """Write the files of a job and print what they are; only this process writes files."""
    from backing.out.files import write_file, write_output

    for target, data in result.files:
        if target is None:
            write_output(data, inputs=result.inputs)
        else:
            kind = _kind_of(target)
            write_file(target, data, force=job.force, inputs=result.inputs, kind=kind)
    print(result.line, file=sys.stderr if job.target is None else sys.stdout)
    for remark in result.remarks:
        print_remark(remark)


def compose(job: Job, *, alone: bool = False) -> Result:
    """Return the result of a job; write nothing.

    Args:
        job: what to render.
        alone: whether it is the only job, which shows its own progress bar.

    Raises:
        BackingError: when the chart has faults, or the settings or the name of the file do not fit.

    """
    from backing.out.files import check_free
    from backing.out.inputs import inputs_of
    from backing.scores.sidecar import load_tune
    from backing.style.library import style_meters

    chart = load_tune(job.source, None if job.settings.style else style_meters())
    try:
        performance = _performance(chart, job)
    except SettingsError as error:
        raise named(job.source, error) from None
    font = Path(job.sound.sound_font) if job.sound.sound_font else None
    inputs = inputs_of(job.source, chart, job.settings, font)
    if kind := _sound_format(job.target):
        return _recorded(job, performance, kind, inputs, alone=alone)
    job.sound.refuse_without_sound()
    if job.target:
        check_free(job.target, force=job.force, inputs=inputs, kind=_kind_of(job.target))
    midi = _midi(performance, alone=alone)
    files = ((job.target, midi.file()),)
    return Result(files, _line(job, performance), _remarks(job, performance), inputs)


def _kind_of(target: Path) -> FileKind | None:
    """Return MIDI as the kind of a file to write; None for a sound file."""
    from backing.out.formats import MIDI

    return None if _sound_format(target) else MIDI


def _sound_format(target: Path | None) -> Format | None:
    """Return the format of a sound file, or None for a MIDI file."""
    from backing.out.formats import format_of

    return format_of(target.suffix) if target else None


def _recorded(
    job: Job,
    performance: Performance,
    kind: Format,
    inputs: tuple[Path, ...],
    *,
    alone: bool,
) -> Result:
    """Return a recording, with each player's sound file and the MIDI file if requested."""
    from backing.out.audio import record
    from backing.out.files import check_free, make_folder
    from backing.out.formats import MIDI_ENDINGS
    from backing.out.tags import tags_of

    target, sound = job.target or Path(), job.sound.sound()
    check_free(target, force=job.force, inputs=inputs)
    stems = job.sound.stem_targets(target, kind)
    midi_files = (target.with_suffix(f".{MIDI_ENDINGS[0]}"),) if job.sound.midi else ()
    if job.sound.stems:
        make_folder(Path(job.sound.stems))
    for each in (*stems.values(), *midi_files):
        check_free(each, force=job.force, inputs=inputs, kind=_kind_of(each))
    midi = _midi(performance, alone=alone)
    with progress_bar("recording", shown=alone):
        tags = tags_of(performance, job.settings.seed)
        recording = record(midi, kind, sound, tags, stems=bool(stems))
    own = ((stems[player], stem.getvalue()) for player, stem in recording.stems.items())
    remarks = _remarks(job, performance) + _remarks(job, recording)
    line = f"{_line(job, performance, *midi_files)}, {recording.lufs:.1f} LUFS"
    files = (
        (target, recording.mix.getvalue()),
        *own,
        *((each, midi.file()) for each in midi_files),
    )
    return Result(files, line, remarks, inputs)


def _remarks(job: Job, made: Performance | Recording) -> tuple[str, ...]:
    return tuple(f"{job.source}: {each}" for each in made.remarks())


def _performance(chart: Chart, job: Job) -> Performance:
    """Return the performance of a job."""
    from backing.performance.performance import Performance

    chart = job.tempo_and_key.applied(chart)
    performance = Performance(chart, job.tempo_and_key.at_tempo(job.settings, chart))
    bars, choruses = performance.length, job.settings.choruses
    if bars > MOST_BARS:
        most = max(MOST_BARS * choruses // bars, 1)
        raise SettingsError(
            f"{choruses} choruses would be {bars:,} bars: at most {MOST_BARS:,} are rendered into "
            f"one file; use about --choruses {most}"
        )
    return performance


def _line(job: Job, performance: Performance, *midi_files: Path) -> str:
    """Return a line with the files, the tune, its key, style, tempo and length."""
    chart, choruses = performance.chart, job.settings.choruses
    length = clock(performance.tempo.seconds())
    files = " and ".join(map(str, (job.target or "standard output", *midi_files)))
    return (
        f"{files}: {chart.title}, key {chart.key.plain()}, "
        f"{performance.style.name} at {chart.tempo_text(performance.bpm)}, "
        f"{counted(choruses, 'chorus', 'choruses')}, {length}"
    )


def _midi(performance: Performance, *, alone: bool) -> MidiTracks:
    from backing.out.midifile import midi_tracks

    shown = alone and performance.length >= _WORTH_A_BAR
    with progress_bar("arranging", performance.length, shown=shown) as advance:
        return midi_tracks(performance, advance)
