"""The songbook's listing for clients, kept up to date by polling its folder."""

from __future__ import annotations

import asyncio
import time
from contextlib import suppress
from typing import TYPE_CHECKING

from backing.harmony.signs import signed
from backing.stand.markup import render
from backing.stand.messages import SetListing, SongbookListing
from backing.stand.songbook import missing

if TYPE_CHECKING:
    from collections.abc import Callable

    from backing.stand.songbook import Songbook, Stamps

SCAN_SECONDS = 1.0
"""The shortest pause between two scans of the folder."""

PAUSE_FACTOR = 400
"""The pause after a scan is at least this many times as long as the scan took."""


class FolderWatcher:
    """Polls the folder of a songbook.

    Attributes:
        listing: the songbook as clients show it.

    Args:
        songbook: the songbook.
        on_change: called with each new listing.
    """

    def __init__(self, songbook: Songbook, on_change: Callable[[SongbookListing], None]) -> None:
        self.listing = SongbookListing("", "", "", "", [], {})
        self._songbook = songbook
        self._on_change = on_change
        self._stamps: Stamps | None = None
        self._scan_seconds = 0.0
        self._is_due = asyncio.Event()

    def scan_soon(self) -> None:
        """Scan without waiting for the end of the pause, as after a save."""
        self._is_due.set()

    async def watch(self) -> None:
        """Scan the folder again and again; never returns."""
        while True:
            with suppress(TimeoutError):
                pause = max(SCAN_SECONDS, PAUSE_FACTOR * self._scan_seconds)
                await asyncio.wait_for(self._is_due.wait(), pause)
            self._is_due.clear()
            await self.scan()

    async def scan(self) -> None:
        """Compare the files' stamps; read and list the songbook only where they differ."""
        stamps, self._scan_seconds = await asyncio.to_thread(_timed_stamps, self._songbook)
        if stamps == self._stamps:
            return
        listing = await asyncio.to_thread(_listing, self._songbook)
        self._stamps = stamps
        if listing != self.listing:
            self.listing = listing
            self._on_change(listing)


def _timed_stamps(songbook: Songbook) -> tuple[Stamps, float]:
    """Return the stamps of a songbook's files, and the processor seconds that they took."""
    start = time.thread_time()
    return songbook.stamps(), time.thread_time() - start


def _listing(songbook: Songbook) -> SongbookListing:
    tunes, orders = songbook.tunes(), songbook.sets()
    known = {tune.file: tune for tune in tunes}
    sets = [
        SetListing(
            name=name,
            tunes=files,
            html=render("set", tunes=[known.get(file) or missing(file) for file in files]),
        )
        for name, files in orders
    ]
    valid = [tune for tune in tunes if not tune.fault]
    return SongbookListing(
        tunes=render("tunes", tunes=tunes),
        keys=_options("Any key", {tune.key: signed(tune.key) for tune in valid}),
        styles=_options("Any style", {tune.style: tune.style for tune in valid}),
        names=_options("No set", {name: name for name, _ in orders}),
        sets=sets,
        playable={tune.file: tune.style for tune in valid},
    )


def _options(nothing: str, labels: dict[str, str]) -> str:
    """Return sorted choices as markup, after a first one that chooses nothing."""
    return render("options", options=[("", nothing), *sorted(labels.items())])
