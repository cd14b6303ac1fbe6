"""Loads the melody of a chart from its sidecar file: melody text, ABC or a Standard MIDI File."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from backing.chart.read import load_chart
from backing.errors import ScoreError
from backing.reading import UnreadableError, read_file, text_of

if TYPE_CHECKING:
    from backing.chart.grooves import Styles
    from backing.chart.melody import Melody
    from backing.chart.model import Chart

LIMIT = 8 * 1024 * 1024
"""The largest melody file, in bytes."""


def load_tune(source: str, styles: Styles | None = None, *, links: bool = True) -> Chart:
    """Return a chart with the melody that it names.

    Args:
        source: the chart's file, or "-" for standard input with the melody in the current folder.
        styles: as in `load_chart`.
        links: whether symbolic links are followed.

    Raises:
        FileError: when the chart or its melody has faults.

    """
    chart = load_chart(source, styles, links=links)
    return replace(chart, melody=load_melody(chart, source, links=links))


def load_melody(chart: Chart, source: str, *, links: bool = True) -> Melody | None:
    """Return the melody that a chart names, or None if it names none.

    Args:
        chart: the chart.
        source: the chart's file; the melody is always in the same folder.
        links: whether symbolic links are followed.

    Raises:
        ScoreError: when the file is missing, or its bars do not match the chart's.

    """
    if not chart.melody_file:
        return None
    path = Path(source).parent / chart.melody_file
    try:
        data = read_file(path, LIMIT + 1, links=links)
    except UnreadableError as error:
        if error.missing:
            advice = f"put it in the folder of {source}, or remove the line 'melody'"
            raise ScoreError.of(str(path), error.found, advice) from None
        raise error.of(ScoreError, str(path)) from None
    if len(data) > LIMIT:
        found = f"it is larger than {LIMIT >> 20} MiB"
        raise ScoreError.of(str(path), found, "name a smaller file")
    return melody_of_bytes(data, chart, str(path))


def melody_of_bytes(data: bytes, chart: Chart, source: str) -> Melody:
    """Return the melody of a chart from the bytes of a file.

    Args:
        data: melody text, ABC or a Standard MIDI File, according to the suffix of the name.
        chart: the chart that the melody belongs to.
        source: the file's name.

    Raises:
        ScoreError: when it cannot be read, or its bars do not match the chart's.

    """
    from backing.chart.melody_text import SUFFIX, read_melody  # most charts name no melody

    suffix = Path(source).suffix.lower()
    if suffix == SUFFIX:
        return read_melody(_text(data, source), chart, source)
    if suffix == ".abc":
        return _of_abc(data, chart, source)
    from backing.scores.midi import melody_of_midi

    return melody_of_midi(data, chart, source)


def _text(data: bytes, source: str) -> str:
    try:
        return text_of(data, "save the melody as plain text in UTF-8")
    except UnreadableError as error:
        raise error.of(ScoreError, source) from None


def _of_abc(data: bytes, chart: Chart, source: str) -> Melody:
    """Return the melody of the first tune in ABC, transposed to the chart's key."""
    from backing.chart.melody import Melody, MelodyPart
    from backing.scores.abc.read import read_abc
    from backing.scores.to_chart import to_chart

    tune = next(iter(read_abc(data, source)))
    if isinstance(tune, ScoreError):
        raise tune
    found = to_chart(tune)
    lines = dict(zip((part.name for part in found.chart.parts), found.melody.parts, strict=False))
    parts = []
    for part in chart.parts:
        written = list(part.written())
        theirs = lines.get(part.name)
        same = theirs and [bar.ticks for bar in written] == [
            bar.ticks for bar in found.chart.part(part.name).written()
        ]
        if theirs and not same:
            raise ScoreError.of(
                source,
                f"part {part.name} has {len(theirs.bars)} bars there and {len(written)} in the "
                "chart, or bars of other lengths",
                "make the two agree, or write both again with 'backing convert'",
            )
        if theirs:
            parts.append(MelodyPart(part.name, theirs.bars))
    if not parts:
        allowed = f"label them {', '.join(part.name for part in chart.parts)} with P:"
        raise ScoreError.of(source, "it has none of the chart's parts", allowed)
    melody = Melody(tuple(parts))
    return melody.up(chart.key.tonic.fifths - found.chart.key.tonic.fifths)
