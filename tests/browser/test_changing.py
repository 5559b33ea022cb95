"""The fold "Change one thing" in a real browser: by keyboard, on a phone, and as axe sees it."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.looking import axe_troubles

pytestmark = pytest.mark.browser

ORCHARD = "/recipes/orchard_rain"


def test_swapping_by_keyboard_leads_to_the_answer(page: Page, address: str) -> None:
    page.goto(address + ORCHARD)
    page.locator("#change-fold summary").focus()
    page.keyboard.press("Enter")
    page.select_option("#change_old", "citric_acid")
    page.fill("#change_new", "tartaric_acid")
    page.locator('button[value="change-swap"]').focus()
    page.keyboard.press("Enter")
    expect(page.locator("#changed")).to_contain_text("Not saved yet")
    assert page.evaluate("document.activeElement.id") == "changed"
    assert page.input_value("#line-1-use") == "tartaric_acid"
    expect(page.locator("#change-fold")).to_contain_text("the same acid equivalents")
    expect(page.locator("#unsaved")).not_to_have_text("Saved")


@pytest.mark.parametrize("width", [1280, 320])
def test_the_answer_troubles_nobody(browser: Browser, address: str, width: int) -> None:
    page = browser.new_page(viewport={"width": width, "height": 900}, bypass_csp=True)
    page.goto(address + ORCHARD)
    page.locator("#change-fold > summary").click()
    page.select_option("#change_group", "citric_acid")
    page.locator('button[value="change-without"]').click()
    expect(page.locator("#changed")).to_contain_text("no citric acid")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert not axe_troubles(page)
    page.close()


def test_a_refusal_is_led_to_from_the_top(page: Page, address: str) -> None:
    page.goto(address + ORCHARD)
    page.locator("#change-fold > summary").click()
    page.fill("#change_times", "loads")
    page.locator('button[value="change-times"]').click()
    link = page.locator('#summary a[href="#change_times"]')
    expect(link).to_contain_text("1/2")
    link.click()
    assert page.evaluate("document.activeElement.id") == "change_times"
    assert page.input_value("#change_times") == "loads"


def test_a_phone_holds_it_without_scrolling_sideways_and_without_script(browser: Browser, address: str) -> None:
    context = browser.new_context(java_script_enabled=False, viewport={"width": 360, "height": 740})
    page = context.new_page()
    page.goto(address + "/recipes/stillwater_clay")
    page.locator("#change-fold > summary").click()
    page.locator('button[value="change-cheaper"]').click()
    expect(page.locator("#changed")).to_contain_text("cheaper at the same feel")
    box = page.locator("#change-fold").bounding_box()
    assert box is not None and box["x"] >= 0 and box["x"] + box["width"] <= 360
    context.close()
