"""Commands for the tempo, the key and the style."""

from __future__ import annotations

import itertools
from dataclasses import replace
from typing import TYPE_CHECKING

from backing.chart.transpose import FARTHEST, in_key
from backing.control.command import (
    ArgumentError,
    Command,
    CommandTarget,
    Context,
    Key,
    SettingCommand,
    one_word,
    own_or,
    text_of,
    whole_number,
)
from backing.control.settings import CommandError
from backing.errors import SettingsError, SymbolError
from backing.performance.performance import Performance
from backing.performance.settings import Settings
from backing.style.library import find_style, style_files
from backing.timing import (
    FASTEST_BPM,
    SLOWEST_BPM,
    TICKS_PER_QUARTER,
    UNITS,
    Tempo,
    WrittenTempo,
    tempo_range,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backing.chart.model import Chart
    from backing.control.settings import LiveSettings

_TAP_GAP_SECONDS = 2.5
_TAPS = 6


def _read_tempo(context: Context, words: Sequence[str]) -> float:
    """Return quarter notes a minute."""
    text, settings = one_word(words), context.settings
    if text.lower() == "own":
        return Performance(settings.chart, Settings(style=settings.base.style)).bpm
    if text[0] in "+-":
        step = read_step(settings, text[1:])
        return settings.bpm + (step if text[0] == "+" else -step)
    try:
        return Tempo.parse(text, settings.chart.tempo_unit).quarter_bpm
    except SymbolError as error:
        raise CommandError(str(error)) from None


def read_step(settings: LiveSettings, text: str) -> float:
    """Return a tempo difference in quarter notes a minute; one usual step for an empty text."""
    unit = settings.chart.tempo_unit
    if not text:
        return Tempo(UNITS[unit].step, unit).quarter_bpm
    try:
        return WrittenTempo.parse(text).quarter_bpm(unit)
    except SymbolError:
        raise ArgumentError from None


def _times(settings: LiveSettings, factor: float, what: str) -> LiveSettings:
    """Return the settings at a multiple of the tempo.

    Raises:
        CommandError: when the band cannot play it; a limited tempo would be out of time.

    """
    chart, bpm = settings.chart, settings.bpm * factor
    if not SLOWEST_BPM <= bpm <= FASTEST_BPM:
        raise CommandError(
            f"{what} {chart.tempo_text(settings.bpm)} is {chart.tempo_text(bpm)}: "
            f"{tempo_range(chart.tempo_unit)}"
        )
    return settings.at_tempo(bpm)


def tapped_bpm(taps: Sequence[float]) -> float | None:
    """Return the tempo of taps in beats a minute, from their median gap; None without a gap."""
    gaps = sorted(b - a for a, b in itertools.pairwise(taps))
    return 60.0 / gaps[len(gaps) // 2] if gaps and gaps[len(gaps) // 2] > 0 else None


def after_tap(taps: tuple[float, ...], now: float) -> tuple[float, ...]:
    """Return the last six taps including a new one, in seconds; a long pause starts over."""
    if taps and now - taps[-1] > _TAP_GAP_SECONDS:
        return (now,)
    return (*taps, now)[-_TAPS:]


def _tap(target: CommandTarget, _: None) -> bool:
    target.taps = after_tap(target.taps, target.heard_at)
    bpm = tapped_bpm(target.taps)
    if bpm:
        quarters = round(bpm, 1) * _beat_quarters(target.context())
        target.change(lambda settings: settings.at_tempo(quarters))
    return True


def _beat_quarters(context: Context) -> float:
    """Return the length of a beat of the current bar, in quarter notes of the main tempo."""
    bar = context.bar
    meter = bar.meter if bar else context.settings.chart.meter
    return meter.beat_ticks / TICKS_PER_QUARTER * (bar.main_bpm / bar.bpm if bar else 1.0)


def _read_key(context: Context, words: Sequence[str]) -> int:
    """Return the transposition in semitones."""
    text, settings = text_of(words), context.settings
    if text.lower() == "own":
        semitones = 0
    elif text[0] in "+-":
        semitones = settings.semitones + whole_number(text.replace(" ", ""))
    else:
        semitones = _semitones_to(settings.chart, text)
    if abs(semitones) > FARTHEST:
        raise CommandError(f"{semitones} semitones: the limit is {FARTHEST} up or down")
    return semitones


def _semitones_to(chart: Chart, text: str) -> int:
    """Return the smaller interval from the chart's key to a key, in semitones."""
    try:
        up = in_key(chart, text).key.tonic.pitch_class - chart.key.tonic.pitch_class
    except SettingsError as error:
        raise CommandError(str(error)) from None
    return up % 12 if up % 12 <= 6 else up % 12 - 12


def _read_style(_: Context, words: Sequence[str]) -> str | None:
    name = own_or(one_word(words))
    if name is not None:
        find_style(name)
    return name


TUNE = (
    SettingCommand(
        "tempo",
        "BPM | +[N] | -[N] | own",
        "set the beats a minute; + and - change them by N or a step; own is the chart's",
        lambda settings, bpm: settings.at_tempo(bpm),
        _read_tempo,
        keys=(
            Key("+", "faster", "a step faster", "tempo +"),
            Key("-", "slower", "a step slower", "tempo -"),
        ),
    ),
    Command(
        "tap",
        "",
        "tap the tempo, once a beat",
        _tap,
        keys=(Key("t", "tap", "tap the tempo", "tap"),),
    ),
    SettingCommand(
        "half", "", "halve the tempo", lambda settings, _: _times(settings, 0.5, "half of")
    ),
    SettingCommand(
        "double", "", "double the tempo", lambda settings, _: _times(settings, 2.0, "twice")
    ),
    SettingCommand(
        "key",
        "KEY | +N | -N | own",
        "change the key, or transpose by N semitones; own is the chart's",
        lambda settings, semitones: replace(settings, semitones=semitones),
        _read_key,
        keys=(
            Key("k", "key up", "a half-step up", "key +1"),
            Key("j", "key down", "a half-step down", "key -1"),
        ),
    ),
    SettingCommand(
        "style",
        "NAME | own",
        "change the groove; own is the chart's",
        lambda settings, name: settings.with_base(style=name),
        _read_style,
        choices=style_files,
    ),
)
