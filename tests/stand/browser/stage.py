"""A page in a browser for the tests: clicks, recordings of its sound, movements of its mark."""

from __future__ import annotations

import base64
import io
import json
import time
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import soundfile
from playwright.sync_api import sync_playwright

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray
    from playwright.sync_api import Browser, Route

    from tests.stand.server import Server

FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
PHONE, TABLET, LAPTOP = (390, 844), (820, 1180), (1440, 900)
HERE = Path(__file__).parent
CLICK = 0.9
"""The amplitude of the one-frame click that replaces each sound where onsets are measured."""

BEFORE_FRAMES = 16
"""The silence before a click, so that it does not sound at the end of the sound before."""

LOUD_ENOUGH = 0.01
APART_SECONDS = 0.0004
"""The least time between two clicks."""


@contextmanager
def launched(program: str) -> Iterator[Browser]:
    """Run a browser."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=program, headless=True, args=FLAGS)
        yield browser
        browser.close()


LOUD = "window.ear.chunks.some(({ sound }) => sound.some((each) => Math.abs(each) > 0.01))"
"""Whether a page has made any sound."""

ABOUT = """JSON.stringify({
  page: document.body.className, told: document.querySelector("[role=status]")?.textContent,
  title: document.querySelector("#title")?.textContent, ear: window.ear?.context?.state,
  time: window.ear?.context?.currentTime, chunks: window.ear?.chunks?.length,
})"""
"""The state of a page, for the error of a wait that fails."""


class Reader:
    """A page of a server in a browser with an empty profile.

    Attributes:
        page: the page.
        faults: the errors of its scripts.

    Args:
        browser: the browser.
        server: the server.
        size: width and height in pixels.
        slowest: the longest delay of a message in milliseconds; each has a random one.
        held: the type of message from which on all wait for `release`.
        clicks: whether every sound of the bank is replaced by a click of one frame.
        ear: whether to record the sound; its script needs the page's policy lifted.
        theme: light or dark.

    """

    def __init__(
        self,
        browser: Browser,
        server: Server,
        *,
        size: tuple[int, int] = LAPTOP,
        slowest: int = 0,
        held: str = "",
        clicks: bool = False,
        ear: bool = True,
        theme: str = "light",
    ) -> None:
        self.faults: list[str] = []
        self._context = browser.new_context(
            viewport={"width": size[0], "height": size[1]}, color_scheme=theme, bypass_csp=ear
        )
        self.page = self._context.new_page()
        self.page.set_default_timeout(120_000)
        self.page.on("pageerror", lambda error: self.faults.append(str(error)))
        if ear:
            script = (HERE / "ear.js").read_text(encoding="utf-8")
            tap = (HERE / "tap.js").read_text(encoding="utf-8")
            self.page.add_init_script(
                script.replace("SLOWEST,", f"{slowest},")
                .replace('HELD"', f'{held}"')
                .replace("%TAP%", tap)
            )
        if clicks:
            self.page.route("**/bank/*.flac", _click_track)
        self.page.goto(f"http://{server.host}/")
        self.page.wait_for_selector("#tunes .tune")

    def close(self) -> None:
        """Close the page and delete its profile."""
        self._context.close()

    def open(self, title: str) -> None:
        """Choose a tune of the songbook, and wait for its chart."""
        self.page.click(f"#tunes .tune:has-text('{title}')")
        self.page.wait_for_selector(f"#title:has-text('{title}')")
        self.page.wait_for_selector("#sheet .bar")

    def play(self) -> None:
        """Press play, and wait until the page shows that it plays."""
        self.page.click("#play")
        self.page.wait_for_selector("body.playing")

    def command(self, line: str) -> None:
        """Click a button with a command."""
        self.page.evaluate(
            """line => {
              const button = Object.assign(document.createElement("button"), { hidden: true });
              button.dataset.say = line;
              document.body.append(button);
              button.click();
              button.remove();
            }""",
            line,
        )

    def release(self) -> None:
        """Deliver the held messages."""
        self.page.evaluate("window.ear.release()")

    def wait(self, seconds: float) -> None:
        """Let the page run for some seconds."""
        self.page.wait_for_timeout(seconds * 1000)

    def until(self, condition: str, seconds: float = 120) -> None:
        """Wait until a script expression is true."""
        end = time.monotonic() + seconds
        while not self.page.evaluate(condition):
            assert time.monotonic() < end, f"{condition} in vain: {self.page.evaluate(ABOUT)}"
            self.wait(0.03)

    def now(self) -> float:
        """Return the audio time that is being rendered, in seconds."""
        return float(self.page.evaluate("window.ear.context.currentTime"))

    def sound(self) -> tuple[NDArray[np.float32], int]:
        """Return the samples since audio time 0, and their rate."""
        rate, text = self.page.evaluate("window.ear.all()")
        return np.frombuffer(base64.b64decode(text), np.float32), int(rate)

    def onsets(self) -> NDArray[np.float64]:
        """Return the times of clicks in audio seconds; needs `clicks`."""
        samples, rate = self.sound()
        frames = np.flatnonzero(np.abs(samples) > LOUD_ENOUGH)
        return frames[np.diff(frames, prepend=-rate) > APART_SECONDS * rate] / rate

    def marks(self) -> list[tuple[float, str, float]]:
        """Return the movements of the mark: audible time, bar, and length of the frame, in seconds.

        A frame over a sixtieth of a second long shows that the browser was late.
        """
        return [tuple(mark) for mark in self.page.evaluate("window.ear.marks")]


def _click_track(route: Route) -> None:
    """Replace each sound of the bank by a click at its beginning."""
    index = route.request.url.replace(".flac", ".json")
    listed: dict[str, Any] = json.loads(route.fetch(url=index).body())
    layers = [layer for sound in listed["sounds"] for layer in sound["layers"]]
    samples = np.zeros(listed["frames"], np.float32)
    samples[[layer["offset"] + BEFORE_FRAMES for layer in layers]] = CLICK
    file = io.BytesIO()
    soundfile.write(file, samples, listed["rate"], format="FLAC", subtype="PCM_16")
    route.fulfill(body=file.getvalue(), content_type="audio/flac")
