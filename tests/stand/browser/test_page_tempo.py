"""All tempi on the page count the note that the chart counts."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.stand.browser.stage import LAPTOP, PHONE, TABLET

if TYPE_CHECKING:
    from collections.abc import Callable

    from tests.stand.browser.stage import Reader
    from tests.stand.server import Server

JIG = "title: Stove Jig\nkey: G\nmeter: 6/8\ntempo: 112\n[A] 4\n| G | C | D7 | G |\n"
REEL = "title: Stove Reel\nkey: G\nmeter: 2/2\ntempo: 110\n[A] 4\n| G | C | D7 | G |\n"
OLD = "title: Stove Quarters\nkey: G\nmeter: 6/8\ntempo: quarter=168\n[A] 4\n| G | C | D7 | G |\n"


@pytest.mark.parametrize(
    "title, note, own, step",
    [
        ("Stove Jig", "dotted quarter", 112, 2),
        ("Stove Reel", "half", 110, 2),
        ("Stove Quarters", "quarter", 168, 5),
    ],
)
def test_all_controls_count_one_note(
    read: Callable[..., Reader],
    start: Callable[..., Server],
    title: str,
    note: str,
    own: int,
    step: int,
) -> None:
    """Display, keys, slider, buttons and ladder count the chart's note, playing or not."""
    charts = {"a.chart": JIG, "b.chart": REEL, "c.chart": OLD}
    reader = read(start(charts=charts), ear=False)
    page = reader.page

    def shows(number: float) -> None:
        reader.until(f"document.querySelector('#bar-tempo .bpm').textContent === '{number:g}'")

    reader.open(title)
    shows(own)
    assert page.get_by_role("img", name=note, exact=True).count() > 0
    about = page.locator("#about [role=img]")
    assert about.get_attribute("aria-label") == note
    page.keyboard.press("+")
    shows(own + step)
    reader.play()
    page.keyboard.press("-")
    page.keyboard.press("-")
    shows(own - step)
    page.click("#panel-open")
    page.click("#practice [data-say='tempo +']")
    shows(own)
    page.click("#practice [data-say='tempo -10']")
    shows(own - 10)
    page.click("#practice [data-say='half']")
    shows((own - 10) / 2)
    slider = page.locator("#tempo-slider")
    assert slider.get_attribute("aria-label") == f"Tempo, {note} notes a minute"
    slider.fill("90")
    shows(90)
    form = page.locator("#ladder")
    assert form.locator("[name=step]").input_value() == f"{step}"
    form.locator("[name=from]").fill("62.5")
    form.locator("[name=to]").fill("100")
    form.locator("[type=submit]").click()
    shows(62.5)
    for where in ("#ladder .unit", "[data-draws=ladder]"):
        assert page.locator(f"{where} [role=img]").get_attribute("aria-label") == note
    reader.until("document.querySelector('[data-draws=ladder]').textContent === ' = 62.5 to 100'")


@pytest.mark.parametrize("size", [PHONE, TABLET, LAPTOP])
def test_the_whole_number_can_be_read(
    read: Callable[..., Reader], start: Callable[..., Server], size: tuple[int, int]
) -> None:
    """A tempo with two decimals fits between its buttons, beside its note."""
    reader = read(start(charts={"a.chart": JIG}), ear=False, size=size)
    reader.open("Stove Jig")
    reader.page.evaluate("document.querySelector('#tempo-slider').step = 'any'")
    reader.page.locator("#tempo-slider").evaluate(
        "each => { each.value = 133.33; each.dispatchEvent(new Event('input')); }"
    )
    reader.until("document.querySelector('#bar-tempo .bpm').textContent === '133.33'")
    box = "document.querySelector('#bar-tempo')"
    assert reader.page.evaluate(f"{box}.scrollWidth <= {box}.clientWidth")
    assert reader.page.locator("#bar-tempo [role=img]").bounding_box()
