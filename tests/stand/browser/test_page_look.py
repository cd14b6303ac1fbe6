"""Accessibility and use of the page, with its strict policy."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from axe_playwright_python.sync_playwright import Axe

from tests.stand.browser.stage import LAPTOP, PHONE, TABLET

if TYPE_CHECKING:
    from collections.abc import Callable

    from tests.stand.browser.stage import Reader
    from tests.stand.server import Server

SMALLEST_TARGET = 43.5
"""The least size of a touch target in pixels (WCAG 2.2, 2.5.5: 44; half a pixel for rounding)."""

SMALL_TARGETS = """() => [...document.querySelectorAll("button, select, input, a")]
  .filter((each) => each.checkVisibility() && !each.closest(".skip, label.tick"))
  .filter((each) => each.offsetWidth > 1)
  .map((each) => [each.id || each.textContent.trim(), each.getBoundingClientRect()])
  .filter(([, box]) => box.width < SMALLEST || box.height < SMALLEST)
  .map(([name, box]) => `${name}: ${Math.round(box.width)}x${Math.round(box.height)}`)
""".replace("SMALLEST", str(SMALLEST_TARGET))


def serious(reader: Reader) -> list[str]:
    """Return the serious findings of axe (WCAG 2.2 AA and best practices)."""
    found: dict[str, Any] = Axe().run(reader.page).response
    return [
        f"{each['id']}: {node['html'][:120]} {node['failureSummary'][:200]}"
        for each in found["violations"]
        if each["impact"] in ("serious", "critical")
        for node in each["nodes"]
    ]


@pytest.mark.parametrize(
    "size, theme",
    [
        pytest.param(PHONE, "light", id="phone, light", marks=pytest.mark.slow),
        pytest.param(TABLET, "dark", id="tablet, dark", marks=pytest.mark.slow),
        pytest.param(LAPTOP, "light", id="laptop, light", marks=pytest.mark.slow),
        pytest.param(PHONE, "dark", id="phone, dark", marks=pytest.mark.slow),
        pytest.param(TABLET, "light", id="tablet, light", marks=pytest.mark.slow),
        pytest.param(LAPTOP, "dark", id="laptop, dark", marks=pytest.mark.slow),
    ],
)
def test_every_view_is_accessible(
    read: Callable[..., Reader], steady: Server, size: tuple[int, int], theme: str
) -> None:
    """No view has a serious finding, a small target or content wider than the screen."""
    reader = read(steady, size=size, theme=theme, ear=False)
    page = reader.page

    def look(view: str) -> None:
        assert serious(reader) == [], view
        assert page.evaluate(SMALL_TARGETS) == [], view
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), view

    look("songbook")
    reader.open("Steady Feet")
    look("stand")
    page.click("#cautioned")
    page.click("#play")
    page.wait_for_selector(".bar.now")
    look("playing")
    page.click("#panel-open")
    look("practice")
    page.keyboard.press("Escape")
    page.click("#transport [data-say=stop]")
    page.evaluate("document.querySelector('#edit').click()")
    page.fill("#text", "key: G\n[A]\n| G | Gmaj77 |\n")
    page.wait_for_selector("#balloon:visible")
    look("editor")


def test_a_chart_is_read_out(read: Callable[..., Reader], steady: Server) -> None:
    """Bars have names for screen readers; movements of the mark are not announced."""
    reader = read(steady, ear=False)
    reader.open("Steady Feet")
    names = reader.page.locator("#sheet .bar").evaluate_all(
        "(all) => all.map((each) => each.ariaLabel)"
    )
    assert names[:3] == ["bar 1, G", "bar 2, C", "bar 3, D 7"]
    assert names[4] == "bar 1, E minor"
    live = reader.page.locator("[aria-live], [role=status], [role=alert]")
    assert live.locator(".bar, #now-chord").count() == 0


@pytest.mark.slow
def test_keys_and_page_turners(read: Callable[..., Reader], steady: Server) -> None:
    """Keys and a page turner control the page without a mouse."""
    reader = read(steady, ear=False)
    page = reader.page
    page.focus("#words")
    page.keyboard.type("steady g 230")
    page.keyboard.press("Enter")
    page.wait_for_selector("#sheet .bar")
    page.keyboard.press("PageDown")
    page.wait_for_selector("body.playing .bar.now")
    page.keyboard.press("l")
    page.wait_for_selector("#sheet .name[aria-pressed=true]")
    page.keyboard.press("+")
    reader.until("document.querySelector('#bar-tempo').textContent.includes('235')")
    page.keyboard.press("k")
    reader.until("document.querySelector('#bar-key').textContent === 'A♭'")
    reader.until("document.querySelector('#sheet .symbol').textContent === 'A♭'")
    page.keyboard.press("e")
    page.wait_for_selector("#last-time[aria-pressed=true]")
    page.keyboard.press("Space")
    page.wait_for_selector("body:not(.playing)")
    page.keyboard.press("?")
    assert page.is_visible("#key-list")
    page.keyboard.press("Escape")


@pytest.mark.slow
def test_draw_over_bars(read: Callable[..., Reader], steady: Server) -> None:
    """Drawing from the second bar to the third loops both; names and shapes can be chosen."""
    reader = read(steady, ear=False)
    page = reader.page
    reader.open("Steady Feet")
    page.hover("[data-part=A][data-bar='1']")
    page.mouse.down()
    page.hover("[data-part=A][data-bar='2']")
    page.mouse.up()
    reader.until("document.querySelectorAll('.bar.looped').length === 2")
    page.select_option("#names", "numbers")
    reader.until("document.querySelector('[data-part=A] .symbol').textContent === '1'")
    page.select_option("#shapes", "mandolin")
    page.wait_for_selector("#sheet .shape svg")


@pytest.mark.slow
def test_the_shapes_follow_the_chorus(
    read: Callable[..., Reader], start: Callable[..., Server]
) -> None:
    """Each chord shows one shape, that of the path of the chorus being heard."""
    text = "title: Two Bars\nkey: G\ntempo: 260\nstyle: two-beat\n| G | C |\n"
    reader = read(start(charts={"two-bars.chart": text}), ear=False)
    page = reader.page
    reader.open("Two Bars")
    page.select_option("#shapes", "mandolin")
    page.wait_for_selector("#sheet .shape svg")
    shown = "[...document.querySelectorAll('#sheet .shape')].filter((each) => each.offsetParent)"
    keys = f"{shown}.map((each) => each.dataset.keys)"
    first = page.evaluate(keys)
    assert len(first) == 2
    reader.play()
    reader.until("document.querySelector('#main').dataset.path !== '0'")
    later = page.evaluate(keys)
    assert len(later) == 2
    assert set(later).isdisjoint(first)
    assert page.evaluate(
        "[...document.querySelectorAll('#grips figure')].filter((each) => each.offsetParent).length"
    ) == len(set(later))


@pytest.mark.slow
def test_an_edit_is_never_lost(read: Callable[..., Reader], steady: Server) -> None:
    """Faults are shown at their places; a conflict of saves keeps both versions."""
    reader = read(steady, ear=False)
    page = reader.page
    reader.open("Steady Feet")
    page.click("#edit")
    reader.until("document.querySelector('#text').value !== ''")
    text = page.input_value("#text")
    page.fill("#text", text.replace("| G | C |", "| G | Cmaj77 |"))
    page.wait_for_selector("#balloon:visible")
    assert "'Cmaj77' is not a chord" in page.inner_text("#balloon")
    mark = page.locator("#marks mark").bounding_box()
    balloon = page.locator("#balloon").bounding_box()
    assert mark is not None
    assert balloon is not None
    assert 0 <= balloon["y"] - mark["y"] - mark["height"] < 16
    page.fill("#text", text.replace("| G | C |", "| G | Am |"))
    page.wait_for_selector("#faults .sound")
    page.click("#save")
    reader.until("document.querySelector('#saved').textContent.endsWith(': saved')")
    file = steady.folder / "steady-feet.chart"
    assert "| G | Am |" in file.read_text(encoding="utf-8")

    theirs = text.replace("| G | C |", "| G | Bm |")
    file.write_text(theirs, encoding="utf-8")
    page.fill("#text", text.replace("| G | C |", "| G | F |"))
    page.click("#save")
    page.wait_for_selector("#conflict[open]")
    assert "| G | Bm |" in page.inner_text("#theirs")
    assert "| G | F |" in page.inner_text("#mine")
    page.click("#conflict [value=mine]")
    reader.until("document.querySelector('#text').value.includes('Bm')")
    assert file.read_text(encoding="utf-8") == theirs
    mine = steady.folder / "steady-feet (mine).chart"
    assert "| G | F |" in mine.read_text(encoding="utf-8")


@pytest.mark.slow
def test_sets_and_new_charts(read: Callable[..., Reader], steady: Server) -> None:
    """A set is made, filled and renamed; a new chart is saved and opened."""
    reader = read(steady, ear=False)
    page = reader.page
    page.click("#sets summary")
    page.fill("#set-name", "Friday")
    page.click("#set-form [value=new]")
    page.click("#tunes .add")
    page.wait_for_selector("#set-tunes .tune")
    kept = (steady.folder / "Friday.set").read_text(encoding="utf-8")
    assert kept == "# Friday\nsteady-feet.chart\n"
    page.fill("#set-name", "Saturday")
    page.click("#set-form [value=rename]")
    reader.until("document.querySelector('#which-set').value === 'Saturday'")
    assert not (steady.folder / "Friday.set").exists()
    page.click("#new-tune")
    page.fill("#new-name", "Two Left Boots")
    page.click("#new-form [value=yes]")
    page.wait_for_selector("#faults .sound")
    page.click("#save")
    reader.until("document.querySelector('#saved').textContent.endsWith(': saved')")
    page.click("#leave")
    page.wait_for_selector("#title:has-text('Two Left Boots')")
    assert (steady.folder / "two-left-boots.chart").is_file()
