"""The narrow waist: what players return and what every sink takes."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable


class Player(StrEnum):
    """Who plays a note."""

    BASS = "bass"
    CHOP = "chop"
    DRUMS = "drums"


@dataclass(frozen=True, slots=True, order=True)
class Note:
    """One note of one player.

    Attributes:
        tick: where it starts, in ticks from the start of the performance.
        player: who plays it.
        pitch: MIDI key, 0 to 127; for drums the General MIDI percussion key.
        velocity: 1 to 127.
        length: in ticks, at least 1.

    """

    tick: int
    player: Player
    pitch: int
    velocity: int
    length: int

    @property
    def end(self) -> int:
        """The tick at which the note ends."""
        return self.tick + self.length


def without_overlaps(notes: Iterable[Note]) -> list[Note]:
    """Return the notes in order of ticks, no key of a player struck while it sounds.

    A note that is still sounding when its key is struck again is shortened to end there; of two
    strokes of one key on one tick the louder stays.
    """
    lanes: dict[tuple[Player, int], list[Note]] = defaultdict(list)
    for note in sorted(notes):
        lane = lanes[note.player, note.pitch]
        if lane and lane[-1].tick == note.tick:
            lane[-1] = max(lane[-1], note, key=lambda each: each.velocity)
            continue
        if lane and lane[-1].end > note.tick:
            lane[-1] = replace(lane[-1], length=note.tick - lane[-1].tick)
        lane.append(note)
    return sorted(note for lane in lanes.values() for note in lane)
