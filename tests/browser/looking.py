"""What the browser tests ask of a page: its troubles as axe-core sees them, and whether a thing is in sight."""

from __future__ import annotations

import time

from playwright.sync_api import Page

from tests.browser.conftest import ROOT

AXE = ROOT / "node_modules" / "axe-core" / "axe.min.js"
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
PATIENCE_S = 5.0


def axe_troubles(page: Page) -> list[tuple[str, str, list[str]]]:
    """What axe-core finds wrong with the page once its style has come in; the rules are axe-core's, not ours."""
    page.wait_for_load_state("load")
    page.add_script_tag(path=str(AXE))
    found = page.evaluate("rules => axe.run(document, {runOnly: rules})", RULES)
    return [
        (v["id"], v["impact"], [n["html"][:200] for n in v["nodes"][:3]])
        for v in found["violations"]
        if v["impact"] in ("serious", "critical", "moderate")
    ]


def in_sight(page: Page, selector: str) -> bool:
    """True once all of it is on the screen, top to bottom: a page on a busy machine may still be going there."""
    until = time.monotonic() + PATIENCE_S
    while not _whole(page, selector):
        if time.monotonic() > until:
            return False
        page.wait_for_timeout(50)
    return True


def _whole(page: Page, selector: str) -> bool:
    box = page.locator(selector).bounding_box()
    size = page.viewport_size
    return bool(box and size and box["y"] >= -1 and box["y"] + box["height"] <= size["height"] + 1)
