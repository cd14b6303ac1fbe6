"""The memory of the stand while tunes are opened one after the other."""

from __future__ import annotations

import asyncio
import gc
import importlib
import pkgutil
import weakref
from typing import TYPE_CHECKING, Any

import backing
from backing.stand.songbook import Songbook
from backing.stand.stand import Stand
from tests.stand.loops import run

if TYPE_CHECKING:
    from pathlib import Path

    from backing.live.session import Session

TUNES = 5
OPENINGS = 8
A_SESSION = 500
"""About how many objects an open tune has. A leak keeps that many per opening, eight times here.

One or two sessions may be about to be freed when objects are counted.
"""


class NoBanks:
    """Banks without sounds."""

    def has(self, styles: tuple[str, ...], *, lead: bool) -> bool:
        """Return that every bank is made."""
        return True

    def make(self, styles: tuple[str, ...], *, lead: bool = False, sketch: bool = False) -> str:
        """Return an address."""
        return "none"


def kept() -> int:
    """Return the number of tracked objects, frozen ones too."""
    gc.collect()
    return gc.get_freeze_count() + len(gc.get_objects())


def test_closed_tunes_are_freed(tmp_path: Path) -> None:
    """24 openings keep no more objects than 16, and at most the last three sessions."""
    for tune, chord in enumerate("CDEFG"[:TUNES]):
        text = f"key: {chord}\n[A]\n| {chord} | Am | {chord}7 | F#m7b5 |\n[B]\n| C | {chord} |\n"
        (tmp_path / f"{tune}.chart").write_text(text, encoding="utf-8")
    sessions: list[weakref.ref[Session]] = []
    counts: list[int] = []
    most_sessions = 0

    async def evening() -> None:
        nonlocal most_sessions
        stand = Stand(Songbook(tmp_path), NoBanks())  # type: ignore[arg-type]
        await stand.start()
        for opening in range(1, 3 * OPENINGS + 1):
            await stand.open(f"{opening % TUNES}.chart")
            assert stand.tune
            sessions.append(weakref.ref(stand.tune.session))
            await stand.carry_out("play", None)
            await asyncio.sleep(0)
            alive = sum(session() is not None for session in sessions)
            most_sessions = max(most_sessions, alive)
            if opening % OPENINGS == 0:
                counts.append(kept())
        await stand.close()

    run(evening())

    assert most_sessions <= 3
    assert counts[2] - counts[1] < 2 * A_SESSION, counts


def test_caches_of_user_data_are_bounded() -> None:
    """Only caches of the project's own files and tables have no bound."""
    unbounded = {name for name, cached in _caches() if cached.cache_parameters()["maxsize"] is None}

    assert unbounded <= {
        "backing.scores.musicxml.pieces._values",
        "backing.scores.musicxml.kinds._kinds",
        "backing.scores.musicxml.kinds._candidates",
        "backing.out.sheet.faces._widths",
        "backing.band.drums._velocities",  # of styles, which are read once each
        "backing.style.library._load",
        "backing.packs.digest._digest_at",  # of styles and a sound font
    }


def _caches() -> list[tuple[str, Any]]:
    """Return the cached functions of all modules by their names."""
    found = []
    for module in pkgutil.walk_packages(backing.__path__, "backing."):
        if module.name.endswith("__main__"):
            continue
        there = importlib.import_module(module.name)
        for name, each in vars(there).items():
            own = getattr(each, "__module__", "") == module.name
            if own and callable(getattr(each, "cache_parameters", None)):
                found.append((f"{module.name}.{name}", each))
    return found
