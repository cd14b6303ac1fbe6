"""The server: its sockets, its addresses and its run until Ctrl-C."""

from __future__ import annotations

import errno
import logging
import signal
import socket
import threading
import webbrowser
from contextlib import ExitStack
from dataclasses import dataclass
from typing import TYPE_CHECKING

import uvicorn

from backing.errors import BackingError, SettingsError
from backing.stand.access import LOCALHOST, AccessMiddleware, Guests
from backing.stand.app import application
from backing.stand.bank import Banks
from backing.stand.share import address_of, show
from backing.stand.songbook import Songbook
from backing.stand.stand import Stand
from backing.stand.timeouts import ClientSocket, Connection

if TYPE_CHECKING:
    from pathlib import Path

USUAL_PORT = 8484
_WEB_PORT = 80
_BACKLOG = 64
_LARGEST_MESSAGE = 64 << 10
_UNREAD_BYTES = 512 << 10
"""The send buffer of the system for each connection."""

_PING_SECONDS = 10.0
_CLOSING_SECONDS = 3


class ServerError(BackingError):
    """A server that cannot start."""


def listen(address: str, port: int | None) -> socket.socket:
    """Return a listening socket.

    Args:
        address: an address of this computer.
        port: the port; None for the usual one, or a free one where that is taken.

    Raises:
        ServerError: when the port is taken, or the address or port cannot be used.
    """
    try:
        return _bound(address, USUAL_PORT if port is None else port)
    except OSError as error:
        if port is None and error.errno == errno.EADDRINUSE:
            return _bound(address, 0)
        if error.errno == errno.EADDRINUSE:
            raise ServerError(
                f"port {port} is taken: give another one with --http-port, or 0 for a free one"
            ) from None
        raise ServerError(
            f"the server cannot listen at {address}:{port} ({error.strerror or error}): give "
            "another port with --http-port, or an address of this computer with --share-on"
        ) from None


def _bound(address: str, port: int) -> socket.socket:
    found = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        found.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        found.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, _UNREAD_BYTES)
        found.bind((address, port))
        found.listen(_BACKLOG)
        found.setblocking(False)
    except OSError:
        found.close()
        raise
    return found


@dataclass(frozen=True, slots=True)
class Options:
    """The options of a server.

    Attributes:
        port: its port; None for the usual one, 0 for a free one.
        browser: whether to open the page in a browser.
        share: whether other machines may connect by a link.
        share_on: the address of this computer for them; None for the usual one.
    """

    port: int | None = None
    browser: bool = True
    share: bool = False
    share_on: str | None = None


def serve(folder: Path, sound_font: Path, options: Options) -> None:
    """Serve a folder's charts until Ctrl-C.

    Args:
        folder: the folder of the charts.
        sound_font: a SoundFont 2 file for the band's sounds.
        options: the options.

    Raises:
        BackingError: when the folder, the sound font, the address or the port cannot be used.
    """
    if not folder.is_dir():
        raise SettingsError(f"{folder} is not a folder: give the folder with your charts")
    stand = Stand(Songbook(folder), Banks(sound_font))
    with ExitStack() as stack:
        bound = [stack.enter_context(listen(LOCALHOST, options.port))]
        port = bound[0].getsockname()[1]
        hosts = {f"{LOCALHOST}:{port}", f"localhost:{port}"}
        guests = None
        if options.share:
            address = address_of(options.share_on)
            bound.append(stack.enter_context(listen(address, port)))
            hosts.add(f"{address}:{port}")
            guests = Guests(lambda token: show(f"http://{address}:{port}/?token={token}"))
        if port == _WEB_PORT:  # browsers omit this port
            hosts |= {host.partition(":")[0] for host in hosts}
        _announce(f"http://{LOCALHOST}:{port}/", browser=options.browser)
        if guests:
            guests.renew_token()
        server = _server(AccessMiddleware(application(stand), frozenset(hosts), guests))
        if hasattr(signal, "SIGHUP"):  # sent when the terminal is closed
            signal.signal(signal.SIGHUP, lambda *_: server.handle_exit(signal.SIGTERM, None))
        server.run(sockets=bound)


def _announce(address: str, *, browser: bool) -> None:
    print(f"the stand is at {address}", flush=True)
    print("Ctrl-C ends it. Start with the volume turned down.", flush=True)
    if browser:
        threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()


def _server(app: AccessMiddleware) -> uvicorn.Server:
    logging.getLogger("uvicorn.error").setLevel(logging.ERROR)
    return uvicorn.Server(
        uvicorn.Config(
            app,
            http=Connection,
            ws=ClientSocket,
            ws_max_size=_LARGEST_MESSAGE,
            ws_per_message_deflate=False,
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
