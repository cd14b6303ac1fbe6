"""`backing check`: report the faults of charts, their form and length."""

from __future__ import annotations

from typing import TYPE_CHECKING

from backing.cli.charts import Charts, charts_of, for_each

if TYPE_CHECKING:
    from collections.abc import Iterator

    from backing.performance.performance import Performance

EXAMPLE = "backing check demos/quarry-hill.chart"


def run(charts: Charts) -> None:
    """Check charts: every fault; form, bars and length."""
    for_each(charts_of(charts), _check)


def _check(source: str) -> None:
    from backing.cli.report import print_remark
    from backing.library import Settings, load
    from backing.performance.performance import Performance

    performance = Performance(load(source), Settings(choruses=1))
    print(*summary(source, performance), sep="\n")
    for remark in performance.remarks():
        print_remark(f"{source}: {remark}")


def summary(source: str, performance: Performance) -> Iterator[str]:
    """Yield lines that describe a chart: key, form, length, range of the melody, parts."""
    from backing.chart.sequence import length_in_bars
    from backing.cli.text import clock, counted

    chart = performance.chart
    length = clock(performance.tempo.seconds_once_round())
    tempo = chart.tempo_text(performance.bpm)
    yield f"{source}: {chart.title}"
    yield f"  key {chart.key}, {chart.meter}, tempo {tempo}, {performance.style.name}"
    bars = counted(length_in_bars(chart), "bar")
    yield f"  form {' '.join(chart.order)}: {bars}, {length} once round"
    if chart.melody and (keys := sorted(chart.melody.pitches(), key=lambda each: each.key)):
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
        details = [counted(part.length(), "bar")]
        details += [f"{written} as written"] if written != part.length() else []
        details += ["a pickup"] if part.pickup else []
        details += [] if part.name in chart.order else ["not in the form"]
        yield f"  part {part.name}: {', '.join([*details, *own])}"
