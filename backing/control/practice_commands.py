"""Commands for practice: tempo ladder, silent bars, count-ins."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

from backing.control.command import (
    ArgumentError,
    Context,
    SettingCommand,
    choice,
    is_word,
    number,
    one_word,
    whole_number,
)
from backing.control.settings import CommandError
from backing.control.tune_commands import read_step
from backing.errors import SymbolError
from backing.performance.ladder import SMALLEST_STEP_BPM, Ladder
from backing.timing import UNITS, WrittenTempo

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backing.control.settings import LiveSettings

_USUAL_EVERY = 2


def _read_ladder(context: Context, words: Sequence[str]) -> Ladder | None:
    if is_word(words, "off"):
        return None
    back = bool(words) and words[-1].lower() == "back"
    words = words[: -1 if back else None]
    if not 2 <= len(words) <= 4:
        raise ArgumentError
    start, goal, size, pace = (*words, *("usual", str(_USUAL_EVERY))[len(words) - 2 :])
    unit = context.settings.chart.tempo_unit
    step = "" if size.lower() == "usual" else size
    step_bpm = read_step(context.settings, step) / UNITS[unit].quarters
    every = number(pace)
    if step_bpm < SMALLEST_STEP_BPM or every < 1 or every != int(every):
        raise ArgumentError
    rungs = (_read_rung(unit, start), _read_rung(unit, goal))
    return Ladder(*rungs, step_bpm, int(every), back, unit)


def _read_rung(unit: str, text: str) -> float:
    """Return a tempo of a ladder, in units a minute."""
    try:
        written = WrittenTempo.parse(text)
    except SymbolError:
        raise ArgumentError from None
    try:
        return written.counted_in(unit).quarter_bpm / UNITS[unit].quarters
    except SymbolError as error:
        raise CommandError(str(error)) from None


def _ladder(settings: LiveSettings, ladder: Ladder | None) -> LiveSettings:
    if ladder is None:
        return replace(settings, ladder=None)
    return replace(settings.at_tempo(ladder.bpm(0)), ladder=ladder)


def rest_numbers(text: str) -> list[str]:
    """Split `2 8`, `2/8` or `2 of 8` into its numbers, as text."""
    return re.split(r"\s+of\s+|\s*/\s*|\s+", text.strip().lower())


def _read_rest(_: Context, words: Sequence[str]) -> tuple[int, int] | None:
    if is_word(words, "off"):
        return None
    numbers = [whole_number(each) for each in rest_numbers(" ".join(words))]
    if len(numbers) != 2:
        raise ArgumentError
    silent, of_bars = numbers
    if not 0 < silent < of_bars:
        raise CommandError(
            f"rest {silent} {of_bars}: the silent bars must be at least 1 and fewer than the bars "
            "they are part of, as in rest 2 8"
        )
    return silent, of_bars


def _read_trade(_: Context, words: Sequence[str]) -> tuple[int, int] | None:
    if is_word(words, "off"):
        return None
    bars = whole_number(one_word(words))
    if bars < 1:
        raise ArgumentError
    return bars, 2 * bars


PRACTICE = (
    SettingCommand(
        "ladder",
        "FROM TO [STEP [EVERY]] [back] | off",
        f"go from tempo FROM to TO by STEP (usual, or at least {SMALLEST_STEP_BPM:g}) "
        "after EVERY times round; back: and return to FROM",
        _ladder,
        _read_ladder,
    ),
    SettingCommand(
        "rest",
        "BARS OF | BARS/OF | off",
        "keep the band silent for BARS of every OF bars",
        lambda settings, rest: replace(settings, rest=rest),
        _read_rest,
    ),
    SettingCommand(
        "trade",
        "BARS | off",
        "take turns: the band plays BARS, then you do",
        lambda settings, rest: replace(settings, rest=rest),
        _read_trade,
    ),
    SettingCommand(
        "count-in",
        "on | off",
        "count in every time round",
        lambda settings, on: settings.with_base(count_each=on),
        lambda _, words: choice(words, {"on": True, "off": False}),
    ),
)
