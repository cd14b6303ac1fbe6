"""Reading style files, and the messages about every fault in one."""

from __future__ import annotations

import re
import tomllib
from contextlib import suppress
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backing.errors import StyleError
from backing.notes import Player
from backing.style.library import style_files
from backing.style.load import read_style
from backing.style.model import DRUM_KEYS, FIRM, LIGHT, PLAIN, Grid

if TYPE_CHECKING:
    from backing.style.model import Style

SMALL = """\
about = "A test"
source = "common practice, no source"
meters = ["4/4"]
feel = "swing"
count-in = "sticks"
ending = "hold"
colours = ["hat"]

[tempo]
slowest = 100
usual = 150
fastest = 200

[bass]
program = 33
volume = 100
pan = 64
line = "riding"
range = ["E1", "C4"]
velocity = { light = 50, plain = 80, firm = 100 }

[[bass.figures]]
degrees = "1 3 5 b7"

[chop]
program = 27
volume = 76
pan = 84
instrument = "guitar"
strings = 3
velocity = { light = 50, plain = 70, firm = 90 }
length = { light = 0.25, plain = 0.5, firm = 1 }

[[chop.patterns]]
grid = "..X. -.X."

[drums]
program = 1
volume = 90
pan = 60
top = "crash"

[drums.velocity]
hat = { light = 40, plain = 60, firm = 80 }
crash = { light = 50, plain = 70, firm = 90 }

[[drums.grooves]]
colour = "hat"
hat = "x-X- x-X-"

[[drums.fills]]
beats = 1
step = "triplet"
hat = "xxX"
"""


def read(text: str) -> Style:
    """Read a style called small."""
    return read_style(text, "small", "small.toml")


def line_of(text: str, part: str) -> int:
    """Return the number of the first line that has a part, from 1."""
    return next(n for n, line in enumerate(text.splitlines(), 1) if part in line)


def test_what_is_read() -> None:
    """Names, beats and signs of the file become MIDI keys, ticks and weights.

    C4 is middle C, MIDI key 60; E1 of the upright bass is 28 (HyperPhysics, string bass).
    """
    style = read(SMALL)
    assert (
        style.name, style.feel, style.slowest_bpm, style.usual_bpm, style.fastest_bpm
    ) == ("small", "swing", 100, 150, 200)  # fmt: skip
    assert style.bass.range == (28, 60)
    assert style.chop.length == (240, 480, 960)
    figure, weight = style.bass.figures[0]
    assert (
        list(map(str, figure.degrees)), figure.step_ticks, weight
    ) == (["1", "3", "5", "b7"], 480, 1.0)  # fmt: skip
    pattern = style.chop.patterns[0]
    assert pattern.grid.hits == ((960, FIRM), (1920, LIGHT), (2880, FIRM))
    fill = style.drums.fills[0]
    assert (
        (fill.lanes[0][0], fill.lanes[0][1].hits), fill.ticks
    ) == (("hat", ((0, PLAIN), (320, PLAIN), (640, FIRM))), 960)  # fmt: skip


@pytest.mark.parametrize("name", sorted(style_files()))
def test_every_style(name: str) -> None:
    """Every included style is valid, names its source, and has drums for each variation."""
    path = style_files()[name]
    text = path.read_text(encoding="utf-8")
    style = read_style(text, name, str(path))
    assert style.about
    assert re.search("common practice, no source|computed from", style.source, re.IGNORECASE)
    assert style.slowest_bpm < style.usual_bpm < style.fastest_bpm
    for variation in style.variations:
        for of_many in (style.drums.grooves, style.chop.patterns):
            assert any(each.variation in ("", variation) for each in of_many)
    used = {lane for groove in style.drums.grooves + style.drums.fills for lane, _ in groove.lanes}
    assert used | {style.drums.top or min(used)} <= {lane for lane, _ in style.drums.velocity}


def paths(table: dict[str, object], before: tuple[str, ...] = ()) -> list[tuple[str, ...]]:
    """Return the path of every table of a document."""
    found = [before]
    for key, value in table.items():
        for each in value if isinstance(value, list) else [value]:
            if isinstance(each, dict):
                found += paths(each, (*before, key))
    return found


