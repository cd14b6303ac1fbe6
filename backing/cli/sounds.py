"""Sound files of a performance: their names, their tags and the recording itself."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from backing.out.formats import format_of

if TYPE_CHECKING:
    from backing.out.audio import Recording, Sound
    from backing.out.formats import Format
    from backing.out.midifile import Played
    from backing.out.tags import Tags

TOO_QUIET_LU = 0.5
"""How far below the usual loudness a recording may stay without a remark."""


def sound_format(target: Path | None) -> Format | None:
    """Return which sound file a target is, or None for a MIDI file."""
    return format_of(target.suffix) if target else None


def stem_targets(folder: str | None, target: Path, kind: Format) -> dict[str, Path]:
    """Return the file of every player who may be heard, by the player's name."""
    from backing.notes import Player

    if folder is None:
        return {}
    ending = target.suffix if kind.exact else ".flac"
    return {player: Path(folder) / f"{target.stem}-{player}{ending}" for player in Player}


def recorded(
    performance: Played, midi: bytes, kind: Format, sound: Sound, comment: str, *, stems: bool
) -> Recording:
    """Return a performance as sound files.

    Args:
        performance: what is played.
        midi: its MIDI file.
        kind: which sound file.
        sound: how it is to sound.
        comment: how it was made, for the tags.
        stems: whether each player has a file, too.

    Raises:
        BackingError: when it cannot be rendered.
    """
    from backing.out.audio import record

    return record(midi, kind, sound, tags_of(performance, comment), stems=stems)


def tags_of(performance: Played, comment: str) -> Tags:
    """Return what a sound file of a performance says about itself."""
    from backing.out.tags import Tags

    chart = performance.chart
    return Tags(
        title=chart.title,
        by=chart.by,
        key=chart.key,
        bpm=chart.counted(performance.bpm).bpm,
        style=performance.style.name,
        comment=comment,
    )


def made_by(seed: int) -> str:
    """Return how a file was made, as its tags say it."""
    from importlib.metadata import version

    return f"made with backing {version('backing')}, take {seed}"
