"""Each key of a style does what `styles/README.md` says, measured from the notes at looseness 0.

The styles are made here, from one small text with changes.
"""

from __future__ import annotations

from collections import Counter
from itertools import pairwise
from typing import TYPE_CHECKING

import pytest

from backing.band import bass, ways
from backing.band.plan import Plan
from backing.chart.read import read_chart
from backing.notes import Note, Player
from backing.performance import context
from backing.performance.performance import Performance, PlayedBar
from backing.performance.settings import Settings

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

PLAIN = """\
about = "A test"
source = "common practice, no source"
meters = ["4/4"]
tempo = { slowest = 100, usual = 150, fastest = 200 }
feel = "straight"
count-in = "sticks"
ending = "none"
{top}

[bass]
program = 33
volume = 100
pan = 64
line = {line}
range = ["E1", "C4"]
velocity = { light = 40, plain = 70, firm = 100 }
{bass}

[chop]
program = 26
volume = 76
pan = 84
strings = 4
velocity = { light = 40, plain = 70, firm = 100 }
length = { light = 0.25, plain = 0.5, firm = 1 }
{chop}

[drums]
program = 1
volume = 90
pan = 60
{drums}

[drums.velocity]
hat = { light = 40, plain = 60, firm = 80 }
snare = { light = 40, plain = 60, firm = 80 }
ride = { light = 40, plain = 60, firm = 80 }
kick = { light = 40, plain = 60, firm = 80 }
crash = { light = 40, plain = 60, firm = 80 }

{grooves}

[[drums.fills]]
snare = "xX"
"""

CHOP = '[[chop.patterns]]\ngrid = "..X. ..X."'
HAT = '[[drums.grooves]]\nhat = "x.x. x.x."'
PARTS = "form: A B\n[A] 4\n| C | F | G7 | C |\n[B] 4\n| F | C | G7 | C |\n"


@pytest.fixture
def play(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., list[PlayedBar]]:
    """Return a function that plays a chart in the small style with changes, without count-in.

    The players agree on nothing, so that they do what the style says and no more. Choruses have the
    energies .1, .4, .6 and so on.
    """
    monkeypatch.setenv("BACKING_STYLES", str(tmp_path))
    monkeypatch.setattr(context, "plan_of", lambda *_, **__: Plan())
    monkeypatch.setattr(context, "accents_of", lambda *_, **__: ())
    monkeypatch.setattr(bass, "way_of", lambda *_: ways.BELOW)
    monkeypatch.setattr(
        context, "energy_of", lambda _, chorus, **__: (0.1, 0.4, 0.6, 0.7, 0.75)[chorus - 1]
    )
    made = 0

    def play(
        text: str = PARTS,
        *,
        choruses: int = 1,
        seed: int = 1,
        looseness: float = 0.0,
        called: frozenset[Player] = frozenset(),
        meters: str = '["4/4"]',
        **changes: str,
    ) -> list[PlayedBar]:
        nonlocal made
        made += 1
        filled = {
            "top": "", "line": '"two-beat"', "bass": "", "chop": CHOP, "drums": 'habits = "none"',
            "grooves": HAT,
        } | changes  # fmt: skip
        style = PLAIN.replace('["4/4"]', meters)
        for key, value in filled.items():
            style = style.replace(f"{{{key}}}", value)
        name = f"small-{made}"
        (tmp_path / f"{name}.toml").write_text(style, encoding="utf-8")
        settings = Settings(
            style=name, choruses=choruses, seed=seed, looseness=looseness, called=called, count_in=0
        )
        return list(Performance(read_chart(text, "x"), settings).bars())

    return play


def struck(bar: PlayedBar, player: Player) -> list[Note]:
    """Return a player's notes in a bar, with ticks from its bar line."""
    return [
        note._replace(tick=note.tick - bar.start) for note in bar.notes if note.player is player
    ]


def ticks(bar: PlayedBar, player: Player) -> list[int]:
    """Return the ticks of a player's notes in a bar, in order."""
    return sorted({note.tick for note in struck(bar, player)})


def drums_of(bar: PlayedBar) -> set[int]:
    """Return the drums that are struck on the first beat of a bar."""
    return {note.pitch for note in struck(bar, Player.DRUMS) if note.tick == 0}