@pytest.mark.parametrize("path", sorted(set(paths(tomllib.loads(SMALL)))))
def test_unknown_keys(path: tuple[str, ...]) -> None:
    """An unknown key in any table is refused, with its line and name."""
    lines = SMALL.splitlines()
    name = ".".join(path)
    headers = [f"[{name}]", f"[[{name}]]"]
    inline = f"{path[-1]} = {{" if path else ""
    at = next((n for n, line in enumerate(lines) if line in headers), None)
    if not path:
        lines.insert(0, "colur = 1")
        line = 1
    elif at is not None:
        lines.insert(at + 1, "colur = 1")
        line = at + 2
    else:
        at = next(
            n
            for n, text in enumerate(lines)
            if text.startswith(inline) and _table_of(lines, n) == path[:-1]
        )
        lines[at] = lines[at].replace("{ ", "{ colur = 1, ")
        line = at + 1
    dotted = ".".join((*path, "colur"))
    sentence = f"^small.toml:{line}: {re.escape(dotted)} is not a key of a style: choose from"
    with pytest.raises(StyleError, match=sentence):
        read("\n".join(lines))


def _table_of(lines: list[str], place: int) -> tuple[str, ...]:
    headers = [line.strip("[]") for line in lines[:place] if line.startswith("[")]
    return tuple(headers[-1].split(".")) if headers else ()


