"""Fixtures for tests of the page in a real browser."""

from __future__ import annotations

import os
import shutil
from typing import TYPE_CHECKING

import pytest

from tests.stand.browser.stage import Reader, launched

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from playwright.sync_api import Browser

    from tests.stand.server import Server

STEADY = """title: Steady Feet
key: G
tempo: 230
style: two-beat
[A] 4
| G | C | D7 | G |
[B] 4
| Em | A7 | D7 | G |
"""


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Run Debian's Chromium; skip without it, or fail in the gate."""
    program = shutil.which("chromium")
    if program is None:
        if os.environ.get("CI"):
            pytest.fail("chromium is missing, and the gate installs it")
        pytest.skip("chromium is not installed")
    with launched(program) as browser:
        yield browser


@pytest.fixture
def steady(start: Callable[..., Server]) -> Server:
    """Return a server with one tune of eight bars."""
    return start(charts={"steady-feet.chart": STEADY})


@pytest.fixture
def read(browser: Browser) -> Iterator[Callable[..., Reader]]:
    """Return a function that opens a page with an empty profile; its scripts may not fail."""
    readers: list[Reader] = []

    def begin(server: Server, **options: object) -> Reader:
        readers.append(Reader(browser, server, **options))
        return readers[-1]

    yield begin
    for reader in readers:
        reader.close()
    assert [fault for reader in readers for fault in reader.faults] == []
