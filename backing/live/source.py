"""Makes the bars of live playing, each from the current settings."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING

from backing.chart.transpose import by_semitones
from backing.control.progress import Position, Progress, SoundingBar, bar_names
from backing.notes import Player, without_overlaps
from backing.performance.performance import Performance
from backing.performance.settings import MOST_CHORUSES

if TYPE_CHECKING:
    from collections.abc import Callable

    from backing.chart.model import Chart
    from backing.chart.sequence import BarName
    from backing.control.settings import LiveSettings
    from backing.notes import Note
    from backing.performance.performance import PlayedBar
    from backing.performance.settings import Settings


COUNT_IN, ENDING = "count-in", "ending"
"""Names in place of a part's, for bars outside the form."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LiveBar(SoundingBar):
    """A bar to be sent; ticks count from its bar line, chords are as written.

    Attributes:
        length: number of bars of its part.
        chorus: the chorus of the form, from 1.
        share: share of the tempo at its end; below 1 in a ritard.

    """

    length: int
    chorus: int
    share: float = 1.0

    @property
    def ticks(self) -> int:
        """Its length in ticks."""
        return self.meter.bar_ticks

    @property
    def index(self) -> int:
        """Its index in the part, from 0."""
        return self.name[2]


class Source:
    """Makes live bars from the same performance as a file.

    Args:
        on_error: receives exceptions of the band's players.

    """

    def __init__(self, on_error: Callable[[Player, Exception], None] | None = None) -> None:
        self._on_error = on_error
        self._performance = lru_cache(2)(self._make)

    def performance(self, settings: LiveSettings, progress: Progress) -> Performance:
        """Return the performance for settings and progress.

        Raises:
            SettingsError: when they do not fit the chart.

        """
        position = progress.position
        if position.applied is not None and position.applied is settings.pending:
            settings = settings.applied()
        choruses = MOST_CHORUSES if settings.endless else settings.base.choruses
        ladder = settings.ladder
        performed = settings.performed(
            ladder.bpm(progress.ladder_rounds) if ladder else settings.bpm,
            settings.loop_in(settings.chart) if position.behind is None else position.ended_loop,
            position.chorus if settings.last_time else choruses,
        )
        return self._performance(settings.chart, settings.semitones, performed)

    def check(self, settings: LiveSettings, progress: Progress) -> None:
        """Check that the band can play the settings, with the pending chart and without it.

        Raises:
            SettingsError: when they do not fit the chart.

        """
        self.performance(settings, progress)
        if settings.pending is not None:
            position = replace(progress.position, applied=settings.pending)
            self.performance(settings, progress.at(position))

    def _make(self, chart: Chart, semitones: int, performed: Settings) -> Performance:
        return Performance(by_semitones(chart, semitones), performed, self._on_error)

    def start(self, settings: LiveSettings, progress: Progress) -> Position:
        """Return the position with a count-in before it."""
        bars = self.performance(settings, progress).count_in.bars
        return replace(progress.position, count=bars, share=1.0)

    def next(self, settings: LiveSettings, progress: Progress) -> tuple[LiveBar, Position | None]:
        """Return the next bar and the position after it; None for the position at the end."""
        position = progress.position
        if settings.pending is not None and self._is_part_start(settings, progress):
            position = replace(position, applied=settings.pending)
        performance = self.performance(settings, progress.at(position))
        if position.looped_from and not performance.settings.loop:
            position = _after_loop(performance, position)
        if _is_first_time_only(performance, position):
            position = replace(position, chorus=1, circled=0)
            performance = self.performance(settings, progress.at(position))
        count = min(position.count, performance.count_in.bars)
        if count:
            return self._count_in_bar(performance, replace(position, count=count), settings)
        number = _bar_number(performance, position)
        bar = performance.bar(number)
        silent = progress.at(position).is_rest(settings)
        playing = {player for player in Player if settings.plays(player, bar.style)}
        (_, bpm), *slower = performance.tempo.of_bar(number, position.share)
        name, length = _name_and_length(performance, number)
        live = _live_bar(
            replace(bar, bpm=bpm, slower=tuple(slower)),
            lambda note: not silent and note.player in playing,
            position=position,
            main_bpm=performance.bpm,
            name=name,
            length=length,
            share=performance.tempo.shares(number, position.share)[-1][1],
        )
        return live, self._after(performance, position, number, settings, live)

    def _is_part_start(self, settings: LiveSettings, progress: Progress) -> bool:
        """Return whether a part, the form or the loop starts at the position."""
        position = progress.position
        if position.behind is not None:
            return False
        if position.bar is None or position.bar[2] == 0:
            return True
        performance = self.performance(settings, progress)
        return _bar_number(performance, position) == performance.route.find(position.chorus, None)

    def _after(
        self,
        performance: Performance,
        position: Position,
        number: int,
        settings: LiveSettings,
        live: LiveBar,
    ) -> Position | None:
        following = number + 1
        if following >= performance.length:
            return None
        after = replace(
            position,
            played=position.played + 1,
            ticks=position.ticks + live.ticks,
            share=live.share,
        )
        if following >= performance.route.bars:
            extra = following - performance.route.bars
            return replace(after, behind=extra, ended_loop=performance.settings.loop)
        chorus, _ = performance.route.locate(following)
        new_chorus = chorus != position.chorus
        in_loop = performance.settings.loop is not None
        circled = position.circled + (new_chorus and in_loop)
        if new_chorus and settings.endless and chorus >= MOST_CHORUSES:
            chorus, circled = 2, int(in_loop)
        return replace(
            after,
            chorus=chorus,
            bar=performance.route.name_of(following),
            looped_from=performance.route.name_of(number) if new_chorus and in_loop else None,
            rounds=position.rounds + new_chorus,
            count=performance.count_in.bars if new_chorus and settings.base.count_each else 0,
            circled=circled,
        )

    def _count_in_bar(
        self, performance: Performance, position: Position, settings: LiveSettings
    ) -> tuple[LiveBar, Position | None]:
        """Return a bar of count-in and the position after it.

        The pickup is included at the start of the tune only. Clicks sound even without the drums.
        """
        bars = performance.count_in.bars
        index = max(bars - position.count, 0)
        starts = position.bar is None and position.chorus == 1 and position.behind is None
        bar = performance.counted(index, with_pickup=starts)
        live = _live_bar(
            bar,
            lambda note: note.player is Player.DRUMS or note.player in settings.base.players,
            position=position,
            main_bpm=performance.bpm,
            name=(COUNT_IN, 0, index),
            length=bars,
        )
        return live, replace(position, count=position.count - 1, share=1.0)


