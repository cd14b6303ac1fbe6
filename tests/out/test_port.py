"""The functions of MIDI ports that need no driver."""

from __future__ import annotations

import pytest

from backing.out.port import match_port, port_advice, same_port, silence

NAMES = ["Midi Through", "FLUID Synth (12)", "fluid", "Synth Out"]


@pytest.mark.parametrize(
    "wanted, found",
    [
        ("fluid", "fluid"),
        ("FLUID", "fluid"),
        ("fluid s", "FLUID Synth (12)"),
        ("synth", "Synth Out"),
        ("through", "Midi Through"),
        ("(12)", "FLUID Synth (12)"),
        ("violin", None),
    ],
)
def test_a_part_of_the_name_will_do(wanted: str, found: str | None) -> None:
    """The whole name wins over its beginning, that over another part; case does not matter."""
    assert found == match_port(wanted, NAMES)


@pytest.mark.parametrize(
    "name, names, found",
    [
        ("FLUID Synth (12):0 128:0", ["Through 14:0", "FLUID Synth (77):0 129:0"], 1),
        ("Keys 1", ["Keys 2", "Keys 1"], 1),
        ("Keys", ["Keys and more"], None),
        ("Keys", [], None),
    ],
)
def test_a_port_is_known_whatever_its_numbers(
    name: str, names: list[str], found: int | None
) -> None:
    """A port is found again with other numbers in its name; another port does not match."""
    assert same_port(name, names) == (None if found is None else names[found])


def test_silence_is_all_notes_off_then_all_sound_off() -> None:
    """The channel of each player gets controllers 123 and 120 (MIDI 1.0)."""
    messages = [(message[0], message[1], message[2]) for message in silence()]

    assert messages == [
        (0xB0 | channel, control, 0) for channel in (0, 1, 2, 9) for control in (123, 120)
    ]


@pytest.mark.parametrize(
    "platform, word",
    [("linux", "--virtual"), ("darwin", "IAC"), ("win32", "loopback")],
)
def test_the_advice_for_each_system(platform: str, word: str) -> None:
    """The advice fits the system; Windows has no virtual ports."""
    assert word in port_advice(platform)
    assert ("--virtual" in port_advice(platform)) == (platform != "win32")
