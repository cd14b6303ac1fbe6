"""A server for each module of tests; all share one cache of sounds."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.stand.server import Server

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

QUICK = "title: Quick Steps\nkey: G\ntempo: 480\nstyle: two-beat\n[A] 4\n| G | C | D7 | G |\n"
SLOW = "title: Slow Steps\nkey: D\ntempo: 96\nstyle: waltz\nmeter: 3/4\n[A] 2\n| D | A7 |\n"


@pytest.fixture(scope="session")
def cache(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder of the sounds."""
    return tmp_path_factory.mktemp("cache")


@pytest.fixture(scope="module")
def start(tmp_path_factory: pytest.TempPathFactory, cache: Path) -> Iterator[Callable[..., Server]]:
    """Return a function that starts a server; all are ended afterwards."""
    servers = []

    def begin(*options: str, charts: dict[str, str] | None = None) -> Server:
        folder = tmp_path_factory.mktemp("charts")
        for name, text in (charts or {"a-quick.chart": QUICK, "slow.chart": SLOW}).items():
            (folder / name).write_text(text, encoding="utf-8")
        servers.append(Server(folder, cache, *options))
        return servers[-1]

    yield begin
    for server in servers:
        server.end()


@pytest.fixture(scope="module")
def server(start: Callable[..., Server]) -> Server:
    """Return a server with two charts."""
    return start()
