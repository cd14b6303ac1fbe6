"""`backing pack`: practice packs, as a folder or one .zip file."""

from __future__ import annotations

import shlex
import shutil
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from backing.cli import options, values
from backing.cli.charts import Charts, are_several, charts_of, title_of
from backing.cli.contents import Contents
from backing.cli.fretting import Fretting, Left
from backing.cli.groups import spread
from backing.cli.recordings import Sound
from backing.cli.report import named, print_error, print_remark
from backing.cli.text import counted
from backing.errors import BackingError, SettingsError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backing.packs.build import Folder, Pack
    from backing.packs.plan import Piece, Plan
    from backing.packs.settings import PackSettings

EXAMPLE = "backing pack demos/quarry-hill.chart -o quarry-hill/ --tempi 120,160,200"

MOST_PROCESSES = 64

TWICE = options.Take(choruses="2")


@spread
def run(
    charts: Charts,
    *,
    output: Annotated[
        str, typer.Option("--output", "-o", metavar="DIR", help="Folder, or a file ending in .zip.")
    ],
    contents: Contents,
    take: options.Take = TWICE,
    fretting: Fretting,
    left: Left = False,
    sound: Sound,
    processes: Annotated[
        str, typer.Option(metavar="N", help="How many files are made at a time.")
    ] = "2",
    list_jobs: Annotated[
        bool, typer.Option("--list-jobs", help="Print the command for each file; make nothing.")
    ] = False,
    job: Annotated[
        str | None, typer.Option(metavar="FILE", help="Make only this file of the pack.")
    ] = None,
    force: options.Force = False,
) -> None:
    """Make a practice pack: sheet, MIDI, recordings at several tempi, loops, a page."""
    order = _Order(
        charts,
        Path(output),
        contents.request(take, fretting, sound, left=left),
        _processes(processes),
        force=force,
        words=(
            *(*contents.words(), *take.words(TWICE), *fretting.words(), *sound.words()),
            *(["--left"] if left else []),
        ),
    )
    if list_jobs:
        _print_jobs(order)
    elif job is not None:
        _make_one(order, job)
    else:
        _make_all(order)


def _processes(text: str) -> int:
    found = values.whole_number("--processes", text)
    if not 1 <= found <= MOST_PROCESSES:
        raise SettingsError(f"--processes {found}: choose from 1 to {MOST_PROCESSES}")
    return found


@dataclass(frozen=True, slots=True)
class _Order:
    """Packs to make.

    Attributes:
        charts: the arguments that name the charts.
        output: the folder or the .zip file to make.
        settings: the settings of each pack.
        processes: how many files are made at a time.
        force: whether to overwrite existing files.
        words: the options as typed, for the commands of single files.
    """

    charts: list[str]
    output: Path
    settings: PackSettings
    processes: int
    force: bool
    words: tuple[str, ...]

    def places(self) -> list[tuple[str, Path]]:
        """Return pairs of (chart, folder of its pack, inside the output folder)."""
        from backing.packs.build import places_of

        return places_of(charts_of(self.charts), several=are_several(self.charts))

    def command(self, source: str, folder: Path, name: str) -> str:
        """Return the shell command that makes one file of a chart's pack."""
        job = ["backing", "pack", source, "-o", str(folder), *self.words, "--job", name]
        return shlex.join(job)


def _print_jobs(order: _Order) -> None:
    """Print, for every file, the command that makes it."""
    from backing.packs.build import is_zip, planned

    if is_zip(order.output):
        raise SettingsError(
            "--list-jobs needs a folder, not a .zip file: name one, such as -o packs/"
        )
    for source, subfolder in order.places():
        for piece in planned(source, order.settings).pieces:
            print(order.command(source, order.output / subfolder, piece.name))


