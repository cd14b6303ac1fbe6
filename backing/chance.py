"""Random choices by address instead of from one sequence.

Every choice depends on a seed and an address (player, chorus, bar ...). So a bar can be generated
alone, omitting a player changes no other, and a seed gives the same notes on every machine: only
the standard generator and plain arithmetic are used, no function whose last bit differs between
machines (`fsum`, because the rounding of `sum` differs between versions of Python).
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
"""Size of the noise table, numbers per address, and the multiplier that mixes addresses."""

_GOLDEN = 0.6180339887498949
"""The fraction of the golden ratio."""


def source(seed: int, *address: str | int) -> random.Random:
    """Return a random generator for this address."""
    return random.Random(_digest(seed, address))


@lru_cache(256)
def unit(seed: int, *address: str | int) -> float:
    """Return a number from 0 up to but not including 1 for this address."""
    return (_digest(seed, address) >> 11) / (1 << 53)


def even(seed: int, number: int, *address: str | int) -> float:
    """Return number `number` of an evenly spread series for this address, from 0 to below 1.

    Multiples of the golden ratio modulo 1 cover the range evenly, so a choice with a given share
    occurs at nearly even distances.
    """
    return (unit(seed, *address) + _GOLDEN * number) % 1.0


def pick(chance: random.Random, weighted: tuple[tuple[Choice, float], ...]) -> Choice:
    """Return one of the choices, each as likely as its weight; at least one weight is above 0."""
    return _at(chance.random(), weighted)


def choose(weighted: tuple[tuple[Choice, float], ...], seed: int, *address: str | int) -> Choice:
    """Return one of the choices as `pick` does, by the number of this address."""
    return _at(unit(seed, *address), weighted)


def _at(share: float, weighted: tuple[tuple[Choice, float], ...]) -> Choice:
    """Return the choice at a share of the total weight, from 0 to below 1."""
    rest = share * fsum([weight for _, weight in weighted])
    for choice, weight in weighted:
        rest -= weight
        if rest < 0:
            return choice
    return max(weighted, key=lambda each: each[1])[0]


def spread(chance: random.Random) -> float:
    """Return a nearly normal number from -3 to 3: mean 0, standard deviation 1.

    It is the sum of three uniform numbers from -1 to 1, of variance 1/3 each.
    """
    uniform = chance.random
    return 2.0 * (uniform() + uniform() + uniform()) - 3.0


def noise(seed: int, *address: int) -> Iterator[float]:
    """Return endless numbers like those of `spread`, for an address of small whole numbers.

    They come from a table, much cheaper than a generator and good enough to humanize. An address
    always gives the same numbers; those of two addresses can overlap.
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
