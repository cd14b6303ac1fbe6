"""Hands: what players add to strokes that a style has in one place and one loudness.

Conventions: milliseconds are at looseness 1, above 0 late. A seed draws its players once, for the
whole performance (`players`): a drummer within the spread of the takes in `hand_figures`, and their
companions. Each stroke is late by the sum of
- the line of the band, a random walk over the beats that is drawn back to the beat. Bass and drums
  follow it, chop and lead in part, for the chop's backbeat is the steadiest thing in the band;
- the drummer's own: of all limbs at one moment, of both hands at one moment, and of each limb;
- the place of the limb or of the player.
The line is known at any bar: it is a sum over white noise that is addressed by bar. It takes four
steps a bar, whatever the meter, which are the beats of the 4/4 that it was measured in.

Sources: the drummer's figures in `hand_figures`; the recipe of the line is a fit to the same takes.
Correlated deviations are preferred to independent ones: Hennig et al. 2011, PLoS ONE, PMC3202537.
How far bass, chop and lead are from the line, and how their loudness and their lengths vary, is
ours: no figures are known to us.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import pairwise
from math import fsum
from typing import TYPE_CHECKING, NamedTuple

from backing import chance
from backing.band.drummer import KICK, PEDAL, SNARE, TIME, drummer, turn
from backing.band.hand_figures import SHARED_TEMPO_MS, TEMPO_MS
from backing.notes import Player
from backing.style.model import DRUM_KEYS, LIGHT, PLAIN
from backing.timing import seconds_to_ticks

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backing.band.context import BarContext, Stroke
    from backing.style.model import DrumStyle

_FEET_AND_SNARE = {"kick": KICK, "pedal-hat": PEDAL, "snare": SNARE, "side-stick": SNARE}
_OTHER_HAND = ("sweep", "floor-tom", "tom", "high-tom", "high-wood-block", "low-wood-block")
_LIMBS = {
    key: _FEET_AND_SNARE.get(lane, SNARE if lane in _OTHER_HAND else TIME)
    for lane, key in DRUM_KEYS.items()
}
"""The limb that strikes each key."""

_AGAIN = (0.92, -0.20)
"""How much of the last two steps the line of the band keeps."""

_STEPS, _MEMORY_BARS = 4, 3
_JITTER = 0.1
"""Share of the shared variance that is white."""

_MEASURED_BEAT_MS = (207.0, 600.0)
"""Beats at 290 and 100 bpm, where most takes are: beyond them the scatter stays the same."""

_USUAL_BEAT_MS = 500.0

_CALM_MS = 90.0
"""Strokes closer than this scatter less, in proportion, so that a roll stays in order."""

_TOGETHER, _TOGETHER_OWN, _TOGETHER_MS = 0.25, 0.3, 6.0
"""Shares of the line and of a player's own part at hits of the whole band, and its limit."""


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

_DRUMS_MOST_MS = 60.0
"""The farthest from the beat (ours): strokes of the takes count up to 50 ms from their place."""

_ROOM, _STEADIEST = 0.4, 0.06
"""Most scatter as a share of the room above a stroke, and the least scatter (ours)."""

_SOFTEST = 0.2
"""The least factor on loudness (ours)."""

_SHUFFLED = 0.017
"""Strokes between beats are off by less than this share of a beat where two to one is meant (ours:
the ratios of the shuffle takes are 1.67 to 2.76)."""

_LIMB_COUNT, _PLAYERS = 4, tuple(Player)

_SLOW_BARS = 3
"""Bars from node to node of the slow walk of loudness."""


def _size() -> float:
    """Return the standard deviation of the walk over white noise of variance 1."""
    before, now, squares = 0.0, 1.0, []
    for _ in range(_MEMORY_BARS * _STEPS):
        squares.append(now * now)
        before, now = now, _AGAIN[0] * now + _AGAIN[1] * before
    return float(fsum(squares) ** 0.5)


