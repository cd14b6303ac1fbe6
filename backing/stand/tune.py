"""The open tune: the session that plays it, and what clients show of it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from backing.chart.grooves import usual_style
from backing.chart.transpose import by_semitones
from backing.control.settings import LiveSettings, check_shapes
from backing.control.snapshot import save
from backing.errors import BackingError
from backing.fretboard.request import AS_THE_STYLE
from backing.live.session import Session, state_of
from backing.stand import labels
from backing.stand.messages import State
from backing.stand.output import BROWSER
from backing.stand.sheet import SheetSource
from backing.stand.songbook import CHART

if TYPE_CHECKING:
    from collections.abc import Callable

    from backing.fretboard.request import FrettingSettings
    from backing.live.session import Output
    from backing.stand.songbook import Songbook

Sounds = tuple[tuple[str, ...], bool]
"""The names of the styles that need sounds, and whether the lead needs some."""


@dataclass(frozen=True, slots=True, eq=False)
class Tune:
    """An open tune.

    Attributes:
        file: its file in the songbook.
        session: the band that plays it.
    """

    file: str
    session: Session

    @property
    def settings(self) -> LiveSettings:
        """The settings now."""
        return self.session.transport.settings

    @property
    def sheet_source(self) -> SheetSource:
        """The chart to show. Edits apply at once while stopped."""
        settings, playing = self.settings, self.session.transport.playing
        base = settings.base
        pending = None if playing else settings.pending
        return SheetSource(pending or settings.chart, settings.semitones, base.style, base.fretting)

    @property
    def sounds(self) -> Sounds:
        """The sounds that it needs, styles in the order of their names."""
        settings = self.settings
        chart = settings.pending or settings.chart
        parts = [] if settings.base.style else [part.style for part in chart.parts if part.style]
        return tuple(sorted({_style(settings), *parts})), bool(chart.melody)

    def state(self, *, output: str, outputs: str, clients: int) -> State:
        """Return the state that clients are sent.

        Args:
            output: the audio output; for the browser `late_ms` is None.
            outputs: the choices of outputs, as markup.
            clients: how many clients are connected.
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
            pages=clients,
            tune=self.file,
            title=settings.chart.title,
            levels={each: level for each, level in settings.levels if each in settings.band},
            muted=[player for player in settings.band if not settings.plays(player, style)],
            band=list(settings.band),
            semitones=settings.semitones,
            unit=labels.tempo_unit(settings.chart.tempo_unit),
            active=labels.active_commands(settings, style),
            values=labels.control_values(settings, name),
            labels={
                "about": labels.about(settings, str(_key(settings)), name),
                **labels.control_labels(settings, style),
            },
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
        songbook: the songbook that has it.
        file: the name of its file.
        output: the audio output.
        on_change: called after each change, from any thread.
        before: the settings of the last open tune; players, levels, lead and shapes are kept.

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
            fretting=_playable(settings, base.fretting),
        )
    path = str(songbook.path_of(file, CHART))
    return Tune(file, Session(path, settings, output, links=False, on_change=on_change))


def _playable(settings: LiveSettings, fretting: FrettingSettings) -> FrettingSettings:
    """Return shape settings if every chord of the chart has a shape with them, else the style's."""
    try:
        check_shapes(settings.with_base(fretting=fretting))
    except BackingError:
        return AS_THE_STYLE
    return fretting


def _style(settings: LiveSettings) -> str:
    return settings.base.style or settings.chart.style or usual_style(settings.chart.meter)


def _key(settings: LiveSettings) -> object:
    return by_semitones(settings.chart, settings.semitones).key.plain()
