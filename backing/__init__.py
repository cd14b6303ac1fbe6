r"""A rhythm section from a chord chart: bass, chop and drums in the groove you name.

>>> import backing
>>> chart = backing.read_chart("title: Two Chords\nkey: G\n[A] 2\n| G | D7 |\n")
>>> swing = backing.Settings(style="swing", choruses=2)
>>> bars = list(backing.perform(chart, swing))
>>> [bar.marker for bar in bars if bar.marker]
['count-in', 'chorus 1: A', 'chorus 2: A', 'ending']

`backing.write_midi(chart, "two-chords.mid", swing)` writes the same performance to a file. The
names of `__all__` are described in `backing.library` and keep their meaning until the major version
changes (semantic versioning). All other modules may change at any time.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from backing.library import (
        BackingError,
        Chart,
        Note,
        PlayedBar,
        Player,
        Settings,
        convert,
        load,
        perform,
        read_chart,
        render_audio,
        shapes,
        write_midi,
    )

    __version__: str

__all__ = [
    "BackingError",
    "Chart",
    "Note",
    "PlayedBar",
    "Player",
    "Settings",
    "__version__",
    "convert",
    "load",
    "perform",
    "read_chart",
    "render_audio",
    "shapes",
    "write_midi",
]


def __getattr__(name: str) -> object:
    """Import a public name on first use, so that `import backing` is fast."""
    if name == "__version__":
        from importlib.metadata import version

        return version("backing")
    if name in __all__:
        from backing import library

        return getattr(library, name)
    raise AttributeError(f"module 'backing' has no attribute '{name}'")


def __dir__() -> list[str]:
    """Return the public names."""
    return __all__