VARIATIONS = {
    "top": 'colours = ["one", "two", "three"]',
    "grooves": "\n".join(
        f'[[drums.grooves]]\ncolour = "{variation}"\n{lane} = "x... x..."'
        for variation, lane in (("one", "hat"), ("two", "snare"), ("three", "ride"))
    ),
}
ONE, TWO, THREE = {42}, {38}, {51}


def test_parts_take_turns(play: Callable[..., list[PlayedBar]]) -> None:
    """Variations change with parts, further with energy; the last chorus has the last one."""
    bars = play(**VARIATIONS, choruses=3)
    assert [drums_of(bars[number]) for number in (1, 5, 9, 13, 17, 21)] == [
        ONE, TWO, TWO, THREE, THREE, THREE,
    ]  # fmt: skip


def test_choruses_take_turns(play: Callable[..., list[PlayedBar]]) -> None:
    """If variations change with choruses, they follow the energy."""
    changes = VARIATIONS | {"top": VARIATIONS["top"] + '\nturns = "choruses"'}
    bars = play(**changes, choruses=5)
    assert [drums_of(bars[number]) for number in range(1, 40, 8)] == [ONE, TWO, *[THREE] * 3]
    assert [drums_of(bars[number]) for number in range(5, 40, 8)] == [ONE, TWO, *[THREE] * 3]
    short = play(**changes, choruses=2)
    assert [drums_of(short[number]) for number in (1, 9)] == [ONE, THREE]


def test_lines_and_chops_of_variations(play: Callable[..., list[PlayedBar]]) -> None:
    """Bass and chop change with the variations."""
    chop = "\n".join(
        f'[[chop.patterns]]\ncolour = "{variation}"\ngrid = "{grid}"'
        for variation, grid in (
            ("one", "..X. ..X."), ("two", ".X.. .X.."), ("three", "X... X..."),
        )
    )  # fmt: skip
    line = '{ one = "two-beat", two = "walking", three = "two-beat" }'
    bars = play(
        LONG, top=VARIATIONS["top"] + '\nturns = "choruses"', line=line, chop=chop, choruses=3
    )
    assert [ticks(bars[number], Player.CHOP) for number in (1, 17, 33)] == [
        [960, 2880], [480, 2400], [0, 1920],
    ]  # fmt: skip
    assert [len(ticks(bars[number], Player.BASS)) for number in (1, 17, 33)] == [2, 4, 2]


def test_who_sits_out(play: Callable[..., list[PlayedBar]]) -> None:
    """A player who sits out plays when called, the same notes as without `sits-out`."""
    silent = play(top='sits-out = ["drums", "chop"]')
    assert {Player.BASS} == {note.player for bar in silent for note in bar.notes}
    one_called = play(top='sits-out = ["drums", "chop"]', called=frozenset((Player.DRUMS,)))
    assert {Player.BASS, Player.DRUMS} == {note.player for bar in one_called for note in bar.notes}
    called = play(top='sits-out = ["drums", "chop"]', called=frozenset(Player))
    assert [bar.notes for bar in play()] == [bar.notes for bar in called]


def test_accents(play: Callable[..., list[PlayedBar]]) -> None:
    """The bass is light, plain or firm as its accents say, and plain elsewhere."""
    bars = play(line='"walking"', bass='accents = "-.X. ..x."')
    loud = Counter[int]()
    for bar in bars:
        for note in struck(bar, Player.BASS):
            loud[note.tick] += note.velocity
    first, second, third, fourth = (loud[tick] / len(bars) for tick in (0, 960, 1920, 2880))
    assert 30 < first < 50
    assert 85 < second < 115
    assert abs(third - fourth) < 8


@pytest.mark.parametrize("gap", [0.0, 0.25, 0.6])
def test_gap(play: Callable[..., list[PlayedBar]], gap: float) -> None:
    """The gap is the share of a note that is silence, but for notes that are damped or long."""
    bars = play(line='"walking"', bass=f"gap = {gap}")
    lengths = Counter(note.length for bar in bars for note in struck(bar, Player.BASS))
    assert lengths.most_common(1)[0][0] == round(960 * (1 - gap))


WALTZ = "meter: 3/4\n[A] 8\n| C | % | % | % | F | % | C | % |\n"


