"""The files that a command reads and must not overwrite."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from backing.fretboard.instrument import instrument_file
from backing.style.library import requested_style_file

if TYPE_CHECKING:
    from backing.chart.model import Chart
    from backing.performance.settings import Settings


def inputs_of(
    source: str, chart: Chart, settings: Settings | None = None, font: Path | None = None
) -> tuple[Path, ...]:
    """Return the files that are read for a chart.

    Args:
        source: the chart's file, or "-".
        chart: the chart, which may name a melody file in the same folder.
        settings: the settings given as options, which may name a style and an instrument.
        font: the sound font, or None.

    Raises:
        SettingsError: when there is no such style or instrument.
    """
    found = [Path(source)]
    if chart.melody_file:
        found.append(Path(source).parent / chart.melody_file)
    if settings and settings.style:
        found.append(requested_style_file(settings.style))
    if settings and settings.fretting.instrument:
        found.append(instrument_file(settings.fretting.instrument))
    return (*found, font) if font else tuple(found)
