"""Each direction of a chart does what it says, measured from the notes.

What the words mean is the README's; how a band plays them is common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from itertools import pairwise

import pytest

from backing.chart.read import read_chart
from backing.notes import RHYTHM, Note, Player
from backing.performance.performance import Performance, PlayedBar
from backing.performance.settings import Settings

STYLES = ("two-beat", "swing", "shuffle")
# Straight is even, a shuffle two to one (OnMusic Dictionary); the ride at 140-159 bpm swings 1.69
# to 2.74 (middle 80 % of tracks, computed from the Jazz Trio Database).
OFF_BEAT = {"two-beat": (480, 480), "shuffle": (640, 640), "swing": (603, 704)}
SEEDS = range(1, 9)


@lru_cache(300)
def bars(text: str, style: str, seed: int = 1, choruses: int = 1) -> tuple[PlayedBar, ...]:
    """Return the bars of a chart at looseness 0, without count-in and ending."""
    chart = read_chart(f"count-in: 0\nending: none\ntempo: 150\n{text}", "x")
    settings = Settings(style=style, seed=seed, looseness=0.0, choruses=choruses)
    return tuple(Performance(chart, settings).bars())


def struck(bar: PlayedBar, player: Player) -> list[Note]:
    """Return a player's notes in a bar, with ticks from its bar line."""
    return [
        note._replace(tick=note.tick - bar.start) for note in bar.notes if note.player is player
    ]


def ticks(bar: PlayedBar, player: Player) -> set[int]:
    """Return the ticks of a player's notes in a bar."""
    return {note.tick for note in struck(bar, player)}


@pytest.mark.parametrize("style", STYLES)
@pytest.mark.parametrize("seed", SEEDS)
def test_stop(style: str, seed: int) -> None:
    """At a stop all strike the chord on the beat, short, and rest to the end of the bar."""
    second = bars('| C | F "stop" | G | C |', style, seed)[1]
    for player in RHYTHM:
        assert {0} == ticks(second, player)
    for player in (Player.BASS, Player.CHOP):
        assert all(note.length <= 670 for note in struck(second, player))
    assert {5} == {note.pitch % 12 for note in struck(second, Player.BASS)}
    assert {38, 36} == {note.pitch for note in struck(second, Player.DRUMS)}


@pytest.mark.parametrize("style", STYLES)
@pytest.mark.parametrize("seed", SEEDS)
def test_stop_at_one_chord(style: str, seed: int) -> None:
    """A stop at one of two chords stops that chord; the groove continues before it."""
    second = bars('| C | F G "stop" | G | C |', style, seed)[1]
    for player in RHYTHM:
        assert {0, 1920} <= ticks(second, player) | {0}
        assert not {tick for tick in ticks(second, player) if tick > 1920}
    assert next(note.pitch for note in struck(second, Player.BASS) if note.tick == 1920) % 12 == 7


@pytest.mark.parametrize("seed", range(1, 40))
def test_no_dead_note_in_a_stop(seed: int) -> None:
    """The walking bass plays no dead note between a stop and the next chord."""
    first = bars('| C G "stop" / C |', "swing", seed)[0]
    assert not ticks(first, Player.BASS) & set(range(1921, 2880))


@pytest.mark.parametrize("style", STYLES)
@pytest.mark.parametrize("seed", SEEDS)
def test_break(style: str, seed: int) -> None:
    """In a break nobody plays."""
    second = bars('| C | F "break" | G | C |', style, seed)[1]
    assert second.notes == ()


@pytest.mark.parametrize("style", STYLES)
def test_break_with_a_fill(style: str) -> None:
    """In a break with a fill the drums fill, and nobody else plays."""
    for seed in SEEDS:
        second = bars('| C | F "break" "fill" | G | C |', style, seed)[1]
        assert {Player.DRUMS} == {note.player for note in second.notes}


@pytest.mark.parametrize("style", STYLES)
@pytest.mark.parametrize("seed", SEEDS)
def test_hold(style: str, seed: int) -> None:
    """At a hold all strike the chord once and let it ring to the end of the bar."""
    second = bars('| C | F "hold" | G | C |', style, seed)[1]
    for player in RHYTHM:
        assert {0} == ticks(second, player)
    for player in (Player.BASS, Player.CHOP):
        assert all(note.length >= 0.75 * 3840 for note in struck(second, player))


@pytest.mark.parametrize("style", STYLES)
@pytest.mark.parametrize("seed", SEEDS)
def test_push(style: str, seed: int) -> None:
    """All strike a pushed chord a swung eighth early; nobody strikes its beat."""
    first, second = bars('| C | F "push" | G | C |', style, seed)[:2]
    early = {player: max(ticks(first, player)) for player in RHYTHM}
    assert len(set(early.values())) == 1
    assert OFF_BEAT[style][0] <= early[Player.BASS] - 2880 <= OFF_BEAT[style][1]
    for player, tick in early.items():
        pitches = {note.pitch for note in struck(first, player) if note.tick == tick}
        if player is Player.BASS:
            assert {5} == {pitch % 12 for pitch in pitches}
        if player is Player.CHOP:
            assert {pitch % 12 for pitch in pitches} <= {5, 9, 0}
        if player is Player.DRUMS:
            assert {36, 38} <= pitches
    assert 0 not in ticks(second, Player.BASS)
    assert 0 not in ticks(second, Player.CHOP)


@pytest.mark.parametrize("style", STYLES)
def test_push_rings_over(style: str) -> None:
    """The bass holds a pushed note over the bar line."""
    for seed in SEEDS:
        first = bars('| C | F "push" | G | C |', style, seed)[0]
        last = struck(first, Player.BASS)[-1]
        assert last.tick + last.length > 3840


