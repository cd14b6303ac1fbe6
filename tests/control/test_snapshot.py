"""A restored state equals the saved one, and the band plays on in the same way."""

from __future__ import annotations

import json
from dataclasses import fields, replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from properties import examples

from backing.band.lead import WHEN, LeadSettings
from backing.chart.melody_text import read_melody
from backing.chart.read import read_chart
from backing.chart.sequence import length_in_bars
from backing.control import snapshot
from backing.control.codec import key_of
from backing.control.progress import Position, Progress, all_bar_names
from backing.control.settings import LiveSettings
from backing.control.snapshot import Snapshot, restore, save
from backing.errors import BackingError
from backing.fretboard.hand import Hand
from backing.fretboard.request import AS_THE_STYLE, FrettingSettings
from backing.notes import Player
from backing.performance.ladder import Ladder
from backing.performance.settings import Settings
from backing.style.library import all_styles
from backing.timing import UNITS, Tempo
from tests.live.charts import CLOSING, IN_TWO, LONGER, SHORTER, SLOWING, TWO_PARTS, WITH_PICKUP
from tests.live.take import Take

JIG = read_chart("title: Jig\nkey: D\nmeter: 6/8\ntempo: 112\n[A] 2\n| D | A7 |\n[B] 2\n| G | A7 |")
IN_NINE = read_chart("title: In Nine\nkey: G\nmeter: 9/8\n[A] 2\n| G | D |")
FLOWING = read_chart("title: Flowing\nkey: A\nmeter: 3/4\ntempo: dotted-half=60\n[A] 2\n| A | E7 |")
LED = read_chart("title: Led\nkey: C\ntempo: 150\nmelody: led.melody\n[A] 2\n| C | G |\n")
LED = replace(LED, melody=read_melody("[A]\n| C5:1/4 E5 G5 E5 | D5:1/2 B4 |\n", LED))
CHARTS = (
    TWO_PARTS, LONGER, SHORTER, WITH_PICKUP, IN_TWO, CLOSING, SLOWING, JIG, IN_NINE, FLOWING, LED,
)  # fmt: skip
STYLES = all_styles()[0]
FRETTINGS = (
    AS_THE_STYLE,
    FrettingSettings("guitar", 3, "full", Hand(92.5, True, False, 1), True, 4, 2, 11),
    FrettingSettings("mandolin", voicing="easy", hand=Hand(80.0), strings=(4, 3, 2)),
    FrettingSettings(voicing="swing", hand=Hand(250.0, inner_muted=2)),
    FrettingSettings("tenor-banjo", capo=2, strings=2, highest=9),
)
FARTHEST = 2**53 - 1

players = st.frozensets(st.sampled_from(list(Player)))
counts = st.integers(0, FARTHEST)


@st.composite
def ladders(draw: st.DrawFn) -> Ladder:
    """Return any valid ladder."""
    unit = draw(st.sampled_from(list(UNITS)))
    start, goal = (Tempo.counted(draw(st.floats(20, 500)), unit, digits=9).bpm for _ in range(2))
    return Ladder(
        start,
        goal,
        draw(st.floats(0.1, 1000)),
        draw(st.integers(1, FARTHEST)),
        draw(st.booleans()),
        unit,
    )


@st.composite
def states(draw: st.DrawFn) -> Snapshot:
    """Return any valid state of any chart."""
    chart = draw(st.sampled_from(CHARTS))
    fitting = [each.name for each in STYLES if chart.meter in each.meters]
    part = chart.order[0]
    loops = st.none() | st.sampled_from([part, "1-2", "2", f"{part} 1", f"{part}-{part}"])
    rests = st.integers(2, FARTHEST).flatmap(
        lambda of_bars: st.tuples(st.integers(1, of_bars - 1), st.just(of_bars))
    )
    names = st.none() | st.sampled_from(sorted(all_bar_names(chart)))
    fretting = draw(st.sampled_from(FRETTINGS))
    keys = st.integers(-24, 24) if fretting == AS_THE_STYLE else st.sampled_from([-24, -3, 0])
    base = Settings(
        bpm=draw(st.floats(20, 500)),
        style=draw(st.none() | st.sampled_from(fitting)),
        choruses=draw(st.integers(1, 999)),
        seed=draw(st.integers(-FARTHEST, FARTHEST)),
        count_in=draw(st.none() | st.integers(0, 8)),
        looseness=draw(st.floats(0, 2)),
        players=draw(players),
        called=draw(players),
        count_each=draw(st.booleans()),
        fretting=fretting,
        lead=LeadSettings(draw(st.sampled_from(list(WHEN))), draw(st.booleans())),
    )
    wanted = LiveSettings(
        chart=chart,
        base=base,
        endless=draw(st.booleans()),
        semitones=draw(keys),
        levels=tuple((player, draw(st.integers(0, 150))) for player in Player),
        level=draw(st.integers(0, 150)),
        loop=draw(loops) if length_in_bars(chart) > 1 else None,
        last_time=draw(st.booleans()),
        ladder=draw(st.none() | ladders()),
        rest=draw(st.none() | rests),
        previous_players=draw(st.none() | st.tuples(players, players)),
    )
    position = Position(
        chorus=draw(st.integers(1, 998)),
        bar=draw(names),
        behind=draw(st.none() | st.integers(0, 9)),
        played=draw(counts),
        rounds=draw(counts),
        ticks=draw(counts),
        looped_from=draw(names),
        ended_loop=draw(st.none() | st.just((0, 0))),
        circled=draw(st.integers(0, 998)),
    )
    since = (draw(counts), draw(counts), draw(st.integers(-FARTHEST, FARTHEST)))
    progress = Progress(position, *since)
    return Snapshot(wanted, progress, draw(st.booleans()), draw(st.booleans()))


