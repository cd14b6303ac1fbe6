"""The messages between the server and its clients, a dataclass each; `codec` reads and writes them.

Conventions: a message is one line of JSON; its keys are `type` and the names of the dataclass's
fields. A field whose default is None is left out where it is None. Ticks are the transport's, 960
a quarter note, counted from the press of play; times are seconds of the server's steady clock,
which a client knows by pings. `static/messages.d.ts` declares the same for the client's scripts:
`tests/stand/test_messages.py` writes it from these classes and compares.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import ClassVar, Literal

from backing.notes import Player  # noqa: TC001  # the codec reads the annotations

NameStyle = Literal["letters", "numbers", "roman"]
"""How chords are named."""


# what a client sends


@dataclass(frozen=True, slots=True)
class Command:
    """Carry out a line of `control/commands.py` as of the moment that was being heard."""

    type: ClassVar = "say"
    line: str
    at: float | None = None


@dataclass(frozen=True, slots=True)
class Restore:
    """Be as a server that has gone away: the values are those of its last `State`.

    Only a server to which nothing has been said yet does so. What does not fit is told as a
    `Fault`.
    """

    type: ClassVar = "again"
    tune: str
    output: str
    snapshot: object = None


@dataclass(frozen=True, slots=True)
class ChangeSet:
    """Change a set, the order of tunes for an evening.

    `to` is the new name for `rename`, and the new place for `move`; places count from 0.
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
class Listen:
    """Whether this client sounds."""

    type: ClassVar = "listen"
    on: bool = False


@dataclass(frozen=True, slots=True)
class Ping:
    """Ask for the server's time; `mine` is the client's own, in seconds."""

    type: ClassVar = "ping"
    mine: float | None = None


@dataclass(frozen=True, slots=True)
class NameChords:
    """How this client shows the names of chords."""

    type: ClassVar = "names"
    names: NameStyle = field(metadata={"key": "as"})


@dataclass(frozen=True, slots=True)
class ShowShapes:
    """Show the shapes of an instrument, which the chop then plays: "band" for its own, or "none".

    Without an instrument, `shown` tells whether the shapes that the chop plays are shown. `left`
    draws them for a left hand.
    """

    type: ClassVar = "shapes"
    instrument: str | None = None
    shown: bool = False
    left: bool = False


Request = (
    Command
    | Restore
    | ChangeSet
    | OpenTune
    | ChooseOutput
    | Listen
    | Ping
    | NameChords
    | ShowShapes
)


# what a client is sent


@dataclass(frozen=True, slots=True)
class Hello:
    """The first message."""

    type: ClassVar = "hello"


@dataclass(frozen=True, slots=True)
class Pong:
    """Answers a ping: its own time, and the server's."""

    type: ClassVar = "pong"
    mine: float | None
    time: float


@dataclass(frozen=True, slots=True)
class Notice:
    """A sentence that the player should know."""

    type: ClassVar = "news"
    text: str


@dataclass(frozen=True, slots=True)
class Fault:
    """A sentence that says what cannot be done, and what to do."""

    type: ClassVar = "fault"
    text: str


@dataclass(frozen=True, slots=True)
class SetListing:
    """A set: its name, its files in order, and these as markup."""

    name: str
    tunes: list[str]
    html: str


@dataclass(frozen=True, slots=True)
class SongbookListing:
    """The songbook: its tunes as markup, the choices of each filter as markup, and its sets.

    `playable` has the style of each file without faults.
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
    """The chart as this client shows it, in the key that sounds.

    Markup: `html` of parts and bars, `grips` of shapes, `form` and `loops` of buttons, `begins` of
    the first chord. `bars` is the length of the whole form.
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
    """The address of the sounds; a sketch is followed by better ones."""

    type: ClassVar = "bank"
    url: str
    sketch: bool


@dataclass(frozen=True, slots=True)
class LiveBar:
    """A bar to play; its length and that of its beat are in ticks.

    `bar` is its part, the occurrence of that part in the form, and its place as written, from 0.
    `count` numbers the bars of a count-in. `chords` are tick, text and markup; `cells` say where
    each is written: part, bar as written, and number in it. `mix` has program, volume and pan of
    each player; `notes` are tick, length, player, pitch and velocity.
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
    mix: dict[Player, tuple[int, int, int]]
    notes: list[tuple[int, int, Player, int, int]]


@dataclass(frozen=True, slots=True)
class Bars:
    """Bars that are new, and the ids of those that are not to be played."""

    type: ClassVar = "bars"
    add: list[LiveBar]
    drop: list[int]


@dataclass(frozen=True, slots=True)
class Timeline:
    """From which tick on, at what time, which tempo holds, in quarter notes a minute.

    It reaches as far as bars are made. `generation` grows with each press of play.
    """

    type: ClassVar = "time"
    line: list[tuple[int, float, float]]
    playing: bool
    generation: int


@dataclass(frozen=True, slots=True)
class TempoUnit:
    """The note that tempi are counted in: its name, in words, and its sign as markup.

    `step` is one step of tempo; `slowest` and `fastest` are whole numbers that the band plays.
    """

    name: str
    words: str
    mark: str
    step: float
    slowest: int
    fastest: int


@dataclass(frozen=True, slots=True)
class Idle:
    """The state without an open tune: where the band would sound, and how many clients there are.

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
    """All settings and what is played, whenever it changes; `live/state.py` explains its fields.

    `levels` and `level` are percents. `pressed`, `values` and `words` tell how each control stands,
    by its command (`stand/labels.py`). `snapshot` is for `Restore`; a client changes no more of it
    than `playing`.
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
    pressed: list[str]
    values: dict[str, str | int | bool]
    words: dict[str, str]
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
