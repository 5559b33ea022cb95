"""The Wish page in a real browser: as one types, without script, by keyboard, on a phone, and what axe says."""

from __future__ import annotations

import shutil
import time
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect

from fizzwright.demo import folder
from fizzwright.design.composed import Composed
from fizzwright.design.goal import Goal
from fizzwright.web.app import create_app
from tests.browser.conftest import served
from tests.browser.looking import axe_troubles, in_sight
from tests.web.wish_hands import answered, by_hand, glimpsed

pytestmark = pytest.mark.browser

SLOW = "Slow Tide"


def hands(goal: Goal, bench: Any, say: Any = None, stop: Any = None, brief: bool = False) -> Composed:
    """By hand, except that one wish takes until it is stopped."""
    found = by_hand(goal, bench, say, stop)
    while goal.name.startswith(SLOW) and say is not None:
        if stop():
            return answered(stopped=True)
        time.sleep(0.02)
    return found


@pytest.fixture(scope="module")
def wishing(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The workbench with composing done by hand, so that each outcome comes when a test wants it."""
    place = Path(shutil.copytree(folder(), tmp_path_factory.mktemp("wishing") / "quillmoor"))
    app = create_app(place, clock=lambda: date(2026, 11, 25))
    app.state.wishes.compose, app.state.wishes.glimpse = hands, glimpsed
    with served(app) as address:
        yield address


def compose(page: Page, address: str, **boxes: str) -> None:
    page.goto(address + "/wish")
    page.evaluate("document.querySelectorAll('#wish-form details').forEach(d => d.open = true)")
    for box, value in boxes.items():
        page.fill(f"#{box}", value)
    page.locator(".savebar button.main").click()


@pytest.mark.parametrize("width", [1280, 390, 320])
@pytest.mark.parametrize("shown", ["blank", "wrong", "answer", "conflict"])
def test_it_troubles_neither_axe_nor_a_narrow_screen(browser: Browser, wishing: str, shown: str, width: int) -> None:
    page = browser.new_page(viewport={"width": width, "height": 844}, bypass_csp=True)
    page.goto(wishing + "/wish")
    if shown == "wrong":
        compose(page, wishing, cost="a few", ph_settled_low="15")
        expect(page.locator("#summary")).to_be_visible()
    elif shown == "conflict":
        compose(page, wishing, cost="0.10")
        expect(page.locator("h2", has_text="Not all of this can hold")).to_be_visible()
    elif shown == "answer":
        compose(page, wishing, name=f"Wide {width}")
        for along in ("cost", "limit"):
            page.locator(f'button[value="{along}"]').click()
            expect(page.locator(f'.front a[href*="/{along}/"]').first).to_be_visible()
    page.wait_for_load_state("load")
    page.evaluate("document.fonts.ready.then(() => true)")
    page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert not axe_troubles(page)
    page.close()


def test_a_word_on_the_demands_follows_what_is_typed(page: Page, wishing: str) -> None:
    page.goto(wishing + "/wish")
    page.fill("#cost", "0.50")
    expect(page.locator("#feasible")).to_contain_text("Can be done")
    page.fill("#cost", "0.10")
    expect(page.locator("#feasible")).to_contain_text("The bath settles at pH 6.8 to 7.0.")
    assert in_sight(page, "#feasible"), "on the desk it stands at the head of the answer"
    page.fill("#cost", "ten")
    expect(page.locator("#cost-wrong")).to_contain_text("Write one number")
    expect(page.locator("#cost")).to_have_attribute("aria-invalid", "true")
    page.set_viewport_size({"width": 390, "height": 844})
    page.fill("#cost", "0.10")
    expect(page.locator("#feasible")).to_contain_text("Conflict")
    assert in_sight(page, "#feasible .says"), "on a phone at the foot of the screen"


def test_a_long_search_streams_stops_and_is_found_again(page: Page, browser: Browser, wishing: str) -> None:
    compose(page, wishing, name=SLOW)
    expect(page.locator("#wish-answer")).to_contain_text("Looking among 41 materials")
    expect(page.locator("#wish-answer")).to_contain_text("1 seconds so far", timeout=10_000)
    other = browser.new_page()
    other.goto(wishing + "/wish")
    other.locator("#wish-answer a", has_text=SLOW).click()
    page.fill("#cost", "0.33")
    other.locator("button", has_text="Stop with the best so far").click()
    for opened in (page, other):
        expect(opened.locator("h2", has_text="The answer")).to_be_visible()
        expect(opened.locator("#wish-answer")).to_contain_text("Stopped before it was proven")
    assert page.input_value("#cost") == "0.33", "the answer comes in without touching what is typed"
    other.close()


def test_the_whole_way_with_script_off(browser: Browser, wishing: str) -> None:
    context = browser.new_context(java_script_enabled=False, viewport={"width": 390, "height": 844})
    page = context.new_page()
    page.goto(wishing + "/wish")
    page.fill("#count", "3")
    page.fill("#cost", "0.10")
    page.press("#cost", "Enter")
    expect(page.locator("h2", has_text="Not all of this can hold")).to_be_visible(timeout=15_000)
    page.locator("button", has_text="Put this in the form").first.click()
    assert page.input_value("#cost") == "0.17" and page.input_value("#count") == "3"
    page.fill("#cost", "0.40")
    page.press("#cost", "Enter")
    expect(page.locator("h2", has_text="The answer")).to_be_visible(timeout=15_000)
    page.locator('button[value="cost"]').click()
    point = page.locator('.front a[href$="/cost/2"]').first
    expect(point).to_be_visible(timeout=15_000)
    page.locator(".front td:has(a), .front th:has(a)").nth(2).locator("a").click()
    expect(page.locator("h2", has_text="The answer")).to_be_visible(timeout=15_000)
    assert page.input_value("#seek") == "cheapest"
    page.fill("#keep-0", "Kept Unscripted")
    page.locator("button", has_text="Keep and open it").first.click()
    assert "/recipes/kept_unscripted" in page.url
    context.close()


def test_a_point_of_the_picture_is_chosen_by_keyboard_and_by_finger(page: Page, wishing: str) -> None:
    page.set_viewport_size({"width": 390, "height": 844})
    compose(page, wishing, name="By Hand")
    page.locator('button[value="cost"]').click()
    points = page.locator(".front svg a")
    expect(points.first).to_be_visible()
    for place in range(points.count()):
        box = points.nth(place).bounding_box()
        assert box and box["width"] >= 24 and box["height"] >= 24, "WCAG 2.2, 2.5.8: at least 24 by 24"
    points.nth(3).focus()
    assert page.evaluate("document.activeElement.getAttribute('aria-label')").startswith("Choose ")
    page.keyboard.press("Enter")
    expect(page.locator("#cost")).to_have_value("0.50")
    page.go_back()
    points.nth(1).click()
    expect(page.locator("#cost")).to_have_value("0.30")