# What stands in the file, what takes its place, and what is said: line by the word looked for.
MISTAKES = [
    ('feel = "swing"', 'feel = "swung"', "feel: 'swung' is not known: choose from straight"),
    ('meters = ["4/4"]', 'meters = ["4/5"]', "meters: '4/5' is not a meter: write a count"),
    ('meters = ["4/4"]', "meters = []", "meters: [] will not do: write meters, such as"),
    ('meters = ["4/4"]', "meters = 4", "meters: 4 will not do: write meters, such as"),
    ('count-in = "sticks"', 'count-in = "bell"', "count-in: 'bell' is not known: choose from"),
    ('ending = "hold"', 'ending = "faint"', "ending: 'faint' is not known: choose from hold"),
    ('about = "A test"', 'about = ""', "about: '' is not a text: write a sentence in quotes"),
    ('about = "A test"', "about = 3", "about: 3 is not a text: write a sentence in quotes"),
    ("slowest = 100", "slowest = 19", "tempo.slowest: 19 will not do: write a number"),
    ("slowest = 100", 'slowest = "x"', "tempo.slowest: 'x' is not a tempo: write beats"),
    ("slowest = 100", "slowest = true", "tempo.slowest: true will not do: write a number"),
    ("slowest = 100", "slowest = nan", "tempo.slowest: nan will not do: write a number"),
    ("usual = 150", "usual = 250", "tempo: out of order: slowest is at most usual"),
    ("program = 33", "program = 0", "bass.program: 0 will not do: write a whole number"),
    ("program = 33", "program = 129", "bass.program: 129 will not do"),
    ("program = 33", "program = 33.5", "bass.program: 33.5 will not do"),
    ("volume = 100", "volume = 128", "bass.volume: 128 will not do: write a whole number from 0"),
    ("pan = 64", "pan = -1", "bass.pan: -1 will not do: write a whole number from 0 to 127"),
    ('line = "riding"', 'line = "running"', "bass.line: 'running' is not known: choose from"),
    ('range = ["E1", "C4"]', 'range = ["E1"]', "bass.range: ['E1'] is no range: write two notes"),
    ('range = ["E1", "C4"]', 'range = ["E1", "D2"]', "bass.range: ['E1', 'D2'] is no range"),
    ('range = ["E1", "C4"]', 'range = ["C4", "E1"]', "bass.range: ['C4', 'E1'] is no range"),
    ('range = ["E1", "C4"]', 'range = ["E1", "H4"]', "bass.range: 'H4' is not a note: write a"),
    ('range = ["E1", "C4"]', 'range = ["E1", "G10"]', "bass.range: 'G10' is not a note"),
    ("light = 50, plain = 80", "light = 0, plain = 80", "bass.velocity.light: 0 will not do"),
    ("light = 50, plain = 80, ", "plain = 80, ", "bass.velocity.light is missing: write it here"),
    ('degrees = "1 3 5 b7"', 'degrees = "1 3 x"', "bass.figures.degrees: 'x' is not"),
    ('degrees = "1 3 5 b7"', "degrees = 1", "bass.figures.degrees: 1 are no degrees: write them"),
    ('degrees = "1 3 5 b7"', 'weight = 0\ndegrees = "1"', "bass.figures.weight: 0 will not do"),
    ('colours = ["hat"]', 'colours = ["hat", "hat"]', "colours: 'hat' is there twice: write"),
    ("light = 50, plain = 80", "light = 90, plain = 80", "bass.velocity: 90, 80 and 100 are out"),
    ('grid = "..X. -.X."', 'grid = ""', "chop.patterns.grid: '' is no grid: write signs in quotes"),
    ("strings = 3", "strings = 1", "chop.strings: 1 are no strings: write 2 to 8, or which"),
    ("strings = 3", 'strings = "4-4"', "chop.strings: '4-4' are no strings: write 2 to 8"),
    ("strings = 3", 'level = "hard"', "chop.level: 'hard' is not known: choose from easy"),
    ("strings = 3", "highest-fret = 2", "chop.highest-fret: 2 will not do: write a whole number"),
    ('"guitar"', '"lute"', "chop.instrument: 'lute' is not known: choose from guitar"),
    ("firm = 1 }", "firm = 9 }", "chop.length.firm: 9 will not do: write a number from"),
    ('grid = "..X. -.X."', 'grid = "..X. -.X"', "chop.patterns.grid: 7 steps: this grid has 8 or"),
    ('grid = "..X. -.X."', 'grid = "..O. -.X."', "chop.patterns.grid: 'O' is no sign of a grid"),
    ('grid = "..X. -.X."', 'step = "half"\ngrid = "..X."', "chop.patterns.step: 'half' is not"),
    ('grid = "..X. -.X."', "weight = 1", "chop.patterns.grid is missing: write it here"),
    ('colours = ["hat"]', 'colours = ["hat", "ride"]', "grooves: nothing has the colour 'ride'"),
    ('colours = ["hat"]', 'colours = "hat"', "colours: 'hat' will not do: write names of your own"),
    ('colours = ["hat"]', "colours = []", "colours: [] will not do: write names of your own"),
    ('top = "crash"', 'top = "ride"', "drums.top: 'ride' is not known: choose from hat, crash"),
    ('colour = "hat"', 'colour = "blue"', "drums.grooves.colour: 'blue' is not known: choose from"),
    ('hat = "x-X- x-X-"', 'hat = "x-X-"', "drums.grooves.hat: 4 steps: this grid has 8 or"),
    ('hat = "x-X- x-X-"', 'hat = ""', "drums.grooves.hat: '' is no grid: write signs"),
    ('hat = "x-X- x-X-"', "hat = 8", "drums.grooves.hat: 8 is no grid: write signs in quotes"),
    (
        'hat = "x-X- x-X-"',
        'ride = "x-X- x-X-"',
        "drums.grooves.ride: nothing says how loud the ride is: write ride = {",
    ),
    ('hat = "xxX"', 'kick = "xxX"', "drums.fills.kick: nothing says how loud the kick is"),
    ('hat = "x-X- x-X-"', 'gong = "x-X- x-X-"', "drums.grooves.gong is not a key of a style"),
    ('meters = ["4/4"]', "meters = [true]", "meters: [true] will not do: write meters, such as"),
    ('range = ["E1", "C4"]', "range = 5", "bass.range: 5 is no range: write two notes"),
    ('range = ["E1", "C4"]', 'range = ["E1", 5]', "bass.range: ['E1', 5] is no range"),
    ('degrees = "1 3 5 b7"', 'degrees = ""', "bass.figures.degrees: '' are no degrees"),
    ('colours = ["hat"]', 'colours = ["hat", "hat"]', "colours: 'hat' is there twice"),
    ("light = 50, plain = 80", "light = 90, plain = 80", "bass.velocity: 90, 80 and 100"),
    ("plain = 70, firm = 90", "plain = 91, firm = 90", "chop.velocity: 50, 91 and 90"),
    ("hat = { light = 40", "hat = { light = 127", "drums.velocity.hat: 127, "),
    ('top = "crash"', 'habits = "wild"', "drums.habits: 'wild' is not known: choose from straight"),
    ('colour = "hat"\nhat', 'colour = "hat"\nfastest = 150\nhat',
     "drums.grooves: all of the colour 'hat' name a fastest tempo: leave it out of one"),
    ("beats = 1", "beats = 9", "drums.fills.beats: 9 will not do: write a number from 0.5 to 8"),
    ('hat = "xxX"', 'hat = "xxXX"', "drums.fills.hat: 4 steps: this grid has 3 steps"),
    ("hat = { light = 40", "gong = { light = 40", "drums.velocity.gong is not a key of a style"),
]  # fmt: skip


