"""The settings of a pack, and its usual tempi."""

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
"""Times that a part is looped."""

_SHARES = (0.6, 0.75, 0.9, 1.0)
"""Practice tempi as shares of the goal (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class PackSettings:
    """The settings of a pack.

    Attributes:
        settings: how the band plays, with the fretting of chop and sheet; its tempo and loop are
            ignored.
        tempi: the tempi as written, in any order; none for shares of the chart's tempo.
        keys: the keys; none for the chart's.
        parts: the parts to loop; None for all.
        minus: the players to leave out, each in recordings of its own.
        ending: the format of the recordings, a key of `formats.FORMATS`.
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
    """Return round tempi from slow to the goal, and the goal, in its unit."""
    grid = practice_grid(goal)
    slow = {float(round(goal.bpm * share / grid) * grid) for share in _SHARES[:-1]}
    tempi = (Tempo(bpm, goal.unit) for bpm in sorted(slow) if bpm < goal.bpm)
    return (*(tempo for tempo in tempi if tempo.quarter_bpm >= SLOWEST_BPM), goal)