def test_pulse_of_a_bar(play: Callable[..., list[PlayedBar]]) -> None:
    """In a waltz the main note fills the bar, root or fifth; walks have quarters."""
    roots = fifths = 0
    for seed in range(1, 9):
        bars = play(
            WALTZ, seed=seed, meters='["3/4"]', bass="pulse = 3\nwalk = 1",
            chop='[[chop.patterns]]\ngrid = "..X.x."', grooves='[[drums.grooves]]\nhat = "x.x.x."',
        )  # fmt: skip
        for bar in bars[:7]:
            assert ticks(bar, Player.BASS) in ([0], [0, 960, 1920])
        assert ticks(bars[0], Player.BASS) == [0]
        roots += struck(bars[0], Player.BASS)[0].pitch % 12 == 0
        fifths += struck(bars[1], Player.BASS)[0].pitch % 12 == 7
    assert roots == 8
    assert fifths >= 5


def test_walk_of_a_jig(play: Callable[..., list[PlayedBar]]) -> None:
    """In a jig the main notes are on the two beats, and walks have eighths."""
    seen = set()
    for seed in range(1, 9):
        bars = play(
            'meter: 6/8\n| C | C | G7 "walk" | C |', seed=seed, meters='["6/8"]',
            bass="pulse = 1.5\nwalk = 0.5", chop='[[chop.patterns]]\ngrid = "..X..X"',
            grooves='[[drums.grooves]]\nhat = "x.xx.x"',
        )  # fmt: skip
        assert ticks(bars[0], Player.BASS) == [0, 1440]
        walk = ticks(bars[2], Player.BASS)
        assert {1440, 1920, 2400} <= set(walk)
        seen.update(walk)
    assert seen <= set(range(0, 2880, 480))


def test_with_the_kick(play: Callable[..., list[PlayedBar]]) -> None:
    """Off-beats of the kick are doubled on the note before; on beats nothing is added."""
    grooves = '[[drums.grooves]]\nhat = "xxxx xxxx"\nkick = "x..x ..x."'
    plain, doubled = (
        play("| C | C | C | C |", grooves=grooves, bass=f"with-kick = {word}")
        for word in ("false", "true")
    )
    for before, after in zip(plain[:2], doubled[:2], strict=True):
        assert ticks(before, Player.BASS) == [0, 1920]
        assert ticks(after, Player.BASS) == [0, 1440, 1920]
        pitches = [note.pitch for note in struck(after, Player.BASS)]
        assert pitches[1] == pitches[0]


def test_figure(play: Callable[..., list[PlayedBar]]) -> None:
    """A figure of two bars has its rhythm from the start of the part and its degrees as written.

    At the end of the phrase, and before changes at times, its last note may lead on instead.
    """
    figure = '[[bass.figures]]\ngrid = "x..x ..x. x... x.xx"\ndegrees = "1 5 1 1 3 5 6"'
    bars = play("| Am | % | % | % |", line='"figure"', bass=figure)
    assert [ticks(bar, Player.BASS) for bar in bars[:2]] == [
        [0, 1440, 2880], [0, 1920, 2880, 3360],
    ]  # fmt: skip
    degrees = [(note.pitch - 9) % 12 for bar in bars[:2] for note in struck(bar, Player.BASS)]
    assert degrees[:6] == [0, 7, 0, 0, 3, 7]
    assert [ticks(bar, Player.BASS) for bar in bars[:2]] == [
        ticks(bar, Player.BASS) for bar in bars[2:4]
    ]


def test_figure_needs_the_bass(play: Callable[..., list[PlayedBar]]) -> None:
    """The first note of a new chord is its bass, on the chord's own beat."""
    figure = '[[bass.figures]]\ngrid = ".x.. .x.."\ndegrees = "5 3"'
    for seed in range(1, 5):
        for bar, root in zip(
            play("| C/E | F | Dm G7 | C |", line='"figure"', bass=figure, seed=seed),
            (4, 5, 2, 0),
            strict=False,
        ):
            assert struck(bar, Player.BASS)[0].tick == 0
            assert struck(bar, Player.BASS)[0].pitch % 12 == root


