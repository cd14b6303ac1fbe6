"""The server: its sockets, its addresses and its run until Ctrl-C; sharing it in a network.

Conventions: a device in the same network enters by a one-time link, shown with its QR code. The
connection is not encrypted, so that others in the network may read it; the player is told so.
"""

from __future__ import annotations

import errno
import io
import logging
import signal
import socket
import sys
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
from backing.stand.songbook import Songbook
from backing.stand.stand import Stand
from backing.stand.timeouts import ClientSocket, Connection

if TYPE_CHECKING:
    from pathlib import Path


_WHITE_ON_BLACK, _PLAIN = "\x1b[97;40m", "\x1b[0m"
"""Colours (ECMA-48)."""

_ANYWHERE = ("192.0.2.1", 9)
"""An address for documentation (RFC 5737): used to find the route, nothing is sent to it."""


def address_of(wanted: str | None) -> str:
    """Return the address of this computer in its network.

    Args:
        wanted: an address of ours; None for that of the default route.

    Raises:
        SettingsError: when there is no network.
    """
    if wanted is not None:
        return wanted
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(_ANYWHERE)
            address = str(probe.getsockname()[0])
        except OSError:
            address = ""
    if not address or address.startswith("127."):
        raise SettingsError(
            "this computer is not in a network: connect it, or give its address with --share-on"
        )
    return address


def code_of(link: str) -> str:
    """Return the QR code of a link (ISO/IEC 18004) in half blocks, drawn for a dark terminal."""
    import segno

    code = io.StringIO()
    segno.make(link, error="m", micro=False).terminal(out=code, compact=True)
    return code.getvalue()


def show(link: str) -> None:
    """Print a link and its QR code."""
    print(f"\non another device open {link}", flush=True)
    print("The link works once; the next one is shown after its use.", flush=True)
    print("The connection is not encrypted: share only in your own network.")
    drawing = code_of(link)
    if sys.stdout.isatty():  # in white on black, whatever the terminal's colours are
        lines = drawing.splitlines()
        drawing = "\n".join(f"{_WHITE_ON_BLACK}{line}{_PLAIN}" for line in lines)
    try:
        print(drawing, flush=True)
    except UnicodeEncodeError:  # a terminal without block characters
        print("(this terminal cannot show the code)", flush=True)


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
