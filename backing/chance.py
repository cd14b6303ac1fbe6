"""Chance that is addressed, not drawn.

Every random choice is made from a seed and an address (player, chorus, bar ...), so that a bar can
be made alone, leaving a player out changes nobody else, and one seed gives the same notes on every
machine: only the generator of the standard library and plain arithmetic are used, no function
whose last bit may differ between machines (and `fsum` in place of `sum`, whose rounding differs
between versions of Python).
"""

from __future__ import annotations

import hashlib
import random
from functools import lru_cache
from itertools import cycle
from math import fsum
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from collections.abc import Iterator

Choice = TypeVar("Choice")

_TABLE, _STRETCH, _MIXED = 8191, 127, 2741
"""Numbers in the table of noise, how many are taken from one place, and what mixes addresses."""

_GOLDEN = 0.6180339887498949
"""The fraction of the golden ratio."""


def source(seed: int, *address: str | int) -> random.Random:
    """Return a random source for this address."""
    return random.Random(_digest(seed, address))


@lru_cache(256)
def unit(seed: int, *address: str | int) -> float:
    """Return one number from 0 up to but not including 1 for this address."""
    return (_digest(seed, address) >> 11) / (1 << 53)


def even(seed: int, number: int, *address: str | int) -> float:
    """Return one number from 0 up to but not including 1 for each of a run of numbers.

    They cover the range evenly, as fractions of multiples of the golden ratio do: what comes up in
    a share of cases does so at nearly even distances.
    """
    return (unit(seed, *address) + _GOLDEN * number) % 1.0


def pick(chance: random.Random, weighted: tuple[tuple[Choice, float], ...]) -> Choice:
    """Return one of the choices, each as likely as its weight; at least one weight is above 0."""
    rest = chance.random() * fsum(weight for _, weight in weighted)
    for choice, weight in weighted:
        rest -= weight
        if rest < 0:
            return choice
    return max(weighted, key=lambda each: each[1])[0]


def choose(weighted: tuple[tuple[Choice, float], ...], seed: int, *address: str | int) -> Choice:
    """Return one of the choices as `pick` does, by one number for this address."""
    rest = unit(seed, *address) * fsum([weight for _, weight in weighted])
    for choice, weight in weighted:
        rest -= weight
        if rest < 0:
            return choice
    return max(weighted, key=lambda each: each[1])[0]


def spread(chance: random.Random) -> float:
    """Return a number from -3 to 3 that is nearly normal: mean 0, standard deviation 1.

    The sum of three uniform numbers from -1 to 1, whose variance is 3 times 1/3.
    """
    uniform = chance.random
    return 2.0 * (uniform() + uniform() + uniform()) - 3.0


def noise(seed: int, *address: int) -> Iterator[float]:
    """Return endless numbers like those of `spread`, for an address of small whole numbers.

    They are taken from a table by place: much cheaper than a source, and good enough for what
    wobbles. An address has always the same numbers; those of two addresses may overlap.
    """
    place = 0
    for number in address:
        place = (place * _MIXED + number + 1) % _TABLE
    return cycle(_noise_table(seed)[place : place + _STRETCH])


@lru_cache(4)
def _noise_table(seed: int) -> tuple[float, ...]:
    drawn = source(seed, "noise")
    return tuple([spread(drawn) for _ in range(_TABLE + _STRETCH)])


def _digest(seed: int, address: tuple[str | int, ...]) -> int:
    text = "/".join(map(str, (seed, *address)))
    return int.from_bytes(hashlib.blake2b(text.encode(), digest_size=8).digest(), "big")
