"""Finds the known name nearest to a misspelt one, for all messages."""

from __future__ import annotations

import difflib
from itertools import islice
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

_LONGEST_WORD = 60
_MOST_CHOICES = 2000


def nearest(word: str, choices: Iterable[str], least: float = 0.6) -> str:
    """Return the choice most similar to a word, or "" if none is similar.

    A choice that is similar as written wins over one that is similar only without case.

    Args:
        word: the word; only its first 60 characters count.
        choices: the known names; only the first 2000 count.
        least: the least similarity, from 0 to 1, as `difflib` measures it.
    """
    word, names = word[:_LONGEST_WORD], list(islice(choices, _MOST_CHOICES))
    folded = {name.casefold(): name for name in reversed(names)}
    for near in difflib.get_close_matches(word, names, n=1, cutoff=least):
        return near
    for near in difflib.get_close_matches(word.casefold(), folded, n=1, cutoff=least):
        return folded[near]
    return ""


def did_you_mean(name: str) -> str:
    """Return the end of a sentence that suggests a name, or "" without a name."""
    return f"; did you mean '{name}'?" if name else ""
