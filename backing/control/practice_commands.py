"""Commands that play: start, stop, parts, loops; and for practice: ladder, rests, count-ins."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

from backing.chart.selection import bars_of, form_index_of, part_of
from backing.chart.sequence import every_time, part_label
from backing.control.band_commands import read_step
from backing.control.command import (
    ArgumentError,
    Command,
    CommandTarget,
    Context,
    Key,
    SettingCommand,
    choice,
    is_word,
    number,
    one_word,
    text_of,
    whole_number,
)
from backing.control.progress import loop_bar_names, next_part
from backing.control.settings import CommandError
from backing.errors import SymbolError
from backing.performance.ladder import SMALLEST_STEP_BPM, Ladder
from backing.timing import UNITS, WrittenTempo

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backing.chart.sequence import BarName
    from backing.control.settings import LiveSettings


def _stop(target: CommandTarget, _: None) -> bool:
    target.playback.stop(target.heard_at)
    return True


def _quit(target: CommandTarget, _: None) -> bool:
    target.quitting = True
    return _stop(target, _)


def _read_loop(context: Context, words: Sequence[str]) -> str | None:
    """Return the loop; `here` is the part being played, or the first one."""
    text = text_of(words)
    if is_word(words, "off"):
        return None
    chart, bar = context.settings.chart, context.bar
    if is_word(words, "here"):
        text = bar.label if bar and bar.part in chart.order else chart.order[0]
    bars_of(chart, text)
    return text


def _loop(target: CommandTarget, loop: str | None) -> bool:
    """Set the loop; warn when it is played only once or not at all."""
    changed = target.change(lambda settings: replace(settings, loop=loop))
    if changed and loop and target.playback.is_ending:
        target.notify(
            f"too late for the loop {loop}: the ending has begun. "
            "The loop starts when you play again"
        )
    elif changed and loop and target.playback.settings.last_time:
        target.notify(f"this is the last time: the band plays the loop {loop} once and ends")
    return changed


def _read_part(context: Context, words: Sequence[str]) -> BarName:
    """Return the first bar of a part; `next` is the part after the one being played."""
    text, settings = text_of(words), context.settings
    chart = settings.chart
    if is_word(words, "next"):
        here = context.bar.position.bar if context.bar else None
        return next_part(chart, here, last_time=settings.last_time)
    name, occurrence = part_of(chart, text)
    first = (name, occurrence or 0, 0)
    is_last = form_index_of(chart, *first[:2]) >= every_time(chart).stop
    if is_last and not settings.last_time and first not in loop_bar_names(settings):
        raise CommandError(
            f"{name} is played the last time only: use last-time first, or loop {name}"
        )
    return first


def _part(target: CommandTarget, bar: BarName) -> bool:
    """Go to a bar; a loop without this bar ends."""
    settings = target.playback.settings
    leaves_loop = settings.loop is not None and bar not in loop_bar_names(settings)
    target.playback.jump(bar, leaves_loop=leaves_loop)
    if leaves_loop:
        label = part_label(*bar[:2])
        target.notify(f"the loop {settings.loop} is off: part {label} is not in it")
    return True


TRANSPORT = (
    Command(
        "play",
        "",
        "start, or resume after a pause",
        lambda target, _: target.playback.play(target.now()),  # a start cannot lie in the past
        keys=(Key(" ", "play, pause", "play, pause", "pause | play"),),
    ),
    Command(
        "pause",
        "",
        "pause; play resumes at this bar",
        lambda target, _: target.playback.pause(target.heard_at),
    ),
    Command(
        "stop",
        "",
        "stop and go back to the beginning",
        _stop,
        keys=(Key("s", "stop", "stop, back to the beginning", "stop"),),
    ),
    Command(
        "quit", "", "leave", _quit, keys=(Key("q", "leave", "leave", "quit"),), for_pages=False
    ),
)

FORM = (
    Command(
        "part",
        "PART [NUMBER] | next",
        "go to a part at the next bar line, as in part A 2 (the second A); ends a loop without it",
        _part,
        _read_part,
        keys=(Key("n", "next part", "go to the next part", "part next"),),
    ),
    Command(
        "loop",
        "PART [NUMBER] | PART-PART | BAR-BAR | here | off",
        "repeat a part, parts or bars",
        _loop,
        _read_loop,
        keys=(
            Key("l", "loop this part", "loop this part, or end the loop", "loop off | loop here"),
        ),
    ),
    SettingCommand(
        "last-time",
        "",
        "end after this chorus",
        lambda settings, _: replace(settings, last_time=True),
        keys=(Key("e", "last time", "last time: end after this chorus", "last-time"),),
    ),
)


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
