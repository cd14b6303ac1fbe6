"""The hands of bass, chop and lead: how late, how loud and how long each stroke of a bar is.

Conventions: `hands`. The figures are ours.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

from backing import chance
from backing.band.drummer import turn
from backing.band.hands import TOGETHER, Nuances, close, is_inside, sizes, within
from backing.band.walks import STEPS, along, line, slow_walk
from backing.notes import Player

if TYPE_CHECKING:
    from backing.band.context import BarContext, Stroke


class _Companion(NamedTuple):
    """How a player other than the drummer plays (ours).

    Attributes:
        follows: share of the band's line.
        own_ms: standard deviation of the player's own part.
        late_ms: standard deviation between players of their place.
        most_ms: the farthest from the beat.
        loudness: standard deviation of loudness, as a share.
        length: standard deviation of lengths, as a share.
    """

    follows: float
    own_ms: float
    late_ms: float
    most_ms: float
    loudness: float
    length: float


_COMPANIONS = {
    Player.BASS: _Companion(1.0, 7.5, 2.0, 40.0, 0.045, 0.11),
    Player.CHOP: _Companion(0.6, 3.0, 1.0, 17.0, 0.06, 0.13),
    Player.LEAD: _Companion(0.6, 8.0, 3.0, 40.0, 0.012, 0.08),
}
_USUAL = 0.4
"""How far from the style a player's usual loudness and lengths are, as a share of their scatter."""

_BACKBEAT = 0.6
"""What is left of the chop's own scatter on the beats that it stresses: 2 and 4."""

_RELEASE_TICKS = 20
"""Least silence between a note that is made longer and the next one."""


class _Hands(NamedTuple):
    """A companion of a seed.

    Attributes:
        place_ms: the place of their strokes.
        long: what all lengths are longer, as a share.
    """

    place_ms: float
    long: float


@lru_cache(16)
def _hands(seed: int, player: Player) -> _Hands:
    usual = _COMPANIONS[player]
    return _Hands(
        usual.late_ms * turn(seed, f"{player} place"),
        _USUAL * usual.length * turn(seed, f"{player} length"),
    )


def companions_nuances(
    context: BarContext, player: Player, strokes: list[Stroke], *, seed: int, looseness: float
) -> Nuances:
    """Return how a player other than the drummer plays the strokes of a bar.

    Args:
        context: the bar.
        player: who plays.
        strokes: the notated strokes.
        seed: the seed of the performance.
        looseness: how much lengths vary.
    """
    usual, (place, long) = _COMPANIONS[player], _hands(seed, player)
    shared_ms = usual.follows * sizes(seed, context.style.feel, context.bpm).line
    steps = line(seed, context.number)
    moments = _moments(context, player, strokes, seed, shared_ms)
    hits = {tick for tick, _ in context.hit_levels}
    late_ms, loud, lengths = [], [], []
    at = before = -1
    late = loudness = varied = 0.0
    length = 0
    for tick, written, _, _, _ in strokes:
        if tick != at:
            late, loudness, varied, most = moments[tick]
            at, before = tick, -1
        if written != before:
            before = length = written
            if looseness and tick not in hits:
                longer = looseness * (long + varied + 0.5 * varied * varied)
                length = _varied(written, longer, most)
        late_ms.append(late)
        loud.append(loudness)
        lengths.append(length)
    earliest = shared_ms * steps[STEPS] + place - chance.MOST_NORMAL * usual.own_ms
    return Nuances(late_ms, loud, lengths, within(earliest, usual.most_ms))


def _moments(
    context: BarContext, player: Player, strokes: list[Stroke], seed: int, shared_ms: float
) -> dict[int, tuple[float, float, float, int]]:
    """Return what happens at each tick: delay, loudness, variation of lengths, greatest length."""
    usual, place = _COMPANIONS[player], _hands(seed, player).place_ms
    steps = line(seed, context.number)
    ticks = sorted({each[0] for each in strokes})
    count = 3 * len(ticks)
    drawn = iter(chance.normals(seed, player, context.chorus, context.step, count=count))
    loud = 1.0 + _USUAL * usual.loudness * slow_walk(seed, context.number, player)
    beat, bar_ticks = context.sequenced.meter.beat_ticks, context.ticks
    hits = [each for each in context.harmony if each.hit is not None]
    is_chop = player is Player.CHOP
    found = {}
    for tick, after in zip(ticks, [*ticks[1:], bar_ticks], strict=False):
        here = shared_ms * along(steps, tick / bar_ticks)
        size = _BACKBEAT if is_chop and tick // beat % 2 and not tick % beat else 1.0
        own = size * usual.own_ms * next(drawn) + place
        if hits and is_inside(tick, hits):
            late = TOGETHER / usual.follows * here + close(own)
        else:
            late = within(here + own, usual.most_ms)
        loudness = loud + size * usual.loudness * next(drawn)
        found[tick] = late, loudness, size * usual.length * next(drawn), after - tick
    return found


def _varied(written: int, longer: float, most: int) -> int:
    """Return a varied length in ticks, in which a longer note still ends before the next stroke.

    What is written to ring into the next stroke gets shorter instead.

    Args:
        written: the length.
        longer: what it is longer, as a share.
        most: ticks to the next stroke.
    """
    more, room = written * longer, most - _RELEASE_TICKS - written
    if more > 0.0:
        more = more * room / (more + room) if room > 0 else -0.5 * more
    return max(round(written + max(more, -0.5 * written)), 1)
