"""`backing pedal`: which button says what."""

from __future__ import annotations

from typing import Annotated

import typer

EXAMPLE = "backing pedal FS-1 --learn"


def run(
    port: Annotated[
        str, typer.Argument(metavar="PORT", help="The pedal's MIDI input, or a part of its name.")
    ] = "",
    learn: Annotated[
        bool, typer.Option("--learn", help="Press a button, then type what it says.")
    ] = False,
) -> None:
    """Show what the buttons of a pedal say, or assign them."""
    from backing.live.pedal import mapping_file, read_mapping

    path = mapping_file()
    buttons = read_mapping(path.read_text(encoding="utf-8"), str(path)) if path.exists() else {}
    if learn:
        _learn(port, buttons)
        return
    print(f"{path}:")
    rows = [f"  {button}: {line}" for button, line in buttons.items()]
    print(*(rows or ["  none yet"]), sep="\n")


def _learn(port: str, buttons: dict[str, str]) -> None:
    """Let the user press and assign until an empty line; the file is written after each."""
    import queue

    from backing.errors import SettingsError
    from backing.live.pedal import button_of, mapping_file, mapping_text, read_mapping
    from backing.live.verbs import VERBS
    from backing.out.files import write_file
    from backing.out.port import InputPort

    if not port:
        raise SettingsError("name the pedal's port; see: backing ports")
    pressed: queue.Queue[str] = queue.Queue()

    def take(message: bytes) -> None:
        button = button_of(message)
        if button:
            pressed.put(button)

    pedal = InputPort(port, take)
    path = mapping_file()
    path.parent.mkdir(parents=True, exist_ok=True)
    print(f"wishes: {', '.join(VERBS)}")
    try:
        while True:
            print("press a button, or Ctrl-C when done ...", flush=True)
            button = pressed.get()
            line = input(f"{button} says: ").strip()
            if not line:
                return
            wished = {**buttons, button: line}
            read_mapping(mapping_text(wished), str(path))
            buttons = wished
            write_file(path, mapping_text(buttons).encode(), force=True)
            while not pressed.empty():
                pressed.get()
    finally:
        pedal.close()
