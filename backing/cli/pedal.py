"""`backing pedal`: the commands of a pedal's buttons."""

from __future__ import annotations

from typing import Annotated

import typer

EXAMPLE = "backing pedal FS-1 --learn"


def run(
    port: Annotated[
        str,
        typer.Argument(metavar="PORT", help="The pedal's MIDI input: its name or a part of it."),
    ] = "",
    learn: Annotated[
        bool, typer.Option("--learn", help="Assign: press a button, then type its command.")
    ] = False,
) -> None:
    """Show what the buttons of a pedal do, or assign them."""
    from backing.live.pedal import load_mapping, mapping_file

    path = mapping_file()
    buttons = load_mapping(path) or {}
    if learn:
        _learn(port, buttons)
        return
    print(f"{path}:")
    rows = [f"  {button}: {line}" for button, line in buttons.items()]
    print(*(rows or ["  none yet"]), sep="\n")


def _learn(port: str, buttons: dict[str, str]) -> None:
    """Assign commands to buttons until an empty line; write the file after each one.

    A line that is not a command is reported and assigned to nothing.
    """
    import queue

    from backing.control.commands import COMMANDS
    from backing.errors import BackingError, SettingsError
    from backing.live.pedal import Presses, mapping_file, mapping_text, read_mapping
    from backing.out.files import make_folder, write_file
    from backing.out.port import InputPort

    if not port:
        raise SettingsError("name the pedal's port; see: backing ports")
    pressed: queue.Queue[str] = queue.Queue()
    presses = Presses()

    def receive(message: bytes) -> None:
        button = presses.button(message)
        if button:
            pressed.put(button)

    pedal = InputPort(port, receive)
    path = mapping_file()
    make_folder(path.parent)
    print("commands for a button:")
    print(*(f"  {command.help}" for command in COMMANDS.values()), sep="\n")
    try:
        while True:
            print("press a button, or Ctrl-C when done ...", flush=True)
            button = pressed.get()
            line = _typed(f"command for {button}: ")
            if not line:
                return
            updated = {**buttons, button: line}
            try:
                read_mapping(mapping_text(updated), str(path))
            except BackingError as error:
                print(error)
            else:
                buttons = updated
                write_file(path, mapping_text(buttons).encode(), force=True)
            while not pressed.empty():
                pressed.get()
    finally:
        pedal.close()


def _typed(prompt: str) -> str:
    """Return the line that the user types; "" at the end of the input."""
    try:
        return input(prompt).strip()
    except EOFError:
        return ""
