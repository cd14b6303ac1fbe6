"""The stand: one band, one songbook, and all pages that look at it.

Everything of it runs in the event loop but what takes time: verbs one after the other in a thread
of their own, files and sounds in others. The band's own threads only ring a bell here.
"""

from __future__ import annotations

import asyncio
import math
import time
import traceback
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from backing.errors import BackingError
from backing.live.session import Session
from backing.live.state import state_of
from backing.live.wishes import Wishes
from backing.notes import Player
from backing.performance import Performance, Settings
from backing.stand.greeting import hello
from backing.stand.outlet import BROWSER, Outlet, outputs
from backing.stand.sheet import NAMES, sheet
from backing.stand.telling import Teller

if TYPE_CHECKING:
    from collections.abc import Callable

    from backing.chart.model import Chart
    from backing.stand.bank import Banks
    from backing.stand.page import Page
    from backing.stand.songbook import Songbook

LOOK_SECONDS = 0.25
"""How often the chart file and the port are looked at."""

FOLDER_SECONDS = 2.0
"""How often the folder is looked through."""

GATHER_SECONDS = 0.004
"""How long changes are gathered before pages are told of them."""

FARTHEST_BACK = 1.0
"""How long ago, in seconds, a verb may have been said."""

MOST_PAGES = 32
LONGEST_LINE = 200

_FORBIDDEN = {"quit"}


