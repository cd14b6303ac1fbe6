"""Fretted instruments as data: tuning, scale length, frets, courses, from TOML files.

Conventions: strings are in order from the bass side to the treble side, as in written shapes
(7-5-2-3). Frets follow equal temperament: the distance from the nut to fret n is
scale * (1 - 2 ** (-n / 12)) (arithmetic). With a capo, frets count from it.
"""

from __future__ import annotations

import os
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from pathlib import Path

from backing.errors import InstrumentError, SettingsError, SymbolError
from backing.harmony.pitch import midi_key
from backing.nearest import did_you_mean, nearest
from backing.reading import UnreadableError, read_text
from backing.tables import as_number, as_text, as_whole, as_yes_or_no, open_document

OWN_FOLDER_VARIABLE = "BACKING_INSTRUMENTS"
"""The environment variable that names the user's own folder of instruments."""

FOLDER = Path(__file__).parent / "instruments"
"""The folder of the included instruments."""

SUFFIX = ".toml"
MOST_STRINGS = 8
FIGURES = ("tuning", "scale", "frets", "courses")
"""Figures for which an instrument's file may name a source."""

_LOWEST_SCALE_MM, _HIGHEST_SCALE_MM = 150.0, 1200.0
_FEWEST_FRETS, MOST_FRETS = 5, 36
_MOST_IN_A_COURSE = 3
_HIGHEST_KEY = 127
_WIDEST_STEP = 24
"""Most semitones between neighbouring strings; more is taken for a typing error."""


@dataclass(frozen=True, slots=True)
class Instrument:
    """A fretted instrument, perhaps with a capo on it.

    Attributes:
        name: its name, such as mandolin.
        about: one line about it.
        strings: the MIDI key of each open course from the bass side, 2 to 8 of them.
        scale_mm: sounding length of an open string in millimetres, 150 to 1200 without a capo.
        frets: frets above the nut or the capo, at least 1.
        courses: strings to a course, 1 to 3.
        re_entrant: whether some string is tuned no higher than the one before it.
        capo: the capo's fret, 0 without one.
        sources: the source of each of `FIGURES`, in their order; "" if the file names none.
    """

    name: str
    about: str
    strings: tuple[int, ...]
    scale_mm: float
    frets: int
    courses: int = 1
    re_entrant: bool = False
    capo: int = 0
    sources: tuple[str, ...] = ("", "", "", "")

    def fret_mm(self, fret: int) -> float:
        """Return the distance from the nut, or the capo, to a fret in millimetres.

        Rounded to a thousandth, so that every machine chooses the same shapes.
        """
        return _places(self.scale_mm)[fret]

    def key_at(self, string: int, fret: int) -> int:
        """Return the MIDI key of a string, counted from 0 on the bass side, at a fret."""
        return self.strings[string] + fret

    def with_capo(self, fret: int) -> Instrument:
        """Return the instrument with a capo at a fret counted from the nut; 0 means no capo.

        Raises:
            SettingsError: if it has a capo, or fewer than five frets would be left.
        """
        if fret == 0:
            return self
        most = self.frets - _FEWEST_FRETS
        if self.capo or not 0 < fret <= most:
            found = "there is a capo already" if self.capo else f"capo {fret} will not do"
            raise SettingsError(f"{found}: the {self.name} takes one capo, from 1 to {most}")
        return replace(
            self,
            strings=tuple(key + fret for key in self.strings),
            scale_mm=self.scale_mm - self.fret_mm(fret),
            frets=self.frets - fret,
            capo=fret,
        )


@lru_cache(64)
def _places(scale_mm: float) -> tuple[float, ...]:
    """Return the distance of every fret from the nut in millimetres."""
    return tuple(round(scale_mm * (1 - 2 ** (-fret / 12)), 3) for fret in range(MOST_FRETS + 1))


