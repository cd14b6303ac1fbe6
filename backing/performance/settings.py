"""The settings of a performance and their ranges."""

from __future__ import annotations

from dataclasses import dataclass, field

from backing.band.lead import EVERY_TIME, WHEN, LeadSettings
from backing.errors import SettingsError
from backing.fretboard.request import AS_THE_STYLE, FrettingSettings
from backing.notes import Player
from backing.timing import FASTEST_BPM, SLOWEST_BPM

MOST_CHORUSES = 999
DEFAULT_CHORUSES = 3

MOST_COUNT_IN = 8
MOST_LOOSENESS = 2.0


@dataclass(frozen=True, slots=True)
class Settings:
    """The settings of a performance.

    Attributes:
        style: name of a style or path of its file, or None for the chart's.
        bpm: quarter notes a minute, or None for the chart's tempo. Parts with their own tempo keep
            their relation to it.
        choruses: number of choruses, 1 to 999.
        seed: any whole number; the same seed gives the same notes.
        count_in: bars, 0 to 8, or None for the chart's, or as many as suit the tempo.
        looseness: of timing and lengths of notes: 0 is exact, 1 as people play, at most 2. Loudness
            varies at any looseness.
        players: who may play.
        called: players who play even if the style lets them sit out.
        loop: first and last bar to repeat, from 0 through the whole form, or None.
        live: whether it is played live, where nothing fades at the end.
        count_each: whether every chorus has a count-in; for live playing only.
        fretting: settings of the chop's shapes, which override the style's; the melody is folded
            into the range of its instrument, if it names one.
        lead: how the melody is played, if the chart has one.

    """

    style: str | None = None
    bpm: float | None = None
    choruses: int = DEFAULT_CHORUSES
    seed: int = 1
    count_in: int | None = None
    looseness: float = 1.0
    players: frozenset[Player] = field(default=frozenset(Player))
    called: frozenset[Player] = frozenset()
    loop: tuple[int, int] | None = None
    live: bool = False
    count_each: bool = False
    fretting: FrettingSettings = AS_THE_STYLE
    lead: LeadSettings = EVERY_TIME


def check_settings(settings: Settings) -> None:
    """Check the ranges of the settings.

    Raises:
        SettingsError: for the first one that is out of range.

    """
    if not 1 <= settings.choruses <= MOST_CHORUSES:
        raise SettingsError(f"{settings.choruses} choruses: the band plays 1 to {MOST_CHORUSES}")
    if settings.bpm is not None and not SLOWEST_BPM <= settings.bpm <= FASTEST_BPM:
        raise SettingsError(
            f"a tempo of {settings.bpm:g}: the band plays from {SLOWEST_BPM:g} to "
            f"{FASTEST_BPM:g} quarter notes a minute"
        )
    if settings.count_in is not None and not 0 <= settings.count_in <= MOST_COUNT_IN:
        raise SettingsError(
            f"{settings.count_in} bars of count-in: 0 to {MOST_COUNT_IN} are allowed"
        )
    if not 0 <= settings.looseness <= MOST_LOOSENESS:
        raise SettingsError(
            f"a looseness of {settings.looseness:g}: 0 places every note exactly, 1 is as people "
            f"play, {MOST_LOOSENESS} is the most"
        )
    if settings.lead.when not in WHEN:
        raise SettingsError(
            f"'{settings.lead.when}' is not when a lead plays: choose from {', '.join(WHEN)}; "
            "to have no lead, leave it out of the band"
        )
    if not settings.players:
        raise SettingsError("nobody plays: leave at least one of bass, chop and drums in")
