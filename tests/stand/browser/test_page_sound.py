"""The sound of the page, with the band's real sounds."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

import numpy as np
import pytest

from tests.stand.browser.stage import LOUD

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from tests.stand.browser.stage import Reader
    from tests.stand.server import Server

SILENT = 0.001


def loudness(samples: NDArray[np.float32]) -> float:
    return float(np.abs(samples).max(initial=0.0))


def test_two_clicks_to_sound(read: Callable[..., Reader], steady: Server) -> None:
    """In an empty profile two clicks lead to sound: a tune, and play."""
    reader = read(steady)
    reader.page.click("#tunes .tune")
    began = time.perf_counter()
    reader.page.click("#play")
    reader.until(LOUD)
    print(f"first sound {time.perf_counter() - began:.2f} s behind the click, as the test sees it")
    reader.wait(1)
    samples, _ = reader.sound()
    assert 0.02 < loudness(samples) <= 2.0  # left and right added up, neither of them beyond 1


def test_play_before_the_first_state(read: Callable[..., Reader], steady: Server) -> None:
    """Play works before the server's first state has arrived."""
    reader = read(steady, held="state")
    reader.page.click("#tunes .tune")
    reader.page.click("#play")
    assert reader.page.locator("body.playing").count() == 0
    reader.release()
    reader.page.wait_for_selector("body.playing")
    reader.until(LOUD)


@pytest.mark.slow
def test_mute_is_silent_at_once(read: Callable[..., Reader], steady: Server) -> None:
    """Muted players are silent within 100 ms, and stay so."""
    reader = read(steady)
    reader.open("Steady Feet")
    reader.play()
    reader.until("document.querySelector('[data-bar=\"1\"].now')")  # the count-in has died away
    for player in ("bass", "chop", "drums"):
        reader.command(f"mute {player}")
    muted = reader.now()
    reader.wait(2.5)
    samples, rate = reader.sound()
    assert loudness(samples[: int(muted * rate)]) > 0.02
    assert loudness(samples[int((muted + 0.1) * rate) :]) < SILENT
    assert reader.page.get_attribute("[data-say='unmute bass']", "aria-pressed") == "false"
    reader.command("unmute bass")
    reader.wait(2.5)
    samples, rate = reader.sound()
    assert loudness(samples[-rate:]) > 0.02


@pytest.mark.slow
def test_another_key_is_right_by_pitch(
    read: Callable[..., Reader], start: Callable[..., Server]
) -> None:
    """Two half-steps higher, the spectrum of a G chord becomes that of A."""
    text = "title: One Chord\ntempo: 160\nstyle: ballad\n[A] 4\n| G | % | % | % |\n"
    reader = read(start(charts={"one-chord.chart": text}))
    reader.open("One Chord")
    reader.command("only chop")
    reader.play()
    reader.until("document.querySelector('[data-bar=\"0\"].now')")
    began = reader.now()
    reader.wait(4)
    reader.command("key +2")
    reader.until("document.querySelector('#bar-key').textContent === 'A'")
    changed = reader.now() + 3  # the bar being played, and one that may have begun
    reader.wait(7.2)
    samples, rate = reader.sound()
    before = _classes(samples[int(began * rate) :][: 4 * rate], rate)
    after = _classes(samples[int(changed * rate) :][: 4 * rate], rate)
    print("before", np.round(before, 2), "after", np.round(after, 2))
    assert set(np.argsort(before)[-3:]) == {7, 11, 2}  # G B D
    assert set(np.argsort(after)[-3:]) == {9, 1, 4}  # A C# E


def _classes(samples: NDArray[np.float32], rate: int) -> NDArray[np.float64]:
    """Return the power of each pitch class from 190 to 800 Hz, C first, as a unit vector.

    Equal temperament, A4 = 440 Hz (ISO 16).
    """
    power = np.abs(np.fft.rfft(samples * np.hanning(len(samples)))) ** 2
    hertz = np.fft.rfftfreq(len(samples), 1 / rate)
    heard = (hertz > 190) & (hertz < 800)
    classes = np.round(69 + 12 * np.log2(hertz[heard] / 440)).astype(int) % 12
    found = np.bincount(classes, power[heard], 12)
    return found / np.linalg.norm(found)
