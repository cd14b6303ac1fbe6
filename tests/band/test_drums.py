"""The drums in the written file."""

from __future__ import annotations

from collections import Counter
from statistics import median
from typing import TYPE_CHECKING

import pytest
from listening import (
    BEAT,
    BLUES,
    CRASH,
    EARLY,
    HAT,
    KICK,
    OPEN_HAT,
    PEDAL,
    REEL,
    RIDE,
    SIDE_STICK,
    SNARE,
    SONG,
    Take,
    in_bar,
    mean,
    share,
    take,
    takes,
)

from backing.band.drums import count_in
from backing.chart.read import read_chart
from backing.notes import Player
from backing.performance.performance import Performance
from backing.performance.settings import Settings
from backing.style.library import find_style, style_files
from backing.style.model import DRUM_KEYS
from backing.timing import Meter

if TYPE_CHECKING:
    from collections.abc import Iterator

TAMBOURINE = 54
STYLES = [("two-beat", 200, REEL), ("swing", 170, SONG), ("shuffle", 116, BLUES)]


def by_beat(one: Take, *keys: int) -> dict[int, list[int]]:
    """Return the velocities of strokes on beats 0 to 3, and, at 4, between the beats."""
    found: dict[int, list[int]] = {step: [] for step in range(5)}
    for _, tick, sound in in_bar(one, one.lane(*keys)):
        beat, inside = divmod(tick + EARLY, BEAT)
        found[beat % 4 if inside < 2 * EARLY else 4].append(sound.velocity)
    return found


def test_ride_accents() -> None:
    """In swing the ride's 2 and 4 are 8 to 20 louder than its 1 and 3, over twenty takes.

    +12.7 in jazz, +17.5 in shuffle, over all takes: computed from the Groove MIDI Dataset.
    """
    assert 8 <= mean([more_on_2_and_4(one, RIDE) for one in takes(SONG, "swing", 170)]) <= 20


def more_on_2_and_4(one: Take, *lanes: int) -> float:
    """Return how much louder lanes are on 2 and 4 than on 1 and 3."""
    found = by_beat(one, *lanes)
    return mean(found[1] + found[3]) - mean(found[0] + found[2])


def test_shuffle_accents() -> None:
    """In a shuffle 2 and 4 are 8 to 25 louder than 1 and 3, on hat and ride alike.

    +17.5 on the ride, over all takes: computed from the Groove MIDI Dataset.
    """
    found = [more_on_2_and_4(one, HAT, RIDE) for one in takes(BLUES, "shuffle", 116)]
    assert 8 <= mean(found) <= 25


@pytest.mark.parametrize(
    "style, bpm, text, least, most", [(*STYLES[1], 0.65, 0.997), (*STYLES[2], 0.22, 0.79)]
)
def test_pedal_hat(style: str, bpm: float, text: str, least: float, most: float) -> None:
    """Of the pedal hat's strokes on beats most are on 2 and 4 in swing, and fewer in a shuffle.

    p10 to p90 of 14 takes of jazz, 5 of shuffle: computed from the Groove MIDI Dataset.
    """
    found: Counter[int] = Counter()
    for one in takes(text, style, bpm):
        found.update({beat: len(struck) for beat, struck in by_beat(one, PEDAL).items()})
    on_beats = sum(found[beat] for beat in range(4))
    assert least <= (found[1] + found[3]) / on_beats <= most


def test_backbeat_of_the_shuffle() -> None:
    """A shuffle's snare on 2 and 4 is 13 or more louder than its other strokes, in every bar.

    +17 over the off-beats: computed from the Groove MIDI Dataset. Long fills are left out by
    looking at the bars before the last of a part, short ones by taking the median.
    """
    for one in takes(BLUES, "shuffle", 116):
        back, other, bars = [], [], set()
        for number, tick, sound in in_bar(one, one.lane(SNARE)):
            if number % 12 in (7, 11):
                continue
            beat, inside = divmod(tick + EARLY, BEAT)
            if inside < 2 * EARLY and beat in (1, 3):
                back.append(sound.velocity)
                bars.add(number)
            else:
                other.append(sound.velocity)
        assert len(bars) == 20
        assert median(back) - median(other) >= 13


def test_backbeat_of_the_two_beat() -> None:
    """If the snare keeps time in two, 2 and 4 are 13 or more louder than its other strokes.

    +37 over 1 and 3 in country: computed from the Groove MIDI Dataset.
    """
    for one in takes(REEL, "two-beat", 200):
        back, other = [], []
        for number, tick, sound in in_bar(one, one.lane(SNARE)):
            if number % 8 != 7:
                beat, inside = divmod(tick + EARLY, BEAT)
                strong = inside < 2 * EARLY and beat in (1, 3)
                (back if strong else other).append(sound.velocity)
        assert mean(back) - mean(other) >= 13


