"""A performance: chart, style and settings become bars of notes, one at a time.

The file writer and live playing ask the same `Performance` for its bars, so that both hold the
same notes. Any bar can be asked for at any time; nothing grows with the number of bars played.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from backing.band.bass import Bass
from backing.band.chop import Chop
from backing.band.drums import Drums
from backing.band.feel import perform
from backing.band.lead import Lead, in_line
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
    from backing.fretboard.fretting import FrettingSettings
    from backing.harmony.chord import Chord
    from backing.harmony.key import Key
    from backing.performance.settings import Settings
    from backing.style.model import Style
    from backing.timing import Meter


@dataclass(frozen=True, slots=True)
class PlayedBar:
    """A bar as every sink takes it.

    Attributes:
        start: its bar line, in ticks from the start of the performance.
        meter: its meter; it is `meter.bar_ticks` long.
        key: the key that holds in it.
        bpm: quarter notes a minute at its bar line.
        slower: further tempi in it, as pairs of (tick from its bar line, quarter notes a minute).
        marker: what begins here: "count-in", the chorus and the part in it ("chorus 1: A", and
            "chorus 1: A 2" for its second A), "intro" and "tag" outside the form, "ending", or "".
        chords: pairs of (tick from the start of the performance, chord or None for no chord).
        notes: in order of ticks. Loose notes may come a little before the bar line.
        style: the groove, for programs and volumes.
        sequenced: the bar in performance order that is played; None in the count-in.

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

    @property
    def end(self) -> int:
        """The bar line after it, in ticks."""
        return self.start + self.meter.bar_ticks


class Performance:
    """One chart played by the band.

    Attributes:
        chart: what is played.
        settings: how.
        style: the groove of parts that have none of their own.
        bpm: the tempo of parts that have none of their own, in quarter notes a minute.
        route: the bars of all choruses.
        length: number of bars after the count-in, the ending and a pickup counted in.
        count_in: the count-in.
        tempo: the tempi of all bars, and how long they last.
        voicings: the shapes of the chop.
        contexts: what the players see of every bar.

    Args:
        chart: what is played.
        settings: how.
        on_fault: takes what a player raises; that player is then silent for the bar. Without it
            the fault is raised.

    Raises:
        SettingsError: when the settings do not fit the chart.

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
        self.voicings = Voicings(chart, arrangement.style_of, settings.fretting)
        self.contexts = contexts = Contexts(arrangement, self.count_in.ticks, self.voicings)
        self._players: dict[Player, BandMember] = {
            Player.BASS: Bass(contexts),
            Player.CHOP: Chop(contexts),
            Player.DRUMS: Drums(contexts),
        }
        if chart.lead:
            self._players[Player.LEAD] = self._lead = Lead(
                chart, self.route, settings.lead, *_range_of(settings.fretting)
            )

    def remarks(self) -> tuple[str, ...]:
        """Return what is no fault but worth knowing, such as tempi outside a style's range."""
        return self._arrangement.remarks()

    def place(self, number: int) -> BarContext | None:
        """Return any bar after the count-in by its number, or None outside the performance."""
        return self.contexts.place(number)

    def bars(self) -> Iterator[PlayedBar]:
        """Yield the count-in and every bar of the performance, in order."""
        for bar in range(self.count_in.bars):
            yield self.counted(bar)
        for number in range(self.count_in.has_pickup, self.length):
            yield self.bar(number)

    def counted(self, bar: int, *, with_pickup: bool = True) -> PlayedBar:
        """Return a bar of count-in, from 0; the last one ends with the pickup, if there is one.

        Args:
            bar: which bar of the count-in.
            with_pickup: False to count to the end, before a bar in the middle of the tune.

        """
        meter, first = self.count_in.meter, self.route.sequenced_bar(0)
        start = bar * meter.bar_ticks
        is_led = with_pickup and bar == self.count_in.bars - 1
        inside = self.bar(0) if is_led and self.count_in.has_pickup else None
        clicks = self.count_in.clicks(bar, with_pickup=inside is not None)
        notes = inside.notes if inside else self._led_in(start) if is_led else ()
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

    def _led_in(self, start: int) -> list[Note]:
        """Return the melody's pickup in the last bar of the count-in, where the form has none."""
        first = self.place(0)
        if Player.LEAD not in self._arrangement.players or not first:
            return []
        bar = Bar(self.route.meter, (ChordSpan(0, self.route.meter.bar_ticks, None),))
        sequenced = replace(first.sequenced, bar=bar)
        place = replace(first, number=-1, start=start, sequenced=sequenced, harmony=())
        return self._performed(Player.LEAD, place, self._lead.lead_in(place))

    def bar(self, number: int) -> PlayedBar:
        """Return a bar after the count-in by its number, from 0 to `length` - 1.

        Raises:
            IndexError: outside the performance.

        """
        place = self.place(number)
        if place is None:
            raise IndexError(f"bar {number} of {self.length}")
        notes: list[Note] = []
        for player in sorted(self._arrangement.players):
            if player in self.settings.called or player not in place.style.sits_out:
                notes += self._notes(player, place)
        (_, bpm), *slower = self.tempo.of_bar(number)
        return PlayedBar(
            start=place.start,
            meter=place.sequenced.bar.meter,
            key=place.sequenced.key,
            bpm=bpm,
            slower=tuple(slower),
            marker=self._marker(place),
            chords=tuple(
                (place.start + each.tick, each.chord)
                for each in place.harmony
                if not each.held_over
            ),
            notes=tuple(sorted(notes)),
            style=place.style,
            sequenced=place.sequenced,
        )

    def _notes(self, player: Player, place: BarContext) -> list[Note]:
        try:
            return self._performed(player, place, self._players[player].play(place))
        except Exception as error:
            if self._on_fault is None:
                raise
            self._on_fault(player, error)
            return []

    def _performed(self, player: Player, place: BarContext, strokes: list[Stroke]) -> list[Note]:
        notes = perform(
            place, player, strokes, seed=self.settings.seed, looseness=self.settings.looseness
        )
        return in_line(notes) if player is Player.LEAD else notes

    def _marker(self, place: BarContext) -> str:
        name = self.route.name_of(place.number)
        if name and place.sequenced.is_part_start:
            label = part_label(*name[:2])
            is_form = name[0] in self.chart.order and not place.sequenced.is_intro
            return f"chorus {place.chorus}: {label}" if is_form else label
        return "ending" if place.is_end else ""


def _range_of(fretting: FrettingSettings) -> tuple[int, int]:
    """Return the lowest and highest MIDI key of the instrument that is named; all without one."""
    if fretting.instrument is None:
        return 0, 127
    instrument = fretting.over().instrument
    return min(instrument.strings), max(instrument.strings) + instrument.frets
