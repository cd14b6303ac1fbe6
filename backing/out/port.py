"""MIDI ports through python-rtmidi, the only module that imports the driver.

Which port a name means and how to silence a synthesizer are plain functions.
"""

from __future__ import annotations

import contextlib
import os
import re
import sys
import time
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Any

from backing.errors import BackingError
from backing.out.channels import CHANNELS

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from backing.out.synth import Synth

CLIENT_NAME = "backing"
DRAIN_SECONDS = 0.1
"""How long a port stays open after the last message: some systems lose it otherwise."""

_ALSA_SEQUENCER = Path("/dev/snd/seq")
"""Without this device ALSA only prints errors."""

_ALL_NOTES_OFF, _ALL_SOUND_OFF = 123, 120


class PortError(BackingError):
    """A MIDI port that is missing or cannot be opened."""


def match_port(wanted: str, names: Sequence[str]) -> str | None:
    """Return the port with a name or a part of it, or None.

    The whole name wins over its beginning, and that over another part. Case does not matter.
    """
    low = wanted.lower()
    ranks = (
        lambda name: name == wanted,
        lambda name: name.lower() == low,
        lambda name: name.lower().startswith(low),
        lambda name: low in name.lower(),
    )
    return next((name for fits in ranks for name in names if fits(name)), None)


def same_port(name: str, names: Sequence[str]) -> str | None:
    """Return the port with a name, or with the same name but other numbers, or None.

    Systems renumber clients and ports: "FLUID Synth (1234):0 128:0" may come back as
    "FLUID Synth (2345):0 129:0".
    """
    if name in names:
        return name
    bare = _without_numbers(name)
    return next((each for each in names if _without_numbers(each) == bare), None)


def _without_numbers(name: str) -> str:
    return re.sub(r"[0-9]+", "", name)


def silence() -> list[bytes]:
    """Return the messages that silence the channels of all players."""
    return [
        bytes((0xB0 | channel, control, 0))
        for channel in CHANNELS.values()
        for control in (_ALL_NOTES_OFF, _ALL_SOUND_OFF)
    ]


def port_advice(platform: str) -> str:
    """Return advice on how to get a port on a platform, named as in `sys.platform`."""
    if platform.startswith("linux"):
        return (
            "start a synthesizer such as FluidSynth first, or JACK, or open a port of our own "
            "with --virtual NAME and connect it"
        )
    if platform == "darwin":
        return (
            "start a synthesizer or a sequencer first, switch on the IAC bus in Audio MIDI Setup, "
            "or open a port of our own with --virtual NAME"
        )
    return "start a synthesizer first, or add a loopback MIDI port to the system and name it"


class OutputPort:
    """A MIDI output.

    Attributes:
        name: the port's name.

    Args:
        wanted: a name or a part of it; "" for the first port.
        virtual: whether to open a port of this name for other programs to connect to.

    Raises:
        PortError: when there is no such port, or no MIDI system.
    """

    def __init__(self, wanted: str = "", *, virtual: bool = False) -> None:
        self._driver = _open_driver("out")
        self._virtual = virtual
        self._lock = Lock()
        self._is_open = False
        self._closed = False
        if virtual:
            if sys.platform == "win32":
                raise PortError("this system has no virtual ports: " + port_advice(sys.platform))
            self._open(wanted)
            return
        names = self.names()
        name = match_port(wanted, names) if wanted else next(iter(names), None)
        if name is None:
            listed = f"there are {', '.join(names)}" if names else "there are none"
            found = f"no MIDI port is called {wanted}" if wanted else "no MIDI port"
            raise PortError(f"{found}; {listed}: {port_advice(sys.platform)}")
        self._open(name, names)

    def _open(self, name: str, names: Sequence[str] = ()) -> None:
        """Open the port with this name, or a virtual one."""
        try:
            if self._virtual:
                self._driver.open_virtual_port(name)
            else:
                self._driver.open_port(names.index(name), CLIENT_NAME)
        except Exception as error:
            raise PortError(f"the port {name} cannot be opened: {error}") from None
        self.name = name
        self._is_open = True

    def names(self) -> list[str]:
        """Return the names of all output ports; none when the MIDI system is gone."""
        try:
            return list(self._driver.get_ports())
        except Exception:
            return []

    @property
    def is_there(self) -> bool:
        """Whether the port still exists, by its name: a lost port raises no error."""
        return self._virtual or (self._is_open and self.name in self.names())

    def reconnect(self) -> bool:
        """Look for the port by its name and reopen it; return whether it is open.

        Messages sent meanwhile are dropped, so that the sender never waits for the system.
        """
        with self._lock:
            was_open, self._is_open = self._is_open, False
        if was_open:
            with contextlib.suppress(Exception):
                self._driver.close_port()
        names = self.names()
        name = same_port(self.name, names)
        if name is not None:
            with contextlib.suppress(PortError):
                self._open(name, names)
        return self._is_open

    def send(self, message: bytes) -> None:
        """Send a message; drop it when the port is gone."""
        with self._lock:
            if self._is_open:
                with contextlib.suppress(Exception):
                    self._driver.send_message(message)

    def close(self) -> None:
        """Silence the synthesizer, send the last messages and close; again does nothing."""
        if self._closed:
            return
        self._closed = True
        for message in silence():
            self.send(message)
        time.sleep(DRAIN_SECONDS)
        with self._lock:
            self._is_open = False
            with contextlib.suppress(Exception):
                self._driver.close_port()
                self._driver.delete()


