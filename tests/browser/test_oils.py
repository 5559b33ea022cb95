"""The page of oils in a real browser: axe, narrow screens, and work without script."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.looking import axe_troubles

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("width", [1280, 390, 320])
@pytest.mark.parametrize(
    "query", ["?audience=pregnancy&wish=mood:warm&sold_in=eu", "?recipe=orchard_rain", "?without=Linalol"]
)
def test_it_troubles_neither_axe_nor_a_narrow_screen(browser: Browser, address: str, width: int, query: str) -> None:
    page = browser.new_page(viewport={"width": width, "height": 844}, bypass_csp=True)
    page.goto(f"{address}/oils{query}")
    assert not axe_troubles(page)
    page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert not axe_troubles(page)
    page.close()


def test_from_a_wish_to_a_reason_with_script_off(browser: Browser, address: str) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(address + "/")
    page.click("nav >> text=Oils")
    page.select_option("#wish", "mood:warm")
    page.check('input[name="sold_in"][value="eu"]')
    page.click("text=Show")
    expect(page.locator("#oil-cinnamon_bark")).to_be_visible()
    page.click("#why-cinnamon_bark summary")
    expect(page.locator("#why-cinnamon_bark .working")).to_contain_text("irritant")
    assert page.locator("figure.wheel svg[role=img]").count() == 1
    context.close()


def test_the_wheel_of_a_recipe_is_in_sight_with_its_words(page: Page, address: str) -> None:
    page.goto(address + "/oils")
    page.select_option("#recipe", "orchard_rain")
    page.click("text=Show")
    expect(page.locator("#wheel-title")).to_have_text("Orchard Rain smells mostly citrus")
    assert "citrus" in (page.locator("figure.wheel svg").get_attribute("aria-label") or "")
