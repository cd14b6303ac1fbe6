"""From the text of a style file to a Style; every key is checked."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from backing.chart.model import ENDINGS
from backing.errors import SymbolError
from backing.harmony.pitch import Degree, NoteName
from backing.style.model import (
    BASS_LINES,
    COUNT_INS,
    DRUM_KEYS,
    FEELS,
    SIGNS,
    STEPS,
    BassStyle,
    ChopStyle,
    DrumGroove,
    DrumStyle,
    Figure,
    Grid,
    Sound,
    Style,
)
from backing.style.table import Table, open_document
from backing.timing import FASTEST_BPM, SLOWEST_BPM, TICKS_PER_QUARTER, Meter

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

_EMPTY = Grid((), TICKS_PER_QUARTER)
_COMMON_TIME: tuple[Meter, ...] = (Meter(4, 4),)
_NO_NAMES: tuple[str, ...] = ()
_WEIGHTS = ("light", "plain", "firm")


def read_style(text: str, name: str, source: str) -> Style:
    """Read the text of a style file.

    Args:
        text: TOML.
        name: the style's name, which is its file's.
        source: the file's name for messages.

    Raises:
        StyleError: with every fault of the file: its line, its key, what is allowed.
    """
    top = open_document(text, source)
    tempo = top.table("tempo")
    meters = top.read("meters", _meters, _COMMON_TIME)
    slowest, usual, fastest = (
        tempo.read(key, _number(SLOWEST_BPM, FASTEST_BPM), 120.0)
        for key in ("slowest", "usual", "fastest")
    )
    style = Style(
        name=name,
        about=top.read("about", _text, ""),
        source=top.read("source", _text, ""),
        meters=meters,
        slowest_bpm=slowest,
        usual_bpm=usual,
        fastest_bpm=fastest,
        feel=top.read("feel", _one_of(FEELS), FEELS[0]),
        count_in=top.read("count-in", _one_of(COUNT_INS), "sticks"),
        ending=top.read("ending", _one_of(ENDINGS), "hold"),
        bass=_bass(top.table("bass")),
        chop=_chop(top.table("chop"), meters[0].bar_ticks),
        drums=_drums(top.table("drums"), meters[0].bar_ticks),
    )
    tempo.close()
    top.close()
    if not slowest <= usual <= fastest:
        top.document.fault(
            ("tempo",), "tempo: out of order", "slowest is at most usual, usual at most fastest"
        )
    top.document.finish()
    return style


def _bass(table: Table) -> BassStyle:
    line = table.read("line", _one_of(BASS_LINES), BASS_LINES[0])
    style = BassStyle(
        sound=_sound(table),
        line=line,
        range=table.read("range", _range, (28, 60)),
        velocity=_velocity(table, "velocity"),
        figures=tuple(map(_figure, table.tables("figures", least=1 if line == "riding" else 0))),
        skips=table.read_or("skips", _number(0, 1), 0.0),
    )
    table.close()
    return style


def _figure(table: Table) -> tuple[Figure, float]:
    figure = Figure(table.read("degrees", _degrees, ()), _step(table)), _weight(table)
    table.close()
    return figure


def _chop(table: Table, bar_ticks: int) -> ChopStyle:
    style = ChopStyle(
        sound=_sound(table),
        range=table.read("range", _range, (55, 81)),
        voices=table.read("voices", _whole(3, 4), 3),
        velocity=_velocity(table, "velocity"),
        length=_lengths(table.table("length")),
        patterns=tuple(_pattern(each, bar_ticks) for each in table.tables("patterns", least=1)),
    )
    table.close()
    return style


def _lengths(table: Table) -> tuple[int, int, int]:
    light, plain, firm = (
        round(table.read(weight, _number(0.05, 4), 0.3) * TICKS_PER_QUARTER) for weight in _WEIGHTS
    )
    table.close()
    return light, plain, firm


def _pattern(table: Table, bar_ticks: int) -> tuple[Grid, float]:
    pattern = table.read("grid", _grid(_step(table), bar_ticks), _EMPTY), _weight(table)
    table.close()
    return pattern


def _drums(table: Table, bar_ticks: int) -> DrumStyle:
    colours = table.read("colours", _names, _NO_NAMES)
    velocities = table.table("velocity")
    lanes = [lane for lane in DRUM_KEYS if lane in velocities.values]
    grooves = [
        _groove(each, colours, lanes, bar_ticks) for each in table.tables("grooves", least=1)
    ]
    for colour in set(colours) - {groove.colour for groove in grooves}:
        table.document.fault(
            (*table.path, "colours"), f"no groove has the colour '{colour}'", "write one"
        )
    style = DrumStyle(
        sound=_sound(table),
        colours=colours,
        velocity=tuple((lane, _velocity(velocities, lane)) for lane in lanes),
        grooves=tuple(grooves),
        fills=tuple(_fill(each, lanes) for each in table.tables("fills", least=1)),
        top=table.read("top", _one_of(lanes), ""),
    )
    velocities.close(also=DRUM_KEYS)
    table.close()
    return style


def _groove(table: Table, colours: Iterable[str], lanes: list[str], bar_ticks: int) -> DrumGroove:
    colour = table.read("colour", _one_of(colours), "")
    groove = DrumGroove(_lanes(table, lanes, bar_ticks), _weight(table), colour, bar_ticks)
    table.close(also=lanes)
    return groove


def _fill(table: Table, lanes: list[str]) -> DrumGroove:
    ticks = round(table.read("beats", _number(0.5, 8), 1.0) * TICKS_PER_QUARTER)
    fill = DrumGroove(_lanes(table, lanes, ticks), _weight(table), "", ticks)
    table.close(also=lanes)
    return fill


def _lanes(table: Table, lanes: list[str], ticks: int) -> tuple[tuple[str, Grid], ...]:
    """Read a groove's lanes as grids; a lane without velocities has no sound and is refused."""
    grid = _grid(_step(table), ticks)
    return tuple((lane, table.read(lane, grid, _EMPTY)) for lane in lanes if lane in table.values)


