"""The arc: how much the band gives in each chorus, from held back to the peak.

Energy goes from 0 to 1. It rises over plateaus of two or more choruses to a peak and comes down
again, wave after wave, as long as the band plays; the last chorus rises above the one before. It
depends on the seed and the number of the chorus alone, so a performance without a known end has
the same course, and "last time" changes nothing that was played. Figures: ours; that a band builds
over the choruses of a tune and comes down behind some soloists: common practice, no source.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from backing import chance

if TYPE_CHECKING:
    import random

EVEN = 0.5
"""Energy of a single chorus and of a loop, which is practised at one level."""

_SEASON = 48
"""Choruses that are divided into waves at once."""

_SHORTEST_WAVE, _LONGEST_WAVE = 8, 14
_PLATEAUS = (2, 2, 2, 3, 3, 4)
_START, _PEAK, _REST = (0.15, 0.4), (0.75, 1.0), (0.1, 0.45)
"""Ranges of the energy at the start, at the peak and at the end of a wave."""

_RISING_SHARE = 0.65
_LAST_RISE, _LAST_LEAST = 0.15, 0.85


def energy_of(seed: int, chorus: int, *, is_last: bool) -> float:
    """Return the energy of a chorus.

    Args:
        seed: the seed of the performance.
        chorus: from 1.
        is_last: whether it is the last of several; it rises above the chorus before.
    """
    if is_last:
        before = energy_of(seed, chorus - 1, is_last=False)
        return max(min(before + _LAST_RISE, 1.0), _LAST_LEAST)
    season, index = divmod(chorus - 1, _SEASON)
    return _season(seed, season)[index]


@lru_cache(32)
def _season(seed: int, season: int) -> tuple[float, ...]:
    """Return the energies of 48 choruses."""
    source = chance.source(seed, "arc", season)
    found: list[float] = []
    while (left := _SEASON - len(found)) >= 2 * _SHORTEST_WAVE:
        longest = min(_LONGEST_WAVE, left - _SHORTEST_WAVE)
        found += _wave(source, source.randint(_SHORTEST_WAVE, longest))
    return (*found, *_wave(source, left))


def _wave(source: random.Random, choruses: int) -> list[float]:
    """Return the energies of one rise and fall."""
    plateaus = _plateaus(source, choruses)
    start, peak, rest = (source.uniform(*ends) for ends in (_START, _PEAK, _REST))
    top = min(max(round(len(plateaus) * _RISING_SHARE) - 1, 2), len(plateaus) - 1)
    found: list[float] = []
    for index, length in enumerate(plateaus):
        if index <= top:
            height = start + (peak - start) * index / top
        else:
            height = peak + (rest - peak) * (index - top) / max(len(plateaus) - 1 - top, 1)
        found += [height] * length
    return found


def _plateaus(source: random.Random, choruses: int) -> list[int]:
    """Return the lengths of plateaus, each two choruses or more, that fill so many choruses."""
    found: list[int] = []
    while (left := choruses - sum(found)) > _PLATEAUS[-1] + 1:
        found.append(source.choice(_PLATEAUS))
    half = left // 2
    return [*found, half, left - half] if left > 3 else [*found, left]
