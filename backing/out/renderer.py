"""Render MIDI through a sound font, in a child process.

The library (`midirenderer`) holds the interpreter's lock while it renders, and a sound font that it
does not expect can end the process. So a child process with limited memory and time does the work,
and each of its failures becomes a `RenderError`.
"""

from __future__ import annotations

import subprocess
import sys
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

from backing.errors import BackingError
from backing.out import rendering
from backing.out.tracks import track_chunk, variable_length
from backing.reading import UnreadableError, read_file

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from backing.out.tracks import MidiLength

RATE = 48_000
"""Frames a second."""

TAIL_SECONDS = 2.5
"""How long the last notes ring after the end of a file."""

MOST_SECONDS = 3600.0
"""The longest file that is rendered: an hour."""

_BASE_BYTES, _BYTES_A_SECOND, _FONT_COPIES = 512 << 20, 4 << 20, 6
"""Memory limit of the child. Measured: 2 MB a second of sound, 40 MB for a font of 6 MB."""

_BASE_SECONDS, _REAL_TIME = 30.0, 0.5
"""Time limit of the child: seconds, and seconds per second of sound. Measured: 0.02 and 0.01; a
slow machine may need much more."""

_FONT_FAULT = "SoundFont error: "
"""How the renderer's message about an unreadable sound font begins."""

_LONGEST_REASON = 200
"""Characters of a message that are shown."""


class RenderError(BackingError):
    """A performance that cannot be rendered."""


def usual_sound_font() -> Path:
    """Return the sound font that comes with pretty_midi.

    Raises:
        RenderError: when it is missing.
    """
    spec = find_spec("pretty_midi")
    path = Path(spec.origin).parent / "TimGM6mb.sf2" if spec and spec.origin else None
    if path is None or not path.is_file():
        raise RenderError("no sound font is installed: pip install pretty_midi brings one")
    return path


def check_sound_font(path: Path) -> None:
    """Check by its first bytes that a file is a SoundFont 2 file.

    Raises:
        RenderError: when it is another file, or cannot be read.
    """
    try:
        head = read_file(path, 12)
    except UnreadableError as error:
        raise RenderError(f"the sound font {path} cannot be read: {error}") from None
    if head[:4] != b"RIFF" or head[8:] != b"sfbk":
        raise RenderError(f"{path} is not a sound font: give a SoundFont 2 file (.sf2)")


def render_pcm(midi: bytes, length: MidiLength, sound_font: Path) -> NDArray[np.int16]:
    """Return the sound of a MIDI file and of the `TAIL_SECONDS` after it.

    Args:
        midi: a well-formed file of format 1; the renderer trusts every byte.
        length: its length.
        sound_font: a SoundFont 2 file.

    Returns:
        Samples of shape (frames, 2), left and right, at 48 kHz.

    Raises:
        BackingError: when the file is too long, the sound font is damaged, or the renderer breaks.
    """
    import numpy as np

    if length.seconds > MOST_SECONDS:
        raise RenderError(
            f"{length.seconds / 60:.0f} minutes of sound: at most {MOST_SECONDS / 60:.0f} are "
            "rendered; ask for fewer choruses"
        )
    check_sound_font(sound_font)
    samples = np.frombuffer(_run(_with_tail(midi, length), sound_font, length), dtype="<i2")
    if samples.size % 2 or samples.size // 2 < length.seconds * RATE:
        raise RenderError(
            f"the renderer gave only {samples.size / 2 / RATE:.1f} of {length.seconds:.1f} "
            "seconds: try another sound font"
        )
    return samples.astype(np.int16, copy=False).reshape(-1, 2)


def _with_tail(midi: bytes, length: MidiLength) -> bytes:
    """Return the file with another track, which ends `TAIL_SECONDS` after all others.

    The renderer stops at the end of the longest track.
    """
    ticks = length.ticks + round(TAIL_SECONDS * length.ticks_per_second)
    tracks = int.from_bytes(midi[10:12]) + 1
    tail = track_chunk(variable_length(ticks) + b"\xff\x2f\0")
    return midi[:10] + tracks.to_bytes(2) + midi[12:] + tail


def _run(midi: bytes, sound_font: Path, length: MidiLength) -> bytes:
    seconds = length.seconds + TAIL_SECONDS
    memory = _BASE_BYTES + int(seconds * _BYTES_A_SECOND)
    memory += _FONT_COPIES * sound_font.stat().st_size
    patience = _BASE_SECONDS + seconds * _REAL_TIME
    command = [sys.executable, "-P", rendering.__file__, str(sound_font.resolve())]
    try:
        done = subprocess.run(
            [*command, str(memory), str(int(patience) + 1)],
            input=midi,
            capture_output=True,
            timeout=patience,
            check=False,
        )
    except subprocess.TimeoutExpired:
        raise RenderError(
            f"the renderer did not finish in {patience:.0f} seconds: try another sound font"
        ) from None
    except OSError as error:
        raise RenderError(f"the renderer cannot be started: {error.strerror or error}") from None
    if done.returncode and _FONT_FAULT in done.stderr.decode("utf-8", "replace"):
        reason = _reason(done).rpartition(_FONT_FAULT)[2]
        raise RenderError(f"the sound font {sound_font} is damaged ({reason}): give another file")
    if done.returncode:
        raise RenderError(f"the renderer failed ({_reason(done)}): try another sound font")
    return done.stdout


def _reason(done: subprocess.CompletedProcess[bytes]) -> str:
    """Return the last error line of the child, or its exit code."""
    lines = done.stderr.decode("utf-8", "replace").strip().splitlines()
    error = next((line for line in reversed(lines) if "Error" in line or "panicked" in line), "")
    return (error or f"exit code {done.returncode}")[:_LONGEST_REASON]
