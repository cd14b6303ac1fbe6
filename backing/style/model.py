"""The model of groove styles.

Conventions: a grid is a line of signs, one a step: `.` nothing, `-` light, `x` plain, `X` firm. A
step is an eighth unless the table names another of `STEPS`. A grid is one, two or four bars of the
style's first meter, counted from the start of a part; in a longer bar it repeats, in a shorter one
it is cut.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from backing.timing import FASTEST_BPM, TICKS_PER_QUARTER

if TYPE_CHECKING:
    from collections.abc import Iterator

    from backing.harmony.pitch import Degree
    from backing.notes import Player
    from backing.timing import Meter

LIGHT, PLAIN, FIRM = range(3)

SIGNS = {"-": LIGHT, "x": PLAIN, "X": FIRM}
"""The weight of each sign of a grid."""

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

FEET = {"kick", "pedal-hat"}
"""Drums that are played by foot."""

GRID_BARS = (1, 2, 4)
"""Lengths that a grid may have, in bars."""

FEELS = ("straight", "light-swing", "swing", "shuffle")
BASS_LINES = ("two-beat", "walking", "riding", "figure")
APPROACHES = ("chromatic", "scale")
TURNS = ("parts", "choruses")
ADDED = ("6", "9")
COUNT_INS = {"sticks": "side-stick", "wood-block": "high-wood-block"}
HABITS = {"straight": "straight", "light-swing": "swing", "swing": "swing", "shuffle": "shuffle"}
"""By feel the family of drummers whose habits a style has, unless it names one of `FAMILIES`."""

FAMILIES = ("straight", "swing", "shuffle", "latin", "none")
"""Families of drummers; with "none" grooves are played as written, with the fills of "straight"."""

Hits = tuple[tuple[int, int], ...]
"""Pairs of (tick, LIGHT, PLAIN or FIRM)."""

Lanes = tuple[tuple[str, Hits], ...]
"""Drum strokes as pairs of (name in `DRUM_KEYS`, hits)."""


@dataclass(frozen=True, slots=True, eq=False)
class Grid:
    """One line of a pattern, compared by identity, as styles are.

    Attributes:
        hits: pairs of (tick from the start of the grid, LIGHT, PLAIN or FIRM).
        ticks: length of the grid in ticks.
    """

    hits: Hits
    ticks: int

    def within(self, start: int, end: int, phase: int = 0) -> Hits:
        """Return the hits from tick `start` up to `end` of a bar; the grid repeats as needed.

        Args:
            start: tick from the bar line.
            end: tick from the bar line.
            phase: tick of the grid at the bar line.

        """
        return _hits(self, start, end, phase % self.ticks)

    def places(self, start: int, end: int, phase: int = 0) -> Iterator[tuple[int, int]]:
        """Yield (tick in the bar, index of the hit in the grid), as `within` does."""
        first = (start + phase) // self.ticks * self.ticks - phase
        for origin in range(first, end, self.ticks):
            for index, (tick, _) in enumerate(self.hits):
                if start <= origin + tick < end:
                    yield origin + tick, index


@lru_cache(4096)
def _hits(grid: Grid, start: int, end: int, phase: int) -> Hits:
    return tuple((tick, grid.hits[index][1]) for tick, index in grid.places(start, end, phase))


@dataclass(frozen=True, slots=True)
class Preset:
    """The program, volume and pan of a player's track.

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
        degrees: one for each step, or one for each hit of the grid.
        step_ticks: length of a step in ticks.
        grid: its rhythm, or None for a note on every step.
    """

    degrees: tuple[Degree, ...]
    step_ticks: int
    grid: Grid | None = None


@dataclass(frozen=True, slots=True)
class BassStyle:
    """The bass player's part.

    Attributes:
        sound: program, volume, pan.
        lines: pairs of (variation, one of `BASS_LINES`), one for each variation or one for all.
        range: lowest and highest MIDI key.
        velocity: of light, plain and firm notes, 1 to 127.
        accents: weights of notes by their tick in the bar, or None for the line's own.
        figures: pairs of (figure, weight) for riding lines and figures.
        skips: share of bars with a skip up to 120 bpm, 0 to 1; less at faster tempi.
        pulse_ticks: for two-beat lines, from one main note to the next: half a bar of 4/4.
        walk_ticks: for two-beat lines, from note to note of a walk-up.
        with_kick: whether off-beats of the kick are doubled.
        gap: share of each note that is silent before the next note, or None for the line's own.
        approach: one of `APPROACHES`: whether the line may enter chords by any half step, or keeps
            to the key's scale and the chord tones.
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
        """Return the bass line of a variation."""
        return next((line for name, line in self.lines if name == variation), self.lines[0][1])