def through_a_page(value: object) -> Any:
    """Return the data as a page sends them back, where integers and floats are one type."""

    def number(text: str) -> float:
        return int(float(text)) if float(text).is_integer() else float(text)

    return json.loads(json.dumps(value, allow_nan=False), parse_float=number)


@examples(100)
@given(state=states())
def test_the_restored_state_equals_the_saved_one(state: Snapshot) -> None:
    """Every field of every state is restored, also through the number type of a page."""
    assert restore(through_a_page(save(state)), state.settings.chart) == (state, [])


def without(codecs: dict[str, Any], kind: type) -> dict[str, Any]:
    """Return the codecs of fields that another class does not have."""
    others = {each.name for each in fields(kind)}
    return {name: codec for name, codec in codecs.items() if name not in others}


NOT_SAVED = {
    LiveSettings: {"chart", "pending", "pending_bpm"},
    Settings: {"loop", "live"},
    Position: {"count", "share", "applied"},
}
"""The chart is read from its file, `loop` and `live` are set for each performance, and every start
has a count-in at full tempo."""


@pytest.mark.parametrize(
    "kind, codecs",
    [
        (LiveSettings, {"base": None, "loop": None, **without(snapshot.SETTINGS, Settings)}),
        (Settings, without(snapshot.SETTINGS, LiveSettings)),
        (Progress, {"position": None, **without(snapshot.PROGRESS, Position)}),
        (Position, without(snapshot.PROGRESS, Progress)),
        (Snapshot, {"settings": None, "progress": None, **snapshot.STATE}),
        (Ladder, snapshot.LADDER),
        (LeadSettings, snapshot.LEAD),
        (FrettingSettings, snapshot.FRETTING),
        (Hand, snapshot.HAND),
    ],
)
def test_every_field_is_saved_or_listed(kind: type, codecs: dict[str, object]) -> None:
    """A field is saved, or is listed in `NOT_SAVED`."""
    assert {each.name for each in fields(kind)} == {*codecs, *NOT_SAVED.get(kind, ())}
    assert not NOT_SAVED.get(kind, set()) & codecs.keys()


LINES = [
    "tempo 133.3", "tempo half=77", "key +2", "key -5", "style swing", "style two-beat",
    "style bluegrass", "unmute drums", "mute chop", "only bass", "only before", "level 70",
    "level bass 33", "loop A", "loop B", "loop 2-3", "loop off", "part B", "part next",
    "rest 1 3", "trade 2", "rest off", "count-in on", "ladder 100 160 20 1 back",
    "ladder 200 100 40 2", "ladder off", "lead other", "lead octave", "instrument mandolin",
    "voicing easy", "last-time", "pause", "stop", "play", "play", "play",
]  # fmt: skip


@examples(60)
@given(
    chart=st.sampled_from(CHARTS),
    said=st.lists(st.tuples(st.sampled_from(LINES), st.integers(0, 5)), max_size=8),
    paused=st.booleans(),
)
def test_the_band_plays_on_as_after_a_pause(
    chart: Any, said: list[tuple[str, int]], paused: bool
) -> None:
    """A band with a restored state plays what the first band plays after a pause."""
    first, second = Take(chart), Take(chart)
    first.command("play")
    for line, bars in said:
        try:
            first.command(line)
        except BackingError:
            continue
        first.run_bars(bars)
    if paused:
        first.command("pause")
    saved = through_a_page(save(first.transport.snapshot()))
    state, faults = restore(saved, chart)
    second.transport.restore(state, second.now)

    assert faults == []
    assert state == first.transport.snapshot() == second.transport.snapshot()
    assert second.transport.playing is first.transport.playing
    bar = first.transport.now_bar
    if state.begun and bar.share == bar.position.share == 1 and not first.transport.playing:
        assert second.transport.bpm == pytest.approx(first.transport.bpm)
    heard = len(first.bars)
    first.command("pause", "play")
    second.command("play")
    for take in (first, second):
        take.run_bars(6)
    assert first.bars[heard:] == second.bars