_SIZE = _size()


@lru_cache(64)
def _line(seed: int, bar: int) -> tuple[float, ...]:
    """Return the line of the band at the steps of a bar and the next bar line; variance 1.

    What is more than three bars ago is forgotten: it would make less than a thousandth.
    """
    before = now = 0.0
    steps = []
    for each in range(bar - _MEMORY_BARS, bar + 2):
        for step in chance.normals(seed, "line", each, count=_STEPS):
            before, now = now, _AGAIN[0] * now + _AGAIN[1] * before + step
            steps.append(now / _SIZE)
    return tuple(steps[_MEMORY_BARS * _STEPS : (_MEMORY_BARS + 1) * _STEPS + 1])


def _along(line: Sequence[float], place: float) -> float:
    """Return the value at a place along a bar, from 0 to below 1, between the steps."""
    step = int(place * _STEPS)
    rest = place * _STEPS - step
    return line[step] + (line[step + 1] - line[step]) * rest if step < _STEPS else line[_STEPS]


@lru_cache(64)
def _slow_walks(seed: int, bar: int) -> tuple[float, ...]:
    """Return the slow walks of loudness in a bar, of variance 1: of four limbs and of `Player`."""
    node, index = divmod(bar, _SLOW_BARS)
    count = _LIMB_COUNT + len(_PLAYERS)
    before, after = (chance.normals(seed, "slow", each, count=count) for each in (node, node + 1))
    share = index / _SLOW_BARS
    size = (share * share + (1.0 - share) ** 2) ** 0.5
    here, there = (1.0 - share) / size, share / size
    return tuple([here * a + there * b for a, b in zip(before, after, strict=True)])


@lru_cache(64)
def _tempo(bpm: float) -> tuple[float, float]:
    """Return the factors of the shared and of all other scatter at a tempo."""
    beat_ms = min(max(60_000.0 / bpm, _MEASURED_BEAT_MS[0]), _MEASURED_BEAT_MS[1])
    shared, total = (
        (zero + slope * beat_ms) / (zero + slope * _USUAL_BEAT_MS)
        for zero, slope in (SHARED_TEMPO_MS, TEMPO_MS)
    )
    return shared, total


class Manner(NamedTuple):
    """How a player plays the strokes of one bar, stroke by stroke.

    Attributes:
        late_ms: the delay at looseness 1.
        loudness: the factor on velocity.
        ticks: the notated length.
        next_ms: the least delay at looseness 1 of a stroke on the next bar line.
    """

    late_ms: Sequence[float]
    loudness: Sequence[float]
    ticks: Sequence[int]
    next_ms: float = 0.0


def manner_of(
    context: BarContext,
    player: Player,
    strokes: list[Stroke],
    *,
    seed: int,
    looseness: float,
    loudest: float,
) -> Manner:
    """Return how a player plays the strokes of a bar.

    Args:
        context: the bar.
        player: who plays.
        strokes: the notated strokes.
        seed: the seed of the performance.
        looseness: how much lengths vary.
        loudest: the greatest velocity of ordinary strokes; those near it vary less.
    """
    if player is Player.DRUMS:
        return _drummers_manner(context, strokes, seed, loudest)
    return _companions_manner(context, player, strokes, seed, looseness)


class _Sizes(NamedTuple):
    """A drummer's deviations at a tempo, in milliseconds: standard deviations and places.

    Attributes:
        line: of the band's line.
        at_once, between: of all limbs at one moment, on beats and between them.
        both: of both hands.
        own, alone: of each limb, and between beats without the hand that keeps time.
        after: places of the limbs.
    """

    line: float
    at_once: float
    between: float
    both: float
    own: tuple[float, ...]
    alone: tuple[float, ...]
    after: tuple[float, ...]


