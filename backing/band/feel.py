"""Feel: where a notated stroke is really played, and how loud.

Conventions: the swing ratio is long eighth to short eighth. Only the off-beat eighth is moved, and
what is written in sixteenths around it; triplets are played where they stand.

Sources: ratios by tempo are computed from the Jazz Trio Database v0.2 (Cheston, Schlichting, Cross
& Harrison 2024, TISMIR, doi 10.5334/tismir.186): the means of drums, bass and piano in rows of 20
bpm. Bass 1.56 % of a quarter after the drums: the same database's notebook; 5.5 ms at most, near
its mean of what was annotated by hand, 6.6. Deviations that hang together over many bars are
preferred to independent ones: Hennig et al. 2011, PLoS ONE, PMC3202537.
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
"""How much later than the drums the bass is: a share of a quarter, in slow tempi so many ms."""

_WANDER_MS = {1: 7.0, 4: 8.5, 16: 10.0}
"""Size of the wandering by the number of bars over which it changes: the slower the wider."""

_BLOCK_BARS = 16

_WITH_BAND, _ALONE = 0.75, 0.5
"""Shares of the wandering that the band does together, and that each player does alone."""

_JITTER_MS, _LIMB_MS = 3.5, 3.0
"""Standard deviations of each stroke's own part: of a hand, and of each of a drummer's limbs."""

_WHO = tuple(Player)
_MOST_MS = 18.0
_TOGETHER = 0.4
"""What is left of a player's looseness where the band hits together."""

_LOUD, _LOUDEST, _ACCENTED = 108, 120, 127
"""From where on ordinary strokes grow less and less, what they never exceed, and what hits do not:
the room between is for hits."""

_MOST_WOBBLE = {Player.BASS: 7, Player.CHOP: 9, Player.DRUMS: 7}
"""How much a player's wobble adds to a firm stroke at most; a hit is louder than that."""


