"""The plan: what the players agree on before a phrase of four bars.

Everybody reads the same plan, so that they stress the same notes, leave room for one who answers
and thin out together; nobody needs to hear another play, and muting one changes no other. Shares
are ours; that players accent together, answer in turn and lay out: common practice, no source.
"""

from __future__ import annotations

from functools import lru_cache
from operator import itemgetter
from typing import TYPE_CHECKING, NamedTuple

from backing import chance
from backing.band.context import level_at
from backing.notes import Player
from backing.timing import EIGHTH

if TYPE_CHECKING:
    from collections.abc import Callable

    from backing.band.arrange import Levels

PHRASE_BARS = 4
"""Bars of a phrase, counted from the start of a part; the last one of a part may be shorter."""

_HELD_BACK = 0.3
"""Energy below which the band is thin, from the second chorus on."""

_ANSWERS = ((None, 0.5), (Player.DRUMS, 0.22), (Player.BASS, 0.14), (Player.CHOP, 0.14))
_OUT_SHARE = 0.5
"""Share of held-back phrases, of every second one, without drums."""

_SWELLS, _MOST_SWELL = (0.03, 0.035), 0.05
"""Standard deviation of the loudness of a bar and of its slope over a phrase, for all players, and
the most that they change it."""

_ACCENT_SHARE, _ACCENT = 0.45, 1.08
"""Share of bars with an accent that all players have, at full energy, and its factor."""

LOUDEST = (1.0 + _MOST_SWELL) * _ACCENT
"""The most that a plan makes a stroke louder."""

_ACCENT_TICKS = EIGHTH // 2

_CATCH_SHARE, _TAKE_UP_SHARE = 0.5, 0.4
"""Shares of phrases in which the drums strike with the chop, and the bass with the kick."""


class Plan(NamedTuple):
    """What the players agree on for one bar.

    Attributes:
        loudness: factor on everybody's velocity.
        accents: ticks of the bar on which everybody strikes, firmly.
        answers: who plays a short answer at the end of this bar; the others leave room.
        lays_out: who does not play in this phrase.
        is_thin: whether everybody plays less than usual.
        catches: whether the drums strike the chop's off-beats, too.
        takes_up: whether the bass plays the kick's off-beats, too.
    """

    loudness: float = 1.0
    accents: tuple[int, ...] = ()
    answers: Player | None = None
    lays_out: frozenset[Player] = frozenset()
    is_thin: bool = False
    catches: bool = False
    takes_up: bool = False


class _Phrase(NamedTuple):
    """What the players agree on for all bars of a phrase.

    Attributes:
        answers: who answers at its end.
        plan: of all bars, without answer and accents.
        loudness: of each bar.
    """

    answers: Player | None
    plan: Plan
    loudness: tuple[float, ...]


def plan_of(
    seed: int, chorus: int, step: int, index: int, *, energy: float, ends_phrase: bool
) -> Plan:
    """Return the plan of a bar, still without accents.

    Args:
        seed: the seed of the performance.
        chorus: from 1.
        step: the bar's index in its chorus, from 0.
        index: the bar's index in its part, from 0.
        energy: of the chorus, from 0 to 1.
        ends_phrase: whether the bar is the last of its phrase.
    """
    bar = index % PHRASE_BARS
    phrase = _phrase(seed, chorus, step - bar, energy)
    answers = phrase.answers if ends_phrase else None
    return phrase.plan._replace(loudness=phrase.loudness[bar], answers=answers)


@lru_cache(64)
def _phrase(seed: int, chorus: int, start: int, energy: float) -> _Phrase:
    source = chance.source(seed, "plan", chorus, start)
    is_thin = chorus > 1 and energy < _HELD_BACK
    answers = chance.pick(source, _ANSWERS)
    may_lay_out = is_thin and start // PHRASE_BARS % 2 == 0  # not for two phrases in a row
    plan = Plan(
        lays_out=frozenset({Player.DRUMS} if source.random() < _OUT_SHARE and may_lay_out else ()),
        is_thin=is_thin,
        catches=source.random() < _CATCH_SHARE * (0.5 + energy),
        takes_up=source.random() < _TAKE_UP_SHARE * (0.5 + energy),
    )
    return _Phrase(answers, plan, _loudness(seed, chorus, start))


def _loudness(seed: int, chorus: int, start: int) -> tuple[float, ...]:
    """Return the loudness of each bar of a phrase."""
    slope, *swells = chance.normals(seed, "lean", chorus, start, count=1 + PHRASE_BARS)
    found = []
    for bar, own in enumerate(swells):
        rise = slope / PHRASE_BARS * (bar - (PHRASE_BARS - 1) / 2)
        both = _SWELLS[0] * own + _SWELLS[1] * rise
        found.append(1.0 + min(max(both, -_MOST_SWELL), _MOST_SWELL))
    return tuple(found)


def accents_of(
    seed: int, chorus: int, step: int, *, energy: float, figures: Callable[[], set[int]]
) -> tuple[int, ...]:
    """Return the ticks of a bar that everybody strikes firmly: one at most.

    Args:
        seed: the seed of the performance.
        chorus: from 1.
        step: the bar's index in its chorus, from 0.
        energy: of the chorus, from 0 to 1.
        figures: returns the off-beat ticks of the chop's pattern and of the kick.
    """
    share = _ACCENT_SHARE * (0.4 + 0.6 * energy)
    drawn = chance.unit(seed, "accent", chorus, step)
    if drawn >= share:
        return ()
    fits = sorted(tick for tick in figures() if tick >= EIGHTH)
    return (fits[int(drawn / share * len(fits))],) if fits else (0,)


def accented(levels: Levels, plan: Plan) -> Levels:
    """Return the loudness of a bar with what the plan adds to it, in steps."""
    louder = tuple([(tick, factor * plan.loudness) for tick, factor in levels])
    for tick in plan.accents:
        end = tick + _ACCENT_TICKS
        here, after = level_at(louder, tick), level_at(louder, end)
        kept = [each for each in louder if not tick <= each[0] <= end]
        added = (tick, here * _ACCENT), (end, after)
        louder = tuple(sorted([*kept, *added], key=itemgetter(0)))
    return louder
