"""Bars one after the other, each made from the settings that hold when it begins."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING

from backing.chart.sequence import part_label
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
    from backing.harmony.key import Key
    from backing.notes import Note
    from backing.performance.settings import Settings
    from backing.style.model import Style


COUNT_IN, ENDING = "count-in", "ending"
"""What stands for the name of a part in bars that belong to none."""


@dataclass(frozen=True, slots=True)
class ChordPlace:
    """Where a chord sounds and where it is written.

    Attributes:
        tick: where it begins, in ticks from the bar line.
        part: the name of the part in which it is written; "" in no part of the chart.
        bar: the bar of that part as played, from 0; -1 its pickup.
        number: which chord of that bar, from 0.

    """

    tick: int
    part: str
    bar: int
    number: int


@dataclass(frozen=True, slots=True)
class LiveBar(SoundingBar):
    """A bar to be sent.

    Attributes:
        ticks: its length.
        key: the key that sounds.
        notes: with ticks from its bar line; loose notes may begin a little before it.
        style: the groove, for programs and volumes.
        index: its place in the part, from 0.
        length: bars of the part.
        chorus: which time round the form it is, from 1.
        chords: the chords in it, as text.
        places: where each of them is.
        is_part_start: whether a part begins with it.
        slower: further tempi in it, as pairs of (tick from its bar line, quarter notes a minute).
        share: how much of the tempo holds at its end.

    """

    ticks: int
    key: Key
    notes: tuple[Note, ...]
    style: Style
    index: int
    length: int
    chorus: int
    chords: tuple[str, ...]
    is_part_start: bool = False
    slower: tuple[tuple[int, float], ...] = ()
    share: float = 1.0
    places: tuple[ChordPlace, ...] = ()


class Source:
    """Makes bars for live playing from the very performance that a file is written from.

    Args:
        on_fault: takes what a player of the band raises.

    """

    def __init__(self, on_fault: Callable[[Player, Exception], None] | None = None) -> None:
        self._on_fault = on_fault
        self._performance = lru_cache(2)(self._make)

    def performance(self, settings: LiveSettings, progress: Progress) -> Performance:
        """Return the performance that these settings ask for.

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
        """Refuse settings that the band cannot play, with the pending chart or without.

        Raises:
            SettingsError: when they do not fit the chart.

        """
        self.performance(settings, progress)
        if settings.pending is not None:
            position = replace(progress.position, applied=settings.pending)
            self.performance(settings, progress.at(position))

    def _make(self, chart: Chart, semitones: int, performed: Settings) -> Performance:
        return Performance(by_semitones(chart, semitones), performed, self._on_fault)

    def start(self, settings: LiveSettings, progress: Progress) -> Position:
        """Return the position with the count-in before it."""
        bars = self.performance(settings, progress).count_in.bars
        return replace(progress.position, count=bars, share=1.0)

    def next(self, settings: LiveSettings, progress: Progress) -> tuple[LiveBar, Position | None]:
        """Return the bar that comes, and the position behind it; None when the band has ended."""
        position = progress.position
        if settings.pending is not None and self._is_part_start(settings, progress):
            position = replace(position, applied=settings.pending)
        performance = self.performance(settings, progress.at(position))
        if position.looped_from and not performance.settings.loop:
            position = _onward(performance, position)
        if _is_before_the_first_time(performance, position):
            position = replace(position, chorus=1, circled=0)
            performance = self.performance(settings, progress.at(position))
        count = min(position.count, performance.count_in.bars)
        if count:
            return self._counted(performance, replace(position, count=count), settings)
        number = _number(performance, position)
        bar = performance.bar(number)
        place = performance.place(number)
        silent = progress.at(position).is_rest(settings)
        style = place.style if place else performance.style
        playing = {player for player in Player if settings.plays(player, style)}
        notes = [
            note._replace(tick=note.tick - bar.start)
            for note in bar.notes
            if not silent and note.player in playing
        ]
        (_, bpm), *slower = performance.tempo.of_bar(number, position.share)
        part, label, index, length = _whereabouts(performance, number)
        live = LiveBar(
            ticks=bar.meter.bar_ticks,
            meter=bar.meter,
            key=bar.key.plain(),
            bpm=bpm,
            main_bpm=performance.bpm,
            notes=tuple(without_overlaps(notes)),
            style=style,
            position=position,
            part=part,
            label=label,
            index=index,
            length=length,
            chorus=position.form_chorus,
            chords=_chords(performance, number),
            is_part_start=bool(place and place.sequenced.is_part_start and part != ENDING),
            slower=tuple(slower),
            share=performance.tempo.shares(number, position.share)[-1][1],
            places=_places(performance, number),
        )
        return live, self._after(performance, position, number, settings, live)

    def _is_part_start(self, settings: LiveSettings, progress: Progress) -> bool:
        """Return whether a part, the form or the loop begins at a position."""
        position = progress.position
        if position.behind is not None:
            return False
        if position.bar is None or position.bar[2] == 0:
            return True
        performance = self.performance(settings, progress)
        return _number(performance, position) == performance.route.find(position.chorus, None)

    def _after(
        self,
        performance: Performance,
        position: Position,
        number: int,
        settings: LiveSettings,
        live: LiveBar,
    ) -> Position | None:
        coming = number + 1
        if coming >= performance.length:
            return None
        behind = replace(
            position,
            played=position.played + 1,
            ticks=position.ticks + live.ticks,
            share=live.share,
        )
        if coming >= performance.route.bars:
            extra = coming - performance.route.bars
            return replace(behind, behind=extra, ended_loop=performance.settings.loop)
        chorus, _ = performance.route.locate(coming)
        again = chorus != position.chorus
        in_loop = performance.settings.loop is not None
        circled = position.circled + (again and in_loop)
        if again and settings.endless and chorus >= MOST_CHORUSES:
            chorus, circled = 2, int(in_loop)
        return replace(
            behind,
            chorus=chorus,
            bar=_name(performance, coming),
            looped_from=_name(performance, number) if again and in_loop else None,
            rounds=position.rounds + again,
            count=performance.count_in.bars if again and settings.base.count_each else 0,
            circled=circled,
        )

    def _counted(
        self, performance: Performance, position: Position, settings: LiveSettings
    ) -> tuple[LiveBar, Position | None]:
        """Return a bar of count-in; only the very start has its pickup in it.

        The clicks are heard without the drums, too.
        """
        bars = performance.count_in.bars
        index = max(bars - position.count, 0)
        starts = position.bar is None and position.chorus == 1 and position.behind is None
        bar = performance.counted(index, with_pickup=starts)
        live = LiveBar(
            ticks=bar.meter.bar_ticks,
            meter=bar.meter,
            key=bar.key.plain(),
            bpm=bar.bpm,
            main_bpm=performance.bpm,
            notes=tuple(
                note._replace(tick=note.tick - bar.start)
                for note in bar.notes
                if note.player is Player.DRUMS or note.player in settings.base.players
            ),
            style=performance.style,
            position=position,
            part=COUNT_IN,
            label=COUNT_IN,
            index=index,
            length=bars,
            chorus=position.form_chorus,
            chords=(),
        )
        return live, replace(position, count=position.count - 1, share=1.0)


