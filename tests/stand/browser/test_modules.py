"""The page's modules of arithmetic, which do not need the page.

The expected values come from other methods: times are sums of fractions from the beginning, sizes
are found by trying every row.
"""

from __future__ import annotations

import random
from fractions import Fraction
from typing import TYPE_CHECKING, Any

import pytest

from backing.stand.app import STATIC

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from playwright.sync_api import Browser, Route

    Call = Callable[..., Any]

ORIGIN = "http://modules.test/"
QUARTER_TICKS = 960
CALL = """async ([module, name, given]) => {
  const found = await import(`/${module}.js`);
  return found[name](...given);
}"""
TIMES = """async ([line, turns, ticks]) => {
  const { Timeline } = await import("/timeline.js");
  const turned = (each, [time, factor]) => each.turned(time, factor);
  const made = turns.reduce(turned, new Timeline(line));
  const times = ticks.map((tick) => made.time(tick));
  return [times, times.map((time) => made.tick(time))];
}"""


@pytest.fixture(scope="module")
def evaluate(browser: Browser) -> Iterator[Call]:
    """Return a function that evaluates a script in a page with the modules alone."""
    context = browser.new_context()
    page = context.new_page()

    def answer(route: Route) -> None:
        name = route.request.url.removeprefix(ORIGIN)
        if name:
            route.fulfill(body=(STATIC / name).read_text("utf-8"), content_type="text/javascript")
        else:
            route.fulfill(body="<!doctype html><title>-</title>", content_type="text/html")

    page.route("**", answer)
    page.goto(ORIGIN)
    yield page.evaluate
    context.close()


@pytest.fixture(scope="module")
def call(evaluate: Call) -> Call:
    """Return a function that calls a function of a module."""
    return lambda module, name, *given: evaluate(CALL, [module, name, given])


# timeline


class Tempi:
    """Successive tempi from a tick and a second on, in exact fractions.

    Args:
        seed: the seed of lengths and tempi.
    """

    def __init__(self, seed: int) -> None:
        pick = random.Random(seed)
        self.tick = pick.choice([0, pick.randrange(100_000)])
        self.second = Fraction(pick.randrange(10_000_000), 1000)
        self.pieces = [
            (pick.randrange(1, 8000), pick.choice([20, 500, pick.randrange(20, 500)]))
            for _ in range(pick.randrange(1, 9))
        ]
        within = sum(ticks for ticks, _ in self.pieces)
        self.ticks = sorted(self.tick + pick.randrange(-500, within + 3000) for _ in range(12))
        self.ticks += [self.tick, *(tick for tick, _, _ in self.line())]

    def line(self) -> list[tuple[int, Fraction, int]]:
        """Return tick, second and tempo of each piece."""
        line, tick, second = [], self.tick, self.second
        for ticks, bpm in self.pieces:
            line.append((tick, second, bpm))
            tick += ticks
            second += Fraction(ticks * 60, bpm * QUARTER_TICKS)
        return line

    def time(self, tick: int) -> Fraction:
        """Return the time of a tick: all pieces before it, and its part of its own piece."""
        at, second = self.tick, self.second
        for number, (ticks, bpm) in enumerate(self.pieces):
            is_last = number == len(self.pieces) - 1
            if tick < at + ticks or is_last:
                return second + Fraction((tick - at) * 60, bpm * QUARTER_TICKS)
            at, second = at + ticks, second + Fraction(ticks * 60, bpm * QUARTER_TICKS)
        raise AssertionError

    def plain(self) -> list[list[float]]:
        """Return the line as in a message."""
        return [[tick, float(second), bpm] for tick, second, bpm in self.line()]


@pytest.mark.parametrize("seed", range(25))
def test_ticks_become_seconds_and_back(evaluate: Call, seed: int) -> None:
    """The conversion also holds before the first entry and after the last one."""
    tempi = Tempi(seed)
    times, back = evaluate(TIMES, [tempi.plain(), [], tempi.ticks])
    assert times == pytest.approx([float(tempi.time(tick)) for tick in tempi.ticks], abs=1e-6)
    assert back == pytest.approx(tempi.ticks, abs=1e-3)


@pytest.mark.parametrize("seed", range(25))
def test_a_change_of_tempo_moves_later_times(evaluate: Call, seed: int) -> None:
    """Times before a change stay; later ones come sooner by the factor."""
    tempi = Tempi(seed)
    pick = random.Random(-seed)
    end = tempi.time(tempi.ticks[-1])
    since = tempi.second + (end - tempi.second) * Fraction(pick.randrange(-20, 130), 100)
    factor = Fraction(pick.randrange(25, 400), 100)
    turn = max(since, tempi.second)
    due = [tempi.time(tick) for tick in tempi.ticks if tick >= tempi.tick]
    moved = [when if when <= turn else turn + (when - turn) / factor for when in due]

    ticks = [tick for tick in tempi.ticks if tick >= tempi.tick]
    times, _ = evaluate(TIMES, [tempi.plain(), [[float(since), float(factor)]], ticks])
    assert times == pytest.approx([float(when) for when in moved], abs=1e-6)


