"""Intro and tag: the bars before and after the form.

Conventions: fiddle tunes begin with a kick-off of four hits by the whole band, songs with their
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
"""Part names of the bars of an intro and of a tag."""

TAG_BARS, _TAG_TIMES = 4, 2
_KICK_OFF_HITS = 4
_BEFORE = -1


def intro_of(chart: Chart, first: SequencedBar) -> tuple[SequencedBar, ...]:
    """Return the bars that the chart's intro puts before the first chorus.

    Args:
        chart: the chart.
        first: the first bar of the tune; a pickup becomes the end of the intro's last bar.

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
    return _as_part(bars, INTRO, _BEFORE)


def with_tag(sequence: tuple[SequencedBar, ...]) -> tuple[SequencedBar, ...]:
    """Return a sequence with its last four bars added twice."""
    last = without_pickups(sequence)[-TAG_BARS:]
    pickup = last[0].pickup
    again = [*last[:-1], last[-1].led_into(pickup)]
    tag = _as_part([*(again * (_TAG_TIMES - 1)), *last], TAG, sequence[-1].form_index + 1)
    return (*sequence[:-1], sequence[-1].led_into(pickup), *tag)


def _as_part(bars: list[SequencedBar], name: str, form_index: int) -> tuple[SequencedBar, ...]:
    """Return the bars as a part with this name."""
    return tuple(
        replace(each, part=name, form_index=form_index, index=index, length=len(bars))
        for index, each in enumerate(bars)
    )


def _kick_off(chart: Chart, first: SequencedBar) -> list[SequencedBar]:
    """Return the bars in which the band hits the home chord four times."""
    meter = first.meter
    bar = hit_bar(meter, (home_chord(chart, first.key),) * hits_in(meter))
    return [replace(first, bar=bar, joined=None)] * (_KICK_OFF_HITS // hits_in(meter))


def hits_in(meter: Meter) -> int:
    """Return how many hits a bar holds: two if its number of beats is even, else one."""
    return 1 if meter.beats % 2 else 2


def hit_bar(meter: Meter, chords: tuple[Chord, ...]) -> Bar:
    """Return a bar of chords of equal length."""
    ticks = meter.bar_ticks // len(chords)
    spans = (ChordSpan(ticks * index, ticks, chord) for index, chord in enumerate(chords))
    return Bar(meter, tuple(spans))


def home_chord(chart: Chart, key: Key) -> Chord:
    """Return the first chord on the tonic in the chart, else the key's triad."""
    chords = (
        span.chord
        for part in chart.parts
        for bar in part.written()
        for span in bar.chords
        if span.chord
    )
    homes = (chord for chord in chords if chord.root == key.tonic and not chord.bass)
    return next(homes, None) or read_chord(f"{key.tonic}{'m' if key.is_minor else ''}")
