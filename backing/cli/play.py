"""`backing play`: play charts live."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated

import typer

from backing.cli import options, values
from backing.cli.charts import Charts, charts_of
from backing.cli.fretting import Fretting
from backing.cli.groups import Group, spread
from backing.errors import BackingError, SettingsError

if TYPE_CHECKING:
    from backing.control.settings import LiveSettings
    from backing.live.session import Output
    from backing.performance.settings import Settings

EXAMPLE = "backing play demos/quarry-hill.chart --from 120 --to 230"

ENDLESS = options.Take(choruses=None)


@dataclass(frozen=True, slots=True)
class Device(Group):
    """The output of the band: a MIDI port or a synthesizer."""

    port: Annotated[
        str,
        typer.Option(
            "--port", "-p", metavar="NAME", help="MIDI port: its name or a part of it. [the first]"
        ),
    ] = ""
    virtual: Annotated[
        str | None,
        typer.Option(metavar="NAME", help="Open a MIDI port of this name for others."),
    ] = None
    synth: Annotated[
        bool, typer.Option("--synth", help="Play through FluidSynth, without a MIDI port.")
    ] = False

    def check(self) -> None:
        """Refuse two outputs at once.

        Raises:
            SettingsError: when more than one is named.
        """
        if sum(map(bool, (self.port, self.virtual, self.synth))) > 1:
            raise SettingsError("use only one of --port, --virtual and --synth")

    def output(self) -> Output:
        """Open and return the output.

        Raises:
            BackingError: when no output has this name, or there is none at all.
        """
        if self.synth:
            from backing.out.synth import Synth

            return Synth()
        from backing.out.port import open_output

        return open_output(self.virtual or self.port, virtual=bool(self.virtual))


@dataclass(frozen=True, slots=True)
class Practice(Group):
    """What to practise: a loop, a tempo ladder, bars without the band."""

    loop: Annotated[
        str | None, typer.Option(metavar="BARS", help="Go round these bars: A, A 2, A-B or 5-8.")
    ] = None
    start: Annotated[
        str | None, typer.Option("--from", metavar="BPM", help="Tempo ladder: start here.")
    ] = None
    goal: Annotated[
        str | None, typer.Option("--to", metavar="BPM", help="Tempo ladder: end here.")
    ] = None
    step: Annotated[
        str | None, typer.Option(metavar="BPM", help="Tempo ladder: go up by this. [one step]")
    ] = None
    every: Annotated[str, typer.Option(metavar="N", help="Tempo ladder: rounds at each tempo.")] = (
        "2"
    )
    back: Annotated[bool, typer.Option("--back", help="Tempo ladder: come down again.")] = False
    rest: Annotated[
        str | None, typer.Option(metavar="N/M", help="The band rests in N bars of every M.")
    ] = None
    trade: Annotated[
        str | None, typer.Option(metavar="N", help="Trade: the band plays N bars, then you.")
    ] = None
    count_each: Annotated[
        bool, typer.Option("--count-each", help="Count in every round of a loop.")
    ] = False

    def commands(self) -> list[str]:
        """Return the options as lines, the commands of `control/commands.py`.

        Raises:
            SettingsError: when a text cannot be read, or two options do not go together.
        """
        if self.rest is not None and self.trade is not None:
            raise SettingsError("use --rest or --trade, not both")
        return [
            *([f"loop {self.loop}"] if self.loop is not None else []),
            *self._ladder(),
            *self._rest(),
            *(["count-in on"] if self.count_each else []),
        ]

    def _ladder(self) -> list[str]:
        if (self.start is None) != (self.goal is None):
            raise SettingsError("a ladder needs both --from and --to")
        pace = values.whole_number("--every", self.every)
        size = "usual" if self.step is None else values.tempo(self.step)
        ends = values.tempo(self.start), values.tempo(self.goal)
        words = ("ladder", *ends, size, pace, *(["back"] if self.back else []))
        return [" ".join(map(str, words))] if all(ends) else []

    def _rest(self) -> list[str]:
        from backing.control.practice_commands import rest_numbers

        if self.trade is not None:
            return [f"trade {values.whole_number('--trade', self.trade)}"]
        if self.rest is None:
            return []
        pair = rest_numbers(self.rest)
        if len(pair) != 2:
            raise SettingsError(
                f"--rest {self.rest}: write how many bars of how many, such as --rest 2/8"
            )
        return [f"rest {' '.join(str(values.whole_number('--rest', each)) for each in pair)}"]


@spread
def run(
    charts: Charts,
    *,
    device: Device,
    tempo_and_key: options.TempoAndKey,
    practice: Practice,
    take: options.Take = ENDLESS,
    fretting: Fretting,
    clock: Annotated[bool, typer.Option("--clock", help="Also send MIDI clock.")] = False,
    pedal: Annotated[
        str | None, typer.Option(metavar="PORT", help="MIDI input of a foot pedal.")
    ] = None,
    json: Annotated[
        bool, typer.Option("--json", help="Print a line of JSON for every bar.")
    ] = False,
    large: Annotated[
        bool, typer.Option("--large", help="Use large print on the terminal.")
    ] = False,
) -> None:
    """Play charts live and follow your commands.

    The band goes round until you type last-time or stop. On a terminal, single keys are commands.
    Otherwise each line of standard input is one: tempo 120, key +2, loop A, mute chop, last-time,
    stop, quit. With several charts, the next one begins when the band has ended.
    """
    from contextlib import closing

    from backing.live.console import Console
    from backing.live.session import Session

    settings = take.settings(fretting.request())
    commands = [*_key_command(tempo_and_key), *practice.commands()]
    tunes = [
        (source, _live_settings(source, settings, tempo_and_key, commands, take))
        for source in charts_of(charts)
    ]
    console = Console(json=json, large=large, keys=sys.stdin is not None and sys.stdin.isatty())
    with closing(device.output()) as output:
        sessions = [
            Session(source, live, output, clock_out=clock, keeps_output=True, on_bar=console.begun)
            for source, live in tunes
        ]
        console.run(sessions, pedal)
    for session in sessions:
        if session.broken:
            raise session.broken


def _live_settings(
    source: str,
    settings: Settings,
    tempo_and_key: options.TempoAndKey,
    commands: list[str],
    take: options.Take,
) -> LiveSettings:
    """Return the settings with which the band begins a chart.

    Raises:
        BackingError: when the chart has faults, or the options do not fit it.
    """
    from backing.cli.report import named
    from backing.control.settings import LiveSettings
    from backing.live.session import settings_after
    from backing.scores.sidecar import load_tune
    from backing.style.library import style_meters

    chart = load_tune(source, None if take.style else style_meters())
    try:
        settings = tempo_and_key.at_tempo(settings, chart)
        live = LiveSettings.of(chart, settings, endless=take.choruses is None)
        return settings_after(commands, live)
    except BackingError as error:
        raise named(source, error) from None


def _key_command(key: options.Key) -> list[str]:
    """Return the command for another key; no command for the chart's own."""
    if key.key:
        return [f"key {key.key}"]
    return [f"key {key.semitones:+d}"] if key.semitones else []
