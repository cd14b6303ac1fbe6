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
from backing.stand.messages import State
from backing.stand.outlet import BROWSER
from backing.stand.sheet import Shown
from backing.stand.songbook import CHART
from backing.stand.words import about, pressed, tempo_unit, values, words

if TYPE_CHECKING:
    from collections.abc import Callable

    from backing.fretboard.fretting import FrettingWish
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
    def wishes(self) -> LiveSettings:
        """What is wished now."""
        return self.session.transport.wishes

    @property
    def shown(self) -> Shown:
        """What of it is to be seen; an edit at once in silence."""
        wishes, playing = self.wishes, self.session.transport.playing
        base = wishes.base
        pending = None if playing else wishes.pending
        return Shown(pending or wishes.chart, wishes.semitones, base.style, base.fretting)

    @property
    def sounds(self) -> Sounds:
        """The sounds it needs."""
        return self.styles, bool((self.wishes.pending or self.wishes.chart).lead)

    @property
    def styles(self) -> tuple[str, ...]:
        """The styles whose sounds it needs, in the order of their names."""
        wishes = self.wishes
        if wishes.base.style:
            return (wishes.base.style,)
        chart = wishes.pending or wishes.chart
        return tuple(sorted({_style(wishes), *(part.style for part in chart.parts if part.style)}))

    def state(self, *, output: str, outputs: str, pages: int) -> State:
        """Return its state, for clients.

        Args:
            output: the audio output; in the browser nothing is late by the server's doing.
            outputs: the choices of it, as markup.
            pages: how many clients there are.
        """
        transport, wishes = self.session.transport, self.wishes
        bar = transport.now_bar
        style = bar.style if bar else None
        name = style.name if style else _style(wishes)
        played = state_of(transport, bar)
        return State(
            **played
            | {
                "style": name,
                "key": str(bar.key if bar else _key(wishes)),
                "late_ms": None if output == BROWSER else played["late_ms"],
            },
            output=output,
            outputs=outputs,
            pages=pages,
            tune=self.file,
            title=wishes.chart.title,
            levels={each: level for each, level in wishes.levels if each in wishes.band},
            muted=[player for player in wishes.band if not wishes.plays(player, style)],
            band=list(wishes.band),
            semitones=wishes.semitones,
            unit=tempo_unit(wishes.chart.tempo_unit),
            pressed=pressed(wishes, style),
            values=values(wishes, name),
            words={"about": about(wishes, str(_key(wishes)), name), **words(wishes, style)},
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
    wishes = LiveSettings.of(chart)
    if before:
        base = before.base
        wishes = replace(wishes, levels=before.levels, level=before.level).with_base(
            players=base.players,
            called=base.called,
            lead=base.lead,
            fretting=_held(wishes, base.fretting),
        )
    path = str(songbook.path_of(file, CHART))
    return Tune(file, Session(path, wishes, output, links=False, on_change=on_change))


def _held(wishes: LiveSettings, fretting: FrettingWish) -> FrettingWish:
    """Return what is asked of shapes if each chord of the chart can be held so, else nothing."""
    try:
        check_shapes(wishes.with_base(fretting=fretting))
    except BackingError:
        return AS_THE_STYLE
    return fretting


def _style(wishes: LiveSettings) -> str:
    return wishes.base.style or wishes.chart.style or usual_style(wishes.chart.meter)


def _key(wishes: LiveSettings) -> object:
    return by_semitones(wishes.chart, wishes.semitones).key.plain()
