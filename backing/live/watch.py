"""The chart file while the band plays: an edit comes in when it is sound."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from backing.scores.sidecar import load_tune

if TYPE_CHECKING:
    from backing.chart.model import Chart

Stamp = tuple[int, int]
"""When a file was saved, in nanoseconds, and its size."""


class ChartFile:
    """A chart file that may be saved again at any time, and its melody's.

    Args:
        source: the file's name; "-" never changes.
        melody: the name of the file beside it that holds its melody, or "".
        links: whether symbolic links are followed.

    """

    def __init__(self, source: str, melody: str = "", *, links: bool = True) -> None:
        self._source = source
        self._links = links
        self._melody = melody
        self._stamp = self._look()

    def changed(self) -> Chart | None:
        """Return the chart when the file has been saved since it was last asked for.

        Raises:
            FileError: when it has been saved and has faults; it is then not tried again before
                it is saved once more.

        """
        stamp = self._look()
        if stamp is None or stamp == self._stamp:
            return None
        self._stamp = stamp
        chart = load_tune(self._source, links=self._links)
        self._melody = chart.melody
        self._stamp = self._look()
        return chart

    def _look(self) -> tuple[Stamp | None, ...] | None:
        """Return the stamps of both files; None while the chart's cannot be read."""
        if self._source == "-":
            return None
        chart = Path(self._source)
        stamp = _stamp(chart)
        beside = _stamp(chart.parent / self._melody) if self._melody else None
        return (stamp, beside) if stamp else None


def _stamp(path: Path) -> Stamp | None:
    """Return when a file was saved, and its size; None for none, or one being written: empty."""
    try:
        about = path.stat()
    except OSError:
        return None
    return (about.st_mtime_ns, about.st_size) if about.st_size else None
