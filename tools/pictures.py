"""Make the README's pictures from the running demo: python tools/pictures.py (needs Chromium, see tools/browser.sh)."""

import shutil
import socket
import subprocess
import sys
import tempfile
import time
import urllib.request
from pathlib import Path
from urllib.parse import urlencode

import pypdfium2
from playwright.sync_api import sync_playwright

ROOT = Path(__file__).resolve().parent.parent
PICTURES = ROOT / "docs/pictures"
COMMAND = Path(sys.executable).parent / "fizzwright"
TALLEST = 1500
"""Pixels of a picture in the README: the rest of a long section is for the screen."""
TOP = {"x": 0, "y": 0, "width": 1200}
BROWSER = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update"]


def main() -> None:
    """Serve a fresh demo, photograph the recipe page at desk and phone width, and print a card."""
    PICTURES.mkdir(parents=True, exist_ok=True)
    with socket.create_server(("127.0.0.1", 0)) as probe:
        port = probe.getsockname()[1]
    with tempfile.TemporaryDirectory() as folder:
        workshop = Path(folder) / "quillmoor"
        server = subprocess.Popen([COMMAND, "demo", "--port", str(port), "--folder", workshop])
        try:
            wait_for(f"http://127.0.0.1:{port}/")
            with sync_playwright() as play:
                browser = play.chromium.launch(executable_path=shutil.which("chromium"), args=BROWSER)
                for name, width, height in (("desk", 1200, 900), ("phone", 390, 844)):
                    page = browser.new_page(viewport={"width": width, "height": height})
                    page.goto(f"http://127.0.0.1:{port}/recipes/orchard_rain", wait_until="networkidle")
                    page.screenshot(path=PICTURES / f"recipe-{name}.png")
                page = browser.new_page(viewport={"width": 700, "height": 900})
                page.goto(f"http://127.0.0.1:{port}/recipes/lantern", wait_until="networkidle")
                place = page.locator("#section-tub").bounding_box()
                assert place is not None
                clip = {**place, "height": min(place["height"], TALLEST)}
                page.screenshot(path=PICTURES / "tub.png", full_page=True, clip=clip)
                day = {"room": "21", "humidity": "52", "recipe": "orchard_rain"}
                for name, fields in (("today", day), ("weather", {"recipe": "orchard_rain"})):
                    page = browser.new_page(viewport={"width": 700, "height": 900})
                    page.goto(f"http://127.0.0.1:{port}/{name}?{urlencode(fields)}", wait_until="networkidle")
                    if name == "weather":
                        page.get_by_role("button", name="harbour_station").first.click()
                        page.wait_for_load_state("networkidle")
                    clip = {"x": 0, "y": 0, "width": 700, "height": TALLEST}
                    page.screenshot(path=PICTURES / f"{name}.png", full_page=True, clip=clip)
                page = browser.new_page(viewport={"width": 700, "height": 900})
                page.goto(f"http://127.0.0.1:{port}/recipes/orchard_rain", wait_until="networkidle")
                page.locator("#section-kitchen").screenshot(path=PICTURES / "kitchens.png")
                page = browser.new_page(viewport={"width": 1200, "height": 900})
                page.goto(f"http://127.0.0.1:{port}/oils?recipe=orchard_rain", wait_until="networkidle")
                page.screenshot(path=PICTURES / "oils.png", full_page=True, clip={**TOP, "height": TALLEST})
                page.goto(f"http://127.0.0.1:{port}/wish", wait_until="networkidle")
                page.get_by_role("button", name="Compose").first.click()
                page.get_by_role("button", name="Keep as a recipe").wait_for(timeout=90_000)
                page.wait_for_load_state("networkidle")
                page.screenshot(path=PICTURES / "wish.png", full_page=True, clip={**TOP, "height": TALLEST})
                browser.close()
        finally:
            server.terminate()
            server.wait(timeout=20)
        card = Path(folder) / "card.pdf"
        subprocess.run([COMMAND, "paper", "card", workshop / "recipes/orchard_rain.toml", "--out", card], check=True)
        pypdfium2.PdfDocument(card)[0].render(scale=1.5).to_pil().save(PICTURES / "card.png", optimize=True)


def wait_for(url: str) -> None:
    """Wait until the workbench answers, half a minute at most."""
    for _ in range(60):
        try:
            urllib.request.urlopen(url, timeout=2).close()
            return
        except OSError:
            time.sleep(0.5)
    raise SystemExit(f"{url} did not answer within half a minute")


if __name__ == "__main__":
    main()
