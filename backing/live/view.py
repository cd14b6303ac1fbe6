"""The state of a transport at one moment, for pages."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from backing.live.agenda import Queued
    from backing.live.timeline import Anchor


@dataclass(frozen=True, slots=True)
class View:
    """The bars ahead and the tempi of a transport at one moment.

    Attributes:
        run: the number of the run; ticks start from 0 with each `play`.
        playing: whether time runs.
        anchors: the last tempo changes; empty when time does not run.
        now: the bar being played, with its number; None before the first.
        waiting: the bars made ahead, with their numbers, in order.
        next_start: the start of the bar made next, in ticks.

    """

    run: int
    playing: bool
    anchors: tuple[Anchor, ...]
    now: tuple[int, Queued] | None
    waiting: tuple[tuple[int, Queued], ...]
    next_start: int
