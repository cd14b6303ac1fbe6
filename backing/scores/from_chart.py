"""Converts a chart and its melody to a tune, which the writers of ABC and MusicXML take.

Conventions: a chord held over the bar line has no second sign, except where a part, a repeat or an
ending begins. A chart without chords becomes a tune without signs. Remarks name what other
notations cannot hold: directions to the band, count-in, intro, ending, and the grooves of parts.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import groupby, pairwise
from typing import TYPE_CHECKING

from backing.chart.layout import cells_of
from backing.chart.model import Bar
from backing.scores.parts import times_named
from backing.scores.tune import Tune, TuneBar, TuneChord

if TYPE_CHECKING:
    from collections.abc import Iterator

    from backing.chart.layout import Cell
    from backing.chart.melody import Melody, MelodyNote
    from backing.chart.model import Chart, Part
    from backing.harmony.key import Key
    from backing.timing import Meter


def from_chart(chart: Chart, melody: Melody | None = None) -> Tune:
    """Return the tune of a chart.

    Args:
        chart: the chart.
        melody: its melody, or None.

    """
    lines = {part.name: part.bars for part in melody.parts} if melody else {}
    parts = {part.name: _part(chart, part, lines.get(part.name, ())) for part in chart.parts}
    bars = [bar for part in _before_pickups(chart, parts).values() for bar in _signed(part)]
    if not any(sign.chord for bar in bars for sign in bar.chords):
        bars = [replace(bar, chords=()) for bar in bars]
    return Tune(
        title=chart.title,
        key=chart.parts[0].key or chart.key,
        bars=tuple(bars),
        meter=chart.parts[0].meter or chart.meter,
        composer=chart.by,
        tempo=chart.tempo,
        rhythm=chart.style or "",
        order=tuple(_order(chart)),
        notes=chart.notes,
        remarks=tuple(_left_out(chart)),
    )


def _order(chart: Chart) -> Iterator[str]:
    """Yield the part labels of the form, repeats included as `scores/parts.py` defines it."""
    sections = {part.name: part.sections for part in chart.parts}
    for name, run in groupby(chart.form):
        repeats = {
            1 if isinstance(section, Bar) else section.times
            for section in sections[name]
            if not (isinstance(section, Bar) and section.pickup)
        }
        yield from [name] * times_named(len(list(run)), repeats)


def _part(chart: Chart, part: Part, notes: tuple[tuple[MelodyNote, ...], ...]) -> list[TuneBar]:
    """Return the bars of a part in written order, its label on the first."""
    key, meter = part.key or chart.key, part.meter or chart.meter
    bars = [_bar(cell, key, meter) for cell in cells_of(part)]
    bars = [replace(bar, notes=notes[n] if n < len(notes) else ()) for n, bar in enumerate(bars)]
    bars = _with_pickup_inside(part, bars)
    bars[0] = replace(bars[0], part=part.name, tempo=part.tempo)
    bars[-1] = replace(bars[-1], double=True)
    return bars


def _with_pickup_inside(part: Part, bars: list[TuneBar]) -> list[TuneBar]:
    """Move the start of the first repeat before the pickup, where the pickup is repeated too.

    It is repeated where every bar that jumps back ends with silence as long as the pickup. These
    bars lose that silence, as on paper.
    """
    first = part.sections[1] if part.pickup and len(part.sections) > 1 else None
    if part.pickup is None or first is None or isinstance(first, Bar):
        return bars
    count = len(first.bars) + sum(len(each.bars) for each in first.endings)
    back = [n for n in range(1, count + 1) if bars[n].closes]
    shorter = {n: _shorter(bars[n], part.pickup.ticks) for n in back}
    if not bars[0].notes or not all(shorter.values()):
        return bars
    found = [shorter.get(n) or bar for n, bar in enumerate(bars)]
    found[0], found[1] = replace(found[0], opens=True), replace(found[1], opens=False)
    return found


def _before_pickups(chart: Chart, parts: dict[str, list[TuneBar]]) -> dict[str, list[TuneBar]]:
    """Shorten the last bar of each part by the pickup of the parts that follow it.

    This happens where all these parts have pickups with notes and of one length, and the bar ends
    with silence of that length; the first part follows the last. A part of one bar is kept, for it
    and its pickup would read as one bar.
    """
    order = chart.order
    found = dict(parts)
    for name, bars in parts.items():
        nexts = [
            parts[order[n + 1 - len(order)]][0] for n, each in enumerate(order) if each == name
        ]
        lengths = {each.ticks if each.is_short and each.notes else 0 for each in nexts}
        if len(lengths) == 1 and any(lengths) and len(bars) > 2 and not bars[-1].closes:
            found[name] = [*bars[:-1], _shorter(bars[-1], *lengths) or bars[-1]]
    return found


def _shorter(bar: TuneBar, ticks: int) -> TuneBar | None:
    """Return a bar shortened by some ticks, or None where something sounds there."""
    end = bar.ticks - ticks
    busy = any(note.end > end for note in bar.notes) or any(s.tick >= end for s in bar.chords)
    whole = bar.ticks == bar.meter.bar_ticks and end > 0
    return replace(bar, ticks=end) if whole and not busy else None


def _signed(bars: list[TuneBar]) -> list[TuneBar]:
    """Return the bars of a part without signs that repeat the chord that sounds already."""
    first = bars[0]
    silent = first.is_short and not any(sign.chord for sign in first.chords)
    found = [replace(first, chords=()) if silent else first]
    for before, bar in pairwise(bars):
        fresh = bar.opens or bar.ending or before.closes or before.is_short or bar is bars[1]
        if not fresh and bar.chords[0].chord == before.chords[-1].chord:
            bar = replace(bar, chords=bar.chords[1:])  # noqa: PLW2901
        found.append(bar)
    return found


def _bar(cell: Cell, key: Key, meter: Meter) -> TuneBar:
    bar = cell.bar
    return TuneBar(
        meter=meter if bar.pickup else bar.meter,
        key=key,
        ticks=bar.ticks,
        chords=tuple(TuneChord(span.tick, span.chord) for span in bar.chords),
        opens=cell.opens,
        closes=cell.closes,
        ending=cell.ending,
        ending_stops=cell.in_ending and (cell.open_end or cell.closes > 0),
        double=cell.open_end,
    )


def _left_out(chart: Chart) -> Iterator[str]:
    bars = [bar for part in chart.parts for bar in part.written()]
    if any(bar.directions for bar in bars):
        yield "directions to the band cannot be written there: left out"
    if any(part.style for part in chart.parts):
        yield "the grooves of single parts cannot be written there: left out"
    if chart.intro or chart.ending or chart.count_in is not None:
        yield "intro, ending and count-in cannot be written there: left out"
