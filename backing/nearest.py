"""The name that is most like a misspelt one, for every message that suggests one."""

from __future__ import annotations

import difflib
from itertools import islice
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

_LONGEST_WORD = 60
_MOST_CHOICES = 2000


def nearest(word: str, choices: Iterable[str], least: float = 0.6) -> str:
    """Return the choice that is most like a word, or "" where none is like it.

    A choice that is like the word as it is written wins over one that is like it only where
    capital and small letters are the same.

    Args:
        word: what was written; its first 60 characters count.
        choices: the names there are; the first 2000 count.
        least: how alike the two must be, from 0 to 1, as `difflib` measures it.
    """
    word, names = word[:_LONGEST_WORD], list(islice(choices, _MOST_CHOICES))
    small = {name.casefold(): name for name in reversed(names)}
    for near in difflib.get_close_matches(word, names, n=1, cutoff=least):
        return near
    for near in difflib.get_close_matches(word.casefold(), small, n=1, cutoff=least):
        return small[near]
    return ""


def did_you_mean(name: str) -> str:
    """Return the end of a sentence that suggests a name, or "" where there is none."""
    return f"; did you mean '{name}'?" if name else ""
