"""The Today page in a real browser: without script, by keyboard, on a phone, and what axe says."""

from __future__ import annotations

from itertools import pairwise

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.looking import axe_troubles

pytestmark = pytest.mark.browser

ANSWERED = "/today?room=21+C&humidity=66&recipe=orchard_rain"
BAD = "/today?room=72&humidity=120&recipe=orchard_rain"


@pytest.mark.parametrize("width", [1280, 390, 320])
@pytest.mark.parametrize("path", ["/today", ANSWERED, BAD])
def test_it_troubles_neither_axe_nor_a_narrow_screen(browser: Browser, address: str, path: str, width: int) -> None:
    page = browser.new_page(viewport={"width": width, "height": 844}, bypass_csp=True)
    page.goto(address + path)
    page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert not axe_troubles(page)
    page.close()


def test_the_whole_way_with_script_off(browser: Browser, address: str) -> None:
    context = browser.new_context(java_script_enabled=False, viewport={"width": 390, "height": 844})
    page = context.new_page()
    page.goto(address + "/today")
    page.fill("#room", "70 F")
    page.fill("#humidity", "130")
    page.press("#humidity", "Enter")
    assert page.title().startswith("Error:")
    expect(page.locator("#humidity-wrong")).to_contain_text("0 to 100")
    assert page.input_value("#humidity") == "130"
    page.fill("#humidity", "52")
    page.press("#humidity", "Enter")
    expect(page.locator(".dayword")).to_be_visible()
    assert page.locator(".dayword svg").count() == 1
    page.fill("#added", "4 sprays")
    page.click('button[value="crumbles"]')
    expect(page.locator("#squeezed")).to_contain_text("It crumbles")
    assert page.input_value("#added") == "4 sprays" and page.input_value("#room") == "70 F"
    context.close()


def test_three_answers_are_as_large_as_a_wet_thumb(page: Page, address: str) -> None:
    # 72 px, about 12 mm on a phone: the workshop's own rule for targets at the bench
    page.set_viewport_size({"width": 390, "height": 844})
    page.goto(address + ANSWERED)
    boxes = [b.bounding_box() for b in page.locator(".thumbs button").all()]
    assert len(boxes) == 3
    for box in boxes:
        assert box and box["height"] >= 72 and box["width"] >= 300
    tops = sorted((box["y"], box["y"] + box["height"]) for box in boxes if box)
    assert all(lower - upper >= 16 for (_, upper), (lower, _) in pairwise(tops))


def test_a_mistake_takes_the_focus_and_leads_to_its_box(page: Page, address: str) -> None:
    page.goto(address + BAD)
    assert page.evaluate("document.activeElement.id") == "summary"
    page.locator('#summary a[href="#room"]').click()
    assert page.evaluate("document.activeElement.id") == "room"
    expect(page.locator("#room")).to_have_attribute("aria-invalid", "true")
