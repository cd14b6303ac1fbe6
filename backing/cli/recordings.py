"""The groups of options for sound files."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from typer import Option

from backing.cli import values
from backing.cli.groups import Group
from backing.errors import SettingsError

if TYPE_CHECKING:
    from backing.out import audio
    from backing.out.formats import Format


@dataclass(frozen=True, slots=True)
class Sound(Group):
    """How recordings sound."""

    sound_font: Annotated[
        str | None, Option("--sound-font", metavar="FILE", help="Sounds: a SoundFont 2 file.")
    ] = None
    mono: Annotated[bool, Option("--mono", help="One channel instead of left and right.")] = False
    fade: Annotated[str, Option(metavar="SECONDS", help="Fade out at the end; 0 lets it ring.")] = (
        "0"
    )

    def check(self) -> None:
        """Refuse a fade that is no number.

        Raises:
            SettingsError: when it is none.
        """
        values.number("--fade", self.fade)

    @property
    def font(self) -> Path:
        """The SoundFont file that is used."""
        from backing.out.renderer import usual_sound_font

        return Path(self.sound_font) if self.sound_font else usual_sound_font()

    def sound(self) -> audio.RecordingSettings:
        """Return how a recording is to sound.

        Raises:
            BackingError: when there is no such sound font, or the fade is too long.
        """
        from backing.out import audio
        from backing.out.renderer import check_sound_font

        check_sound_font(self.font)
        return audio.RecordingSettings(self.font, self.mono, values.number("--fade", self.fade))


@dataclass(frozen=True, slots=True)
class Recordings(Sound):
    """How recordings sound, and which files are written with each."""

    stems: Annotated[
        str | None, Option(metavar="DIR", help="Write a sound file of each player, too.")
    ] = None
    midi: Annotated[bool, Option("--midi", help="Write the MIDI file beside a recording, too.")] = (
        False
    )

    def stem_targets(self, target: Path, kind: Format) -> dict[str, Path]:
        """Return the file of every player who may be heard, by the player's name."""
        from backing.notes import Player

        if self.stems is None:
            return {}
        ending = target.suffix if kind.exact else ".flac"
        return {player: Path(self.stems) / f"{target.stem}-{player}{ending}" for player in Player}

    def refuse_without_sound(self) -> None:
        """Refuse options that only sound files have.

        Raises:
            SettingsError: when there is one.
        """
        from backing.out.formats import FORMATS

        named = [word for word in replace(self, midi=False).words() if word.startswith("--")]
        if named:
            raise SettingsError(
                f"{' and '.join(named)}: a MIDI file has no sound; end the name in "
                f"{', '.join(FORMATS)}"
            )