class Stand:
    """The stand.

    Attributes:
        songbook, banks: as given.
        pages: all pages that are connected.
        checking: held while a text is checked, one after the other.
        waiting: how many texts wait for that.

    Args:
        songbook: its charts.
        banks: makes the sounds that pages play.
    """

    def __init__(self, songbook: Songbook, banks: Banks) -> None:
        self.songbook = songbook
        self.banks = banks
        self.pages: set[Page] = set()
        self.checking = asyncio.Semaphore(1)
        self.waiting = 0
        self._outlet = Outlet()
        self._outputs = [BROWSER]
        self._session: Session | None = None
        self._tune: str | None = None
        self._teller = Teller(0)
        self._number = 0
        self._told_news = 0
        self._said = ThreadPoolExecutor(1, "backing-verbs")
        self._bell = asyncio.Event()
        self._saved = asyncio.Event()
        self._opening = asyncio.Lock()
        self._loop: asyncio.AbstractEventLoop | None = None
        self._state: dict[str, Any] | None = None
        self._shown: tuple[Chart, int] | None = None
        self._bank: str | None = None
        self._sounds: object = None
        self._book: dict[str, Any] = {"type": "songbook", "tunes": [], "sets": []}
        self._tasks: set[asyncio.Task[None]] = set()

    # coming and going

    async def start(self) -> None:
        """Look through the folder, open the first sound chart, begin to watch."""
        self._loop = asyncio.get_running_loop()
        await self._look_through()
        tune = next((each["file"] for each in self._book["tunes"] if not each["fault"]), None)
        if tune:
            await self._opened(tune)
        for work in (self._tell(), self._watch(), self._watch_folder()):
            self._spawn(work)
        self.ring()

    async def close(self) -> None:
        """Stop the band, let everything go."""
        for task in list(self._tasks):
            task.cancel()
        await asyncio.gather(*self._tasks, return_exceptions=True)
        if self._session:
            await asyncio.to_thread(self._session.close)
        self._outlet.let_go()
        self._said.shutdown(cancel_futures=True)

    async def welcome(self, page: Page) -> None:
        """Tell a page that has come all there is to know."""
        page.send(hello())
        page.send(self._book)
        self.pages.add(page)
        self._spawn(self._look_at_outputs())
        self._state = None
        if self._session:
            await self._send_sheet(page)
            if self._bank:
                page.send({"type": "bank", "url": self._bank})
            for message in self._teller.everything():
                page.send(message)
        self.ring()

    def leave(self, page: Page) -> None:
        """Forget a page; the band plays on."""
        self.pages.discard(page)
        self.ring()

    def ring(self) -> None:
        """Say that something has changed; for the event loop."""
        self._bell.set()

    def ring_folder(self) -> None:
        """Say that a file of the songbook has been saved."""
        self._saved.set()

    def _ring_from_thread(self) -> None:
        loop = self._loop
        if loop:
            with suppress(RuntimeError):  # the loop is closed already
                loop.call_soon_threadsafe(self._bell.set)

    def _spawn(self, work: Any) -> None:
        task = asyncio.get_running_loop().create_task(self._guarded(work))
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)

    async def _guarded(self, work: Any) -> None:
        try:
            await work
        except BackingError as error:
            self._broadcast({"type": "fault", "text": str(error)})
        except Exception as error:
            traceback.print_exc()
            self._broadcast({"type": "fault", "text": f"a fault of ours: {error!r}"})

    # what pages say

    async def take(self, page: Page, message: dict[str, Any]) -> None:
        """Carry out a message of a page."""
        kind = message["type"]
        if kind == "ping":
            mine = message.get("mine")
            mine = mine if isinstance(mine, int | float) else None
            page.send({"type": "pong", "mine": mine, "time": time.perf_counter()})
            return
        try:
            work = _TAKES[kind]
        except KeyError:
            page.send({"type": "fault", "text": f"'{kind[:40]}' is no message"})
            return
        try:
            await work(self, page, message)
        except BackingError as error:
            page.send({"type": "fault", "text": str(error)})

    async def _say(self, page: Page, message: dict[str, Any]) -> None:
        line = _text(message, "line", LONGEST_LINE)
        session = self._session
        if session is None:
            raise StandError("no chart is open: choose a tune, or write one")
        words = line.split()
        if words and words[0].lower() in _FORBIDDEN:
            raise StandError("a page cannot end the band for all: close the page")
        at = message.get("at")
        if not isinstance(at, int | float) or not math.isfinite(at) or not self._is_heard_there:
            at = None
        else:
            at = max(float(at), session.runner.now() - FARTHEST_BACK)
        loop = asyncio.get_running_loop()
        await loop.run_in_executor(self._said, session.carry_out, line, at)
        self.ring()

    async def _open(self, page: Page, message: dict[str, Any]) -> None:
        await self._opened(_text(message, "tune", LONGEST_LINE))

    async def _listen(self, page: Page, message: dict[str, Any]) -> None:
        page.listens = bool(message.get("on"))

    async def _output(self, page: Page, message: dict[str, Any]) -> None:
        name = _text(message, "name", LONGEST_LINE)
        await asyncio.to_thread(self._outlet.choose, name)
        if self._session:
            await asyncio.to_thread(self._session.transport.setup_again)
        await self._look_at_outputs()

    async def _look_at_outputs(self) -> None:
        self._outputs = await asyncio.to_thread(outputs)
        self.ring()

    async def _names(self, page: Page, message: dict[str, Any]) -> None:
        names = _text(message, "as", LONGEST_LINE)
        if names not in NAMES:
            raise StandError(f"'{names}': chords are shown in {', '.join(NAMES)}")
        page.view = replace(page.view, names=names)
        await self._send_sheet(page)

    async def _shapes(self, page: Page, message: dict[str, Any]) -> None:
        instrument = _text(message, "instrument", LONGEST_LINE)
        if instrument.endswith(".toml"):  # a path is not for pages
            raise StandError("choose one of the instruments by its name")
        left = bool(message.get("left"))
        page.view = replace(page.view, instrument=instrument, left=left)
        await self._send_sheet(page)

    @property
    def _is_heard_there(self) -> bool:
        """Whether pages play the notes, a little later than the server has them."""
        return self._outlet.chosen == BROWSER

    # tunes

    async def _opened(self, tune: str) -> None:
        """Open a tune of the songbook in place of the one that is open."""
        async with self._opening:
            await self._open_alone(tune)

    async def _open_alone(self, tune: str) -> None:
        chart = await asyncio.to_thread(self.songbook.load, tune)
        old = self._session
        kept = old.transport.wishes if old else None
        wishes = await asyncio.to_thread(_wishes, chart, kept)
        if old:
            await asyncio.to_thread(old.close)
            for message in self._teller.all_dropped():
                self._broadcast(message)
        self._number += 1
        self._teller = Teller(self._number)
        self._told_news = 0
        self._session = Session(
            str(self.songbook.path_of(tune, ".chart")),
            wishes,
            self._outlet,
            on_change=self._ring_from_thread,
        )
        self._tune = tune
        self._session.start(play=False)
        self.ring()

    # telling pages

    async def _tell(self) -> None:
        while True:
            await self._bell.wait()
            await asyncio.sleep(GATHER_SECONDS)
            self._bell.clear()
            session = self._session
            if session is None:
                self._tell_state({"tune": None, "playing": False})
                continue
            await self._tell_chart(session)
            if session is not self._session:
                continue
            wishes = session.transport.wishes
            for message in self._teller.news(session.transport.view(), wishes.chart):
                self._broadcast(message)
            self._tell_state(self._state_of(session))
            news, self._told_news = session.news_since(self._told_news)
            for text in news:
                self._broadcast({"type": "news", "text": text})

    def _tell_state(self, state: dict[str, Any]) -> None:
        state = {
            "type": "state",
            **state,
            "output": self._outlet.chosen,
            "outputs": self._outputs,
            "pages": len(self.pages),
        }
        if state != self._state:
            self._state = state
            self._broadcast(state)

    def _state_of(self, session: Session) -> dict[str, Any]:
        transport = session.transport
        wishes, bar = transport.wishes, transport.now_bar
        state = state_of(transport, bar)
        if self._is_heard_there:
            del state["late_ms"]  # what is late there does not depend on us
        ladder = wishes.ladder
        return {
            **state,
            "tune": self._tune,
            "title": wishes.chart.title,
            "style": bar.style.name if bar else _style_of(wishes),
            "key": str(bar.key) if bar else _key_of(wishes),
            "plays": [
                player for player in Player if wishes.plays(player, bar.style if bar else None)
            ],
            "levels": dict(wishes.levels),
            "muted": sorted(wishes.muted),
            "ladder": [ladder.start_bpm, ladder.goal_bpm, ladder.step_bpm, ladder.every]
            if ladder
            else None,
            "rest": list(wishes.rest) if wishes.rest else None,
            "count_each": wishes.count_each,
            "loop_text": wishes.loop,
            "semitones": wishes.semitones,
            "tempo_wished": round(wishes.bpm, 3),
        }

    async def _tell_chart(self, session: Session) -> None:
        """Send the chart and the sounds where they have changed."""
        shown = _shown(session)
        if self._shown is None or self._shown[0] is not shown[0] or self._shown[1] != shown[1]:
            self._shown = shown
            for page in list(self.pages):
                await self._send_sheet(page)
        sounds = _styles_of(session)
        if sounds != self._sounds:
            self._sounds = sounds
            self._spawn(self._tell_bank(sounds))

    async def _tell_bank(self, styles: tuple[str, ...]) -> None:
        url = await asyncio.to_thread(self.banks.make, styles)
        if styles == self._sounds and url != self._bank:
            self._bank = url
            self._broadcast({"type": "bank", "url": url})

    async def _send_sheet(self, page: Page) -> None:
        session = self._session
        if session is None:
            return
        tune, (chart, semitones) = self._tune, _shown(session)
        written = await asyncio.to_thread(sheet, chart, semitones, page.view)
        page.send({"type": "chart", "tune": tune, **written})

    def _broadcast(self, message: dict[str, Any]) -> None:
        for page in self.pages:
            page.send(message)

    # watching

    async def _watch(self) -> None:
        while True:
            await asyncio.sleep(LOOK_SECONDS)
            session = self._session
            if session is None:
                continue
            if session.broken:
                traceback.print_exception(session.broken)
                self._broadcast({"type": "fault", "text": f"the band stumbled: {session.broken!r}"})
                await self._opened(self._tune or "")
                continue
            await asyncio.to_thread(session.look_around)

    async def _watch_folder(self) -> None:
        while True:
            with suppress(TimeoutError):
                await asyncio.wait_for(self._saved.wait(), FOLDER_SECONDS)
            self._saved.clear()
            await self._look_through()

    async def _look_through(self) -> None:
        tunes = await asyncio.to_thread(self.songbook.tunes)
        sets = await asyncio.to_thread(self.songbook.sets)
        book = {
            "type": "songbook",
            "tunes": [{name: getattr(tune, name) for name in tune.__slots__} for tune in tunes],
            "sets": [{"name": name, "tunes": names} for name, names in sets],
        }
        if book != self._book:
            self._book = book
            self._broadcast(book)


