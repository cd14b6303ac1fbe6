"""The model of a chart, independent of its text.

Conventions: chords are letters; numbers and Roman numerals are read in the key of their part. Every
bar has its meter, and its chords fill it from the first tick to the last.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from backing.errors import SettingsError, SymbolError
from backing.timing import Meter, Tempo

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from backing.chart.melody import Melody
    from backing.harmony.chord import Chord
    from backing.harmony.key import Key
    from backing.timing import WrittenTempo

DIRECTIONS = {
    "stop": "the band hits the chord and rests",
    "break": "the band lays out",
    "hold": "the band hits the chord and lets it ring",
    "push": "the chord comes an eighth early",
    "fill": "the drums fill",
    "walk": "the bass walks into the next chord",
    "soft": "quieter from here to the end of the part",
    "loud": "louder from here to the end of the part",
    "build": "from here to the end of the part louder and louder",
}
"""Every direction and what it means."""

HITS = frozenset({"stop", "hold", "break"})
"""Directions at which the groove stops."""

LEVELS = frozenset({"soft", "loud", "build"})
"""Directions about loudness, which apply to the end of the part."""

ENDINGS = {
    "hold": "the home chord is hit and held",
    "short": "the home chord is hit and damped",
    "none": "the band stops at the last bar line",
    "tag": "the last four bars come twice more, then the home chord is held",
    "ritard": "the last two bars slow down, then the home chord is held",
    "two-hit": "the chord before home and home, two hits in a bar of their own",
    "fade": "the last eight bars grow softer to nothing; live the home chord is held",
}
"""Every value of the header `ending` and what it means."""

KICK_OFF = "kick-off"
"""An intro of four chords hit by the whole band."""

MOST_INTRO = 16
"""The longest intro from the end of the form, in bars."""

COMMON_TIME = Meter(4, 4)

MOST_TIMES = 99
"""How often a repeat can be played at most."""

MOST_BARS = 4096
"""The most bars once round the form."""


@dataclass(frozen=True, slots=True)
class ChordSpan:
    """A chord and its time in the bar.

    Attributes:
        tick: its start, in ticks from the bar line.
        ticks: its length in ticks, at least 1.
        chord: the chord; None for no chord (N.C.).

    """

    tick: int
    ticks: int
    chord: Chord | None

    @property
    def end(self) -> int:
        """Its end, in ticks from the bar line."""
        return self.tick + self.ticks


@dataclass(frozen=True, slots=True)
class Direction:
    """A word to the band.

    Attributes:
        word: one of `DIRECTIONS`.
        tick: its start, in ticks from the bar line.
        ticks: its length in ticks: that of its chord, or the whole bar.

    """

    word: str
    tick: int
    ticks: int


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar as written.

    Attributes:
        meter: its meter; for a pickup, its length.
        chords: at least one span; they fill the bar without gaps.
        directions: in the order of their ticks.
        pickup: whether it is the pickup of its part.

    """

    meter: Meter
    chords: tuple[ChordSpan, ...]
    directions: tuple[Direction, ...] = ()
    pickup: bool = False

    @property
    def ticks(self) -> int:
        """Its length in ticks."""
        return self.meter.bar_ticks

    def words_at(self, tick: int) -> frozenset[str]:
        """Return the directions that apply at a tick of the bar."""
        return frozenset(
            each.word for each in self.directions if each.tick <= tick < each.tick + each.ticks
        )


@dataclass(frozen=True, slots=True)
class Ending:
    """An ending of a repeat.

    Attributes:
        times: the times round in which it is played, from 1, ascending.
        bars: its bars, at least one.

    """

    times: tuple[int, ...]
    bars: tuple[Bar, ...]


@dataclass(frozen=True, slots=True)
class Repeat:
    """Bars that are played several times.

    Attributes:
        bars: the bars played every time, before the endings.
        times: how often they are played, 2 to 99.
        endings: none, or one for every time round. The last extends to the next repeat or the end
            of the part.

    """

    bars: tuple[Bar, ...]
    times: int = 2
    endings: tuple[Ending, ...] = ()


@dataclass(frozen=True, slots=True)
class Part:
    """A part of the tune.

    Attributes:
        name: A, B, Intro, Tag, ...
        sections: bars and repeats in order; only the first can be a pickup.
        expected: the number of bars written after its name, or None.
        key, meter, tempo, style: its own, or None for the chart's.

    """

    name: str
    sections: tuple[Bar | Repeat, ...]
    expected: int | None = None
    key: Key | None = None
    meter: Meter | None = None
    tempo: Tempo | None = None
    style: str | None = None

    @property
    def pickup(self) -> Bar | None:
        """The pickup bar, or None without one."""
        first = self.sections[0] if self.sections else None
        return first if isinstance(first, Bar) and first.pickup else None

    def written(self) -> Iterator[Bar]:
        """Yield every bar once, as written, including the pickup."""
        for section in self.sections:
            if isinstance(section, Bar):
                yield section
            else:
                yield from section.bars
                for ending in section.endings:
                    yield from ending.bars

    def length(self) -> int:
        """Return the number of bars as played, without the pickup."""
        return sum(
            1 - section.pickup
            if isinstance(section, Bar)
            else len(section.bars) * section.times
            + sum(len(ending.bars) * len(ending.times) for ending in section.endings)
            for section in self.sections
        )


