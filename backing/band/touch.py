"""Touch: how the notes of a bass line are played: how loud, how long, and what is put between.

Accents and articulation change from phrase to phrase and with the place of a note: a note before a
walk is long, a damped phrase has short second notes, a note is held over now and then; the bass
grows into a fill and lands after it. Between the notes of the line stand skips, the off-beats of
the kick, and the accents that all players have. What is not from a source is ours.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

from backing.band.chord_context import prepared_fill
from backing.band.context import Stroke
from backing.style.model import FIRM, LIGHT, PLAIN
from backing.timing import EIGHTH, TICKS_PER_QUARTER

if TYPE_CHECKING:
    import random
    from collections.abc import Sequence

    from backing.band.context import BarContext
    from backing.style.model import BassStyle

OCTAVE = 12

_ENOUGH_TO_SKIP = 3
_DEAD_NOTE_TICKS = EIGHTH // 3
_CLOSEST = EIGHTH // 2
_SOUNDING_SHARE, _OCTAVE_SHARE = 0.4, 0.3
"""Share of skips that sound, and share of those that lie an octave below."""

_SKIPS = ((100.0, 1.12), (120.0, 1.0), (155.0, 0.94), (205.0, 0.78), (250.0, 0.77))
"""Tempi and factors on the style's share of bars with a skip: ours, set for the shares of bars with
four onsets at these tempi (computed from the Jazz Trio Database v0.2, MIT)."""

_CALM, _CALMER = 1.4, 0.8
"""Factor on the share of skips without energy, and what full energy takes from it: accents and the
kick's off-beats come instead."""

_HELD_SKIPS = 0.3
"""Factor on the share of skips in bars in which a beat has no note of its own."""

_TWO_SKIPS_SHARE = 0.22

_DEPTHS, _RISES = (0.0, 1.0), (0.0, 0.45)
"""Ranges of a phrase's depth of accents, as a share of the style's, and of what a higher note is
louder, in velocity a semitone."""

_MOST_RISE = 3
_GROWTH, _LANDING, _LEAD_IN = 7, 3, 2
"""What is added to the velocity at the end of a fill, on the first beat after it, and on a phrase's
last note."""

_DAMPED_SHARE = 0.35
_DAMPED, _BEFORE_WALK, _LONG = (1.5, 2.2), 0.3, 0.1
"""Factors on the silence between notes: of the second notes of a damped phrase, before a walk, and
where a note is held over."""

_HELD_OVER_SHARE = 0.1

_NEAREST = EIGHTH // 2
"""Least ticks, as notated, between an added note and its neighbours."""


@dataclass(frozen=True, slots=True)
class Manner:
    """How one of `BASS_LINES` is played.

    Attributes:
        gap: share of each note that is silent before the next note.
        firm: tick of the firm notes in every two quarters; 0 means beats 1 and 3.
        centre: lowest and highest centre of a phrase without energy, as shares of the bass's range.
        reach: usual distance from the centre, in semitones.
    """

    gap: float
    firm: int
    centre: tuple[float, float]
    reach: float


_MANNERS = {
    "walking": Manner(gap=0.06, firm=TICKS_PER_QUARTER, centre=(0.14, 0.42), reach=4.5),
    "two-beat": Manner(gap=0.2, firm=0, centre=(0.06, 0.28), reach=5.0),
    "riding": Manner(gap=0.15, firm=0, centre=(0.1, 0.38), reach=10.0),
    "figure": Manner(gap=0.1, firm=0, centre=(0.1, 0.33), reach=7.0),
}


def manner_of(context: BarContext) -> Manner:
    """Return how the line of a bar is played."""
    return _MANNERS[context.style.bass.line(context.variation)]


class Note(NamedTuple):
    """A note of a line.

    Attributes:
        context: its bar.
        tick: from the bar line.
        most: its greatest length in ticks.
        pitch: its MIDI key.
        start: in ticks from the start of the performance.
    """

    context: BarContext
    tick: int
    most: int
    pitch: int
    start: int


