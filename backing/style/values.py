"""Readers of the values in a style file: each checks and converts a TOML value.

They raise a ValueError of (what was found, what is allowed).
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from backing.errors import SettingsError, SymbolError
from backing.fretboard.instrument import MOST_STRINGS, instrument_files
from backing.fretboard.request import FEWEST, read_strings
from backing.harmony.pitch import Degree, midi_key
from backing.notes import Player
from backing.style.model import ADDED, SIGNS, STEPS, Grid
from backing.tables import as_list_of, as_number, as_one_of, shown
from backing.timing import FASTEST_BPM, SLOWEST_BPM, Meter, Tempo

if TYPE_CHECKING:
    from collections.abc import Callable

_METERS = as_list_of("meters", '["4/4", "2/4"]')
_PLAYERS = as_list_of("players", '["drums"]')
_ADDED = as_list_of("what is added", '["6", "9"]')


def as_meters(value: object) -> tuple[Meter, ...]:
    """Read the meters that a style plays, at least one."""
    try:
        return tuple(Meter.parse(each) for each in _METERS(value))
    except SymbolError as error:
        raise ValueError(error.found, error.allowed) from None


def as_range(value: object) -> tuple[int, int]:
    """Read the lowest and the highest note as MIDI keys, an octave or more apart."""
    names = value if isinstance(value, list) else []
    try:
        keys = [midi_key(name) for name in names if isinstance(name, str)]
    except SymbolError as error:
        raise ValueError(error.found, error.allowed) from None
    if len(names) != 2 or len(keys) != 2 or keys[1] - keys[0] < 12:
        raise ValueError(
            f"{shown(value)} is no range", 'write two notes an octave or more apart: ["E1", "C4"]'
        )
    return keys[0], keys[1]


def as_instrument(value: object) -> str:
    """Read the name of an instrument."""
    return as_one_of(tuple(instrument_files()))(value)


def as_strings(value: object) -> int | tuple[int, ...]:
    """Read the number of strings that sound, or which ones."""
    try:
        found = read_strings(value) if isinstance(value, str) else value
    except SettingsError:
        found = None
    if isinstance(found, tuple):
        return found
    if isinstance(found, int) and FEWEST <= found <= MOST_STRINGS:
        return found
    raise ValueError(
        f"{shown(value)} are no strings", f'write {FEWEST} to {MOST_STRINGS}, or which: "4-3-2"'
    )


def as_degrees(value: object) -> tuple[Degree, ...]:
    """Read degrees in one text, such as "1 3 5 b7"."""
    if not isinstance(value, str) or not value.strip():
        raise ValueError(
            f"{shown(value)} are no degrees", 'write them in quotes, such as "1 3 5 b7"'
        )
    try:
        return tuple(map(Degree.parse, value.split()))
    except SymbolError as error:
        raise ValueError(error.found, error.allowed) from None


def as_grid(step: int, ticks: int, times: tuple[int, ...] = (1,)) -> Callable[[Any], Grid]:
    """Return a reader of grids.

    Args:
        step: length of a step in ticks.
        ticks: length of a grid in ticks.
        times: allowed multiples of that length.
    """

    def kind(value: object) -> Grid:
        if not isinstance(value, str) or not re.sub(r"[\s|]", "", value):
            raise ValueError(
                f"{shown(value)} is no grid", 'write signs in quotes, such as "x.X. x.X."'
            )
        signs = re.sub(r"[\s|]", "", value)
        if strange := set(signs) - {".", *SIGNS}:
            raise ValueError(
                f"'{min(strange)}' is no sign of a grid",
                "write . for nothing, - for light, x for plain, X for firm",
            )
        allowed = [ticks * each // step for each in times]
        if len(signs) not in allowed or ticks % step:
            raise ValueError(
                f"{len(signs)} steps", f"this grid has {' or '.join(map(str, allowed))} steps"
            )
        hits = tuple((place * step, SIGNS[sign]) for place, sign in enumerate(signs) if sign != ".")
        return Grid(hits, len(signs) * step)

    return kind


def as_accents(ticks: int) -> Callable[[Any], Grid]:
    """Return a reader of grids of accents, which have at least one accent."""
    grid = as_grid(STEPS["eighth"], ticks)

    def kind(value: object) -> Grid:
        found = grid(value)
        if not found.hits:
            raise ValueError("no accent in this grid", "write one at least, or leave the grid out")
        return found

    return kind


def as_tempo(value: Any) -> float:
    """Read a tempo, a number or a text such as "half=110", in quarter notes a minute."""
    if not isinstance(value, str):
        return as_number(SLOWEST_BPM, FASTEST_BPM)(value)
    try:
        return Tempo.parse(value).quarter_bpm
    except SymbolError as error:
        raise ValueError(error.found, error.allowed) from None


def as_players(value: object) -> frozenset[Player]:
    """Read a list of players."""
    return frozenset(map(Player, map(as_one_of(list(Player)), _PLAYERS(value))))


def as_added(value: object) -> tuple[str, ...]:
    """Read the degrees added to plain chords."""
    return tuple(map(as_one_of(ADDED), _ADDED(value)))
