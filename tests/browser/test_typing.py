"""Typing in a real browser: nothing lost, nothing jumping, the answer in sight, focus where the hand is."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Browser, Dialog, Page, expect

from tests.browser.looking import in_sight

pytestmark = pytest.mark.browser

ORCHARD = "/recipes/orchard_rain"
PHONE = {"width": 390, "height": 844}


def focused(page: Page) -> str:
    return str(page.evaluate("document.activeElement.id"))


def top(page: Page, selector: str) -> float:
    box = page.locator(selector).bounding_box()
    assert box
    return box["y"]


def test_leaving_with_something_unsaved_asks_first(page: Page, address: str) -> None:
    asked: list[str] = []

    def answer(dialog: Dialog) -> None:
        asked.append(dialog.type)
        dialog.accept()

    page.on("dialog", answer)
    page.goto(address + ORCHARD)
    page.goto(address + "/help")
    assert asked == []
    page.goto(address + ORCHARD)
    page.click("#litres")
    page.keyboard.type("1")
    expect(page.locator("#unsaved")).to_have_text("Not saved yet")
    expect(page.locator("#as-saved")).to_contain_text("as it was saved")
    page.goto(address + "/help")
    assert asked == ["beforeunload"]


def test_saving_and_undoing_an_edit_ask_nothing(page: Page, address: str, workshop: Path) -> None:
    asked: list[str] = []
    page.on("dialog", lambda dialog: (asked.append(dialog.type), dialog.accept())[1])
    page.goto(address + "/recipes/drift")
    page.locator("#temperature_c").press("End")
    with page.expect_response("**/look"):
        page.keyboard.type(".0")
    expect(page.locator("#unsaved")).to_have_text("Not saved yet")
    page.locator("#temperature_c").press("Backspace")
    with page.expect_response("**/look"):
        page.locator("#temperature_c").press("Backspace")
    expect(page.locator("#unsaved")).to_be_empty()
    page.click("#line-0-amount")
    page.fill("#line-0-amount", "301 g")
    page.click('button[value="save"]')
    expect(page.locator("#unsaved")).to_have_text("Saved")
    # the browser goes to the place in the address once the page has come in whole
    expect(page.locator("#saved")).to_be_in_viewport()
    page.goto(address + "/help")
    assert asked == []


@pytest.mark.parametrize("script", [True, False])
def test_after_each_button_the_focus_is_where_the_hand_was(browser: Browser, address: str, script: bool) -> None:
    context = browser.new_context(java_script_enabled=script, viewport=PHONE)
    page = context.new_page()
    page.goto(address + ORCHARD)
    page.click('button[value="add"]')
    assert in_sight(page, "#line-10-use")
    expect(page.locator("#line-10-use")).to_be_focused()
    page.click('button[value="out-7"]')
    expect(page.locator("#back-7")).to_be_focused()
    assert in_sight(page, "#back-7")
    expect(page.locator('[data-line="7"] .out')).to_contain_text("3 drops")
    page.click("#back-7")
    expect(page.locator("#line-7-use")).to_be_focused()
    assert page.input_value("#line-7-amount") == "3 drops"
    page.fill("#size_count", "8")
    page.click('button[value="size-count"]')
    expect(page.locator("#sized")).to_be_focused()
    assert in_sight(page, "#sized > p")
    context.close()


def test_a_half_typed_line_is_left_in_peace_until_it_is_left(page: Page, address: str) -> None:
    page.goto(address + ORCHARD)
    page.click('button[value="add"]')
    expect(page.locator("#line-10-use")).to_be_focused()
    page.wait_for_load_state()
    with page.expect_response("**/look"):
        page.keyboard.type("kaolin")
    expect(page.locator("#line-10-name")).to_contain_text("Not counted yet")
    expect(page.locator("#summary")).to_have_count(0)
    with page.expect_response("**/look"):
        page.click("#line-0-amount")
    expect(page.locator("#line-10-amount-wrong")).not_to_be_empty()
    expect(page.locator("#summary")).to_have_count(1)
    page.click("#line-10-amount")
    with page.expect_response("**/look"):
        page.keyboard.type("1 tbsp")
    expect(page.locator("#line-10-weight")).to_contain_text("g")
    expect(page.locator("#summary")).to_have_count(0)
    expect(page.locator("#line-10-name")).not_to_contain_text("Not counted")


@pytest.mark.parametrize("width", [1280, 390])
@pytest.mark.parametrize("box", ["#line-1-amount", "#line-7-amount", "#litres"])
def test_the_page_does_not_move_under_the_hand(browser: Browser, address: str, width: int, box: str) -> None:
    page = browser.new_page(viewport={"width": width, "height": 844})
    page.goto(address + ORCHARD)
    page.click(box)
    was = page.input_value(box)
    for typed in ("nonsense", was):
        before = top(page, box)
        with page.expect_response("**/look"):
            page.fill(box, typed)
        expect(page.locator("#summary")).to_have_count(1 if typed == "nonsense" else 0)
        page.wait_for_timeout(100)
        assert abs(top(page, box) - before) <= 2, "the browser scrolls by whole pixels"
    page.close()


def test_on_a_phone_a_stop_is_in_sight_where_one_types(browser: Browser, address: str) -> None:
    page = browser.new_page(viewport=PHONE)
    page.goto(address + ORCHARD)
    for line in (0, 4, 7):
        page.click(f"#line-{line}-amount")
        assert in_sight(page, "#strip")
        strip, box = page.locator("#strip").bounding_box(), page.locator(f"#line-{line}-amount").bounding_box()
        assert strip and box
        assert box["y"] + box["height"] <= strip["y"] or strip["y"] + strip["height"] <= box["y"]
    page.fill("#line-7-use", "Cinnamon bark")
    page.fill("#line-7-amount", "90 drops")
    expect(page.locator("#strip")).to_contain_text("Stop")
    expect(page.locator("#strip svg")).to_have_count(1)
    assert in_sight(page, "#strip")
    page.click("#strip a")
    expect(page.locator("#answer .verdict")).to_be_in_viewport()
    page.close()


@pytest.mark.parametrize("size", [(390, 844), (844, 390), (320, 568)])
def test_next_is_never_cut_off(browser: Browser, address: str, size: tuple[int, int]) -> None:
    page = browser.new_page(viewport={"width": size[0], "height": size[1]})
    page.goto(address + f"{ORCHARD}/bowl")
    many = int(page.locator(".bowl .soft").first.inner_text().split(" of ")[1].split(" ")[0])
    for number in range(1, many + 1):
        page.goto(address + f"{ORCHARD}/bowl?step={number}")
        assert in_sight(page, ".moves .button.main"), number
    page.close()


def test_a_link_to_a_folded_figure_opens_the_fold(page: Page, address: str) -> None:
    page.goto(address + f"{ORCHARD}#figure-mould-volume_ml")
    expect(page.locator("#figure-mould-volume_ml > .weight")).to_be_visible()


def test_the_room_kept_for_notices_does_not_grow(page: Page, address: str) -> None:
    page.goto(address + ORCHARD)
    page.click("#litres")
    kept = "document.querySelector('[data-above]').offsetHeight"
    heights = []
    for _ in range(3):
        for typed in ("0", "130"):
            with page.expect_response("**/look"):
                page.fill("#litres", typed)
            expect(page.locator("#summary")).to_have_count(1 if typed == "0" else 0)
            page.wait_for_timeout(100)
        heights.append(page.evaluate(kept))
    assert max(heights) - min(heights) <= 2
