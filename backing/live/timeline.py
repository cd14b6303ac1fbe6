"""The times of ticks, by anchors: each holds a tick, its time, and the tempo from there on.

Conventions: times are seconds of a steady clock, tempi quarter notes a minute. Times are computed
from an anchor, never summed. A command applies to the moment that the player heard, a little in the
past; so the last anchors are kept, and those after that moment move.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from backing.performance.tempo import TempoChange
from backing.timing import FASTEST_BPM, SLOWEST_BPM

if TYPE_CHECKING:
    from backing.live.agenda import Queued
    from backing.live.source import LiveBar


KEPT_SECONDS = 3.0
"""How long anchors are kept after the next one has begun."""

_MOST_KEPT = 64


@dataclass(frozen=True, slots=True)
class Anchor(TempoChange):
    """A tempo change, in ticks of the transport.

    Attributes:
        bar: its bar; None before the first.
        share: its share of the bar's tempo; below 1 in a ritard.

    """

    bar: LiveBar | None = None
    share: float = 1.0


def tempo_in(bar: LiveBar, main_bpm: float) -> float:
    """Return a bar's tempo at another main tempo; the ratio of the two stays the same."""
    return min(max(bar.bpm / bar.main_bpm * main_bpm, SLOWEST_BPM), FASTEST_BPM)


class Timeline:
    """The last anchors; the owner holds a lock."""

    def __init__(self, bpm: float) -> None:
        self._anchors: deque[Anchor] = deque([Anchor(0, 0.0, bpm)], maxlen=_MOST_KEPT)

    @property
    def now(self) -> Anchor:
        """The last anchor."""
        return self._anchors[-1]

    @property
    def anchors(self) -> tuple[Anchor, ...]:
        """The last anchors in order."""
        return tuple(self._anchors)

    def start(self, time: float, bpm: float) -> None:
        """Start over with tick 0 at a time."""
        self._anchors.clear()
        self._anchors.append(Anchor(0, time, bpm))

    def begin(self, tick: int, time: float, bpm: float, bar: LiveBar) -> None:
        """Start a bar."""
        self._add(Anchor(tick, time, bpm, bar))

    def slow(self, tick: int, time: float, share: float) -> None:
        """Continue the bar at another share of its tempo."""
        now = self.now
        self._add(Anchor(tick, time, now.bpm / now.share * share, now.bar, share))

    def _add(self, anchor: Anchor) -> None:
        kept = self._anchors
        while len(kept) > 1 and kept[1].seconds < anchor.seconds - KEPT_SECONDS:
            kept.popleft()
        if kept[-1].tick == anchor.tick:
            kept.pop()  # it lasted no time
        kept.append(anchor)

    def bar_at(self, time: float) -> LiveBar | None:
        """Return the bar at a time, or the first one kept."""
        bars = [each.bar for each in self._anchors if each.seconds <= time]
        return bars[-1] if bars else self._anchors[0].bar

    def retime(self, since: float, main_bpm: float) -> None:
        """Change the main tempo as of a time, which may lie a little in the past."""
        back: list[Anchor] = []
        while len(self._anchors) > 1 and self.now.seconds > since:
            back.append(self._anchors.pop())
        if since <= self.now.seconds:  # nothing has begun before it
            first = self._anchors.pop()
            self._anchors.append(replace(first, bpm=_at_tempo(first, main_bpm)))
        else:
            self._split(since, main_bpm)
        for anchor in reversed(back):
            time = self.now.seconds_at(anchor.tick)
            self._add(replace(anchor, seconds=time, bpm=_at_tempo(anchor, main_bpm)))

    def _split(self, since: float, main_bpm: float) -> None:
        """Add an anchor at the whole tick nearest to a time."""
        tick = self.now.tick_at(since)
        split = replace(self.now, tick=tick, seconds=since, bpm=_at_tempo(self.now, main_bpm))
        self._add(replace(split, tick=round(tick), seconds=split.seconds_at(round(tick))))


def _at_tempo(anchor: Anchor, main_bpm: float) -> float:
    return (tempo_in(anchor.bar, main_bpm) if anchor.bar else main_bpm) * anchor.share


@dataclass(frozen=True, slots=True)
class View:
    """The bars ahead and the tempi of a transport at one moment.

    Attributes:
        run: the number of the run; ticks start from 0 with each `play`.
        playing: whether time runs.
        anchors: the last tempo changes; empty when time does not run.
        now: the bar being played, with its number; None before the first.
        waiting: the bars made ahead, with their numbers, in order.

    """

    run: int
    playing: bool
    anchors: tuple[Anchor, ...]
    now: tuple[int, Queued] | None
    waiting: tuple[tuple[int, Queued], ...]