@pytest.mark.parametrize("old, new, sentence", MISTAKES)
def test_mistakes(old: str, new: str, sentence: str) -> None:
    """Each fault has the file, its line, its key and what is allowed."""
    assert old in SMALL
    text = SMALL.replace(old, new, 1)
    with pytest.raises(StyleError, match=re.escape(sentence)) as caught:
        read(text)
    told = [each for each in str(caught.value).splitlines() if sentence in each]
    assert re.match(r"small\.toml:\d+: ", told[0])
    fault = next(each for each in caught.value.faults if sentence in each.sentence("small.toml"))
    nearest = new.splitlines()[0]
    table = {"usual = 250", "plain = 80, ", "weight = 1"}
    if new not in table and "not a key" not in sentence and "nothing has" not in sentence:
        assert abs(fault.line - line_of(text, nearest)) <= 1


LEFT_OUT = {"instrument", "strings", "hat", "crash", "step", "colours", "colour", "top", "beats"}
"""Keys that are optional or in several tables."""


@pytest.mark.parametrize(
    "key",
    [
        key
        for key in (line.split(" = ")[0] for line in SMALL.splitlines() if " = " in line)
        if key not in LEFT_OUT
    ],
)
def test_missing_keys(key: str) -> None:
    """The message about a missing key has its name."""
    text = "\n".join(line for line in SMALL.splitlines() if not line.startswith(f"{key} = "))
    with pytest.raises(StyleError, match=rf"small\.toml.*{key} is missing"):
        read(text)


def test_what_may_be_left_out() -> None:
    """Without colours, turns and marks a style has one variation; a fill has one beat."""
    gone = ("colours", "colour", "top", "beats", "step")
    text = "\n".join(line for line in SMALL.splitlines() if line.split(" = ")[0] not in gone)
    style = read(text.replace('hat = "xxX"', 'hat = "xX"'))
    assert len(style.variations) == 1
    assert (style.turns, style.sits_out, style.drums.top, style.drums.marks) == (
        "parts", frozenset(), "", 0,
    )  # fmt: skip
    assert style.drums.fills[0].ticks == 960
    assert (style.bass.accents, style.bass.gap, style.bass.with_kick) == (None, None, False)
    assert style.bass.approach == "chromatic"
    assert (style.bass.pulse_ticks, style.bass.walk_ticks) == (1920, 960)
    assert (style.chop.adds, style.chop.roll_ms) == ((), 2.5)


RICH = """\
about = "A test in three"
source = "common practice, no source"
meters = ["6/8", "3/4"]
tempo = { slowest = "dotted-quarter=80", usual = "dotted-quarter=110", fastest = 200 }
feel = "straight"
count-in = "wood-block"
ending = "tag"
colours = ["plain", "full"]
turns = "choruses"
sits-out = ["drums"]

[bass]
program = 33
volume = 100
pan = 64
line = { plain = "two-beat", full = "figure" }
range = ["E1", "C4"]
velocity = { light = 50, plain = 80, firm = 100 }
accents = "X-- x--"
gap = 0.3
approach = "scale"
pulse = 1.5
walk = 0.5
with-kick = true

[[bass.figures]]
grid = "x.. x.x x.. xxx"
degrees = "1 5 3 1 1 3 5"

[chop]
program = 26
volume = 76
pan = 84
strings = 4
adds = ["6", "9"]
roll = 12
velocity = { light = 50, plain = 70, firm = 90 }
length = { light = 0.25, plain = 0.5, firm = 1 }

[[chop.patterns]]
grid = "..x ..X"
colour = "plain"

[[chop.patterns]]
grid = ".xx .xX ..x .xX"
colour = "full"

[drums]
program = 41
volume = 90
pan = 60
marks = 0.5

[drums.velocity]
kick = { light = 40, plain = 60, firm = 80 }
sweep = { light = 40, plain = 60, firm = 80 }

[[drums.grooves]]
kick = "x.. x.."
sweep = "x-x x-x x-x xxx"

[[drums.fills]]
beats = 1.5
sweep = "xxX"
"""
"""A style with the keys that the other one lacks."""


