"""The messages between the server and its clients; `codec` reads and writes them.

Conventions: a message is one line of JSON; its keys are `type` and the names of the dataclass's
fields, or the `key` of their metadata. A field whose default is None is left out where it is None.
Ticks are the transport's, 960 a quarter note, counted from the press of play; times are seconds of
the server's steady clock, which a client learns by pings. `static/messages.d.ts` declares the same
for the page's scripts; `tests/stand/test_messages.py` writes it from these classes and compares.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import ClassVar, Literal

from backing.notes import Player  # noqa: TC001  # the codec reads the annotations

NameStyle = Literal["letters", "numbers", "roman"]
"""How chords are named."""


# from a client


@dataclass(frozen=True, slots=True)
class CommandLine:
    """Carry out a line of commands (`control/commands.py`).

    `at` is the moment that the player was hearing, in server seconds.
    """

    type: ClassVar = "say"
    line: str
    at: float | None = None


@dataclass(frozen=True, slots=True)
class Restore:
    """Restore an earlier server's state, from its last `State`.

    A server that has carried out a command ignores it. A `Fault` lists what cannot be restored.
    """

    type: ClassVar = "again"
    tune: str
    output: str
    snapshot: object = None


@dataclass(frozen=True, slots=True)
class ChangeSet:
    """Change a set, a list of tunes to play in order.

    `to` is the new name for `rename`, and the new place for `move`; places are counted from 0.
    """

    type: ClassVar = "set"
    do: Literal["new", "delete", "rename", "add", "out", "move"]
    name: str
    tune: str | None = None
    place: int | None = None
    to: int | str | None = None


@dataclass(frozen=True, slots=True)
class OpenTune:
    """Open a tune of the songbook, for all clients."""

    type: ClassVar = "open"
    tune: str


@dataclass(frozen=True, slots=True)
class ChooseOutput:
    """Switch the audio output: "browser", or "port:" and the name of a MIDI port."""

    type: ClassVar = "output"
    name: str


@dataclass(frozen=True, slots=True)
class Ping:
    """Ask for the server's time; `mine` is the client's own, in seconds."""

    type: ClassVar = "ping"
    mine: float | None = None


@dataclass(frozen=True, slots=True)
class NameChords:
    """Choose how this client shows the names of chords."""

    type: ClassVar = "names"
    names: NameStyle = field(metadata={"key": "as"})


@dataclass(frozen=True, slots=True)
class ShowShapes:
    """Show the chord shapes of an instrument, which the chop then plays.

    `instrument` is a name, "band" for the band's own, or "none" to hide shapes. Without it `shown`
    tells whether the shapes that the chop plays now are shown. `left` draws them left-handed.
    """

    type: ClassVar = "shapes"
    instrument: str | None = None
    shown: bool = False
    left: bool = False


Request = (
    CommandLine | Restore | ChangeSet | OpenTune | ChooseOutput | Ping | NameChords | ShowShapes
)


# to a client


@dataclass(frozen=True, slots=True)
class Hello:
    """The first message."""

    type: ClassVar = "hello"


@dataclass(frozen=True, slots=True)
class Pong:
    """The answer to a ping: its time, and the server's."""

    type: ClassVar = "pong"
    mine: float | None
    time: float


@dataclass(frozen=True, slots=True)
class Notice:
    """A sentence for the player."""

    type: ClassVar = "news"
    text: str


@dataclass(frozen=True, slots=True)
class Fault:
    """A sentence that tells what failed, and what to do."""

    type: ClassVar = "fault"
    text: str


@dataclass(frozen=True, slots=True)
class SetListing:
    """A set: its name, its files in order, and the same as markup."""

    name: str
    tunes: list[str]
    html: str


@dataclass(frozen=True, slots=True)
class SongbookListing:
    """The songbook: its tunes and the choices of each filter as markup, and its sets.

    `playable` maps each file without faults to its style.
    """

    type: ClassVar = "songbook"
    tunes: str
    keys: str
    styles: str
    names: str
    sets: list[SetListing]
    playable: dict[str, str]


