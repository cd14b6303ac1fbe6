"""The stand: one band, one songbook, and all pages that look at it.

Everything of it runs in the event loop but what takes time: verbs one after the other in a thread
of their own, files and sounds in others. The band's own threads only ring a bell here.
"""

from __future__ import annotations

import asyncio
import os
import time
import traceback
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from typing import TYPE_CHECKING, Any

from backing.errors import BackingError
from backing.harmony.signs import signed
from backing.stand.broadcast import Broadcast
from backing.stand.chart_markup import paper
from backing.stand.codec import encode
from backing.stand.markup import drawn
from backing.stand.messages import (
    Announcement,
    Bars,
    ChartView,
    Fault,
    Hello,
    Idle,
    LiveBar,
    Notice,
    SetListing,
    SongbookListing,
    SoundBank,
    State,
    Timeline,
)
from backing.stand.output import BROWSER, OutputSwitch
from backing.stand.output import outputs as all_outputs
from backing.stand.sheet import sheet
from backing.stand.songbook import missing
from backing.stand.tune import open_tune

if TYPE_CHECKING:
    from collections.abc import Callable, Coroutine

    from backing.stand.bank import Banks
    from backing.stand.broadcast import Message
    from backing.stand.client import Page
    from backing.stand.sheet import Shown
    from backing.stand.songbook import Songbook, Stamps
    from backing.stand.tune import Sounds, Tune

LOOK_SECONDS = 0.25
"""How often the chart file and the port are looked at."""

FOLDER_SECONDS = 1.0
"""How often the folder is looked through, unless that takes long."""

FOLDER_REST = 400
"""How many times as long as a look through the folder has taken, it is left alone afterwards."""

PREPARE_SECONDS = 2.0
"""How long it rests between the sounds that are made before they are wanted."""

GATHER_SECONDS = 0.004
"""How long changes are gathered before pages are told of them."""

FARTHEST_BACK = 1.0
"""How long ago, in seconds, a verb may have been said."""

MOST_PAGES = 32

KEPT_PAGES = 8
"""How many of them are kept for this computer."""


class StandError(BackingError):
    """A wish of a page that cannot be met."""


