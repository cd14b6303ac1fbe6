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
_OTHER_HAND = ("floor-tom", "tom", "high-tom", "high-wood-block", "low-wood-block")
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
    Player.BASS: _Companion(1.0, 7.5, 2.0, 40.0, 0.055, 0.11),
    Player.CHOP: _Companion(0.6, 3.0, 1.0, 17.0, 0.06, 0.13),
    Player.LEAD: _Companion(0.6, 8.0, 3.0, 40.0, 0.012, 0.08),
}
_BACKBEAT = 0.6
"""What is left of the chop's own scatter on the beats that it stresses: 2 and 4."""

_RELEASE_TICKS = 20
"""Least silence between a note that is made longer and the next one."""

_DRUMS_MOST_MS = 60.0
"""The farthest from the beat (ours): strokes of the takes count up to 50 ms from their place."""

_ROOM, _STEADIEST = 0.8, 0.06
"""Most scatter as a share of the room above a stroke, and the least scatter (ours)."""

_SOFTEST = 0.2
"""The least factor on loudness (ours)."""

_SHUFFLED = 0.022
"""Strokes between beats are off by less than this share of a beat where two to one is meant (ours:
the ratios of the shuffle takes are 1.67 to 2.76)."""

_SLOW_BARS = 3
"""Bars from node to node of the slow walk of loudness."""


def _response() -> tuple[float, ...]:
    """Return the line's response to a step, from now back, of variance 1."""
    found = [1.0, _AGAIN[0]]
    while len(found) <= _MEMORY_BARS * _STEPS:
        found.append(_AGAIN[0] * found[-1] + _AGAIN[1] * found[-2])
    size = fsum([each * each for each in found]) ** 0.5
    return tuple(each / size for each in found)


_RESPONSE = _response()


@lru_cache(64)
def _line(seed: int, bar: int) -> tuple[float, ...]:
    """Return the line of the band at the steps of a bar and the next bar line; variance 1."""
    steps = [
        step
        for each in range(bar - _MEMORY_BARS, bar + 2)
        for step in chance.normals(seed, "line", each, count=_STEPS)
    ]
    here = _MEMORY_BARS * _STEPS
    return tuple(
        fsum([a * b for a, b in zip(_RESPONSE, steps[here + step :: -1], strict=False)])
        for step in range(_STEPS + 1)
    )


def _along(line: Sequence[float], place: float) -> float:
    """Return the value at a place along a bar, from 0 to below 1, between the steps."""
    step = int(place * _STEPS)
    rest = place * _STEPS - step
    return line[step] + (line[step + 1] - line[step]) * rest if step < _STEPS else line[_STEPS]


@lru_cache(64)
def _slow_walk(seed: int, who: str, bar: int) -> tuple[float, ...]:
    """Return the slow walk of loudness of a player's four limbs in a bar, of variance 1."""
    node, index = divmod(bar, _SLOW_BARS)
    before, after = (chance.normals(seed, "slow", who, each, count=4) for each in (node, node + 1))
    share = index / _SLOW_BARS
    size = (share * share + (1.0 - share) ** 2) ** 0.5
    return tuple(((1.0 - share) * a + share * b) / size for a, b in zip(before, after, strict=True))


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
    """What a player adds to the strokes of one bar, stroke by stroke.

    Attributes:
        late_ms: the delay at looseness 1.
        loudness: the factor on velocity.
        length: the factor on length at looseness 1.
    """

    late_ms: Sequence[float]
    loudness: Sequence[float]
    length: Sequence[float]


def manner_of(
    context: BarContext, player: Player, strokes: list[Stroke], seed: int, loudest: float
) -> Manner:
    """Return what a player's hands add to the strokes of a bar.

    Args:
        context: the bar.
        player: who plays.
        strokes: the notated strokes.
        seed: the seed of the performance.
        loudest: the greatest velocity of ordinary strokes; those near it vary less.
    """
    if player is Player.DRUMS:
        return _drummers_manner(context, strokes, seed, loudest)
    return _companions_manner(context, player, strokes, seed)


def _drummers_manner(
    context: BarContext, strokes: list[Stroke], seed: int, loudest: float
) -> Manner:
    hands = drummer(seed, context.style.feel)
    beat = context.sequenced.meter.beat_ticks
    shared, rest = _tempo(context.bpm)
    line = [hands.shared_ms * shared * each for each in _line(seed, context.number)]
    ticks = sorted({each.tick for each in strokes})
    count = 2 * len(ticks) + 2 * len(strokes)
    address = ("drums", context.chorus, context.step)
    drawn = iter(chance.normals(seed, *address, count=count))
    jitter = _JITTER**0.5 * hands.shared_ms * shared
    at_once = (jitter**2 + (hands.limbs_ms * rest) ** 2) ** 0.5
    between = (
        at_once**2 + (hands.wander * min(60_000.0 / context.bpm, _MEASURED_BEAT_MS[1])) ** 2
    ) ** 0.5
    calm = _calm(ticks, context.bpm)
    close = [each for each in context.harmony if not each.flows]
    plain_ms = _SHUFFLED * 60_000.0 / context.bpm if context.style.feel == "shuffle" else 0.0
    timed = {each.tick for each in strokes if _LIMBS[each.pitch] == TIME} or {*ticks}
    moments = {}
    for tick in ticks:
        own = rest * calm.get(tick, 1.0)
        here = _along(line, tick / context.ticks)
        is_beat = not tick % beat
        limbs = calm.get(tick, 1.0) * (at_once if is_beat else between) * next(drawn)
        both = own * hands.hands_ms * next(drawn)
        together = any(each.tick <= tick < each.end for each in close)
        moments[tick] = here, limbs, both, own, is_beat, together
    slow = _slow_walk(seed, "drums", context.number)
    soft = _soft(context.style.drums)
    zero = 0.0 if _has_time(context.style.drums) else hands.after_ms[SNARE]
    late, loud = [], []
    for tick, _, pitch, velocity, _ in strokes:
        limb = _LIMBS[pitch]
        here, limbs, both, own, is_beat, together = moments[tick]
        apart = own * hands.own_ms[limb] * next(drawn)
        if not is_beat and tick not in timed:
            apart *= hands.alone[limb]
        apart += limbs
        if limb in (TIME, SNARE):
            apart += both
        if plain_ms and not is_beat:
            apart /= (1.0 + (apart / plain_ms) ** 2) ** 0.5
        late.append(_placed(here, apart, hands.after_ms[limb] - zero, together))
        scatter = hands.scatter[limb]
        if limb == SNARE:
            light, plain = soft[pitch]
            scatter = hands.weights[0 if velocity <= light else 1 if velocity <= plain else 2]
        scatter = min(scatter, max(_ROOM * (loudest / velocity - 1.0), _STEADIEST))
        depth = hands.depth[limb] if is_beat else -hands.depth[limb]
        varied = _skewed(scatter * next(drawn), -scatter if limb == PEDAL else scatter)
        varied += hands.slow[limb] * slow[limb]
        loud.append(max((1.0 + depth) * varied, _SOFTEST))
    return Manner(late, loud, [1.0] * len(strokes))


