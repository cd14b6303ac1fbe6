"""The group of options for the fingering of chords."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated

from typer import Option

from backing.cli import values
from backing.cli.groups import Group

if TYPE_CHECKING:
    from backing.fretboard.request import FrettingSettings

Left = Annotated[bool, Option("--left", help="Draw the shapes for a left-handed player.")]


@dataclass(frozen=True, slots=True)
class Fretting(Group):
    """How chords are fingered."""

    instrument: Annotated[
        str | None,
        Option(
            "--instrument",
            "-i",
            metavar="NAME",
            help="Instrument: such as guitar, or a file. [the style's]",
        ),
    ] = None
    voicing: Annotated[
        str | None,
        Option("--voicing", metavar="NAME", help="Shapes: easy, full or swing. [the style's]"),
    ] = None
    reach: Annotated[str, Option(metavar="MM", help="Widest stretch; 70 for a small hand.")] = "100"
    strings: Annotated[
        str | None, Option(metavar="N", help="How many strings sound, or which: 6-4-3.")
    ] = None
    frets: Annotated[
        str | None, Option(metavar="LOW-HIGH", help="Frets to use, such as 1-7. [all]")
    ] = None
    capo: Annotated[str, Option(metavar="FRET", help="Capo at this fret; frets count from it.")] = (
        "0"
    )
    no_barre: Annotated[
        bool, Option("--no-barre", help="Allow no barre (one finger on several strings).")
    ] = False
    open: Annotated[bool, Option("--open", help="Allow open strings.")] = False
    rootless: Annotated[bool, Option("--rootless", help="Allow shapes without the root.")] = False

    def check(self) -> None:
        """Check the options.

        Raises:
            SettingsError: when a text cannot be read, or a value is outside its range.
        """
        if self.words():
            self.request()

    def request(self) -> FrettingSettings:
        """Return the settings of instrument, hand and shapes.

        Raises:
            SettingsError: when a text cannot be read, or a value is outside its range.
        """
        from backing.fretboard.hand import Hand
        from backing.fretboard.request import FrettingSettings, read_strings

        lowest, highest = values.fret_range("--frets", self.frets)
        reach = values.number("--reach", self.reach)
        found = FrettingSettings(
            instrument=self.instrument,
            capo=values.whole_number("--capo", self.capo),
            voicing=self.voicing,
            hand=Hand(reach, open_strings=self.open, barre=not self.no_barre),
            rootless=self.rootless,
            strings=None if self.strings is None else read_strings(self.strings),
            lowest=lowest,
            highest=highest,
        )
        found.over()
        return found
