"""Making practice packs: what the options say, and the work itself."""

from __future__ import annotations

import shlex
import shutil
import sys
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from backing.cli.inputs import inputs_of
from backing.cli.report import named, print_error, print_remark
from backing.cli.sheets import remark_missing_signs
from backing.cli.targets import charts_in
from backing.cli.together import ended_by_signals, together
from backing.errors import BackingError, OutputError, SettingsError
from backing.out.formats import FORMATS
from backing.packs.ledger import HIDDEN, Ledger, locked
from backing.packs.make import make
from backing.packs.manifest import MANIFEST, manifest_of
from backing.packs.page import PAGE, contents_of, page_of
from backing.packs.plan import Plan, plain, plan
from backing.packs.recipe import recipe_of
from backing.reading import is_folder

if TYPE_CHECKING:
    from collections.abc import Iterator

    from backing.packs.plan import Piece
    from backing.packs.wish import PackWish

_ZIP = ".zip"


@dataclass(frozen=True, slots=True)
class Order:
    """A pack, or a folder of them, as it was asked for.

    Attributes:
        source: a chart, or a folder of them.
        output: the folder or the .zip file to make.
        wish: what is wished of each.
        processes: files made at the same time.
        force: whether what is there is replaced.
        words: the options as they were given, for the commands of single files.
    """

    source: str
    output: str
    wish: PackWish
    processes: int
    force: bool
    words: tuple[str, ...]

    @property
    def as_zip(self) -> bool:
        """Whether one file is wished, unless there is a folder of that name."""
        output = Path(self.output)
        return output.suffix.lower() == _ZIP and not output.is_dir()

    def command(self, source: str, folder: Path, name: str) -> str:
        """Return the command that makes one file of a chart's pack, as a line for a shell."""
        job = ["backing", "pack", source, "-o", str(folder), *self.words, "--job", name]
        return shlex.join(job)


@dataclass(frozen=True, slots=True)
class Pack:
    """A pack on its way.

    Attributes:
        plan: what it consists of.
        ledger: what of it is there.
    """

    plan: Plan
    ledger: Ledger


def print_jobs(order: Order) -> None:
    """Print, for every file, the command that makes it.

    Raises:
        BackingError: when a chart or a wish will not do.
    """
    if order.as_zip:
        raise SettingsError("jobs make files in a folder: name one, such as -o packs/")
    for source, folder in _places(order, Path(order.output)):
        for piece in _planned(source, order.wish).pieces:
            print(order.command(source, folder, piece.name))


def make_one(order: Order, name: str) -> None:
    """Make one file of a pack, if it is not there already.

    Raises:
        BackingError: when there is no such file in it, or it cannot be made.
    """
    if is_folder(order.source):
        raise SettingsError("--job makes one file of one chart: name the chart")
    planned = _planned(order.source, order.wish)
    piece = next((each for each in planned.pieces if each.name == name), None)
    if piece is None:
        raise SettingsError(f"'{name}' is not in this pack: --list-jobs tells what is")
    pack = Pack(planned, Ledger(Path(order.output), _inputs([planned])))
    if not pack.ledger.has(name, recipe_of(planned, piece)):
        if not order.force:
            pack.ledger.refuse_foreign(name)
        with ended_by_signals():
            _put(pack, piece, make(planned, piece))
    print(Path(order.output) / name)


