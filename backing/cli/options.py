"""Options that rendering and live playing share: declared once, read in one way."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Annotated

import typer

from backing.cli.numbers import number, whole_number
from backing.errors import SettingsError, SymbolError

if TYPE_CHECKING:
    from backing.chart.model import Chart
    from backing.cli.sounds import SoundWish
    from backing.fretboard.fretting import FrettingWish
    from backing.notes import Player
    from backing.performance import Settings
    from backing.timing import WrittenTempo

Style = Annotated[
    str | None,
    typer.Option("--style", "-s", metavar="NAME", help="Groove (backing styles), or ./mine.toml."),
]
Tempo = Annotated[
    str | None,
    typer.Option("--tempo", "-t", metavar="BPM", help="Beats a minute, or half=116."),
]
Key = Annotated[str | None, typer.Option("--key", "-k", metavar="KEY", help="Play in this key.")]
Seed = Annotated[str, typer.Option(metavar="N", help="Another number is another take.")]
CountIn = Annotated[
    str | None, typer.Option(metavar="BARS", help="Bars of count-in. [as suits the tempo]")
]
Looseness = Annotated[
    str,
    typer.Option(metavar="X", help="0 is exactly on the grid, 1 as loose as a good section."),
]
Without = Annotated[
    str | None, typer.Option(metavar="PLAYERS", help="Who is left out, such as chop.")
]

With = Annotated[
    str | None,
    typer.Option("--with", metavar="PLAYERS", help="Who plays though the style does without."),
]

Lead = Annotated[
    str,
    typer.Option(metavar="WHEN", help="When the melody is played: always, first or other time."),
]
LeadOctave = Annotated[
    bool, typer.Option("--lead-octave", help="The melody is doubled at the octave.")
]

Instrument = Annotated[
    str | None,
    typer.Option("--instrument", "-i", metavar="NAME", help="Who frets the chords. [the style's]"),
]
Level = Annotated[
    str | None, typer.Option(metavar="LEVEL", help="Shapes: easy, full or swing. [the style's]")
]
Reach = Annotated[
    str, typer.Option(metavar="MM", help="From first finger to fourth; a small hand 70.")
]
Strings = Annotated[
    str | None, typer.Option(metavar="N", help="Strings that sound, or which: 6-4-3.")
]
Frets = Annotated[
    str | None, typer.Option(metavar="LOW-HIGH", help="Where the fingers are, such as 1-7.")
]
Capo = Annotated[str, typer.Option(metavar="FRET", help="Frets count from it.")]
NoBarre = Annotated[bool, typer.Option("--no-barre", help="One finger, one string.")]
Open = Annotated[bool, typer.Option("--open", help="Open strings may sound.")]
Rootless = Annotated[bool, typer.Option("--rootless", help="The root may be left to the bass.")]

SoundFont = Annotated[
    str | None, typer.Option("--sound-font", metavar="FILE", help="Another SoundFont 2 file.")
]
Mono = Annotated[bool, typer.Option("--mono", help="One channel.")]
Fade = Annotated[
    str, typer.Option(metavar="SECONDS", help="Fade out at the end. [let it ring out]")
]

MOST_TEMPI = 12
"""The most tempi of a pack or a sheet."""

FADE = "0"
REACH, CAPO = "100", "0"
SEED, LOOSENESS, LEAD = "1", "1.0", "always"
"""What holds where nothing is said."""


def settings(
    *,
    style: str | None,
    choruses: str | None,
    seed: str,
    count_in: str | None,
    looseness: str,
    only: str | None = None,
    without: str | None = None,
    called: str | None = None,
    fretted: FrettingWish | None = None,
    lead: str = LEAD,
    lead_octave: bool = False,
) -> Settings:
    """Return the settings that the texts of the options ask for.

    Raises:
        SettingsError: when one of them is no number, or outside its range.

    """
    from backing.band.lead import LeadWish
    from backing.fretboard.fretting import AS_THE_STYLE
    from backing.performance import DEFAULT_CHORUSES, Settings, check_settings
    from backing.style.library import wished_style

    if style is not None:
        wished_style(style)
    wished = Settings(
        style=style,
        choruses=DEFAULT_CHORUSES if choruses is None else whole_number("--choruses", choruses),
        seed=whole_number("--seed", seed),
        count_in=None if count_in is None else whole_number("--count-in", count_in),
        looseness=number("--looseness", looseness),
        players=players_of(only, without),
        called=players_of(only or called, None) if only or called else frozenset(),
        fretting=fretted or AS_THE_STYLE,
        lead=LeadWish(lead, octave=lead_octave),
    )
    check_settings(wished)
    return wished


def tempo_of(text: str | None) -> WrittenTempo | None:
    """Return a tempo from the text of an option, before the chart is known that it is for.

    Raises:
        SettingsError: when it is none.

    """
    from backing.timing import WrittenTempo

    try:
        return None if text is None else WrittenTempo.parse(text)
    except SymbolError as error:
        raise SettingsError(str(error)) from None


def tempi_of(text: str | None) -> tuple[WrittenTempo, ...]:
    """Read tempi, such as 120,160 or half=80,half=100.

    Raises:
        SettingsError: when one of them is none, or there are too many.

    """
    found = tuple(map(tempo_of, listed("--tempi", text)))
    if len(found) > MOST_TEMPI:
        raise SettingsError(f"--tempi: {len(found)} tempi; at most {MOST_TEMPI} are allowed")
    return tuple(each for each in found if each)


def listed(option: str, text: str | None) -> tuple[str, ...]:
    """Return what a text lists with commas; nothing for no text.

    Raises:
        SettingsError: when nothing stands before or behind a comma.

    """
    found = () if text is None else tuple(each.strip() for each in text.split(","))
    if not all(found):
        raise SettingsError(f"{option} {text}: write them with a comma between them")
    return found


def quarter_bpm(tempo: WrittenTempo, chart: Chart) -> float:
    """Return a tempo in quarter notes a minute; a bare number counts the chart's beat.

    Raises:
        SettingsError: when the band does not play so slowly or fast.

    """
    try:
        return tempo.counted_in(chart.tempo_unit).quarter_bpm
    except SymbolError as error:
        raise SettingsError(str(error)) from None


def at_tempo(wished: Settings, tempo: WrittenTempo | None, chart: Chart) -> Settings:
    """Return settings at the tempo of an option, if there is one.

    Raises:
        SettingsError: when the band does not play so slowly or fast.

    """
    from dataclasses import replace

    return replace(wished, bpm=quarter_bpm(tempo, chart)) if tempo else wished


def fretting(
    *,
    instrument: str | None,
    level: str | None,
    reach: str,
    strings: str | None,
    frets: str | None,
    capo: str,
    no_barre: bool,
    open_strings: bool = False,
    rootless: bool = False,
) -> FrettingWish:
    """Return what is asked of shapes, from the texts of the options.

    Raises:
        SettingsError: when one of them is no number, or outside its range.

    """
    from backing.fretboard.fretting import FrettingWish
    from backing.fretboard.hand import Hand
    from backing.fretboard.shapes import read_strings

    lowest, highest = _frets(frets)
    wish = FrettingWish(
        instrument=instrument,
        capo=whole_number("--capo", capo),
        level=level,
        hand=Hand(number("--reach", reach), open_strings=open_strings, barre=not no_barre),
        rootless=rootless,
        strings=None if strings is None else read_strings(strings),
        lowest=lowest,
        highest=highest,
    )
    wish.over()
    return wish


def sound(
    font: str | None, *, stems: str | None, mono: bool, fade: str, midi: bool = False
) -> SoundWish:
    """Return what is wished of sound files, from the texts of the options.

    Raises:
        SettingsError: when the fade is no number.

    """
    from pathlib import Path

    from backing.cli.sounds import SoundWish

    return SoundWish(
        font=Path(font) if font else None,
        stems=Path(stems) if stems else None,
        mono=mono,
        fade=number("--fade", fade),
        midi=midi,
    )


def _frets(text: str | None) -> tuple[int, int | None]:
    """Read a range of frets such as 1-7."""
    if text is None:
        return 1, None
    match = re.fullmatch(r"([0-9]{1,2})-([0-9]{1,2})", text, re.ASCII)
    if not match:
        raise SettingsError(f"--frets {text}: write two frets, such as --frets 1-7")
    return int(match[1]), int(match[2])


def players_of(only: str | None, without: str | None) -> frozenset[Player]:
    """Return who plays, from the texts of two options that exclude each other.

    Raises:
        SettingsError: for a player that is not in the band.

    """
    from backing.notes import Player

    if only and without is not None:
        raise SettingsError("--only and --without exclude each other: choose one")
    named = {_player(name) for name in (only or without or "").split(",") if name.strip()}
    if only is not None and not named:
        raise SettingsError(f"--only names nobody: choose from {', '.join(Player)}")
    if only:
        return frozenset(named)
    return frozenset(Player) - named


def _player(name: str) -> Player:
    from backing.notes import Player

    try:
        return Player(name.strip().lower())
    except ValueError:
        raise SettingsError(
            f"'{name.strip()}' is not in the band: choose from {', '.join(Player)}"
        ) from None
