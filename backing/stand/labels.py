"""The states and labels of the page's controls.

Each button, slider and choice sends a command. These functions tell by command which buttons are
active and what each control shows, so that pages need not know what a command means.
"""

from __future__ import annotations

from math import ceil, floor
from typing import TYPE_CHECKING

from backing.chart.selection import part_of
from backing.errors import SettingsError
from backing.harmony.signs import signed
from backing.out.note_sign import note_svg
from backing.stand.markup import joined, tempo_markup
from backing.stand.messages import TempoUnit
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