@dataclass(frozen=True, slots=True)
class ChartView:
    """The chart as this client shows it, in the sounding key.

    Markup: `html` is the chart, `grips` its chord shapes, `form` and `loops` the buttons of its
    parts, `begins` the first chord. `bars` is the length of the form in bars.
    """

    type: ClassVar = "chart"
    tune: str
    title: str
    names: NameStyle
    instrument: str
    left: bool
    shapes_fault: str | None
    key: str
    has_shapes: bool
    bars: int
    begins: str
    html: str
    grips: str
    form: str
    loops: str


@dataclass(frozen=True, slots=True)
class SoundBank:
    """The address of the bank of sounds; a better one follows a sketch."""

    type: ClassVar = "bank"
    url: str
    sketch: bool


@dataclass(frozen=True, slots=True)
class LiveBar:
    """A bar to play; its length and that of its beat are in ticks.

    `bar` is its part, the occurrence of that part in the form, and its number as written, both
    from 0. `count` numbers the bars of a count-in. `chords` are tick, text and markup; `cells` tell
    where each is written: part, number of the bar, number in the bar. `path` is the number of the
    chop's path, whose shapes sound. `mix` has program, volume and pan of each player; `notes` are
    tick, length, player, pitch and velocity.
    """

    id: int
    start: int
    ticks: int
    bar: tuple[str, int, int] | None
    part: str
    index: int
    chorus: int
    count: int | None
    meter: str
    beat: int
    key: str
    chords: list[tuple[int, str, str]]
    cells: list[tuple[str, int, int] | None]
    path: int
    mix: dict[Player, tuple[int, int, int]]
    notes: list[tuple[int, int, Player, int, int]]


@dataclass(frozen=True, slots=True)
class Bars:
    """New bars, and the ids of those that are no longer to be played."""

    type: ClassVar = "bars"
    add: list[LiveBar]
    drop: list[int]


@dataclass(frozen=True, slots=True)
class Timeline:
    """The tempi of the bars made so far: tick, time, and quarter notes a minute from there on.

    `generation` grows with each press of play.
    """

    type: ClassVar = "time"
    line: list[tuple[float, float, float]]
    playing: bool
    generation: int


@dataclass(frozen=True, slots=True)
class TempoUnit:
    """The note that tempi are counted in: its name, in words, and its sign as markup.

    `step` is one step of tempo; `slowest` and `fastest` are the whole limits of tempo.
    """

    name: str
    words: str
    mark: str
    step: float
    slowest: int
    fastest: int


@dataclass(frozen=True, slots=True)
class Idle:
    """The state without an open tune: the audio output, and the number of clients (`pages`).

    `outputs` are the choices as markup.
    """

    type: ClassVar = "state"
    output: str
    outputs: str
    pages: int
    tune: None
    playing: Literal[False]


@dataclass(frozen=True, slots=True)
class State:
    """All settings and what is played; `live/session.py` explains its fields.

    `levels` and `level` are percents. `active`, `values` and `labels` are the states of controls by
    their commands (`stand/labels.py`). `snapshot` is for `Restore`; a client changes at most its
    `playing`.
    """

    type: ClassVar = "state"
    output: str
    outputs: str
    pages: int
    tune: str
    playing: bool
    ended: bool
    part: str | None
    bar: int | None
    bars: int | None
    chorus: int | None
    round: int | None
    chords: list[str]
    key: str
    tempo: float
    tempo_unit: str
    tempo_wished: float
    quarter_bpm: float
    meter: str | None
    style: str
    plays: list[Player]
    level: int
    loop: tuple[int, int] | None
    last_time: bool
    title: str
    levels: dict[Player, int]
    muted: list[Player]
    band: list[Player]
    semitones: int
    unit: TempoUnit
    active: list[str] = field(metadata={"key": "pressed"})
    values: dict[str, str | int | bool]
    labels: dict[str, str] = field(metadata={"key": "words"})
    snapshot: dict[str, object]
    late_ms: float | None = None


Announcement = (
    Hello
    | Pong
    | Notice
    | Fault
    | SongbookListing
    | ChartView
    | SoundBank
    | Bars
    | Timeline
    | Idle
    | State
)
