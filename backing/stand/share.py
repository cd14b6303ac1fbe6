"""Sharing with a device in the same network: an address, and a one-time link with its QR code.

Conventions: the connection is not encrypted, so that others in the network may read it; the player
is told so.
"""

from __future__ import annotations

import io
import socket
import sys

from backing.errors import SettingsError

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


def _on_black(drawing: str) -> str:
    """Return a drawing in white on black, whatever the terminal's colours are."""
    return "\n".join(f"{_WHITE_ON_BLACK}{line}{_PLAIN}" for line in drawing.splitlines())


def show(link: str) -> None:
    """Print a link and its QR code."""
    print(f"\non another device open {link}", flush=True)
    print("The link works once; the next one is shown after its use.", flush=True)
    print("The connection is not encrypted: share only in your own network.")
    drawing = code_of(link)
    try:
        print(_on_black(drawing) if sys.stdout.isatty() else drawing, flush=True)
    except UnicodeEncodeError:  # a terminal without block characters
        print("(this terminal cannot show the code)", flush=True)
