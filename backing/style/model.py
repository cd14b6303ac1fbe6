"""What a groove style says to each player.

Conventions: a grid is a line of signs, one a step: `.` nothing, `-` light, `x` plain, `X` firm. A
step is an eighth unless the grid says otherwise: see `STEPS`. A grid is one bar of the style's
first meter, or two or four that follow each other from the start of a part; in a longer bar it goes
on, in a shorter one it is cut.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from backing.timing import TICKS_PER_QUARTER

if TYPE_CHECKING:
    from collections.abc import Iterator

    from backing.harmony.pitch import Degree
    from backing.notes import Player
    from backing.timing import Meter

LIGHT, PLAIN, FIRM = range(3)

SIGNS = {"-": LIGHT, "x": PLAIN, "X": FIRM}
"""How hard each sign of a grid is struck."""

STEPS = {
    "quarter": TICKS_PER_QUARTER,
    "eighth": TICKS_PER_QUARTER // 2,
    "triplet": TICKS_PER_QUARTER // 3,
    "sixteenth": TICKS_PER_QUARTER // 4,
    "thirty-second": TICKS_PER_QUARTER // 8,
}
"""Length of a grid's step in ticks."""

DRUM_KEYS = {
    "kick": 36,
    "side-stick": 37,
    "snare": 38,
    "sweep": 40,
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
"""General MIDI level 1 percussion keys by the names that style files use.

A sweep is the brush kit's swirl (General MIDI level 2, program 41), an electric snare elsewhere.
"""

GRID_BARS = (1, 2, 4)
"""How many bars a grid may be long."""

FEELS = ("straight", "light-swing", "swing", "shuffle")
BASS_LINES = ("two-beat", "walking", "riding", "figure")
APPROACHES = ("chromatic", "scale")
TURNS = ("parts", "choruses")
ADDED = ("6", "9")
COUNT_INS = {"sticks": "side-stick", "wood-block": "high-wood-block"}


@dataclass(frozen=True, slots=True, eq=False)
class Grid:
    """One line of a pattern; each is itself alone, as a style is.

    Attributes:
        hits: pairs of (tick from the start of the grid, LIGHT, PLAIN or FIRM).
        ticks: length of the grid in ticks.
    """

    hits: tuple[tuple[int, int], ...]
    ticks: int

    def within(self, start: int, end: int, phase: int = 0) -> tuple[tuple[int, int], ...]:
        """Return the hits from tick `start` up to `end` of a bar, going round as often as needed.

        Args:
            start: tick from the bar line.
            end: tick from the bar line.
            phase: where in the grid the bar line is, in ticks.

        """
        return _hits(self, start, end, phase % self.ticks)

    def places(self, start: int, end: int, phase: int = 0) -> Iterator[tuple[int, int]]:
        """Yield (tick in the bar, which hit of the grid), as `within` does."""
        first = (start + phase) // self.ticks * self.ticks - phase
        for turn in range(first, end, self.ticks):
            for place, (tick, _) in enumerate(self.hits):
                if start <= turn + tick < end:
                    yield turn + tick, place


@lru_cache(4096)
def _hits(grid: Grid, start: int, end: int, phase: int) -> tuple[tuple[int, int], ...]:
    return tuple((tick, grid.hits[place][1]) for tick, place in grid.places(start, end, phase))


@dataclass(frozen=True, slots=True)
class Preset:
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
        degrees: one a step, or one a hit of the grid.
        step_ticks: length of a step in ticks.
        grid: where its notes fall in the bars, or None for one on every step.
    """

    degrees: tuple[Degree, ...]
    step_ticks: int
    grid: Grid | None = None


@dataclass(frozen=True, slots=True)
class BassStyle:
    """The bass player's part.

    Attributes:
        sound: program, volume, pan.
        lines: pairs of (colour, one of `BASS_LINES`), one for each colour or a single one for all.
        range: lowest and highest MIDI key.
        velocity: light, plain and firm notes, 1 to 127.
        accents: how firmly notes are played by their place in the bar, or None for what the line
            does of itself.
        figures: for riding lines and figures, with their weights.
        skips: share of bars with a swung eighth before a beat at 120 bpm, 0 to 1; fewer when fast.
        pulse_ticks: for two-beat lines, from one main note to the next: half a bar of 4/4.
        walk_ticks: for two-beat lines, from note to note of a walk.
        with_kick: whether off-beats of the kick are doubled.
        gap: share of each note that is silence before the next, or None for what suits the line.
        approach: one of `APPROACHES`: whether the line comes into chords by any half-step, or keeps
            to the scale of the key and the notes of the chords.
    """

    sound: Preset
    lines: tuple[tuple[str, str], ...]
    range: tuple[int, int]
    velocity: tuple[int, int, int]
    accents: Grid | None
    figures: tuple[tuple[Figure, float], ...]
    skips: float
    pulse_ticks: int
    walk_ticks: int
    with_kick: bool
    gap: float | None
    approach: str

    def line(self, variation: str) -> str:
        """Return how the bass moves under a colour."""
        return next((line for name, line in self.lines if name == variation), self.lines[0][1])


@dataclass(frozen=True, slots=True)
class ChopPattern:
    """A bar of chops, or several.

    Attributes:
        grid: when the chord is struck.
        weight: how often it is chosen among its like.
        variation: which colour it is for, or "" for all.
    """

    grid: Grid
    weight: float
    variation: str


@dataclass(frozen=True, slots=True)
class ChopStyle:
    """The chop's part.

    Attributes:
        sound: program, volume, pan.
        instrument: on whose neck the chords are held, a name of `find_instrument`.
        level: one of the levels of shapes.
        strings: how many sound or which, as in `ShapeRequest`, or None for what the level plays.
        highest: the highest fret.
        adds: which of `ADDED` plain chords get: a sixth to a major triad, a ninth to a seventh.
        velocity: light, plain and firm strokes, 1 to 127.
        length: of light, plain and firm strokes, in ticks.
        roll_ms: how much later than the string below each string is struck, in milliseconds.
        patterns: when it is struck, at least one pattern for every colour.
    """

    sound: Preset
    instrument: str
    level: str
    strings: int | tuple[int, ...] | None
    highest: int
    adds: tuple[str, ...]
    velocity: tuple[int, int, int]
    length: tuple[int, int, int]
    roll_ms: float
    patterns: tuple[ChopPattern, ...]


@dataclass(frozen=True, slots=True)
class DrumGroove:
    """A bar of drums, or a fill.

    Attributes:
        lanes: pairs of (name in `DRUM_KEYS`, grid).
        weight: how often it is chosen among its like.
        variation: which colour it is for; "" for all, and for fills.
        ticks: its length: whole bars, or for a fill how much of the end of the bar it takes.
    """

    lanes: tuple[tuple[str, Grid], ...]
    weight: float
    variation: str
    ticks: int


@dataclass(frozen=True, slots=True, eq=False)
class DrumStyle:
    """The drummer's part.

    Attributes:
        sound: volume and pan; the program is the kit, 1 the standard one.
        velocity: for each lane its light, plain and firm strokes, 1 to 127.
        grooves: what is played, at least one for each colour.
        fills: what leads into a part.
        top: the lane that marks the top of a chorus, or "" for none.
        marks: share of other parts whose start it marks too, 0 to 1.
    """

    sound: Preset
    velocity: tuple[tuple[str, tuple[int, int, int]], ...]
    grooves: tuple[DrumGroove, ...]
    fills: tuple[DrumGroove, ...]
    top: str
    marks: float


@dataclass(frozen=True, slots=True, eq=False)
class Style:
    """A groove style; each is itself alone, so that looking things up by it costs little.

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
        variations: names of ways to play, in the order in which parts or choruses take turns.
        turns: one of `TURNS`: what takes turns with the colours.
        sits_out: who plays only when asked to.
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
    variations: tuple[str, ...]
    turns: str
    sits_out: frozenset[Player]
    bass: BassStyle
    chop: ChopStyle
    drums: DrumStyle

    @property
    def bar_ticks(self) -> int:
        """Length of a one-bar grid in ticks."""
        return self.meters[0].bar_ticks