@lru_cache(256)
def swing_ratio(feel: str, player: Player, bpm: float) -> float:
    """Return long to short of a beat's two eighths, 1 or more.

    Between the measured rows the ratio is interpolated; slower than the first row it stays, faster
    than the last it goes on falling to 1.

    Args:
        feel: one of the feels of a style; a light swing is for all what it is for the chop.
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
    """Return where a notated tick is played: the off-beat eighth as late as the ratio says."""
    return tick if tick % (EIGHTH // 2) else _stretched(tick, ratio)


@lru_cache(512)
def _stretched(tick: int, ratio: float) -> int:
    """Return a tick with the first half of its beat stretched and the second half squeezed."""
    beat, inside = divmod(tick, TICKS_PER_QUARTER)
    middle = TICKS_PER_QUARTER * ratio / (ratio + 1.0)
    if inside <= EIGHTH:
        played = middle * inside / EIGHTH
    else:
        played = middle + (TICKS_PER_QUARTER - middle) * (inside - EIGHTH) / EIGHTH
    return beat * TICKS_PER_QUARTER + round(played)


def phase_of(place: BarContext) -> int:
    """Return where in its beats a bar begins, in ticks: a pickup may begin inside one."""
    bar = place.sequenced.bar
    return (place.sequenced.meter.bar_ticks - bar.ticks) % TICKS_PER_QUARTER if bar.pickup else 0


def perform(
    place: BarContext, player: Player, strokes: list[Stroke], *, seed: int, looseness: float
) -> list[Note]:
    """Return the notes of one player's bar: swung, levelled, loosened.

    Args:
        place: the bar.
        player: who plays.
        strokes: what is meant.
        seed: the seed of the performance.
        looseness: 0 places every note exactly; 1 is as loose as a good section.
    """
    feel = place.style.feel
    ratio = swing_ratio(feel, player, place.bpm)
    together = swing_ratio(feel, Player.DRUMS, place.bpm)
    together_at = {each.tick for each in place.harmony if each.is_together}
    hits = {} if player is Player.LEAD else dict(place.accents)
    hand = _Hand(place, player, seed, looseness)
    phase = phase_of(place)
    is_steady = len({factor for _, factor in place.levels}) == 1
    level = place.level(0)
    moments: dict[int, tuple[int, float, float]] = {}
    notes = []
    for tick, ticks, pitch, velocity, late_ms in strokes:
        shared = together if tick in together_at else ratio  # together all swing like the drums
        moment = moments.get(tick)
        if moment is None:
            start = tick if shared == 1.0 else swung(tick + phase, shared) - phase
            late = place.start + start + hand.late_ticks(tick)
            moment = start, late, level if is_steady else place.level(tick)
            moments[tick] = moment
        start, late, factor = moment
        if late_ms or hand.limb_ms:
            late += hand.limb_ticks(late_ms)
        end = tick + ticks + phase
        length = ticks if shared == 1.0 else max(_stretched(end, shared) - phase - start, 1)
        if tick in hits:
            loudness = _hit(place.style, player, hits[tick])
        else:
            loudness = _ordinary(velocity * factor)
        notes.append(Note(round(late) if late > 0 else 0, player, pitch, loudness, length))
    return notes


def _ordinary(loudness: float) -> int:
    """Return the velocity of an ordinary stroke: what is very loud is drawn in, in order."""
    if loudness > _LOUD:
        over, room = loudness - _LOUD, _LOUDEST - _LOUD
        loudness = _LOUD + room * over / (room + over)
    return max(round(loudness), 1)


@lru_cache(256)
def _hit(style: Style, player: Player, level: float) -> int:
    """Return the velocity of a hit: above all that a player may play at a level."""
    loudest = _firmest(style, player) + _MOST_WOBBLE[player]
    return min(round(loudest * level) + 1, _ACCENTED)


def _firmest(style: Style, player: Player) -> int:
    """Return the velocity of a player's firm strokes, of a drummer's loudest drum."""
    if player is Player.DRUMS:
        return max(velocity[FIRM] for _, velocity in style.drums.velocity)
    return (style.bass if player is Player.BASS else style.chop).velocity[FIRM]


class _Hand:
    """How late one player's hand is in one bar: wandering slowly, with a little jitter."""

    def __init__(self, place: BarContext, player: Player, seed: int, looseness: float) -> None:
        self.ticks_a_ms = looseness * seconds_to_ticks(0.001, place.bpm)
        self.limb_ms = _LIMB_MS if player is Player.DRUMS and looseness else 0.0
        self._behind = 0.0
        if player is Player.BASS:
            most_ticks = _BASS_AFTER_DRUMS_MS * self.ticks_a_ms
            self._behind = min(looseness * _BASS_AFTER_DRUMS_TICKS, most_ticks)
        if looseness:
            who = _WHO.index(player)
            self._noise = chance.noise(seed, who, place.chorus, place.step)
            self._together = [each for each in place.harmony if not each.flows]
            self._here = _hand_ms(place.number, player, seed)
            there = _hand_ms(place.number + 1, player, seed)
            self._slope = (there - self._here) / place.ticks

    def late_ticks(self, tick: int) -> float:
        """Return how much later than written the hand falls; at looseness 0 not at all."""
        if not self.ticks_a_ms:
            return 0.0
        late_ms = self._here + self._slope * tick + _JITTER_MS * next(self._noise)
        late_ms = -_MOST_MS if late_ms < -_MOST_MS else _MOST_MS if late_ms > _MOST_MS else late_ms
        late = late_ms * self.ticks_a_ms + self._behind
        if self._together and any(each.tick <= tick < each.end for each in self._together):
            return _TOGETHER * late
        return late

    def limb_ticks(self, late_ms: float) -> float:
        """Return how much later than the hand one limb, or one string, falls."""
        if self.limb_ms:
            late_ms += self.limb_ms * next(self._noise)
        return late_ms * self.ticks_a_ms


def _hand_ms(bar: int, player: Player, seed: int) -> float:
    """Return how far a player has wandered at a bar line: with the band, and alone."""
    block, place = divmod(bar, _BLOCK_BARS)
    return _hand_walk_ms(block, player, seed)[place]


@lru_cache(16)
def _hand_walk_ms(block: int, player: Player, seed: int) -> tuple[float, ...]:
    """Return how far a player has wandered at the bar lines of sixteen bars, in milliseconds."""
    together, alone = _walk_ms(block, "band", seed), _walk_ms(block, player, seed)
    return tuple([_WITH_BAND * a + _ALONE * b for a, b in zip(together, alone, strict=True)])


@lru_cache(16)
def _walk_ms(block: int, who: str, seed: int) -> tuple[float, ...]:
    """Return how far somebody has wandered at the bar lines of sixteen bars, in milliseconds.

    Waves of random height over 1 to 16 bars, the slow ones higher: a cheap 1/f-like walk that can
    be asked for at any bar.
    """
    total = [0.0] * _BLOCK_BARS
    for bars, size in _WANDER_MS.items():
        heights = (*_heights(block, bars, who, seed), _heights(block + 1, bars, who, seed)[0])
        for place in range(_BLOCK_BARS):
            turn, rest = divmod(place, bars)
            height = heights[turn] + (heights[turn + 1] - heights[turn]) * rest / bars
            total[place] += size * (2.0 * height - 1.0)
    return tuple(total)


@lru_cache(64)
def _heights(block: int, bars: int, who: str, seed: int) -> tuple[float, ...]:
    """Return the heights, from 0 to 1, of one wave at every so many bar lines of sixteen bars."""
    source = chance.source(seed, "wander", who, bars, block)
    return tuple([source.random() for _ in range(_BLOCK_BARS // bars)])