def test_what_a_rich_style_says() -> None:
    """Variations, turns, who sits out, accents, pulses, figures, added notes and longer grids."""
    style = read(RICH)
    assert (style.slowest_bpm, style.usual_bpm, style.fastest_bpm) == (120, 165, 200)
    assert (style.variations, style.turns) == (("plain", "full"), "choruses")
    assert style.sits_out == {Player.DRUMS}
    assert style.bar_ticks == 2880
    assert [style.bass.line(variation) for variation in style.variations] == ["two-beat", "figure"]
    assert style.bass.accents
    assert style.bass.accents.hits[:2] == ((0, FIRM), (480, LIGHT))
    assert (style.bass.gap, style.bass.with_kick) == (0.3, True)
    assert style.bass.approach == "scale"
    assert (style.bass.pulse_ticks, style.bass.walk_ticks) == (1440, 480)
    figure, _ = style.bass.figures[0]
    assert figure.grid
    assert figure.grid.ticks == 2 * 2880
    assert len(figure.grid.hits) == len(figure.degrees) == 7
    assert (style.chop.adds, style.chop.roll_ms) == (("6", "9"), 12)
    assert [pattern.variation for pattern in style.chop.patterns] == ["plain", "full"]
    assert [pattern.grid.ticks for pattern in style.chop.patterns] == [2880, 5760]
    assert (style.drums.top, style.drums.marks) == ("", 0.5)
    assert [groove.ticks for groove in style.drums.grooves] == [5760]
    assert style.drums.fills[0].ticks == 1440


