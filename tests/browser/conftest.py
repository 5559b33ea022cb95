from __future__ import annotations

import shutil
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path

import pytest
import uvicorn
from playwright.sync_api import Browser, Page, sync_playwright
from starlette.applications import Starlette

from fizzwright.demo import folder
from fizzwright.web.app import create_app

ROOT = Path(__file__).parents[2]
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
]
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")


@pytest.fixture(scope="session")
def workshop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return Path(shutil.copytree(folder(), tmp_path_factory.mktemp("served") / "quillmoor"))


@contextmanager
def served(app: Starlette) -> Iterator[str]:
    """The address of a workbench, served on a free port of this machine."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    server = uvicorn.Server(uvicorn.Config(app, host="127.0.0.1", port=port, log_level="error", ws="none"))
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    until = time.monotonic() + 30
    while not server.started:
        assert time.monotonic() < until, "the workbench did not start"
        time.sleep(0.05)
    yield f"http://127.0.0.1:{port}"
    server.should_exit = True
    thread.join(10)


@pytest.fixture(scope="session")
def address(workshop: Path) -> Iterator[str]:
    """The workbench served on a free port of this machine."""
    with served(create_app(workshop, clock=lambda: date(2026, 11, 25))) as address:
        yield address


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    assert CHROMIUM, "no Chromium found: run `make browser`"
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        yield opened
        opened.close()


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    """A page that must not complain: what the console or the policy objects to fails the test."""
    opened = browser.new_page(viewport={"width": 1280, "height": 900})
    said: list[str] = []
    opened.on("console", lambda message: said.append(message.text) if message.type == "error" else None)
    opened.on("pageerror", lambda error: said.append(str(error)))
    yield opened
    opened.close()
    unexpected = [s for s in said if "422" not in s and "409" not in s]
    assert not unexpected, unexpected
