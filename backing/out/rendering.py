"""The process that renders: MIDI on standard input, 16-bit samples on standard output.

Run by `renderer` as a script, so that nothing but the renderer is loaded. Its arguments are the
sound font, the most bytes of memory and the most seconds of work; a system that keeps no such
limits goes without.
"""

from __future__ import annotations

import sys
from pathlib import Path

WAVE_HEADER_BYTES = 44
"""What stands before the samples."""


def limit(memory_bytes: int, work_seconds: int) -> None:
    """Let this process take no more than so much, and leave no dump when it breaks."""
    try:
        import resource
    except ImportError:
        return
    for kind, wanted in (
        (resource.RLIMIT_AS, memory_bytes),
        (resource.RLIMIT_CPU, work_seconds),
        (resource.RLIMIT_CORE, 0),
    ):
        _, allowed = resource.getrlimit(kind)
        most = wanted if allowed == resource.RLIM_INFINITY else min(wanted, allowed)
        try:
            resource.setrlimit(kind, (most, allowed))
        except (OSError, ValueError):
            continue


def main() -> None:
    """Render one file."""
    sound_font, memory_bytes, work_seconds = sys.argv[1:]
    limit(int(memory_bytes), int(work_seconds))
    import midirenderer

    wave = midirenderer.render_wave_from(Path(sound_font).read_bytes(), sys.stdin.buffer.read())
    sys.stdout.buffer.write(memoryview(wave)[WAVE_HEADER_BYTES:])
    sys.stdout.buffer.flush()


if __name__ == "__main__":
    main()
