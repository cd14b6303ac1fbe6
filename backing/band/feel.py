"""Feel: swing, dynamics and looseness turn notated strokes into notes.

Conventions: the swing ratio is long eighth to short eighth. It moves the off-beat eighth and the
sixteenths around it; triplets stay where they are. Looseness delays each player by a slow drift, a
jitter on each stroke and, for the drummer, an offset of each limb.

Sources: ratios by tempo are computed from the Jazz Trio Database v0.2 (Cheston, Schlichting, Cross
& Harrison 2024, TISMIR, doi 10.5334/tismir.186): the means of drums, bass and piano in rows of 20
bpm. Bass 1.56 % of a quarter after the drums: the same database's notebook; 5.5 ms at most, near
its mean of the hand-annotated takes, 6.6. Listeners prefer deviations that are correlated over many
bars to independent ones: Hennig et al. 2011, PLoS ONE, PMC3202537.
"""

from __future__ import annotations

from bisect import bisect_right
from functools import lru_cache
from typing import TYPE_CHECKING

from backing import chance
from backing.notes import Note, Player
from backing.style.model import FIRM
from backing.timing import EIGHTH, TICKS_PER_QUARTER, seconds_to_ticks

if TYPE_CHECKING:
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

_DRIFT_MS = {1: 7.0, 4: 8.5, 16: 10.0}
"""Size of each wave of the drift by its period in bars: the slower, the wider."""

_BLOCK_BARS = 16

_WITH_BAND, _ALONE = 0.75, 0.5
"""Shares of the drift that the band has in common, and that each player has alone."""

_JITTER_MS, _LIMB_MS = 3.5, 3.0
"""Standard deviations of the jitter of each stroke, and of the offset of a drummer's limb."""

_LIMBS_MS = {44: -5.0, 36: -2.0, 38: -2.0}
"""Delays of pedal hat, kick and snare in milliseconds, negative before the beat (reference: J. New
Music Research 46(4), 2017, abstract; Groove MIDI Dataset)."""

_VARIATION = {Player.BASS: 2.5, Player.CHOP: 3.0, Player.DRUMS: 2.5, Player.LEAD: 0.0}
"""Standard deviation of each player's velocities; the strings of a chord vary together (ours)."""

_LOUDNESS = 10
"""Chance address of the variation of velocities."""

_WHO = tuple(Player)
_MOST_MS = 18.0
_TOGETHER = 0.4
"""Share of a player's looseness that is left at hits of the whole band."""

_LOUD, _LOUDEST, _ACCENTED = 108, 120, 127
"""Velocity above which ordinary strokes are compressed, their limit, and the limit of hits."""

_MOST_VARIATION = {Player.BASS: 7, Player.CHOP: 9, Player.DRUMS: 7}
"""The most that velocity variation adds to a firm stroke; a hit is louder than that."""


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
        looseness: 0 places every note exactly; 1 is as loose as a good section.
    """
    feel = context.style.feel
    ratio = swing_ratio(feel, player, context.bpm)
    together = swing_ratio(feel, Player.DRUMS, context.bpm)
    together_at = {each.tick for each in context.harmony if each.is_together}
    hits = {} if player is Player.LEAD else dict(context.hit_levels)
    humanizer = _Humanizer(context, player, seed, looseness)
    phase = phase_of(context)
    variations = _variations(context, player, strokes, seed)
    is_steady = len({factor for _, factor in context.levels}) == 1
    level = context.level(0)
    moments: dict[int, tuple[int, float, float]] = {}
    notes = []
    for (tick, ticks, pitch, velocity, late_ms), more in zip(strokes, variations, strict=True):
        shared = together if tick in together_at else ratio  # in a hit all swing like the drums
        moment = moments.get(tick)
        if moment is None:
            start = tick if shared == 1.0 else swung(tick + phase, shared) - phase
            late = context.start + start + humanizer.late_ticks(tick)
            moment = start, late, level if is_steady else context.level(tick)
            moments[tick] = moment
        start, late, factor = moment
        if late_ms or humanizer.limb_ms:
            limb_ms = _LIMBS_MS.get(pitch, 0.0) if player is Player.DRUMS else late_ms
            late += humanizer.limb_ticks(limb_ms)
        end = tick + ticks + phase
        length = ticks if shared == 1.0 else max(_stretched(end, shared) - phase - start, 1)
        if tick in hits:
            loudness = _hit(context.style, player, hits[tick])
        else:
            loudness = _ordinary(velocity * factor, more * factor)
        notes.append(Note(round(late) if late > 0 else 0, player, pitch, loudness, length))
    return notes


def _variations(
    context: BarContext, player: Player, strokes: list[Stroke], seed: int
) -> list[float]:
    """Return what a bar's strokes are louder than the style has them, before dynamics."""
    size, who = _VARIATION[player], _LOUDNESS + _WHO.index(player)
    noise = chance.noise(seed, who, context.chorus, context.step)
    if player is not Player.CHOP:
        return [size * next(noise) for _ in strokes]
    by_tick = {each.tick: size * next(noise) for each in strokes}
    return [by_tick[each.tick] for each in strokes]


