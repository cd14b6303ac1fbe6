"""Converts a tune to a chart and its melody.

The steps: rescale bars to notes twice or half as long, where only then a groove plays their meter,
cut them into `sections`, write jumps out, group sections into `parts`, and write the parts of the
chart (`part_writer`).

Conventions: a part begins at a label, a repeat, a double bar line or a change of key or meter.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

from backing.chart.grooves import usual_style
from backing.chart.melody import Melody
from backing.chart.model import MOST_BARS, Chart, Part
from backing.scores.normalise import meter_of_most, with_pickups
from backing.scores.part_writer import PartWriter, host_meter, with_entries
from backing.scores.parts import MOST_PARTS, TuneError, parts_of
from backing.scores.sections import (
    Section,
    jumps_written_out,
    remark_ignored_jumps,
    sections_of,
    unreached,
)
from backing.scores.tune import numbered, remark_lines
from backing.timing import FASTEST_BPM, SLOWEST_BPM, Meter, Tempo

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backing.chart.grooves import Styles
    from backing.chart.write import Comment
    from backing.scores.tune import Remarks, Tune, TuneBar


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


_RHYTHMS = {
    "reel": "reel", "jig": "jig", "double jig": "jig", "slip jig": "slip-jig",
    "hornpipe": "hornpipe", "polka": "polka", "march": "march", "waltz": "waltz", "rag": "rag",
    "swing": "swing", "shuffle": "shuffle", "ballad": "ballad", "slow air": "ballad",
    "air": "ballad", "bossa nova": "bossa-nova", "rumba": "rumba", "boogie": "boogie",
    "bluegrass": "bluegrass", "breakdown": "bluegrass", "two-step": "two-beat",
}  # fmt: skip
"""Which groove suits a kind of tune (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Converted:
    """A tune as a chart.

    Attributes:
        chart: the chart.
        melody: its melody; without parts where the tune has no notes.
        remarks: what was corrected, moved or left out, each with its place in the source.
        comments: the remarks again, each with its bar of the chart.

    """

    chart: Chart
    melody: Melody
    remarks: tuple[str, ...]
    comments: tuple[Comment, ...]


def to_chart(tune: Tune, styles: Styles | None = None) -> Converted:
    """Return the chart of a tune and its melody.

    Args:
        tune: the tune.
        styles: the meters of each style; a tune in a meter of no style is rescaled to notes twice
            or half as long, or each bar names its meter. None keeps the meters.

    Raises:
        TuneError: when it has more bars or parts than a chart can hold.

    """
    bars, remarks = numbered(tune)
    meters = frozenset(meter for each in styles.values() for meter in each) if styles else None
    bars = meter_of_most(bars, remarks)
    if meters is not None:
        tune, bars = rescaled(tune, bars, meters, remarks)
    sections = with_pickups(_split_at_changes(sections_of(bars, remarks)))
    played = sections if tune.order else with_pickups(jumps_written_out(sections, remarks))
    if tune.order:
        remark_ignored_jumps(bars, remarks)
    groups, order = parts_of(played, unreached(sections, played, remarks), tune, remarks)
    groups, order, entries = with_entries(groups, order, remarks)
    writer = PartWriter(tune, meters, remarks)
    parts = writer.parts(groups, entries)
    _check_size(parts, order)
    chart = _chart(tune, parts, order, host_meter(tune.meter, meters), styles)
    has_notes = any(bar for part in writer.melodies for bar in part.bars)
    melody = Melody(tuple(writer.melodies) if has_notes else ())
    return Converted(
        chart, melody, remark_lines(remarks.found), tuple(writer.comments(remarks.found))
    )


def _split_at_changes(sections: list[Section]) -> list[Section]:
    """Split plain sections where the key changes, or the meter for at least four bars.

    In a tune with labels changes of meter split nothing: a part ends at the next label.
    """
    labelled = any(section.label for section in sections)
    found: list[Section] = []
    for section in sections:
        if section.times > 1 or section.endings:
            found.append(section)
            continue
        start = 0
        for index, (before, bar) in enumerate(pairwise(section.body), 1):
            meter = section.body[start].meter
            other = not labelled and bar.meter != meter and _lasts(section.body[index:])
            if bar.key != before.key or other:
                found.append(_piece(section, start, index))
                start = index
        found.append(_piece(section, start, len(section.body)))
    return found


def _piece(section: Section, start: int, end: int) -> Section:
    label = "" if start else section.label
    whole = end - start == len(section.body)
    return section if whole else Section(label, section.body[start:end])


def _lasts(bars: Sequence[TuneBar]) -> bool:
    """Whether the first four bars have one meter."""
    return len(bars) >= 4 and all(each.meter == bars[0].meter for each in bars[:4])


def _check_size(parts: Sequence[Part], order: Sequence[str]) -> None:
    """Check that a chart can hold the parts.

    Raises:
        TuneError: when there are too many bars or parts.
    """
    lengths = {part.name: part.length() for part in parts}
    total = sum(lengths[name] for name in order)
    if len(parts) > MOST_PARTS or total > MOST_BARS:
        raise TuneError(
            f"the tune has {len(parts)} parts and {total} bars as played: a chart has at most "
            f"{MOST_PARTS} parts and {MOST_BARS} bars; leave out repeats or parts"
        )


def _chart(
    tune: Tune, parts: tuple[Part, ...], order: tuple[str, ...], meter: Meter, styles: Styles | None
) -> Chart:
    style = _style(tune.rhythm, meter, styles)
    if style and styles:
        parts = tuple(_played_in(each, styles[style]) for each in parts)
    return Chart(
        title=tune.title or "Untitled",
        key=tune.key,
        parts=parts,
        form=order if order != tuple(part.name for part in parts) else (),
        meter=meter,
        tempo=tune.tempo,
        style=style,
        by=tune.composer,
        notes=tune.notes,
    )


def _played_in(part: Part, meters: frozenset[Meter]) -> Part:
    """Return a part with its own groove where the chart's groove does not play its meter."""
    if part.meter is None or part.meter in meters:
        return part
    return replace(part, style=usual_style(part.meter))


def _style(rhythm: str, meter: Meter, styles: Styles | None) -> str | None:
    """Return the groove of a kind of tune; None if there is none in the meter, or the usual one."""
    name = rhythm.strip().lower()
    style = _RHYTHMS.get(name) or _RHYTHMS.get(name.rstrip("s")) or (name if styles else None)
    if not style or styles is None or style not in styles or meter not in styles[style]:
        return None
    return style if style != usual_style(meter) else None
