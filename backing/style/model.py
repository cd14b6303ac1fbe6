"""What a groove style says to each player.

Conventions: a grid is a line of signs, one a step: `.` nothing, `-` light, `x` plain, `X` firm. A
step is an eighth unless the grid says triplet (three to a quarter) or sixteenth. A grid is one bar
of the style's first meter; in a longer bar it goes round again, in a shorter one it is cut.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from backing.timing import TICKS_PER_QUARTER

if TYPE_CHECKING:
    from collections.abc import Iterator

    from backing.harmony.pitch import Degree
    from backing.timing import Meter

LIGHT, PLAIN, FIRM = range(3)

SIGNS = {"-": LIGHT, "x": PLAIN, "X": FIRM}
"""How hard each sign of a grid is struck."""

STEPS = {
    "quarter": TICKS_PER_QUARTER,
    "eighth": TICKS_PER_QUARTER // 2,
    "triplet": TICKS_PER_QUARTER // 3,
    "sixteenth": TICKS_PER_QUARTER // 4,
}
"""Length of a grid's step in ticks."""

DRUM_KEYS = {
    "kick": 36,
    "side-stick": 37,
    "snare": 38,
    "floor-tom": 41,
    "hat": 42,
    "pedal-hat": 44,
    "tom": 45,
    "open-hat": 46,
    "high-tom": 48,
    "crash": 49,
    "ride": 51,
    "ride-bell": 53,
    "tambourine": 54,
    "splash": 55,
    "high-wood-block": 76,
    "low-wood-block": 77,
}
"""General MIDI level 1 percussion keys by the names that style files use."""

FEELS = ("straight", "swing", "shuffle")
BASS_LINES = ("two-beat", "walking", "riding")
COUNT_INS = {"sticks": "side-stick", "wood-block": "high-wood-block"}


@dataclass(frozen=True, slots=True)
class Grid:
    """One line of a pattern.

    Attributes:
        hits: pairs of (tick from the start of the grid, LIGHT, PLAIN or FIRM).
        ticks: length of the grid in ticks.
    """

    hits: tuple[tuple[int, int], ...]
    ticks: int

    def within(self, start: int, end: int) -> Iterator[tuple[int, int]]:
        """Yield the hits from tick `start` up to `end` of a bar, going round as often as needed."""
        for turn in range(start // self.ticks * self.ticks, end, self.ticks):
            for tick, weight in self.hits:
                if start <= turn + tick < end:
                    yield turn + tick, weight


@dataclass(frozen=True, slots=True)
class Sound:
    """How a player's track sounds.

    Attributes:
        program: General MIDI program, 1 to 128.
        volume: channel volume, 0 to 127.
        pan: 0 left, 64 middle, 127 right.
    """

    program: int
    volume: int
    pan: int


@dataclass(frozen=True, slots=True)
class Figure:
    """A bass figure of degrees above the chord.

    Attributes:
        degrees: one a step.
        step_ticks: length of a step in ticks.
    """

    degrees: tuple[Degree, ...]
    step_ticks: int


@dataclass(frozen=True, slots=True)
class BassStyle:
    """The bass player's part.

    Attributes:
        sound: program, volume, pan.
        line: one of `BASS_LINES`.
        range: lowest and highest MIDI key.
        velocity: light, plain and firm notes, 1 to 127.
        figures: for riding lines, with their weights.
        skips: share of bars with a swung eighth before a beat at 120 bpm, 0 to 1; fewer when fast.
    """

    sound: Sound
    line: str
    range: tuple[int, int]
    velocity: tuple[int, int, int]
    figures: tuple[tuple[Figure, float], ...]
    skips: float


@dataclass(frozen=True, slots=True)
class ChopStyle:
    """The chop's part.

    Attributes:
        sound: program, volume, pan.
        range: lowest and highest MIDI key.
        voices: notes in a chord, 3 or 4.
        velocity: light, plain and firm strokes, 1 to 127.
        length: of light, plain and firm strokes, in ticks.
        patterns: one-bar grids with their weights.
    """

    sound: Sound
    range: tuple[int, int]
    voices: int
    velocity: tuple[int, int, int]
    length: tuple[int, int, int]
    patterns: tuple[tuple[Grid, float], ...]


@dataclass(frozen=True, slots=True)
class DrumGroove:
    """A bar of drums, or a fill.

    Attributes:
        lanes: pairs of (name in `DRUM_KEYS`, grid).
        weight: how often it is chosen among its like.
        colour: which parts it is for, one of the style's colours; "" for fills.
        ticks: for a fill, how much of the end of the bar it takes, in ticks.
    """

    lanes: tuple[tuple[str, Grid], ...]
    weight: float
    colour: str
    ticks: int


@dataclass(frozen=True, slots=True)
class DrumStyle:
    """The drummer's part.

    Attributes:
        sound: volume and pan; the program is the kit, 1 the standard one.
        colours: names of the ways to keep time, in the order in which parts take turns with them.
        velocity: for each lane its light, plain and firm strokes, 1 to 127.
        grooves: what is played, at least one for each colour.
        fills: what leads into a part.
        top: the lane that marks the top of a chorus.
    """

    sound: Sound
    colours: tuple[str, ...]
    velocity: tuple[tuple[str, tuple[int, int, int]], ...]
    grooves: tuple[DrumGroove, ...]
    fills: tuple[DrumGroove, ...]
    top: str


@dataclass(frozen=True, slots=True)
class Style:
    """A groove style.

    Attributes:
        name: the name of its file.
        about: one line on what it is.
        source: where its patterns come from.
        meters: meters it plays, the first one being that of its grids.
        slowest_bpm, fastest_bpm: range in which it is at home, in quarter notes a minute.
        usual_bpm: for charts that name no tempo.
        feel: one of `FEELS`.
        count_in: one of `COUNT_INS`.
        ending: one of the chart's endings, for charts that name none.
        bass, chop, drums: what each player does.
    """

    name: str
    about: str
    source: str
    meters: tuple[Meter, ...]
    slowest_bpm: float
    fastest_bpm: float
    usual_bpm: float
    feel: str
    count_in: str
    ending: str
    bass: BassStyle
    chop: ChopStyle
    drums: DrumStyle

    @property
    def grid_ticks(self) -> int:
        """Length of a one-bar grid in ticks."""
        return self.meters[0].bar_ticks