def open_output(name: str = "", *, virtual: bool = False) -> OutputPort | Synth:
    """Open a MIDI port; without a name the first one, or FluidSynth if there is none.

    Args:
        name: the name of the port or a part of it; "" for any output.
        virtual: whether to open a port of this name for other programs to connect to.

    Raises:
        PortError: when there is no such port, or neither a port nor FluidSynth.
    """
    try:
        return OutputPort(name, virtual=virtual)
    except PortError as no_port:
        if name:
            raise
        from backing.out.synth import Synth  # imports this module

        try:
            return Synth()
        except PortError as no_synth:
            raise PortError(f"{no_port}; {no_synth}") from None


class InputPort:
    """A MIDI input, for pedals and controllers.

    Args:
        wanted: a name or a part of it.
        on_message: is called with each message, in the driver's thread.
        virtual: whether to open a port of this name for other programs to connect to.

    Raises:
        PortError: when there is no such port, or no MIDI system.
    """

    def __init__(
        self, wanted: str, on_message: Callable[[bytes], None], *, virtual: bool = False
    ) -> None:
        self._driver = _open_driver("in")
        self._closed = False
        self._driver.set_callback(lambda event, _: on_message(bytes(event[0])))
        try:
            self._open(wanted, virtual=virtual)
        except PortError:
            raise
        except Exception as error:
            raise PortError(f"the MIDI input {wanted} cannot be opened: {error}") from None

    def _open(self, wanted: str, *, virtual: bool) -> None:
        if virtual:
            self._driver.open_virtual_port(wanted)
            return
        names = list(self._driver.get_ports())
        name = match_port(wanted, names)
        if name is None:
            listed = f"there are {', '.join(names)}" if names else "there are none"
            raise PortError(f"no MIDI input is called {wanted}; {listed}")
        self._driver.open_port(names.index(name), CLIENT_NAME)

    def close(self) -> None:
        """Close the port; again does nothing, since the driver would crash."""
        if self._closed:
            return
        self._closed = True
        with contextlib.suppress(Exception):
            self._driver.cancel_callback()
            self._driver.close_port()
            self._driver.delete()


def port_names() -> tuple[list[str], list[str]]:
    """Return the names of all outputs and inputs.

    Raises:
        PortError: when there is no MIDI system.
    """
    return _names("out"), _names("in")


def _names(direction: str) -> list[str]:
    """Return the names of the ports, and delete the client: a MIDI system allows few."""
    driver = _open_driver(direction)
    try:
        return list(driver.get_ports())
    finally:
        with contextlib.suppress(Exception):
            driver.delete()


def _open_driver(direction: str) -> Any:
    """Return a client of the first MIDI system that works."""
    try:
        import rtmidi
    except ImportError:
        raise PortError(
            "MIDI ports need python-rtmidi, which is not installed: pip install 'backing[live]'"
        ) from None
    kind = rtmidi.MidiOut if direction == "out" else rtmidi.MidiIn
    reasons = []
    for api in rtmidi.get_compiled_api():
        if api == rtmidi.API_RTMIDI_DUMMY or (
            api == rtmidi.API_LINUX_ALSA and not _ALSA_SEQUENCER.exists()
        ):
            continue
        try:
            with _quiet():
                return kind(api, CLIENT_NAME)
        except Exception as error:
            reasons.append(str(error))
    raise PortError(
        "no MIDI system works: "
        + port_advice(sys.platform)
        + (f" ({'; '.join(reasons)})" if reasons else "")
    )


@contextlib.contextmanager
def _quiet() -> Iterator[None]:
    """Suppress what the system's library writes to standard error."""
    sys.stderr.flush()
    standard_error = os.dup(2)
    try:
        with Path(os.devnull).open("wb") as nowhere:
            os.dup2(nowhere.fileno(), 2)
        yield
    finally:
        os.dup2(standard_error, 2)
        os.close(standard_error)
