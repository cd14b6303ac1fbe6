"""Where the band sounds: in the browser, or at a MIDI port of this computer."""

from __future__ import annotations

from typing import TYPE_CHECKING

from backing.errors import BackingError
from backing.out.port import OutputPort, PortError, port_names

if TYPE_CHECKING:
    from backing.live.session import Output

BROWSER = "browser"
"""The output that is no port: pages play the notes themselves."""

_PORT = "port:"


class OutputSwitch:
    """An output that may be exchanged while the band plays.

    Attributes:
        chosen: `BROWSER`, or "port:" and a port's name.
    """

    def __init__(self) -> None:
        self.chosen = BROWSER
        self._port: Output | None = None

    @property
    def name(self) -> str:
        """What it is called, for messages to the player."""
        return self._port.name if self._port else "the browser"

    @property
    def is_there(self) -> bool:
        """Whether messages still arrive."""
        return self._port is None or self._port.is_there

    def reconnect(self) -> bool:
        """Try to find it again; return whether that went well."""
        return self._port is None or self._port.reconnect()

    def send(self, message: bytes) -> None:
        """Send one message; the browser needs none."""
        port = self._port
        if port:
            port.send(message)

    def close(self) -> None:
        """Leave it open for the next tune, which has sent its note-offs."""

    def choose(self, name: str) -> None:
        """Go over to another output; the old one is silenced and let go.

        Raises:
            PortError: when there is no such port; nothing has changed then.
        """
        if name == self.chosen:
            return
        if name != BROWSER and not name.startswith(_PORT):
            raise PortError(f"'{name[:80]}' is no output: choose browser, or port: and its name")
        port = None if name == BROWSER else OutputPort(name.removeprefix(_PORT))
        old, self._port = self._port, port
        self.chosen = f"{_PORT}{port.name}" if port else BROWSER
        if old:
            old.close()

    def let_go(self) -> None:
        """Silence and close what is open."""
        self.choose(BROWSER)


def outputs() -> list[tuple[str, str]]:
    """Return where the band may sound, as `choose` wants it, each with a word for it."""
    try:
        names = port_names()[0]
    except BackingError:
        names = []
    return [(BROWSER, "This page"), *((f"{_PORT}{name}", f"MIDI: {name}") for name in names)]
