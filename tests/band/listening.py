"""Measurements of charts rendered to files, taken from the bytes of the files.

Notes are read back with `smf`, so that nothing is measured that is not written. Where a bar begins
and which chord it has is taken from the chart.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import pairwise
from math import fsum, log2, sqrt
from typing import TYPE_CHECKING

import smf

from backing.chart.read import read_chart
from backing.out.midifile import midi_bytes
from backing.performance.performance import Performance, PlayedBar
from backing.performance.settings import Settings

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from backing.harmony.chord import Chord

SEEDS = range(1, 21)
BEAT = 960
EARLY = BEAT // 5
"""Ticks before a bar line from which a stroke belongs to the bar, as loose strokes may be early."""
KICK, SIDE_STICK, SNARE, HAT, PEDAL, OPEN_HAT, CRASH, RIDE = 36, 37, 38, 42, 44, 46, 49, 51

SONG = """\
key: F
form: A A B A
[A] 8
| F6      | D7     | Gm7   | C7     |
| Am7 D7  | Gm7 C7 | F6    | Gm7 C7 |
[B] 8
| Cm7     | F7     | Bbmaj7 | Bb6    |
| Dm7     | G7     | Gm7   | C7     |
"""

REEL = """\
key: A
form: A A B B
[A] 8
| A   | %   | D   | A   |
| A   | F#m | E7  | A   |
[B] 8
| A   | G   | A   | E7  |
| D   | A   | E7  | A   |
"""

BLUES = """\
key: G
[A] 12
| G7   | C7   | G7   | %    |
| C7   | %    | G7   | E7   |
| Am7  | D7   | G7   | D7   |
"""


@dataclass(frozen=True)
class Take:
    """One rendered file and the bars it was made from."""

    file: smf.File
    bars: tuple[PlayedBar, ...]

    @property
    def bpm(self) -> float:
        """Quarter notes a minute of the first bar."""
        return self.bars[0].bpm

    @property
    def music(self) -> tuple[PlayedBar, ...]:
        """The bars from the count-in to the last chord."""
        names = [bar.marker for bar in self.bars]
        start = next(place for place, name in enumerate(names) if name not in ("", "count-in"))
        end = names.index("ending") if "ending" in names else len(names)
        return self.bars[start:end]

    @cached_property
    def bass(self) -> list[smf.Sound]:
        """The notes of the bass."""
        return self.file.track("Bass").sounds()

    @cached_property
    def chop(self) -> list[smf.Sound]:
        """The notes of the chop."""
        return self.file.track("Chop").sounds()

    @cached_property
    def drums(self) -> list[smf.Sound]:
        """The strokes of the drums, including the count-in."""
        return self.file.track("Drums").sounds()

    def lane(self, *keys: int) -> list[smf.Sound]:
        """Return the strokes on some drums in the bars of the tune."""
        start, end = self.music[0].start, self.music[-1].end
        return [
            each for each in self.drums if each.pitch in keys and start - EARLY <= each.tick < end
        ]

    def strums(self) -> list[smf.Sound]:
        """Return the first string of each stroke of the chop: the lowest, except in up-strokes."""
        found: list[smf.Sound] = []
        for sound in self.chop:
            if not found or sound.tick - found[-1].tick > 150:
                found.append(sound)
        return found

    def milliseconds(self, ticks: float) -> float:
        """Return a length in milliseconds."""
        return ticks * 60_000 / (self.bpm * BEAT)

    def chord_at(self, tick: int) -> Chord | None:
        """Return the chart's chord at a tick."""
        found = None
        for bar in self.bars:
            for start, chord in bar.chords:
                if start <= tick:
                    found = chord
        return found

    def chords(self) -> list[tuple[int, Chord | None]]:
        """Return each chord of the tune with its first tick, without repeats."""
        found: list[tuple[int, Chord | None]] = []
        for bar in self.music:
            for tick, chord in bar.chords:
                if not found or found[-1][1] != chord:
                    found.append((tick, chord))
        return found


