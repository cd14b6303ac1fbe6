"""The audio output: the browser, or a MIDI port of this computer."""

from __future__ import annotations

from typing import TYPE_CHECKING

from backing.errors import BackingError
from backing.out.port import OutputPort, PortError, port_names

if TYPE_CHECKING:
    from backing.live.session import Output

BROWSER = "browser"
"""The output for which pages play the notes themselves."""

_PORT = "port:"


class OutputSwitch:
    """An output that can be switched while the band plays.

    Attributes:
        chosen: `BROWSER`, or "port:" and a port's name.
    """

    def __init__(self) -> None:
        self.chosen = BROWSER
        self._port: Output | None = None

    @property
    def name(self) -> str:
        """Its name in messages to the player."""
        return self._port.name if self._port else "the browser"

    @property
    def is_there(self) -> bool:
        """Whether the output is still connected."""
        return self._port is None or self._port.is_there

    def reconnect(self) -> bool:
        """Try to connect again; return whether that succeeded."""
        return self._port is None or self._port.reconnect()

    def send(self, message: bytes) -> None:
        """Send a MIDI message to the port, if there is one."""
        port = self._port
        if port:
            port.send(message)

    def close(self) -> None:
        """Keep the port open for the next tune; the session has sent its note-offs."""

    def choose(self, name: str) -> None:
        """Switch to another output; silence and close the old one.

        Raises:
            PortError: when there is no such port; the old output stays.
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

    def release(self) -> None:
        """Silence and close the port, if one is open."""
        self.choose(BROWSER)


def outputs() -> list[tuple[str, str]]:
    """Return the outputs that there are: each name, as `choose` takes it, and its label."""
    try:
        names = port_names()[0]
    except BackingError:
        names = []
    return [(BROWSER, "This page"), *((f"{_PORT}{name}", f"MIDI: {name}") for name in names)]
