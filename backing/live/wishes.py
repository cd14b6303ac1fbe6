"""What the player wishes, as one value that is swapped whole.

Live settings are never changed in parts: a command makes a new `Wishes` from the old one, and the
band takes it up at a musical boundary. Tempo and loudness count at once; key, style, who plays and
loop at the next bar line; "last time" at the end of the chorus.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from backing.notes import Player
from backing.timing import FASTEST_BPM, SLOWEST_BPM

if TYPE_CHECKING:
    from backing.chart.model import Chart

FULL_LEVEL = 100


@dataclass(frozen=True, slots=True)
class Ladder:
    """A tempo that climbs.

    Attributes:
        start_bpm, goal_bpm: quarter notes a minute.
        step_bpm: how much faster, or slower when the goal is below, above 0.
        every: times round at each tempo, from 1.
        back: whether it goes down again after the goal.

    """

    start_bpm: float
    goal_bpm: float
    step_bpm: float = 5.0
    every: int = 2
    back: bool = False

    def bpm(self, rounds: int) -> float:
        """Return the tempo after so many rounds are over; it ends exactly at its goal."""
        rungs = self.rungs()
        return rungs[min(rounds // self.every, len(rungs) - 1)]

    def rungs(self) -> list[float]:
        """Return the tempi in order, the goal among them, and back to the start when asked."""
        way = self.goal_bpm - self.start_bpm
        whole = int(abs(way) // self.step_bpm)
        sign = 1 if way > 0 else -1
        up = [self.start_bpm + sign * self.step_bpm * rung for rung in range(whole + 1)]
        if up[-1] != self.goal_bpm:
            up.append(self.goal_bpm)
        return up + up[-2::-1] if self.back else up


@dataclass(frozen=True, slots=True)
class Wishes:
    """What the player wishes.

    Attributes:
        chart: the chart as written; the key is applied on top.
        coming: a chart that takes its place at the next part, or None.
        style: a groove for the chart, or None for its own.
        bpm: quarter notes a minute, 20 to 500.
        semitones: how much higher than written, -24 to 24.
        muted: who is silent.
        levels: loudness of each player in percent, 0 to 150.
        level: loudness of all in percent, 0 to 150.
        loop: first and last bar to go round, from 0, or None.
        last_time: whether this chorus is the last.
        ladder: a climbing tempo, or None.
        rest: (bars, of how many) in which the band is silent at the end of each group, or None.
        count_each: whether every round of a loop is counted in.

    """

    chart: Chart
    bpm: float
    style: str | None = None
    semitones: int = 0
    muted: frozenset[Player] = frozenset()
    levels: tuple[tuple[Player, int], ...] = field(
        default=tuple((player, FULL_LEVEL) for player in Player)
    )
    level: int = FULL_LEVEL
    loop: tuple[int, int] | None = None
    last_time: bool = False
    ladder: Ladder | None = None
    rest: tuple[int, int] | None = None
    count_each: bool = False
    coming: Chart | None = None

    def at_tempo(self, bpm: float) -> Wishes:
        """Return the wishes at another tempo, kept to what the band can play; a ladder ends."""
        return replace(self, bpm=min(max(bpm, SLOWEST_BPM), FASTEST_BPM), ladder=None)

    def volume(self, player: Player) -> float:
        """Return a player's loudness as a factor."""
        return dict(self.levels)[player] * self.level / FULL_LEVEL**2
