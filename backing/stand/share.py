"""Letting a tablet of the same network in: an address, a link that is good once, and its code.

Conventions: the network is not trusted, but it is not encrypted either: who can listen to it can
read what is said. That is told where a stand is shared.
"""

from __future__ import annotations

import io
import socket
import sys

from backing.errors import SettingsError

_WHITE_ON_BLACK, _PLAIN = "\x1b[97;40m", "\x1b[0m"
"""Colours (ECMA-48)."""

_ANYWHERE = ("192.0.2.1", 9)
"""An address for documentation (RFC 5737): nothing is sent to it, it only asks for the way."""


def address_of(wanted: str | None) -> str:
    """Return the address of this computer in its network.

    Args:
        wanted: an address of ours, or None for that of the usual way out.

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
            "this computer is in no network: connect it, or give its address with --share-on"
        )
    return address


def code_of(link: str) -> str:
    """Return a QR code of a link (ISO/IEC 18004) in half blocks, light signs being light."""
    import segno

    drawn = io.StringIO()
    segno.make(link, error="m", micro=False).terminal(out=drawn, compact=True)
    return drawn.getvalue()


def _on_black(drawing: str) -> str:
    """Return a drawing for a terminal, whatever its colours: white on black."""
    return "\n".join(f"{_WHITE_ON_BLACK}{line}{_PLAIN}" for line in drawing.splitlines())


def show(link: str) -> None:
    """Print a link and its code."""
    print(f"\non another device open {link}", flush=True)
    print("The link is good once; the next one is shown when it has been used.", flush=True)
    print("What is said between the two is not encrypted: share in your own network only.")
    drawing = code_of(link)
    try:
        print(_on_black(drawing) if sys.stdout.isatty() else drawing, flush=True)
    except UnicodeEncodeError:  # a terminal without block characters
        print("(this terminal cannot show the code)", flush=True)
