"""The melody that a chart names, from the file beside it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from backing.chart.melody import Melody, MelodyPart
from backing.chart.melody_text import SUFFIX, read_melody
from backing.chart.read import load_chart
from backing.errors import Diagnostic, ScoreError
from backing.reading import UnreadableError, read_file, text_of

if TYPE_CHECKING:
    from backing.chart.grooves import Styles
    from backing.chart.model import Chart

LIMIT = 8 * 1024 * 1024
"""The most bytes of a melody's file."""


def load_tune(source: str, styles: Styles | None = None, *, links: bool = True) -> Chart:
    """Return a chart with its melody, if it names one, as its lead.

    Args:
        source: the chart's file; "-" is standard input, its melody lies in the folder one is in.
        styles: as for `load_chart`.
        links: whether symbolic links are followed.

    Raises:
        FileError: when the chart or its melody has faults.

    """
    chart = load_chart(source, styles, links=links)
    return replace(chart, lead=load_melody(chart, source, links=links))


def load_melody(chart: Chart, source: str, *, links: bool = True) -> Melody | None:
    """Return the melody that a chart names, or None where it names none.

    Args:
        chart: the chart.
        source: the chart's file; the melody's lies in the same folder, and nowhere else.
        links: whether symbolic links are followed.

    Raises:
        ScoreError: when the file is not there, or its bars are not the chart's.

    """
    if not chart.melody:
        return None
    path = Path(source).parent / chart.melody
    try:
        data = read_file(path, LIMIT + 1, links=links)
    except UnreadableError as error:
        if error.missing:
            advice = f"put it beside {source}, or take the line 'melody' away"
            raise _whole(str(path), error.found, advice) from None
        raise error.of(ScoreError, str(path)) from None
    if len(data) > LIMIT:
        raise _whole(str(path), f"it is larger than {LIMIT >> 20} MiB", "name a smaller file")
    return melody_of_bytes(data, chart, str(path))


def melody_of_bytes(data: bytes, chart: Chart, source: str) -> Melody:
    """Return the melody of a chart from the bytes of a file.

    Args:
        data: a melody's text, ABC, or a Standard MIDI File, as the ending of the name says.
        chart: the chart whose melody it is.
        source: the file's name.

    Raises:
        ScoreError: when it cannot be read, or its bars are not the chart's.

    """
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
    """Return the melody of the first tune in ABC, in the chart's parts and its key."""
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
            raise _whole(
                source,
                f"part {part.name} has {len(theirs.bars)} bars there and {len(written)} in the "
                "chart, or bars of other lengths",
                "make the two agree, or let 'backing convert' write both anew",
            )
        if theirs:
            parts.append(MelodyPart(part.name, theirs.bars))
    if not parts:
        names = ", ".join(part.name for part in chart.parts)
        raise _whole(source, "it has none of the chart's parts", f"label them {names} with P:")
    melody = Melody(tuple(parts))
    return melody.up(chart.key.tonic.fifths - found.chart.key.tonic.fifths)


def _whole(source: str, found: str, allowed: str) -> ScoreError:
    return ScoreError(source, (Diagnostic(0, 0, found, allowed),))