def _ordinary(loudness: float, variation: float) -> int:
    """Return the velocity of an ordinary stroke: very loud ones are compressed, in their order."""
    if loudness > _LOUD:
        over, room = loudness - _LOUD, _LOUDEST - _LOUD
        loudness = _LOUD + room * over / (room + over)
    return min(max(round(loudness + variation), 1), _LOUDEST)


@lru_cache(256)
def _hit(style: Style, player: Player, level: float) -> int:
    """Return the velocity of a hit: above any ordinary stroke of the player at this level."""
    loudest = _firmest(style, player) + _MOST_VARIATION[player]
    return min(round(loudest * level) + 1, _ACCENTED)


def _firmest(style: Style, player: Player) -> int:
    """Return the velocity of a player's firm strokes; for the drummer, of the loudest lane."""
    if player is Player.DRUMS:
        return max(velocity[FIRM] for _, velocity in style.drums.velocity)
    return (style.bass if player is Player.BASS else style.chop).velocity[FIRM]


class _Humanizer:
    """The delays of one player in one bar: drift, jitter and limb offsets."""

    def __init__(self, context: BarContext, player: Player, seed: int, looseness: float) -> None:
        self.ticks_a_ms = looseness * seconds_to_ticks(0.001, context.bpm)
        self.limb_ms = _LIMB_MS if player is Player.DRUMS and looseness else 0.0
        self._behind = 0.0
        if player is Player.BASS:
            most_ticks = _BASS_AFTER_DRUMS_MS * self.ticks_a_ms
            self._behind = min(looseness * _BASS_AFTER_DRUMS_TICKS, most_ticks)
        if looseness:
            who = _WHO.index(player)
            self._noise = chance.noise(seed, who, context.chorus, context.step)
            self._together = [each for each in context.harmony if not each.flows]
            self._here = _drift_ms(context.number, player, seed)
            there = _drift_ms(context.number + 1, player, seed)
            self._slope = (there - self._here) / context.ticks

    def late_ticks(self, tick: int) -> float:
        """Return the delay of the strokes at a tick, in ticks; 0 at looseness 0."""
        if not self.ticks_a_ms:
            return 0.0
        late_ms = self._here + self._slope * tick + _JITTER_MS * next(self._noise)
        late_ms = -_MOST_MS if late_ms < -_MOST_MS else _MOST_MS if late_ms > _MOST_MS else late_ms
        late = late_ms * self.ticks_a_ms + self._behind
        if self._together and any(each.tick <= tick < each.end for each in self._together):
            return _TOGETHER * late
        return late

    def limb_ticks(self, late_ms: float) -> float:
        """Return the further delay of one limb or string, in ticks.

        Args:
            late_ms: its delay as notated, in milliseconds.
        """
        if self.limb_ms:
            late_ms += self.limb_ms * next(self._noise)
        return late_ms * self.ticks_a_ms


def _drift_ms(bar: int, player: Player, seed: int) -> float:
    """Return the drift of a player at a bar line, in milliseconds."""
    block, index = divmod(bar, _BLOCK_BARS)
    return _player_drift_ms(block, player, seed)[index]


@lru_cache(16)
def _player_drift_ms(block: int, player: Player, seed: int) -> tuple[float, ...]:
    """Return the drift of a player at sixteen bar lines: the band's and the player's own."""
    together, alone = _drift_waves_ms(block, "band", seed), _drift_waves_ms(block, player, seed)
    return tuple([_WITH_BAND * a + _ALONE * b for a, b in zip(together, alone, strict=True)])


@lru_cache(16)
def _drift_waves_ms(block: int, who: str, seed: int) -> tuple[float, ...]:
    """Return one drift at sixteen bar lines, in milliseconds.

    It is a sum of random waves with periods of 1 to 16 bars, the slow ones wider: 1/f-like noise
    that is known at any bar.
    """
    total = [0.0] * _BLOCK_BARS
    for bars, size in _DRIFT_MS.items():
        heights = (*_heights(block, bars, who, seed), _heights(block + 1, bars, who, seed)[0])
        for index in range(_BLOCK_BARS):
            turn, rest = divmod(index, bars)
            height = heights[turn] + (heights[turn + 1] - heights[turn]) * rest / bars
            total[index] += size * (2.0 * height - 1.0)
    return tuple(total)


@lru_cache(64)
def _heights(block: int, bars: int, who: str, seed: int) -> tuple[float, ...]:
    """Return the heights, from 0 to 1, of one wave at every `bars`-th of sixteen bar lines."""
    source = chance.source(seed, "wander", who, bars, block)
    return tuple([source.random() for _ in range(_BLOCK_BARS // bars)])
