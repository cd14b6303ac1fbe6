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
        str | None,
        Option("--sound-font", metavar="FILE", help="SoundFont 2 file. [the installed one]"),
    ] = None
    mono: Annotated[bool, Option("--mono", help="One channel instead of left and right.")] = False
    fade: Annotated[str, Option(metavar="SECONDS", help="Length of a fade-out; 0 for none.")] = "0"

    def check(self) -> None:
        """Check the fade.

        Raises:
            SettingsError: when it is no number.
        """
        values.number("--fade", self.fade)

    @property
    def font(self) -> Path:
        """The SoundFont file: the named one, or the installed one."""
        from backing.out.renderer import usual_sound_font

        return Path(self.sound_font) if self.sound_font else usual_sound_font()

    def sound(self) -> audio.RecordingSettings:
        """Return the settings of a recording.

        Raises:
            BackingError: when the sound font is missing, or the fade is too long.
        """
        from backing.out import audio
        from backing.out.renderer import check_sound_font

        check_sound_font(self.font)
        return audio.RecordingSettings(self.font, self.mono, values.number("--fade", self.fade))


@dataclass(frozen=True, slots=True)
class Recordings(Sound):
    """How recordings sound, and which files are written beside them."""

    stems: Annotated[
        str | None,
        Option(metavar="DIR", help="Also write a file of each player, into this folder."),
    ] = None
    midi: Annotated[bool, Option("--midi", help="Also write the MIDI file.")] = False

    def stem_targets(self, target: Path, kind: Format) -> dict[str, Path]:
        """Return the sound file of each player, by the player's name; none without --stems."""
        from backing.notes import Player

        if self.stems is None:
            return {}
        ending = target.suffix if kind.exact else ".flac"
        return {player: Path(self.stems) / f"{target.stem}-{player}{ending}" for player in Player}

    def refuse_without_sound(self) -> None:
        """Refuse options for sound files where a MIDI file is written.

        Raises:
            SettingsError: when one is given.
        """
        from backing.out.formats import FORMATS

        named = [word for word in replace(self, midi=False).words() if word.startswith("--")]
        if named:
            raise SettingsError(
                f"{' and '.join(named)}: a MIDI file has no sound; end the name in "
                f"{', '.join(FORMATS)}"
            )
