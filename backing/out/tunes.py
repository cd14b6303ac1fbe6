"""Read and write tunes as charts, ABC or MusicXML files."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from backing.chart.melody_text import SUFFIX, write_melody
from backing.errors import ScoreError, SettingsError
from backing.out.files import check_free, write_file
from backing.reading import UnreadableError, read_file
from backing.scores.tune import numbered, remark_lines

if TYPE_CHECKING:
    from collections.abc import Iterable

    from backing.chart.model import Chart
    from backing.scores.tune import Tune

READ = (".abc", ".musicxml", ".xml", ".mxl", ".chart")
"""The endings of files that can be read."""

WRITTEN = (".chart", ".abc", ".musicxml", ".mxl")
"""The endings of files that can be written."""

MOST_BYTES = 32 * 1024 * 1024
"""The largest file that is read, in bytes."""


@dataclass(frozen=True, slots=True)
class Conversion:
    """The result of writing a tune.

    Attributes:
        chart: the chart that was written, or None for another format.
        remarks: a sentence for each correction, move or omission.
    """

    chart: Chart | None
    remarks: tuple[str, ...]


def read_tunes(source: str) -> tuple[list[Tune | ScoreError], tuple[Path, ...]]:
    """Return the tunes of a file, or the error of each faulty one, and the files that were read.

    Raises:
        BackingError: when the file as a whole cannot be read.
    """
    path = Path(source)
    suffix = path.suffix.lower()
    if suffix == ".chart":
        from backing.chart.read import load_chart
        from backing.out.inputs import inputs_of
        from backing.scores.from_chart import from_chart
        from backing.scores.sidecar import load_melody

        chart = load_chart(source)
        return [from_chart(chart, load_melody(chart, source))], inputs_of(source, chart)
    data = _bytes(path)
    check_ending(source, READ, "read")
    if suffix == ".abc":
        from backing.scores.abc.read import read_abc

        return list(read_abc(data, source)), (path,)
    from backing.scores.musicxml import read_musicxml

    return [read_musicxml(data, source)], (path,)


def write_tune(
    tune: Tune, target: Path, *, force: bool = False, inputs: Iterable[Path] = ()
) -> Conversion:
    """Write a tune in the format that the ending of the file names.

    The melody of a chart goes to a sidecar file, which ends in .melody.

    Args:
        tune: the tune.
        target: the file.
        force: whether existing files may be replaced.
        inputs: files that must not be overwritten.

    Raises:
        BackingError: when the format cannot hold the tune, or a file cannot be written.
    """
    check_ending(str(target), WRITTEN, "written")
    inputs = tuple(inputs)
    suffix = target.suffix.lower()
    if suffix == ".chart":
        return _write_chart(tune, target, inputs, force=force)
    check_free(target, force=force, inputs=inputs)
    write_file(target, _data(tune, suffix), force=force, inputs=inputs)
    return Conversion(None, remark_lines(numbered(tune)[1].found))


def check_ending(name: str, endings: tuple[str, ...], done: str) -> None:
    """Check the ending of a file.

    Args:
        name: the name of the file.
        endings: the endings that are allowed.
        done: "read" or "written", for the message.

    Raises:
        SettingsError: when the ending is not allowed.
    """
    if Path(name).suffix.lower() not in endings:
        raise SettingsError(f"{name} cannot be {done}: its name must end in {', '.join(endings)}")


def _bytes(path: Path) -> bytes:
    try:
        data = read_file(path, MOST_BYTES + 1)
    except UnreadableError as error:
        raise error.of(ScoreError, str(path)) from None
    if len(data) > MOST_BYTES:
        raise SettingsError(f"{path} is larger than {MOST_BYTES >> 20} MiB: split it")
    return data


def _data(tune: Tune, suffix: str) -> bytes:
    if suffix == ".abc":
        from backing.scores.abc.write import write_abc

        return write_abc(tune)
    from backing.scores.musicxml import write_musicxml, write_mxl

    return write_mxl(tune) if suffix == ".mxl" else write_musicxml(tune)


def _write_chart(tune: Tune, path: Path, inputs: tuple[Path, ...], *, force: bool) -> Conversion:
    from backing.chart.write import write_chart
    from backing.scores.to_chart import to_chart
    from backing.style.library import style_meters

    found = to_chart(tune, style_meters())
    chart, sidecar = found.chart, path.with_suffix(SUFFIX)
    for each in (path, sidecar) if found.melody.parts else (path,):
        check_free(each, force=force, inputs=inputs)
    if found.melody.parts:
        chart = replace(chart, melody_file=sidecar.name)
        melody = write_melody(found.melody, chart).encode("utf-8")
        write_file(sidecar, melody, force=force, inputs=inputs)
    text = write_chart(chart, found.comments)
    write_file(path, text.encode("utf-8"), force=force, inputs=inputs)
    return Conversion(chart, found.remarks)
