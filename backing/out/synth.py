"""FluidSynth by its library, through pyfluidsynth (an extra), for players without a MIDI port."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from backing.out.port import PortError

_GAIN = 0.4
"""A moderate loudness to begin with, for the sake of ears."""


def sound_font() -> Path | None:
    """Return the sound font that comes with pretty_midi, or None without it."""
    from importlib.util import find_spec

    spec = find_spec("pretty_midi")
    if spec is None or spec.origin is None:
        return None
    path = Path(spec.origin).parent / "TimGM6mb.sf2"
    return path if path.is_file() else None


class Synth:
    """FluidSynth in this process.

    Attributes:
        name: for messages to the player.

    Args:
        driver: name of an audio driver of FluidSynth; None for the system's usual one, "" for none
            at all, so that `samples` renders.

    Raises:
        PortError: when the library, its Python binding or a sound font is missing.
    """

    name = "FluidSynth"
    is_there = True

    def __init__(self, driver: str | None = None) -> None:
        self._synth = _load()
        font = sound_font()
        if font is None:
            raise PortError("no sound font is at hand: pip install pretty_midi brings one")
        self._font = self._synth.sfload(str(font))
        for channel in range(16):
            bank = 128 if channel == 9 else 0
            self._synth.program_select(channel, self._font, bank, 0)
        if driver != "":
            self._synth.start(driver=driver)
            if not self._synth.audio_driver:
                self._synth.delete()
                raise PortError("FluidSynth finds no sound device: connect one and try again")

    def reconnect(self) -> bool:
        """Say that it is there: a library does not go."""
        return True

    def send(self, message: bytes) -> None:
        """Play one message; those that a synthesizer does not know are left out."""
        kind, channel = message[0] & 0xF0, message[0] & 0x0F
        if kind == 0x90:
            self._synth.noteon(channel, message[1], message[2])
        elif kind == 0x80:
            self._synth.noteoff(channel, message[1])
        elif kind == 0xB0:
            self._synth.cc(channel, message[1], message[2])
        elif kind == 0xC0:
            bank = 128 if channel == 9 else 0
            self._synth.program_select(channel, self._font, bank, message[1])

    def samples(self, frames: int) -> Any:
        """Return so many frames of sound, 16-bit stereo at 44.1 kHz, when there is no driver."""
        return self._synth.get_samples(frames)

    def close(self) -> None:
        """Let the library go."""
        self._synth.delete()


def _load() -> Any:
    try:
        import fluidsynth
    except ImportError:
        raise PortError(
            "FluidSynth can be used without a port: install it and pip install 'backing[synth]'"
        ) from None
    except Exception as error:  # the binding raises what it likes without the library
        raise PortError(f"FluidSynth's library cannot be loaded: {error}") from None
    return fluidsynth.Synth(gain=_GAIN)