def _live_bar(
    bar: PlayedBar,
    is_audible: Callable[[Note], bool],
    *,
    position: Position,
    main_bpm: float,
    name: BarName,
    length: int,
    share: float = 1.0,
) -> LiveBar:
    """Return a live bar with the audible notes of a played bar."""
    notes = [each._replace(tick=each.tick - bar.start) for each in bar.notes if is_audible(each)]
    spans = bar.sequenced.bar.chords if bar.sequenced else ()
    return LiveBar(
        start=0,
        meter=bar.meter,
        key=bar.key.plain(),
        bpm=bar.bpm,
        marker=bar.marker,
        chords=tuple((each.tick, each.chord) for each in spans),
        notes=tuple(without_overlaps(notes)),
        style=bar.style,
        slower=bar.slower,
        sequenced=bar.sequenced,
        path=bar.path,
        position=position,
        main_bpm=main_bpm,
        name=name,
        length=length,
        chorus=position.form_chorus,
        share=share,
    )


def _after_loop(performance: Performance, position: Position) -> Position:
    """Return the position after the last bar of a loop that is off.

    When that was the last bar of the form, a new chorus starts.
    """
    names = bar_names(performance.chart)
    if position.looped_from not in names:
        return replace(position, looped_from=None)
    left = replace(position, looped_from=None, count=0)
    following = names.index(position.looped_from) + 1
    if following < len(names) and performance.route.has(position.chorus, names[following]):
        return replace(left, bar=names[following])
    return replace(left, bar=None, circled=max(position.circled - 1, 0))


def _is_first_time_only(performance: Performance, position: Position) -> bool:
    """Return whether the bar is played in the first chorus only, such as an intro."""
    route = performance.route
    return (
        position.behind is None
        and performance.settings.loop is None
        and not route.has(position.chorus, position.bar)
        and route.has(1, position.bar)
    )


def _bar_number(performance: Performance, position: Position) -> int:
    """Return the number of the bar at a position."""
    route = performance.route
    if position.behind is not None:
        return min(route.bars + position.behind, performance.length - 1)
    if position.bar is None and position.chorus == 1:
        return int(performance.count_in.has_pickup)
    return route.find(position.chorus, position.bar)


def _name_and_length(performance: Performance, number: int) -> tuple[BarName, int]:
    """Return the name of a bar, and the number of bars of its part."""
    route = performance.route
    if number >= route.bars:
        return (ENDING, 0, number - route.bars), performance.length - route.bars
    bar = route.sequenced_bar(number)
    length = performance.chart.part(bar.part).length() if bar.home else bar.length
    return bar.name, length
