"""`backing play`: the band, now."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from backing.live.session import Output
    from backing.live.wishes import Wishes

EXAMPLE = "backing play demos/quarry-hill.chart --from 120 --to 230"


def run(
    chart: Annotated[str, typer.Argument(metavar="CHART", help="Chart file.")],
    port: Annotated[
        str, typer.Option("--port", "-p", metavar="NAME", help="MIDI port, or a part of its name.")
    ] = "",
    virtual: Annotated[
        str | None, typer.Option(metavar="NAME", help="Open a port of this name for others.")
    ] = None,
    synth: Annotated[
        bool, typer.Option("--synth", help="Play through FluidSynth's library, without a port.")
    ] = False,
    style: Annotated[
        str | None, typer.Option("--style", "-s", metavar="NAME", help="Groove.")
    ] = None,
    tempo: Annotated[
        str | None,
        typer.Option("--tempo", "-t", metavar="BPM", help="Quarter notes a minute, or half=116."),
    ] = None,
    key: Annotated[
        str | None, typer.Option("--key", "-k", metavar="KEY", help="Play in this key.")
    ] = None,
    choruses: Annotated[
        int | None,
        typer.Option("--choruses", "-n", metavar="N", help="Times round. [until you say]"),
    ] = None,
    loop: Annotated[
        str | None, typer.Option(metavar="BARS", help="Go round A, A-B or 5-8.")
    ] = None,
    start: Annotated[
        str | None, typer.Option("--from", metavar="BPM", help="A ladder: the first tempo,")
    ] = None,
    goal: Annotated[str | None, typer.Option("--to", metavar="BPM", help="the goal,")] = None,
    step: Annotated[float, typer.Option(metavar="BPM", help="how much faster each time,")] = 5.0,
    every: Annotated[int, typer.Option(metavar="N", help="after how many times round,")] = 2,
    back: Annotated[bool, typer.Option("--back", help="and down again.")] = False,
    rest: Annotated[
        str | None, typer.Option(metavar="N/M", help="The band is silent N bars of every M.")
    ] = None,
    trade: Annotated[
        int | None, typer.Option(metavar="N", help="The band plays N bars, then you do.")
    ] = None,
    without: Annotated[
        str | None, typer.Option(metavar="PLAYERS", help="Who is left out, such as chop.")
    ] = None,
    count_in: Annotated[
        int | None, typer.Option(metavar="BARS", help="Bars of count-in. [as suits the tempo]")
    ] = None,
    count_each: Annotated[
        bool, typer.Option("--count-each", help="Count in every round of a loop.")
    ] = False,
    seed: Annotated[int, typer.Option(metavar="N", help="Another number is another take.")] = 1,
    looseness: Annotated[float, typer.Option(metavar="X", help="0 to 2.")] = 1.0,
    clock: Annotated[bool, typer.Option("--clock", help="Send MIDI clock too.")] = False,
    pedal: Annotated[
        str | None, typer.Option(metavar="PORT", help="A foot pedal's MIDI input.")
    ] = None,
    json: Annotated[
        bool, typer.Option("--json", help="One line of state a bar on standard output.")
    ] = False,
    large: Annotated[bool, typer.Option("--large", help="To be read from two metres.")] = False,
) -> None:
    """Play a chart live and follow your wishes.

    On a terminal single keys are your wishes. Otherwise standard input is read line by line:
    tempo 120, key +2, loop A, mute chop, last-time, stop, quit.
    """
    from backing.chart.read import load_chart
    from backing.live.console import Console
    from backing.live.session import Session
    from backing.live.wishes import Wishes
    from backing.performance import Performance, Settings
    from backing.style.library import style_meters

    sheet = load_chart(chart, None if style else style_meters())
    wishes = Wishes(sheet, Performance(sheet, Settings(style=style)).bpm, style)
    lines = _opening_lines(
        tempo=tempo,
        key=key,
        loop=loop,
        ladder=(start, goal, step, every, back),
        rest=rest,
        trade=trade,
        without=without,
        count_each=count_each,
    )
    console = Console(json=json, large=large, keys=sys.stdin is not None and sys.stdin.isatty())
    session = Session(
        chart,
        _wished(wishes, lines),
        _output(port, virtual, synth=synth),
        seed=seed,
        looseness=looseness,
        choruses=choruses,
        count_in=count_in,
        clock_out=clock,
        on_bar=console.begun,
    )
    console.run(session, pedal)
    if session.broken:
        raise session.broken


def _opening_lines(
    *,
    tempo: str | None,
    key: str | None,
    loop: str | None,
    ladder: tuple[str | None, str | None, float, int, bool],
    rest: str | None,
    trade: int | None,
    without: str | None,
    count_each: bool,
) -> list[str]:
    """Return the options as lines of verbs."""
    from backing.errors import SettingsError

    start, goal, step, every, back = ladder
    if (start is None) != (goal is None):
        raise SettingsError("a ladder wants both --from and --to")
    lines = [
        f"{verb} {value}"
        for verb, value in (("tempo", tempo), ("key", key), ("loop", loop), ("trade", trade))
        if value is not None
    ]
    if start and goal:
        lines.append(f"ladder {start} {goal} {step:g} {every}{' back' if back else ''}")
    if rest:
        lines.append(f"rest {rest.replace('/', ' ')}")
    lines += [f"mute {name.strip()}" for name in (without or "").split(",") if name.strip()]
    return [*lines, "count-in on"] if count_each else lines


def _wished(wishes: Wishes, lines: list[str]) -> Wishes:
    """Return the wishes after some lines, carried out on a transport that does not run."""
    from backing.live.source import Source
    from backing.live.transport import Transport
    from backing.live.verbs import Controls

    transport = Transport(Source(), wishes, lambda message: None)
    controls = Controls(transport, lambda: 0.0)
    for line in lines:
        controls.say(line)
    return transport.wishes


def _output(port: str, virtual: str | None, *, synth: bool) -> Output:
    from backing.errors import SettingsError

    if sum(map(bool, (port, virtual, synth))) > 1:
        raise SettingsError("--port, --virtual and --synth exclude each other: choose one")
    if synth:
        from backing.out.synth import Synth

        return Synth()
    from backing.out.port import OutputPort, PortError

    try:
        return OutputPort(virtual or port, virtual=bool(virtual))
    except PortError as error:
        if port or virtual:
            raise
        return _synth_instead(error)


def _synth_instead(error: Exception) -> Output:
    """Return FluidSynth's library when there is no port, or say what to do."""
    from backing.out.port import PortError
    from backing.out.synth import Synth

    try:
        return Synth()
    except PortError as none:
        raise PortError(f"{error}; {none}") from None
