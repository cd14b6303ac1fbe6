"""The child process of `renderer`: MIDI on standard input, 16-bit samples on standard output.

It runs as a script, so that it imports nothing else of this project. Its arguments are the sound
font, the memory limit in bytes and the limit of processor time in seconds; systems without such
limits ignore them.
"""

from __future__ import annotations

import sys
from pathlib import Path

WAVE_HEADER_BYTES = 44
"""Length of the header before the samples."""


def limit(memory_bytes: int, work_seconds: int) -> None:
    """Limit the memory and the processor time of this process, and turn off core dumps."""
    try:
        import resource
    except ImportError:
        return
    for name, wanted in (
        (resource.RLIMIT_AS, memory_bytes),
        (resource.RLIMIT_CPU, work_seconds),
        (resource.RLIMIT_CORE, 0),
    ):
        _, allowed = resource.getrlimit(name)
        most = wanted if allowed == resource.RLIM_INFINITY else min(wanted, allowed)
        try:
            resource.setrlimit(name, (most, allowed))
        except (OSError, ValueError):
            continue


def main() -> None:
    """Render standard input to standard output."""
    sound_font, memory_bytes, work_seconds = sys.argv[1:]
    limit(int(memory_bytes), int(work_seconds))
    import midirenderer

    wave = midirenderer.render_wave_from(Path(sound_font).read_bytes(), sys.stdin.buffer.read())
    sys.stdout.buffer.write(memoryview(wave)[WAVE_HEADER_BYTES:])
    sys.stdout.buffer.flush()


if __name__ == "__main__":
    main()
