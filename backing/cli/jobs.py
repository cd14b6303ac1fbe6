"""Rendering charts, one or many, two at a time."""

from __future__ import annotations

import sys
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from backing.cli.progress import progress_bar
from backing.cli.report import named, print_error, print_remark
from backing.cli.together import ended_by_signals, together
from backing.errors import BackingError, SettingsError

if TYPE_CHECKING:
    from backing.chart.model import Chart
    from backing.cli.options import TempoAndKey
    from backing.cli.recordings import Recordings
    from backing.out.files import FileKind
    from backing.out.formats import Format
    from backing.out.tracks import MidiTracks
    from backing.performance.performance import Performance
    from backing.performance.settings import Settings

MOST_BARS = 6_000
"""The most bars that are rendered into one file: some hours of music."""

_TOO_QUIET_LU = 0.5
"""How far below the usual loudness a recording may stay without a remark."""

_WORTH_A_BAR = 500
"""Bars from which on one file is worth a progress bar."""


@dataclass(frozen=True, slots=True)
class Job:
    """One chart to be rendered.

    Attributes:
        source: the chart file, or "-".
        target: the MIDI or sound file; None for MIDI on standard output.
        settings: how the band plays.
        tempo_and_key: in which tempo and key.
        sound: how a sound file sounds, and what is written with it.
        force: whether a file that is there is replaced.

    """

    source: str
    target: Path | None
    settings: Settings
    tempo_and_key: TempoAndKey
    sound: Recordings
    force: bool


@dataclass(frozen=True, slots=True)
class Take:
    """What came of a job.

    Attributes:
        files: the bytes of every file; None for standard output.
        line: what to say about it.
        remarks: what is no fault but worth knowing.
        inputs: the files that it was made from.

    """

    files: tuple[tuple[Path | None, bytes], ...]
    line: str
    remarks: tuple[str, ...]
    inputs: tuple[Path, ...]


def render_all(jobs: list[Job]) -> None:
    """Render every job; a bad chart does not stop the others, but the exit code is then 2."""
    with ended_by_signals():
        if len(jobs) == 1:
            _keep(jobs[0], compose(jobs[0], alone=True))
        elif not _render_together(jobs):
            sys.exit(2)


def _render_together(jobs: list[Job]) -> bool:
    """Render jobs two at a time with a progress bar; return whether all went well."""
    well = True
    inputs = _all_inputs(jobs) if any(job.force for job in jobs) else ()
    with (
        together(_attempt, jobs) as outcomes,
        progress_bar("rendering", len(jobs)) as advance,
    ):
        for job, outcome in zip(jobs, outcomes, strict=True):
            advance()
            try:
                if isinstance(outcome, BackingError):
                    raise outcome
                _keep(job, replace(outcome, inputs=(*outcome.inputs, *inputs)))
            except BackingError as error:
                well = False
                print_error(error)
    return well


def _all_inputs(jobs: list[Job]) -> tuple[Path, ...]:
    """Return the charts of all jobs and their melodies, which may have the names of other files."""
    from backing.chart.read import load_chart
    from backing.out.inputs import inputs_of

    found: list[Path] = []
    for job in jobs:
        with suppress(BackingError):  # it is told when its turn comes
            found += inputs_of(job.source, load_chart(job.source))
    return tuple(found)


def _attempt(job: Job) -> Take | BackingError:
    try:
        return compose(job)
    except BackingError as error:
        return error


def _keep(job: Job, take: Take) -> None:
    """Write the file of a job and say what it is; files are written by this process alone."""
    from backing.out.files import write_file, write_output

    for target, data in take.files:
        if target is None:
            write_output(data, inputs=take.inputs)
        else:
            kind = _kind_of(target)
            write_file(target, data, force=job.force, inputs=take.inputs, kind=kind)
    print(take.line, file=sys.stderr if job.target is None else sys.stdout)
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
    from backing.scores.sidecar import load_tune
    from backing.style.library import style_meters

    chart = load_tune(job.source, None if job.settings.style else style_meters())
    try:
        performance = _performance(chart, job)
    except SettingsError as error:
        raise named(job.source, error) from None
    inputs = _inputs(job, chart)
    if kind := _sound_format(job.target):
        return _recorded(job, performance, kind, inputs, alone=alone)
    job.sound.refuse_without_sound()
    if job.target:
        check_free(job.target, force=job.force, inputs=inputs, kind=_kind_of(job.target))
    midi = _with_progress(performance, alone=alone)
    files = ((job.target, midi.file()),)
    return Take(files, _line(job, performance), _remarks(job, performance), inputs)


