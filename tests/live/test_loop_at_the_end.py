"""Messages about a loop that is set near the end."""

from __future__ import annotations

import pytest
from charts import CLOSING, LONGER, SLOWING, TWO_PARTS
from stage import Stage

from backing.chart.read import read_chart

ENDINGS = {
    f"{kind} {end}": read_chart(f"key: C\ncount-in: 0\nending: {kind}\n[A] 3\n| C | F | {end} |\n")
    for kind, end in (
        ("hold", "C"), ("short", "C"), ("none", "G7"), ("ritard", "C"), ("ritard", "G7"),
        ("two-hit", "G7"), ("tag", "C"),
    )
}  # fmt: skip
TOO_LATE = "too late for the loop A: the ending has begun. The loop starts when you play again"
ONCE = "this is the last time: the band plays the loop A once and ends"
CHARTS = {"two parts": TWO_PARTS, "tag": CLOSING, "longer": LONGER, "one bar": SLOWING, **ENDINGS}


@pytest.mark.parametrize("chart", CHARTS.values(), ids=CHARTS)
def test_a_loop_set_too_late_gives_a_message(chart: object) -> None:
    """The message says whether the loop is played once or comes too late."""
    plain = Stage(chart)
    plain.session.command("last-time")
    plain.run_bars(200)
    seen = set()
    for bars in range(1, plain.begun + 1):
        stage = Stage(chart)
        stage.session.command("last-time")
        stage.run_bars(bars)
        stage.session.command("loop A")
        messages = list(stage.session.messages)
        stage.run_bars(1)
        bar = stage.session.transport.now_bar
        comes = bool(bar and not stage.session.transport.ended and bar.position.behind is None)
        assert messages == [ONCE if comes else TOO_LATE]
        seen.update(messages)
    assert TOO_LATE in seen
    assert ONCE in seen or chart is SLOWING  # its only bar is its last


def test_other_loops_give_no_message() -> None:
    """No message for a normal loop, for loop off, and before the start."""
    stage = Stage(TWO_PARTS)
    for line in ("loop A", "loop off", "loop B", "last-time", "loop off"):
        stage.run_bars(3)
        stage.session.command(line)
    assert stage.session.messages == []
    stage.session.command("stop")
    stage.session.command("loop A")
    assert stage.session.messages == []
