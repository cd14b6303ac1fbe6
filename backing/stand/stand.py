"""The stand: one band, one songbook, and the clients that share them.

All of it runs in the event loop except slow work: commands run one after the other in a thread of
their own, files and sounds in others. The band's threads only set the wake-up event.
"""

from __future__ import annotations

import asyncio
import os
import traceback
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from typing import TYPE_CHECKING, Any

from backing.errors import BackingError
from backing.stand.broadcast import Broadcast
from backing.stand.codec import encode
from backing.stand.folder import FolderWatcher
from backing.stand.markup import render
from backing.stand.messages import ChartView, Fault, Hello, Idle, Notice, SoundBank, State
from backing.stand.output import BROWSER, OutputSwitch
from backing.stand.output import outputs as all_outputs
from backing.stand.sheet import chart_fields, sheet
from backing.stand.tune import open_tune

if TYPE_CHECKING:
    from collections.abc import Callable, Coroutine

    from backing.stand.bank import Banks
    from backing.stand.client import Client
    from backing.stand.messages import Announcement
    from backing.stand.sheet import SheetSource
    from backing.stand.songbook import Songbook
    from backing.stand.tune import Sounds, Tune

WATCH_SECONDS = 0.25
"""The pause between two checks of the chart file and the output."""

PREPARE_SECONDS = 2.0
"""The pause between two banks that are made in advance."""

GATHER_SECONDS = 0.004
"""How long changes are gathered before clients are sent them."""

OLDEST_SECONDS = 1.0
"""How far back the moment of a command may lie."""

MOST_CLIENTS = 32

RESERVED_CLIENTS = 8
"""How many of these places are for this computer alone."""


class StandError(BackingError):
    """A request of a client that cannot be met."""


