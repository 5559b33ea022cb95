"""`fizzwright today` as a maker types it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from fizzwright.catalogue import open_workshop
from fizzwright.plan.today import today
from fizzwright.recipe.document import read_file
from fizzwright.review.room import read_room
from tests.cli.test_commands import run


@pytest.fixture
def orchard(quillmoor: Path) -> Path:
    return quillmoor / "recipes/orchard_rain.toml"


def test_it_says_the_word_the_plan_and_what_would_change_it(orchard: Path, quillmoor: Path) -> None:
    catalogue, workshop = open_workshop(quillmoor)
    found = today(read_file(orchard, catalogue), catalogue, workshop, read_room(workshop, catalogue, 21.0, 66.0))
    done = run("today", orchard, "--room", "21 C 66 %")
    assert done.returncode == 0, done.stderr
    text = " ".join(done.stdout.split())
    assert found.day.word.capitalize() in text and found.day.sentence in text
    for change in found.day.changes:
        assert change in text
    assert text.index("What would change it") < text.index("Before you begin") < text.index("The plan, in order")
    assert "Children" in text and "flame" in text


def test_json_holds_the_same(orchard: Path) -> None:
    done = run("today", orchard, "--room", "70 F 40 %", "--json")
    assert done.returncode == 0, done.stderr
    data = json.loads(done.stdout)
    assert data["fizzwright"] == 1 and data["verdict"] in ("dry", "hold", "wait")
    assert data["room"]["room_c"] == pytest.approx(190 / 9, abs=0.01) and data["room"]["told"] == "read today"
    assert [step["title"] for step in data["plan"]][:4] == ["Damp", "Window", "Bowl", "Binder"]
    assert {"open_bowl_minutes", "dew_point_c"} <= {f["id"] for f in data["figures"]}
    assert "squeeze" not in data


def test_without_a_reading_the_room_is_as_usual_and_with_one_kept_as_kept(orchard: Path, quillmoor: Path) -> None:
    from datetime import UTC, datetime

    from fizzwright.plan.readings import Kept, keep

    usual = json.loads(run("today", orchard, "--json").stdout)["room"]
    assert usual == {"room_c": 19.0, "humidity_pct": 58.0, "told": "as this room usually is"}
    keep(quillmoor, Kept(datetime.now(UTC), 23.0, 44.0))
    kept = json.loads(run("today", orchard, "--json").stdout)["room"]
    assert kept == {"room_c": 23.0, "humidity_pct": 44.0, "told": "read today"}


@pytest.mark.parametrize(("answer", "word"), [("crumbles", "It crumbles"), ("holds", "It holds"), ("wet", "It is wet")])
def test_the_squeeze_is_answered(orchard: Path, answer: str, word: str) -> None:
    words = ("today", orchard, "--room", "21 C 45 %", "--squeeze", answer, "--added", "6 sprays", "--minutes", "2")
    done = run(*words)
    assert done.returncode == 0, done.stderr
    assert word in done.stdout
    told = json.loads(run(*words, "--json").stdout)["squeeze"]
    assert told["answer"] == answer and " ".join(told["do"].split()) in " ".join(done.stdout.split())


def test_why_shows_the_working(orchard: Path) -> None:
    done = run("today", orchard, "--room", "21 C 45 %", "--why", "open_bowl_minutes")
    assert done.returncode == 0, done.stderr
    assert "open_bowl_minutes" in done.stdout and "=" in done.stdout
    unknown = run("today", orchard, "--why", "nothing_such")
    assert unknown.returncode == 2 and "Traceback" not in unknown.stderr


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--room", "72 58"), "72"),
        (("--room", "21 C 158 %"), "158"),
        (("--room", "21 C -4 %"), "-4"),
        (("--room", "damp"), "damp"),
        (("--room", ""), ""),
        (("--squeeze", "maybe"), "crumbles, holds, wet"),
        (("--added", "6 sprays"), "--squeeze"),
        (("--squeeze", "crumbles", "--added", "lots"), "lots"),
        (("--squeeze", "crumbles", "--minutes", "-1"), "-1"),
        (("--workshop", "nowhere"), "workshop.toml"),
    ],
)
def test_what_cannot_be_read_is_refused(orchard: Path, words: tuple[str, ...], said: str) -> None:
    done = run("today", orchard, *words)
    assert done.returncode == 2 and said in done.stderr and done.stderr.strip()
    assert "Traceback" not in done.stderr and not done.stdout


def test_a_recipe_outside_any_workshop_has_a_day_too(orchard: Path, tmp_path: Path) -> None:
    alone = tmp_path / "alone" / "a" / "b" / "orchard.toml"
    alone.parent.mkdir(parents=True)
    alone.write_text(orchard.read_text(encoding="utf-8").replace('lot = "SO-2411-02"', ""), encoding="utf-8")
    done = run("today", alone)
    assert done.returncode == 0, done.stderr
    assert "taken for granted" in done.stdout