@pytest.mark.parametrize("seed", range(10))
def test_a_change_and_its_opposite(evaluate: Call, seed: int) -> None:
    """Twice as fast for half a second, then back: all later times come half a second sooner."""
    tempi = Tempi(seed)
    turns = [[float(tempi.second), 2], [float(tempi.second) + 0.5, 0.5]]
    late = [tick for tick in tempi.ticks if tempi.time(tick) > tempi.second + 1]
    times, _ = evaluate(TIMES, [tempi.plain(), turns, late])
    assert times == pytest.approx([float(tempi.time(tick)) - 0.5 for tick in late], abs=1e-6)


BARS = [{"start": start, "ticks": 3840} for start in (3840, 0, 11520, 15360)]


@pytest.mark.parametrize(
    "tick, now, after",
    [
        (0, 0, 3840),
        (3839.9, 0, 3840),
        (3840, 3840, None),
        (7680, None, 0),  # a gap: the bar at the beginning
        (11520, 11520, 15360),
        (19200, None, 0),
        (-1, None, 0),
    ],
)
def test_the_bar_at_a_tick_and_the_one_behind_it(
    call: Call, tick: float, now: int | None, after: int | None
) -> None:
    """The order of the bars does not matter."""
    found = call("timeline", "barsAt", BARS, tick)
    starts = {key: bar["start"] if bar else None for key, bar in found.items()}
    assert starts == {"now": now, "next": after}


# loop


@pytest.mark.parametrize(
    "one, other, command",
    [
        ([3], [7], "loop 3-7"),
        ([7], [3], "loop 3-7"),
        ([5], [5], "loop 5-5"),
        ([2, 10], [4, 12], "loop 2-4"),
        ([], [4], None),
        ([4], [], None),
    ],
)
def test_bars_drawn_over_are_a_command(
    call: Call, one: list[int], other: list[int], command: str | None
) -> None:
    """Both directions give one loop, by the first number of each bar; unplayed bars give none."""
    assert call("loop", "command", one, other) == command


@pytest.mark.parametrize("loop", [None, [1, 1], [3, 6], [8, 20]])
def test_the_bars_that_a_loop_plays(call: Call, loop: list[int] | None) -> None:
    """A loop plays a bar when one of its numbers is in it."""
    inside = set(range(loop[0], loop[1] + 1)) if loop else set()
    for numbers in ([], [1], [2, 7], [6, 30], [7], [8], [20], [21], [2, 25]):
        assert call("loop", "plays", numbers, loop) == bool(inside & set(numbers)), numbers


# fit

LEAST_ROW, MOST_ROW, SHAPE_ROW = 44, 116, 74
LEAST_LETTER, MOST_LETTER = 15, 60


@pytest.mark.parametrize("seed", range(40))
def test_a_chart_is_as_large_as_its_room_allows(call: Call, seed: int) -> None:
    """The row is the largest with which the chart fits, found by trying every one."""
    pick = random.Random(seed)
    lines, rest = pick.randrange(1, 30), pick.randrange(400)
    room, width = pick.randrange(100, 2500), pick.randrange(40, 500)
    shapes = pick.choice([0, SHAPE_ROW])

    def height(row: int) -> int:
        return rest + lines * row

    rows = range(LEAST_ROW + shapes, MOST_ROW + shapes + 1)
    row = max((each for each in rows if height(each) <= room), default=rows[0])
    letter = sorted((LEAST_LETTER, min((row - shapes) / 2, 0.3 * width), MOST_LETTER))[1]
    measured = {"heights": [height(60), height(70)], "room": room, "width": width}
    found = call("fit", "size", {**measured, "hasShapes": bool(shapes)})
    assert found == {"row": row, "letter": pytest.approx(letter)}


@pytest.mark.parametrize(
    "share, shrink, in_two_rows, hides_shapes",
    [
        (1, None, False, False),
        (0.999, None, False, False),
        (0.9, 0.873, False, False),
        (0.8, 0.776, False, False),
        (0.79, 0.7663, False, True),
        (0.5, 0.5, False, True),
        (0.49, 0.5, True, True),
        (0.1, 0.5, True, True),
    ],
)
def test_a_bar_with_too_much_in_it_is_set_smaller(
    call: Call, share: float, shrink: float | None, in_two_rows: bool, hides_shapes: bool
) -> None:
    """A bar shrinks by 3 % more than needed and at most to half; then it gets two rows."""
    assert call("fit", "squeeze", share) == {
        "shrink": shrink if shrink is None else pytest.approx(shrink),
        "inTwoRows": in_two_rows,
    }
    assert call("fit", "hidesShapes", share) == hides_shapes


def test_two_columns_must_be_worth_it(call: Call) -> None:
    """Two columns must give letters more than a tenth larger."""
    for two, worth in ((20, False), (22, False), (22.1, True), (40, True)):
        sizes = [{"row": 60, "letter": 20}, {"row": 60, "letter": two}]
        assert call("fit", "isLarger", *sizes) == worth


# pedal


@pytest.mark.parametrize(
    "message, name",
    [
        ([0x90, 60, 1], "note 60"),
        ([0x9F, 60, 127], "note 60"),
        ([0x90, 60, 0], None),  # a note-on without velocity is a note-off
        ([0x80, 60, 64], None),
        ([0xB0, 64, 64], "control 64"),
        ([0xB3, 64, 63], None),
        ([0xC0, 5], "program 5"),
        ([0xF8], None),
        ([], None),
    ],
)
def test_what_counts_as_a_press_of_a_pedal(
    call: Call, message: list[int], name: str | None
) -> None:
    """Source: MIDI 1.0, channel voice messages; switches are on from 64."""
    assert call("pedal", "press", message) == name
