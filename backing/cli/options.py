"""Groups of options that several commands share."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Annotated

from typer import Option

from backing.cli import values
from backing.cli.groups import Group
from backing.errors import SettingsError

if TYPE_CHECKING:
    from backing.chart.model import Chart
    from backing.chart.write import Spell
    from backing.fretboard.request import FrettingSettings
    from backing.notes import Player
    from backing.performance.settings import Settings
    from backing.timing import WrittenTempo

Style = Annotated[
    str | None,
    Option(
        "--style", "-s", metavar="NAME", help="Groove: a name (see backing styles) or ./mine.toml."
    ),
]
Numbers = Annotated[bool, Option("--numbers", help="Write chords as numbers of the key: 1 4 57.")]
Roman = Annotated[bool, Option("--roman", help="Write chords as Roman numerals: I IV V7.")]
Force = Annotated[bool, Option("--force", help="Overwrite existing files.")]

ALIASES = {"--take": "--seed", "--voicing": "--level"}
"""Options by their former names, which still work but are not in the help."""


def spelling(*, numbers: bool, roman: bool) -> Spell:
    """Return the function that writes chords as letters, numbers or Roman numerals.

    Raises:
        SettingsError: when both numbers and Roman numerals are asked for.
    """
    from backing.harmony.numbers import letter_text, number_text, roman_text

    if numbers and roman:
        raise SettingsError("use --numbers or --roman, not both")
    return number_text if numbers else roman_text if roman else letter_text


@dataclass(frozen=True, slots=True)
class Take(Group):
    """How the band plays."""

    style: Style = None
    choruses: Annotated[
        str | None, Option("--choruses", "-n", metavar="N", help="Times round the form.")
    ] = "3"
    take: Annotated[
        str, Option("--take", metavar="N", help="Take: each number plays other notes.")
    ] = "1"
    count_in: Annotated[
        str | None, Option(metavar="BARS", help="Bars of count-in. [the chart's; else 1 or 2]")
    ] = None
    looseness: Annotated[
        str, Option(metavar="X", help="Timing and lengths: 0 exact, 1 people, 2 a loose night.")
    ] = "1.0"
    only: Annotated[
        str | None, Option(metavar="PLAYERS", help="Play only these, such as bass,drums.")
    ] = None
    without: Annotated[
        str | None, Option(metavar="PLAYERS", help="Leave these out, such as chop.")
    ] = None
    called: Annotated[
        str | None,
        Option("--with", metavar="PLAYERS", help="Add these where the style leaves them out."),
    ] = None
    lead: Annotated[
        str, Option(metavar="WHEN", help="Choruses with melody: always, first, other.")
    ] = "always"
    lead_octave: Annotated[
        bool, Option("--lead-octave", help="Double the melody at the octave.")
    ] = False

    def settings(self, fretting: FrettingSettings | None = None) -> Settings:
        """Return the settings of a performance.

        Raises:
            SettingsError: when a text cannot be read, or a value is outside its range.
        """
        from backing.band.lead import LeadSettings
        from backing.fretboard.request import AS_THE_STYLE
        from backing.performance.settings import DEFAULT_CHORUSES, Settings, check_settings
        from backing.style.library import requested_style

        if self.style is not None:
            requested_style(self.style)
        found = Settings(
            style=self.style,
            choruses=values.whole_number("--choruses", self.choruses, DEFAULT_CHORUSES),
            seed=values.whole_number("--take", self.take),
            count_in=values.whole_number("--count-in", self.count_in, None),
            looseness=values.number("--looseness", self.looseness),
            players=self._players(),
            called=values.players(self.only or self.called or ""),
            fretting=fretting or AS_THE_STYLE,
            lead=LeadSettings(self.lead, octave=self.lead_octave),
        )
        check_settings(found)
        return found

    def _players(self) -> frozenset[Player]:
        from backing.notes import Player

        if self.only is None:
            return frozenset(Player) - values.players(self.without or "")
        if self.without is not None:
            raise SettingsError("use --only or --without, not both")
        if not (found := values.players(self.only)):
            raise SettingsError(f"--only names no player: choose from {', '.join(Player)}")
        return found


@dataclass(frozen=True, slots=True)
class Key(Group):
    """The key in which a chart is shown, written or played."""

    key: Annotated[
        str | None,
        Option("--key", "-k", metavar="KEY", help="Transpose to a key, such as Bb or F#m."),
    ] = None
    transpose: Annotated[
        str, Option(metavar="N", help="Transpose up N semitones; -N for down.")
    ] = "0"

    @property
    def semitones(self) -> int:
        """Semitones to transpose up; negative for down.

        Raises:
            SettingsError: when it is no whole number, or a key is given too.
        """
        found = values.whole_number("--transpose", self.transpose)
        if self.key and found:
            raise SettingsError("use --key or --transpose, not both")
        return found

    def check(self) -> None:
        """Check the transposition.

        Raises:
            SettingsError: when it is no whole number, or a key is given too.
        """
        _ = self.semitones

    @property
    def moves(self) -> bool:
        """Whether a key or a transposition is given."""
        return bool(self.key or self.semitones)

    def applied(self, chart: Chart) -> Chart:
        """Return the chart in this key.

        Raises:
            SettingsError: when the key does not fit the chart.
        """
        from backing.chart.transpose import by_semitones, in_key

        return in_key(chart, self.key) if self.key else by_semitones(chart, self.semitones)


@dataclass(frozen=True, slots=True)
class TempoAndKey(Key):
    """The tempo and the key in which a chart is played."""

    tempo: Annotated[
        str | None,
        Option(
            "--tempo",
            "-t",
            metavar="BPM",
            help="Beats a minute, or such as half=116. [the chart's]",
        ),
    ] = None

    @property
    def written(self) -> WrittenTempo | None:
        """The tempo as the user wrote it; None for the chart's.

        Raises:
            SettingsError: when it cannot be read.
        """
        return values.tempo(self.tempo)

    def check(self) -> None:
        """Check the tempo and the transposition.

        Raises:
            SettingsError: when one of them cannot be read, or both --key and --transpose are given.
        """
        _ = self.semitones, self.written

    def at_tempo(self, settings: Settings, chart: Chart) -> Settings:
        """Return the settings, with this tempo if one is given.

        Raises:
            SettingsError: when the tempo is outside the range of the band.
        """
        written = self.written
        return replace(settings, bpm=chart.quarter_bpm(written)) if written else settings