def touched(
    notes: Sequence[Note], end: int, *, lands: bool, source: random.Random
) -> dict[int, list[Stroke]]:
    """Return the strokes of a phrase by the numbers of its bars.

    Args:
        notes: the notes of its line, one or more.
        end: tick at which the last one ends, from the start of the performance.
        lands: whether a fill ends before it.
        source: the chance of the phrase.
    """
    depth, rise = source.uniform(*_DEPTHS), source.uniform(*_RISES)
    damped = source.uniform(*_DAMPED) if source.random() < _DAMPED_SHARE else 1.0
    middle = sum(note.pitch for note in notes) / len(notes)
    room = [after.start - note.start for note, after in pairwise(notes)]
    room.append(end - notes[-1].start)
    found: dict[int, list[Stroke]] = {}
    last = len(notes) - 1
    number = -1
    for index, (context, tick, most, pitch, _) in enumerate(notes):
        if context.number != number:
            number, style, manner = context.number, context.style.bass, manner_of(context)
            strokes = found[number] = []
            usual = manner.gap if style.gap is None else style.gap
        left = room[index]
        ticks = most if most < left else left
        gap = usual
        if index < last and room[index + 1] < left:
            gap *= _BEFORE_WALK
        elif source.random() < _HELD_OVER_SHARE:
            gap *= _LONG
        elif tick:
            gap = min(gap * damped, 0.8)
        ticks -= round(min(ticks, 2 * TICKS_PER_QUARTER) * gap)
        louder = max(min((pitch - middle) * rise, _MOST_RISE), -_MOST_RISE)
        if lands and not index:
            louder += _LANDING
        elif index == last:
            louder += _LEAD_IN
        velocity = round(_velocity(context, manner, tick, depth) + louder)
        velocity = max(min(velocity, style.velocity[FIRM]), 1)  # a hit is louder
        strokes.append(Stroke(tick, max(ticks, 1), pitch, velocity))
    return found


def _velocity(context: BarContext, manner: Manner, tick: int, depth: float) -> float:
    """Return the velocity of a note by its place; it grows through a fill."""
    style = context.style.bass
    plain = style.velocity[PLAIN]
    depth = 1.0 if style.accents else depth  # written accents are played as they are
    velocity = plain + (style.velocity[_weight(style, manner, tick)] - plain) * depth
    fill = prepared_fill(context)
    if fill:
        velocity += _GROWTH * max(tick - context.ticks + fill.ticks, 0) / fill.ticks
    return velocity


def _weight(style: BassStyle, manner: Manner, tick: int) -> int:
    """Return the weight of a note at a tick: LIGHT, PLAIN or FIRM."""
    if style.accents:
        return next((each for _, each in style.accents.within(tick, tick + 1)), PLAIN)
    return FIRM if tick % (2 * TICKS_PER_QUARTER) == manner.firm else PLAIN


def ornamented(context: BarContext, strokes: list[Stroke], source: random.Random) -> list[Stroke]:
    """Return the bar's strokes with skips, with the kick's off-beats and with the accents."""
    plan, style = context.plan, context.style.bass
    if not strokes:
        return strokes
    share = _skips(context) if plan.answers is None and not plan.is_thin else 0.0
    if len(strokes) * TICKS_PER_QUARTER < context.ticks:
        share *= _HELD_SKIPS
    if share and source.random() < share:
        strokes = _with_skip(context, strokes, source)
        if source.random() < _TWO_SKIPS_SHARE:
            strokes = _with_skip(context, strokes, source)
    doubled = dict.fromkeys((tick for tick in plan.accents if tick), PLAIN)
    if style.with_kick or (plan.takes_up and plan.answers is None and not plan.is_thin):
        doubled |= _kicks(context)
    return _with(context, strokes, doubled) if doubled else strokes