def _sound(table: Table) -> Sound:
    return Sound(
        program=table.read("program", _whole(1, 128), 1),
        volume=table.read("volume", _whole(0, 127), 100),
        pan=table.read("pan", _whole(0, 127), 64),
    )


def _velocity(table: Table, key: str) -> tuple[int, int, int]:
    below = table.table(key)
    light, plain, firm = (below.read(weight, _whole(1, 127), 64) for weight in _WEIGHTS)
    below.close()
    return light, plain, firm


def _weight(table: Table) -> float:
    return table.read_or("weight", _number(0.01, 100), 1.0)


def _step(table: Table) -> int:
    return STEPS[table.read_or("step", _one_of(STEPS), "eighth")]


def _text(value: object) -> str:
    if not isinstance(value, str) or not value.strip():
        raise ValueError(f"{value!r} is no text", "write a sentence in quotes")
    return value


def _number(low: float, high: float) -> Callable[[Any], float]:
    def kind(value: Any) -> float:
        if (
            isinstance(value, bool)
            or not isinstance(value, int | float)
            or not low <= value <= high
        ):
            raise ValueError(f"{value!r} will not do", f"write a number from {low:g} to {high:g}")
        return float(value)

    return kind


def _whole(low: int, high: int) -> Callable[[Any], int]:
    def kind(value: object) -> int:
        if type(value) is not int or not low <= value <= high:
            raise ValueError(f"{value!r} will not do", f"write a whole number from {low} to {high}")
        return value

    return kind


def _one_of(allowed: Iterable[str]) -> Callable[[Any], str]:
    words = list(allowed)

    def kind(value: object) -> str:
        if value not in words:
            raise ValueError(f"{value!r} is not known", f"choose from {', '.join(words)}")
        return str(value)

    return kind


def _names(value: object) -> tuple[str, ...]:
    if not isinstance(value, list) or not value or not all(isinstance(each, str) for each in value):
        raise ValueError(f"{value!r} will not do", 'write names, such as ["hat", "ride"]')
    return tuple(value)


def _meters(value: object) -> tuple[Meter, ...]:
    try:
        return tuple(Meter.parse(each) for each in _names(value))
    except SymbolError as error:
        raise ValueError(error.found, error.allowed) from None


def _range(value: object) -> tuple[int, int]:
    names = _names(value)
    keys = [_midi_key(name) for name in names]
    if len(keys) != 2 or keys[1] - keys[0] < 12:
        raise ValueError(
            f"{value!r} is no range", 'write two notes an octave or more apart: ["E1", "C4"]'
        )
    return keys[0], keys[1]


def _midi_key(text: str) -> int:
    match = re.fullmatch(r"([A-G][#b]?)([0-9])", text)
    if not match:
        raise ValueError(
            f"'{text}' is no note", "write a note and its octave, such as E1; C4 is middle C"
        )
    name = NoteName.parse(match[1])
    letter = NoteName.parse(text[0])
    return letter.pitch_class + name.alter + 12 * (int(match[2]) + 1)


def _degrees(value: object) -> tuple[Degree, ...]:
    try:
        return tuple(Degree.parse(each) for each in _text(value).split())
    except SymbolError as error:
        raise ValueError(error.found, error.allowed) from None


def _grid(step: int, ticks: int) -> Callable[[Any], Grid]:
    def kind(value: object) -> Grid:
        signs = re.sub(r"[\s|]", "", _text(value))
        if strange := set(signs) - {".", *SIGNS}:
            raise ValueError(
                f"'{min(strange)}' is no sign of a grid",
                "write . for nothing, - for light, x for plain, X for firm",
            )
        if len(signs) * step != ticks:
            raise ValueError(f"{len(signs)} steps", f"this grid has {ticks // step} steps")
        hits = tuple((place * step, SIGNS[sign]) for place, sign in enumerate(signs) if sign != ".")
        return Grid(hits, ticks)

    return kind