def _skewed(deviation: float, size: float) -> float:
    """Return a factor of mean 1 that is farther from it above than below, as loudness is.

    Args:
        deviation: of the logarithm.
        size: its standard deviation; below 0 for a factor that is farther from 1 below.
    """
    return 1.0 + deviation + (0.5 if size > 0 else -0.5) * (deviation * deviation - size * size)


def _placed(line: float, own: float, after: float, together: bool) -> float:
    """Return the delay of a drummer's stroke from its parts."""
    if together:
        own = min(max(_TOGETHER_OWN * (own + after), -_TOGETHER_MS), _TOGETHER_MS)
        return _TOGETHER * line + own
    return min(max(line + own + after, -_DRUMS_MOST_MS), _DRUMS_MOST_MS)


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
def _has_time(style: DrumStyle) -> bool:
    """Whether a hand keeps time on cymbals or with the brush; else the other hand does."""
    lanes = {lane for groove in style.grooves for lane, grid in groove.lanes if grid.hits}
    return any(_LIMBS[DRUM_KEYS[lane]] == TIME for lane in lanes)


@lru_cache(64)
def _soft(style: DrumStyle) -> dict[int, tuple[int, int]]:
    """Return the velocities of light and plain strokes by key."""
    return {
        DRUM_KEYS[lane]: (velocity[LIGHT], velocity[PLAIN]) for lane, velocity in style.velocity
    }


def _companions_manner(
    context: BarContext, player: Player, strokes: list[Stroke], seed: int
) -> Manner:
    hands = _COMPANIONS[player]
    shared_ms = hands.follows * drummer(seed, context.style.feel).shared_ms
    shared_ms *= _tempo(context.bpm)[0]
    line = _line(seed, context.number)
    address = (player, context.chorus, context.step)
    drawn = iter(chance.normals(seed, *address, count=3 * len(strokes)))
    place = hands.late_ms * turn(seed, f"{player} place")
    usual = 1.0 + 0.4 * hands.loudness * _slow_walk(seed, player, context.number)[0]
    long = 1.0 + 0.4 * hands.length * turn(seed, f"{player} length")
    beat = context.sequenced.meter.beat_ticks
    close = [each for each in context.harmony if not each.flows]
    moments: dict[int, tuple[float, float, float]] = {}
    for stroke in strokes:
        tick = stroke.tick
        if tick in moments:
            continue
        here = shared_ms * _along(line, min(tick / context.ticks, 1.0))
        size = _BACKBEAT if player is Player.CHOP and tick // beat % 2 and not tick % beat else 1.0
        own = size * hands.own_ms * next(drawn)
        if any(each.tick <= tick < each.end for each in close):
            own = min(max(_TOGETHER_OWN * (own + place), -_TOGETHER_MS), _TOGETHER_MS)
            late = _TOGETHER / hands.follows * here + own
        else:
            late = min(max(here + own + place, -hands.most_ms), hands.most_ms)
        varied = size * hands.length * next(drawn)
        moments[tick] = (
            late,
            usual + size * hands.loudness * next(drawn),
            long * (1.0 + varied + 0.5 * varied * varied),
        )
    each = [moments[stroke.tick] for stroke in strokes]
    return (
        Manner(*(list(column) for column in zip(*each, strict=True)))
        if each
        else Manner((), (), ())
    )


def with_lengths(
    context: BarContext, strokes: list[Stroke], lengths: Sequence[float], looseness: float
) -> list[Stroke]:
    """Return a bar's strokes with other lengths.

    A hit keeps its own. Longer notes end before the player's next stroke, or before the bar line;
    what is written to ring on is not made longer.
    """
    hits = {tick for tick, _ in context.hit_levels}
    ticks = sorted({each.tick for each in strokes})
    after = dict(zip(ticks, [*ticks[1:], context.ticks], strict=False))
    found = []
    for stroke, length in zip(strokes, lengths, strict=True):
        tick, written = stroke.tick, stroke.ticks
        if tick in hits:
            found.append(stroke)
            continue
        wanted = round(written * (1.0 + looseness * (length - 1.0)))
        most = max(written, after[tick] - tick - _RELEASE_TICKS)
        found.append(stroke._replace(ticks=min(max(wanted, written // 2, 1), most)))
    return found
