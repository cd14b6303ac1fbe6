"""Reads style files and checks every key."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from backing.chart.model import ENDINGS
from backing.errors import StyleError
from backing.fretboard.instrument import MOST_FRETS
from backing.fretboard.request import FULL, USUAL_INSTRUMENT, VOICINGS
from backing.style.model import (
    APPROACHES,
    BASS_LINES,
    COUNT_INS,
    DRUM_KEYS,
    FAMILIES,
    FEELS,
    GRID_BARS,
    HABITS,
    STEPS,
    TURNS,
    BassStyle,
    ChopHabits,
    ChopPattern,
    ChopStyle,
    DrumGroove,
    DrumStyle,
    Figure,
    Grid,
    Preset,
    Style,
)
from backing.style.values import (
    as_accents,
    as_added,
    as_degrees,
    as_grid,
    as_instrument,
    as_meters,
    as_players,
    as_range,
    as_strings,
    as_tempo,
)
from backing.tables import (
    Table,
    as_list_of,
    as_number,
    as_one_of,
    as_text,
    as_whole,
    as_yes_or_no,
    open_document,
)
from backing.timing import FASTEST_BPM, TICKS_PER_QUARTER, Meter

if TYPE_CHECKING:
    from backing.harmony.pitch import Degree
    from backing.notes import Player

_EMPTY = Grid((), TICKS_PER_QUARTER)
_COMMON_TIME: tuple[Meter, ...] = (Meter(4, 4),)
_ONE_VARIATION: tuple[str, ...] = ("plain",)
_NOBODY: frozenset[Player] = frozenset()
_NO_DEGREES: tuple[Degree, ...] = ()
_ROLL_MS = 2.5
_HIGHEST_FRET = 10
_WEIGHTS = ("light", "plain", "firm")

_NO_HABITS = ChopHabits(_EMPTY, 0.0, _EMPTY, 0.0, None)

_VARIATIONS = as_list_of("names of your own", '["hat", "ride"]')


def read_style(text: str, name: str, source: str) -> Style:
    """Read the text of a style file.

    Args:
        text: TOML.
        name: the style's name: its file's name without `.toml`.
        source: the file's name for messages.

    Raises:
        StyleError: lists every fault of the file with line, key and what is allowed.
    """
    top = open_document(text, source, "a style", StyleError)
    tempo = top.table("tempo")
    meters = top.read("meters", as_meters, _COMMON_TIME)
    slowest, usual, fastest = (
        tempo.read(key, as_tempo, 120.0) for key in ("slowest", "usual", "fastest")
    )
    feel = top.read("feel", as_one_of(FEELS), FEELS[0])
    before = len(top.document.faults)
    variations = top.read_or("colours", _VARIATIONS, _ONE_VARIATION)
    reader = _Reader(meters[0].bar_ticks, variations, len(top.document.faults) == before)
    style = Style(
        name=name,
        about=top.read("about", as_text, ""),
        source=top.read("source", as_text, ""),
        meters=meters,
        slowest_bpm=slowest,
        usual_bpm=usual,
        fastest_bpm=fastest,
        feel=feel,
        count_in=top.read("count-in", as_one_of(COUNT_INS), "sticks"),
        ending=top.read("ending", as_one_of(ENDINGS), "hold"),
        variations=reader.variations,
        turns=top.read_or("turns", as_one_of(TURNS), TURNS[0]),
        sits_out=top.read_or("sits-out", as_players, _NOBODY),
        bass=reader.bass(top.table("bass")),
        chop=reader.chop(top.table("chop")),
        drums=reader.drums(top.table("drums"), HABITS[feel]),
    )
    tempo.close()
    top.close()
    if not slowest <= usual <= fastest:
        top.document.fault(
            ("tempo",), "tempo: out of order", "slowest is at most usual, usual at most fastest"
        )
    top.document.finish()
    return style


@dataclass(frozen=True, slots=True)
class _Reader:
    """Reads the players' tables.

    Attributes:
        bar_ticks: length of a one-bar grid in ticks.
        variations: the style's variations.
        are_known: whether they are valid; if not, references to them are not checked.
    """

    bar_ticks: int
    variations: tuple[str, ...]
    are_known: bool

    def bass(self, table: Table) -> BassStyle:
        two_beat: tuple[tuple[str, str], ...] = ((self.variations[0], BASS_LINES[0]),)
        before = len(table.document.faults)
        lines = table.read("line", self._lines, two_beat)
        wants = {line for _, line in lines} & {"riding", "figure"}
        figures = tuple(map(self._figure, table.tables("figures", least=1 if wants else 0)))
        if len(table.document.faults) == before:
            _check_figures(table, figures, wants)
        style = BassStyle(
            sound=_sound(table),
            lines=lines,
            range=table.read("range", as_range, (28, 60)),
            velocity=_velocity(table, "velocity"),
            accents=table.read_or("accents", as_accents(self.bar_ticks), None),
            figures=figures,
            skips=table.read_or("skips", as_number(0, 1), 0.0),
            pulse_ticks=_quarters(table, "pulse", 2.0),
            walk_ticks=_quarters(table, "walk", 1.0),
            with_kick=table.read_or("with-kick", as_yes_or_no, False),
            gap=table.read_or("gap", as_number(0, 0.8), None),
            approach=table.read_or("approach", as_one_of(APPROACHES), APPROACHES[0]),
        )
        table.close()
        return style

    def _lines(self, value: object) -> tuple[tuple[str, str], ...]:
        line = as_one_of(BASS_LINES)
        if not isinstance(value, dict):
            return ((self.variations[0], line(value)),)
        if not value:
            raise ValueError("no line", f"choose from {', '.join(BASS_LINES)}")
        found = tuple((self._variation(name), line(each)) for name, each in value.items())
        missing = [variation for variation in self.variations if variation not in value]
        if missing and self.are_known:
            raise ValueError(
                f"there is none for the colour '{missing[0]}'",
                "write one for each colour, or a single one for all",
            )
        return found

    def _variation(self, value: object) -> str:
        return as_one_of(self.variations)(value) if self.are_known else str(value)

    def _figure(self, table: Table) -> tuple[Figure, float]:
        step = _step(table)
        degrees = table.read("degrees", as_degrees, _NO_DEGREES)
        grid = table.read_or("grid", as_grid(step, self.bar_ticks, GRID_BARS), None)
        if grid and degrees and len(degrees) != len(grid.hits):
            table.document.fault(
                (*table.path, "degrees"),
                f"{table.name('degrees')}: {len(degrees)} degrees for {len(grid.hits)} notes of "
                "the grid",
                "write one for each note",
            )
        figure = Figure(degrees, step, grid), _weight(table)
        table.close()
        return figure

    def chop(self, table: Table) -> ChopStyle:
        patterns = tuple(map(self._pattern, table.tables("patterns", least=1)))
        self._check_variations(table, "patterns", {pattern.variation for pattern in patterns})
        style = ChopStyle(
            sound=_sound(table),
            instrument=table.read_or("instrument", as_instrument, USUAL_INSTRUMENT),
            voicing=table.read_or("level", as_one_of(tuple(VOICINGS)), FULL),
            strings=table.read_or("strings", as_strings, None),
            highest=table.read_or("highest-fret", as_whole(4, MOST_FRETS), _HIGHEST_FRET),
            adds=table.read_or("adds", as_added, ()),
            velocity=_velocity(table, "velocity"),
            length=_lengths(table.table("length")),
            roll_ms=table.read_or("roll", as_number(0, 40), _ROLL_MS),
            walks=table.read_or("walks", as_yes_or_no, False),
            habits=self._habits(table.table("habits")) if "habits" in table.values else _NO_HABITS,
            patterns=patterns,
        )
        table.close()
        return style

    def _habits(self, table: Table) -> ChopHabits:
        grid = as_grid(_step(table), self.bar_ticks, (1,))
        habits = ChopHabits(
            steady=table.read_or("steady", grid, _EMPTY),
            leaves_out=table.read_or("leaves-out", as_number(0, 1), 0.0),
            ghosts=table.read_or("ghosts", grid, _EMPTY),
            ghost_share=table.read_or("ghost-share", as_number(0, 1), 0.0),
            answer=table.read_or("answer", grid, None),
        )
        table.close()
        return habits

    def _pattern(self, table: Table) -> ChopPattern:
        grid = table.read("grid", as_grid(_step(table), self.bar_ticks, GRID_BARS), _EMPTY)
        variation = table.read_or("colour", self._variation, "")
        pattern = ChopPattern(grid, _weight(table), variation)
        table.close()
        return pattern

    def drums(self, table: Table, habits: str) -> DrumStyle:
        velocities = table.table("velocity")
        lanes = [lane for lane in DRUM_KEYS if lane in velocities.values or velocities.absent]
        grooves = tuple(self._groove(each, lanes) for each in table.tables("grooves", least=1))
        self._check_variations(table, "grooves", {groove.variation for groove in grooves})
        _check_fast(table, grooves)
        style = DrumStyle(
            sound=_sound(table),
            velocity=tuple((lane, _velocity(velocities, lane)) for lane in lanes),
            grooves=grooves,
            fills=tuple(_fill(each, lanes) for each in table.tables("fills", least=1)),
            top=table.read_or("top", as_one_of(lanes), ""),
            marks=table.read_or("marks", as_number(0, 1), 0.0),
            habits=table.read_or("habits", as_one_of(FAMILIES), habits),
        )
        velocities.close(also=DRUM_KEYS)
        table.close()
        return style

    def _groove(self, table: Table, lanes: list[str]) -> DrumGroove:
        variation = table.read_or("colour", self._variation, "")
        found = _lanes(table, lanes, self.bar_ticks, GRID_BARS)
        ticks = max((grid.ticks for _, grid in found), default=self.bar_ticks)
        fastest = table.read_or("fastest", as_tempo, FASTEST_BPM)
        groove = DrumGroove(found, _weight(table), variation, ticks, fastest)
        table.close(also=lanes)
        return groove

    def _check_variations(self, table: Table, key: str, found: set[str]) -> None:
        """Add a fault for each variation that has nothing to play."""
        if not found or "" in found or not self.are_known:
            return
        for variation in set(self.variations) - found:
            table.document.fault(
                table.path,
                f"{table.name(key)}: nothing has the colour '{variation}'",
                "write one, or one without a colour",
            )


def _check_fast(table: Table, grooves: tuple[DrumGroove, ...]) -> None:
    """Add a fault for each variation that has no groove for the fastest tempi."""
    variations = [groove.variation for groove in grooves]
    fast = {groove.variation for groove in grooves if groove.fastest_bpm == FASTEST_BPM}
    for variation in set() if "" in fast else {*variations} - fast:
        which = f"all of the colour '{variation}'" if variation else "all"
        table.document.fault(
            (*table.path, "grooves", variations.index(variation), "fastest"),
            f"{table.name('grooves')}: {which} name a fastest tempo",
            "leave it out of one, for all faster tempi",
        )


def _check_figures(
    table: Table, figures: tuple[tuple[Figure, float], ...], wants: set[str]
) -> None:
    """Add a fault if the figures do not suit the line."""
    rhythmic = {figure.grid is not None for figure, _ in figures}
    if rhythmic and rhythmic != {"figure" in wants}:
        table.document.fault(
            (*table.path, "figures"),
            f"{table.name('figures')}: they do not fit the line",
            "a figure has a grid for the line 'figure', and a step for 'riding'",
        )


def _fill(table: Table, lanes: list[str]) -> DrumGroove:
    ticks = _quarters(table, "beats", 1.0)
    fill = DrumGroove(_lanes(table, lanes, ticks), _weight(table), "", ticks)
    table.close(also=lanes)
    return fill


def _lanes(
    table: Table, lanes: list[str], ticks: int, times: tuple[int, ...] = (1,)
) -> tuple[tuple[str, Grid], ...]:
    """Read a groove's lanes as grids; add a fault for each lane without velocities."""
    grid = as_grid(_step(table), ticks, times)
    for lane in sorted((DRUM_KEYS.keys() & table.values.keys()) - {*lanes}):
        table.document.fault(
            (*table.path, lane),
            f"{table.name(lane)}: nothing says how loud the {lane} is",
            f"write {lane} = {{ light = 44, plain = 60, firm = 76 }} below [drums.velocity]",
        )
        table.read(lane, grid, _EMPTY)
    return tuple((lane, table.read(lane, grid, _EMPTY)) for lane in lanes if lane in table.values)