def _onward(performance: Performance, position: Position) -> Position:
    """Return the position behind the last bar of a loop that has ended.

    Behind the last bar that this chorus has, the round of the loop has ended a chorus.
    """
    names = bar_names(performance.chart)
    if position.looped_from not in names:
        return replace(position, looped_from=None)
    left = replace(position, looped_from=None, count=0)
    coming = names.index(position.looped_from) + 1
    if coming < len(names) and performance.route.has(position.chorus, names[coming]):
        return replace(left, bar=names[coming])
    return replace(left, bar=None, circled=max(position.circled - 1, 0))


def _chords(performance: Performance, number: int) -> tuple[str, ...]:
    """Return the chords of a bar as the chart has them, whichever of them come early."""
    place = performance.place(number)
    spans = place.sequenced.bar.chords if place else ()
    return tuple(str(each.chord.plain()) if each.chord else "N.C." for each in spans)


def _places(performance: Performance, number: int) -> tuple[ChordPlace, ...]:
    """Return where the chords of a bar are."""
    place = performance.place(number)
    spans = place.sequenced.bar.chords if place else ()
    found = []
    for index, span in enumerate(spans):
        assert place is not None  # it has spans
        sequenced, chord = place.sequenced.source(index)
        origin = sequenced.origin
        part, bar = (origin.part, origin.index) if origin else ("", 0)
        found.append(ChordPlace(span.tick, part, bar, chord))
    return tuple(found)


def _is_before_the_first_time(performance: Performance, position: Position) -> bool:
    """Whether the bar that comes is played the first time round only, as an intro is."""
    route = performance.route
    return (
        position.behind is None
        and performance.settings.loop is None
        and not route.has(position.chorus, position.bar)
        and route.has(1, position.bar)
    )


def _number(performance: Performance, position: Position) -> int:
    """Return the bar of a performance that a position means."""
    route = performance.route
    if position.behind is not None:
        return min(route.bars + position.behind, performance.length - 1)
    if position.bar is None and position.chorus == 1:
        return int(performance.count_in.has_pickup)
    loop = performance.settings.loop
    if loop is None:
        return route.find(position.chorus, position.bar)
    names = bar_names(performance.chart)
    step = names.index(position.bar) - loop[0] if position.bar in names else 0
    start = route.find(position.chorus, None)
    return start + (step if 0 <= step < route.length_of(position.chorus) else 0)


def _name(performance: Performance, number: int) -> BarName | None:
    """Return a bar's name in the whole form, in a loop too."""
    loop = performance.settings.loop
    if loop is None:
        return performance.route.name_of(number)
    _, step = performance.route.locate(number)
    return bar_names(performance.chart)[loop[0] + step]


def _whereabouts(performance: Performance, number: int) -> tuple[str, str, int, int]:
    """Return a bar's part, its label, its place in it from 0, and the part's length."""
    bars = performance.route.bars
    if number >= bars:
        return ENDING, ENDING, number - bars, performance.length - bars
    name = _name(performance, number)
    assert name is not None
    part, occurrence, index = name
    sequenced = performance.route.sequenced_bar(number)
    own = sequenced.part in performance.chart.order and not sequenced.is_intro
    length = performance.chart.part(part).length() if own else sequenced.length
    return part, part_label(part, occurrence), index, length
