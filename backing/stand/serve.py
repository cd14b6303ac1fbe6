"""Runs the server until Ctrl-C."""

from __future__ import annotations

import errno
import logging
import socket
import threading
import webbrowser
from typing import TYPE_CHECKING

import uvicorn

from backing.errors import BackingError, SettingsError
from backing.stand.app import application
from backing.stand.bank import Banks
from backing.stand.guard import Guard
from backing.stand.songbook import Songbook
from backing.stand.stand import Stand

if TYPE_CHECKING:
    from pathlib import Path

HERE = "127.0.0.1"
USUAL_PORT = 8484
_BACKLOG = 64
_LARGEST_MESSAGE = 64 << 10
_PING_SECONDS = 10.0
_CLOSING_SECONDS = 3


class ServerError(BackingError):
    """A server that cannot be started."""


def listen(address: str, port: int | None) -> socket.socket:
    """Return a socket that listens; without a port at the usual one, or any that is free.

    Raises:
        ServerError: when the port is taken, or may not be used.
    """
    try:
        return _bound(address, USUAL_PORT if port is None else port)
    except OSError as error:
        if port is None and error.errno == errno.EADDRINUSE:
            return _bound(address, 0)
        reason = (
            "is taken" if error.errno == errno.EADDRINUSE else f"cannot be used: {error.strerror}"
        )
        raise ServerError(
            f"port {port} {reason}: give another one with --http-port, or 0 for any that is free"
        ) from None


def _bound(address: str, port: int) -> socket.socket:
    found = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        found.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        found.bind((address, port))
        found.listen(_BACKLOG)
        found.setblocking(False)
    except OSError:
        found.close()
        raise
    return found


def serve(folder: Path, sound_font: Path, *, port: int | None, browser: bool) -> None:
    """Serve a folder's charts until Ctrl-C.

    Args:
        folder: where the charts are.
        sound_font: what the band sounds with.
        port: of the server; None for the usual one.
        browser: whether to open the page.

    Raises:
        BackingError: when the folder, the sound font or the port will not do.
    """
    if not folder.is_dir():
        raise SettingsError(f"{folder} is no folder: give the folder with your charts")
    banks = Banks(sound_font)
    bound = listen(HERE, port)
    number = bound.getsockname()[1]
    stand = Stand(Songbook(folder), banks)
    hosts = frozenset({f"{HERE}:{number}", f"localhost:{number}"})
    address = f"http://{HERE}:{number}/"
    server = _server(Guard(application(stand), hosts))
    print(f"the stand is at {address}", flush=True)
    print("Ctrl-C ends it; begin with the volume turned down", flush=True)
    if browser:
        threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()
    try:
        server.run(sockets=[bound])
    finally:
        bound.close()


def _server(app: Guard) -> uvicorn.Server:
    logging.getLogger("uvicorn.error").setLevel(logging.ERROR)
    return uvicorn.Server(
        uvicorn.Config(
            app,
            http="h11",
            ws="websockets-sansio",
            ws_max_size=_LARGEST_MESSAGE,
            ws_ping_interval=_PING_SECONDS,
            ws_ping_timeout=_PING_SECONDS,
            lifespan="on",
            log_config=None,
            access_log=False,
            server_header=False,
            proxy_headers=False,
            timeout_graceful_shutdown=_CLOSING_SECONDS,
        )
    )