def make_all(order: Order) -> None:
    """Make a pack, or those of a folder; what is there already and sound is left as it is.

    Raises:
        BackingError: when nothing can be made at all.
    """
    plans, well = _plans(order)
    if not plans:
        sys.exit(2)
    inputs = _inputs([planned for planned, _ in plans])
    with ended_by_signals(), _folder_of(order, inputs) as folder:
        packs = _packs(plans, folder, inputs)
        todo = [
            (pack, piece)
            for pack in packs
            for piece in pack.plan.pieces
            if not pack.ledger.has(piece.name, recipe_of(pack.plan, piece))
        ]
        if not order.force:
            _refuse_foreign(packs, todo)
        broken = _make_together(todo, order.processes)
        done = [pack for pack in packs if pack.plan.source not in broken]
        _write_pages(order, folder, done, inputs)
        well = well and not broken
        if well and order.as_zip:
            _write_zip(folder, order, inputs)
    if not well:
        sys.exit(2)
    if order.as_zip:
        shutil.rmtree(folder, ignore_errors=True)
    there = sum(len(pack.plan.pieces) for pack in packs) - len(todo)
    _tell_others(packs)
    page = "" if order.as_zip else f"; open {folder / PAGE}"
    print(f"{order.output}: {len(todo)} files made, {there} were there{page}")


@contextmanager
def _folder_of(order: Order, inputs: tuple[Path, ...]) -> Iterator[Path]:
    """Give a folder to work in, locked; a .zip file is made of it when all is well."""
    from backing.out.files import check_free

    output = Path(order.output)
    if not order.as_zip:
        if output.exists() and not output.is_dir():
            raise OutputError(f"{output} is a file: name a folder, or a file ending in .zip")
        is_new = not output.exists()
        try:
            with locked(output):
                yield output
        finally:
            if is_new and not _has_files(output):
                shutil.rmtree(output, ignore_errors=True)
        return
    check_free(output, force=order.force, inputs=inputs)
    folder = output.with_name(f".{output.name}.making")
    with locked(folder):
        yield folder


def _tell_others(packs: list[Pack]) -> None:
    """Tell of files that an earlier order made and that this one does not name."""
    for pack in packs:
        others = pack.ledger.others({*(each.name for each in pack.plan.pieces), PAGE, MANIFEST})
        if others:
            print_remark(
                f"{pack.ledger.folder}: {len(others)} files of an earlier order stay, such as "
                f"{others[0]}; delete what is not wanted"
            )


def _has_files(folder: Path) -> bool:
    """Whether anything but a lock lies in a folder."""
    return any(path.is_file() and path.name != "lock" for path in folder.rglob("*"))


def _plans(order: Order) -> tuple[list[tuple[Plan, Path]], bool]:
    """Return the plans of packs with their places in the folder, and whether all charts are sound.

    What is wrong with a chart is told before anything is said of the folder.
    """
    plans, well = [], True
    for source, place in _places(order, Path()):
        try:
            plans.append((_planned(source, order.wish), place))
        except BackingError as error:
            well = False
            print_error(error)
    return plans, well


def _inputs(plans: list[Plan]) -> tuple[Path, ...]:
    """Return the files that packs are made from."""
    return tuple(
        path
        for planned in plans
        for path in inputs_of(
            planned.source,
            planned.chart,
            style=planned.wish.settings.style,
            fretting=planned.wish.settings.fretting,
            font=planned.wish.sound.font,
        )
    )


def _packs(plans: list[tuple[Plan, Path]], folder: Path, inputs: tuple[Path, ...]) -> list[Pack]:
    """Return the packs to make in a folder."""
    packs = [Pack(planned, Ledger(folder / place, inputs)) for planned, place in plans]
    for pack in packs:
        remark_missing_signs(pack.plan.source, pack.plan.chart)
        pack.ledger.tidy([*(piece.name for piece in pack.plan.pieces), PAGE, MANIFEST])
    return packs


def _places(order: Order, folder: Path) -> list[tuple[str, Path]]:
    """Return each chart and the folder of its pack."""
    if not is_folder(order.source):
        return [(order.source, folder)]
    found: list[tuple[str, Path]] = []
    seen: dict[str, int] = {}
    for source in charts_in(order.source):
        name = plain(Path(source).stem)
        count = seen[name] = seen.get(name, 0) + 1
        found.append((source, folder / (name if count == 1 else f"{name}-no-{count}")))
    return found


