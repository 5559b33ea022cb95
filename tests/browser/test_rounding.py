"""Rounding to real spoons in a real browser: without script, on a phone, and what axe says."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.looking import axe_troubles, in_sight

pytestmark = pytest.mark.browser

CLAY = "/recipes/stillwater_clay"


@pytest.mark.parametrize("width", [1280, 320])
def test_the_answer_troubles_neither_axe_nor_a_narrow_screen(browser: Browser, address: str, width: int) -> None:
    page = browser.new_page(viewport={"width": width, "height": 844}, bypass_csp=True)
    page.goto(address + CLAY)
    page.click("#round-fold > summary")
    page.click('button[value="round-see"]')
    expect(page.locator("#rounded")).to_be_visible()
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert not axe_troubles(page)
    page.close()


def test_the_whole_way_with_script_off(browser: Browser, address: str) -> None:
    context = browser.new_context(java_script_enabled=False, viewport={"width": 390, "height": 844})
    page = context.new_page()
    page.goto(address + CLAY)
    page.click("#round-fold > summary")
    page.uncheck('input[name="round_spoon"][value="1/2 cup"]')
    page.fill("#round_within", "6")
    page.click('button[value="round-see"]')
    expect(page.locator("#round-fold table")).to_contain_text("Measured by spoon")
    expect(page.locator("#round-fold table")).not_to_contain_text("1/2 cup")
    assert page.input_value("#round_within") == "6"
    assert page.input_value("#line-0-amount") == "210 g"
    page.click('button[value="round-put"]')
    assert page.input_value("#line-7-amount") == "10 drops"
    expect(page.locator("#rounded")).to_contain_text("Not saved yet")
    context.close()


def test_the_answer_is_gone_to_and_ticking_counts_as_no_change(page: Page, address: str) -> None:
    page.goto(address + CLAY)
    page.click("#round-fold > summary")
    page.uncheck('input[name="round_spoon"][value="1/8 tsp"]')
    assert page.locator("[data-unsaved]").count() == 0
    page.click('button[value="round-see"]')
    expect(page.locator("#rounded")).to_be_focused()
    assert in_sight(page, "#rounded")
    expect(page.get_by_label("1/8 tsp")).not_to_be_checked()


def test_a_mistake_leads_to_its_box(page: Page, address: str) -> None:
    page.goto(address + CLAY)
    page.click("#round-fold > summary")
    page.fill("#round_chance", "120")
    page.click('button[value="round-see"]')
    page.locator('#summary a[href="#round_chance"]').click()
    expect(page.locator("#round_chance")).to_be_focused()
    expect(page.locator("#round_chance-wrong")).to_contain_text("Allowed")
