"""Progress as data: where the band plays, and where the counts of rounds and rests start."""

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
    """Where the band plays next.

    Attributes:
        chorus: times round the form or the loop, from 1.
        bar: the bar's name in the form; None for the first bar.
        behind: bars of the ending played so far; None before the ending.
        count: bars of count-in left before it.
        played: bars played since the start, without count-ins.
        rounds: times round completed since the start.
        ticks: ticks played since the start, without count-ins, for MIDI song position.
        applied: an edited chart in use before the settings have it; None otherwise.
        looped_from: the last bar of the loop when `bar` starts its next round; None otherwise.
        share: share of the tempo at the end of the bar before; below 1 in a ritard.
        ended_loop: first and last bar of the loop that the ending belongs to; None for the form's.
        circled: rounds of loops among `chorus`, which are no choruses of the form.

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
        """The chorus of the form, from 1, without rounds of loops."""
        return max(self.chorus - self.circled, 1)

    def at_bar(self, bar: BarName) -> Position:
        """Return the position at another bar of the same chorus; a count-in goes on."""
        return replace(self, bar=bar, behind=None, looped_from=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundingBar(PlayedBar):
    """The bar being played.

    Attributes:
        position: the position that it was made at.
        main_bpm: the tempo of parts that have none of their own, in quarter notes a minute.
        name: its name; the part is "count-in" or "ending" outside the form.

    """

    position: Position
    main_bpm: float
    name: BarName

    @property
    def part(self) -> str:
        """The name of its part, "count-in" or "ending"."""
        return self.name[0]

    @property
    def label(self) -> str:
        """The label of its part, such as "A 2" for the second A of the form."""
        return part_label(*self.name[:2])


@dataclass(frozen=True, slots=True)
class Progress:
    """How far the band has played.

    Attributes:
        position: where it plays next.
        loop_since: rounds completed when the loop was set.
        ladder_since: rounds completed when the ladder started.
        rest_since: bars played where the counting of rests starts.

    """

    position: Position = Position()
    loop_since: int = 0
    ladder_since: int = 0
    rest_since: int = 0

    def at(self, position: Position) -> Progress:
        """Return the progress at another position; the counts keep their starts."""
        return replace(self, position=position)

    def resting_from_here(self) -> Progress:
        """Return the progress with rests counted from its position."""
        return replace(self, rest_since=self.position.played)

    def after_change(self, old: LiveSettings, new: LiveSettings) -> Progress:
        """Return the progress after a change of settings at its position.

        A new loop or ladder counts from here; new rests count from the first bar of the loop or
        part.
        """
        changed, position = self, self.position
        if new.loop != old.loop:
            changed = replace(changed, loop_since=position.rounds)
        if new.ladder is not None and new.ladder is not old.ladder:
            changed = replace(changed, ladder_since=position.rounds)
        if new.rest is not None and (new.rest != old.rest or new.loop not in (None, old.loop)):
            changed = replace(changed, rest_since=position.played - bars_passed(new, position))
        return changed

    @property
    def loop_round(self) -> int:
        """The round of the loop, from 1."""
        return max(self.position.rounds - self.loop_since, 0) + 1

    @property
    def ladder_rounds(self) -> int:
        """Rounds completed since the ladder started."""
        return max(self.position.rounds - self.ladder_since, 0)

    def is_rest(self, settings: LiveSettings) -> bool:
        """Return whether the band is silent in the next bar."""
        if settings.rest is None or self.position.behind is not None:
            return False
        silent, of_bars = settings.rest
        return (self.position.played - self.rest_since) % of_bars >= of_bars - silent


def bars_passed(settings: LiveSettings, position: Position) -> int:
    """Return how many bars of the loop, or else of the part, come before a position."""
    loop = settings.loop_in(settings.chart)
    if loop is None:
        return position.bar[2] if position.bar else 0
    names = bar_names(settings.chart)
    step = names.index(position.bar) - loop[0] if position.bar in names else 0
    return step if 0 <= step <= loop[1] - loop[0] else 0


@lru_cache(8)
def bar_names(chart: Chart) -> tuple[BarName, ...]:
    """Return the name of every bar of the form, without a pickup."""
    return tuple(each.name for each in without_pickups(once_round(chart)))


@lru_cache(8)
def all_bar_names(chart: Chart) -> frozenset[BarName]:
    """Return the names of all bars, including intro, pickup and tag."""
    route = Route(chart, 3, has_tag=True)
    return frozenset(name for number in range(route.bars) if (name := route.name_of(number)))


def loop_bar_names(settings: LiveSettings) -> tuple[BarName, ...]:
    """Return the names of the bars of the loop, in order; empty without a loop."""
    loop = settings.loop_in(settings.chart)
    return bar_names(settings.chart)[loop[0] : loop[1] + 1] if loop else ()


def next_part(chart: Chart, name: BarName | None, *, last_time: bool = False) -> BarName:
    """Return the first bar of the part after a bar's; after the first part when there is none.

    After the last part comes the first part without the intro; a tag comes only the last time.
    """
    order, body = chart.order, every_time(chart)
    occurrences = [index for index, part in enumerate(order) if name is None or part == name[0]]
    here = occurrences[min(name[1] if name else 0, len(occurrences) - 1)] if occurrences else -1
    there = here + 1 if here + 1 < (len(order) if last_time else body.stop) else body.start
    return (order[there], order[:there].count(order[there]), 0)
