"""What holds, in words, and how pages say it: buttons that are pressed, sliders where they stand.

A page's buttons, sliders and choices each say a line; here are the lines that hold now, so that
pages need not know what any of them means, and two pages show the same.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from backing.harmony.signs import signed
from backing.live.wishes import VerbError, part_of
from backing.timing import TICKS_PER_QUARTER, Tempo

if TYPE_CHECKING:
    from backing.live.source import LiveBar
    from backing.live.wishes import Wishes
    from backing.style.model import Style
    from backing.timing import Meter

_SIGNS = {"quarter": "♩", "dotted-quarter": "♩.", "half": "half", "eighth": "♪"}
"""Notes that a tempo counts, as they are shown; fonts at hand have no sign of a half note."""


def unit_of(meter: Meter) -> dict[str, Any]:
    """Return the note that tempi are told in: its name, its sign, its length in quarter notes."""
    name = Tempo.in_beats(120, meter).unit
    sign, quarters = _SIGNS.get(name, name), meter.beat_ticks / TICKS_PER_QUARTER
    return {"name": name, "sign": sign, "quarters": quarters}


def pressed(wishes: Wishes, style: Style | None) -> list[str]:
    """Return the lines of all buttons that are pressed."""
    plays = [player for player in wishes.band if wishes.plays(player, style)]
    rest, part = wishes.rest, _part_looped(wishes)
    lines = {
        f"loop {wishes.loop}": wishes.loop,
        f"loop {part}": part,
        f"only {plays[0] if plays else ''}": len(plays) == 1,
        f"trade {rest[0] if rest else ''}": rest and rest[1] == 2 * rest[0],
        "last-time": wishes.last_time,
        "lead octave": wishes.lead.octave,
    }
    return [
        *(line for line, holds in lines.items() if holds),
        *(f"unmute {each}" for each in plays),
    ]


def _part_looped(wishes: Wishes) -> str | None:
    """Return the part of which a loop goes round one, such as A for A 2; None for another loop."""
    try:
        return part_of(wishes.chart, wishes.loop or "")[0]
    except VerbError:
        return None


def values(wishes: Wishes, style: str) -> dict[str, Any]:
    """Return where each slider, choice and tick stands, by the line that it says."""
    return {
        "style": style,
        "level": wishes.level,
        "count-in": wishes.count_each,
        "lead": wishes.lead.when,
        **{f"level {player}": percent for player, percent in wishes.levels},
    }


def words(wishes: Wishes, style: Style | None, unit: dict[str, Any]) -> dict[str, str]:
    """Return what stands beside the headings: how it goes round, climbs, drops out; who plays."""
    ladder, rest, loop = wishes.ladder, wishes.rest, wishes.loop
    from_to = [ladder.start_bpm, ladder.goal_bpm] if ladder else []
    return {
        "loop": f"bars {loop}" if loop and loop[0].isdigit() else loop or "",
        "ladder": " to ".join(f"{bpm / unit['quarters']:.0f}" for bpm in from_to),
        "rest": f"{rest[0]} of {rest[1]} bars" if rest else "",
        "level": f"{wishes.level} %",
        **{f"level {player}": f"{percent} %" for player, percent in wishes.levels},
        **{
            f"unmute {player}": "plays" if wishes.plays(player, style) else "sits out"
            for player in wishes.band
        },
    }


def about(wishes: Wishes, key: str, style: str) -> str:
    """Return a tune in a line: who wrote it, key, style, meter, tempo."""
    chart = wishes.chart
    tempo = str(chart.tempo or "")
    told = [
        chart.by,
        f"Key of {signed(key)}",
        style,
        str(chart.meter),
        tempo.replace("=", " = ") if "=" in tempo else tempo and f"♩ = {tempo}",
    ]
    return " · ".join(filter(None, told))


def lines_of(wishes: Wishes, bar: LiveBar | None, style: Style | None) -> list[str]:
    """Return the lines that bring a server that has begun anew where this one was, playing."""
    fretting, ladder = wishes.fretting, wishes.ladder
    asked = {
        "instrument": fretting.instrument,
        "shapes": fretting.level,
        "reach": fretting.hand.reach_mm,
    }
    lines = [
        f"style {wishes.style}" if wishes.style else "",
        f"tempo {wishes.bpm:.3f}",
        f"key {wishes.semitones:+d}" if wishes.semitones else "",
        *(
            f"{'unmute' if wishes.plays(player, style) else 'mute'} {player}"
            for player in wishes.band
        ),
        f"level {wishes.level}",
        *(f"level {player} {percent}" for player, percent in wishes.levels),
        f"loop {wishes.loop}" if wishes.loop else "",
        f"rest {wishes.rest[0]} {wishes.rest[1]}" if wishes.rest else "",
        "count-in on" if wishes.count_each else "",
        f"lead {wishes.lead.when}" if wishes.chart.lead else "",
        "lead octave" if wishes.chart.lead and wishes.lead.octave else "",
        f"ladder {wishes.bpm:g} {ladder.goal_bpm:g} {ladder.step_bpm:g} {ladder.every}"
        if ladder
        else "",
        *(f"{verb} {value}" for verb, value in asked.items() if value is not None),
        f"part {bar.label}" if bar and bar.part in wishes.chart.order and not wishes.loop else "",
        "last-time" if wishes.last_time else "",
        "play",
    ]
    return [line for line in lines if line]
