"""The settings of live playing, as one frozen value.

Conventions: a loop is kept as typed, `A`, `A 2`, `A-B` or `5-8` (bars of the form, from 1), so that
it means the same part after an edit of the chart. `A 2` is the second A of the form.

A command makes new settings from the old. Tempo and loudness apply at once; key, style, players and
loop from the next bar line; "last time" at the end of the chorus.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from backing.chart.grooves import usual_style
from backing.chart.selection import bars_of
from backing.chart.transpose import by_semitones
from backing.errors import BackingError, SettingsError
from backing.notes import RHYTHM, Player
from backing.performance.performance import Performance
from backing.performance.settings import Settings
from backing.style.library import find_style, requested_style
from backing.timing import FASTEST_BPM, SLOWEST_BPM

if TYPE_CHECKING:
    from backing.chart.model import Chart
    from backing.performance.ladder import Ladder
    from backing.style.model import Style

FULL_LEVEL, LOUDEST = 100, 150
"""Loudness in percent: normal and maximum."""

EVERYBODY = frozenset(Player)
_USUAL = Settings()


class CommandError(BackingError):
    """An unknown command, or one that cannot be carried out."""


@dataclass(frozen=True, slots=True)
class LiveSettings:
    """The settings of live playing.

    Attributes:
        chart: the chart as written; `semitones` transposes it.
        base: settings of the performance. Its tempo is always given; its choruses count unless
            `endless`; its loop is unused.
        endless: whether the band plays on until `last_time`.
        semitones: transposition upwards, -24 to 24.
        levels: loudness of each player in percent, 0 to 150.
        level: loudness of all in percent, 0 to 150.
        loop: `A`, `A 2`, `A-B` or `5-8`, or None.
        last_time: whether this chorus is the last.
        ladder: a tempo ladder, or None.
        rest: (silent, bars): the band is silent in the last bars of each group; or None.
        previous_players: `players` and `called` of `base` before one player played alone, or None.
        pending: an edited chart that replaces `chart` at the next part, or None.
        pending_bpm: its tempo, in quarter notes a minute; None keeps the tempo.

    """

    chart: Chart
    base: Settings
    endless: bool = True
    semitones: int = 0
    levels: tuple[tuple[Player, int], ...] = field(
        default=tuple((player, FULL_LEVEL) for player in Player)
    )
    level: int = FULL_LEVEL
    loop: str | None = None
    last_time: bool = False
    ladder: Ladder | None = None
    rest: tuple[int, int] | None = None
    previous_players: tuple[frozenset[Player], frozenset[Player]] | None = None
    pending: Chart | None = None
    pending_bpm: float | None = None

    @classmethod
    def of(cls, chart: Chart, base: Settings = _USUAL, *, endless: bool = True) -> LiveSettings:
        """Return the settings for a chart, at its tempo unless `base` has another.

        Raises:
            SettingsError: when they do not fit the chart.

        """
        return cls(chart, replace(base, bpm=Performance(chart, base).bpm), endless)

    @property
    def bpm(self) -> float:
        """The tempo of parts that have none of their own, in quarter notes a minute."""
        assert self.base.bpm is not None  # `of` gives it
        return self.base.bpm

    @property
    def band(self) -> tuple[Player, ...]:
        """The players; the lead only when the chart has a melody."""
        return (*RHYTHM, Player.LEAD) if self.chart.melody else RHYTHM

    def with_base(self, **changes: Any) -> LiveSettings:
        """Return the settings with other fields of `base`."""
        return replace(self, base=replace(self.base, **changes))

    def at_tempo(self, bpm: float) -> LiveSettings:
        """Return the settings without a ladder, at a tempo limited to what the band can play."""
        bpm = min(max(bpm, SLOWEST_BPM), FASTEST_BPM)
        return replace(self, ladder=None, pending_bpm=None).with_base(bpm=bpm)

    def plays(self, player: Player, style: Style | None = None) -> bool:
        """Return whether a player plays in a style; None is the style of the chart."""
        if player not in self.band or player not in self.base.players:
            return False
        if player in self.base.called:
            return True
        if style is None and self.base.style:
            style = requested_style(self.base.style)
        style = style or find_style(self.chart.style or usual_style(self.chart.meter))
        return player not in style.sits_out

    def with_players(self, playing: frozenset[Player]) -> LiveSettings:
        """Return the settings with just these players, even if they sit out in the style."""
        now = self.base.players, self.base.called
        previous = self.previous_players or now if len(playing) == 1 else None
        return replace(self, previous_players=previous).with_base(players=playing, called=playing)

    def with_players_restored(self) -> LiveSettings:
        """Return the settings with the players before one played alone."""
        players, called = self.previous_players or (EVERYBODY, frozenset())
        return replace(self, previous_players=None).with_base(players=players, called=called)

    def volume(self, player: Player) -> float:
        """Return a player's loudness as a factor."""
        return dict(self.levels)[player] * self.level / FULL_LEVEL**2

    def loop_in(self, chart: Chart) -> tuple[int, int] | None:
        """Return the first and last bar of the loop in a chart, from 0.

        None without a loop, or when the chart lacks its part or bars.
        """
        try:
            return bars_of(chart, self.loop) if self.loop else None
        except SettingsError:
            return None

    def edited(self, chart: Chart) -> LiveSettings:
        """Return the settings with an edited chart pending, and its tempo if that was edited."""
        is_new = chart.tempo is not None and chart.tempo != self.chart.tempo
        bpm = chart.tempo.quarter_bpm if chart.tempo and is_new and not self.ladder else None
        return replace(self, pending=chart, pending_bpm=bpm)

    def applied(self) -> LiveSettings:
        """Return the settings with the pending chart in place."""
        if self.pending is None:
            return self
        loop = self.loop if self.loop_in(self.pending) else None
        bpm = self.pending_bpm or self.bpm
        changed = replace(self, chart=self.pending, pending=None, pending_bpm=None, loop=loop)
        return changed.with_base(bpm=bpm)

    def performed(self, bpm: float, loop: tuple[int, int] | None, choruses: int) -> Settings:
        """Return the settings of a performance in which every player has notes.

        Notes of silent players are removed bar by bar, so muting makes no other performance.
        """
        return replace(
            self.base,
            bpm=bpm,
            loop=loop,
            choruses=choruses,
            players=EVERYBODY,
            called=EVERYBODY,
            live=True,
        )


def check_shapes(settings: LiveSettings) -> None:
    """Check that every chord of the chart can be fretted.

    Raises:
        BackingError: when one cannot.

    """
    chart = by_semitones(settings.chart, settings.semitones)
    fretted = Settings(style=settings.base.style, called=EVERYBODY, fretting=settings.base.fretting)
    _ = Performance(chart, fretted).voicings.chords