@pytest.mark.parametrize("style", STYLES)
def test_push_inside_a_bar(style: str) -> None:
    """A push at the second chord of a bar brings it an eighth before beat 3."""
    for seed in SEEDS:
        second = bars('| C | F G "push" | G | C |', style, seed)[1]
        for player in RHYTHM:
            near = {tick for tick in ticks(second, player) if 960 + 440 < tick < 1920 + 1}
            assert near
            assert 1920 not in near or player is Player.DRUMS


@pytest.mark.parametrize("style", STYLES)
def test_first_chord_cannot_be_pushed(style: str) -> None:
    """A push at the very first chord changes nothing."""
    for seed in SEEDS:
        pushed, plain = (
            [replace(bar, sequenced=None) for bar in bars(f"| C {word} | F | G | C |", style, seed)]
            for word in ('"push"', "")
        )
        assert plain == pushed


@pytest.mark.parametrize("style", STYLES)
def test_fill(style: str) -> None:
    """A fill changes how the drums end the bar; bass and chop leave room in it, no more."""
    changed = 0
    for seed in SEEDS:
        plain = bars("| C | F | G | C |", style, seed)
        filled = bars('| C | F "fill" | G | C |', style, seed)
        basses = [[_keys(bar) for bar in each] for each in (plain, filled)]
        assert basses[0][0] == basses[1][0]
        assert [each[0] % 12 for each in basses[0]] == [each[0] % 12 for each in basses[1]]
        chops = [[ticks(bar, Player.CHOP) for bar in each] for each in (plain, filled)]
        assert chops[0][0] == chops[1][0]
        assert len(chops[0][1]) >= len(chops[1][1]) > 0
        assert chops[0][2:] == chops[1][2:]
        changed += _drums(plain[1]) != _drums(filled[1])
        assert {38, 41, 45} & {note.pitch for note in struck(filled[1], Player.DRUMS) if
                               note.tick >= 2880 - 960}  # fmt: skip
    assert changed >= 5


def _keys(bar: PlayedBar) -> dict[int, int]:
    return {note.tick: note.pitch for note in struck(bar, Player.BASS)}


def _drums(bar: PlayedBar) -> list[tuple[int, int]]:
    return [(note.tick, note.pitch) for note in struck(bar, Player.DRUMS)]


@pytest.mark.parametrize("style", STYLES)
def test_walk(style: str) -> None:
    """At a walk the bass goes in quarters at last, the next chord a step, fourth or fifth off.

    It lands on the root, in swing on a note of the chord.
    """
    close = []
    for seed in SEEDS:
        second, third = bars('| C | G "walk" | C | C |', style, seed)[1:3]
        line = {note.tick: note.pitch for note in struck(second, Player.BASS)}
        assert {1920, 2880} <= set(line)
        target = struck(third, Player.BASS)[0]
        assert target.tick == 0
        assert target.pitch % 12 in ({0, 4, 7} if style == "swing" else {0})
        close.append(abs(target.pitch - line[2880]) in (1, 2, 5, 7))
    assert sum(close) >= 7


def loudness(bar: PlayedBar, player: Player) -> float:
    """Return the mean velocity of a player in a bar."""
    found = [note.velocity for note in struck(bar, player)]
    return sum(found) / len(found)


SIXTEEN = "[A] 8\n| C {} | C | F | F | G7 | G7 | C | C |\n[B] 8\n| C | C | F | F | G | G | C | C |"


@pytest.mark.parametrize("style", STYLES)
@pytest.mark.parametrize("word, least, most", [("soft", 0.6, 0.85), ("loud", 1.08, 1.3)])
def test_soft_and_loud(style: str, word: str, least: float, most: float) -> None:
    """Soft and loud change the velocities of the whole band to the end of the part, no notes.

    A change of velocity that is heard as one is more than 8 %: from memory.
    """
    plain, changed = (bars(SIXTEEN.format(each), style, 3) for each in ("", f'"{word}"'))
    for number in range(16):
        for player in RHYTHM:
            ratio = loudness(changed[number], player) / loudness(plain[number], player)
            assert (least <= ratio <= most) if number < 8 else ratio == 1
            assert ticks(changed[number], player) == ticks(plain[number], player)


@pytest.mark.parametrize("style", STYLES)
def test_build(style: str) -> None:
    """At a build every bar of the part is louder than the one before, and the next part is not."""
    plain, changed = (bars(SIXTEEN.format(each), style, 3) for each in ("", '"build"'))
    for player in RHYTHM:
        grown = [
            loudness(changed[number], player) / loudness(plain[number], player)
            for number in range(16)
        ]
        assert all(before < after for before, after in pairwise(grown[:8]))
        assert grown[7] >= 1.15
        assert {1.0} == set(grown[8:])


@pytest.mark.parametrize("style", STYLES)
def test_soft_in_the_midst(style: str) -> None:
    """A direction changes nothing in earlier bars."""
    text = "| C | C | F | F {} | G7 | G7 | C | C |"
    plain, changed = (bars(text.format(each), style, 2) for each in ("", '"soft"'))
    assert [bar.notes for bar in plain[:3]] == [bar.notes for bar in changed[:3]]
    for number in range(3, 8):
        for player in RHYTHM:
            assert loudness(changed[number], player) < 0.85 * loudness(plain[number], player)


@pytest.mark.parametrize("style", STYLES)
def test_no_chord(style: str) -> None:
    """Without a chord, bass and chop rest and the drums continue."""
    for seed in SEEDS:
        second = bars("| C | N.C. | F | C |", style, seed)[1]
        assert {Player.DRUMS} == {note.player for note in second.notes}
        assert len(ticks(second, Player.DRUMS)) >= 3