def test_a_pending_edit_is_applied() -> None:
    """The new chart's tempo applies, and a loop of a removed part ends."""
    take = Take(TWO_PARTS)
    take.command("loop B", "play")
    take.run_bars(3)
    take.transport.change(lambda settings: settings.edited(SHORTER), take.now)
    saved = save(take.transport.snapshot())
    state, faults = restore(saved, SHORTER)

    assert (state.settings.chart, state.settings.pending) == (SHORTER, None)
    assert (state.settings.bpm, state.settings.loop) == (120, None)
    assert faults == ["bar: bar 2 of part B is not in the chart"]


def test_a_chart_edited_meanwhile() -> None:
    """One sentence for each field that no longer fits; all others are restored."""
    take = Take(LONGER)
    take.command("loop C", "rest 1 4", "level 80", "style bluegrass", "ladder 200 220 10 1", "play")
    take.run_bars(5)
    waltz = read_chart("title: Longer\nkey: D\nmeter: 3/4\n[A] 2\n| D | A7 |\n")
    state, faults = restore(save(take.transport.snapshot()), waltz)

    assert [each.partition(":")[0] for each in faults] == ["style", "loop", "bar"]
    assert "3/4" in faults[0]
    assert faults[1] == "loop: 'C' is not a part: choose from A"
    assert state.settings.rest == (1, 4)
    assert (state.settings.level, state.settings.base.style) == (80, None)
    assert state.settings.ladder == take.transport.settings.ladder
    assert state.progress == replace(
        take.transport.snapshot().progress, position=state.progress.position
    )
    assert state.progress.position.rounds == take.transport.snapshot().progress.position.rounds
    later = Take(waltz)
    later.transport.restore(state, later.now)
    later.run_bars(5)
    assert {bar.part for bar in later.bars} == {"count-in", "A"}


NAN = float("nan")
HUGE = 10**4000
BAD = [
    ("bpm", NAN), ("bpm", HUGE), ("bpm", float("inf")), ("bpm", True), ("bpm", "120"),
    ("bpm", 19.9), ("bpm", None), ("style", "./mine.toml"), ("style", "/etc/passwd"),
    ("style", ["swing"]),
    ("style", "slip-jig"), ("semitones", 25), ("semitones", 1.5), ("players", "bass"),
    ("players", ["flute"]), ("players", [["bass"]]), ("players", ["bass"] * 1000), ("called", {}),
    ("endless", 1), ("choruses", 0), ("choruses", HUGE), ("seed", 1.5), ("seed", HUGE),
    ("count_in", 9), ("looseness", 2.1), ("looseness", NAN),
    ("before", [["bass"]]), ("before", [[], [], []]), ("levels", {"bass": 100}),
    ("levels", dict.fromkeys(Player, 151)), ("levels", [100] * 4), ("level", -1), ("level", HUGE),
    ("loop", "Z"), ("loop", "3-99"), ("loop", "4-2"), ("loop", "A" * 60_000), ("loop", 4),
    ("loop", "\ud800"), ("loop", ""), ("last_time", 1), ("last_time", "yes"), ("ladder", []),
    ("ladder", {"start_bpm": 100}), ("rest", [2, 2]), ("rest", [0, 2]), ("rest", [1]),
    ("rest", [1, HUGE]), ("rest", "1/2"),
    ("count_each", None), ("lead", {"when": "never", "octave": False}), ("lead", "always"),
    ("fretting", None), ("fretting", {}),
]  # fmt: skip
SPOILT = [
    (("fretting", "instrument"), "/etc/passwd.toml"), (("fretting", "instrument"), "./my.toml"),
    (("fretting", "capo"), 99), (("fretting", "capo"), 30), (("fretting", "level"), "hard"),
    (("fretting", "strings"), [3, 3]), (("fretting", "strings"), [1] * 5000),
    (("fretting", "strings"), 1), (("fretting", "lowest"), 0), (("fretting", "highest"), -1),
    (("fretting", "hand", "reach_mm"), 1e300), (("fretting", "hand", "reach_mm"), NAN),
    (("fretting", "hand", "inner_muted"), HUGE), (("ladder", "step_bpm"), 0),
    (("ladder", "step_bpm"), -5), (("ladder", "goal_bpm"), 5000), (("ladder", "start_bpm"), 1),
    (("ladder", "every"), 0), (("ladder", "every"), 1.5), (("ladder", "unit"), "whole"),
    (("lead", "when"), None),
]  # fmt: skip