def _lengths(table: Table) -> tuple[int, int, int]:
    light, plain, firm = (
        round(table.read(weight, as_number(0.05, 8), 0.3) * TICKS_PER_QUARTER)
        for weight in _WEIGHTS
    )
    table.close()
    return light, plain, firm


def _quarters(table: Table, key: str, default: float) -> int:
    """Read a length in quarter notes and return it in ticks."""
    return round(table.read_or(key, as_number(0.5, 8), default) * TICKS_PER_QUARTER)


def _sound(table: Table) -> Preset:
    return Preset(
        program=table.read("program", as_whole(1, 128), 1),
        volume=table.read("volume", as_whole(0, 127), 100),
        pan=table.read("pan", as_whole(0, 127), 64),
    )


def _velocity(table: Table, key: str) -> tuple[int, int, int]:
    before = len(table.document.faults)
    below = table.table(key)
    light, plain, firm = (below.read(weight, as_whole(1, 127), 64) for weight in _WEIGHTS)
    below.close()
    if len(table.document.faults) == before and not light <= plain <= firm:
        table.document.fault(
            (*table.path, key),
            f"{table.name(key)}: {light}, {plain} and {firm} are out of order",
            "light is at most plain, plain at most firm",
        )
    return light, plain, firm


def _weight(table: Table) -> float:
    return table.read_or("weight", as_number(0.01, 100), 1.0)


def _step(table: Table) -> int:
    return STEPS[table.read_or("step", as_one_of(STEPS), "eighth")]
