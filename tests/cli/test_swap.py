"""`fizzwright swap` and `size --mould` as a maker types them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from fizzwright.catalogue import open_workshop
from fizzwright.recipe.document import read_file
from tests.cli.test_commands import run


@pytest.fixture
def orchard(quillmoor: Path) -> Path:
    return quillmoor / "recipes/orchard_rain.toml"


def test_a_swap_tells_what_moves_and_what_stays(orchard: Path) -> None:
    before = orchard.read_bytes()
    done = run("swap", orchard, "citric_acid", "tartaric_acid")
    assert done.returncode == 0, done.stderr
    text = " ".join(done.stdout.split())
    assert "same acid equivalents (64.04 g of the old and 75.04 g of the new make one)" in text
    assert "As before:" in text and "acid to base" in text.split("As before:")[1]
    assert "newly names Tartaric Acid" in text and "at least £" in text
    assert orchard.read_bytes() == before


def test_the_new_document_is_written_beside_and_never_over(orchard: Path, quillmoor: Path) -> None:
    out = quillmoor / "recipes/vegan_rain.toml"
    assert run("swap", orchard, "--scent", "1/2", "--out", out).returncode == 0
    catalogue, _ = open_workshop(quillmoor)
    drops = {line.use: line.amount.text for line in read_file(out, catalogue).lines if line.use in catalogue.oils}
    # 7, 3 and 2 drops halved, whole drops
    assert drops["cedarwood_virginian"] in ("1 drop", "1 drops") and drops["sweet_orange"] in ("3 drops", "4 drops")
    again = run("swap", orchard, "--scent", "2", "--out", out)
    assert again.returncode == 2 and "Traceback" not in again.stderr


def test_json_holds_it_all(orchard: Path) -> None:
    done = run("swap", orchard, "--without", "citric_acid", "--json")
    data = json.loads(done.stdout)
    assert done.returncode == 0 and data["fizzwright"] == 1 and data["verdict"] in ("mind", "good")
    assert {r["use"] for r in data["rows"]} == {"citric_acid", "tartaric_acid"}
    assert any(f["id"] == "fizz.acid_to_base_eq" and f["kept"] for f in data["figures"])
    assert data["label_new"] == ["Tartaric Acid"] and 'use = "tartaric_acid"' in data["text"]


def test_a_stop_is_told_and_ends_with_one(quillmoor: Path) -> None:
    done = run("swap", quillmoor / "recipes/hearth.toml", "coconut_oil", "sunflower_oil")
    assert done.returncode == 1 and "Stop:" in done.stdout


def test_a_scent_comes_over_from_another_file(quillmoor: Path) -> None:
    done = run("swap", quillmoor / "recipes/stillwater_clay.toml", "--match", quillmoor / "recipes/orchard_rain.toml")
    assert done.returncode == 0, done.stderr
    assert "scented like Orchard Rain" in done.stdout


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ((), "nothing was asked"),
        (("citric_acid", "--cheaper"), "one thing at a time"),
        (("--without", "palm"), "ask the supplier"),
        (("--match", "nowhere.toml"), "nowhere.toml"),
        (("--scent", "most", "--chance", "2"), "below 1"),
        (("--scent", "most", "--habit", "guessed"), "as_written"),
    ],
)
def test_what_cannot_be_asked_is_refused_in_words(orchard: Path, arguments: tuple[str, ...], says: str) -> None:
    done = run("swap", orchard, *arguments)
    assert done.returncode == 2 and says in done.stderr and "Traceback" not in done.stderr


def test_another_mould_takes_the_same_mix(orchard: Path, quillmoor: Path) -> None:
    out = quillmoor / "recipes/small_rain.toml"
    done = run("size", orchard, "--mould", "sphere_50", "--out", out)
    assert done.returncode == 0, done.stderr
    catalogue, _ = open_workshop(quillmoor)
    small = read_file(out, catalogue)
    # a ball of 50 mm holds (50/65)^3 = 0.455 of one of 65 mm: 583 g of mix in pieces of 58 g
    assert small.makes.mould == "sphere_50" and small.makes.count == 10
    assert [line.amount.text for line in small.lines][:2] == ["1 1/2 cup", "3/4 cup"]
    wrong = run("size", orchard, "--mould", "sphere_5")
    assert wrong.returncode == 2 and "Nearest" in wrong.stderr
