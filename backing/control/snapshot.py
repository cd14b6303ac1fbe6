"""Settings and progress as JSON: `restore(save(state), chart)` is the state.

Conventions: the chart is not saved, as it is read from its file; a pending edit counts as applied.
Neither are `loop` and `live` of a performance, which are set for each, nor a count-in and a ritard:
every start has a count-in at full tempo.
The data come back from a browser, so each field is checked by itself and with the chart. A field
that is missing, damaged or does not fit keeps its default, and a sentence says so. Styles and
instruments are names from the lists, never paths.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, TypeVar

from backing.band.lead import WHEN, LeadSettings
from backing.chart.selection import bars_of
from backing.chart.sequence import length_in_bars, part_label
from backing.chart.transpose import FARTHEST, by_semitones
from backing.control.codec import (
    BOOLEAN,
    LARGEST,
    TEXT,
    Codec,
    CodecError,
    integer,
    invalid,
    key_of,
    number,
    one_of,
    or_none,
    record,
    row,
    to_data,
    unchanged,
)
from backing.control.progress import Progress, all_bar_names
from backing.control.settings import (
    EVERYBODY,
    LOUDEST,
    LiveSettings,
    check_shapes,
)
from backing.errors import BackingError
from backing.fretboard.hand import LEAST_REACH_MM, MOST_REACH_MM, Hand
from backing.fretboard.instrument import MOST_FRETS, MOST_STRINGS, instrument_files
from backing.fretboard.request import FEWEST, VOICINGS, FrettingSettings
from backing.notes import Player
from backing.performance.ladder import SMALLEST_STEP_BPM, Ladder
from backing.performance.performance import Performance
from backing.performance.settings import MOST_CHORUSES, MOST_COUNT_IN, MOST_LOOSENESS, Settings
from backing.style.library import style_files
from backing.timing import FASTEST_BPM, SLOWEST_BPM, UNITS, Tempo

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from backing.chart.model import Chart

VERSION = 2
"""Goes up when the meaning of saved data changes."""

_MOST_STEP_BPM = 1e5


@dataclass(frozen=True, slots=True)
class Snapshot:
    """The state of live playing.

    Attributes:
        settings: the settings, without a pending chart.
        progress: where it plays or would resume, at full tempo, without a count-in.
        playing: whether it plays.
        begun: whether a bar has begun since the start of the tune.

    """

    settings: LiveSettings
    progress: Progress
    playing: bool = False
    begun: bool = False


def _read_players(value: Any) -> frozenset[Player]:
    if not isinstance(value, list) or len(value) > len(Player):
        raise invalid(value, "a list of players")
    return frozenset(Player(_PLAYER.read(each)) for each in value)


def _read_levels(value: Any) -> tuple[tuple[Player, int], ...]:
    levels = record(dict, {str(player): integer(0, LOUDEST) for player in Player}).read(value)
    return tuple((player, levels[player]) for player in Player)


def _read_rest(value: Any) -> tuple[int, int]:
    silent, of_bars = row(integer(1), integer(2)).read(value)
    if silent >= of_bars:
        raise invalid(value, "fewer silent bars than bars in the group")
    return silent, of_bars


def _read_strings(value: Any) -> int | tuple[int, ...]:
    if not isinstance(value, list):
        return int(integer(FEWEST, MOST_STRINGS).read(value))
    if not FEWEST <= len(value) <= MOST_STRINGS:
        raise invalid(value, f"{FEWEST} to {MOST_STRINGS} strings")
    strings = row(*[integer(1, MOST_STRINGS)] * len(value)).read(value)
    if len(set(strings)) != len(strings):
        raise invalid(value, "a list with each string once")
    return tuple(strings)


def _ladder(**fields: Any) -> Ladder:
    ladder = Ladder(**fields)
    for bpm in (ladder.start_bpm, ladder.goal_bpm):
        quarters = round(Tempo(bpm, ladder.unit).quarter_bpm, 6)
        if not SLOWEST_BPM <= quarters <= FASTEST_BPM:
            raise invalid(bpm, f"{SLOWEST_BPM:g} to {FASTEST_BPM:g} quarter notes a minute")
    return ladder


_PLAYER = one_of(lambda: Player)
_PLAYERS = Codec(lambda these: [str(each) for each in Player if each in these], _read_players)
_ANY_BPM = number(0, 10 * FASTEST_BPM)
_BAR_NAME = row(TEXT, integer(-1), integer(-1))

LADDER = {
    "start_bpm": _ANY_BPM,
    "goal_bpm": _ANY_BPM,
    "step_bpm": number(SMALLEST_STEP_BPM, _MOST_STEP_BPM),
    "every": integer(1),
    "back": BOOLEAN,
    "unit": one_of(lambda: UNITS),
}
HAND = {
    "reach_mm": number(LEAST_REACH_MM, MOST_REACH_MM),
    "open_strings": BOOLEAN,
    "barre": BOOLEAN,
    "inner_muted": integer(0, MOST_STRINGS),
}
FRETTING = {
    "instrument": or_none(one_of(instrument_files)),
    "capo": integer(0, MOST_FRETS),
    "voicing": or_none(one_of(lambda: VOICINGS)),
    "hand": record(Hand, HAND),
    "rootless": BOOLEAN,
    "strings": or_none(
        Codec(lambda these: list(these) if isinstance(these, tuple) else these, _read_strings)
    ),
    "lowest": integer(1, MOST_FRETS),
    "highest": or_none(integer(1, MOST_FRETS)),
}
LEAD = {"when": one_of(lambda: WHEN), "octave": BOOLEAN}
SETTINGS = {
    "style": or_none(one_of(style_files)),
    "semitones": integer(-FARTHEST, FARTHEST),
    "fretting": record(FrettingSettings, FRETTING),
    "bpm": number(SLOWEST_BPM, FASTEST_BPM),
    "choruses": integer(1, MOST_CHORUSES),
    "endless": BOOLEAN,
    "seed": integer(-LARGEST),
    "count_in": or_none(integer(0, MOST_COUNT_IN)),
    "count_each": BOOLEAN,
    "looseness": number(0, MOST_LOOSENESS),
    "players": _PLAYERS,
    "called": _PLAYERS,
    "previous_players": or_none(row(_PLAYERS, _PLAYERS)),
    "levels": Codec(lambda levels: {str(each): level for each, level in levels}, _read_levels),
    "level": integer(0, LOUDEST),
    "lead": record(LeadSettings, LEAD),
    "loop": or_none(Codec(unchanged, lambda value: " ".join(TEXT.read(value).split()))),
    "last_time": BOOLEAN,
    "ladder": or_none(record(_ladder, LADDER)),
    "rest": or_none(Codec(list, _read_rest)),
}
"""The fields of `LiveSettings` and its `base`, each after those that its check needs."""

PROGRESS = {
    "chorus": integer(1, MOST_CHORUSES),
    "bar": or_none(_BAR_NAME),
    "behind": or_none(integer(0)),
    "played": integer(0),
    "rounds": integer(0),
    "ticks": integer(0),
    "looped_from": or_none(_BAR_NAME),
    "ended_loop": or_none(row(integer(0), integer(0))),
    "circled": integer(0, MOST_CHORUSES),
    "loop_since": integer(0),
    "ladder_since": integer(0),
    "rest_since": integer(-LARGEST),
}
"""The fields of `Progress` and its `position`."""

STATE = {"playing": BOOLEAN, "begun": BOOLEAN}

_PARTS = {LiveSettings: "base", Progress: "position"}
"""The field whose own fields are saved beside those of the class."""


def save(state: Snapshot) -> dict[str, Any]:
    """Return the state as plain JSON values."""
    return {
        "version": VERSION,
        "settings": to_data(state.settings, SETTINGS, state.settings.base),
        "progress": to_data(state.progress, PROGRESS, state.progress.position),
        **to_data(state, STATE),
    }


def restore(value: object, chart: Chart) -> tuple[Snapshot, list[str]]:
    """Return the saved state, and a sentence for each field that could not be restored.

    Args:
        value: what `save` returned, or anything else.
        chart: the chart that is played; it may have changed since.

    """
    usual = Snapshot(LiveSettings.of(chart), Progress())
    if not isinstance(value, dict) or value.get("version") != VERSION:
        return usual, ["the saved state cannot be read: it is damaged or from another version"]
    faults: list[str] = []
    found = replace(
        usual,
        settings=_restored(usual.settings, value.get("settings"), SETTINGS, chart, faults),
        progress=_restored(usual.progress, value.get("progress"), PROGRESS, chart, faults),
    )
    return _restored(found, value, STATE, chart, faults), faults


_Value = TypeVar("_Value", LiveSettings, Progress, Snapshot)


def _restored(
    usual: _Value, value: object, codecs: Mapping[str, Codec], chart: Chart, faults: list[str]
) -> _Value:
    """Return a value with every saved field that is valid; collect sentences for the others."""
    fields = value if isinstance(value, dict) else {}
    for name, codec in codecs.items():
        try:
            if key_of(name) not in fields:
                raise CodecError("it is missing")
            changed = _with_field(usual, name, codec.read(fields[key_of(name)]))
            if changed != usual and name in _CHECKS:
                _CHECKS[name](changed, chart)
            usual = changed
        except BackingError as error:
            faults.append(f"{key_of(name)}: {error}")
    return usual


def _with_field(value: _Value, name: str, field: Any) -> _Value:
    """Return a value with one of its fields, or a field of its part, replaced."""
    part = _PARTS.get(type(value), "")
    if not part or name in type(value).__dataclass_fields__:
        return replace(value, **{name: field})
    return replace(value, **{part: replace(getattr(value, part), **{name: field})})


def _check_band(settings: LiveSettings, _: Chart) -> None:
    chart = by_semitones(settings.chart, settings.semitones)
    Performance(chart, Settings(style=settings.base.style, called=EVERYBODY))


def _check_bars(progress: Progress, chart: Chart) -> None:
    for name in (progress.position.bar, progress.position.looped_from):
        if name is not None and name not in all_bar_names(chart):
            part, occurrence, index = name
            label = part_label(part, occurrence)
            raise CodecError(f"bar {index + 1} of part {label} is not in the chart")


def _check_ended_loop(progress: Progress, chart: Chart) -> None:
    first, last = progress.position.ended_loop or (0, 0)
    if not first <= last < length_in_bars(chart):
        raise CodecError(f"bars {first + 1} to {last + 1} are not in the chart")


_CHECKS: dict[str, Callable[[Any, Chart], object]] = {
    "style": _check_band,
    "semitones": _check_band,
    "fretting": lambda settings, _: check_shapes(settings),
    "loop": lambda settings, chart: bars_of(chart, settings.loop or ""),
    "bar": _check_bars,
    "looped_from": _check_bars,
    "ended_loop": _check_ended_loop,
}
"""Checks of fields against the chart."""
