"""Pictures of every page at desk and phone width, to be looked at by people: test-output/."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser

from tests.browser.conftest import ROOT
from tests.browser.test_workbench import PAGES

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("width", [1280, 390])
def test_pictures_are_taken_and_are_not_blank(browser: Browser, address: str, width: int) -> None:
    import io

    from PIL import Image

    folder = ROOT / "test-output"
    folder.mkdir(exist_ok=True)
    page = browser.new_page(viewport={"width": width, "height": 900})
    for name, path in PAGES.items():
        page.goto(address + path)
        raw = page.screenshot(path=str(folder / f"{name}-{width}.png"), full_page=True)
        colours = Image.open(io.BytesIO(raw)).convert("RGB").getcolors(maxcolors=1 << 24)
        assert colours is not None and len(colours) > 10, name
    page.close()