@pytest.mark.parametrize(
    "path, value",
    [*(((name,), value) for name, value in BAD), *SPOILT],
    ids=lambda each: str(each)[:24],
)
def test_an_invalid_setting_is_reported_and_the_rest_restored(
    path: tuple[str, ...], value: object
) -> None:
    """One sentence starts with the field's name; only that field has its default."""
    take = Take(TWO_PARTS)
    take.command(
        "tempo 133", "style swing", "only drums", "level 70", "loop B", "rest 1 4", "key +1"
    )
    take.command("ladder 100 120 4 1", "instrument mandolin", "last-time", "count-in on")
    saved = save(take.transport.snapshot())
    spoilt = saved["settings"]
    for name in path[:-1]:
        spoilt = spoilt[name]
    spoilt[path[-1]] = value
    state, faults = restore(saved, TWO_PARTS)

    (told,) = faults
    assert told.startswith(f"{path[0]}: ")
    assert len(told) < 700
    usual, said = LiveSettings.of(TWO_PARTS), take.transport.settings
    field = {key_of(each): each for each in snapshot.SETTINGS}[path[0]]
    if field in {each.name for each in fields(Settings)} - {"loop"}:
        kept = said.with_base(**{field: getattr(usual.base, field)})
    else:
        kept = replace(said, **{field: getattr(usual, field)})
    assert state.settings == kept


@pytest.mark.parametrize(
    "name, value",
    [
        ("chorus", 0), ("chorus", 10**9), ("bar", ["Z", 0, 0]), ("bar", ["A", 1, 0]), ("bar", "A"),
        ("bar", ["A", 0, 4]), ("bar", [["A"], 0, 0]), ("bar", ["A" * 9999, 0, 0]), ("played", -1),
        ("behind", NAN), ("rounds", HUGE), ("ticks", 0.5), ("looped_from", ["A", 0, 9]),
        ("ended_loop", [3, 2]), ("ended_loop", [0, 99]), ("ended_loop", [0]),
        ("circled", -1), ("circled", 10**9), ("ladder_since", -1), ("rest_since", HUGE),
    ],
)  # fmt: skip
def test_an_invalid_position_is_reported(name: str, value: object) -> None:
    """One sentence; all other fields of the progress are restored."""
    take = Take(TWO_PARTS)
    take.command("play")
    take.run_bars(12)
    saved = save(take.transport.snapshot())
    saved["progress"][name] = value
    state, (told,) = restore(saved, TWO_PARTS)
    expected = take.transport.snapshot().progress
    if hasattr(expected.position, name):
        expected = expected.at(replace(expected.position, **{name: getattr(Position(), name)}))
    else:
        expected = replace(expected, **{name: getattr(Progress(), name)})

    assert told.startswith(f"{name}: ")
    assert state.progress == expected


@pytest.mark.parametrize(
    "value", [None, [], "state", 1, {}, {"version": 1}, {"version": "1"}, {"version": NAN}]
)
def test_other_data_are_reported(value: object) -> None:
    """Nothing is restored or played, and one sentence says why."""
    state, faults = restore(value, TWO_PARTS)

    assert state == Snapshot(LiveSettings.of(TWO_PARTS), Progress())
    assert faults == ["the saved state cannot be read: it is damaged or from another version"]


def test_missing_fields_are_reported() -> None:
    """One sentence for each field."""
    state, faults = restore({"version": snapshot.VERSION}, TWO_PARTS)
    names = map(key_of, [*snapshot.SETTINGS, *snapshot.PROGRESS, *snapshot.STATE])

    assert state == Snapshot(LiveSettings.of(TWO_PARTS), Progress())
    assert faults == [f"{name}: it is missing" for name in names]


JUNK = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=9),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=5), inner),
    max_leaves=6,
)
NUMBERS = st.integers(-2, 12) | st.integers(-FARTHEST, FARTHEST)


@examples(60)
@given(
    chart=st.sampled_from(CHARTS),
    wanted=st.dictionaries(st.sampled_from(list(map(key_of, snapshot.SETTINGS))), JUNK | NUMBERS),
    reached=st.dictionaries(st.sampled_from(list(snapshot.PROGRESS)), JUNK | NUMBERS),
    playing=JUNK,
)
def test_nothing_that_a_page_sends_harms_the_band(
    chart: Any, wanted: dict[str, object], reached: dict[str, object], playing: object
) -> None:
    """With any data in any field the band plays, and the restored state can be saved again."""
    take = Take(chart)
    take.command("play")
    take.run_bars(3)
    saved = save(take.transport.snapshot())
    saved["settings"] |= wanted
    saved["progress"] |= reached
    saved["playing"] = playing
    state, faults = restore(saved, chart)
    later = Take(chart)
    later.transport.restore(state, later.now)
    later.command("play")
    later.run_bars(4)

    assert all(isinstance(each, str) for each in faults)
    assert restore(save(state), chart) == (state, [])
    assert later.faults == []
    assert later.bars
