"""Run a command of `backing`, print the modules that are loaded at its first note, and end there.

    python tests/first_note.py play demos/quarry-hill.chart

MIDI goes nowhere. A command that plays nothing prints the modules at its end.
"""

from __future__ import annotations

import os
import sys

from backing.cli import main
from backing.out import port

NOTE_ON = 0x9


class Nowhere:
    """An output without a driver."""

    name, is_there = "nowhere", True

    def __init__(self, *_: object, **__: object) -> None:
        """Open nothing."""

    def send(self, message: bytes) -> None:
        """End the process at the first note."""
        if message[0] >> 4 == NOTE_ON:
            end()

    def close(self) -> None:
        """Close nothing."""


def end() -> None:
    """Print the modules and end the process."""
    os.write(1, " ".join(sys.modules).encode())
    os._exit(0)


port.OutputPort = Nowhere  # type: ignore[assignment,misc]
try:
    main()
except SystemExit:
    end()