@dataclass(frozen=True, slots=True)
class Counted:
    """The note that a bare tempo number counts.

    Attributes:
        meter: the chart's meter.
        unit: the note counted by the chart, one of `UNITS`.

    """

    meter: Meter
    unit: str

    def unit_in(self, meter: Meter | None) -> str:
        """Return the note counted by a part's tempo: the chart's, or the beat of another meter.

        Args:
            meter: the part's own meter, or None for the chart's.

        """
        return self.unit if meter is None or meter.beat == self.meter.beat else meter.beat


@dataclass(frozen=True, slots=True)
class Chart:
    """A tune's chords.

    Attributes:
        title: the tune's name.
        key: its key.
        parts: its parts as written, at least one, with different names.
        form: names of parts in performance order once round; empty for the order written.
        meter: the meter of bars without their own.
        tempo: as written, or None for the style's; see `tempo_unit`.
        style: the name of a style, or None for the default.
        by: the composer or source, or "".
        count_in: bars of count-in, 0 to 8, or None to choose by tempo.
        intro: bars from the end of the form played first, 1 to 16, `KICK_OFF`, or None.
        ending: one of `ENDINGS`, or None for the style's.
        melody_file: the name of the melody file in the chart's folder, or "".
        notes: free remarks.
        melody: the melody in the chart's key, or None until loaded; transposed with the chart.

    """

    title: str
    key: Key
    parts: tuple[Part, ...]
    form: tuple[str, ...] = ()
    meter: Meter = COMMON_TIME
    tempo: Tempo | None = None
    style: str | None = None
    by: str = ""
    count_in: int | None = None
    intro: int | str | None = None
    ending: str | None = None
    melody_file: str = ""
    notes: tuple[str, ...] = ()
    melody: Melody | None = field(default=None, hash=False, repr=False)

    def part(self, name: str) -> Part:
        """Return the part with this name, which must exist."""
        return next(part for part in self.parts if part.name == name)

    @property
    def order(self) -> tuple[str, ...]:
        """Names of parts in performance order once round."""
        return self.form or tuple(part.name for part in self.parts)

    @property
    def has_chords(self) -> bool:
        """Whether there is a chord other than N.C."""
        return any(
            span.chord for part in self.parts for bar in part.written() for span in bar.chords
        )

    @property
    def tempo_unit(self) -> str:
        """The note that a bare tempo number counts: that of the chart's tempo, or the beat."""
        return self.tempo.unit if self.tempo else self.meter.beat

    def quarter_bpm(self, written: WrittenTempo) -> float:
        """Return a tempo in quarter notes a minute; a bare number counts this chart's unit.

        Raises:
            SettingsError: when the tempo is outside the range of the band.
        """
        try:
            return written.counted_in(self.tempo_unit).quarter_bpm
        except SymbolError as error:
            raise SettingsError(str(error)) from None

    def counted(self, quarter_bpm: float, digits: int = 3) -> Tempo:
        """Return a tempo, given in quarter notes a minute, in this chart's unit."""
        return Tempo.counted(quarter_bpm, self.tempo_unit, digits)

    def tempo_text(self, quarter_bpm: float, digits: int = 3) -> str:
        """Return the text of a tempo, given in quarter notes a minute, in this chart's unit."""
        return self.counted(quarter_bpm, digits).plain(self.meter.beat)

    def own_tempo_text(self, part: Part) -> str:
        """Return the text of a part's own tempo in the part's unit, "" without one."""
        if part.tempo is None:
            return ""
        beat = (part.meter or self.meter).beat
        unit = Counted(self.meter, self.tempo_unit).unit_in(part.meter)
        return part.tempo.plain(beat if beat == unit else "")

    def up(self, fifths: int, semitones: int | None = None) -> Chart:
        """Return the chart transposed along the line of fifths; `up(-fifths)` undoes it.

        Args:
            fifths: steps towards the sharps.
            semitones: how far up its melody moves; None for the nearest, at most six up or down.

        """
        up = self._with_chords(lambda chord: chord.up(fifths), lambda key: key.up(fifths))
        return replace(up, melody=self.melody and self.melody.up(fifths, semitones))

    def plain(self) -> Chart:
        """Return the chart without double accidentals and keys of more than seven."""
        return self._with_chords(lambda chord: chord.plain(), lambda key: key.plain())

    def _with_chords(self, chord: Callable[[Chord], Chord], key: Callable[[Key], Key]) -> Chart:
        def span(each: ChordSpan) -> ChordSpan:
            return replace(each, chord=chord(each.chord) if each.chord else None)

        def bars(each: tuple[Bar, ...]) -> tuple[Bar, ...]:
            return tuple(replace(bar, chords=tuple(map(span, bar.chords))) for bar in each)

        def section(each: Bar | Repeat) -> Bar | Repeat:
            if isinstance(each, Bar):
                return bars((each,))[0]
            endings = tuple(replace(end, bars=bars(end.bars)) for end in each.endings)
            return replace(each, bars=bars(each.bars), endings=endings)

        parts = tuple(
            replace(
                part,
                key=key(part.key) if part.key else None,
                sections=tuple(map(section, part.sections)),
            )
            for part in self.parts
        )
        return replace(self, key=key(self.key), parts=parts)
