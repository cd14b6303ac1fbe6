"""What is wished of a pack."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from backing.live.wishes import Ladder

if TYPE_CHECKING:
    from pathlib import Path

    from backing.notes import Player
    from backing.performance import Settings

MOST_TEMPI, MOST_KEYS = 12, 12
TIMES_ROUND = 8
"""How often a part is looped."""

_MOST_RUNGS = 8
_GRID_BPM = 5
_SHARES = (0.6, 0.75, 0.9, 1.0)
"""Tempi for practice as shares of the goal (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class PackWish:
    """What is wished of a pack.

    Attributes:
        settings: how the band plays and which shapes its chop and the sheet have; tempo, loop and
            who plays are the pack's.
        tempi: quarter notes a minute, ascending; none for shares of the chart's tempo.
        keys: keys to play in; none for the chart's.
        parts: parts to loop; None for all.
        minus: who is left out, each in versions of its own.
        ending: of the recordings, one of `formats.FORMATS`.
        font: a SoundFont 2 file.
        mono: whether left and right are made one.
        left: whether the sheet's shapes are drawn for a left hand.
    """

    settings: Settings
    tempi: tuple[float, ...]
    keys: tuple[str, ...]
    parts: tuple[str, ...] | None
    minus: tuple[Player, ...]
    ending: str
    font: Path
    mono: bool
    left: bool = False


def usual_tempi(goal_bpm: float) -> tuple[float, ...]:
    """Return tempi from slow to the goal, as one sets them."""
    slow = [float(round(goal_bpm * share / _GRID_BPM) * _GRID_BPM) for share in _SHARES[:-1]]
    return tuple(sorted({*(bpm for bpm in slow if bpm >= 20), goal_bpm}))


def rungs(tempi: tuple[float, ...]) -> tuple[float, ...]:
    """Return the tempi of a ladder from the slowest to the fastest, at most nine of them."""
    start, goal = min(tempi), max(tempi)
    step = _GRID_BPM
    while (goal - start) / step > _MOST_RUNGS:
        step += _GRID_BPM
    return tuple(Ladder(start, goal, step).rungs())
