"""What a chart says, free of how it was written.

Conventions: chords are kept as letters; numbers and Roman numerals are read in the key of their
part. Every bar knows its meter and its chords cover it from the first tick to the last.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from backing.timing import Meter, Tempo

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from backing.chart.melody import Melody
    from backing.harmony.chord import Chord
    from backing.harmony.key import Key

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
"""Every direction and what it asks for."""

HITS = frozenset({"stop", "hold", "break"})
"""Directions at which the groove stops."""

LEVELS = frozenset({"soft", "loud", "build"})
"""Directions about loudness, which hold to the end of the part."""

ENDINGS = {
    "hold": "the home chord is hit and held",
    "short": "the home chord is hit and damped",
    "none": "the band stops at the last bar line",
    "tag": "the last four bars come twice more, then the home chord is held",
    "ritard": "the last two bars slow down, then the home chord is held",
    "two-hit": "the chord before home and home, two hits in a bar of their own",
    "fade": "the last eight bars grow softer to nothing; live the home chord is held",
}
"""Every way to end, for the header `ending`."""

KICK_OFF = "kick-off"
"""An intro of four chords that the whole band hits."""

MOST_INTRO = 16
"""The most bars of an intro taken from the end of the form."""

COMMON_TIME = Meter(4, 4)

MOST_TIMES = 99
"""The most often a repeat may be played."""

MOST_BARS = 4096
"""The most bars once round the form."""


@dataclass(frozen=True, slots=True)
class ChordSpan:
    """A chord and the time it has in its bar.

    Attributes:
        tick: where it starts, in ticks from the bar line.
        ticks: how long it lasts, in ticks, at least 1.
        chord: the chord; None is no chord (N.C.).

    """

    tick: int
    ticks: int
    chord: Chord | None

    @property
    def end(self) -> int:
        """Where it ends, in ticks from the bar line."""
        return self.tick + self.ticks


@dataclass(frozen=True, slots=True)
class Direction:
    """A word to the band.

    Attributes:
        word: one of `DIRECTIONS`.
        tick: where it applies from, in ticks from the bar line.
        ticks: how long it applies, in ticks: the chord it stands at, or the whole bar.

    """

    word: str
    tick: int
    ticks: int


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar as written.

    Attributes:
        meter: its meter; for a pickup its length.
        chords: at least one span; they follow each other without a gap and fill the bar.
        directions: in the order of their ticks.
        pickup: whether it is the pickup of its part.

    """

    meter: Meter
    chords: tuple[ChordSpan, ...]
    directions: tuple[Direction, ...] = ()
    pickup: bool = False

    @property
    def ticks(self) -> int:
        """Length in ticks."""
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
        times: the times round at which it is played, from 1, ascending.
        bars: its bars, at least one.

    """

    times: tuple[int, ...]
    bars: tuple[Bar, ...]


@dataclass(frozen=True, slots=True)
class Repeat:
    """Bars that are played several times.

    Attributes:
        bars: what is played each time, before the endings.
        times: how often, 2 to 99.
        endings: none, or one for every time round. The last one runs up to the next repeat or the
            end of the part.

    """

    bars: tuple[Bar, ...]
    times: int = 2
    endings: tuple[Ending, ...] = ()


@dataclass(frozen=True, slots=True)
class Part:
    """A part of the tune.

    Attributes:
        name: A, B, Intro, Tag, ...
        sections: bars and repeats in order; a pickup bar can only be the first.
        expected: the number of bars that the writer expects, or None.
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
        """The pickup bar, if there is one."""
        first = self.sections[0] if self.sections else None
        return first if isinstance(first, Bar) and first.pickup else None

    def written(self) -> Iterator[Bar]:
        """Yield every bar as it is written, once, the pickup too."""
        for section in self.sections:
            if isinstance(section, Bar):
                yield section
            else:
                yield from section.bars
                for ending in section.endings:
                    yield from ending.bars

    def length(self) -> int:
        """Return the number of bars as played, without the pickup, counted without unrolling."""
        return sum(
            1 - section.pickup
            if isinstance(section, Bar)
            else len(section.bars) * section.times
            + sum(len(ending.bars) * len(ending.times) for ending in section.endings)
            for section in self.sections
        )


@dataclass(frozen=True, slots=True)
class Counted:
    """What a bare number of a tempo counts.

    Attributes:
        meter: the chart's meter.
        unit: the note that the chart counts, one of `UNITS`.

    """

    meter: Meter
    unit: str

    def unit_in(self, meter: Meter | None) -> str:
        """Return the note that a part's own tempo counts: the chart's, or another meter's beat.

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
        parts: its parts in the order written, at least one, each name once.
        form: names of parts in playing order once round; empty for the order written.
        meter: the meter of bars that do not say their own.
        tempo: as written, or None for the style's; see `tempo_unit`.
        style: the name of a groove style, or None for the default.
        by: who wrote it, or "".
        count_in: bars of count-in, 0 to 8, or None for what suits the tempo.
        intro: bars from the end of the form that are played first, 1 to 16, `KICK_OFF`, or None.
        ending: one of `ENDINGS`, or None for the style's.
        melody: the name of the file beside the chart that holds the melody, or "".
        notes: free remarks.
        lead: the melody itself, once it has been read, in the chart's key; it is transposed with
            the chart.

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
    melody: str = ""
    notes: tuple[str, ...] = ()
    lead: Melody | None = field(default=None, hash=False, repr=False)

    def part(self, name: str) -> Part:
        """Return the part with this name."""
        return next(part for part in self.parts if part.name == name)

    @property
    def order(self) -> tuple[str, ...]:
        """Names of parts in playing order once round."""
        return self.form or tuple(part.name for part in self.parts)

    @property
    def tempo_unit(self) -> str:
        """The note that a bare number of a tempo counts, wherever this chart is played or shown.

        It is the note that the chart's tempo names; without a tempo it is the meter's beat.
        """
        return self.tempo.unit if self.tempo else self.meter.beat

    def counted(self, quarter_bpm: float, digits: int = 3) -> Tempo:
        """Return a tempo in quarter notes a minute as this chart counts it."""
        return Tempo.counted(quarter_bpm, self.tempo_unit, digits)

    def tempo_text(self, quarter_bpm: float, digits: int = 3) -> str:
        """Return a tempo in quarter notes a minute as text, as this chart counts it."""
        return self.counted(quarter_bpm, digits).plain(self.meter.beat)

    def own_tempo_text(self, part: Part) -> str:
        """Return a part's own tempo as text, as the part counts it; "" without one."""
        if part.tempo is None:
            return ""
        beat = (part.meter or self.meter).beat
        unit = Counted(self.meter, self.tempo_unit).unit_in(part.meter)
        return part.tempo.plain(beat if beat == unit else "")

    def up(self, fifths: int, semitones: int | None = None) -> Chart:
        """Return the chart transposed along the line of fifths; `up(-fifths)` takes it back.

        Args:
            fifths: how far, towards the sharps.
            semitones: how much higher its melody sounds; None for the nearest way, at most six.

        """
        up = self._with_chords(lambda chord: chord.up(fifths), lambda key: key.up(fifths))
        return replace(up, lead=self.lead and self.lead.up(fifths, semitones))

    def plain(self) -> Chart:
        """Return the chart spelled for reading: no double accidentals, keys of seven at most."""
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