@pytest.mark.parametrize("style, bpm, text", [STYLES[0], STYLES[2]])
def test_kick(style: str, bpm: float, text: str) -> None:
    """The kick is on 1 and 3 of nearly every bar: common practice, no source."""
    for one in takes(text, style, bpm):
        found = by_beat(one, KICK)
        bars = len(one.music)
        assert len(found[0]) >= 0.95 * bars
        assert len(found[2]) >= 0.75 * bars


def test_kick_in_swing() -> None:
    """In swing the kick is sparse or feathered, and on its beats far softer than the ride.

    Strokes a bar: p10 to p90 of 14 takes, computed from the Groove MIDI Dataset. Feathering: common
    practice, no source.
    """
    counts = []
    for one in takes(SONG, "swing", 170):
        found = by_beat(one, KICK)
        counts.append(sum(map(len, found.values())) / len(one.music))
        assert mean(found[0] + found[2]) <= mean(by_beat(one, RIDE)[0]) - 20
    assert 1.01 <= mean(counts) <= 3.38


@pytest.mark.parametrize("style, bpm, text", STYLES)
def test_time_is_kept(style: str, bpm: float, text: str) -> None:
    """In every bar a cymbal or the snare keeps time on beats 1 and 2."""
    for one in takes(text, style, bpm):
        struck = {
            (number, (tick + EARLY) // BEAT)
            for number, tick, _ in in_bar(
                one, one.lane(RIDE, HAT, OPEN_HAT, CRASH, SNARE, SIDE_STICK, KICK)
            )
        }
        assert all((number, 0) in struck for number in range(len(one.music)))
        kept = [(number, 1) in struck for number in range(len(one.music))]
        assert share(kept) >= 0.95


@pytest.mark.parametrize("style, bpm, text", STYLES)
def test_top_of_the_chorus(style: str, bpm: float, text: str) -> None:
    """A crash marks some choruses, not all, and otherwise starts of four bars.

    Crashes on the stroke after a fill: .02 to .65 of them in swing, .08 to .66 in shuffle, 0 to .53
    in straight takes, computed from the Groove MIDI Dataset; that tops are like these is ours.
    """
    marked = []
    for one in takes(text, style, bpm):
        tops = [number for number, bar in enumerate(one.music) if bar.marker.endswith(": A")]
        crashes = {number for number, tick, _ in in_bar(one, one.lane(CRASH)) if tick < BEAT // 8}
        assert all(number % 4 == 0 for number in crashes)
        marked += [top in crashes for top in tops]
    assert 0.08 <= share(marked) <= 0.53


@pytest.mark.parametrize("style, bpm, text", [STYLES[0], STYLES[1]])
def test_parts_have_their_variations(style: str, bpm: float, text: str) -> None:
    """A and B have different variations, and the last chorus has the last one."""
    keeper = {"two-beat": (HAT, SNARE), "swing": (HAT, RIDE)}[style]
    for one in takes(text, style, bpm):
        counts: dict[str, Counter[int]] = {}
        names = [bar.marker for bar in one.music]
        for number, _, sound in in_bar(one, one.lane(*keeper)):
            name = next(each for each in reversed(names[: number + 1]) if each)
            counts.setdefault(name, Counter())[sound.pitch] += 1
        first, last = keeper
        assert counts["chorus 1: A"][first] > counts["chorus 1: A"][last]
        assert counts["chorus 1: B"][first] < counts["chorus 1: B"][last]
        assert counts["chorus 2: A"][first] < counts["chorus 2: A"][last]


@pytest.fixture(scope="module", params=["two-beat", "swing", "shuffle"])
def rung_fills(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[str]:
    """Return the name of a style whose fills have a tambourine and nothing else."""
    folder = tmp_path_factory.mktemp("styles")
    ours = style_files()[request.param]
    before = ours.read_text(encoding="utf-8").split("[[drums.fills]]")[0]
    text = before.replace(
        "[drums.velocity]",
        "[drums.velocity]\ntambourine = { light = 60, plain = 70, firm = 80 }",
    )
    fills = ("2", "xxXX"), ("1", "xX"), ("4", "xxXXxxXX")
    for beats, grid in fills:
        text += f'\n[[drums.fills]]\nbeats = {beats}\ntambourine = "{grid}"\n'
    name = f"{request.param}-rung"
    (folder / f"{name}.toml").write_text(text, encoding="utf-8")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("BACKING_STYLES", str(folder))
        yield name


FORM = """\
form: A B C
[A] 16
| C | F | G7 | C | C | F | G7 | C | C | F | G7 | C | C | F | G7 | F |
[B] 6
| C | F | G7 | C | F | G7 |
[C] 12
| C | F | G7 | C | C | F | G7 | C | C | F | G7 | F |
"""


def test_the_last_bar_leads_into_the_ending(rung_fills: str) -> None:
    """A fill ends with its bar, and there is one before the last chord."""
    for seed in range(1, 11):
        one = take(FORM, rung_fills, 150, seed, 0.0)
        filled = in_bar(one, one.lane(TAMBOURINE))
        assert all(tick < 3840 for _, tick, _ in filled)
        assert max(tick for number, tick, _ in filled if number == 67) >= 2880


@pytest.mark.parametrize("style, bpm", [("two-beat", 200), ("swing", 170), ("shuffle", 116)])
def test_no_crash_on_a_soft_start(style: str, bpm: float) -> None:
    """A part that begins softly has no crash, even at the start of a chorus."""
    text = 'form: A B\n[A] 4\n| {} C | F | G7 | "fill" C |\n[B] 4\n| {} F | C | G7 | C |\n'
    for word in ("", '"soft"'):
        some = [take(text.replace("{}", word), style, bpm, seed, 0.0, 2) for seed in range(8)]
        crashes = [
            number for one in some for number, tick, _ in in_bar(one, one.lane(CRASH)) if not tick
        ]
        assert bool(crashes) == (not word)


@pytest.mark.parametrize("style, bpm", [("two-beat", 200), ("swing", 170), ("shuffle", 116)])
def test_no_kick_again_under_a_pushed_chord(style: str, bpm: float) -> None:
    """After a push the kick does not repeat the chord on the beat."""
    plain, pushed = (
        take(f"[A] 4\n| C | F | {word} G7 | C |\n", style, bpm, 1, 0.0, 2)
        for word in ("", '"push"')
    )
    on_one = [
        {number for number, tick, _ in in_bar(one, one.lane(KICK)) if not tick}
        for one in (plain, pushed)
    ]
    assert {2, 6} & on_one[0]
    assert not {2, 6} & on_one[1]


@pytest.mark.parametrize(
    "meter, bars, ticks",
    [
        ("4/4", 1, [[0, 1, 2, 3]]),
        ("4/4", 2, [[0, 2], [0, 1, 2, 3]]),
        ("4/4", 3, [[0, 2], [0, 2], [0, 1, 2, 3]]),
        ("2/4", 2, [[0, 1], [0, 1]]),
        ("3/4", 2, [[0, 1, 2], [0, 1, 2]]),
    ],
)
def test_count_in(meter: str, bars: int, ticks: list[list[int]]) -> None:
    """The last bar is counted on every beat, those before it in halves: common practice."""
    found = count_in(Meter.parse(meter), bars, "sticks")
    assert ticks == [
        [stroke.tick // BEAT for at, stroke in found if at == number] for number in range(bars)
    ]


@pytest.mark.parametrize("name", ["boogie", "march", "polka", "rag"])
def test_some_parts_are_marked(name: str) -> None:
    """The style's share of part starts after a fill is marked, by chance."""
    style = find_style(name)
    chart = read_chart(
        f'meter: {style.meters[0]}\nform: A B\n[A] 8\n{"| C " * 7}| "fill" C |\n'
        f"[B] 8\n{'| F ' * 8}|\n"
    )
    marked = []
    for seed in range(60):
        settings = Settings(style=name, seed=seed, looseness=0.0, called=frozenset(Player))
        band = Performance(chart, settings)
        bar = next(each for each in band.bars() if each.marker.endswith(": B"))
        top = DRUM_KEYS[style.drums.top]
        marked.append(any(note.pitch == top and note.tick == bar.start for note in bar.notes))
    assert share(marked) == pytest.approx(style.drums.marks, abs=0.2)


@pytest.mark.parametrize("name", ["swing", "shuffle", "two-beat", "boogie"])
def test_a_fill_into_a_soft_part_is_short(name: str) -> None:
    """The fill before a soft part has at most a beat (our choice); others may be longer."""
    longest = {}
    for word in ("", '"soft"'):
        chart = read_chart(f"form: A B\n[A] 8\n{'| C ' * 8}|\n[B] 8\n| {word} F {'| F ' * 7}|\n")
        fills = [
            band.context(7).fill
            for seed in range(60)
            for band in [Performance(chart, Settings(style=name, seed=seed, choruses=1))]
        ]
        longest[word] = max(fill.ticks for fill in fills if fill)
    assert longest['"soft"'] <= BEAT < longest[""]


@pytest.mark.parametrize("style, bpm", [("two-beat", 200), ("swing", 170), ("shuffle", 116)])
def test_the_crash_comes_behind_an_intro(style: str, bpm: float) -> None:
    """The first chorus is marked at its own start, not at the intro's."""
    text = "key: C\nintro: last 2\n[A] 4\n| C | F | G7 | C |\n"
    found = set()
    for seed in range(8):
        one = take(text, style, bpm, seed, 0.0, 2)
        found |= {number for number, tick, _ in in_bar(one, one.lane(CRASH)) if not tick}
    assert found == {2, 6}
