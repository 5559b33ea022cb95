"""The weather page in a real browser: a log through questions to windows, without script; and what axe says."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.looking import axe_troubles

pytestmark = pytest.mark.browser

ROWS = "\n".join(f"0{1 + h // 24}/03/2026 {h % 24:02d}:00,20,{35 if 9 <= h % 24 < 17 else 95}" for h in range(72))
DOUBTFUL = {"name": "shed.csv", "mimeType": "text/csv", "buffer": f"date,temp C,rh %\n{ROWS}\n".encode()}


@pytest.mark.parametrize("width", [1280, 390, 320])
def test_it_troubles_neither_axe_nor_a_narrow_screen(browser: Browser, address: str, width: int) -> None:
    page = browser.new_page(viewport={"width": width, "height": 844}, bypass_csp=True)
    page.goto(address + "/weather")
    assert not axe_troubles(page)
    page.set_input_files("#log", [DOUBTFUL])
    page.click('button[value="read"]')
    expect(page.locator("#dates")).to_be_visible()
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert not axe_troubles(page)
    page.check('input[name="dates"][value="day"]')
    page.click('button[value="read"]')
    page.check('input[name="place"][value="indoors"]')
    page.click('button[value="read"]')
    expect(page.locator("#windows-title")).to_be_visible()
    page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert not axe_troubles(page)
    page.close()


def test_from_a_log_to_a_calendar_with_script_off(browser: Browser, address: str) -> None:
    context = browser.new_context(java_script_enabled=False, accept_downloads=True)
    page = context.new_page()
    page.goto(address + "/weather")
    page.set_input_files("#log", [DOUBTFUL])
    page.click('button[value="read"]')
    assert page.title().startswith("Error:")
    page.check('input[name="dates"][value="day"]')
    page.click('button[value="read"]')
    page.check('input[name="place"][value="indoors"]')
    page.click('button[value="read"]')
    expect(page.locator("#windows-title")).to_be_visible()
    assert page.locator("figure.days svg path[transform]").count() == 72
    with page.expect_download() as given:
        page.click("text=Download for your calendar")
    assert given.value.suggested_filename.endswith("-windows.ics")
    context.close()


def test_the_question_takes_the_keyboard(page: Page, address: str) -> None:
    page.goto(address + "/weather")
    page.set_input_files("#log", [DOUBTFUL])
    page.click('button[value="read"]')
    page.locator('#summary a[href="#dates"]').press("Enter")
    assert page.evaluate("document.activeElement.id") == "dates"
    page.keyboard.press("Tab")
    page.keyboard.press("Space")
    assert page.is_checked('input[name="dates"][value="day"]')
