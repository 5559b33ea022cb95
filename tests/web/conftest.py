from __future__ import annotations

import shutil
import warnings
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from fizzwright.demo import folder
from fizzwright.web.app import create_app

with warnings.catch_warnings():
    # Starlette would rather have a newer httpx than the one we lock; its test client works with both.
    warnings.simplefilter("ignore")
    from starlette.testclient import TestClient


@pytest.fixture(scope="session")
def spare(tmp_path_factory: pytest.TempPathFactory) -> TestClient:
    """A client for tests that change nothing."""
    return _client(tmp_path_factory.mktemp("spare"))


@pytest.fixture
def client(tmp_path: Path) -> TestClient:
    """A client on a workshop of its own."""
    return _client(tmp_path)


def _client(place: Path) -> TestClient:
    shutil.copytree(folder(), place / "quillmoor")
    app = create_app(place / "quillmoor", clock=lambda: date(2026, 11, 25))
    return TestClient(app, base_url="http://127.0.0.1:8765", follow_redirects=False, raise_server_exceptions=False)


@pytest.fixture
def recipes(tmp_path: Path) -> Path:
    """The recipe folder of `client`."""
    return tmp_path / "quillmoor" / "recipes"


def form_of(response: Any) -> dict[str, Any]:
    """Every field of the recipe form as a browser would post it."""
    from html.parser import HTMLParser

    class Reader(HTMLParser):
        def __init__(self) -> None:
            super().__init__()
            self.fields: dict[str, Any] = {}
            self.inside = False
            self.area: str | None = None
            self.select: str | None = None

        def handle_starttag(self, tag: str, attributes: list[tuple[str, str | None]]) -> None:
            given = dict(attributes)
            if tag == "form":
                self.inside = given.get("id") == "recipe-form" or "document" in (given.get("action") or "")
            name = given.get("name")
            if not self.inside:
                return
            if tag == "input" and name and given.get("type") == "checkbox":
                if "checked" in given:
                    self.fields.setdefault(name, []).append(given.get("value"))
            elif tag == "input" and name:
                self.fields[name] = given.get("value") or ""
            elif tag == "textarea" and name:
                self.area, self.fields[name] = name, ""
            elif tag == "select" and name:
                self.select = name
            elif tag == "option" and self.select and ("selected" in given or self.select not in self.fields):
                self.fields[self.select] = given.get("value") or ""

        def handle_endtag(self, tag: str) -> None:
            if tag == "form":
                self.inside = False
            if tag == "textarea":
                self.area = None
            if tag == "select":
                self.select = None

        def handle_data(self, data: str) -> None:
            if self.area:
                self.fields[self.area] += data

    reader = Reader()
    reader.feed(response.text)
    # HTML drops the first line end of a textarea; the parser of the library does not.
    return {k: v[1:] if isinstance(v, str) and v.startswith("\n") else v for k, v in reader.fields.items()}
