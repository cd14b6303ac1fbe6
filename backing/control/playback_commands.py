"""Commands that begin and end, and those that say where to play."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from backing.chart.selection import bars_of, form_index_of, part_of
from backing.chart.sequence import every_time, part_label
from backing.control.command import Command, Context, Desk, Key, SettingCommand, is_word, text_of
from backing.control.progress import looped_bars, next_part
from backing.control.settings import CommandError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backing.chart.sequence import BarName


def _stop(desk: Desk, _: None) -> bool:
    desk.playback.stop(desk.heard)
    return True


def _quit(desk: Desk, _: None) -> bool:
    desk.quitting = True
    return _stop(desk, _)


def _read_loop(context: Context, words: Sequence[str]) -> str | None:
    """Return what to go round; `here` is the part being played, or the first one."""
    text = text_of(words)
    if is_word(words, "off"):
        return None
    chart, bar = context.settings.chart, context.bar
    if is_word(words, "here"):
        text = bar.label if bar and bar.part in chart.order else chart.order[0]
    bars_of(chart, text)
    return text


def _loop(desk: Desk, loop: str | None) -> bool:
    """Go round a loop; tell the player of one that is played once only, or not any more."""
    changed = desk.change(lambda settings: replace(settings, loop=loop))
    if changed and loop and desk.playback.is_ending:
        desk.tell(
            f"the loop {loop} comes too late: the end has begun. "
            "It holds when the band begins again"
        )
    elif changed and loop and desk.playback.settings.last_time:
        desk.tell(f"this is the last time: the band goes round the loop {loop} once and ends")
    return changed


def _read_part(context: Context, words: Sequence[str]) -> BarName:
    """Return the first bar of a part; `next` is the one behind the part being played."""
    text, settings = text_of(words), context.settings
    chart = settings.chart
    if is_word(words, "next"):
        here = context.bar.position.bar if context.bar else None
        return next_part(chart, here, last_time=settings.last_time)
    name, occurrence = part_of(chart, text)
    first = (name, occurrence or 0, 0)
    is_last = form_index_of(chart, *first[:2]) >= every_time(chart).stop
    if is_last and not settings.last_time and first not in looped_bars(settings):
        raise CommandError(
            f"{name} is played the last time only: say last-time first, or loop {name}"
        )
    return first


def _part(desk: Desk, bar: BarName) -> bool:
    """Go to a bar; a loop that does not have it ends."""
    settings = desk.playback.settings
    leaves_loop = settings.loop is not None and bar not in looped_bars(settings)
    desk.playback.jump(bar, leaves_loop=leaves_loop)
    if leaves_loop:
        label = part_label(*bar[:2])
        desk.tell(f"the loop {settings.loop} is off, since part {label} is not in it")
    return True


TRANSPORT = (
    Command(
        "play",
        "",
        "begin, or go on where it was paused",
        lambda desk, _: desk.playback.play(desk.now()),  # what begins cannot have been heard
        keys=(Key(" ", "play, pause", "play, pause", "pause | play"),),
    ),
    Command(
        "pause",
        "",
        "fall silent; play goes on at this bar",
        lambda desk, _: desk.playback.pause(desk.heard),
    ),
    Command(
        "stop",
        "",
        "fall silent and go back to the beginning",
        _stop,
        keys=(Key("s", "stop", "stop, back to the beginning", "stop"),),
    ),
    Command(
        "quit", "", "leave", _quit, keys=(Key("q", "leave", "leave", "quit"),), for_pages=False
    ),
)

PLACES = (
    Command(
        "part",
        "PART [TURN] | next",
        "go to a part at the next bar line, such as the second A: part A 2; a loop without it ends",
        _part,
        _read_part,
        keys=(Key("n", "next part", "go to the next part", "part next"),),
    ),
    Command(
        "loop",
        "PART [TURN] | PART-PART | BAR-BAR | here | off",
        "go round a part, parts or bars",
        _loop,
        _read_loop,
        keys=(Key("l", "loop this part", "go round this part, and off", "loop off | loop here"),),
    ),
    SettingCommand(
        "last-time",
        "",
        "end after this chorus",
        lambda settings, _: replace(settings, last_time=True),
        keys=(Key("e", "last time", "last time: end after this chorus", "last-time"),),
    ),
)
