"""The page, and the states and labels of its controls.

Each button, slider and choice sends a command. These functions tell by command which buttons are
active and what each control shows, so that pages need not know what a command means. The page is
made from the tables of commands, styles and instruments.
"""

from __future__ import annotations

import json
from dataclasses import asdict, replace
from functools import lru_cache
from math import ceil, floor
from typing import TYPE_CHECKING

from backing.chart.selection import part_of
from backing.control.commands import keys
from backing.control.settings import FULL_LEVEL, LOUDEST
from backing.errors import SettingsError
from backing.fretboard.instrument import instrument_files
from backing.harmony.signs import signed
from backing.notes import Player
from backing.out.note_sign import note_svg
from backing.stand.markup import joined, render, tempo_markup
from backing.stand.messages import TempoUnit
from backing.style.library import all_styles
from backing.timing import FASTEST_BPM, SLOWEST_BPM, UNITS, Tempo, note_words

if TYPE_CHECKING:
    from backing.control.settings import LiveSettings
    from backing.performance.ladder import Ladder
    from backing.style.model import Style


def tempo_unit(name: str) -> TempoUnit:
    """Return a note, given by its name, as the unit of tempi."""
    unit = UNITS[name]
    return TempoUnit(
        name=name,
        words=note_words(name),
        mark=note_svg(name),
        step=unit.step,
        slowest=ceil(SLOWEST_BPM / unit.quarters),
        fastest=floor(FASTEST_BPM / unit.quarters),
    )


def active_commands(settings: LiveSettings, style: Style | None) -> list[str]:
    """Return the commands of all active buttons."""
    plays = [player for player in settings.band if settings.plays(player, style)]
    rest, part = settings.rest, _part_looped(settings)
    lines = {
        f"loop {settings.loop}": settings.loop,
        f"loop {part}": part,
        f"only {plays[0] if plays else ''}": len(plays) == 1,
        f"trade {rest[0] if rest else ''}": rest and rest[1] == 2 * rest[0],
        "last-time": settings.last_time,
        "lead octave": settings.base.lead.octave,
    }
    return [
        *(line for line, holds in lines.items() if holds),
        *(f"unmute {each}" for each in plays),
    ]


def _part_looped(settings: LiveSettings) -> str | None:
    """Return the name of the part that is looped, such as A for A 2; None for another loop."""
    try:
        return part_of(settings.chart, settings.loop or "")[0]
    except SettingsError:
        return None


def control_values(settings: LiveSettings, style: str) -> dict[str, str | int | bool]:
    """Return the value of each slider, choice and checkbox by its command."""
    return {
        "style": style,
        "level": settings.level,
        "count-in": settings.base.count_each,
        "lead": settings.base.lead.when,
        **{f"level {player}": percent for player, percent in settings.levels},
    }


def control_labels(settings: LiveSettings, style: Style | None) -> dict[str, str]:
    """Return the labels of the controls by command: loop, ladder, rest, levels, who plays.

    The ladder is markup, since its note is drawn; all others are plain text.
    """
    ladder, rest, loop = settings.ladder, settings.rest, settings.loop
    step = UNITS[settings.chart.tempo_unit].step
    return {
        "loop": f"bars {loop}" if loop and loop[0].isdigit() else loop or "",
        "ladder": _ladder(ladder) if ladder else "",
        "tempo +": f"+{step:g}",
        "tempo -": f"−{step:g}",
        "rest": f"{rest[0]} of {rest[1]} bars" if rest else "",
        "level": f"{settings.level} %",
        **{f"level {player}": f"{percent} %" for player, percent in settings.levels},
        **{
            f"unmute {player}": "plays" if settings.plays(player, style) else "sits out"
            for player in settings.band
        },
    }


def _ladder(ladder: Ladder) -> str:
    """Return the first and last tempo of a ladder as markup."""
    start, goal = (Tempo(bpm, ladder.unit) for bpm in (ladder.start_bpm, ladder.goal_bpm))
    return f"{tempo_markup(start)} to {goal.figure}"


def about(settings: LiveSettings, key: str, style: str) -> str:
    """Return author, key, style, meter and tempo of a tune in one line of markup."""
    chart = settings.chart
    pieces = (chart.by, f"Key of {signed(key)}", style, str(chart.meter))
    return joined((*pieces, tempo_markup(chart.tempo)))


_OWN_KEYS = {
    "p": ("practice", "open and close Practice"),
    "f": ("songbook", "the songbook"),
    "?": ("help", "this list"),
}
"""Keys of the page alone: command and help of each."""

_OWN_LINES = {"pause | play": "toggle", "loop off | loop here": "loop here"}
"""Commands that the page replaces by its own, since it knows whether the band plays or loops."""


def page_keys() -> dict[str, tuple[str, str]]:
    """Return command and help of each key of the page; the terminal's keys, and its own."""
    shared = {
        key.sign: (_OWN_LINES.get(key.line, key.line), key.about)
        for key, command in keys()
        if command.for_pages
    }
    return shared | _OWN_KEYS


PEDAL_LINES = {
    "toggle": "Play, pause",
    "loop here": "Loop this part",
    "part next": "Next part",
    "tempo +": "A step faster",
    "tempo -": "A step slower",
    "tap": "Tap the tempo",
    "last-time": "Last time",
    "stop": "Stop",
    "next-tune": "Next tune of the set",
}
_LEADS = {
    "always": "every time",
    "first": "first time only",
    "other": "every other time: you play the others",
}
"""The labels of the choices of `band/lead.py: WHEN`."""

PEDALS = {"forward": "toggle", "back": "loop here"}
"""The commands of the pedals until the player chooses others."""


@lru_cache(1)
def page_html() -> str:
    """Return the page; its `usual` are the values of controls before a tune is open."""
    unit = replace(tempo_unit("quarter"), mark="")
    return render(
        "page",
        usual=json.dumps({"level": FULL_LEVEL, "unit": asdict(unit)}),
        slowest=unit.slowest,
        fastest=unit.fastest,
        loudest=LOUDEST,
        styles=[style.name for style in all_styles()[0]],
        instruments=list(instrument_files()),
        players=list(Player),
        leads=_LEADS,
        keys=page_keys(),
        pedal_lines=PEDAL_LINES,
        pedals=PEDALS,
    )
