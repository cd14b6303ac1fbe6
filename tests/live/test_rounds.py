"""A chorus is once round the form (common practice, no source); a round of a loop is not."""

from __future__ import annotations

import pytest
from charts import CLOSING, TWO_PARTS
from stage import Stage
from take import Take

from backing.chart.read import read_chart
from backing.live.screen import screen
from backing.live.session import state_of


def seen(take: Take) -> list[tuple[str, int, int | None]]:
    """Return label, chorus and round of the loop for the first bars of four parts."""
    found = []
    while len(found) < 4:
        take.run_bars(1)
        state = state_of(take.transport, take.transport.now_bar)
        if state["bar"] == 1:
            found.append((state["part"], state["chorus"], state["round"]))
    return found


def test_rounds_of_a_loop_are_no_choruses() -> None:
    """After any number of rounds of A, B is still in the first chorus."""
    take = Take(TWO_PARTS, count_in=0)
    take.command("loop A", "play")
    assert seen(take) == [("A", 1, 1), ("A", 1, 2), ("A", 1, 3), ("A", 1, 4)]
    take.command("loop off")
    assert seen(take) == [("B", 1, None), ("A", 2, None), ("B", 2, None), ("A", 3, None)]
    take.command("loop B")
    assert seen(take) == [("B", 3, 1), ("B", 3, 2), ("B", 3, 3), ("B", 3, 4)]
    take.command("part A")
    assert seen(take) == [("A", 3, None), ("B", 3, None), ("A", 4, None), ("B", 4, None)]


@pytest.mark.parametrize("line", ["loop A-B", "loop 1-8", "loop B"])
def test_a_chorus_starts_after_a_loop_at_the_end_of_the_form(line: str) -> None:
    """When the loop is off, the next chorus starts after its last bar."""
    take = Take(TWO_PARTS, count_in=0)
    take.command("play")
    take.run_bars(1)
    take.command(line)
    while (bar := take.transport.now_bar) and bar.position.rounds < 3:
        take.run_bars(1)
    while (bar := take.transport.now_bar) and (bar.label, bar.index) != ("B", 3):
        take.run_bars(1)
    assert take.bars[-1].chorus == 1
    take.command("loop off")
    assert [each[:2] for each in seen(take)] == [("A", 2), ("B", 2), ("A", 3), ("B", 3)]


def test_going_to_the_intro_starts_the_first_chorus() -> None:
    """Rounds of a loop before it are not counted."""
    take = Take(CLOSING, count_in=0)
    take.command("loop A 2", "play")
    take.run_bars(7)
    take.command("part Intro")
    assert seen(take) == [("Intro", 1, None), ("A", 1, None), ("A 2", 1, None), ("B", 1, None)]


def test_another_loop_counts_from_one() -> None:
    """Rounds count from the command that sets the loop, and again after a stop."""
    take = Take(TWO_PARTS, count_in=0)
    take.command("loop A", "play")
    take.run_bars(10)
    take.command("loop B")
    assert [each[2] for each in seen(take)] == [1, 2, 3, 4]
    take.command("stop", "play")
    assert [each[2] for each in seen(take)] == [1, 2, 3, 4]


def test_the_screen_shows_rounds_and_the_last_time() -> None:
    """In a loop the screen shows the round, and the last time."""
    stage = Stage(TWO_PARTS)
    stage.session.command("loop A")
    stage.run_bars(7)
    text = "\n".join(screen(stage.session, 80, 24, large=False))
    assert "chorus 1   loop A, round 2" in text
    stage.session.command("last-time")
    assert "LAST TIME" in "\n".join(screen(stage.session, 80, 24, large=False))


def test_an_intro_does_not_return_after_a_loop() -> None:
    """After a loop at the end of the form the next chorus starts with A."""
    text = "form: Intro A B\n[Intro] 1\n| C |\n[A] 1\n| F |\n[B] 1\n| G |\n"
    take = Take(read_chart(text), count_in=0)
    take.command("loop B", "play")
    take.run_bars(3)
    take.command("loop off")
    assert [each[:2] for each in seen(take)] == [("A", 2), ("B", 2), ("A", 3), ("B", 3)]
