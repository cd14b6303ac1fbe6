"""Play through FluidSynth's library and pyfluidsynth (an extra), without a MIDI port."""

from __future__ import annotations

from typing import Any

from backing.out.port import PortError
from backing.out.renderer import RenderError, usual_sound_font

_GAIN = 0.4
"""A moderate loudness at the start, to protect ears."""


class Synth:
    """FluidSynth in this process.

    Attributes:
        name: its name in messages.

    Args:
        driver: an audio driver of FluidSynth; None for the system's default, "" for none: then
            `samples` renders.

    Raises:
        PortError: when the library, its Python binding or a sound font is missing.
    """

    name = "FluidSynth"
    is_there = True

    def __init__(self, driver: str | None = None) -> None:
        self._synth = _load()
        try:
            font = usual_sound_font()
        except RenderError as error:
            raise PortError(str(error)) from None
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
        """Return True: the library cannot be disconnected."""
        return True

    def send(self, message: bytes) -> None:
        """Play a note-on, note-off, control change or program change; ignore other messages."""
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
        """Render frames of 16-bit stereo at 44.1 kHz; only without a driver."""
        return self._synth.get_samples(frames)

    def close(self) -> None:
        """Delete the synthesizer."""
        self._synth.delete()


def _load() -> Any:
    try:
        import fluidsynth
    except ImportError:
        raise PortError(
            "FluidSynth is not installed: install it, then pip install 'backing[synth]'"
        ) from None
    except Exception as error:  # without the library the binding raises various exceptions
        raise PortError(f"FluidSynth's library cannot be loaded: {error}") from None
    return fluidsynth.Synth(gain=_GAIN)