def _skips(context: BarContext) -> float:
    """Return the share of bars with a skip: the style's at 120, less at faster tempi."""
    share = context.style.bass.skips * (_CALM - _CALMER * context.energy)
    before = _SKIPS[0]
    for bpm, factor in _SKIPS:
        if context.bpm < bpm and before[0] < bpm:
            part = max(context.bpm - before[0], 0.0) / (bpm - before[0])
            return share * (before[1] + (factor - before[1]) * part)
        before = bpm, factor
    return share * before[1]


def _kicks(context: BarContext) -> dict[int, int]:
    """Return the off-beats of the kick before a fill, with their weights."""
    fill = prepared_fill(context)
    until = context.ticks - fill.ticks if fill else context.ticks
    return {
        tick: weight
        for lane, hits in context.groove
        if lane == "kick"
        for tick, weight in hits
        if tick < until and tick % TICKS_PER_QUARTER
    }


def _with(context: BarContext, strokes: list[Stroke], doubled: dict[int, int]) -> list[Stroke]:
    """Return the strokes with one off-beat after each, which repeats it if its chord lasts.

    A passing note is not repeated.
    """
    found: list[Stroke] = []
    ends = [*(each.tick for each in strokes[1:]), context.ticks]
    for stroke, end in zip(strokes, ends, strict=True):
        found.append(stroke)
        room = stroke.tick + _NEAREST, end - _NEAREST
        tick = next((tick for tick in sorted(doubled) if room[0] <= tick <= room[1]), None)
        sounding = context.at(stroke.tick)
        if tick is None or not sounding or not sounding.flows or tick >= sounding.end:
            continue
        if sounding.in_next_bar:  # nothing blurs a push
            continue
        if stroke.pitch % 12 not in sounding.tones:
            continue
        ticks = max(min(end, sounding.end) - tick - _DEAD_NOTE_TICKS, 1)
        found[-1] = stroke._replace(ticks=min(stroke.ticks, tick - stroke.tick))
        velocity = context.style.bass.velocity[doubled[tick]]
        found.append(Stroke(tick, min(ticks, EIGHTH), stroke.pitch, velocity))
    return found


def _with_skip(context: BarContext, strokes: list[Stroke], source: random.Random) -> list[Stroke]:
    """Return the bar's strokes with a skip, an off-beat note before a beat, if one fits.

    Most skips are dead notes. Some sound: at the pitch of the note before or, within one chord, an
    octave below it.
    """
    style = context.style.bass
    if len(strokes) < _ENOUGH_TO_SKIP:
        return strokes
    places = [
        index
        for index, (before, after) in enumerate(pairwise(strokes))
        if after.tick - before.tick >= TICKS_PER_QUARTER and not after.tick % TICKS_PER_QUARTER
    ]
    if not places:
        return strokes
    index = source.choice(places)
    before, after = strokes[index], strokes[index + 1]
    sounding, tick = context.at(before.tick), after.tick - EIGHTH
    if sounding is None or not sounding.flows or tick >= sounding.end:
        return strokes
    if tick - before.tick > EIGHTH and before.pitch % 12 not in sounding.tones:
        return strokes  # a passing note is not repeated after its beat
    sounds = source.random() < _SOUNDING_SHARE
    pitch = before.pitch
    drops = sounds and source.random() < _OCTAVE_SHARE and after.tick < sounding.end
    if drops and pitch % 12 in sounding.tones:
        pitch = _octave_below(pitch, after.pitch, style.range[0])
    cut = before._replace(ticks=min(before.ticks, tick - before.tick - EIGHTH // 8))
    ticks = EIGHTH // 2 if sounds else _DEAD_NOTE_TICKS
    skip = Stroke(tick, ticks, pitch, style.velocity[LIGHT])
    return [*strokes[:index], cut, skip, *strokes[index + 1 :]]


def _octave_below(pitch: int, following: int, lowest: int) -> int:
    """Return the pitch an octave lower if the next one is at most an octave away, else itself."""
    below = pitch - OCTAVE
    return below if below >= lowest and following - below <= OCTAVE else pitch
