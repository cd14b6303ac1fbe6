"""`backing check`: is the chart sound, how long is it, what is in it."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from collections.abc import Iterator

    from backing.performance import Performance

EXAMPLE = "backing check demos/quarry-hill.chart"


def run(
    charts: Annotated[
        list[str], typer.Argument(metavar="CHART...", help="Chart files; - is standard input.")
    ],
) -> None:
    """Check charts: form, bars, length, every fault."""
    from backing.cli.report import named, print_error, print_remark
    from backing.errors import BackingError
    from backing.performance import Performance, Settings
    from backing.scores.beside import load_tune
    from backing.style.library import style_meters

    sound = True
    for source in charts:
        try:
            performance = Performance(load_tune(source, style_meters()), Settings(choruses=1))
        except BackingError as error:
            sound = False
            print_error(named(source, error))
            continue
        print(*summary(source, performance), sep="\n")
        for remark in performance.remarks():
            print_remark(f"{source}: {remark}")
    if not sound:
        sys.exit(2)


def summary(source: str, performance: Performance) -> Iterator[str]:
    """Yield the lines that describe a sound chart."""
    from backing.chart.sequence import length_in_bars

    chart = performance.chart
    tempo = chart.tempo_text(performance.bpm)
    yield f"{source}: {chart.title}"
    yield f"  key {chart.key}, {chart.meter}, tempo {tempo}, {performance.style.name}"
    yield f"  form {' '.join(chart.order)}: {_bars(length_in_bars(chart))}, {_clock(performance)}"
    if chart.lead and (keys := sorted(chart.lead.pitches(), key=lambda each: each.key)):
        yield f"  melody from {keys[0]} to {keys[-1]}"
    for part in chart.parts:
        own = [
            f"{name} {value}"
            for name, value in (
                ("key", part.key),
                ("meter", part.meter),
                ("tempo", chart.own_tempo_text(part)),
                ("style", part.style),
            )
            if value
        ]
        written = sum(1 for bar in part.written() if not bar.pickup)
        details = [_bars(part.length())]
        details += [f"{written} as written"] if written != part.length() else []
        details += ["a pickup"] if part.pickup else []
        details += [] if part.name in chart.order else ["not in the form"]
        yield f"  part {part.name}: {', '.join([*details, *own])}"


def _bars(number: int) -> str:
    return f"{number} bar{'s' * (number != 1)}"


def _clock(performance: Performance) -> str:
    minutes, seconds = divmod(round(performance.tempo.seconds_once_round()), 60)
    return f"{minutes}:{seconds:02} once round"
