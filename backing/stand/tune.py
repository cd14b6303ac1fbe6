"""The tune that is open: the session that plays it, and what is to be seen of it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from backing.chart.grooves import usual_style
from backing.chart.transpose import by_semitones
from backing.control.settings import LiveSettings, check_shapes
from backing.control.snapshot import save
from backing.errors import BackingError
from backing.fretboard.fretting import AS_THE_STYLE
from backing.live.session import Session
from backing.live.state import state_of
from backing.stand.labels import about, pressed, tempo_unit, values, words
from backing.stand.messages import State
from backing.stand.output import BROWSER
from backing.stand.sheet import Shown
from backing.stand.songbook import CHART

if TYPE_CHECKING:
    from collections.abc import Callable

    from backing.fretboard.fretting import FrettingSettings
    from backing.live.session import Output
    from backing.stand.songbook import Songbook

Sounds = tuple[tuple[str, ...], bool]
"""Styles whose sounds are needed, and whether the lead's are."""


@dataclass(frozen=True, slots=True, eq=False)
class Tune:
    """A tune that is open.

    Attributes:
        file: its file in the songbook.
        session: the band that plays it.
    """

    file: str
    session: Session

    @property
    def settings(self) -> LiveSettings:
        """What is wished now."""
        return self.session.transport.settings

    @property
    def shown(self) -> Shown:
        """What of it is to be seen; an edit at once in silence."""
        settings, playing = self.settings, self.session.transport.playing
        base = settings.base
        pending = None if playing else settings.pending
        return Shown(pending or settings.chart, settings.semitones, base.style, base.fretting)

    @property
    def sounds(self) -> Sounds:
        """The sounds it needs."""
        return self.styles, bool((self.settings.pending or self.settings.chart).lead)

    @property
    def styles(self) -> tuple[str, ...]:
        """The styles whose sounds it needs, in the order of their names."""
        settings = self.settings
        if settings.base.style:
            return (settings.base.style,)
        chart = settings.pending or settings.chart
        return tuple(
            sorted({_style(settings), *(part.style for part in chart.parts if part.style)})
        )

    def state(self, *, output: str, outputs: str, pages: int) -> State:
        """Return its state, for clients.

        Args:
            output: the audio output; in the browser nothing is late by the server's doing.
            outputs: the choices of it, as markup.
            pages: how many clients there are.
        """
        transport, settings = self.session.transport, self.settings
        bar = transport.now_bar
        style = bar.style if bar else None
        name = style.name if style else _style(settings)
        played = state_of(transport, bar)
        return State(
            **played
            | {
                "style": name,
                "key": str(bar.key if bar else _key(settings)),
                "late_ms": None if output == BROWSER else played["late_ms"],
            },
            output=output,
            outputs=outputs,
            pages=pages,
            tune=self.file,
            title=settings.chart.title,
            levels={each: level for each, level in settings.levels if each in settings.band},
            muted=[player for player in settings.band if not settings.plays(player, style)],
            band=list(settings.band),
            semitones=settings.semitones,
            unit=tempo_unit(settings.chart.tempo_unit),
            pressed=pressed(settings, style),
            values=values(settings, name),
            words={"about": about(settings, str(_key(settings)), name), **words(settings, style)},
            snapshot=save(transport.snapshot()),
        )


def open_tune(
    songbook: Songbook,
    file: str,
    output: Output,
    on_change: Callable[[], None],
    before: LiveSettings | None,
) -> Tune:
    """Return a tune, ready to play.

    Args:
        songbook: where it is.
        file: its file's name.
        output: where messages go.
        on_change: told what changes, by any thread.
        before: what was wished of the tune before it: who plays, and how loud, stays so.

    Raises:
        BackingError: when there is no such chart, or it has faults.
    """
    chart = songbook.load(file)
    settings = LiveSettings.of(chart)
    if before:
        base = before.base
        settings = replace(settings, levels=before.levels, level=before.level).with_base(
            players=base.players,
            called=base.called,
            lead=base.lead,
            fretting=_held(settings, base.fretting),
        )
    path = str(songbook.path_of(file, CHART))
    return Tune(file, Session(path, settings, output, links=False, on_change=on_change))


def _held(settings: LiveSettings, fretting: FrettingSettings) -> FrettingSettings:
    """Return what is asked of shapes if each chord of the chart can be held so, else nothing."""
    try:
        check_shapes(settings.with_base(fretting=fretting))
    except BackingError:
        return AS_THE_STYLE
    return fretting


def _style(settings: LiveSettings) -> str:
    return settings.base.style or settings.chart.style or usual_style(settings.chart.meter)


def _key(settings: LiveSettings) -> object:
    return by_semitones(settings.chart, settings.semitones).key.plain()
