"""Build packs in a folder: find the missing files, write pages, manifests and the .zip file."""

from __future__ import annotations

import shutil
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from backing.errors import OutputError, SettingsError
from backing.out.formats import FORMATS
from backing.out.inputs import inputs_of
from backing.packs.digest import MANIFEST, digest_of, manifest_of
from backing.packs.make import make
from backing.packs.page import PAGE, contents_of, page_of
from backing.packs.plan import plan, slug
from backing.packs.record import HIDDEN, Records, locked
from backing.scores.sidecar import load_tune
from backing.style.library import style_meters

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence

    from backing.packs.plan import Piece, Plan
    from backing.packs.settings import PackSettings

_ZIP = ".zip"


def is_zip(output: Path) -> bool:
    """Return whether an output is a .zip file, and not a folder of that name."""
    return output.suffix.lower() == _ZIP and not output.is_dir()


def places_of(sources: Sequence[str], *, several: bool) -> list[tuple[str, Path]]:
    """Return each chart and the folder of its pack, relative to the folder of all packs."""
    if not several:
        return [(source, Path()) for source in sources]
    found: list[tuple[str, Path]] = []
    seen: dict[str, int] = {}
    for source in sources:
        name = slug(Path(source).stem)
        count = seen[name] = seen.get(name, 0) + 1
        found.append((source, Path(name if count == 1 else f"{name}-no-{count}")))
    return found


def planned(source: str, request: PackSettings) -> Plan:
    """Return the plan of the pack of a chart.

    Raises:
        BackingError: when the chart has faults, or the request does not fit it.
    """
    chart = load_tune(source, None if request.settings.style else style_meters())
    try:
        return plan(source, chart, request)
    except SettingsError as error:
        raise SettingsError(f"{source}: {error}") from None


def inputs_of_plans(plans: Iterable[Plan]) -> tuple[Path, ...]:
    """Return the files that packs are made from, which must not be overwritten."""
    return tuple(
        path
        for planned in plans
        for path in inputs_of(
            planned.source, planned.chart, planned.request.settings, planned.request.sound.font
        )
    )


@dataclass(frozen=True, slots=True)
class Pack:
    """A pack in a folder.

    Attributes:
        plan: its plan.
        records: the records of its folder.
    """

    plan: Plan
    records: Records

    def has(self, piece: Piece) -> bool:
        """Return whether a file exists and is up to date."""
        return self.records.has(piece.name, digest_of(self.plan, piece))

    def put(self, piece: Piece, data: bytes) -> None:
        """Write a file and its record.

        Raises:
            OutputError: when it cannot be written.
        """
        self.records.put(piece.name, digest_of(self.plan, piece), data)

    @property
    def names(self) -> list[str]:
        """The names of all files of the pack."""
        return [*(piece.name for piece in self.plan.pieces), PAGE, MANIFEST]

    def others(self) -> list[str]:
        """Return the files in the folder that were made for another pack."""
        return self.records.others(set(self.names))

    def write_page(self, command: Callable[[str], str]) -> None:
        """Write the page and the manifest unless they are up to date.

        Args:
            command: returns the command that makes the file of a name.
        """
        _write(self.records, PAGE, page_of(self.plan))
        _write(self.records, MANIFEST, manifest_of(self.plan, command))


def make_piece(plan: Plan, piece: Piece, folder: Path, *, force: bool) -> None:
    """Make one file of a pack in a folder, unless it is up to date.

    Raises:
        BackingError: when it cannot be made or written, or would replace a file of others and
            `force` is not given.
    """
    pack = Pack(plan, Records(folder, inputs_of_plans([plan])))
    if not pack.has(piece):
        if not force:
            pack.records.refuse_foreign(piece.name)
        pack.put(piece, make(plan, piece))


