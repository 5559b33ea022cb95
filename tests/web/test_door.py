"""Who may come in: hosts, origins, sizes; and what every answer carries."""

from __future__ import annotations

from pathlib import Path

import pytest
from starlette.testclient import TestClient


@pytest.mark.parametrize(
    "host", ["evil.example", "evil.example:8765", "127.0.0.1.evil.example", "", "localhost.evil.example"]
)
def test_foreign_hosts_are_turned_away(spare: TestClient, host: str) -> None:
    answer = spare.get("/", headers={"host": host})
    assert answer.status_code == 421
    assert "Orchard" not in answer.text


@pytest.mark.parametrize("host", ["localhost:8765", "127.0.0.1:8765", "[::1]:8765", "LOCALHOST"])
def test_this_machine_is_let_in(spare: TestClient, host: str) -> None:
    assert spare.get("/help", headers={"host": host}).status_code == 200


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://evil.example"},
        {"origin": "null"},
        {"origin": "http://127.0.0.1:81"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
    ],
)
def test_a_post_from_another_site_changes_nothing(client: TestClient, recipes: Path, headers: dict[str, str]) -> None:
    before = set(recipes.iterdir())
    answer = client.post("/recipes", data={"new_name": "Planted"}, headers=headers)
    assert answer.status_code == 403
    assert set(recipes.iterdir()) == before


def test_a_post_from_our_own_page_is_let_in(client: TestClient) -> None:
    headers = {"origin": "http://127.0.0.1:8765", "sec-fetch-site": "same-origin"}
    assert client.post("/recipes", data={"new_name": "Ours"}, headers=headers).status_code == 303


def test_ten_megabytes_are_turned_away(client: TestClient, recipes: Path) -> None:
    before = set(recipes.iterdir())
    answer = client.post("/recipes/upload", files={"document": ("big.toml", b"#" * 10_000_000)})
    assert answer.status_code == 413
    assert set(recipes.iterdir()) == before


def test_a_body_without_a_length_is_measured_as_it_comes(client: TestClient, recipes: Path) -> None:
    before = set(recipes.iterdir())
    pieces = (b"x" * 100_000 for _ in range(60))
    answer = client.post(
        "/recipes/upload", content=pieces, headers={"content-type": "application/x-www-form-urlencoded"}
    )
    assert answer.status_code == 413
    assert set(recipes.iterdir()) == before


@pytest.mark.parametrize(
    "path", ["/", "/recipes/orchard_rain", "/catalogue?q=rose", "/patterns", "/nowhere", "/static/workbench.js"]
)
def test_no_page_may_run_a_script_of_its_own(spare: TestClient, path: str) -> None:
    answer = spare.get(path)
    policy = answer.headers["content-security-policy"]
    assert "script-src 'self'" in policy
    assert "unsafe" not in policy
    assert " style=" not in answer.text
    assert "<style" not in answer.text
    assert "onclick" not in answer.text


def test_a_fault_of_ours_is_said_in_words(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object, **__: object) -> None:
        raise RuntimeError("a secret inside")

    monkeypatch.setattr("fizzwright.web.documents.card", broken)
    answer = client.get("/")
    assert answer.status_code == 500
    assert "fault of the program" in answer.text
    assert "a secret inside" not in answer.text
    assert "Traceback" not in answer.text


def test_nothing_here_is_said_in_words(spare: TestClient) -> None:
    answer = spare.get("/nowhere")
    assert answer.status_code == 404
    assert "There is no page at this address." in answer.text
    assert spare.put("/help").status_code == 405
