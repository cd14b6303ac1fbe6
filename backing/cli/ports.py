"""`backing ports`: list the MIDI ports."""

from __future__ import annotations

EXAMPLE = "backing ports"


def run() -> None:
    """List the MIDI ports."""
    from backing.out.port import port_names

    outputs, inputs = port_names()
    for title, names in (("outputs, for --port", outputs), ("inputs, for --pedal", inputs)):
        print(f"{title}:")
        print(*(f"  {name}" for name in names or ["none"]), sep="\n")