RICH_MISTAKES = [
    ('slowest = "dotted-quarter=80"', 'slowest = "dotted=80"', "tempo.slowest: 'dotted=80' is not"),
    ('slowest = "dotted-quarter=80"', 'slowest = "half=110"', "tempo: out of order"),
    ('turns = "choruses"', 'turns = "bars"', "turns: 'bars' is not known: choose from parts"),
    ('sits-out = ["drums"]', 'sits-out = ["fiddle"]', "sits-out: 'fiddle' is not known: choose"),
    ('sits-out = ["drums"]', 'sits-out = "drums"', "sits-out: 'drums' will not do: write players"),
    ('plain = "two-beat", full', 'plane = "two-beat", full', "bass.line: 'plane' is not known"),
    ('full = "figure" }', 'full = "leaps" }', "bass.line: 'leaps' is not known: choose from"),
    ('line = { plain = "two-beat", full = "figure" }', "line = {}", "bass.line: no line: choose"),
    (
        'full = "figure" }',
        'full = "riding" }',
        "bass.figures: they do not fit the line: a figure has",
    ),
    (
        'full = "figure" }',
        'full = "walking" }',
        "bass.figures: they do not fit the line: a figure has",
    ),
    ('accents = "X-- x--"', 'accents = "X-- x--X-- x--"', "bass.accents: 12 steps: this grid"),
    ('accents = "X-- x--"', 'accents = "... ..."', "bass.accents: no accent in this grid: write"),
    ("with-kick = true", 'with-kick = "true"', "bass.with-kick: 'true' will not do: write true"),
    (
        'line = { plain = "two-beat", full = "figure" }',
        'line = { plain = "figure" }',
        "bass.line: there is none for the colour 'full': write one for each colour, or",
    ),
    (
        'sits-out = ["drums"]',
        'sits-out = ["drums", "drums"]',
        "sits-out: 'drums' is there twice",
    ),
    (
        'sits-out = ["drums"]',
        "sits-out = []",
        'sits-out: [] will not do: write players, such as ["',
    ),
    ('adds = ["6", "9"]', "adds = { a = 1 }", "chop.adds: a table will not do: write what"),
    (
        'colours = ["plain", "full"]',
        'colours = ["", ""]',
        "colours: '' is there twice",
    ),
    ('adds = ["6", "9"]', 'adds = ["6", "6"]', "chop.adds: '6' is there twice"),
    ('adds = ["6", "9"]', 'adds = "6"', "chop.adds: '6' will not do: write what is added, such"),
    ("gap = 0.3", "gap = 0.9", "bass.gap: 0.9 will not do: write a number from 0 to 0.8"),
    ("pulse = 1.5", "pulse = 0.25", "bass.pulse: 0.25 will not do: write a number from 0.5 to 8"),
    ("walk = 0.5", "walk = 0", "bass.walk: 0 will not do: write a number from 0.5 to 8"),
    (
        'approach = "scale"',
        'approach = "blue"',
        "bass.approach: 'blue' is not known: choose from chromatic, scale",
    ),
    ("with-kick = true", "with-kick = 1", "bass.with-kick: 1 will not do: write true or false"),
    ("5 3 1 1 3 5", "5 3 1 1 3", "bass.figures.degrees: 6 degrees for 7 notes of"),
    ('"x.. x.x x.. xxx"', '"x.. x.x x.. xx. x.."', "bass.figures.grid: 15 steps: this grid has"),
    ('adds = ["6", "9"]', 'adds = ["7"]', "chop.adds: '7' is not known: choose from 6, 9"),
    ("roll = 12", "roll = 41", "chop.roll: 41 will not do: write a number from 0 to 40"),
    ('"..x ..X"\ncolour = "plain"', '"..x ..X"\ncolour = "full"', "chop.patterns: nothing has"),
    ('colour = "full"', 'colour = "empty"', "chop.patterns.colour: 'empty' is not known: choose"),
    ("marks = 0.5", "marks = 2", "drums.marks: 2 will not do: write a number from 0 to 1"),
    ("marks = 0.5", 'top = "crash"', "drums.top: 'crash' is not known: choose from kick, sweep"),
    ("beats = 1.5", "beats = 1", "drums.fills.sweep: 3 steps: this grid has 2 steps"),
]


@pytest.mark.parametrize("old, new, sentence", RICH_MISTAKES)
def test_mistakes_in_a_rich_style(old: str, new: str, sentence: str) -> None:
    """Faults in rarely used keys have their lines, too."""
    assert old in RICH
    with pytest.raises(StyleError, match=re.escape(sentence)) as caught:
        read(RICH.replace(old, new, 1))
    assert all(fault.line for fault in caught.value.faults)


# One slip each, and nothing that would be right without it.
ALONE = [
    (RICH, '"x.. x.x x.. xxx"', '"x.. x.x x.. xx?"'),
    (RICH, 'degrees = "1 5 3 1 1 3 5"', 'degrees = "1 5 3 1 1 3 x"'),
    (RICH, 'full = "figure" }', 'full = "figur" }'),
    (RICH, 'full = "figure" }', 'ful = "figure" }'),
    (RICH, 'colours = ["plain", "full"]', 'colours = ["plain", "full", "full"]'),
    (SMALL, 'line = "riding"', 'line = "ridin"'),
    (SMALL, 'colours = ["hat"]', "colours = 1"),
    (SMALL, "light = 50, plain = 80, firm", "light = 80, plain = 0, firm"),
]


@pytest.mark.parametrize("text, old, new", ALONE)
def test_one_slip_is_told_alone(text: str, old: str, new: str) -> None:
    """A fault causes no follow-on faults."""
    assert old in text
    with pytest.raises(StyleError) as caught:
        read(text.replace(old, new, 1))
    assert len(caught.value.faults) == 1


@pytest.mark.parametrize("table", ["tempo", "bass", "chop", "drums", "drums.velocity"])
def test_missing_tables(table: str) -> None:
    """A missing table is one fault, not one for each of its keys."""
    kept, skipping = [], False
    for line in SMALL.splitlines():
        if line.startswith("["):
            skipping = line.strip("[]").startswith(table)
        if not skipping:
            kept.append(line)
    with pytest.raises(StyleError) as caught:
        read("\n".join(kept))
    named = [each for each in caught.value.faults if each.found == f"{table} is missing"]
    assert len(named) == 1
    assert not [each for each in caught.value.faults if each.found.startswith(f"{table}.")]