@lru_cache(64)
def _sizes(seed: int, feel: str, bpm: float) -> _Sizes:
    hands = drummer(seed, feel)
    shared, rest = _tempo(bpm)
    line = hands.shared_ms * shared
    at_once = (_JITTER * line**2 + (hands.limbs_ms * rest) ** 2) ** 0.5
    wander = hands.wander * min(60_000.0 / bpm, _MEASURED_BEAT_MS[1])
    own = tuple(rest * each for each in hands.own_ms)
    return _Sizes(
        line,
        at_once,
        (at_once**2 + wander**2) ** 0.5,
        rest * hands.hands_ms,
        own,
        tuple(a * b for a, b in zip(own, hands.alone, strict=True)),
        hands.after_ms,
    )


def _drummers_manner(
    context: BarContext, strokes: list[Stroke], seed: int, loudest: float
) -> Manner:
    style = context.style
    hands, sizes = drummer(seed, style.feel), _sizes(seed, style.feel, context.bpm)
    limbs = _limbs(style.drums)
    beat, bar_ticks = context.sequenced.meter.beat_ticks, context.ticks
    line = _line(seed, context.number)
    ticks = sorted({each.tick for each in strokes})
    timed = {each.tick for each in strokes if limbs[each.pitch] == TIME}
    count = 2 * len(ticks) + 2 * len(strokes)
    drawn = iter(chance.normals(seed, "drums", context.chorus, context.step, count=count))
    calm = _calm(ticks, context.bpm)
    close = [each for each in context.harmony if not each.flows]
    plain_ms = _SHUFFLED * 60_000.0 / context.bpm if style.feel == "shuffle" else 0.0
    moments = {}
    for tick in ticks:
        still = calm.get(tick, 1.0) if calm else 1.0
        is_beat = not tick % beat
        moments[tick] = (
            sizes.line * _along(line, tick / bar_ticks),
            still * (sizes.at_once if is_beat else sizes.between) * next(drawn),
            still * sizes.both * next(drawn),
            still,
            is_beat,
            sizes.own if is_beat or tick in timed else sizes.alone,
            close and any(each.tick <= tick < each.end for each in close),
        )
    slow = _slow_walks(seed, context.number)
    walks = [size * each for size, each in zip(hands.slow, slow, strict=False)]
    soft, after, depth, most = _soft(style.drums), sizes.after, hands.depth, _DRUMS_MOST_MS
    late, loud = [], []
    for tick, _, pitch, velocity, _ in strokes:
        here, apart, both, still, is_beat, own, together = moments[tick]
        limb = limbs[pitch]
        apart += still * own[limb] * next(drawn)
        if limb in (TIME, SNARE):
            apart += both
        if plain_ms and not is_beat:
            apart /= (1.0 + (apart / plain_ms) ** 2) ** 0.5
        apart += after[limb]
        if together:
            late.append(_TOGETHER * here + _close(apart))
        else:
            here += apart
            late.append(here if -most <= here <= most else _within(here, most))
        limb = _LIMBS[pitch]
        scatter = hands.scatter[limb]
        if limb == SNARE:
            light, plain = soft[pitch]
            scatter = hands.weights[0 if velocity <= light else 1 if velocity <= plain else 2]
        room = _ROOM * (loudest / velocity - 1.0)
        if scatter > room:
            scatter = room if room > _STEADIEST else _STEADIEST
        varied = scatter * next(drawn)
        skew = 0.5 * (varied * varied - scatter * scatter)
        varied += 1.0 + walks[limb] + (skew if limb != PEDAL else -skew)
        varied *= 1.0 + (depth[limb] if is_beat else -depth[limb])
        loud.append(varied if varied > _SOFTEST else _SOFTEST)
    return Manner(late, loud, [each.ticks for each in strokes])


def _within(value: float, most: float) -> float:
    return most if value > most else -most if value < -most else value


def _close(own: float) -> float:
    """Return a player's own part at a hit of the whole band."""
    return _within(_TOGETHER_OWN * own, _TOGETHER_MS)