def test_grids_of_several_bars(play: Callable[..., list[PlayedBar]]) -> None:
    """Grids of two and four bars begin with the part; a part of five bars cuts them."""
    grooves = '[[drums.grooves]]\nhat = "x... .... .x.. ...."\nride = "' + (
        "x... .... .... .... .... .... .... x..." + '"'
    )
    chop = '[[chop.patterns]]\ngrid = "..X. .... .... ..X."'
    text = "form: A B\n[A] 5\n| C | % | % | % | % |\n[B] 4\n| F | % | % | % |"
    bars = play(text, grooves=grooves, chop=chop)
    assert [ticks(bar, Player.CHOP) for bar in bars] == [
        [960], [2880], [960], [2880], [960], [960], [2880], [960], [2880],
    ]  # fmt: skip
    ride = [[note.tick for note in struck(bar, Player.DRUMS) if note.pitch == 51] for bar in bars]
    assert ride == [[0], [], [], [1920], [0], [0], [], [], [1920]]
    assert [note.tick for note in struck(bars[1], Player.DRUMS) if note.pitch == 42] == [480]


def test_added_notes(play: Callable[..., list[PlayedBar]]) -> None:
    """Plain major chords get a sixth, plain sevenths a ninth; other chords stay as written."""
    text = "| C | G7 | Am7 | Fmaj7 |"
    plain = play(text)
    added = play(text, chop=f'adds = ["6", "9"]\n{CHOP}')
    classes = [{note.pitch % 12 for note in struck(bar, Player.CHOP)} for bar in added]
    assert 9 in classes[0]
    assert classes[0] <= {0, 4, 7, 9}
    assert 9 in classes[1]
    assert {11, 5} <= classes[1] <= {7, 11, 2, 5, 9}
    for number in (2, 3):
        before, after = (
            {note.pitch % 12 for note in struck(bars[number], Player.CHOP)}
            for bars in (plain, added)
        )
        assert before == after


@pytest.mark.parametrize("roll", [0, 10, 30])
def test_roll(play: Callable[..., list[PlayedBar]], roll: int) -> None:
    """The style's roll separates the strings of a down-stroke, the lowest first."""
    a_ms = 960 * 150 / 60_000
    for bar in play(looseness=1.0, chop=f"roll = {roll}\n{CHOP}")[:3]:
        first = struck(bar, Player.CHOP)[:4]
        assert sorted(note.pitch for note in first) == [
            note.pitch for note in sorted(first, key=lambda note: (note.tick, note.pitch))
        ]
        gaps = [after.tick - before.tick for before, after in pairwise(first)]
        assert all(abs(gap - roll * a_ms) <= 1 for gap in gaps)


LONG = "form: A B\n[A] 8\n|" + " C |" * 7 + ' "fill" C |\n[B] 8\n|' + " F |" * 8 + "\n"


@pytest.mark.parametrize("marks, least, most", [(0, 0, 0), (0.5, 2, 22), (1, 24, 24)])
def test_marks(play: Callable[..., list[PlayedBar]], marks: float, least: int, most: int) -> None:
    """The top cymbal marks a share of choruses, and of phrases of four bars after a fill."""
    found = 0
    for seed in range(1, 13):
        drums = f'top = "crash"\nmarks = {marks}\nhabits = "none"'
        bars = play(LONG, seed=seed, choruses=1, drums=drums)
        marked = [number for number, bar in enumerate(bars) if 49 in drums_of(bar)]
        assert all(number % 4 == 0 for number in marked)
        found += sum(number in (0, 8) for number in marked)
    assert least <= found <= most


@pytest.mark.parametrize("habits", ["straight", "swing", "shuffle", "latin", "none"])
def test_habits(play: Callable[..., list[PlayedBar]], habits: str) -> None:
    """Drummers leave out and add, bar by bar; without habits they play what is written."""
    text = "[A] 16\n|" + " C |" * 16
    grooves = '[[drums.grooves]]\nhat = "x-x- x-x-"\nsnare = ".-.. .-.."\nkick = "x..- x..-"'
    kinds: set[frozenset[tuple[int, int]]] = set()
    for seed in range(1, 4):
        bars = play(text, seed=seed, grooves=grooves, drums=f'habits = "{habits}"')
        kinds |= {
            frozenset(
                (note.tick, note.pitch) for note in struck(bar, Player.DRUMS) if note.tick < 960
            )  # no fill has four beats here
            for bar in bars
        }
        assert all(0 in ticks(bar, Player.DRUMS) for bar in bars)
    assert (len(kinds) == 1) == (habits == "none")


def test_without_a_top(play: Callable[..., list[PlayedBar]]) -> None:
    """Without a top drum, nothing but the groove marks the chorus."""
    assert drums_of(play(LONG)[0]) == {42}
