"""The chart file while the band plays: an edit comes in when it is sound."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from backing.chart.read import load_chart

if TYPE_CHECKING:
    from backing.chart.model import Chart


class ChartFile:
    """A chart file that may be saved again at any time.

    Args:
        source: the file's name; "-" never changes.

    """

    def __init__(self, source: str) -> None:
        self._source = source
        self._stamp = self._look()

    def changed(self) -> Chart | None:
        """Return the chart when the file has been saved since it was last asked for.

        Raises:
            ChartError: when it has been saved and has faults; it is then not tried again before
                it is saved once more.

        """
        stamp = self._look()
        if stamp is None or stamp == self._stamp:
            return None
        self._stamp = stamp
        return load_chart(self._source)

    def _look(self) -> tuple[int, int] | None:
        if self._source == "-":
            return None
        try:
            about = Path(self._source).stat()
        except OSError:
            return None
        # an empty file is one that is being written
        return (about.st_mtime_ns, about.st_size) if about.st_size else None