def _calm(ticks: list[int], bpm: float) -> dict[int, float]:
    """Return the factor on the scatter of strokes that others follow or precede closely."""
    close = seconds_to_ticks(_CALM_MS / 1000.0, bpm)
    found: dict[int, float] = {}
    for before, after in pairwise(ticks):
        if after - before < close:
            share = (after - before) / close
            found[before] = min(found.get(before, 1.0), share)
            found[after] = share
    return found


@lru_cache(64)
def _limbs(style: DrumStyle) -> dict[int, int]:
    """Return the limb as which each key is in time: without cymbals, the other hand keeps time."""
    lanes = {lane for groove in style.grooves for lane, grid in groove.lanes if grid.hits}
    if any(_LIMBS[DRUM_KEYS[lane]] == TIME for lane in lanes):
        return _LIMBS
    return {key: TIME if limb == SNARE else limb for key, limb in _LIMBS.items()}


@lru_cache(64)
def _soft(style: DrumStyle) -> dict[int, tuple[int, int]]:
    """Return the velocities of light and plain strokes by key."""
    return {
        DRUM_KEYS[lane]: (velocity[LIGHT], velocity[PLAIN]) for lane, velocity in style.velocity
    }


def _companions_manner(
    context: BarContext, player: Player, strokes: list[Stroke], seed: int, looseness: float
) -> Manner:
    hands = _COMPANIONS[player]
    shared_ms = hands.follows * _sizes(seed, context.style.feel, context.bpm).line
    line = _line(seed, context.number)
    ticks = sorted({each.tick for each in strokes})
    count = 3 * len(ticks)
    drawn = iter(chance.normals(seed, player, context.chorus, context.step, count=count))
    place = hands.late_ms * turn(seed, f"{player} place")
    slow = _slow_walks(seed, context.number)[_LIMB_COUNT + _PLAYERS.index(player)]
    usual = 1.0 + _USUAL * hands.loudness * slow
    long = _USUAL * hands.length * turn(seed, f"{player} length")
    beat, bar_ticks = context.sequenced.meter.beat_ticks, context.ticks
    close = [each for each in context.harmony if not each.flows]
    moments = {}
    for tick, after in zip(ticks, [*ticks[1:], bar_ticks], strict=False):
        here = shared_ms * _along(line, tick / bar_ticks)
        size = _BACKBEAT if player is Player.CHOP and tick // beat % 2 and not tick % beat else 1.0
        own = size * hands.own_ms * next(drawn) + place
        if close and any(each.tick <= tick < each.end for each in close):
            late = _TOGETHER / hands.follows * here + _close(own)
        else:
            late = _within(here + own, hands.most_ms)
        loudness = usual + size * hands.loudness * next(drawn)
        varied = size * hands.length * next(drawn)
        longer = 1.0 + looseness * (long + varied + 0.5 * varied * varied)
        moments[tick] = late, loudness, longer, after - tick - _RELEASE_TICKS
    hits = {tick for tick, _ in context.hit_levels} if looseness else {*ticks}
    late_ms, loud, lengths = [], [], []
    for tick, written, _, _, _ in strokes:
        late, loudness, longer, most = moments[tick]
        late_ms.append(late)
        loud.append(loudness)
        lengths.append(written if tick in hits else _varied(written, longer, most))
    earliest = shared_ms * line[_STEPS] + place - chance.MOST_NORMAL * hands.own_ms
    return Manner(late_ms, loud, lengths, _within(earliest, hands.most_ms))


def _varied(written: int, longer: float, most: int) -> int:
    """Return a varied length in ticks, in which a longer note still ends before the next stroke.

    What is written to ring into the next stroke gets shorter instead.
    """
    more, room = written * (longer - 1.0), most - written
    if more > 0.0:
        more = more * room / (more + room) if room > 0 else -0.5 * more
    return max(round(written + max(more, -0.5 * written)), 1)
