"""Ways: how a bar of a plain line is turned, so that a line does not come back soon.

In two or over a figure a bar has few notes to choose from, and lines drawn by chance soon come
back. So each bar of each chorus has one of six ways. Two bars in a row have one of 36 pairs of
ways, each of them once in 36 choruses: no two bars of a chorus come back before. What the ways are,
and that there are six: ours.
"""

from __future__ import annotations

from functools import lru_cache

from backing import chance

BELOW, ABOVE, OTHER, OCTAVE, PASSES, DOTTED = range(6)
"""The second note lies below the first, above it, is another tone or the octave; a note passes to
the next bar; a note is repeated before the beat."""

_WAYS = 6
_CHORUSES = _WAYS * _WAYS


def way_of(seed: int, chorus: int, step: int) -> int:
    """Return the way of a bar.

    Args:
        seed: the seed of the performance.
        chorus: from 1.
        step: the bar's index in its chorus, from 0.
    """
    pair = _shuffled(seed, _CHORUSES, -1)[chorus % _CHORUSES]
    return _shuffled(seed, _WAYS, step)[divmod(pair, _WAYS)[step % 2]]


@lru_cache(256)
def _shuffled(seed: int, size: int, step: int) -> tuple[int, ...]:
    found = list(range(size))
    chance.source(seed, "ways", step).shuffle(found)
    return tuple(found)
