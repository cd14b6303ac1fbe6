"""What shapes a player wants: how many strings, where on the neck.

Conventions: levels are common practice, no source.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from backing.errors import SettingsError

EASY, FULL, SWING = "easy", "full", "swing"


@dataclass(frozen=True, slots=True)
class Level:
    """How many strings a level plays.

    Attributes:
        about: what it is for.
        least, most: how many strings sound, at the fewest and at the most.
        wanted: how many strings cost nothing.
    """

    about: str
    least: int
    most: int
    wanted: int


LEVELS = {
    EASY: Level("two or three strings", 2, 3, 3),
    FULL: Level("four-string chops", 3, 8, 4),
    SWING: Level("sixths and sevenths; shells on the guitar", 3, 4, 3),
}

FEWEST = 2
"""No shape has fewer strings."""


@dataclass(frozen=True, slots=True)
class ShapeRequest:
    """What shapes are wanted.

    Attributes:
        level: one of `LEVELS`.
        rootless: whether the root may be left to the bass.
        strings: how many strings sound, 2 to 8, or None for what the level plays; or just which,
            counted from the treble side as players do: (6, 4, 3).
        lowest, highest: the frets between which fingers press, 1 or more; None is the whole neck.
    """

    level: str = FULL
    rootless: bool = False
    strings: int | tuple[int, ...] | None = None
    lowest: int = 1
    highest: int | None = None

    def __post_init__(self) -> None:
        """Refuse what no shape can be.

        Raises:
            SettingsError: for a level that there is not, too few strings, frets out of order.
        """
        if self.level not in LEVELS:
            raise SettingsError(f"'{self.level}' is not a voicing: choose from {', '.join(LEVELS)}")
        if self.count is not None and self.count < FEWEST:
            raise SettingsError(f"{self.count} strings: a shape has at least {FEWEST}")
        if self.lowest < 1 or (self.highest is not None and self.highest < self.lowest):
            raise SettingsError(
                f"frets {self.lowest} to {self.highest}: write the lower one first, 1 or more"
            )

    @property
    def count(self) -> int | None:
        """How many strings sound, if that is wished."""
        return len(self.strings) if isinstance(self.strings, tuple) else self.strings


def read_strings(text: str) -> int | tuple[int, ...]:
    """Read how many strings sound, `3`, or which, counted from the treble side, `6-4-3`.

    Raises:
        SettingsError: when it is neither.
    """
    if re.fullmatch("[0-9]{1,2}", text, re.ASCII):
        return int(text)
    if re.fullmatch("[1-9](-[1-9])+", text, re.ASCII):
        found = tuple(map(int, text.split("-")))
        if len(set(found)) == len(found):
            return tuple(sorted(found, reverse=True))
    raise SettingsError(
        f"strings {text}: write how many sound, such as 3, or which, the treble string being 1, "
        "such as 6-4-3"
    )
