"""A real server process for the tests, and a client without a browser."""

from __future__ import annotations

import http.client
import json
import os
import queue
import re
import signal
import subprocess
import sys
import threading
import time
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

from websockets.sync.client import connect

if TYPE_CHECKING:
    from collections.abc import Callable
    from contextlib import AbstractContextManager

    from websockets.sync.client import ClientConnection

PATIENCE_SECONDS = 120.0
"""The longest wait on a busy machine before a test fails."""


class Server:
    """A process of `backing stand`.

    Attributes:
        folder: its charts.
        host: address and port, as 127.0.0.1:8484.
        process: the process.

    """

    def __init__(self, folder: Path, cache: Path, *options: str) -> None:
        self.folder = folder
        command = [sys.executable, "-m", "backing", "stand", str(folder), "--no-browser"]
        if "--http-port" not in options:
            command += ["--http-port", "0"]
        self.process = subprocess.Popen(
            [*command, *options],
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            bufsize=1,
            env={**os.environ, "BACKING_CACHE": str(cache), "PYTHONUNBUFFERED": "1"},
        )
        self.printed: list[str] = []
        self._lines: queue.SimpleQueue[str] = queue.SimpleQueue()
        threading.Thread(target=self._listen, daemon=True).start()
        self.host = self.line(r"the stand is at http://(\S+?)/")[1]

    def line(self, pattern: str) -> re.Match[str]:
        """Wait for a printed line that matches a pattern; return the match."""
        end = time.monotonic() + PATIENCE_SECONDS
        with suppress(queue.Empty):
            while True:
                text = self._lines.get(timeout=max(end - time.monotonic(), 0.001))
                self.printed.append(text)
                if found := re.search(pattern, text):
                    return found
        raise AssertionError(f"no line {pattern!r} in {''.join(self.printed)}")

    def more_lines(self) -> list[str]:
        """Return the printed lines that have not been read yet."""
        found = []
        with suppress(queue.Empty):
            while True:
                found.append(self._lines.get_nowait())
        self.printed += found
        return found

    def _listen(self) -> None:
        assert self.process.stdout is not None
        with self.process.stdout as lines:
            for text in lines:
                self._lines.put(text)

    def ask(
        self,
        method: str,
        path: str,
        body: bytes | None = None,
        headers: dict[str, str] | None = None,
        host: str | None = None,
    ) -> Answer:
        """Send a request without changing anything, and return the answer."""
        connection = http.client.HTTPConnection(host or self.host, timeout=PATIENCE_SECONDS)
        try:
            skips = bool(headers and "Host" in headers)
            connection.putrequest(method, path, skip_host=skips, skip_accept_encoding=True)
            for name, value in (headers or {}).items():
                connection.putheader(name, value)
            if body is not None:
                connection.putheader("Content-Length", str(len(body)))
            connection.endheaders(body)
            response = connection.getresponse()
            return Answer(response.status, dict(response.getheaders()), response.read())
        finally:
            connection.close()

    def page(self, **options: Any) -> Page:
        """Connect a client and return it; it answers pings also while nobody reads its messages."""
        options = {"max_size": None, "max_queue": None, "close_timeout": 1} | options
        return Page(connect(f"ws://{self.host}/ws", **options))

    def memory_mb(self) -> float:
        """Return the memory that the process holds, in MB (proc(5): VmRSS in kB)."""
        about = Path(f"/proc/{self.process.pid}/status").read_text(encoding="ascii")
        return int(re.search(r"VmRSS:\s+(\d+)", about)[1]) / 1024  # type: ignore[index]

    def end(self, number: int = signal.SIGINT) -> int:
        """Send a signal; return the exit code."""
        if self.process.poll() is None:
            self.process.send_signal(number)
        return self.process.wait(PATIENCE_SECONDS)


class Answer:
    """An answer: status, headers with lower-case names, body."""

    def __init__(self, status: int, headers: dict[str, str], body: bytes) -> None:
        self.status = status
        self.headers = {name.lower(): value for name, value in headers.items()}
        self.body = body

    @property
    def text(self) -> str:
        """The body as text."""
        return self.body.decode()


class Page:
    """A client without a browser.

    Attributes:
        received: all messages received so far.

    """

    def __init__(self, connection: AbstractContextManager[ClientConnection]) -> None:
        self._connection = connection
        self.received: list[dict[str, Any]] = []

    def __enter__(self) -> Page:
        self.socket = self._connection.__enter__()
        return self

    def __exit__(self, *of: Any) -> None:
        self._connection.__exit__(*of)

    def send(self, **message: Any) -> None:
        """Send a message."""
        self.socket.send(json.dumps(message))

    def command(self, line: str, **more: Any) -> None:
        """Send a command."""
        self.send(type="say", line=line, **more)

    def receive(
        self, kind: str, fits: Callable[[dict[str, Any]], bool] = lambda message: True
    ) -> dict[str, Any]:
        """Wait for a message of a type for which `fits` is true; return it."""
        end = time.monotonic() + PATIENCE_SECONDS
        while (rest := end - time.monotonic()) > 0:
            message = json.loads(self.socket.recv(timeout=rest))
            self.received.append(message)
            if message["type"] == kind and fits(message):
                return message
        kinds = [each["type"] for each in self.received]
        raise AssertionError(f"no fitting {kind}; received {kinds[-30:]}")

    def state(self, **wanted: Any) -> dict[str, Any]:
        """Wait for a state with these values; return it."""
        return self.receive(
            "state", lambda each: all(each.get(name) == value for name, value in wanted.items())
        )

    def time(self) -> float:
        """Return the server's time by one ping, in seconds."""
        self.send(type="ping", mine=1)
        return float(self.receive("pong")["time"])


def chords_of(markup: str) -> list[str]:
    """Return the chords in a chart's markup, in order."""
    return re.findall('class="chord" data-text="([^"]+)"', markup)


def keys_of(markup: str, path: int = 0) -> set[int]:
    """Return the MIDI keys of the drawn shapes of one of the chop's paths."""
    drawn = re.findall('data-path="([0-9 ]+)"[^>]*data-keys="([^"]+)"', markup)
    return {int(key) for paths, keys in drawn if str(path) in paths for key in keys.split()}


def titles_of(markup: str) -> list[str]:
    """Return the titles in a list of tunes, in order."""
    return re.findall('class="tune-title">([^<]+)', markup)