@pytest.mark.parametrize(
    "text, sentence",
    [
        ("feel = ", "small.toml:1: Invalid value: a style is a TOML file; correct this"),
        ('a = 1\nb = "x', "small.toml:2:"),
        ("[a]\n[a]", "small.toml:2:"),
        ("x = 1\nx = 2", "small.toml:2:"),
        ("a = " + "[" * 5000, "small.toml"),
    ],
)
def test_no_toml(text: str, sentence: str) -> None:
    """Invalid TOML is reported with its place."""
    with pytest.raises(StyleError, match=re.escape(sentence)):
        read(text)


def test_all_at_once() -> None:
    """All faults are reported at once, in the order of their lines."""
    text = SMALL.replace("strings = 3", "strings = 9").replace("pan = 64", "pan = 640")
    text = text.replace('feel = "swing"', 'feel = "slow"')
    with pytest.raises(StyleError) as caught:
        read(text)
    lines = [fault.line for fault in caught.value.faults]
    expected = [line_of(text, part) for part in ("feel", "pan = 640", "strings")]
    assert expected == lines


def test_near_words() -> None:
    """The message about a misspelt key suggests the right one."""
    with pytest.raises(StyleError, match="did you mean 'volume'"):
        read(SMALL.replace("volume = 100", "volum = 100"))


def test_second_of_two_tables() -> None:
    """A fault in the second of two patterns has the second's line."""
    text = SMALL.replace(
        "[[chop.patterns]]\n", '[[chop.patterns]]\ngrid = "........"\n\n[[chop.patterns]]\n'
    ).replace('grid = "..X. -.X."', 'grid = "nonsense"')
    with pytest.raises(StyleError, match=f"^small.toml:{line_of(text, 'nonsense')}: "):
        read(text)


@given(text=st.text(max_size=60) | st.text(st.sampled_from('[]{}="#.ab1\n'), max_size=60))
def test_anything(text: str) -> None:
    """Any text is either read or refused with a message."""
    with pytest.raises(StyleError, match=r"^small\.toml"):
        read(text)


@given(
    key=st.sampled_from([line for line in SMALL.splitlines() if " = " in line]),
    value=st.sampled_from(
        ["1", "-5", "1e9", "inf", "true", '"x"', "[]", "[1]", '["a"]', "{}", "{ a = 1 }",
         "1979-05-27", "07:32:00", "[[1]]", '""', "0x10", "1_000"]
    ),
)  # fmt: skip
def test_any_value(key: str, value: str) -> None:
    """Any value of a key is either read or refused with a message; nothing else is raised."""
    text = SMALL.replace(key, f"{key.split(' = ')[0]} = {value}", 1)
    with suppress(StyleError):
        assert read(text).name == "small"


def test_grid_of_a_longer_bar() -> None:
    """In a longer bar a grid repeats, in a shorter one it is cut."""
    grid = Grid(((0, PLAIN), (960, FIRM), (2880, FIRM)), 3840)
    assert [tick for tick, _ in grid.within(0, 1920)] == [0, 960]
    assert [tick for tick, _ in grid.within(0, 5760)] == [0, 960, 2880, 3840, 4800]
    assert [tick for tick, _ in grid.within(1920, 4800)] == [2880, 3840]


def test_drums_have_names() -> None:
    """The page on styles names every drum that a style may use, and no other."""
    page = (style_files()["swing"].parent / "README.md").read_text(encoding="utf-8")
    named = re.search(r"Known are\s+(.*?)\.\n", page, re.DOTALL)
    assert named
    plain = re.sub(r"\s*\([^)]*\)", "", named[1])
    assert sorted(DRUM_KEYS) == sorted(re.split(r",\s+", plain))


def test_true_written_large() -> None:
    """A word that other languages capitalise gets its own message."""
    with pytest.raises(StyleError, match="write true or false"):
        read(SMALL.replace("pan = 64", "pan = True", 1))
