"""Rescales a tune to notes twice or half as long, so that a groove plays its meter."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import TYPE_CHECKING

from backing.timing import FASTEST_BPM, SLOWEST_BPM, Meter, Tempo

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backing.scores.remarks import Remarks
    from backing.scores.tune import Tune, TuneBar


def rescaled(
    tune: Tune, bars: Sequence[TuneBar], meters: frozenset[Meter], remarks: Remarks
) -> tuple[Tune, tuple[TuneBar, ...]]:
    """Return a tune and its bars in a meter that some style plays; unchanged if there is none.

    Args:
        tune: the tune.
        bars: its bars.
        meters: the meters that styles play.
        remarks: receives what was changed.

    """
    meter = Counter(bar.meter for bar in bars).most_common(1)[0][0]
    if meter not in meters:
        for up, down in ((2, 1), (1, 2)):
            other = _in_notes(meter, up, down)
            if other in meters and all(_in_notes(bar.meter, up, down) for bar in bars):
                remarks.add(f"{meter} is written as {other}, which grooves play")
                tempo = _tempo(tune.tempo, up, down)
                return (
                    replace(tune, meter=_in_notes(tune.meter, up, down) or other, tempo=tempo),
                    tuple(_bar(bar, up, down) for bar in bars),
                )
        remarks.add(f"no groove plays {meter}: each bar names its meter, and the band plays along")
    return replace(tune, meter=meter if meter in meters else tune.meter), tuple(bars)


def _in_notes(meter: Meter, up: int, down: int) -> Meter | None:
    """Return a meter in notes `up / down` times as long."""
    unit = meter.unit * down // up
    return Meter(meter.count, unit) if unit in (2, 4, 8, 16) else None


def _tempo(tempo: Tempo | None, up: int, down: int) -> Tempo | None:
    if tempo is None:
        return None
    quarters = tempo.quarter_bpm * up / down
    return Tempo(round(min(max(quarters, SLOWEST_BPM), FASTEST_BPM), 1))


def _bar(bar: TuneBar, up: int, down: int) -> TuneBar:
    def ticks(value: int) -> int:
        return value * up // down

    return replace(
        bar,
        meter=_in_notes(bar.meter, up, down) or bar.meter,
        ticks=ticks(bar.ticks),
        tempo=_tempo(bar.tempo, up, down),
        chords=tuple(replace(each, tick=ticks(each.tick)) for each in bar.chords),
        notes=tuple(
            replace(each, tick=ticks(each.tick), ticks=max(ticks(each.ticks), 1))
            for each in bar.notes
        ),
    )
