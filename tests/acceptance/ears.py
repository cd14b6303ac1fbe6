"""Takes of a style with and without looseness, matched stroke by stroke.

Pitches, velocities and times are read from the bytes of written files. Where each bar begins, its
chords, its part and which of the style's variations was meant is taken from the performance.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING, NamedTuple

import smf
from listening import HAT, KICK, OPEN_HAT, RIDE, SIDE_STICK, SNARE, Recorded, Take

from backing.chart.read import read_chart
from backing.notes import Player
from backing.out.midifile import midi_bytes
from backing.performance.settings import Settings
from backing.style.library import find_style

from .tunes import chart_text

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from backing.band.context import BarContext
    from backing.chart.model import Chart
    from backing.harmony.chord import Chord
    from backing.style.model import Style

RIDE_BELL, TAMBOURINE = 53, 54
CYMBALS = (RIDE, HAT, OPEN_HAT, RIDE_BELL, TAMBOURINE)
OTHERS = (SNARE, SIDE_STICK, 40, KICK, 76, 77, 41, 45)
"""Lanes that keep time without a cymbal: snare, stick, sweep, kick, wood blocks, toms."""


class Heard(NamedTuple):
    """One stroke of a lane.

    Attributes:
        bar: number of the bar, from 0.
        tick: where it stands at looseness 0, from its bar line.
        loose: where it stands at looseness 1, from the same bar line.
        pitch: MIDI key.
        velocity: 1 to 127.
        length: in ticks, at looseness 0.
    """

    bar: int
    tick: int
    loose: int
    pitch: int
    velocity: int
    length: int


@dataclass(frozen=True)
class Bar:
    """A bar of the tune.

    Attributes:
        start: its bar line, in ticks from the start of the file.
        context: what the band saw of it.
        chords: pairs of (tick in it, chord or None), the first one at 0.
    """

    start: int
    context: BarContext
    chords: tuple[tuple[int, Chord | None], ...]

    def chord(self, tick: int) -> Chord | None:
        """Return the chord at a tick from the bar line."""
        return next(chord for at, chord in reversed(self.chords) if at <= tick)

    @property
    def end(self) -> int:
        """The bar line after it."""
        return self.start + self.context.ticks

    @property
    def may_fill(self) -> bool:
        """Whether a fill may come in it: it ends a part or eight bars of one."""
        sequenced = self.context.sequenced
        return sequenced.index == sequenced.length - 1 or sequenced.index % 8 == 7


@dataclass(frozen=True)
class Listener:
    """One performance, written twice: exactly, and as loose as a good section.

    Attributes:
        style: the style.
        bpm: quarter notes a minute.
        exact: the take at looseness 0.
        loose: the take at looseness 1.
        contexts: what the band saw, bar by bar after the count-in.
    """

    style: Style
    bpm: float
    exact: Take
    loose: Take
    contexts: tuple[BarContext, ...]

    @cached_property
    def bars(self) -> list[Bar]:
        """The bars of the tune, without count-in and last chord."""
        found = []
        chord: Chord | None = None
        for bar, context in zip(self.exact.music, self.contexts, strict=False):
            chords = [(tick - bar.start, each) for tick, each in bar.chords]
            if not chords or chords[0][0]:
                chords.insert(0, (0, chord))
            chord = chords[-1][1]
            found.append(Bar(bar.start, context, tuple(chords)))
        return found

    @cached_property
    def bass(self) -> list[Heard]:
        """The notes of the bass in the bars of the tune."""
        return self._matched(self.exact.bass, self.loose.bass)

    @cached_property
    def chop(self) -> list[Heard]:
        """The notes of the chop, string by string."""
        return self._matched(self.exact.chop, self.loose.chop)

    @cached_property
    def drums(self) -> list[Heard]:
        """The strokes of the drums."""
        return self._matched(self.exact.drums, self.loose.drums)

    @cached_property
    def strums(self) -> list[Heard]:
        """The first string of each stroke of the chop at looseness 1."""
        first: dict[tuple[int, int], Heard] = {}
        for each in self.chop:
            known = first.get((each.bar, each.tick))
            if known is None or each.loose < known.loose:
                first[each.bar, each.tick] = each
        return list(first.values())

    def lane(self, *keys: int) -> list[Heard]:
        """Return the strokes on some drums."""
        return [each for each in self.drums if each.pitch in keys]

    @cached_property
    def time(self) -> list[Heard]:
        """The lane that keeps time: the cymbals, else the busiest drum."""
        cymbals = self.lane(*CYMBALS)
        if len(cymbals) >= len(self.bars):
            return cymbals
        return max((self.lane(key) for key in OTHERS), key=len)

    def milliseconds(self, ticks: float) -> float:
        """Return a length in milliseconds."""
        return self.exact.milliseconds(ticks)

    def lateness(self, lane: Iterable[Heard]) -> dict[int, float]:
        """Return the delays of a lane's strokes in milliseconds, by exact tick.

        Of several strokes on one tick the first counts.
        """
        found: dict[int, float] = {}
        for each in lane:
            late = self.milliseconds(each.loose - each.tick)
            at = self.bars[each.bar].start + each.tick
            found[at] = min(late, found.get(at, late))
        return dict(sorted(found.items()))

    def _matched(self, exact: list[smf.Sound], loose: list[smf.Sound]) -> list[Heard]:
        """Return strokes with both ticks: the n-th of a key in one take is the n-th there."""
        starts = [bar.start for bar in self.bars]
        end = self.bars[-1].end
        by_pitch: dict[int, list[smf.Sound]] = defaultdict(list)
        for sound in loose:
            by_pitch[sound.pitch].append(sound)
        count: dict[int, int] = defaultdict(int)
        found = []
        for sound in exact:
            others = by_pitch[sound.pitch]
            number = count[sound.pitch]
            count[sound.pitch] += 1
            if number < len(others) and starts[0] <= sound.tick < end:
                bar = bisect_right(starts, sound.tick) - 1
                start, played = starts[bar], others[number]
                found.append(
                    Heard(
                        bar,
                        sound.tick - start,
                        played.tick - start,
                        sound.pitch,
                        played.velocity,
                        sound.length,
                    )
                )
        return found


def written(chart: Chart, settings: Settings) -> tuple[Take, tuple[BarContext, ...]]:
    """Write a performance and read its file; return the take and the contexts of its bars."""
    performance = Recorded(chart, settings)
    take = Take(smf.read_smf(midi_bytes(performance)), tuple(performance.bars()))
    contexts = (performance.context(number) for number in range(performance.length))
    return take, tuple(context for context in contexts if context)


@lru_cache(1000)
def listen(
    tune: str, style: str, bpm: float, seed: int, choruses: int, *, all_play: bool = True
) -> Listener:
    """Write one of the tunes twice in the style's first meter and listen.

    Args:
        tune: its name.
        style: the style's name.
        bpm: quarter notes a minute.
        seed: the seed.
        choruses: times round.
        all_play: whether those play too who only play when they are asked.

    """
    found = find_style(style)
    chart = read_chart(chart_text(tune, found.meters[0]), tune)
    called = frozenset(Player) if all_play else frozenset()
    exact, loose = (
        written(
            chart,
            Settings(
                style=style,
                bpm=bpm,
                seed=seed,
                choruses=choruses,
                count_in=1,
                looseness=looseness,
                called=called,
            ),
        )
        for looseness in (0.0, 1.0)
    )
    return Listener(found, bpm, exact[0], loose[0], exact[1])


@dataclass(frozen=True)
class Evidence:
    """All takes of a style that the table is measured from.

    Attributes:
        style: the style.
        seeds: how many seeds, from 1.
        progress: called after each performance that is listened to.
    """

    style: Style
    seeds: int
    progress: Callable[[], None] = lambda: None

    def song(self) -> list[Listener]:
        """Return four choruses of the song at the usual tempo."""
        return self._many("Song", self.style.usual_bpm, 4)

    def as_it_comes(self) -> list[Listener]:
        """Return the song without the players that play only when called."""
        if not self.style.sits_out:
            return self.song()
        return self._many("Song", self.style.usual_bpm, 4, all_play=False)

    def short(self, tune: str, bpm: float | None = None) -> list[Listener]:
        """Return one chorus of a tune; without a tempo at the usual one."""
        return self._many(tune, bpm or self.style.usual_bpm, 1)

    def everything(self) -> list[Listener]:
        """Return the song, the blues and the fiddle tune at the usual tempo."""
        return [*self.song(), *self.short("Blues"), *self.short("Fiddle")]

    def at_tempi(self) -> dict[float, list[Listener]]:
        """Return the song at both ends and in the middle of the style's tempi.

        At the ends it is played once round, twice where the choruses have different variations.
        """
        style = self.style
        choruses = 2 if style.turns == "choruses" and len(style.variations) > 1 else 1
        return {
            style.slowest_bpm: self._many("Song", style.slowest_bpm, choruses),
            style.usual_bpm: self.song(),
            style.fastest_bpm: self._many("Song", style.fastest_bpm, choruses),
        }

    def _many(
        self, tune: str, bpm: float, choruses: int, *, all_play: bool = True
    ) -> list[Listener]:
        found = []
        for seed in range(1, self.seeds + 1):
            found.append(listen(tune, self.style.name, bpm, seed, choruses, all_play=all_play))
            self.progress()
        return found


class Quick(Evidence):
    """A few takes at the usual tempo, for tests that run all the time."""

    def short(self, tune: str, bpm: float | None = None) -> list[Listener]:
        """Return one chorus of a tune, always at the usual tempo."""
        return super().short(tune)

    def everything(self) -> list[Listener]:
        """Return the song, and the fiddle tune once."""
        return [*self.song(), *Quick(self.style, 1).short("Fiddle")]

    def at_tempi(self) -> dict[float, list[Listener]]:
        """Return the song at the usual tempo."""
        return {self.style.usual_bpm: self.song()}
