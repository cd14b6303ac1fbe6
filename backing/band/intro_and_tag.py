"""Seams of a performance that no part of the chart holds: how it begins, and the tag at its end.

Conventions: fiddle tunes begin with a kick-off of four chords by the whole band, songs with their
last bars; a tag is the last four bars twice more (common practice, no source).
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from backing.chart.model import KICK_OFF, Bar, ChordSpan
from backing.chart.sequence import SequencedBar, once_round, without_pickups
from backing.harmony.chord import read_chord

if TYPE_CHECKING:
    from backing.chart.model import Chart
    from backing.harmony.chord import Chord
    from backing.harmony.key import Key
    from backing.timing import Meter

INTRO, TAG = "intro", "tag"
"""What stands for the name of a part in bars that belong to none."""

TAG_BARS, _TAG_TIMES = 4, 2
_KICK_OFF_HITS = 4
_BEFORE = -1


def intro_of(chart: Chart, first: SequencedBar) -> tuple[SequencedBar, ...]:
    """Return the bars that the chart's intro puts before the first chorus.

    Args:
        chart: the chart.
        first: the first bar of the tune; when it is a pickup, it is the end of the last bar here.

    """
    if chart.intro is None:
        return ()
    sequence = without_pickups(once_round(chart, first=False, last=False))
    if chart.intro == KICK_OFF:
        bars = _kick_off(chart, sequence[0])
    else:
        assert isinstance(chart.intro, int)  # the only other kind
        bars = sequence[-chart.intro :]
    pickup = first if first.bar.pickup else None
    bars[-1] = bars[-1].alone.led_into(pickup)
    return _apart(bars, INTRO, _BEFORE)


def with_tag(sequence: tuple[SequencedBar, ...]) -> tuple[SequencedBar, ...]:
    """Return a sequence with its last four bars twice more."""
    last = without_pickups(sequence)[-TAG_BARS:]
    pickup = last[0].pickup
    again = [*last[:-1], last[-1].led_into(pickup)]
    tag = _apart([*(again * (_TAG_TIMES - 1)), *last], TAG, sequence[-1].form_index + 1)
    return (*sequence[:-1], sequence[-1].led_into(pickup), *tag)


def _apart(bars: list[SequencedBar], name: str, form_index: int) -> tuple[SequencedBar, ...]:
    """Return bars as a part of their own."""
    return tuple(
        replace(each, part=name, form_index=form_index, index=index, length=len(bars))
        for index, each in enumerate(bars)
    )


def _kick_off(chart: Chart, first: SequencedBar) -> list[SequencedBar]:
    """Return bars in which the band hits the home chord four times."""
    meter = first.meter
    bar = hit_bar(meter, (home_chord(chart, first.key),) * hits_in(meter))
    return [replace(first, bar=bar, joined=None)] * (_KICK_OFF_HITS // hits_in(meter))


def hits_in(meter: Meter) -> int:
    """Return how many hits a bar takes: two where it has two halves, else one."""
    return 1 if meter.beats % 2 else 2


def hit_bar(meter: Meter, chords: tuple[Chord, ...]) -> Bar:
    """Return a bar of chords that last alike, one after the other."""
    ticks = meter.bar_ticks // len(chords)
    spans = (ChordSpan(ticks * place, ticks, chord) for place, chord in enumerate(chords))
    return Bar(meter, tuple(spans))


def home_chord(chart: Chart, key: Key) -> Chord:
    """Return the home chord as the chart writes it, else the key's triad."""
    chords = (
        span.chord
        for part in chart.parts
        for bar in part.written()
        for span in bar.chords
        if span.chord
    )
    homes = (chord for chord in chords if chord.root == key.tonic and not chord.bass)
    return next(homes, None) or read_chord(f"{key.tonic}{'m' if key.is_minor else ''}")
