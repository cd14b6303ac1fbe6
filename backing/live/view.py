"""What a transport is about to play, at one moment: told to pages."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from backing.live.agenda import Queued
    from backing.live.timeline import Anchor


@dataclass(frozen=True, slots=True)
class View:
    """What a transport is about to play, at one moment.

    Attributes:
        run: how often `play` has begun; ticks begin anew with each.
        playing: whether time runs.
        anchors: the tempi that hold and held, up to now; none when time does not run.
        now: the number of the bar being played and the bar, or None before the first.
        waiting: bars that have been made, by their numbers, in order.
        next_start: where the first bar that has not been made begins, in ticks.

    """

    run: int
    playing: bool
    anchors: tuple[Anchor, ...]
    now: tuple[int, Queued] | None
    waiting: tuple[tuple[int, Queued], ...]
    next_start: int
