"""The bars of a tune as played, by the project and by music21."""

from __future__ import annotations

import contextlib
from typing import TYPE_CHECKING

from backing.chart.melody_sequence import along
from backing.chart.sequence import once_round
from backing.scores.abc.read import read_abc
from backing.scores.to_chart import to_chart

if TYPE_CHECKING:
    from backing.scores.to_chart import Converted
    from backing.scores.tune import Tune


def only_tune(text: str) -> Tune:
    """Return the one tune of a text in ABC."""
    (tune,) = read_abc(text.encode())
    if isinstance(tune, Exception):
        raise tune
    return tune


def played(found: Converted) -> list[tuple[tuple[int, int, int], ...]]:
    """Return tick, ticks and key of the notes of each bar as played, the pickup first."""
    sequence = once_round(found.chart)
    bars = along(found.melody, sequence)
    return [tuple((note.tick, note.ticks, note.pitch.key) for note in bar) for bar in bars]


def played_abc(text: str) -> list[tuple[tuple[int, int, int], ...]]:
    """Return the notes of each bar of a text in ABC as played."""
    return played(to_chart(only_tune(text)))


def played_by_music21(text: str) -> list[tuple[int, ...]]:
    """Return the keys of each bar as played by music21, the first voice alone."""
    import music21

    score = music21.converter.parse(text, format="abc")
    part = score.parts[0]
    with contextlib.suppress(music21.exceptions21.Music21Exception):
        part = part.expandRepeats()
    bars = []
    for measure in part.getElementsByClass("Measure") or [part]:
        keys = []
        for note in measure.notes:
            if isinstance(note, music21.harmony.Harmony) or note.duration.isGrace:
                continue
            if note.tie is not None and note.tie.type != "start":
                continue
            keys += sorted(pitch.midi for pitch in note.pitches)
        bars.append(tuple(keys))
    return bars
