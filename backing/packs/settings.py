"""What is wished of a pack."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from backing.timing import SLOWEST_BPM, Tempo, practice_grid

if TYPE_CHECKING:
    from backing.notes import Player
    from backing.out.audio import RecordingSettings
    from backing.performance.settings import Settings
    from backing.timing import WrittenTempo

MOST_KEYS = 12
TIMES_ROUND = 8
"""How often a part is looped."""

_SHARES = (0.6, 0.75, 0.9, 1.0)
"""Tempi for practice as shares of the goal (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class PackSettings:
    """What is wished of a pack.

    Attributes:
        settings: how the band plays and which shapes its chop and the sheet have; tempo and loop
            are the pack's.
        tempi: as written, in any order; none for shares of the chart's tempo.
        keys: keys to play in; none for the chart's.
        parts: parts to loop; None for all.
        minus: who is left out, each in versions of its own.
        ending: of the recordings, one of `formats.FORMATS`.
        sound: how the recordings sound.
        left: whether the sheet's shapes are drawn for a left hand.
    """

    settings: Settings
    tempi: tuple[WrittenTempo, ...]
    keys: tuple[str, ...]
    parts: tuple[str, ...] | None
    minus: tuple[Player, ...]
    ending: str
    sound: RecordingSettings
    left: bool = False


def usual_tempi(goal: Tempo) -> tuple[Tempo, ...]:
    """Return tempi from slow to the goal: round numbers below it in its unit, and itself."""
    grid = practice_grid(goal)
    slow = {float(round(goal.bpm * share / grid) * grid) for share in _SHARES[:-1]}
    tempi = (Tempo(bpm, goal.unit) for bpm in sorted(slow) if bpm < goal.bpm)
    return (*(tempo for tempo in tempi if tempo.quarter_bpm >= SLOWEST_BPM), goal)
