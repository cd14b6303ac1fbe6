"""Bars one after the other, each made from the wishes that hold when it begins."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING

from backing.chart.transpose import by_semitones
from backing.notes import without_overlaps
from backing.performance import MOST_CHORUSES, Performance, Settings

if TYPE_CHECKING:
    from collections.abc import Callable

    from backing.band.route import BarName
    from backing.chart.model import Chart
    from backing.harmony.key import Key
    from backing.live.wishes import Wishes
    from backing.notes import Note, Player
    from backing.style.model import Style
    from backing.timing import Meter


@dataclass(frozen=True, slots=True)
class Position:
    """Where the band is: what comes next.

    Attributes:
        chorus: times round, from 1; in a loop the times round the loop.
        bar: the bar's name in the form; None for the first bar.
        behind: bars of the ending already played, or None before the ending.
        count: bars of count-in still to come before it.
        played: bars played since the start or since rests were asked for.
        rounds: times round at an end since the ladder began.
        adopted: whether the chart that was to come in has come in.

    """

    chorus: int = 1
    bar: BarName | None = None
    behind: int | None = None
    count: int = 0
    played: int = 0
    rounds: int = 0
    adopted: bool = False


@dataclass(frozen=True, slots=True)
class LiveBar:
    """A bar to be sent.

    Attributes:
        ticks: its length.
        meter: its meter.
        key: the key that sounds.
        bpm: quarter notes a minute.
        notes: with ticks from its bar line; loose notes may begin a little before it.
        style: the groove, for programs and volumes.
        position: what came before it was made, to make it again.
        part: the name of its part; "count-in" and "ending" for what is no part.
        index: its place in the part, from 0.
        length: bars of the part.
        chorus: from 1.
        chords: the chords in it, as text.
        is_part_start: whether a part begins with it.

    """

    ticks: int
    meter: Meter
    key: Key
    bpm: float
    notes: tuple[Note, ...]
    style: Style
    position: Position
    part: str
    index: int
    length: int
    chorus: int
    chords: tuple[str, ...]
    is_part_start: bool = False


class Source:
    """Makes bars for live playing from the very performance that a file is written from.

    Args:
        seed, looseness, choruses, count_in: as in `Settings`; choruses None goes round until the
            player says "last time".
        on_fault: takes what a player of the band raises.

    """

    def __init__(
        self,
        *,
        seed: int = 1,
        looseness: float = 1.0,
        choruses: int | None = None,
        count_in: int | None = None,
        on_fault: Callable[[Player, Exception], None] | None = None,
    ) -> None:
        self._seed = seed
        self._looseness = looseness
        self._choruses = choruses or MOST_CHORUSES
        self._count_in = count_in
        self._on_fault = on_fault
        self._performance = lru_cache(4)(self._make)

    def performance(self, wishes: Wishes, position: Position) -> Performance:
        """Return the performance that these wishes ask for.

        Raises:
            SettingsError: when they do not fit the chart.

        """
        chart = wishes.coming if wishes.coming and position.adopted else wishes.chart
        chorus = position.chorus if wishes.last_time else self._choruses
        bpm = wishes.ladder.bpm(position.rounds) if wishes.ladder else wishes.bpm
        return self._performance(chart, wishes.style, bpm, wishes.semitones, wishes.loop, chorus)

    def _make(
        self,
        chart: Chart,
        style: str | None,
        bpm: float,
        semitones: int,
        loop: tuple[int, int] | None,
        choruses: int,
    ) -> Performance:
        settings = Settings(
            style=style,
            bpm=bpm,
            choruses=choruses,
            seed=self._seed,
            count_in=self._count_in,
            looseness=self._looseness,
            loop=loop,
        )
        return Performance(by_semitones(chart, semitones), settings, self._on_fault)

    def start(self, wishes: Wishes, position: Position = Position()) -> Position:
        """Return the position with the count-in before it."""
        return replace(position, count=self.performance(wishes, position).count_in_bars)

    def next(self, wishes: Wishes, position: Position) -> tuple[LiveBar, Position | None]:
        """Return the bar that comes, and the position behind it; None when the band has ended."""
        if wishes.coming and (position.bar is None or position.bar[2] == 0):
            position = replace(position, adopted=True)
        performance = self.performance(wishes, position)
        if position.count:
            return self._counted(performance, position)
        number = self._number(performance, position)
        bar = performance.bar(number)
        place = performance.place(number)
        silent = _rests(wishes, position)
        notes = [
            note._replace(tick=note.tick - bar.start)
            for note in bar.notes
            if not silent and note.player not in wishes.muted
        ]
        ending = number >= performance.route.bars
        live = LiveBar(
            ticks=bar.meter.bar_ticks,
            meter=bar.meter,
            key=bar.key.plain(),
            bpm=bar.bpm,
            notes=tuple(without_overlaps(notes)),
            style=place.style if place else performance.style,
            position=position,
            part="ending" if ending or not place else place.road.part,
            index=number - performance.route.bars if ending or not place else place.road.index,
            length=1 if ending or not place else place.road.length,
            chorus=position.chorus,
            chords=tuple(str(chord.plain()) if chord else "N.C." for _, chord in bar.chords),
            is_part_start=bool(place and place.road.is_part_start and not ending),
        )
        return live, self._after(performance, position, number, wishes)

    def _number(self, performance: Performance, position: Position) -> int:
        route = performance.route
        if position.behind is not None:
            return min(route.bars + position.behind, performance.length - 1)
        if position.bar is None and position.chorus == 1:
            return 1 if route.pickup and performance.count_in_bars else 0
        return route.find(position.chorus, position.bar)

    def _after(
        self, performance: Performance, position: Position, number: int, wishes: Wishes
    ) -> Position | None:
        coming = number + 1
        if coming >= performance.length:
            return None
        played = position.played + 1
        if coming >= performance.route.bars:
            return replace(position, behind=coming - performance.route.bars, played=played)
        chorus, _ = performance.route.locate(coming)
        again = chorus != position.chorus
        return replace(
            position,
            chorus=chorus,
            bar=performance.route.name_of(coming),
            played=played,
            rounds=position.rounds + again,
            count=performance.count_in_bars if again and wishes.count_each else 0,
        )

    def _counted(
        self, performance: Performance, position: Position
    ) -> tuple[LiveBar, Position | None]:
        """Return a bar of count-in; only the very start has its pickup in it."""
        bars = performance.count_in_bars
        index = max(bars - position.count, 0)
        starts = position.bar is None and position.chorus == 1 and position.behind is None
        bar = performance.counted(index, with_pickup=starts)
        live = LiveBar(
            ticks=bar.meter.bar_ticks,
            meter=bar.meter,
            key=bar.key.plain(),
            bpm=bar.bpm,
            notes=tuple(note._replace(tick=note.tick - bar.start) for note in bar.notes),
            style=performance.style,
            position=position,
            part="count-in",
            index=index,
            length=bars,
            chorus=position.chorus,
            chords=(),
        )
        return live, replace(position, count=position.count - 1)


def _rests(wishes: Wishes, position: Position) -> bool:
    """Whether the band is silent in the bar that comes."""
    if wishes.rest is None or position.behind is not None:
        return False
    silent, of_bars = wishes.rest
    return position.played % of_bars >= of_bars - silent