def _make_one(order: _Order, name: str) -> None:
    """Make one file of a pack, unless it is up to date."""
    from backing.cli.together import ended_by_signals
    from backing.packs.build import make_piece, planned

    if are_several(order.charts):
        raise SettingsError("--job makes one file of one chart: name the chart")
    plan = planned(order.charts[0], order.settings)
    piece = next((each for each in plan.pieces if each.name == name), None)
    if piece is None:
        raise SettingsError(f"'{name}' is not in this pack: see --list-jobs")
    with ended_by_signals():
        make_piece(plan, piece, order.output, force=order.force)
    print(order.output / name)


def _make_all(order: _Order) -> None:
    """Make a pack of each chart; keep files that are up to date."""
    from backing.cli.together import ended_by_signals
    from backing.packs import build
    from backing.packs.page import PAGE

    plans, succeeded = _plans(order)
    if not plans:
        sys.exit(2)
    inputs = build.inputs_of_plans(plan for plan, _ in plans)
    as_zip = build.is_zip(order.output)
    title = title_of(order.charts, "Practice packs") if are_several(order.charts) else None
    with (
        ended_by_signals(),
        build.working_folder(order.output, inputs, force=order.force) as path,
    ):
        folder = build.Folder(path, plans, title)
        if not order.force:
            folder.refuse_foreign()
        broken = _make_together(folder.outdated, order.processes)
        done = [pack for pack in folder.packs if pack.plan.source not in broken]
        shown = order.output.with_suffix("") if as_zip else order.output
        folder.write_pages(done, shown, order.command)
        succeeded = succeeded and not broken
        if succeeded and as_zip:
            build.write_zip(path, order.output, inputs, force=order.force)
    if not succeeded:
        sys.exit(2)
    if as_zip:
        shutil.rmtree(path, ignore_errors=True)
    _report(order, folder, "" if as_zip else f"; open {path / PAGE}")


def _plans(order: _Order) -> tuple[list[tuple[Plan, Path]], bool]:
    """Return the packs with their folders, and whether no chart has faults.

    Faults of charts are printed here, before any error about the output folder.
    """
    from backing.out.sheet.compose import remarks_on
    from backing.packs.build import planned

    plans, succeeded = [], True
    for source, subfolder in order.places():
        try:
            plan = planned(source, order.settings)
        except BackingError as error:
            succeeded = False
            print_error(error)
            continue
        plans.append((plan, subfolder))
        for remark in remarks_on(plan.chart):
            print_remark(f"{source}: {remark}")
    return plans, succeeded


def _make_together(outdated: Sequence[tuple[Pack, Piece]], processes: int) -> set[str]:
    """Make files, some at a time, with a progress bar; return the charts that failed.

    An error that several files of a chart share is printed once.
    """
    from backing.cli.progress import progress_bar
    from backing.cli.together import together
    from backing.packs.make import make

    broken: dict[str, set[str]] = {}
    if not outdated:
        return set()
    tasks = [(pack.plan, piece) for pack, piece in outdated]
    with (
        together(make, tasks, processes) as outcomes,
        progress_bar("making", len(outdated)) as advance,
    ):
        for (pack, piece), outcome in zip(outdated, outcomes, strict=True):
            if isinstance(outcome, BackingError):
                printed = broken.setdefault(pack.plan.source, set())
                if str(outcome) not in printed:
                    print_error(named(pack.plan.source, outcome))
                printed.add(str(outcome))
            else:
                pack.put(piece, outcome)
            advance()
    return set(broken)


def _report(order: _Order, folder: Folder, ending: str) -> None:
    """Print how many files were made, and which files of an earlier pack are kept."""
    for pack in folder.packs:
        if others := pack.others():
            print_remark(
                f"{pack.records.folder} keeps {counted(len(others), 'file')} of an earlier pack, "
                f"such as {others[0]}; delete those that you do not want"
            )
    up_to_date = sum(len(pack.plan.pieces) for pack in folder.packs) - len(folder.outdated)
    made = counted(len(folder.outdated), "file")
    print(f"{order.output}: {made} made, {up_to_date} up to date{ending}")
