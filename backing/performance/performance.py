"""A performance: chart, style and settings become bars of notes, one at a time.

The file writer and live playing use the same `Performance` and so have the same notes. Any bar can
be made at any time; memory does not grow with the number of bars played.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from backing.band.bass import Bass
from backing.band.chop import Chop
from backing.band.drums import Drums
from backing.band.feel import perform
from backing.band.lead import Lead, monophonic
from backing.band.voicing import Voicings
from backing.chart.model import Bar, ChordSpan
from backing.chart.sequence import part_label
from backing.notes import Note, Player
from backing.performance.arrangement import Arrangement
from backing.performance.context import Contexts
from backing.performance.count_in import CountIn
from backing.performance.settings import check_settings
from backing.performance.tempo import PerformanceTempo

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from backing.band.context import BandMember, BarContext, Stroke
    from backing.chart.model import Chart
    from backing.chart.sequence import SequencedBar
    from backing.fretboard.request import FrettingSettings
    from backing.harmony.chord import Chord
    from backing.harmony.key import Key
    from backing.performance.settings import Settings
    from backing.style.model import Style
    from backing.timing import Meter


@dataclass(frozen=True, slots=True)
class PlayedBar:
    """A bar of notes, as files and live playing use it.

    Attributes:
        start: its bar line, in ticks from the start of the performance.
        meter: its meter; its length is `meter.bar_ticks`.
        key: its key.
        bpm: quarter notes a minute at its bar line.
        slower: further tempi in it, as pairs of (tick from its bar line, quarter notes a minute).
        marker: what begins here: "count-in", the chorus and the part in it ("chorus 1: A", and
            "chorus 1: A 2" for its second A), "intro" and "tag" outside the form, "ending", or "".
        chords: pairs of (tick from the start of the performance, chord or None for no chord).
        notes: in order of ticks; looseness may put some before the bar line.
        style: its style, for programs and volumes.
        sequenced: its bar in the sequence; None in the count-in.
        path: the number of the chop's path that its shapes are from, from 0.

    """

    start: int
    meter: Meter
    key: Key
    bpm: float
    marker: str
    chords: tuple[tuple[int, Chord | None], ...]
    notes: tuple[Note, ...]
    style: Style
    slower: tuple[tuple[int, float], ...] = ()
    sequenced: SequencedBar | None = None
    path: int = 0

    @property
    def end(self) -> int:
        """The bar line after it, in ticks."""
        return self.start + self.meter.bar_ticks


class Performance:
    """One chart played by the band.

    Attributes:
        chart: the chart.
        settings: the settings.
        style: the style of parts that have none of their own.
        bpm: the tempo of parts that have none of their own, in quarter notes a minute.
        route: the bars of all choruses.
        length: number of bars after the count-in, including a pickup and the ending.
        count_in: the count-in.
        tempo: the tempi of all bars.
        voicings: the shapes of the chop.
        contexts: what the players see of every bar.

    Args:
        chart: the chart.
        settings: the settings.
        on_fault: called with a player and the exception it raised; the player is then silent for
            the bar. If None, the exception propagates.

    Raises:
        SettingsError: if the settings do not fit the chart.

    """

    def __init__(
        self,
        chart: Chart,
        settings: Settings,
        on_fault: Callable[[Player, Exception], None] | None = None,
    ) -> None:
        check_settings(settings)
        self._on_fault = on_fault
        self._arrangement = arrangement = Arrangement(chart, settings)
        self.chart, self.settings = chart, settings
        self.style, self.bpm = arrangement.style, arrangement.bpm
        self.route, self.length = arrangement.route, arrangement.length
        self.count_in = CountIn(arrangement)
        self.tempo = PerformanceTempo(arrangement, self.count_in.ticks)
        seed = None if settings.loop else settings.seed
        self.voicings = Voicings(chart, arrangement.style_of, settings.fretting, seed)
        self.contexts = contexts = Contexts(arrangement, self.count_in.ticks, self.voicings)
        self._players: dict[Player, BandMember] = {
            Player.BASS: Bass(contexts),
            Player.CHOP: Chop(contexts),
            Player.DRUMS: Drums(contexts),
        }
        if chart.melody:
            self._players[Player.LEAD] = self._lead = Lead(
                chart, self.route, settings.lead, *_range_of(settings.fretting)
            )

    def remarks(self) -> tuple[str, ...]:
        """Return remarks on settings that are valid but unusual, such as tempi out of range."""
        return self._arrangement.remarks()

    def context(self, number: int) -> BarContext | None:
        """Return what the players see of a bar, or None outside the performance."""
        return self.contexts.context(number)

    def bars(self) -> Iterator[PlayedBar]:
        """Yield the count-in and every bar of the performance, in order."""
        for bar in range(self.count_in.bars):
            yield self.counted(bar)
        for number in range(self.count_in.has_pickup, self.length):
            yield self.bar(number)

    def counted(self, bar: int, *, with_pickup: bool = True) -> PlayedBar:
        """Return a bar of the count-in; the last one contains the pickup, if there is one.

        Args:
            bar: its number, from 0.
            with_pickup: False to count to the end, for a start in the middle of the tune.

        """
        meter, first = self.count_in.meter, self.route.sequenced_bar(0)
        start = bar * meter.bar_ticks
        is_led = with_pickup and bar == self.count_in.bars - 1
        inside = self.bar(0) if is_led and self.count_in.has_pickup else None
        clicks = self.count_in.clicks(bar, with_pickup=inside is not None)
        notes = inside.notes if inside else self._melody_pickup(start) if is_led else ()
        return PlayedBar(
            start=start,
            meter=meter,
            key=first.key,
            bpm=self._arrangement.bpm_at(first),
            marker="count-in" if bar == 0 else "",
            chords=inside.chords if inside else (),
            notes=tuple(sorted((*clicks, *notes))),
            style=self.style,
        )

    def _melody_pickup(self, start: int) -> list[Note]:
        """Return the melody's pickup in the count-in's last bar, if the form has no pickup."""
        first = self.context(0)
        if Player.LEAD not in self._arrangement.players or not first:
            return []
        bar = Bar(self.route.meter, (ChordSpan(0, self.route.meter.bar_ticks, None),))
        sequenced = replace(first.sequenced, bar=bar)
        context = replace(first, number=-1, start=start, sequenced=sequenced, harmony=())
        return self._performed(Player.LEAD, context, self._lead.lead_in(context))

    def bar(self, number: int) -> PlayedBar:
        """Return a bar after the count-in by its number, from 0 to `length` - 1.

        Raises:
            IndexError: if it is outside the performance.

        """
        context = self.context(number)
        if context is None:
            raise IndexError(f"bar {number} of {self.length}")
        notes: list[Note] = []
        for player in sorted(self._arrangement.players):
            if player in self.settings.called or player not in context.style.sits_out:
                notes += self._notes(player, context)
        (_, bpm), *slower = self.tempo.of_bar(number)
        return PlayedBar(
            start=context.start,
            meter=context.sequenced.bar.meter,
            key=context.sequenced.key,
            bpm=bpm,
            slower=tuple(slower),
            marker=self._marker(context),
            chords=tuple(
                (context.start + each.tick, each.chord)
                for each in context.harmony
                if not each.held_over
            ),
            notes=tuple(sorted(notes)),
            style=context.style,
            sequenced=context.sequenced,
            path=self.voicings.number_of(context.chorus),
        )

    def _notes(self, player: Player, context: BarContext) -> list[Note]:
        try:
            return self._performed(player, context, self._players[player].play(context))
        except Exception as error:
            if self._on_fault is None:
                raise
            self._on_fault(player, error)
            return []

    def _performed(self, player: Player, context: BarContext, strokes: list[Stroke]) -> list[Note]:
        notes = perform(
            context, player, strokes, seed=self.settings.seed, looseness=self.settings.looseness
        )
        return monophonic(notes) if player is Player.LEAD else notes

    def _marker(self, context: BarContext) -> str:
        name = self.route.name_of(context.number)
        if name and context.sequenced.is_part_start:
            label = part_label(*name[:2])
            is_form = name[0] in self.chart.order and not context.sequenced.is_intro
            return f"chorus {context.chorus}: {label}" if is_form else label
        return "ending" if context.is_end else ""


def _range_of(fretting: FrettingSettings) -> tuple[int, int]:
    """Return the lowest and highest MIDI key of the chosen instrument; 0 and 127 without one."""
    if fretting.instrument is None:
        return 0, 127
    instrument = fretting.over().instrument
    return min(instrument.strings), max(instrument.strings) + instrument.frets
