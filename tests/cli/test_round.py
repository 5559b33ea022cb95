"""`fizzwright round` as a maker types it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.cli.test_commands import run


@pytest.fixture
def clay(quillmoor: Path) -> Path:
    return quillmoor / "recipes/stillwater_clay.toml"


def test_it_prints_each_line_by_spoon_and_by_scale_and_writes_what_reviews(clay: Path, tmp_path: Path) -> None:
    out = tmp_path / "clay.toml"
    done = run("round", clay, "--spoons", "1 cup, 1/4 cup, 1 tbsp, 1 tsp", "--within", "6", "--out", out)
    assert done.returncode == 0, done.stderr
    text = " ".join(done.stdout.split())
    assert "From: 1 cup, 1/4 cup, 1 tbsp, 1 tsp." in text and "by scale" in text and "10 drops" in text
    assert "strays by itself" in text and "weigh it" in text
    assert run("review", out).returncode == 0
    again = run("round", clay, "--out", out)
    assert again.returncode == 2 and "Traceback" not in again.stderr


def test_json_holds_the_same(clay: Path) -> None:
    done = run("round", clay, "--json")
    assert done.returncode == 0, done.stderr
    data = json.loads(done.stdout)
    assert data["fizzwright"] == 1 and data["chance"] >= data["chance_wanted"] == 0.99
    assert data["scoops"] == sum(row["scoops"] for row in data["rows"])
    assert {"by_spoon", "by_scale", "error_pct", "scatter_pct"} <= set(data["rows"][0])


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--spoons", "1 cup, 2 lb"), "read '2 lb'"),
        (("--spoons", "1 cup,,1 tsp"), "between two commas"),
        (("--within", "90"), "0.1 to 25"),
        (("--chance", "99"), "0.99 means 99 of 100"),
    ],
)
def test_what_cannot_be_read_is_refused(clay: Path, words: tuple[str, ...], said: str) -> None:
    done = run("round", clay, *words)
    assert done.returncode == 2 and said.lower() in done.stderr.lower() and "Traceback" not in done.stderr


def test_the_card_takes_a_drawer(clay: Path, tmp_path: Path) -> None:
    done = run("paper", "card", clay, "--out", tmp_path / "card.pdf", "--spoons", "1 cup, tsp")
    assert done.returncode == 0, done.stderr
    refused = run("paper", "card", clay, "--out", tmp_path / "other.pdf", "--spoons", "a shovel")
    assert refused.returncode == 2 and "a shovel" in refused.stderr
