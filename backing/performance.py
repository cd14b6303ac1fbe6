"""A performance: chart, style and settings become bars of notes, one at a time.

The file writer and live playing ask the same `Performance` for its bars, so that both hold the
same notes. Any bar can be asked for at any time; nothing grows with the number of bars played.
"""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from backing.band import arrange
from backing.band.bass import Bass
from backing.band.chop import Chop
from backing.band.drums import Drums, count_in
from backing.band.ending import (
    FADED_BARS,
    SLOWED_BARS,
    eased,
    ending_of,
    faded,
    kind_of,
    slowed,
)
from backing.band.feel import perform
from backing.band.lead import EVERY_TIME, WHEN, Lead, LeadWish, in_line
from backing.band.place import BandMember, Place, harmony_of, level_at
from backing.band.route import Route
from backing.band.voicing import Voicings
from backing.chart.grooves import usual_style
from backing.chart.model import Bar, ChordSpan
from backing.chart.sequence import has_closing_part, length_in_bars, once_round, part_label
from backing.errors import SettingsError
from backing.fretboard.fretting import AS_THE_STYLE, FrettingWish
from backing.notes import Note, Player
from backing.style.library import all_styles, find_style, wished_style
from backing.timing import (
    FASTEST_BPM,
    QUARTER,
    SLOWEST_BPM,
    Tempo,
    bare_number,
    notes_a_minute,
    ticks_to_seconds,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from backing.band.place import Sounding, Stroke
    from backing.chart.model import Chart
    from backing.chart.sequence import SequencedBar
    from backing.harmony.chord import Chord
    from backing.harmony.key import Key
    from backing.style.model import DrumGroove, Style
    from backing.timing import Meter

MOST_CHORUSES = 999
DEFAULT_CHORUSES = 3

MOST_COUNT_IN = 8
MOST_LOOSENESS = 2.0

_FAST_BAR_SECONDS = 1.5
_KEPT_PLACES = 128


@dataclass(frozen=True, slots=True)
class Settings:
    """What the player wishes.

    Attributes:
        style: name of a groove style or path of its file, or None for the chart's.
        bpm: quarter notes a minute, or None for the chart's tempo. Parts with their own tempo keep
            their relation to it.
        choruses: times round the form, 1 to 999.
        seed: any whole number; the same seed gives the same notes.
        count_in: bars, 0 to 8, or None for the chart's or what suits the tempo.
        looseness: 0 places every note exactly, 1 is as loose as a good section, at most 2.
        players: who may play.
        called: who plays even where the style lets that player sit out.
        loop: first and last bar to go round, from 0 through the whole form, or None.
        live: whether it is played now, so that nothing fades at the end.
        count_each: whether every chorus is counted in, as only live playing does.
        fretting: what is asked of the chop's shapes, over what the style has; the melody is folded
            into the range of an instrument that is named.
        lead: how the melody is played, if the chart has one.

    """

    style: str | None = None
    bpm: float | None = None
    choruses: int = DEFAULT_CHORUSES
    seed: int = 1
    count_in: int | None = None
    looseness: float = 1.0
    players: frozenset[Player] = field(default=frozenset(Player))
    called: frozenset[Player] = frozenset()
    loop: tuple[int, int] | None = None
    live: bool = False
    count_each: bool = False
    fretting: FrettingWish = AS_THE_STYLE
    lead: LeadWish = EVERY_TIME


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

    """

    start: int
    meter: Meter
    key: Key
    bpm: float
    marker: str
    chords: tuple[tuple[int, Chord | None], ...]
    notes: tuple[Note, ...]
    slower: tuple[tuple[int, float], ...] = ()

    @property
    def end(self) -> int:
        """The bar line after it, in ticks."""
        return self.start + self.meter.bar_ticks


class Performance:
    """One chart played by the band.

    Attributes:
        chart: what is played.
        settings: how.
        seed: the seed of every choice.
        bpm: the tempo of parts that have none of their own, in quarter notes a minute.
        style: the groove of parts that have none of their own.
        route: the bars of all choruses.
        voicings: the shapes of the chop.
        count_in_bars: bars of count-in.

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
        self.chart = chart
        self.settings = settings
        self.seed = settings.seed
        if settings.style:
            self.style = wished_style(settings.style)
        else:
            self.style = find_style(chart.style or usual_style(chart.meter))
        named = self.style if settings.style or chart.style else None
        self._part_styles = _part_styles(chart, named)
        self._check_who_is_heard()
        self._own_bpm = chart.tempo.quarter_bpm if chart.tempo else self.style.usual_bpm
        self.bpm = settings.bpm or self._own_bpm
        self._bridge = arrange.bridge_of(chart)
        self._ends = kind_of(chart, self.style, live=settings.live)
        self.route = Route(chart, settings.choruses, settings.loop, has_tag=self._ends == "tag")
        self._ending = ending_of(chart, self._ends, self.route, self._bpm_at)
        self.count_in_bars = self._count_in_bars()
        self._places: OrderedDict[int, Place] = OrderedDict()
        self._harmonies: dict[tuple[int, int, int], tuple[Sounding, ...]] = {}
        self.voicings = Voicings(chart, self._style_of, settings.fretting)
        self._wanted = sorted(settings.players - self._absent)
        self._players: dict[Player, BandMember] = {
            Player.BASS: Bass(self),
            Player.CHOP: Chop(self),
            Player.DRUMS: Drums(self),
        }
        if chart.lead:
            self._players[Player.LEAD] = self._lead = Lead(
                chart, self.route, settings.lead, *_range_of(settings.fretting)
            )

    @property
    def _absent(self) -> frozenset[Player]:
        """Return who has nothing to play at all: the lead, where there is no melody."""
        return frozenset() if self.chart.lead else frozenset({Player.LEAD})

    def _check_who_is_heard(self) -> None:
        """Refuse a band of which nobody is heard in the styles of the chart."""
        styles = {self._part_styles.get(name, self.style) for name in self.chart.order}
        silent = [style.name for style in styles if not self._heard_in(style)]
        if not self.settings.players - self._absent:
            raise SettingsError(
                "nobody plays: the lead has no melody, since the chart names none in a line "
                "'melody:'; leave at least one of bass, chop and drums in"
            )
        if len(silent) == len(styles):
            idle = sorted(set.union(*(set(style.sits_out) for style in styles)))
            raise SettingsError(
                f"nobody would be heard: in {' and '.join(sorted(silent))} {' and '.join(idle)} "
                f"only play when called; call them, --with {','.join(idle)}, or leave others in"
            )

    def _heard_in(self, style: Style) -> frozenset[Player]:
        """Return who is heard in a style."""
        return self.settings.players - (style.sits_out - self.settings.called) - self._absent

    @property
    def length(self) -> int:
        """Number of bars after the count-in, the ending and a pickup counted in."""
        return self.route.bars + len(self._ending.extra)

    def bars(self) -> Iterator[PlayedBar]:
        """Yield the count-in and every bar of the performance, in order."""
        pickup = self.route.pickup
        swallowed = 1 if pickup and self.count_in_bars else 0
        for bar in range(self.count_in_bars):
            yield self.counted(bar)
        for number in range(swallowed, self.length):
            yield self.bar(number)

    def seconds(self) -> float:
        """Return the length of the performance in seconds, count-in and ending included."""
        lead = ticks_to_seconds(self._lead_ticks, self._bpm_at(self.route.sequenced_bar(0)))
        rounds = sum(times * self._seconds_of(sequence) for times, sequence in self.route.rounds())
        return lead + rounds + self._seconds_of(self._ending.extra) + self._seconds_lost()

    def _seconds_lost(self) -> float:
        """Return how much longer a ritard takes."""
        lost = 0.0
        for number in range(max(self._ending.bar - SLOWED_BARS, 0), self.length):
            sequenced = self._sequenced_bar(number)
            tempi = self.tempi(number, self.shares(number))
            ends = [*(tick for tick, _ in tempi[1:]), sequenced.bar.ticks]
            for (tick, bpm), end in zip(tempi, ends, strict=True):
                lost += ticks_to_seconds(end - tick, bpm)
            lost -= ticks_to_seconds(sequenced.bar.ticks, self._bpm_at(sequenced))
        return lost

    def shares(self, number: int, before: float | None = None) -> tuple[tuple[int, float], ...]:
        """Return how much of the tempo holds in a bar, as pairs of (tick in it, share).

        Args:
            number: the bar.
            before: the share at the end of the bar that was played before it, where that need not
                be the bar before it here; the tempo goes on from there without a jump.

        """
        own = self._own_shares(number)
        own_before = self._own_shares(number - 1)[-1][1] if number else 1.0
        if before is None or before == own_before:
            return own
        return eased(own, before, self._sequenced_bar(number))

    def _own_shares(self, number: int) -> tuple[tuple[int, float], ...]:
        """Return the shares of the tempo in a bar behind the bar before it."""
        if self._ends != "ritard" or self.settings.loop:
            return ((0, 1.0),)
        counted = self.settings.count_each
        first = self.route.find(self.settings.choruses, None) if counted else 0
        return slowed(self._ending, self.route, number, self._sequenced_bar(number), first)

    def tempi(
        self, number: int, shares: tuple[tuple[int, float], ...]
    ) -> tuple[tuple[int, float], ...]:
        """Return the tempi of a bar, as pairs of (tick in it, quarter notes a minute)."""
        bpm = self._bpm_at(self._sequenced_bar(number))
        return tuple((tick, max(bpm * share, SLOWEST_BPM)) for tick, share in shares)

    def seconds_once_round(self) -> float:
        """Return the length of the form in seconds, without what an intro or a tag adds."""
        return self._seconds_of(once_round(self.chart))

    def _seconds_of(self, sequence: tuple[SequencedBar, ...]) -> float:
        return sum(ticks_to_seconds(each.bar.ticks, self._bpm_at(each)) for each in sequence)

    def remarks(self) -> tuple[str, ...]:
        """Return what is no fault but worth knowing, such as tempi outside a style's range."""
        tempi = {
            (style, each.tempo.unit if each.tempo else self.chart.tempo_unit, self._bpm_at(each))
            for _, sequence in self.route.rounds()
            for each in sequence
            for style in (self._part_styles.get(each.part, self.style),)
        }
        told = [
            _unusual(style, Tempo.counted(bpm, unit))
            for style, unit, bpm in sorted(tempi, key=lambda each: (each[0].name, *each[1:]))
            if not style.slowest_bpm <= bpm <= style.fastest_bpm
        ]
        bars = length_in_bars(self.chart)
        if isinstance(self.chart.intro, int) and self.chart.intro > bars:
            told.append(f"the intro asks for the last {self.chart.intro} bars; the form has {bars}")
        if self.chart.ending == "tag" and has_closing_part(self.chart):
            told.append(
                f"the part {self.chart.order[-1]} is played as the tag: 'ending: tag' adds no bars"
            )
        return tuple(told)

    def place(self, number: int) -> Place | None:
        """Return any bar after the count-in by its number, or None outside the performance."""
        if not 0 <= number < self.length:
            return None
        if number not in self._places:
            self._places[number] = self._make_place(number)
            if len(self._places) > _KEPT_PLACES:
                self._places.popitem(last=False)
        return self._places[number]

    def _make_place(self, number: int) -> Place:
        chorus, step = self.route.locate(number)
        sequenced = self._sequenced_bar(number)
        following = self._sequenced_bar(number + 1) if number + 1 < self.length else None
        style = self._style_of(sequenced)
        colour = arrange.colour_of(style, self.chart, sequenced, chorus, self.settings.choruses)
        written = sequenced if number < self.route.bars else self.route.last
        lift = arrange.lift(
            sequenced,
            is_bridge=arrange.part_of(self.chart, written) == self._bridge,
            chorus=chorus,
            choruses=self.settings.choruses,
        )
        harmony = self._ending.changed(number, self._harmony(number, sequenced, following))
        levels = tuple((tick, level * lift) for tick, level in self._levels(number, sequenced))
        return Place(
            number=number,
            start=self._lead_ticks + self.route.tick(number),
            chorus=chorus,
            step=step,
            sequenced=sequenced,
            style=style,
            bpm=self._bpm_at(sequenced),
            harmony=harmony,
            levels=levels,
            colour=colour,
            groove=arrange.groove_of(style, colour, sequenced, (self.seed, chorus, step)),
            fill=self._fill(number, style),
            is_top=self.route.is_top(number),
            is_end=self._ending.begins(number),
            accents=tuple(
                (each.tick, level_at(levels, each.tick) * self._swell(number, sequenced, each.tick))
                for each in harmony
                if each.is_hit and not (each is self._ending.last and self._comes_to_rest)
            ),
        )

    @property
    def _comes_to_rest(self) -> bool:
        """Whether the last chord is where a ritard ends and no hit."""
        last = self._ending.last
        return self._ends == "ritard" and last is not None and "hold" in last.words

    def _swell(self, number: int, sequenced: SequencedBar, tick: int) -> float:
        """Return the factor on velocity from a tick to the loudest bar of its part."""
        level = level_at(self.route.levels(number), tick)
        return arrange.swell(sequenced, level, self.route.peaks(number))

    def _style_of(self, sequenced: SequencedBar) -> Style:
        return self._part_styles.get(sequenced.part, self.style)

    def _harmony(
        self, number: int, sequenced: SequencedBar, following: SequencedBar | None
    ) -> tuple[Sounding, ...]:
        """Return what sounds in a bar before the ending changes it, the same for the same bars."""
        before = self._sequenced_bar(number - 1).bar if number else None
        behind = following.bar if following else None
        key = (id(before), id(sequenced.bar), id(behind))  # the bars live as long as we do
        if key not in self._harmonies:
            self._harmonies[key] = harmony_of(before, sequenced.bar, behind)
        return self._harmonies[key]

    def _levels(self, number: int, sequenced: SequencedBar) -> arrange.Levels:
        levels = self.route.levels(number)
        if self._ends != "fade" or self.settings.loop:
            return levels
        fade = faded(self._faded_bars, self.route.bars - number, sequenced)
        return tuple(
            (tick, level_at(levels, tick) * level_at(fade, tick))
            for tick in sorted({tick for tick, _ in (*levels, *fade)})
        )

    @property
    def _faded_bars(self) -> int:
        """How many bars a fade takes: those of the last chorus, at most eight."""
        last = self.route.length_of(self.settings.choruses)
        start = self.route.bars - last
        before = sum(self.route.sequenced_bar(start + step).is_intro for step in range(last))
        return min(FADED_BARS, last - before)

    def _fill(self, number: int, style: Style) -> DrumGroove | None:
        if self._ending.last and number >= self._ending.bar:
            return None
        chorus, step = self.route.locate(number)
        coming = self._sequenced_bar(number + 1) if number + 1 < self.length else None
        return arrange.fill_of(
            style,
            self._sequenced_bar(number),
            coming,
            ends=self._ending.begins_on_one(number + 1),
            round_bars=self.route.length_of(chorus),
            address=(self.seed, chorus, step),
        )

    def _sequenced_bar(self, number: int) -> SequencedBar:
        extra = number - self.route.bars
        return self._ending.extra[extra] if extra >= 0 else self.route.sequenced_bar(number)

    def _bpm_at(self, sequenced: SequencedBar) -> float:
        if sequenced.tempo is None:
            return self.bpm
        bpm = sequenced.tempo.quarter_bpm * self.bpm / self._own_bpm
        return min(max(bpm, SLOWEST_BPM), FASTEST_BPM)

    def _count_in_bars(self) -> int:
        for wished in (self.settings.count_in, self.chart.count_in):
            if wished is not None:
                return wished
        seconds = ticks_to_seconds(
            self.route.meter.bar_ticks, self._bpm_at(self.route.sequenced_bar(0))
        )
        return 2 if seconds < _FAST_BAR_SECONDS else 1

    @property
    def _lead_ticks(self) -> int:
        """Ticks before the first bar of the tune or its pickup, which ends the count-in."""
        pickup = self.route.pickup
        before = self.count_in_bars * self.route.meter.bar_ticks
        return before - pickup.ticks if pickup and self.count_in_bars else before

    def counted(self, bar: int, *, with_pickup: bool = True) -> PlayedBar:
        """Return a bar of count-in, from 0; the last one ends with the pickup, if there is one.

        Args:
            bar: which bar of the count-in.
            with_pickup: False to count to the end, before a bar in the middle of the tune.

        """
        is_last = bar == self.count_in_bars - 1
        pickup = self.route.pickup if with_pickup and is_last else None
        clicks_until = (
            self._lead_ticks if pickup else self.count_in_bars * self.route.meter.bar_ticks
        )
        meter = self.route.meter
        start = bar * meter.bar_ticks
        first = self.route.sequenced_bar(0)
        clicks = [
            Note(start + stroke.tick, Player.DRUMS, stroke.pitch, stroke.velocity, stroke.ticks)
            for where, stroke in count_in(meter, self.count_in_bars, self.style.count_in)
            if where == bar and start + stroke.tick < clicks_until
        ]
        inside = self.bar(0) if pickup else None
        led = self._led_in(start) if is_last and with_pickup and not pickup else []
        return PlayedBar(
            start=start,
            meter=meter,
            key=first.key,
            bpm=self._bpm_at(first),
            marker="count-in" if bar == 0 else "",
            chords=inside.chords if inside else (),
            notes=tuple(sorted((*clicks, *led, *(inside.notes if inside else ())))),
        )

    def _led_in(self, start: int) -> list[Note]:
        """Return the melody's pickup in the last bar of the count-in, where the form has none."""
        first = self.place(0)
        if Player.LEAD not in self._wanted or not first:
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
        for player in self._wanted:
            if player in self.settings.called or player not in place.style.sits_out:
                notes += self._notes(player, place)
        (_, bpm), *slower = self.tempi(number, self.shares(number))
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
        )

    def _notes(self, player: Player, place: Place) -> list[Note]:
        try:
            return self._performed(player, place, self._players[player].play(place))
        except Exception as error:
            if self._on_fault is None:
                raise
            self._on_fault(player, error)
            return []

    def _performed(self, player: Player, place: Place, strokes: list[Stroke]) -> list[Note]:
        notes = perform(place, player, strokes, seed=self.seed, looseness=self.settings.looseness)
        return in_line(notes) if player is Player.LEAD else notes

    def _marker(self, place: Place) -> str:
        name = self.route.name_of(place.number)
        if name and place.sequenced.is_part_start:
            label = part_label(*name[:2])
            is_form = name[0] in self.chart.order and not place.sequenced.is_intro
            return f"chorus {place.chorus}: {label}" if is_form else label
        return "ending" if place.is_end else ""


