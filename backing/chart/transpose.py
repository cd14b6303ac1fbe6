"""Transposes charts."""

from __future__ import annotations

from typing import TYPE_CHECKING

from backing.errors import SettingsError, SymbolError
from backing.harmony.key import Key
from backing.harmony.pitch import NoteName

if TYPE_CHECKING:
    from backing.chart.model import Chart

FARTHEST = 24
"""The farthest transposition up or down, in semitones."""


def in_key(chart: Chart, text: str) -> Chart:
    """Return the chart in the key named by `text`.

    A bare note keeps the chart's mode. So does a major or minor key if the chart's home chord has
    the same third: Em means E dorian for a dorian chart.

    Raises:
        SettingsError: if the text is not a key, or its mode is not the chart's.

    """
    try:
        key = Key(NoteName.parse(text.strip()), chart.key.mode)
    except SymbolError:
        key = _named(text)
    if key.mode in ("major", "minor") and key.is_minor == chart.key.is_minor:
        key = Key(key.tonic, chart.key.mode)
    if key.plain() != key:
        raise SettingsError(
            f"the key {key} has more than seven sharps or flats: write {key.plain()}"
        )
    if key.mode != chart.key.mode:
        raise SettingsError(
            f"the chart is in {chart.key}, which is {chart.key.mode}; {text} is {key.mode}: "
            "write a key of the chart's mode, or only its note"
        )
    return chart.up(key.tonic.fifths - chart.key.tonic.fifths)


def by_semitones(chart: Chart, semitones: int) -> Chart:
    """Return the chart moved up, or down for negative numbers, spelled in its new key.

    Raises:
        SettingsError: if `semitones` is beyond 24 up or down.

    """
    if abs(semitones) > FARTHEST:
        raise SettingsError(
            f"{semitones} semitones: a chart is moved by {FARTHEST} at most, up or down"
        )
    return chart.up(chart.key.fifths_up(semitones), semitones)


def _named(text: str) -> Key:
    try:
        return Key.parse(text)
    except SymbolError as error:
        raise SettingsError(str(error)) from None