class StandError(BackingError):
    """A wish of a page that cannot be met."""


_TAKES: dict[str, Callable[[Stand, Page, dict[str, Any]], Any]] = {
    "say": Stand._say,
    "open": Stand._open,
    "listen": Stand._listen,
    "output": Stand._output,
    "names": Stand._names,
    "shapes": Stand._shapes,
}


def _text(message: dict[str, Any], name: str, longest: int) -> str:
    text = message.get(name)
    if not isinstance(text, str) or len(text) > longest:
        raise StandError(f"{name} wants a text of at most {longest} signs")
    return text


def _wishes(chart: Chart, kept: Wishes | None) -> Wishes:
    """Return the wishes for a chart that is opened; who plays and how loud stays as it is."""
    wishes = Wishes(chart, Performance(chart, Settings()).bpm)
    if kept is None:
        return wishes
    return replace(wishes, muted=kept.muted, levels=kept.levels, level=kept.level)


def _shown(session: Session) -> tuple[Chart, int]:
    """Return the chart that is to be seen: an edit shows at once where nothing is played."""
    wishes = session.transport.wishes
    coming = None if session.transport.playing else wishes.coming
    return coming or wishes.chart, wishes.semitones


def _style_of(wishes: Wishes) -> str:
    from backing.chart.grooves import usual_style

    return wishes.style or wishes.chart.style or usual_style(wishes.chart.meter)


def _key_of(wishes: Wishes) -> str:
    from backing.chart.transpose import by_semitones

    return str(by_semitones(wishes.chart, wishes.semitones).key.plain())


def _styles_of(session: Session) -> tuple[str, ...]:
    """Return the styles that a tune needs, in the order of their names."""
    wishes = session.transport.wishes
    chart = wishes.coming or wishes.chart
    named = {_style_of(wishes)}
    if wishes.style is None:
        named |= {part.style for part in chart.parts if part.style}
    return tuple(sorted(named))
