"""Sound files on the command line: what is wished of them, and what becomes of a performance."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from backing.errors import SettingsError
from backing.out.formats import FORMATS, format_of

if TYPE_CHECKING:
    from pathlib import Path

    from backing.out.audio import Recording, Sound
    from backing.out.formats import Format
    from backing.out.midifile import Played
    from backing.out.tags import Tags

TOO_QUIET_LU = 0.5
"""How far below the wished loudness a recording may stay without a word."""


@dataclass(frozen=True, slots=True)
class SoundWish:
    """What is wished of sound files.

    Attributes:
        font: a SoundFont 2 file, or None for the one at hand.
        stems: the folder for a file of each player, or None.
        mono: whether left and right are made one.
        fade: seconds over which a recording fades out; 0 lets it ring out.
        midi: whether the MIDI file is written beside the recording.
    """

    font: Path | None = None
    stems: Path | None = None
    mono: bool = False
    fade: float = 0.0
    midi: bool = False

    def sound(self) -> Sound:
        """Return how it is to sound.

        Raises:
            BackingError: when there is no such sound font, or the fade is too long.
        """
        from backing.out.audio import Sound
        from backing.out.renderer import check_sound_font, usual_sound_font

        font = self.font or usual_sound_font()
        check_sound_font(font)
        return Sound(font, self.mono, self.fade)

    def refuse_without_sound(self) -> None:
        """Refuse wishes for sound where there is none.

        Raises:
            SettingsError: when something is wished.
        """
        named = [
            option
            for option, wished in (
                ("--sound-font", self.font),
                ("--stems", self.stems),
                ("--mono", self.mono),
                ("--fade", self.fade),
            )
            if wished
        ]
        if named:
            raise SettingsError(
                f"{' and '.join(named)}: a MIDI file has no sound; end the name in "
                f"{', '.join(FORMATS)}"
            )


def sound_format(target: Path | None) -> Format | None:
    """Return which sound file a target is, or None for a MIDI file."""
    return format_of(target.suffix) if target else None


def stem_targets(wish: SoundWish, target: Path, kind: Format) -> dict[str, Path]:
    """Return the file of every player who may be heard, by the player's name."""
    from backing.notes import Player

    if wish.stems is None:
        return {}
    ending = target.suffix if kind.exact else ".flac"
    return {player: wish.stems / f"{target.stem}-{player}{ending}" for player in Player}


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

    return f"made with backing {version('backing')}, seed {seed}"
