"""The plain functions beside the MIDI driver."""

from __future__ import annotations

import pytest

from backing.out.port import match_port, silence, what_to_do

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
    """The whole name wins over its beginning, that over a part; capitals do not matter."""
    assert found == match_port(wanted, NAMES)


def test_silence_is_all_notes_off_then_all_sound_off() -> None:
    """Every channel of ours gets controllers 123 and 120 (MIDI 1.0)."""
    messages = [(message[0], message[1], message[2]) for message in silence()]

    assert messages == [
        (0xB0 | channel, control, 0) for channel in (0, 1, 9) for control in (123, 120)
    ]


@pytest.mark.parametrize(
    "platform, word",
    [("linux", "--virtual"), ("darwin", "IAC"), ("win32", "loopback")],
)
def test_each_system_is_told_what_to_do(platform: str, word: str) -> None:
    """Without a port the player is told what to do on this system; Windows has no virtual ports."""
    assert word in what_to_do(platform)
    assert ("--virtual" in what_to_do(platform)) == (platform != "win32")
