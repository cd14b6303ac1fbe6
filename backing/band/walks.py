"""The walks that a band shares: its line in time, and how loud each limb and player is for a while.

The line is known at any bar: it is a sum over white noise that is addressed by bar, and forgets
what is more than three bars ago, which would make less than a thousandth. It takes four steps a
bar, whatever the meter, which are the beats of the 4/4 that it was measured in. Its recipe is a fit
to the takes of `hand_figures`.
"""

from __future__ import annotations

from functools import lru_cache
from math import fsum, sqrt

from backing import chance
from backing.notes import Player

_AGAIN = (0.92, -0.20)
"""How much of the last two steps the line of the band keeps."""

STEPS, _MEMORY_BARS = 4, 3
_BLOCK_BARS = 12
"""Bars that are walked at once."""

LIMBS = 4
_PLAYERS = tuple(Player)

_SLOW_BARS = 3
"""Bars from node to node of the slow walk of loudness."""


def _size() -> float:
    """Return the standard deviation of the walk over white noise of variance 1."""
    before, now, squares = 0.0, 1.0, []
    for _ in range(_MEMORY_BARS * STEPS):
        squares.append(now * now)
        before, now = now, _AGAIN[0] * now + _AGAIN[1] * before
    return sqrt(fsum(squares))


_SIZE = _size()


@lru_cache(64)
def line(seed: int, bar: int) -> tuple[float, ...]:
    """Return the line of the band at the steps of a bar and the next bar line; variance 1."""
    block, index = divmod(bar, _BLOCK_BARS)
    steps = _steps(seed, block)[index * STEPS : (index + 1) * STEPS + 1]
    return steps if len(steps) > STEPS else (*steps, _steps(seed, block + 1)[0])


@lru_cache(8)
def _steps(seed: int, block: int) -> tuple[float, ...]:
    """Return the line at all steps of a block."""
    before = now = 0.0
    found = []
    first = block * _BLOCK_BARS
    for bar in range(first - _MEMORY_BARS, first + _BLOCK_BARS):
        for step in chance.normals(seed, "line", bar, count=STEPS):
            before, now = now, _AGAIN[0] * now + _AGAIN[1] * before + step
            found.append(now / _SIZE)
    return tuple(found[_MEMORY_BARS * STEPS :])


def along(line: tuple[float, ...], place: float) -> float:
    """Return the value of a line at a place along a bar, between the steps; from 0 up to 1."""
    step = int(place * STEPS)
    rest = place * STEPS - step
    return line[step] + (line[step + 1] - line[step]) * rest if step < STEPS else line[STEPS]


@lru_cache(64)
def slow_walks(seed: int, bar: int) -> tuple[float, ...]:
    """Return the slow walks of loudness in a bar, of variance 1: of four limbs and of `Player`."""
    node, index = divmod(bar, _SLOW_BARS)
    count = LIMBS + len(_PLAYERS)
    before, after = (chance.normals(seed, "slow", each, count=count) for each in (node, node + 1))
    share = index / _SLOW_BARS
    size = sqrt(share * share + (1.0 - share) ** 2)
    here, there = (1.0 - share) / size, share / size
    return tuple([here * a + there * b for a, b in zip(before, after, strict=True)])


def slow_walk(seed: int, bar: int, player: Player) -> float:
    """Return the slow walk of a player's loudness in a bar, of variance 1."""
    return slow_walks(seed, bar)[LIMBS + _PLAYERS.index(player)]