@dataclass(frozen=True, slots=True)
class ChopPattern:
    """A chop pattern of one bar or several.

    Attributes:
        grid: the strokes.
        weight: its weight among the patterns of its variation.
        variation: its variation, or "" for all.
    """

    grid: Grid
    weight: float
    variation: str


@dataclass(frozen=True, slots=True)
class ChopHabits:
    """What the chop makes of its patterns from bar to bar.

    Attributes:
        steady: strokes that are never moved nor left out, where a pattern has all of them.
        leaves_out: share of the other strokes that are left out, 0 to 1.
        ghosts: places of ghost strokes, damped and light.
        ghost_share: share of these places that have one, 0 to 1.
        answer: a bar whose last two beats answer at the end of a phrase, or None.
    """

    steady: Grid
    leaves_out: float
    ghosts: Grid
    ghost_share: float
    answer: Grid | None


@dataclass(frozen=True, slots=True)
class ChopStyle:
    """The chop's part.

    Attributes:
        sound: program, volume, pan.
        instrument: the instrument's name, as in `find_instrument`.
        voicing: the kind of its shapes, one of `VOICINGS`.
        strings: how many sound or which, as in `ShapeRequest`, or None for the voicing's number.
        highest: the highest fret.
        adds: those of `ADDED` that plain chords get: a sixth to a major triad, a ninth to a
            seventh.
        velocity: of light, plain and firm strokes, 1 to 127.
        length: of light, plain and firm strokes, in ticks.
        roll_ms: delay from string to string of a stroke, in milliseconds.
        walks: whether chords that last move to the neighbouring inversion and back.
        habits: what it makes of its patterns.
        patterns: at least one for every variation.
    """

    sound: Preset
    instrument: str
    voicing: str
    strings: int | tuple[int, ...] | None
    highest: int
    adds: tuple[str, ...]
    velocity: tuple[int, int, int]
    length: tuple[int, int, int]
    roll_ms: float
    walks: bool
    habits: ChopHabits
    patterns: tuple[ChopPattern, ...]


@dataclass(frozen=True, slots=True, eq=False)
class DrumGroove:
    """A bar of drums, or a fill.

    Attributes:
        lanes: pairs of (name in `DRUM_KEYS`, grid).
        weight: its weight among the grooves of its variation, or among the fills.
        variation: its variation; "" for all, and for fills.
        ticks: its length: whole bars for a groove; a fill ends with its bar.
        fastest_bpm: the fastest tempo at which it is played, in quarter notes a minute.
    """

    lanes: tuple[tuple[str, Grid], ...]
    weight: float
    variation: str
    ticks: int
    fastest_bpm: float = FASTEST_BPM


@dataclass(frozen=True, slots=True, eq=False)
class DrumStyle:
    """The drummer's part.

    Attributes:
        sound: volume and pan; the program is the kit, 1 the standard one.
        velocity: of each lane's light, plain and firm strokes, 1 to 127.
        grooves: at least one for each variation, for any tempo.
        fills: at least one.
        top: the lane that marks the start of a chorus or what follows a fill, or "" for none.
        marks: share of choruses, and of bars behind a fill, whose start it marks, 0 to 1.
        habits: one of `FAMILIES`: how drummers leave out and add, and where they fill.
    """

    sound: Preset
    velocity: tuple[tuple[str, tuple[int, int, int]], ...]
    grooves: tuple[DrumGroove, ...]
    fills: tuple[DrumGroove, ...]
    top: str
    marks: float
    habits: str


@dataclass(frozen=True, slots=True, eq=False)
class Style:
    """A groove style, compared by identity, so that it is a cheap cache key.

    Attributes:
        name: its file's name without `.toml`.
        about: one line about it.
        source: the source of its patterns.
        meters: the meters it plays; its grids are in the first one.
        slowest_bpm, fastest_bpm: its usual range, in quarter notes a minute.
        usual_bpm: the tempo of charts that name none.
        feel: one of `FEELS`.
        count_in: one of `COUNT_INS`.
        ending: one of `ENDINGS`, for charts that name none.
        variations: names of its variations, in the order in which parts or choruses have them.
        turns: one of `TURNS`: whether variations change with the parts or with the choruses.
        sits_out: players that play only when called.
        bass, chop, drums: the players' parts.
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
