"""`backing play`: the band, now."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Annotated

import typer

from backing.cli import options

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
    style: options.Style = None,
    tempo: options.Tempo = None,
    key: options.Key = None,
    choruses: Annotated[
        str | None,
        typer.Option("--choruses", "-n", metavar="N", help="Times round. [until you say]"),
    ] = None,
    loop: Annotated[
        str | None, typer.Option(metavar="BARS", help="Go round A, A 2, A-B or 5-8.")
    ] = None,
    start: Annotated[
        str | None, typer.Option("--from", metavar="BPM", help="A ladder: the first tempo,")
    ] = None,
    goal: Annotated[str | None, typer.Option("--to", metavar="BPM", help="the goal,")] = None,
    step: Annotated[
        str | None, typer.Option(metavar="BPM", help="how much faster each time, [5 or 2]")
    ] = None,
    every: Annotated[str, typer.Option(metavar="N", help="after how many times round,")] = "2",
    back: Annotated[bool, typer.Option("--back", help="and down again.")] = False,
    rest: Annotated[
        str | None, typer.Option(metavar="N/M", help="The band is silent N bars of every M.")
    ] = None,
    trade: Annotated[
        str | None, typer.Option(metavar="N", help="The band plays N bars, then you do.")
    ] = None,
    without: options.Without = None,
    called: options.With = None,
    lead: options.Lead = options.LEAD,
    lead_octave: options.LeadOctave = False,
    instrument: options.Instrument = None,
    level: options.Level = None,
    reach: options.Reach = options.REACH,
    strings: options.Strings = None,
    frets: options.Frets = None,
    capo: options.Capo = options.CAPO,
    no_barre: options.NoBarre = False,
    count_in: options.CountIn = None,
    count_each: Annotated[
        bool, typer.Option("--count-each", help="Count in every round of a loop.")
    ] = False,
    seed: options.Seed = options.SEED,
    looseness: options.Looseness = options.LOOSENESS,
    clock: Annotated[bool, typer.Option("--clock", help="Send MIDI clock too.")] = False,
    pedal: Annotated[
        str | None, typer.Option(metavar="PORT", help="A foot pedal's MIDI input.")
    ] = None,
    json: Annotated[
        bool, typer.Option("--json", help="One line of state a bar on standard output.")
    ] = False,
    large: Annotated[bool, typer.Option("--large", help="To be read from two metres.")] = False,
) -> None:
    """Play a chart live and follow your commands.

    On a terminal single keys are commands. Otherwise standard input is read line by line:
    tempo 120, key +2, loop A, mute chop, last-time, stop, quit.
    """
    from backing.live.console import Console
    from backing.live.session import Session
    from backing.live.wishes import Wishes
    from backing.notes import Player
    from backing.performance import Performance
    from backing.scores.beside import load_tune
    from backing.style.library import style_meters

    settings = options.settings(
        style=style,
        choruses=choruses,
        seed=seed,
        count_in=count_in,
        looseness=looseness,
        without=without,
        called=called,
        lead=lead,
        lead_octave=lead_octave,
        fretted=options.fretting(
            instrument=instrument,
            level=level,
            reach=reach,
            strings=strings,
            frets=frets,
            capo=capo,
            no_barre=no_barre,
        ),
    )
    own_tempo = options.tempo_of(tempo)
    lines = _opening_lines(
        key=key,
        loop=loop,
        ladder=(start, goal, step, every, back),
        rest=rest,
        trade=trade,
        count_each=count_each,
    )
    sheet = load_tune(chart, None if style else style_meters())
    settings = options.at_tempo(settings, own_tempo, sheet)
    wishes = Wishes(
        sheet,
        Performance(sheet, settings).bpm,
        style,
        muted=frozenset(Player) - settings.players,
        called=settings.called,
        fretting=settings.fretting,
        lead=settings.lead,
    )
    console = Console(json=json, large=large, keys=sys.stdin is not None and sys.stdin.isatty())
    session = Session(
        chart,
        _wished(wishes, lines),
        _output(port, virtual, synth=synth),
        seed=settings.seed,
        looseness=settings.looseness,
        choruses=None if choruses is None else settings.choruses,
        count_in=settings.count_in,
        clock_out=clock,
        on_bar=console.begun,
    )
    console.run(session, pedal)
    if session.broken:
        raise session.broken


def _opening_lines(
    *,
    key: str | None,
    loop: str | None,
    ladder: tuple[str | None, str | None, str | None, str, bool],
    rest: str | None,
    trade: str | None,
    count_each: bool,
) -> list[str]:
    """Return the options as lines of verbs."""
    from backing.cli.numbers import whole_number
    from backing.errors import SettingsError
    from backing.live.verbs import rest_numbers

    start, goal, step, every, back = ladder
    if (start is None) != (goal is None):
        raise SettingsError("a ladder wants both --from and --to")
    if rest is not None and trade is not None:
        raise SettingsError("--rest and --trade exclude each other: choose one")
    lines = [
        f"{verb} {value}" for verb, value in (("key", key), ("loop", loop)) if value is not None
    ]
    pace = whole_number("--every", every)
    size = "usual" if step is None else options.tempo_of(step)
    rungs = (options.tempo_of(start), options.tempo_of(goal))
    if all(rungs):
        words = ("ladder", *rungs, size, pace, "back" if back else "")
        lines.append(" ".join(map(str, words)).strip())
    if rest is not None:
        pair = rest_numbers(rest)
        if len(pair) != 2:
            raise SettingsError(f"--rest {rest}: write bars of how many, such as --rest 2/8")
        lines.append(f"rest {' '.join(str(whole_number('--rest', each)) for each in pair)}")
    if trade is not None:
        lines.append(f"trade {whole_number('--trade', trade)}")
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