def read_instrument(text: str, name: str, source: str) -> Instrument:
    """Read the text of an instrument's file.

    Args:
        text: TOML.
        name: the instrument's name, which is its file's.
        source: the file's name for messages.

    Raises:
        InstrumentError: with every fault of the file: its line, its key, what is allowed.
    """
    top = open_document(text, source, "an instrument", InstrumentError)
    instrument = Instrument(
        name=name,
        about=top.read("about", as_text, ""),
        strings=top.read("tuning", _tuning, ()),
        scale_mm=top.read("scale", as_number(_LOWEST_SCALE_MM, _HIGHEST_SCALE_MM), 0.0),
        frets=top.read("frets", as_whole(_FEWEST_FRETS, MOST_FRETS), 0),
        courses=top.read_or("courses", as_whole(1, _MOST_IN_A_COURSE), 1),
        re_entrant=top.read_or("re-entrant", as_yes_or_no, False),
    )
    sources = ("",) * len(FIGURES)
    if "source" in top.values:
        table = top.table("source")
        sources = tuple(table.read_or(figure, as_text, "") for figure in FIGURES)
        table.close()
    top.close()
    falls = any(high <= low for low, high in pairwise(instrument.strings))
    if not {"tuning", "re-entrant"} & top.broken and falls != instrument.re_entrant:
        found = (
            ("tuning: a string is no higher than the one before it", "write re-entrant = true")
            if falls
            else ("re-entrant: each string is higher than the one before", "take re-entrant out")
        )
        top.document.fault(("tuning",), found[0], f"{found[1]}, or correct the tuning")
    highest = max(instrument.strings, default=0) + instrument.frets
    if not {"tuning", "frets"} & top.broken and highest > _HIGHEST_KEY:
        top.document.fault(
            ("frets",), "the highest fret is above G9", "tune lower, or give it fewer frets"
        )
    top.document.finish()
    return replace(instrument, sources=sources)


def _tuning(value: object) -> tuple[int, ...]:
    if not isinstance(value, list) or not all(isinstance(each, str) for each in value):
        raise ValueError(f"{value!r} is no tuning", 'write notes, such as ["G3", "D4", "A4", "E5"]')
    if not 2 <= len(value) <= MOST_STRINGS:
        raise ValueError(f"{len(value)} strings", f"an instrument has 2 to {MOST_STRINGS} of them")
    try:
        keys = tuple(midi_key(each) for each in value)
    except SymbolError as error:
        raise ValueError(error.found, error.allowed) from None
    for (low, start), (high, end) in pairwise(zip(keys, value, strict=True)):
        if abs(high - low) > _WIDEST_STEP:
            raise ValueError(
                f"{start} and {end} side by side", "neighbours are at most two octaves apart"
            )
    return keys


def instrument_files() -> dict[str, Path]:
    """Return the file of every instrument by name; the user's files override the included ones."""
    found: dict[str, Path] = {}
    for folder in (own_folder(), FOLDER):
        for path in sorted(folder.glob(f"*{SUFFIX}")):
            found.setdefault(path.stem, path)
    return dict(sorted(found.items()))


def own_folder() -> Path:
    """Return the user's own folder of instruments, which may not exist."""
    named = os.environ.get(OWN_FOLDER_VARIABLE)
    return Path(named) if named else Path.home() / ".backing" / "instruments"


def find_instrument(name: str, *, capo: int = 0) -> Instrument:
    """Return the instrument with this name, or the one in a file whose path ends in `.toml`.

    Args:
        name: mandolin, guitar and so on, or a path.
        capo: the fret of a capo, 0 for none.

    Raises:
        SettingsError: if there is no such instrument, with a list of those there are, or the capo
            does not fit.
        InstrumentError: if its file cannot be read.
    """
    return _load(instrument_file(name)).with_capo(capo)


def instrument_file(name: str) -> Path:
    """Return the file of the instrument with this name, or the name itself if it is a path.

    Raises:
        SettingsError: if there is none, with a list of those there are.
    """
    if name.endswith(SUFFIX):
        return Path(name)
    files = instrument_files()
    if name not in files:
        raise SettingsError(
            f"'{name}' is not an instrument: choose from {', '.join(files)}, or give a file that "
            f"ends in {SUFFIX}" + did_you_mean(nearest(name, files))
        )
    return files[name]


def _load(path: Path) -> Instrument:
    try:
        text = read_text(path, "save the instrument as plain text in UTF-8")
    except UnreadableError as error:
        raise error.of(InstrumentError, str(path)) from None
    return _read(text, path.stem, str(path))


_read = lru_cache(32)(read_instrument)