def _unusual(style: Style, tempo: Tempo) -> str:
    """Return the remark on a tempo outside a style's range, in the tempo's unit."""
    slow, fast = (
        Tempo.counted(bpm, tempo.unit).figure for bpm in (style.slowest_bpm, style.fastest_bpm)
    )
    told = (
        f"{style.name} is usually {slow}-{fast} {notes_a_minute(tempo.unit)}; "
        f"this is {tempo.figure}"
    )
    would_do = tempo.unit != QUARTER and style.slowest_bpm <= tempo.bpm <= style.fastest_bpm
    return f"{told}: {bare_number(tempo)}" if would_do else told


def check_settings(settings: Settings) -> None:
    """Refuse settings that no chart could satisfy.

    Raises:
        SettingsError: for the first of them that is outside its range.

    """
    if not 1 <= settings.choruses <= MOST_CHORUSES:
        raise SettingsError(f"{settings.choruses} choruses: the band plays 1 to {MOST_CHORUSES}")
    if settings.bpm is not None and not SLOWEST_BPM <= settings.bpm <= FASTEST_BPM:
        raise SettingsError(
            f"a tempo of {settings.bpm:g}: the band plays from {SLOWEST_BPM:g} to "
            f"{FASTEST_BPM:g} quarter notes a minute"
        )
    if settings.count_in is not None and not 0 <= settings.count_in <= MOST_COUNT_IN:
        raise SettingsError(
            f"{settings.count_in} bars of count-in: 0 to {MOST_COUNT_IN} are allowed"
        )
    if not 0 <= settings.looseness <= MOST_LOOSENESS:
        raise SettingsError(
            f"a looseness of {settings.looseness:g}: 0 places every note exactly, 1 is as loose as "
            f"a good section, {MOST_LOOSENESS} is the most"
        )
    if settings.lead.when not in WHEN:
        raise SettingsError(
            f"'{settings.lead.when}' is not when a lead plays: choose from {', '.join(WHEN)}; "
            "who wants no lead leaves it out of the band, as any player"
        )
    if not settings.players:
        raise SettingsError("nobody plays: leave at least one of bass, chop and drums in")


def _range_of(fretting: FrettingWish) -> tuple[int, int]:
    """Return the lowest and highest MIDI key of the instrument that is named; all without one."""
    if fretting.instrument is None:
        return 0, 127
    instrument = fretting.over().instrument
    return min(instrument.strings), max(instrument.strings) + instrument.frets


def _part_styles(chart: Chart, named: Style | None) -> dict[str, Style]:
    """Return the style of every part: its own, the named one, or the usual one of its meter.

    Raises:
        SettingsError: when it does not know the part's meter.

    """
    found = {}
    for name in dict.fromkeys(chart.order):
        part = chart.part(name)
        meter = part.meter or chart.meter
        style = find_style(part.style or usual_style(meter)) if part.style or not named else named
        if meter not in style.meters:
            fits = [each.name for each in all_styles()[0] if meter in each.meters]
            raise SettingsError(
                f"the style {style.name} is played in {' or '.join(map(str, style.meters))}, "
                f"part {name} is in {meter}: "
                + (f"choose from {', '.join(fits)}" if fits else f"no style here plays {meter} yet")
            )
        found[name] = style
    return found
