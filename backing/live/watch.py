"""Watches the chart file for edits."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from backing.scores.sidecar import load_tune

if TYPE_CHECKING:
    from backing.chart.model import Chart

Stamp = tuple[int, int]
"""Modification time of a file in nanoseconds, and its size."""


class ChartFile:
    """A chart file, and the sidecar file of its melody, that may be saved at any time.

    Args:
        source: the name of the file; "-" never changes.
        melody_file: the name of the sidecar file, or "".
        links: whether to follow symbolic links.

    """

    def __init__(self, source: str, melody_file: str = "", *, links: bool = True) -> None:
        self._source = source
        self._links = links
        self._melody_file = melody_file
        self._stamp = self._stamps()

    def changed(self) -> Chart | None:
        """Return the chart if a file was saved since the last call; None otherwise.

        Raises:
            FileError: when the saved file has errors; it is read again after the next save.

        """
        stamp = self._stamps()
        if stamp is None or stamp == self._stamp:
            return None
        self._stamp = stamp
        chart = load_tune(self._source, links=self._links)
        self._melody_file = chart.melody_file
        self._stamp = self._stamps()
        return chart

    def _stamps(self) -> tuple[Stamp | None, ...] | None:
        """Return the stamps of both files; None while the chart file cannot be read."""
        if self._source == "-":
            return None
        chart = Path(self._source)
        stamp = _stamp(chart)
        sidecar = _stamp(chart.parent / self._melody_file) if self._melody_file else None
        return (stamp, sidecar) if stamp else None


def _stamp(path: Path) -> Stamp | None:
    """Return a file's stamp; None when it is missing, or empty because it is being written."""
    try:
        about = path.stat()
    except OSError:
        return None
    return (about.st_mtime_ns, about.st_size) if about.st_size else None
