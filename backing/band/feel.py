"""Feel: swing, dynamics and hands turn notated strokes into notes.

Conventions: the swing ratio is long eighth to short eighth. It moves the off-beat eighth and the
sixteenths around it; triplets stay where they are. `hands` has what players add in time, loudness
and length; looseness is its size in time and length, loudness always varies.

Sources: ratios by tempo are computed from the Jazz Trio Database v0.2 (Cheston, Schlichting, Cross
& Harrison 2024, TISMIR, doi 10.5334/tismir.186): the means of drums, bass and piano in rows of 20
bpm. Bass 1.56 % of a quarter after the drums: the same database's notebook; 5.5 ms at most, near
its mean of the hand-annotated takes, 6.6.
"""

from __future__ import annotations

from bisect import bisect_right
from functools import lru_cache, partial
from typing import TYPE_CHECKING

from backing.band.drum_hands import drummers_nuances
from backing.band.other_hands import companions_nuances
from backing.notes import Note, Player
from backing.style.model import FIRM
from backing.timing import EIGHTH, TICKS_PER_QUARTER, seconds_to_ticks

if TYPE_CHECKING:
    from collections.abc import Callable

    from backing.band.context import BarContext, Stroke
    from backing.style.model import Style

_MIDDLES_BPM = (109.5, 129.5, 149.5, 169.5, 189.5, 209.5, 229.5, 249.5, 269.5, 289.5)
_RATIOS = {
    Player.DRUMS: (2.37, 2.33, 2.21, 2.01, 2.00, 1.83, 1.66, 1.48, 1.41, 1.30),
    Player.BASS: (2.29, 2.29, 2.16, 1.90, 2.06, 1.85, 1.69, 1.58, 1.44, 1.23),
    Player.CHOP: (1.74, 1.64, 1.57, 1.43, 1.40, 1.34, 1.29, 1.28, 1.21, 1.11),
}
_RATIOS[Player.LEAD] = _RATIOS[Player.CHOP]  # the piano of the database is its soloist
_SHUFFLE = 2.0

_BASS_AFTER_DRUMS_TICKS, _BASS_AFTER_DRUMS_MS = 0.0156 * TICKS_PER_QUARTER, 5.5
"""Delay of the bass behind the drums: a share of a quarter, and its limit in slow tempi."""

_LOUD, _LOUDEST, _ACCENTED = 108, 120, 127
"""Velocity above which ordinary strokes are compressed, their limit, and the limit of hits."""

_KNEE = 14
"""Velocities below the loudest ordinary stroke in which variation is compressed."""

_MOST_VARIATION = {Player.BASS: 10, Player.CHOP: 10, Player.DRUMS: 24}
"""The most that velocity variation adds to a firm stroke; a hit is louder than that."""

_note: Callable[[tuple[int, Player, int, int, int]], Note] = partial(tuple.__new__, Note)
"""Make a note of its values, in half the time of its constructor."""


@lru_cache(256)
def swing_ratio(feel: str, player: Player, bpm: float) -> float:
    """Return the ratio of the long to the short eighth of a beat, 1 or more.

    The ratio is interpolated between the measured rows, constant below the first one and
    extrapolated above the last one, down to 1.

    Args:
        feel: one of `FEELS`; in a light swing all players have the chop's ratio.
        player: who plays.
        bpm: quarter notes a minute.
    """
    if feel == "straight":
        return 1.0
    if feel == "shuffle":
        return _SHUFFLE
    row = _RATIOS[Player.CHOP if feel == "light-swing" else player]
    if bpm <= _MIDDLES_BPM[0]:
        return row[0]
    index = min(bisect_right(_MIDDLES_BPM, bpm), len(row) - 1)
    low, high = _MIDDLES_BPM[index - 1], _MIDDLES_BPM[index]
    ratio = row[index - 1] + (row[index] - row[index - 1]) * (bpm - low) / (high - low)
    return max(ratio, 1.0)


