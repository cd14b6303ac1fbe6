"""Conversion of the tunes of some files, each into a file of its own."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from backing.cli.progress import progress_bar
from backing.cli.report import print_error, print_remark
from backing.cli.text import counted
from backing.errors import BackingError, SettingsError
from backing.out.files import make_folder
from backing.out.tunes import WRITTEN, check_ending, read_tunes, write_tune

if TYPE_CHECKING:
    from backing.chart.model import Chart
    from backing.errors import ScoreError
    from backing.scores.tune import Tune

_WORTH_A_BAR = 20
"""The number of tunes from which a progress bar is shown."""

_SAY_HARMONISE = (
    "it has no chords, so the band rests (N.C.); use --harmonise to add plain chords of its key"
)


@dataclass(frozen=True, slots=True)
class Request:
    """What to convert.

    Attributes:
        sources: the files to read.
        target: the file to write, or a folder.
        ending: the ending of the names of files in a folder, with its dot.
        tune: which tune of the file, from 1; None for all.
        harmonise: whether to add chords to a tune without chords.
        force: whether to overwrite existing files.
    """

    sources: list[str]
    target: str
    ending: str
    tune: int | None
    harmonise: bool
    force: bool


@dataclass(frozen=True, slots=True)
class _Job:
    """A tune to write.

    Attributes:
        source: the file that it comes from.
        tune: the tune, or the error for which it cannot be read.
    """

    source: str
    tune: Tune | BackingError


def convert_all(request: Request) -> bool:
    """Convert every tune of every file; return whether there were no errors.

    A tune or a file that cannot be read is reported and does not stop the others.

    Raises:
        BackingError: when the target or the options do not fit, or the only file cannot be read.
    """
    jobs: list[_Job] = []
    inputs: list[Path] = []
    for source in request.sources:
        try:
            tunes, files = read_tunes(source)
            jobs += [_Job(source, tune) for tune in _chosen(source, tunes, request.tune)]
            inputs += files
        except BackingError as error:
            if len(request.sources) == 1:
                raise
            jobs.append(_Job(source, error))
    succeeded = True
    targets = _targets(request, jobs)
    with progress_bar("converting", len(jobs), shown=len(jobs) >= _WORTH_A_BAR) as advance:
        for path, job in targets:
            try:
                if isinstance(job.tune, BackingError):
                    raise job.tune
                _convert(job.source, job.tune, path, request, tuple(inputs))
            except BackingError as error:
                succeeded = False
                print_error(error)
            advance()
    return succeeded


def _chosen(
    source: str, tunes: list[Tune | ScoreError], number: int | None
) -> list[Tune | ScoreError]:
    if number is None:
        return tunes
    if not 1 <= number <= len(tunes):
        raise SettingsError(f"--tune {number}: {source} has {counted(len(tunes), 'tune')}")
    return [tunes[number - 1]]


def _targets(request: Request, jobs: list[_Job]) -> list[tuple[Path, _Job]]:
    """Return each tune with its file: the target, or a file in it named after the title."""
    target = Path(request.target)
    if not _names_folder(request.target):
        check_ending(request.target, WRITTEN, "written")
        if len(jobs) > 1:
            raise SettingsError(
                f"there are {counted(len(jobs), 'tune')}, and {target} is one file: name a folder, "
                f"such as {target.with_suffix('')}/, or choose with --tune N"
            )
        return [(target, jobs[0])]
    make_folder(target)
    names = _Names()
    return [(target / f"{names.name(job)}{request.ending}", job) for job in jobs]


def _names_folder(target: str) -> bool:
    return target.endswith("/") or Path(target).is_dir() or not Path(target).suffix


class _Names:
    """Gives each tune a file name of its own, made from its title."""

    def __init__(self) -> None:
        self._given: set[str] = set()

    def name(self, job: _Job) -> str:
        title = "" if isinstance(job.tune, BackingError) else job.tune.title
        plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode()
        stem = re.sub(r"[^a-z0-9]+", "-", plain.lower()).strip("-")[:60].strip("-")
        stem = stem or _stem_of(Path(job.source).stem)
        name, number = stem, 1
        while name in self._given:
            number += 1
            name = f"{stem}-{number}"
        self._given.add(name)
        return name


def _stem_of(stem: str) -> str:
    return re.sub(r"[^A-Za-z0-9-]+", "-", stem).strip("-")[:60] or "tune"


def _convert(
    source: str, tune: Tune, path: Path, request: Request, inputs: tuple[Path, ...]
) -> None:
    if request.harmonise:
        from backing.scores.harmonise import harmonised

        tune = harmonised(tune)
    written = write_tune(tune, path, force=request.force, inputs=inputs)
    remarks = written.remarks
    if written.chart:
        print(f"{path}: {_about(written.chart)}")
        remarks += () if written.chart.has_chords else (_SAY_HARMONISE,)
    else:
        print(f"{path}: {tune.title or 'Untitled'}")
    for remark in remarks:
        print_remark(f"{source}, {tune.title or 'Untitled'}: {remark}")


def _about(chart: Chart) -> str:
    from backing.chart.sequence import length_in_bars

    length = counted(length_in_bars(chart), "bar")
    return f"{chart.title}, key {chart.key}, {chart.meter}, {length}"