def _inputs(job: Job, chart: Chart) -> tuple[Path, ...]:
    from backing.out.inputs import inputs_of

    wished = job.settings
    return inputs_of(
        job.source,
        chart,
        style=wished.style,
        fretting=wished.fretting,
        font=Path(job.sound.sound_font) if job.sound.sound_font else None,
    )


def _kind_of(target: Path) -> FileKind | None:
    """Return which kind of file is written; None for sound, whose ending says which."""
    from backing.out.formats import MIDI

    return None if _sound_format(target) else MIDI


def _sound_format(target: Path | None) -> Format | None:
    """Return which sound file a target is, or None for a MIDI file."""
    from backing.out.formats import format_of

    return format_of(target.suffix) if target else None


def _recorded(
    job: Job,
    performance: Performance,
    kind: Format,
    inputs: tuple[Path, ...],
    *,
    alone: bool,
) -> Take:
    """Return a take that is sound, with each player's file and the MIDI file where asked for."""
    from backing.out.audio import record
    from backing.out.files import check_free, make_folder
    from backing.out.formats import MIDI_ENDINGS
    from backing.out.levelling import TARGET_LUFS
    from backing.out.tags import tags_of

    target, sound = job.target or Path(), job.sound.sound()
    check_free(target, force=job.force, inputs=inputs)
    stems = job.sound.stem_targets(target, kind)
    beside = (target.with_suffix(f".{MIDI_ENDINGS[0]}"),) if job.sound.midi else ()
    if job.sound.stems:
        make_folder(Path(job.sound.stems))
    for each in (*stems.values(), *beside):
        check_free(each, force=job.force, inputs=inputs, kind=_kind_of(each))
    midi = _with_progress(performance, alone=alone)
    with progress_bar("recording", shown=alone):
        tags = tags_of(performance, job.settings.seed)
        found = record(midi, kind, sound, tags, stems=bool(stems))
    own = ((stems[player], stem.getvalue()) for player, stem in found.stems.items())
    remarks = _remarks(job, performance)
    if found.lufs < TARGET_LUFS - _TOO_QUIET_LU:
        remarks += (
            f"{job.source}: {found.lufs:.1f} LUFS is as loud as its peaks allow; "
            f"{TARGET_LUFS:g} is usual",
        )
    line = f"{_line(job, performance, *beside)}, {found.lufs:.1f} LUFS"
    files = ((target, found.mix.getvalue()), *own, *((each, midi.file()) for each in beside))
    return Take(files, line, remarks, inputs)


def _remarks(job: Job, performance: Performance) -> tuple[str, ...]:
    return tuple(f"{job.source}: {each}" for each in performance.remarks())


def _performance(chart: Chart, job: Job) -> Performance:
    """Return the performance of a chart that the job asks for."""
    from backing.performance.performance import Performance

    chart = job.tempo_and_key.applied(chart)
    performance = Performance(chart, job.tempo_and_key.at_tempo(job.settings, chart))
    bars, choruses = performance.length, job.settings.choruses
    if bars > MOST_BARS:
        most = max(MOST_BARS * choruses // bars, 1)
        raise SettingsError(
            f"{choruses} choruses would be {bars:,} bars: at most {MOST_BARS:,} are rendered into "
            f"one file; ask for about {most} choruses"
        )
    return performance


def _line(job: Job, performance: Performance, *beside: Path) -> str:
    """Return what was made, where it is, and how long it lasts."""
    chart, choruses = performance.chart, job.settings.choruses
    minutes, seconds = divmod(round(performance.tempo.seconds()), 60)
    files = " and ".join(map(str, (job.target or "standard output", *beside)))
    return (
        f"{files}: {chart.title}, key {chart.key.plain()}, "
        f"{performance.style.name} at {chart.tempo_text(performance.bpm)}, "
        f"{choruses} chorus{'es' if choruses > 1 else ''}, {minutes}:{seconds:02}"
    )


def _with_progress(performance: Performance, *, alone: bool) -> MidiTracks:
    from backing.out.midifile import midi_tracks

    shown = alone and performance.length >= _WORTH_A_BAR
    with progress_bar("arranging", performance.length, shown=shown) as advance:
        return midi_tracks(performance, advance)