def _planned(source: str, wish: PackWish) -> Plan:
    from backing.scores.beside import load_tune
    from backing.style.library import style_meters

    chart = load_tune(source, None if wish.settings.style else style_meters())
    try:
        return plan(source, chart, wish)
    except SettingsError as error:
        raise named(source, error) from None


def _refuse_foreign(packs: list[Pack], todo: list[tuple[Pack, Piece]]) -> None:
    for pack, piece in todo:
        pack.ledger.refuse_foreign(piece.name)
    for pack in packs:
        for name in (PAGE, MANIFEST):
            pack.ledger.refuse_foreign(name)


def _make_together(todo: list[tuple[Pack, Piece]], processes: int) -> set[str]:
    """Make files, some at a time, with a progress bar; return the charts that did not do.

    What is wrong with many files of a chart is said once.
    """
    from rich.console import Console
    from rich.progress import Progress

    broken: dict[str, set[str]] = {}
    if not todo:
        return set()
    tasks = [(pack.plan, piece) for pack, piece in todo]
    with (
        together(_attempt, tasks, processes) as outcomes,
        Progress(console=Console(stderr=True), transient=True) as progress,
    ):
        bar = progress.add_task("making", total=len(todo))
        for (pack, piece), outcome in zip(todo, outcomes, strict=True):
            if isinstance(outcome, BackingError):
                told = broken.setdefault(pack.plan.source, set())
                if str(outcome) not in told:
                    print_error(named(pack.plan.source, outcome))
                told.add(str(outcome))
            else:
                _put(pack, piece, outcome)
            progress.advance(bar)
    return set(broken)


def _attempt(task: tuple[Plan, Piece]) -> bytes | BackingError:
    try:
        return make(*task)
    except BackingError as error:
        return error


def _put(pack: Pack, piece: Piece, data: bytes) -> None:
    pack.ledger.put(piece.name, recipe_of(pack.plan, piece), data)


def _write_pages(order: Order, folder: Path, packs: list[Pack], inputs: tuple[Path, ...]) -> None:
    """Write the pages and manifests, where they are not as they should be."""
    output = Path(order.output)
    for pack in packs:
        place = pack.ledger.folder.relative_to(folder)
        own = (output.with_suffix("") if order.as_zip else output) / place
        command = partial(order.command, pack.plan.source, own)
        _write(pack.ledger, PAGE, page_of(pack.plan))
        _write(pack.ledger, MANIFEST, manifest_of(pack.plan, command))
    if is_folder(order.source):
        ledger = Ledger(folder, inputs)
        if not order.force:
            ledger.refuse_foreign(PAGE)
        listed = [
            (pack.ledger.folder.relative_to(folder).as_posix(), pack.plan.chart.title)
            for pack in packs
        ]
        _write(ledger, PAGE, contents_of(listed, Path(order.source).resolve().name))


def _write(ledger: Ledger, name: str, data: bytes) -> None:
    if not ledger.has(name, "") or (ledger.folder / name).read_bytes() != data:
        ledger.put(name, "", data)


def _write_zip(folder: Path, order: Order, inputs: tuple[Path, ...]) -> None:
    """Write all files of a folder into one, whole or not at all."""
    import zipfile

    from backing.out.files import whole_file

    files = sorted(path for path in folder.rglob("*") if path.is_file())
    kept = [path for path in files if HIDDEN not in path.relative_to(folder).parts]
    try:
        with (
            whole_file(Path(order.output), force=order.force, inputs=inputs) as whole,
            zipfile.ZipFile(whole, "w") as into,
        ):
            for path in kept:
                dense = path.suffix.lstrip(".") in FORMATS and path.suffix != ".wav"
                how = zipfile.ZIP_STORED if dense else zipfile.ZIP_DEFLATED
                into.write(path, path.relative_to(folder).as_posix(), how)
    except OutputError as error:
        raise OutputError(
            f"{error}; what was made is in {folder}: make room and start again"
        ) from None
