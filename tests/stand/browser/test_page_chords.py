"""The mark of the sounding chord on the page."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from tests.stand.browser.stage import Reader
    from tests.stand.server import Server

CHART = """\
title: Half Steps
key: G
meter: 2/4
tempo: 60
count-in: 1
[A]
| G:1/4 C:1/8 D | Am:3/8 D7:1/8 |
[B]
| (pickup 1/4) B7 | Em | C |
"""

WATCH = """() => {
  window.marked = [];
  const look = () => {
    const chord = document.querySelector("#sheet .chord.now");
    const bar = chord?.closest(".bar");
    const here = chord && [bar.dataset.part, bar.dataset.bar,
      [...bar.querySelectorAll(".chord")].indexOf(chord)].join(" ");
    const last = window.marked.at(-1);
    if (here && here !== last) window.marked.push(here);
    requestAnimationFrame(look);
  };
  look();
}"""


@pytest.mark.slow
def test_the_mark_follows_the_chords(
    read: Callable[..., Reader], start: Callable[..., Server]
) -> None:
    """The mark moves from chord to chord, also between beats and into a pickup."""
    server = start(charts={"half-steps.chart": CHART})
    reader = read(server)
    reader.open("Half Steps")
    widths = reader.page.evaluate(
        "[...document.querySelector('[data-part=A][data-bar=\"0\"]').querySelectorAll('.chord')]"
        ".map((each) => each.style.flexGrow)"
    )
    assert widths == ["1", "0.5", "0.5"]
    reader.page.evaluate(WATCH)
    reader.play()
    reader.until("window.marked.length > 6", seconds=25)
    marked = reader.page.evaluate("window.marked")
    assert marked[:7] == [
        "A 0 0", "A 0 1", "A 0 2", "A 1 0", "B 0 0", "B 1 0", "B 2 0",
    ]  # fmt: skip
    assert reader.faults == []
