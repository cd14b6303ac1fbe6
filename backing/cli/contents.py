"""The group of options for the contents of a practice pack."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated

import typer

from backing.cli import values
from backing.cli.groups import Group
from backing.errors import SettingsError

if TYPE_CHECKING:
    from backing.cli import options
    from backing.cli.fretting import Fretting
    from backing.cli.recordings import Sound
    from backing.notes import Player
    from backing.packs.settings import PackSettings


@dataclass(frozen=True, slots=True)
class Contents(Group):
    """Which files a practice pack has."""

    tempi: Annotated[
        str | None,
        typer.Option(metavar="A,B,...", help="Tempi to record. [60, 75, 90, 100 % of the chart's]"),
    ] = None
    keys: Annotated[
        str | None, typer.Option(metavar="K,L,...", help="Keys, such as E,G. [the chart's]")
    ] = None
    minus: Annotated[
        str,
        typer.Option(metavar="PLAYERS", help="Also record without each of these; or none."),
    ] = "chop,lead"
    parts: Annotated[
        str | None, typer.Option(metavar="A,B,...", help="Parts to loop; or none. [all]")
    ] = None
    ending: Annotated[
        str, typer.Option("--format", metavar="NAME", help="Sound files: mp3, ogg, flac or wav.")
    ] = "mp3"

    def request(
        self, take: options.Take, fretting: Fretting, sound: Sound, *, left: bool
    ) -> PackSettings:
        """Return the settings of a pack.

        Raises:
            BackingError: when a text cannot be read, or a value is outside its range.
        """
        from backing.out.formats import FORMATS
        from backing.packs.settings import PackSettings

        return PackSettings(
            settings=take.settings(fretting.request()),
            tempi=values.tempi("--tempi", self.tempi),
            keys=self._keys(),
            parts=self._parts(),
            minus=self._minus(),
            ending=values.one_of("--format", self.ending, FORMATS),
            sound=sound.sound(),
            left=left,
        )

    def _keys(self) -> tuple[str, ...]:
        from backing.packs.settings import MOST_KEYS

        found = values.listed("--keys", self.keys)
        if len(found) > MOST_KEYS:
            raise SettingsError(f"--keys: {len(found)} keys; at most {MOST_KEYS} are allowed")
        return found

    def _parts(self) -> tuple[str, ...] | None:
        if self.parts is None:
            return None
        return () if values.is_none(self.parts) else values.listed("--parts", self.parts)

    def _minus(self) -> tuple[Player, ...]:
        if values.is_none(self.minus):
            return ()
        return tuple(sorted(values.players(",".join(values.listed("--minus", self.minus)))))
