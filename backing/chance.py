"""Random choices by address instead of from one sequence.

Every choice depends on a seed and an address (player, chorus, bar ...). So a bar can be generated
alone, omitting a player changes no other, and a seed gives the same notes on every machine: only
the standard generator and plain arithmetic are used, no function whose last bit differs between
machines (`fsum`, because the rounding of `sum` differs between versions of Python).
"""

from __future__ import annotations

import hashlib
import random
import struct
from functools import lru_cache
from math import fsum
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from collections.abc import Iterator

Choice = TypeVar("Choice")

_STEPS, _TUKEY = 256, 0.1349
"""How many different normal numbers there are, and the exponent of Tukey's lambda."""

_SHARE = (1 / (1 << 16)).__mul__

_GOLDEN = 0.6180339887498949
"""The fraction of the golden ratio."""


def source(seed: int, *address: str | int) -> random.Random:
    """Return a random generator for this address."""
    return random.Random(_digest(seed, address))


@lru_cache(256)
def unit(seed: int, *address: str | int) -> float:
    """Return a number from 0 up to but not including 1 for this address."""
    return (_digest(seed, address) >> 11) / (1 << 53)


def units(seed: int, *address: str | int, count: int) -> Iterator[float]:
    """Yield as many numbers from 0 to below 1 for this address.

    They cost half of what a generator costs.
    """
    found = struct.unpack(f">{count}H", hashlib.shake_128(_text(seed, address)).digest(2 * count))
    return map(_SHARE, found)


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


@lru_cache(512)
def normals(seed: int, *address: str | int, count: int) -> tuple[float, ...]:
    """Return normal numbers for this address: mean 0, standard deviation 1, at most 2.9 from 0.

    The first numbers do not depend on the count. They cost much less than those of a generator.
    """
    return tuple(map(_NORMAL, hashlib.shake_128(_text(seed, address)).digest(count)))


def _quantile(share: float) -> float:
    """Return the number below which a normal one is with this probability, to four digits.

    It is Tukey's lambda distribution with the exponent nearest to the normal one, from memory.
    """
    found: float = (share**_TUKEY - (1.0 - share) ** _TUKEY) / 0.1975
    return round(found, 4)


_NORMAL = [_quantile((step + 0.5) / _STEPS) for step in range(_STEPS)].__getitem__

MOST_NORMAL = _NORMAL(_STEPS - 1)
"""The greatest of the normal numbers."""


def _digest(seed: int, address: tuple[str | int, ...]) -> int:
    return int.from_bytes(hashlib.blake2b(_text(seed, address), digest_size=8).digest(), "big")


def _text(seed: int, address: tuple[str | int, ...]) -> bytes:
    return "/".join([str(each) for each in (seed, *address)]).encode()
