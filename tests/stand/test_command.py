"""`backing stand` as a command: errors are sentences, and Ctrl-C ends it in order."""

from __future__ import annotations

import signal
import socket
import subprocess
import sys
import time
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from tests.stand.server import Server


@pytest.mark.parametrize(
    "options, found",
    [
        (["none"], "none is not a folder: give the folder with your charts"),
        ([".", "--http-port", "70000"], "a port is 0 to 65535"),
        ([".", "--http-port", "x"], "write a whole number"),
        ([".", "--sound-font", "none.sf2"], "the sound font none.sf2 cannot be read"),
        ([".", "--http-port", "0", "--share-on", "192.0.2.77"], "cannot listen at 192.0.2.77"),
        ([".", "--http-port", "TAKEN"], "is taken: give another one with --http-port"),
    ],
)
def test_bad_options_are_refused(tmp_path: Path, options: list[str], found: str) -> None:
    """An error is a sentence, with exit code 2."""
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        taken = str(other.getsockname()[1])
        options = [taken if each == "TAKEN" else each for each in options]
        done = subprocess.run(
            [sys.executable, "-m", "backing", "stand", "--no-browser", *options],
            cwd=tmp_path,
            capture_output=True,
            text=True,
            timeout=180,
            check=False,
        )

    assert done.returncode == 2
    assert found in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.slow
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_it_ends_in_order_while_pages_listen(start: Callable[..., Server], number: int) -> None:
    """A signal while the band plays ends the server without a traceback, and frees the port."""
    server = start()
    with server.page() as page:
        page.command("play")
        page.receive("bars", lambda each: any(bar["bar"] for bar in each["add"]))
        began = time.monotonic()
        code = server.end(number)
        assert time.monotonic() - began < 10

    assert code == (130 if number == signal.SIGINT else -signal.SIGTERM)
    server.line("stopped") if number == signal.SIGINT else None
    assert "Traceback" not in "".join(server.printed)
    address, port = server.host.split(":")
    with socket.socket() as anew:
        anew.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        anew.bind((address, int(port)))


@pytest.mark.slow
def test_a_restarted_server_works_as_before(start: Callable[..., Server]) -> None:
    """A server at the same port finds its stored sounds and plays."""
    first = start()
    port = first.host.rpartition(":")[2]
    with first.page() as page:
        page.receive("bank")
    first.end()

    second = start("--http-port", port)

    assert second.host == first.host
    with second.page() as page:
        page.receive("bank")
        page.command("play")
        page.receive("bars", lambda each: any(bar["bar"] for bar in each["add"]))