class Stand:
    """The stand.

    Attributes:
        songbook, banks: as given.
        pages: all pages that are connected.
        tune: the tune that is open, or None.
        is_fresh: whether no page has said anything yet.
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
        self.is_fresh = True
        self.checking = asyncio.Semaphore(1)
        self.waiting = 0
        self.tune: Tune | None = None
        self._outlet = OutputSwitch()
        self._outputs: list[tuple[str, str]] = []
        self._book = SongbookListing("", "", "", "", [], {})
        self._stamps: Stamps | None = None
        self._look_seconds = 0.0
        self._teller = Broadcast(0)
        self._state: Idle | State | None = None
        self._shown: tuple[Tune, Shown] | None = None
        self._sounds: Sounds = (), False
        self._bank: SoundBank | Fault | None = None
        self._news = 0
        self._opened = 0
        self._opening = asyncio.Lock()
        self._bell = asyncio.Event()
        self._saved = asyncio.Event()
        self._verbs = ThreadPoolExecutor(1, "backing-verbs")
        self._tasks: set[asyncio.Task[None]] = set()
        self._loop: asyncio.AbstractEventLoop | None = None

    # coming and going

    async def start(self) -> None:
        """Look through the folder, open the first sound chart, begin to watch."""
        self._loop = asyncio.get_running_loop()
        await self._look_through()
        if self._book.playable:
            await self.open(next(iter(self._book.playable)))
        for work in (self._tell, self._watch, self._watch_folder, self._prepare):
            self._spawn(self._for_ever(work))
        self._bell.set()

    async def close(self) -> None:
        """Stop the band, let everything go."""
        for task in list(self._tasks):
            task.cancel()
        await asyncio.gather(*self._tasks, return_exceptions=True)
        if self.tune:
            await asyncio.to_thread(self.tune.session.close)
        await asyncio.to_thread(self._outlet.let_go)
        self._verbs.shutdown(cancel_futures=True)

    async def welcome(self, page: Page) -> None:
        """Tell a page that has come all there is to know."""
        page.send(Hello())
        book = self._book
        page.send(book)
        await self.send_sheet(page)
        if book is not self._book:  # it has changed meanwhile, and the page was told nothing yet
            page.send(self._book)
        if self._bank:
            page.send(self._bank)
        for message in self._teller.everything():
            page.send(_music(message))
        self.pages.add(page)
        self._state = None  # so that all are told it anew
        self._spawn(self._look_at_outputs())

    def leave(self, page: Page) -> None:
        """Forget a page; the band plays on."""
        self.pages.discard(page)
        self._bell.set()

    def saved(self) -> None:
        """Say that a file of the songbook has been saved."""
        self._saved.set()

    def _changed(self) -> None:
        """Ring the bell; for the threads of the band."""
        loop = self._loop
        if loop:
            with suppress(RuntimeError):  # the loop is closed already
                loop.call_soon_threadsafe(self._bell.set)

    def _spawn(self, work: Coroutine[Any, Any, None]) -> None:
        task = asyncio.get_running_loop().create_task(self._guarded(work))
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)

    async def _for_ever(self, work: Callable[[], Coroutine[Any, Any, None]]) -> None:
        """Do work that never ends, and begin again where it fails."""
        while True:
            await self._guarded(work())
            await asyncio.sleep(LOOK_SECONDS)

    async def _guarded(self, work: Coroutine[Any, Any, None]) -> None:
        """Do work beside; what goes wrong is told."""
        try:
            await work
        except BackingError as error:
            self._broadcast(Fault(self.plain(str(error))))
        except Exception as error:
            traceback.print_exc()
            self._broadcast(Fault(f"a fault of ours: {error!r}"))

    # what pages ask for

    async def carry_out(self, line: str, at: float | None) -> None:
        """Carry out a verb on the tune that is open, after those that were said before.

        Args:
            line: the verb and its arguments.
            at: the moment that was heard; what lies far back, or where another output sounds than
                the page, counts from now.

        Raises:
            BackingError: when it cannot be done.
        """
        if self.tune is None:
            raise StandError("no chart is open: choose a tune, or write one")
        session = self.tune.session
        if at is not None:
            at = max(at, session.runner.now() - FARTHEST_BACK)
        heard = at if self._outlet.chosen == BROWSER else None
        loop = asyncio.get_running_loop()
        await loop.run_in_executor(self._verbs, session.carry_out, line, heard)
        self._bell.set()

    async def choose_output(self, name: str) -> None:
        """Let the band sound elsewhere.

        Raises:
            BackingError: when there is no such output.
        """
        await asyncio.to_thread(self._outlet.choose, name)
        if self.tune:
            await asyncio.to_thread(self.tune.session.transport.setup_again)
        await self._look_at_outputs()

    # tunes

    async def open(self, file: str) -> None:
        """Open a tune of the songbook in place of the one that is open.

        Raises:
            BackingError: when there is no such chart, or it has faults; the old one then stays.
        """
        async with self._opening:
            self._show(await self._begin(file))

    async def restore(self, file: str, output: str, snapshot: object) -> list[str]:
        """Be as a server before this one was; only once, before any page has said anything.

        Args:
            file: the tune that was open.
            output: where the band sounded.
            snapshot: the state of the tune, as `Tune.state` told it.

        Returns:
            A sentence for each thing that could not be restored.

        Raises:
            BackingError: when there is no such chart, or the band cannot play it so.
        """
        async with self._opening:  # whoever asks meanwhile is heard when all is done
            if not self.is_fresh:
                return []
            self.is_fresh = False
            faults = []
            try:
                await self.choose_output(output)
            except BackingError as error:
                faults.append(f"output: {error}")
            tune = await self._begin(file)
            try:
                faults += await asyncio.to_thread(tune.session.restore, snapshot)
            finally:
                self._show(tune)
        return faults

    async def _begin(self, file: str) -> Tune:
        """Close the tune that is open, and return another one, silent; no page sees it yet."""
        old = self.tune
        before = old.settings if old else None
        tune = await asyncio.to_thread(
            open_tune, self.songbook, file, self._outlet, self._changed, before
        )
        if old:
            await asyncio.to_thread(old.session.close)
        tune.session.start(play=False)
        return tune

    def _show(self, tune: Tune) -> None:
        """Put a tune in place of the one that was open, for all pages."""
        for message in self._teller.nothing():
            self._broadcast(_music(message))
        self._opened += 1
        self._teller = Broadcast(self._opened)
        self._news = 0
        self.tune = tune
        self._bell.set()

    # telling pages

    def plain(self, text: str) -> str:
        """Return a sentence for pages: files by their names, without the folder."""
        folder = str(self.songbook.folder)
        return text.replace(f"{folder}{os.sep}", "").replace(folder, "the folder")

    def _broadcast(self, message: Announcement) -> None:
        text = encode(message) if self.pages else ""
        for page in self.pages:
            page.send_text(text)

    async def _tell(self) -> None:
        """Tell pages what is new whenever the bell rings."""
        while True:
            await self._bell.wait()
            await asyncio.sleep(GATHER_SECONDS)
            self._bell.clear()
            tune = self.tune
            if tune:
                await self._tell_chart(tune)
            if tune is self.tune:
                self._tell_music(tune)

    def _tell_music(self, tune: Tune | None) -> None:
        """Tell bars, times, state and news."""
        output, pages = self._outlet.chosen, len(self.pages)
        outputs = drawn("options", options=self._outputs)
        state: Idle | State = Idle(output, outputs, pages, tune=None, playing=False)
        if tune:
            view = tune.session.transport.view()
            for message in self._teller.news(view):
                self._broadcast(_music(message))
            state = tune.state(output=output, outputs=outputs, pages=pages)
            news, self._news = tune.session.news_since(self._news)
            for text in news:
                self._broadcast(Notice(self.plain(text)))
        if state != self._state:
            self._state = state
            self._broadcast(state)

    async def _tell_chart(self, tune: Tune) -> None:
        """Send the chart and the sounds where they have changed."""
        shown = tune, tune.shown
        if shown != self._shown:
            self._shown = shown
            for page in list(self.pages):
                await self.send_sheet(page)
        if tune.sounds != self._sounds:
            self._sounds = tune.sounds
            self._spawn(self._tell_bank(tune.sounds))

    async def _tell_bank(self, sounds: Sounds) -> None:
        """Send the sounds of some styles; a sketch of them first where they are yet to be made."""
        styles, lead = sounds
        ready = await asyncio.to_thread(self.banks.has, styles, lead=lead)
        for sketch in (False,) if ready else (True, False):
            try:
                url = await asyncio.to_thread(self.banks.make, styles, lead=lead, sketch=sketch)
                bank: SoundBank | Fault = SoundBank(url, sketch)
            except BackingError as error:  # kept, since whoever comes later must hear it too
                bank = Fault(f"there are no sounds: {error}")
            if sounds == self._sounds and bank != self._bank:
                self._bank = bank
                self._broadcast(bank)

    async def _prepare(self) -> None:
        """Make the sounds of the whole songbook while nothing is played."""
        made: set[str] = set()
        while True:
            await asyncio.sleep(PREPARE_SECONDS)
            styles = set(self._book.playable.values()) - made
            playing = self.tune and self.tune.session.transport.playing
            if styles and self._bank and not playing:
                made.add(min(styles))
                await asyncio.to_thread(self.banks.make, (min(styles),))

    async def send_sheet(self, page: Page) -> None:
        """Send the chart as the page wishes to see it, and again if that has changed meanwhile."""
        sent = None
        while self.tune and sent != (wanted := (self.tune, self.tune.shown, page.view)):
            written = await asyncio.to_thread(sheet, *wanted[1:])
            sent = wanted
            page.send(ChartView(tune=wanted[0].file, **paper(written)))

    # watching

    async def _watch(self) -> None:
        """Look at the chart file and the port, and at the health of the band."""
        while True:
            await asyncio.sleep(LOOK_SECONDS)
            tune = self.tune
            if tune is None:
                continue
            if broken := tune.session.broken:
                traceback.print_exception(broken)
                self._broadcast(Fault(f"the band stumbled: {broken!r}"))
                await self.open(tune.file)
            else:
                await asyncio.to_thread(tune.session.look_around)

    async def _watch_folder(self) -> None:
        while True:
            with suppress(TimeoutError):
                rest = max(FOLDER_SECONDS, FOLDER_REST * self._look_seconds)
                await asyncio.wait_for(self._saved.wait(), rest)
            self._saved.clear()
            await self._look_through()

    async def _look_through(self) -> None:
        """Tell pages of the songbook where it has changed; read and draw it only then."""
        stamps, self._look_seconds = await asyncio.to_thread(_look, self.songbook)
        if stamps == self._stamps:
            return
        book = await asyncio.to_thread(_book, self.songbook)
        self._stamps = stamps
        if book != self._book:
            self._book = book
            self._broadcast(book)

    async def _look_at_outputs(self) -> None:
        self._outputs = await asyncio.to_thread(all_outputs)
        self._bell.set()


def _music(message: Message) -> Bars | Timeline:
    """Return what the teller says as a message."""
    if message["type"] == Timeline.type:
        return Timeline(message["line"], message["playing"], message["generation"])
    return Bars([LiveBar(**bar) for bar in message["add"]], message["drop"])


def _look(songbook: Songbook) -> tuple[Stamps, float]:
    """Return the stamps of a songbook's files, and the processor time that they took."""
    start = time.thread_time()
    return songbook.stamps(), time.thread_time() - start


def _book(songbook: Songbook) -> SongbookListing:
    """Return the songbook as pages show it: its tunes and sets as markup, what they choose from."""
    tunes, orders = songbook.tunes(), songbook.sets()
    known = {tune.file: tune for tune in tunes}
    sets = [
        SetListing(
            name=name,
            tunes=files,
            html=drawn("set", tunes=[known.get(file) or missing(file) for file in files]),
        )
        for name, files in orders
    ]
    sound = [tune for tune in tunes if not tune.fault]
    return SongbookListing(
        tunes=drawn("tunes", tunes=tunes),
        keys=_options("Any key", {tune.key: signed(tune.key) for tune in sound}),
        styles=_options("Any style", {tune.style: tune.style for tune in sound}),
        names=_options("No set", {name: name for name, _ in orders}),
        sets=sets,
        playable={tune.file: tune.style for tune in sound},
    )


def _options(nothing: str, words: dict[str, str]) -> str:
    """Return choices as markup, in order, behind the one for nothing chosen."""
    return drawn("options", options=[("", nothing), *sorted(words.items())])