class Stand:
    """The stand.

    Attributes:
        songbook, banks: as given.
        folder: lists the songbook.
        clients: all clients that are connected.
        tune: the tune that is open, or None.
        is_fresh: whether no client has sent a command yet.
        checking: held while a chart's text is checked, so that one is checked at a time.
        waiting: how many texts wait for that.

    Args:
        songbook: its charts.
        banks: makes the sounds that clients play.
    """

    def __init__(self, songbook: Songbook, banks: Banks) -> None:
        self.songbook = songbook
        self.banks = banks
        self.folder = FolderWatcher(songbook, self._send_all)
        self.clients: set[Client] = set()
        self.is_fresh = True
        self.checking = asyncio.Semaphore(1)
        self.waiting = 0
        self.tune: Tune | None = None
        self._output = OutputSwitch()
        self._outputs: list[tuple[str, str]] = []
        self._broadcast = Broadcast(0)
        self._state: Idle | State | None = None
        self._sheet_source: tuple[Tune, SheetSource] | None = None
        self._sounds: Sounds = (), False
        self._bank: SoundBank | Fault | None = None
        self._notices = 0
        self._opened = 0
        self._opening = asyncio.Lock()
        self._wake_up = asyncio.Event()
        self._commands = ThreadPoolExecutor(1, "backing-commands")
        self._tasks: set[asyncio.Task[None]] = set()
        self._loop: asyncio.AbstractEventLoop | None = None

    # start and end

    async def start(self) -> None:
        """List the songbook, open its first valid chart, start the tasks that never end."""
        self._loop = asyncio.get_running_loop()
        await self.folder.scan()
        if self.folder.listing.playable:
            await self.open(next(iter(self.folder.listing.playable)))
        for work in (self._announce, self._watch, self.folder.watch, self._prepare):
            self._spawn(self._repeat(work))
        self._wake_up.set()

    async def close(self) -> None:
        """Stop the band, all tasks and the output."""
        for task in list(self._tasks):
            task.cancel()
        await asyncio.gather(*self._tasks, return_exceptions=True)
        if self.tune:
            await asyncio.to_thread(self.tune.session.close)
        await asyncio.to_thread(self._output.release)
        self._commands.shutdown(cancel_futures=True)

    async def welcome(self, client: Client) -> None:
        """Send a new client everything it needs."""
        client.send(Hello())
        listing = self.folder.listing
        client.send(listing)
        await self.send_sheet(client)
        if listing is not self.folder.listing:  # it changed before the client was in `clients`
            client.send(self.folder.listing)
        if self._bank:
            client.send(self._bank)
        for message in self._broadcast.current():
            client.send(message)
        self.clients.add(client)
        self._state = None  # all clients are sent the state again
        self._spawn(self._list_outputs())

    def leave(self, client: Client) -> None:
        """Forget a client; the band plays on."""
        self.clients.discard(client)
        self._wake_up.set()

    def _wake(self) -> None:
        """Wake the broadcaster. Thread-safe."""
        loop = self._loop
        if loop:
            with suppress(RuntimeError):  # the loop is closed already
                loop.call_soon_threadsafe(self._wake_up.set)

    def _spawn(self, work: Coroutine[Any, Any, None]) -> None:
        task = asyncio.get_running_loop().create_task(self._guarded(work))
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)

    async def _repeat(self, work: Callable[[], Coroutine[Any, Any, None]]) -> None:
        """Run work that never ends; start it again after an error."""
        while True:
            await self._guarded(work())
            await asyncio.sleep(WATCH_SECONDS)

    async def _guarded(self, work: Coroutine[Any, Any, None]) -> None:
        """Run work in the background; report errors to clients."""
        try:
            await work
        except BackingError as error:
            self._send_all(Fault(self.plain(str(error))))
        except Exception as error:
            traceback.print_exc()
            self._send_all(Fault(f"internal error: {error!r}"))

    # requests of clients

    async def carry_out(self, line: str, at: float | None) -> None:
        """Run commands on the open tune, after all earlier ones.

        Args:
            line: the commands with their arguments.
            at: the moment that the player was hearing, in server seconds, at most
                `OLDEST_SECONDS` ago. It counts only while the browser is the output; None is now.

        Raises:
            BackingError: when a command cannot be carried out.
        """
        if self.tune is None:
            raise StandError("no chart is open: choose a tune, or write one")
        session = self.tune.session
        if at is not None:
            at = max(at, session.runner.now() - OLDEST_SECONDS)
        heard_at = at if self._output.chosen == BROWSER else None
        loop = asyncio.get_running_loop()
        await loop.run_in_executor(self._commands, session.carry_out, line, heard_at)
        self._wake_up.set()

    async def choose_output(self, name: str) -> None:
        """Switch the audio output.

        Raises:
            BackingError: when there is no such output.
        """
        await asyncio.to_thread(self._output.choose, name)
        if self.tune:
            await asyncio.to_thread(self.tune.session.transport.resend_setup)
        await self._list_outputs()

    # tunes

    async def open(self, file: str) -> None:
        """Open a tune of the songbook in place of the one that is open.

        Raises:
            BackingError: when there is no such chart, or it has faults; the old one then stays.
        """
        async with self._opening:
            self._show(await self._exchange(file))

    async def restore(self, file: str, output: str, snapshot: object) -> list[str]:
        """Restore the state of an earlier server; does nothing after the first command.

        Args:
            file: the tune that was open.
            output: the audio output.
            snapshot: the state of the tune, as `Tune.state` has it.

        Returns:
            A sentence for each thing that could not be restored.

        Raises:
            BackingError: when there is no such chart, or the band cannot play it so.
        """
        async with self._opening:  # later requests wait until all is restored
            if not self.is_fresh:
                return []
            self.is_fresh = False
            faults = []
            try:
                await self.choose_output(output)
            except BackingError as error:
                faults.append(f"output: {error}")
            tune = await self._exchange(file)
            try:
                faults += await asyncio.to_thread(tune.session.restore, snapshot)
            finally:
                self._show(tune)
        return faults

    async def _exchange(self, file: str) -> Tune:
        """Close the open tune and return another one, silent; no client sees it yet."""
        old = self.tune
        before = old.settings if old else None
        tune = await asyncio.to_thread(
            open_tune, self.songbook, file, self._output, self._wake, before
        )
        if old:
            await asyncio.to_thread(old.session.close)
        tune.session.start(play=False)
        return tune

    def _show(self, tune: Tune) -> None:
        """Replace the open tune on all clients."""
        for message in self._broadcast.removal():
            self._send_all(message)
        self._opened += 1
        self._broadcast = Broadcast(self._opened)
        self._notices = 0
        self.tune = tune
        self._wake_up.set()

    # announcements

    def plain(self, text: str) -> str:
        """Return a sentence without the path of the songbook's folder."""
        folder = str(self.songbook.folder)
        return text.replace(f"{folder}{os.sep}", "").replace(folder, "the folder")

    def _send_all(self, message: Announcement) -> None:
        text = encode(message) if self.clients else ""
        for client in self.clients:
            client.send_text(text)

    async def _announce(self) -> None:
        """Send what has changed, at each wake-up; never returns."""
        while True:
            await self._wake_up.wait()
            await asyncio.sleep(GATHER_SECONDS)
            self._wake_up.clear()
            tune = self.tune
            if tune:
                await self._announce_chart(tune)
            if tune is self.tune:
                self._announce_music(tune)

    def _announce_music(self, tune: Tune | None) -> None:
        """Send bars, tempi, state and notices where they have changed."""
        output, clients = self._output.chosen, len(self.clients)
        outputs = render("options", options=self._outputs)
        state: Idle | State = Idle(output, outputs, clients, tune=None, playing=False)
        if tune:
            view = tune.session.transport.view()
            for message in self._broadcast.changes(view):
                self._send_all(message)
            state = tune.state(output=output, outputs=outputs, clients=clients)
            notices, self._notices = tune.session.messages_since(self._notices)
            for text in notices:
                self._send_all(Notice(self.plain(text)))
        if state != self._state:
            self._state = state
            self._send_all(state)

    async def _announce_chart(self, tune: Tune) -> None:
        """Send the chart and the sounds where they have changed."""
        source = tune, tune.sheet_source
        if source != self._sheet_source:
            self._sheet_source = source
            for client in list(self.clients):
                await self.send_sheet(client)
        if tune.sounds != self._sounds:
            self._sounds = tune.sounds
            self._spawn(self._announce_bank(tune.sounds))

    async def _announce_bank(self, sounds: Sounds) -> None:
        """Send the bank of some styles; a sketch first where it has not been made yet."""
        styles, lead = sounds
        ready = await asyncio.to_thread(self.banks.has, styles, lead=lead)
        for sketch in (False,) if ready else (True, False):
            try:
                url = await asyncio.to_thread(self.banks.make, styles, lead=lead, sketch=sketch)
                bank: SoundBank | Fault = SoundBank(url, sketch)
            except BackingError as error:  # kept, so that later clients are sent it too
                bank = Fault(f"there are no sounds: {error}")
            if sounds == self._sounds and bank != self._bank:
                self._bank = bank
                self._send_all(bank)

    async def send_sheet(self, client: Client) -> None:
        """Send a client the chart in its own view, and again if that changes meanwhile."""
        sent = None
        while self.tune and sent != (wanted := (self.tune, self.tune.sheet_source, client.view)):
            shown = await asyncio.to_thread(sheet, *wanted[1:])
            sent = wanted
            client.send(ChartView(tune=wanted[0].file, **chart_fields(shown)))

    # background tasks

    async def _watch(self) -> None:
        """Check the chart file, the output and the band's threads; never returns."""
        while True:
            await asyncio.sleep(WATCH_SECONDS)
            tune = self.tune
            if tune is None:
                continue
            if broken := tune.session.broken:
                traceback.print_exception(broken)
                self._send_all(Fault(f"internal error, the band starts again: {broken!r}"))
                await self.open(tune.file)
            else:
                await asyncio.to_thread(tune.session.poll)

    async def _prepare(self) -> None:
        """Make the banks of the whole songbook while nothing is played; never returns."""
        made: set[str] = set()
        while True:
            await asyncio.sleep(PREPARE_SECONDS)
            styles = set(self.folder.listing.playable.values()) - made
            playing = self.tune and self.tune.session.transport.playing
            if styles and self._bank and not playing:
                made.add(min(styles))
                await asyncio.to_thread(self.banks.make, (min(styles),))

    async def _list_outputs(self) -> None:
        self._outputs = await asyncio.to_thread(all_outputs)
        self._wake_up.set()
