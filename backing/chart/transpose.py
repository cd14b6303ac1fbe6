"""A chart in another key."""

from __future__ import annotations

from typing import TYPE_CHECKING

from backing.errors import SettingsError, SymbolError
from backing.harmony.key import Key
from backing.harmony.pitch import NoteName

if TYPE_CHECKING:
    from backing.chart.model import Chart

FARTHEST = 24
"""The most semitones a chart is moved up or down."""


def in_key(chart: Chart, text: str) -> Chart:
    """Return the chart in the key that `text` names.

    A bare note keeps the chart's mode; so does a major or a minor key where the home chord of the
    chart has that third: Em stands for E dorian where the chart is dorian.

    Raises:
        SettingsError: when the text is no key, or of another mode than the chart.

    """
    try:
        key = Key(NoteName.parse(text.strip()), chart.key.mode)
    except SymbolError:
        key = _named(text)
    if key.mode in ("major", "minor") and key.is_minor == chart.key.is_minor:
        key = Key(key.tonic, chart.key.mode)
    if key.plain() != key:
        raise SettingsError(f"the key {key} has more than seven signs: write {key.plain()}")
    if key.mode != chart.key.mode:
        raise SettingsError(
            f"the chart is in {chart.key}, which is {chart.key.mode}; {text} is {key.mode}: "
            "name a key of the chart's mode, or the bare note"
        )
    return chart.up(key.tonic.fifths - chart.key.tonic.fifths)


def by_semitones(chart: Chart, semitones: int) -> Chart:
    """Return the chart moved up, or down for negative numbers, spelled as its new key spells.

    Raises:
        SettingsError: when it is moved by more than 24 semitones.

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
