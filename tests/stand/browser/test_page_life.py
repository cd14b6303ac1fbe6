"""The page in use: two pages, a server that restarts, a computer that sleeps."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from tests.stand.browser.conftest import STEADY
from tests.stand.browser.stage import LOUD
from tests.stand.server import Server

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from tests.stand.browser.stage import Reader


@pytest.mark.slow
def test_two_pages_show_the_same(read: Callable[..., Reader], steady: Server) -> None:
    """Changes on one page show on the other, which sounds only when asked to."""
    here, there = read(steady), read(steady)
    for each in (here, there):
        each.open("Steady Feet")
    here.play()
    there.page.wait_for_selector("body.playing")
    there.page.click("#sheet [data-say='loop B']")
    here.page.wait_for_selector("#sheet [data-say='loop B'][aria-pressed=true]")
    here.page.click("#panel-open")
    here.page.click("[data-say='unmute chop']")
    there.until("document.querySelector('[data-say=\"unmute chop\"]').ariaPressed === 'false'")
    there.command("tempo +20")
    here.until("document.querySelector('#bar-tempo').textContent.includes('250')")
    assert not there.page.evaluate(LOUD)
    there.page.click("#sound-here")
    there.until(LOUD)
    here.page.wait_for_selector(".bar.now")
    there.page.wait_for_selector(".bar.now")
    there.command("pause")
    here.page.wait_for_selector("body:not(.playing)")


@pytest.mark.slow
def test_the_server_comes_back(
    read: Callable[..., Reader], start: Callable[..., Server], cache: Path
) -> None:
    """After a restart in mid-tune the page, which kept the chart, plays on."""
    server = start(charts={"a-other.chart": "[A] 1\n| C |\n", "steady-feet.chart": STEADY})
    reader = read(server)
    reader.open("Steady Feet")
    reader.command("tempo -20")
    reader.play()
    reader.page.wait_for_selector(".bar.now")
    server.end()
    reader.page.wait_for_selector("#away:not([hidden])")
    assert reader.page.locator("#sheet .bar").count() == 8
    again = Server(server.folder, cache, "--http-port", server.host.split(":")[1])
    reader.page.wait_for_selector("#away[hidden]", state="attached", timeout=120_000)
    reader.page.wait_for_selector("body.playing .bar.now", timeout=120_000)
    since = reader.now()
    reader.wait(2)
    samples, rate = reader.sound()
    assert np.abs(samples[int(since * rate) :]).max() > 0.02
    assert reader.page.inner_text("#title") == "Steady Feet"
    assert "210" in reader.page.inner_text("#bar-tempo")
    again.end()


CHARTS = {"a-other.chart": "[A] 1\n| C |\n", "steady-feet.chart": STEADY}


@pytest.mark.slow
@pytest.mark.parametrize("pages", [1, 2])
def test_a_pause_while_the_server_is_away(
    read: Callable[..., Reader], start: Callable[..., Server], cache: Path, pages: int
) -> None:
    """A pause while the server is away holds, whichever page reconnects first."""
    server = start(charts=CHARTS)
    readers = [read(server) for _ in range(pages)]
    reader = readers[-1]
    reader.open("Steady Feet")
    for line in ("tempo -20", "loop B", "rest 1 4"):
        reader.command(line)
    reader.play()
    reader.page.wait_for_selector(".bar.now")
    server.end()
    for each in readers:
        each.page.wait_for_selector("#away:not([hidden])")
    reader.command("toggle")
    reader.page.wait_for_selector("body:not(.playing)")
    again = Server(server.folder, cache, "--http-port", server.host.split(":")[1])
    for each in readers:
        each.page.wait_for_selector("#away[hidden]", state="attached", timeout=15000)
    with again.page() as page:
        state = page.state(tune="steady-feet.chart", playing=False)
    reader.until("document.querySelector('#title').textContent === 'Steady Feet'")
    reader.page.click("#panel-open")
    reader.page.wait_for_selector("#sheet [data-say='loop B'][aria-pressed=true]")
    reader.wait(1)
    for each in readers:
        assert each.page.locator("body.playing").count() == 0
    assert (state["loop"], state["tempo_wished"]) == ([5, 8], 210)
    assert state["words"]["rest"] == "1 of 4 bars"
    reader.play()
    reader.page.wait_for_selector(".bar.now")
    again.end()


@pytest.mark.slow
def test_play_while_the_server_is_away(
    read: Callable[..., Reader], start: Callable[..., Server], cache: Path
) -> None:
    """A paused band stays paused after a restart, unless the player pressed play."""
    server = start(charts=CHARTS)
    port = server.host.split(":")[1]
    reader = read(server)
    reader.open("Steady Feet")
    reader.play()
    reader.page.wait_for_selector(".bar.now")
    reader.command("pause")
    reader.page.wait_for_selector("body:not(.playing)")
    for line in (None, "toggle"):
        server.end()
        reader.page.wait_for_selector("#away:not([hidden])")
        if line:
            reader.command(line)
        server = Server(server.folder, cache, "--http-port", port)
        reader.page.wait_for_selector("#away[hidden]", state="attached", timeout=15000)
        with server.page() as page:
            page.state(tune="steady-feet.chart", playing=bool(line))
    reader.page.wait_for_selector("body.playing .bar.now")
    server.end()


@pytest.mark.slow
def test_in_time_after_a_sleep(read: Callable[..., Reader], steady: Server) -> None:
    """After the audio clock stood still, as in a sleep, the band is in time again."""
    reader = read(steady, clicks=True)
    reader.open("Steady Feet")
    reader.play()
    reader.until("window.ear.marks.length > 1")
    reader.page.evaluate("window.ear.context.suspend()")
    reader.wait(0.1)
    reader.page.evaluate(
        "new Promise((go) => setTimeout(() => window.ear.context.resume().then(go), 900))"
    )
    reader.wait(1.5)
    awake = reader.now()
    reader.wait(4)
    marks = [time for time, _, _ in reader.marks() if time > awake]
    heard = reader.onsets()
    heard = heard[heard > awake]
    # no burst, and notes at the shown bar lines
    assert np.histogram(heard, np.arange(heard[0], heard[-1], 0.1))[0].max() < 15
    nearest = [np.abs(heard - mark).min() for mark in marks[:-1]]
    print("from bar lines to strokes, ms:", np.round(np.array(nearest) * 1000, 1))
    assert np.median(nearest) < 0.04
    assert np.diff(marks).tolist() == pytest.approx([4 * 60 / 230] * (len(marks) - 1), abs=0.1)
