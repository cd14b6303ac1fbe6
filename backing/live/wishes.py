"""What the player wishes, as one value that is swapped whole.

Conventions: a loop is kept as the player said it, `A`, `A 2`, `A-B` or `5-8` with bars counted from
1 through the whole form, so that it means the same part after the chart has been edited. `A 2` is
the second A of the form.

Live settings are never changed in parts: a command makes a new `Wishes` from the old one, and the
band takes it up at a musical boundary. Tempo and loudness count at once; key, style, who plays and
loop at the next bar line; "last time" at the end of the chorus.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from backing.band.lead import EVERY_TIME, LeadWish
from backing.chart.grooves import usual_style
from backing.chart.selection import bars_of
from backing.chart.transpose import by_semitones
from backing.errors import BackingError, SettingsError
from backing.fretboard.fretting import AS_THE_STYLE, FrettingWish
from backing.notes import RHYTHM, Player
from backing.performance import Performance, Settings
from backing.style.library import find_style, wished_style
from backing.timing import FASTEST_BPM, QUARTER, SLOWEST_BPM, Tempo

if TYPE_CHECKING:
    from backing.chart.model import Chart
    from backing.style.model import Style

FULL_LEVEL, LOUDEST = 100, 150
"""Loudness in percent: as it is played, and the most."""

SMALLEST_STEP_BPM = 0.1
"""The least by which a ladder climbs, in units a minute."""


class VerbError(BackingError):
    """A line that is no wish, or a wish that cannot be met."""


@dataclass(frozen=True, slots=True)
class Ladder:
    """A tempo that climbs.

    Attributes:
        start_bpm, goal_bpm: units a minute.
        step_bpm: how much faster, or slower when the goal is below, 0.1 or more.
        every: times round at each tempo, from 1.
        back: whether it goes down again after the goal.
        unit: the note that is counted.

    """

    start_bpm: float
    goal_bpm: float
    step_bpm: float = 5.0
    every: int = 2
    back: bool = False
    unit: str = QUARTER

    def bpm(self, rounds: int) -> float:
        """Return quarter notes a minute after so many rounds; it ends exactly at its goal."""
        rungs = self.rungs()
        return Tempo(rungs[min(rounds // self.every, len(rungs) - 1)], self.unit).quarter_bpm

    def rungs(self) -> list[float]:
        """Return the tempi in order, the goal among them, and back to the start when asked.

        They are in units a minute.
        """
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
        fretting: what is asked of the chop's shapes.
        coming: a chart that takes its place at the next part, or None.
        coming_bpm: the tempo that comes with it, in quarter notes a minute; None keeps the tempo.
        style: a groove for the chart, or None for its own.
        bpm: quarter notes a minute, 20 to 500.
        semitones: how much higher than written, -24 to 24.
        muted: who is silent.
        called: who plays even where the style lets that player sit out.
        levels: loudness of each player in percent, 0 to 150.
        level: loudness of all in percent, 0 to 150.
        loop: what to go round, `A`, `A 2`, `A-B` or `5-8`, or None.
        loop_since: times round that were over when the loop was wished.
        last_time: whether this chorus is the last.
        ladder: a climbing tempo, or None.
        ladder_since: times round that were over when the ladder began.
        rest: (bars, of how many) in which the band is silent at the end of each group, or None.
        rest_since: bars that were over where the groups are counted from.
        count_each: whether every round of a loop is counted in.
        lead: how the melody is played.
        before: who was muted and called before one player played alone, or None.

    """

    chart: Chart
    bpm: float
    style: str | None = None
    semitones: int = 0
    muted: frozenset[Player] = frozenset()
    called: frozenset[Player] = frozenset()
    levels: tuple[tuple[Player, int], ...] = field(
        default=tuple((player, FULL_LEVEL) for player in Player)
    )
    level: int = FULL_LEVEL
    loop: str | None = None
    loop_since: int = 0
    last_time: bool = False
    ladder: Ladder | None = None
    ladder_since: int = 0
    rest: tuple[int, int] | None = None
    rest_since: int = 0
    count_each: bool = False
    fretting: FrettingWish = AS_THE_STYLE
    coming: Chart | None = None
    coming_bpm: float | None = None
    lead: LeadWish = EVERY_TIME
    before: tuple[frozenset[Player], frozenset[Player]] | None = None

    @property
    def band(self) -> tuple[Player, ...]:
        """Who there is: the lead only where the chart has a melody."""
        return (*RHYTHM, Player.LEAD) if self.chart.lead else RHYTHM

    def at_tempo(self, bpm: float) -> Wishes:
        """Return the wishes at another tempo, kept to what the band can play; a ladder ends."""
        bpm = min(max(bpm, SLOWEST_BPM), FASTEST_BPM)
        return replace(self, bpm=bpm, ladder=None, coming_bpm=None)

    def plays(self, player: Player, style: Style | None = None) -> bool:
        """Return whether a player is heard in a style; without one, in that of the whole chart."""
        if player not in self.band:
            return False
        if player in self.muted or player in self.called:
            return player not in self.muted
        chart = self.chart
        if style is None and self.style:
            style = wished_style(self.style)
        style = style or find_style(chart.style or usual_style(chart.meter))
        return player not in style.sits_out

    def with_players(self, playing: frozenset[Player]) -> Wishes:
        """Return the wishes with just these players, whether or not the style lets them sit out."""
        alone = self.before or (self.muted, self.called) if len(playing) == 1 else None
        return replace(self, muted=frozenset(Player) - playing, called=playing, before=alone)

    def with_those_before(self) -> Wishes:
        """Return the wishes with who played before one played alone."""
        muted, called = self.before or (frozenset[Player](), frozenset[Player]())
        return replace(self, muted=muted, called=called, before=None)

    def volume(self, player: Player) -> float:
        """Return a player's loudness as a factor."""
        return dict(self.levels)[player] * self.level / FULL_LEVEL**2

    def loop_in(self, chart: Chart) -> tuple[int, int] | None:
        """Return the first and last bar of the loop in a chart, from 0.

        None without a loop, and when the chart has no such part or bar.
        """
        try:
            return bars_of(chart, self.loop) if self.loop else None
        except SettingsError:
            return None

    def edited(self, chart: Chart) -> Wishes:
        """Return the wishes with an edited chart to come; its tempo counts if the edit is there."""
        is_new = chart.tempo is not None and chart.tempo != self.chart.tempo
        bpm = chart.tempo.quarter_bpm if chart.tempo and is_new and not self.ladder else None
        return replace(self, coming=chart, coming_bpm=bpm)

    def with_coming(self) -> Wishes:
        """Return the wishes once the chart that was to come in has come in."""
        if self.coming is None:
            return self
        loop = self.loop if self.loop_in(self.coming) else None
        return replace(
            self,
            chart=self.coming,
            coming=None,
            coming_bpm=None,
            loop=loop,
            bpm=self.coming_bpm or self.bpm,
        )


def check_shapes(wishes: Wishes) -> None:
    """Find out whether each chord of the chart can be held as the chop is asked to hold it.

    Raises:
        BackingError: when one cannot.

    """
    chart = by_semitones(wishes.chart, wishes.semitones)
    settings = Settings(style=wishes.style, called=frozenset(Player), fretting=wishes.fretting)
    Performance(chart, settings).voicings.find()