@lru_cache(512)
def swung(tick: int, ratio: float) -> int:
    """Return the tick at which a notated tick is played."""
    return tick if tick % (EIGHTH // 2) else _stretched(tick, ratio)


@lru_cache(512)
def _stretched(tick: int, ratio: float) -> int:
    """Return a tick with the first half of its beat stretched and the second half compressed."""
    beat, inside = divmod(tick, TICKS_PER_QUARTER)
    middle = TICKS_PER_QUARTER * ratio / (ratio + 1.0)
    if inside <= EIGHTH:
        played = middle * inside / EIGHTH
    else:
        played = middle + (TICKS_PER_QUARTER - middle) * (inside - EIGHTH) / EIGHTH
    return beat * TICKS_PER_QUARTER + round(played)


def phase_of(context: BarContext) -> int:
    """Return the ticks from the last beat to the start of a bar: above 0 for some pickups."""
    bar = context.sequenced.bar
    return (context.sequenced.meter.bar_ticks - bar.ticks) % TICKS_PER_QUARTER if bar.pickup else 0


def perform(
    context: BarContext, player: Player, strokes: list[Stroke], *, seed: int, looseness: float
) -> list[Note]:
    """Return the notes of one player's bar, with swing, dynamics and looseness applied.

    Args:
        context: the bar.
        player: who plays.
        strokes: the notated strokes.
        seed: the seed of the performance.
        looseness: 0 places every note exactly and in its full length, 1 is as people play.
    """
    feel, start = context.style.feel, float(context.start)
    ratio = swing_ratio(feel, player, context.bpm)
    together = swing_ratio(feel, Player.DRUMS, context.bpm)
    together_at = {each.tick for each in context.harmony if each.is_together}
    hits = {} if player is Player.LEAD else dict(context.hit_levels)
    phase = phase_of(context)
    loose = looseness * seconds_to_ticks(0.001, context.bpm)
    loudest = _loudest(context.style, player)
    if player is Player.DRUMS:
        nuances = drummers_nuances(context, strokes, seed=seed, loudest=loudest)
    else:
        nuances = companions_nuances(context, player, strokes, seed=seed, looseness=looseness)
    if player is Player.BASS:
        start += min(looseness * _BASS_AFTER_DRUMS_TICKS, loose * _BASS_AFTER_DRUMS_MS)
    at = -1
    is_even, usual = len(context.levels) == 1, context.level(0)
    shared, level, hit, before, place = 1.0, usual, None, 0, start
    notes = []
    for (tick, _, pitch, velocity, string_ms), late_ms, loudness, ticks in zip(
        strokes, *nuances[:3], strict=True
    ):
        if tick != at:
            at = tick
            shared = together if tick in together_at else ratio  # in hits all swing like the drums
            before = tick if shared == 1.0 else swung(tick + phase, shared) - phase
            place, hit = start + before, hits.get(tick)
            level = usual if is_even else context.level(tick)
        late = place + loose * (late_ms + string_ms)
        length = ticks
        if shared != 1.0:
            length = _stretched(tick + ticks + phase, shared) - phase - before or 1
        if hit is not None:
            played = _hit(context.style, player, hit)
        else:
            played = _ordinary(velocity, loudness, level, loudest)
        notes.append(_note((round(late) if late > 0.0 else 0, player, pitch, played, length)))
    if player is Player.BASS and looseness:
        rings = bool(strokes) and strokes[-1].end > context.ticks
        following = context.ticks + round(start + loose * nuances.next_ms)
        return _released(notes, None if rings else following)
    return notes


def _released(notes: list[Note], following: int | None) -> list[Note]:
    """Return the notes of a monophonic bar, each of which ends when the next one begins.

    Args:
        notes: the notes, in order.
        following: the earliest tick of a note on the next bar line; None if the last note rings on.
    """
    starts = [note.tick for note in notes[1:]]
    if following is not None:
        starts.append(following)
    found = [
        note._replace(length=max(after - note.tick, 1)) if note.tick + note.length > after else note
        for note, after in zip(notes, starts, strict=False)
    ]
    return [*found, *notes[len(found) :]]


def _ordinary(velocity: int, variation: float, level: float, loudest: int) -> int:
    """Return the velocity of an ordinary stroke: very loud ones are compressed, in their order.

    Args:
        velocity: the style's.
        variation: the player's factor on it.
        level: the factor of the dynamics.
        loudest: the greatest velocity before dynamics.
    """
    varied, knee = velocity * variation, loudest - _KNEE
    if varied > knee:
        varied = _compressed(varied, knee, loudest)
    loud = velocity * level
    if loud > _LOUD:
        loud = _compressed(loud, _LOUD, _LOUDEST)
    played = round(loud * varied / velocity)
    return _LOUDEST if played > _LOUDEST else played or 1


def _compressed(loudness: float, knee: float, most: float) -> float:
    """Return a loudness above a knee, brought below the most, in the order of loudness."""
    over, room = loudness - knee, most - knee
    return knee + room * over / (room + over)


@lru_cache(256)
def _hit(style: Style, player: Player, level: float) -> int:
    """Return the velocity of a hit: above any ordinary stroke of the player at this level."""
    return min(round(_loudest(style, player) * level) + 1, _ACCENTED)


@lru_cache(64)
def _loudest(style: Style, player: Player) -> int:
    """Return the greatest velocity of ordinary strokes, before dynamics."""
    if player is Player.LEAD:
        return _LOUDEST
    if player is Player.DRUMS:
        firm = max(velocity[FIRM] for _, velocity in style.drums.velocity)
    else:
        firm = (style.bass if player is Player.BASS else style.chop).velocity[FIRM]
    return min(firm + _MOST_VARIATION[player], max(_LOUD, firm + 4))
