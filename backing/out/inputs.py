"""The files that a command reads and must not overwrite."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from backing.fretboard.instrument import instrument_file
from backing.style.library import requested_style_file

if TYPE_CHECKING:
    from backing.chart.model import Chart
    from backing.fretboard.request import FrettingSettings


def inputs_of(
    source: str,
    chart: Chart,
    *,
    style: str | None = None,
    fretting: FrettingSettings | None = None,
    font: Path | None = None,
) -> tuple[Path, ...]:
    """Return the files that are read for a chart.

    Args:
        source: the chart's file, or "-".
        chart: the chart, which may name a melody file in the same folder.
        style: the style given as an option, or None.
        fretting: the fretting given as options; may name an instrument.
        font: the sound font, or None.

    Raises:
        SettingsError: when there is no such style or instrument.
    """
    found = [Path(source)]
    if chart.melody:
        found.append(Path(source).parent / chart.melody)
    if style:
        found.append(requested_style_file(style))
    if fretting and fretting.instrument:
        found.append(instrument_file(fretting.instrument))
    return (*found, font) if font else tuple(found)