class Folder:
    """Packs in one folder.

    Attributes:
        packs: the packs.
        outdated: the files that are missing or out of date.

    Args:
        path: the folder.
        plans: the packs, each with its folder relative to it.
        title: the title of a page that links to all of them; None for no such page.
    """

    def __init__(
        self, path: Path, plans: Sequence[tuple[Plan, Path]], title: str | None = None
    ) -> None:
        self._path, self._title = path, title
        self._inputs = inputs_of_plans(planned for planned, _ in plans)
        self.packs = [
            Pack(planned, Records(path / place, self._inputs)) for planned, place in plans
        ]
        for pack in self.packs:
            pack.records.tidy(pack.names)
        self.outdated = [
            (pack, piece)
            for pack in self.packs
            for piece in pack.plan.pieces
            if not pack.has(piece)
        ]

    def refuse_foreign(self) -> None:
        """Refuse to overwrite files that were not made here.

        Raises:
            OutputError: when there is one.
        """
        for pack, piece in self.outdated:
            pack.records.refuse_foreign(piece.name)
        for pack in self.packs:
            for name in (PAGE, MANIFEST):
                pack.records.refuse_foreign(name)
        if self._title is not None:
            Records(self._path, self._inputs).refuse_foreign(PAGE)

    def write_pages(
        self, done: Sequence[Pack], shown: Path, command: Callable[[str, Path, str], str]
    ) -> None:
        """Write the pages and manifests of complete packs, and the page that links to them.

        Args:
            done: the packs.
            shown: the folder as it is named in the commands.
            command: returns the command for a chart, a folder and the name of a file.
        """
        listed = []
        for pack in done:
            place = pack.records.folder.relative_to(self._path)
            pack.write_page(partial(command, pack.plan.source, shown / place))
            listed.append((place.as_posix(), pack.plan.chart.title))
        if self._title is not None:
            page = contents_of(listed, self._title)
            _write(Records(self._path, self._inputs), PAGE, page)


def _write(records: Records, name: str, data: bytes) -> None:
    if not records.has(name, "") or (records.folder / name).read_bytes() != data:
        records.put(name, "", data)


@contextmanager
def working_folder(output: Path, inputs: tuple[Path, ...], *, force: bool) -> Iterator[Path]:
    """Yield a locked folder to work in: the output, or a hidden one beside a .zip file.

    Raises:
        OutputError: when the output is a file, or the folder is in use.
    """
    from backing.out.files import check_free

    if is_zip(output):
        check_free(output, force=force, inputs=inputs)
        folder = output.with_name(f".{output.name}.making")
        with locked(folder):
            yield folder
        return
    if output.exists() and not output.is_dir():
        raise OutputError(f"{output} is a file: name a folder, or a file ending in .zip")
    is_new = not output.exists()
    try:
        with locked(output):
            yield output
    finally:
        if is_new and not any(p.is_file() and p.name != "lock" for p in output.rglob("*")):
            shutil.rmtree(output, ignore_errors=True)


def write_zip(folder: Path, target: Path, inputs: tuple[Path, ...], *, force: bool) -> None:
    """Write all files of a folder into a .zip file, atomically.

    Raises:
        OutputError: when it cannot be written.
    """
    import zipfile

    from backing.out.files import atomic_file

    files = sorted(path for path in folder.rglob("*") if path.is_file())
    kept = [path for path in files if HIDDEN not in path.relative_to(folder).parts]
    try:
        with (
            atomic_file(target, force=force, inputs=inputs) as zip_file,
            zipfile.ZipFile(zip_file, "w") as into,
        ):
            for path in kept:
                dense = path.suffix.lstrip(".") in FORMATS and path.suffix != ".wav"
                how = zipfile.ZIP_STORED if dense else zipfile.ZIP_DEFLATED
                into.write(path, path.relative_to(folder).as_posix(), how)
    except OutputError as error:
        raise OutputError(
            f"{error}; the finished files are in {folder}: free some space and run this command "
            "again"
        ) from None
