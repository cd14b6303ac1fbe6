"""Collect what the sheet of a chart shows: tempo, practice tempi, shapes."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from backing.errors import SettingsError
from backing.harmony.numbers import letter_text
from backing.notes import Player
from backing.out.sheet.faces import missing_signs
from backing.out.sheet.fretboard import fingerings_of
from backing.out.sheet.style import NONE, Sheet, SheetStyle
from backing.performance.performance import Performance
from backing.timing import practice_grid

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backing.chart.model import Chart
    from backing.chart.write import Spell
    from backing.performance.settings import Settings
    from backing.timing import Tempo

MOST_BARS = 2_000
"""The most written bars of a sheet."""

_STEPS = 7
_START = 0.6
"""The first practice tempo, as a share of the goal."""


def sheet_of(
    chart: Chart,
    settings: Settings,
    style: SheetStyle,
    *,
    goal: Tempo | None = None,
    tempi: Sequence[float] | None = None,
    spell: Spell = letter_text,
    left: bool = False,
) -> Sheet:
    """Return what the sheet of a chart shows.

    Args:
        chart: the chart, in the key of the sheet.
        settings: style, tempo and fretting.
        style: the style of the sheet; says whether shapes are shown.
        goal: the tempo to practise towards; None for that of the settings.
        tempi: practice tempi, in the goal's unit; None for the usual ones.
        spell: spells chords.
        left: whether shapes are drawn for a left hand.

    Raises:
        BackingError: when the chart is too long, or the settings do not fit it.
    """
    _check_length(chart)
    performance = Performance(chart, replace(settings, called=frozenset(Player)))
    goal = goal or chart.counted(performance.bpm)
    path = () if style.shapes == NONE else performance.voicings.chords
    return Sheet(
        chart=chart,
        tempo=goal,
        style=performance.style.name,
        tempi=practice_tempi(goal) if tempi is None else tuple(tempi),
        spell=spell,
        fingerings=fingerings_of(path, left=left) if path else None,
        instrument=" and ".join(dict.fromkeys(each.fretting.instrument.name for each in path)),
    )


def _check_length(chart: Chart) -> None:
    bars = sum(1 for part in chart.parts for _ in part.written())
    if bars > MOST_BARS:
        raise SettingsError(
            f"{bars:,} bars are written: a sheet has at most {MOST_BARS:,}; write repeats, or "
            "split the chart"
        )


def practice_tempi(goal: Tempo) -> tuple[float, ...]:
    """Return round tempi from slow to fast, the goal and one faster tempo, in the goal's unit."""
    grid = practice_grid(goal)
    first = round(_START * goal.bpm / grid) * grid
    between = [
        round((first + (goal.bpm - first) * step / (_STEPS - 1)) / grid) * grid
        for step in range(_STEPS - 1)
    ]
    slower = (float(each) for each in between if each < goal.bpm)
    return tuple(dict.fromkeys([*slower, goal.bpm, (goal.bpm // grid + 2) * grid]))


def remarks_on(chart: Chart) -> tuple[str, ...]:
    """Return a remark on characters of a chart that the fonts of a sheet do not have."""
    text = "".join((chart.title, chart.by, *chart.notes, *(part.name for part in chart.parts)))
    missing = missing_signs(" ".join(text.split()))
    found = f"the sheet's fonts do not have {' '.join(missing)}: the sheet shows a box instead"
    return (found,) if missing else ()
