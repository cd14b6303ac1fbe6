"""How far the band is, as data: where it plays, and from where rounds and rests are counted."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING

from backing.band.route import Route
from backing.chart.sequence import every_time, once_round, part_label, without_pickups
from backing.performance.performance import PlayedBar

if TYPE_CHECKING:
    from backing.chart.model import Chart
    from backing.chart.sequence import BarName
    from backing.control.settings import LiveSettings


@dataclass(frozen=True, slots=True)
class Position:
    """Where the band is: what comes next.

    Attributes:
        chorus: times round, from 1; in a loop the times round the loop.
        bar: the bar's name in the form; None for the first bar.
        behind: bars of the ending already played, or None before the ending.
        count: bars of count-in still to come before it; no more than there are.
        played: bars played since the start, without count-ins; groups of rests are counted in it.
        rounds: times round that are over since the start.
        ticks: music that is over since the start, without count-ins; song position counts it.
        applied: the edited chart that has come in, until it is the chart of the settings.
        looped_from: the last bar of a loop, when the bar is the first of the next round; None else.
        share: how much of the tempo held at the end of the bar before; below 1 where it slows down.
        ended_loop: the loop whose ending is played, first and last bar; None for another ending.
        circled: rounds of loops that `chorus` counts and that were no choruses.

    """

    chorus: int = 1
    bar: BarName | None = None
    behind: int | None = None
    count: int = 0
    played: int = 0
    rounds: int = 0
    ticks: int = 0
    applied: Chart | None = None
    looped_from: BarName | None = None
    share: float = 1.0
    ended_loop: tuple[int, int] | None = None
    circled: int = 0

    @property
    def form_chorus(self) -> int:
        """Which time round the form it is, from 1, however often loops went round."""
        return max(self.chorus - self.circled, 1)

    def at_bar(self, bar: BarName) -> Position:
        """Return the position at another bar of its chorus; a count-in that has begun goes on."""
        return replace(self, bar=bar, behind=None, looped_from=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundingBar(PlayedBar):
    """The bar being played.

    Attributes:
        position: what came before it was made, to make it again.
        main_bpm: the tempo of parts that have none of their own, in quarter notes a minute.
        name: what players call it; "count-in" and "ending" stand for the name of a part.

    """

    position: Position
    main_bpm: float
    name: BarName

    @property
    def part(self) -> str:
        """The name of its part; "count-in" and "ending" for what is no part."""
        return self.name[0]

    @property
    def label(self) -> str:
        """What players call the part, such as "A 2" for the second A of the form."""
        return part_label(*self.name[:2])


@dataclass(frozen=True, slots=True)
class Progress:
    """How far the band is.

    Attributes:
        position: where it is.
        loop_since: rounds that were over when the loop was set.
        ladder_since: rounds that were over when the ladder began.
        rest_since: bars that were over where the groups with rests are counted from.

    """

    position: Position = Position()
    loop_since: int = 0
    ladder_since: int = 0
    rest_since: int = 0

    def at(self, position: Position) -> Progress:
        """Return the progress at another position, counted from where it was."""
        return replace(self, position=position)

    def resting_from_here(self) -> Progress:
        """Return the progress with rests counted from its position on."""
        return replace(self, rest_since=self.position.played)

    def after_change(self, old: LiveSettings, new: LiveSettings) -> Progress:
        """Return the progress after a change of settings at its position.

        A new loop and a new ladder count from here, new rests from the first bar of this part, in
        a loop from its first bar.
        """
        changed, position = self, self.position
        if new.loop != old.loop:
            changed = replace(changed, loop_since=position.rounds)
        if new.ladder is not None and new.ladder is not old.ladder:
            changed = replace(changed, ladder_since=position.rounds)
        if new.rest is not None and (new.rest != old.rest or new.loop not in (None, old.loop)):
            changed = replace(changed, rest_since=position.played - bars_behind(new, position))
        return changed

    @property
    def loop_round(self) -> int:
        """Which time round the loop it is, from 1."""
        return max(self.position.rounds - self.loop_since, 0) + 1

    @property
    def ladder_rounds(self) -> int:
        """How many rounds are over since the ladder began."""
        return max(self.position.rounds - self.ladder_since, 0)

    def is_rest(self, settings: LiveSettings) -> bool:
        """Return whether the band is silent in the bar that comes."""
        if settings.rest is None or self.position.behind is not None:
            return False
        silent, of_bars = settings.rest
        return (self.position.played - self.rest_since) % of_bars >= of_bars - silent


def bars_behind(settings: LiveSettings, position: Position) -> int:
    """Return how many bars of its part, or of the loop, lie behind a position."""
    loop = settings.loop_in(settings.chart)
    if loop is None:
        return position.bar[2] if position.bar else 0
    names = bar_names(settings.chart)
    step = names.index(position.bar) - loop[0] if position.bar in names else 0
    return step if 0 <= step <= loop[1] - loop[0] else 0


@lru_cache(8)
def bar_names(chart: Chart) -> tuple[BarName, ...]:
    """Return the name of every bar of the whole form, its pickup left out."""
    return tuple(each.name for each in without_pickups(once_round(chart)))


@lru_cache(8)
def every_bar(chart: Chart) -> frozenset[BarName]:
    """Return the names of all bars that are ever played, intro, pickup and tag among them."""
    route = Route(chart, 3, has_tag=True)
    return frozenset(name for number in range(route.bars) if (name := route.name_of(number)))


def looped_bars(settings: LiveSettings) -> tuple[BarName, ...]:
    """Return the names of the bars of the loop, in order; none without a loop."""
    loop = settings.loop_in(settings.chart)
    return bar_names(settings.chart)[loop[0] : loop[1] + 1] if loop else ()


def next_part(chart: Chart, name: BarName | None, *, last_time: bool = False) -> BarName:
    """Return the first bar of the part behind a bar; without one, behind the chart's first part.

    Behind the last part comes the first one that is no intro; tags come the last time only.
    """
    order, body = chart.order, every_time(chart)
    turns = [index for index, part in enumerate(order) if name is None or part == name[0]]
    here = turns[min(name[1] if name else 0, len(turns) - 1)] if turns else -1
    there = here + 1 if here + 1 < (len(order) if last_time else body.stop) else body.start
    return (order[there], order[:there].count(order[there]), 0)