@lru_cache(400)
def take(
    text: str,
    style: str,
    bpm: float,
    seed: int = 1,
    looseness: float = 1.0,
    choruses: int = 2,
) -> Take:
    """Render a chart and read its file."""
    chart = read_chart(text, "x.chart")
    settings = Settings(
        style=style, bpm=bpm, seed=seed, looseness=looseness, choruses=choruses, count_in=1
    )
    performance = Recorded(chart, settings)
    return Take(smf.read_smf(midi_bytes(performance)), tuple(performance.bars()))


class Recorded(Performance):
    """A performance whose bars are made only once, though they are used twice."""

    @cached_property
    def _kept(self) -> tuple[PlayedBar, ...]:
        return tuple(super().bars())

    def bars(self) -> Iterator[PlayedBar]:
        """Yield the bars that were made the first time."""
        yield from self._kept


def takes(
    text: str, style: str, bpm: float, looseness: float = 1.0, choruses: int = 2
) -> list[Take]:
    """Render a chart with twenty seeds."""
    return [take(text, style, bpm, seed, looseness, choruses) for seed in SEEDS]


def in_bar(one: Take, sounds: Iterable[smf.Sound]) -> list[tuple[int, int, smf.Sound]]:
    """Return (number of the bar, tick in it, sound) for the sounds of the tune, loose ones too."""
    found = []
    bars = iter(enumerate(one.music))
    number, bar = next(bars)
    for sound in sounds:
        while sound.tick >= bar.end - EARLY and number < len(one.music) - 1:
            number, bar = next(bars)
        if bar.start - EARLY <= sound.tick < bar.end:
            found.append((number, sound.tick - bar.start, sound))
    return found


def ratios(one: Take, sounds: Sequence[smf.Sound], least: float = 0.45) -> list[float]:
    """Return the swing ratio of every beat that is struck with its off-beat and the next beat.

    An off-beat lies between .45, or another least share, and .8 of the way from beat to beat.
    """
    beats: dict[int, int] = {}
    between: dict[int, list[int]] = {}
    for _, _, sound in in_bar(one, sounds):
        number, inside = divmod(sound.tick + BEAT // 6, BEAT)
        if inside < BEAT // 3:
            beats.setdefault(number, sound.tick)
        else:
            between.setdefault(number, []).append(sound.tick)
    found = []
    for number, ticks in between.items():
        if len(ticks) == 1 and number in beats and number + 1 in beats:
            first, last = beats[number], beats[number + 1]
            if least <= (ticks[0] - first) / (last - first) <= 0.8:
                found.append((ticks[0] - first) / (last - ticks[0]))
    return found


def mean_ratio(found: Sequence[float]) -> float:
    """Return 2 to the mean of the binary logarithms, as in the Jazz Trio Database."""
    return 2 ** mean([log2(each) for each in found])


def lateness(one: Take, sounds: Iterable[smf.Sound]) -> dict[int, float]:
    """Return the delay of each on-beat stroke in milliseconds, by the number of its beat."""
    found = {}
    for _, _, sound in in_bar(one, sounds):
        number, inside = divmod(sound.tick + BEAT // 6, BEAT)
        if inside < BEAT // 3:
            found.setdefault(number, one.milliseconds(inside - BEAT // 6))
    return found


def mean(values: Sequence[float]) -> float:
    """Return the mean."""
    return fsum(values) / len(values)


def deviation(values: Sequence[float]) -> float:
    """Return the standard deviation."""
    middle = mean(values)
    return sqrt(mean([(each - middle) ** 2 for each in values]))


def lag_one(values: Sequence[float]) -> float:
    """Return the autocorrelation at a lag of one."""
    middle = mean(values)
    off = [each - middle for each in values]
    return fsum(a * b for a, b in pairwise(off)) / fsum(a * a for a in off)


def share(facts: Sequence[bool]) -> float:
    """Return the share of true facts."""
    return sum(facts) / len(facts)
