"""Foot pedals and other MIDI controllers: each button sends a command line.

The mapping is a TOML file with a table `[buttons]`, from a message to a line.

    [buttons]
    "note 60" = "tap"
    "control 64" = "last-time"
    "program 3" = "part next"
    "note 62" = "mute chop | unmute chop"
"""

from __future__ import annotations

import json
import os
import re
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING

from backing.control.commands import COMMANDS, split_line
from backing.errors import BackingError, FileError
from backing.out.port import InputPort
from backing.reading import UnreadableError, read_text

if TYPE_CHECKING:
    from collections.abc import Callable

FILE_VARIABLE = "BACKING_PEDAL"
"""The environment variable that names the mapping file."""

_PRESSED = 64
_NUMBER = re.compile("0|[1-9][0-9]{0,2}")
_KINDS = {0x90: "note", 0xB0: "control", 0xC0: "program"}


def mapping_file() -> Path:
    """Return the path of the mapping file."""
    named = os.environ.get(FILE_VARIABLE)
    return Path(named) if named else Path.home() / ".backing" / "pedal.toml"


def button_of(message: bytes) -> str | None:
    """Return the name of the button that a message presses, or None.

    A controller is pressed from 64 upwards, a note by a note-on.
    """
    kind = _KINDS.get(message[0] & 0xF0)
    if kind is None or len(message) < 2:
        return None
    if kind != "program" and (
        len(message) < 3 or message[2] < (_PRESSED if kind == "control" else 1)
    ):
        return None
    return f"{kind} {message[1]}"


class Presses:
    """Finds presses among the messages of a pedal.

    A pedal that sends all values on its way down is pressed once, when it reaches 64. A pedal that
    sends no release is pressed each time it repeats a value.
    """

    def __init__(self) -> None:
        self._values: dict[bytes, int] = {}

    def button(self, message: bytes) -> str | None:
        """Return the name of the button that a message presses, or None."""
        name = button_of(message)
        if message[0] & 0xF0 != 0xB0 or len(message) < 3:
            return name
        before, value = self._values.get(message[:2], 0), message[2]
        self._values[message[:2]] = value
        return name if before < _PRESSED or value == before else None


def load_mapping(path: Path) -> dict[str, str] | None:
    """Return the mapping of a file; None when there is no such file.

    Raises:
        BackingError: when it cannot be read or has an error.

    """
    try:
        text = read_text(path, "save the mapping as plain text in UTF-8")
    except UnreadableError as error:
        if error.missing:
            return None
        raise error.of(FileError, str(path)) from None
    return read_mapping(text, str(path))


def read_mapping(text: str, source: str) -> dict[str, str]:
    """Read the text of a mapping file.

    Raises:
        BackingError: when it is not TOML, has other keys, or a line is not a command.

    """
    try:
        values = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise BackingError(f"{source}: {error}: the mapping must be a TOML file") from None
    buttons = values.get("buttons")
    if set(values) != {"buttons"} or not isinstance(buttons, dict):
        raise BackingError(
            f"{source}: the mapping must have one table, [buttons], and nothing else"
        )
    for button, line in buttons.items():
        kind, _, number = button.partition(" ")
        if kind not in _KINDS.values() or not _NUMBER.fullmatch(number) or int(number) > 127:
            raise BackingError(
                f"{source}: '{button}' is not a button: write note, control or program "
                "and a number from 0 to 127"
            )
        if not isinstance(line, str) or not all(
            words and words[0].lower() in COMMANDS for words in split_line(line)
        ):
            raise BackingError(
                f"{source}: '{line}' of '{button}' is not a command: "
                f"choose from {', '.join(COMMANDS)}"
            )
    return buttons


def mapping_text(buttons: dict[str, str]) -> str:
    """Return the text of a mapping file."""
    rows = [
        f"{_quoted(button)} = {_quoted(line)}"
        for button, line in sorted(buttons.items(), key=_rank)
    ]
    return "\n".join(["[buttons]", *rows]) + "\n"


def _rank(entry: tuple[str, str]) -> tuple[str, int]:
    kind, _, number = entry[0].partition(" ")
    return kind, int(number)


def _quoted(text: str) -> str:
    """Return a text as a TOML string."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


class Pedal:
    """A pedal that sends command lines.

    Args:
        name: its MIDI input, or a part of the name.
        send: receives each line.

    Raises:
        BackingError: when there is no mapping or no such input.

    """

    def __init__(self, name: str, send: Callable[[str], None]) -> None:
        path = mapping_file()
        buttons = load_mapping(path)
        if buttons is None:
            raise BackingError(
                f"{path}: there is no mapping yet: make one with backing pedal --learn"
            )
        presses = Presses()

        def pressed(message: bytes) -> None:
            line = buttons.get(presses.button(message) or "")
            if line:
                send(line)

        self._port = InputPort(name, pressed)

    def close(self) -> None:
        """Close the MIDI input."""
        self._port.close()
