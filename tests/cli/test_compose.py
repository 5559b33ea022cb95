"""`fizzwright compose` as a maker types it, and what it prints of any outcome."""

from __future__ import annotations

import json
import os
import signal
import tomllib
from dataclasses import replace
from pathlib import Path

import pytest

from fizzwright.catalogue import Catalogue, open_workshop
from fizzwright.compose_command import _watched
from fizzwright.design.composed import Answer, Composed, Conflict, Easing, Progress, Promise, Shadow
from fizzwright.design.composing import PROVEN as PROVEN_GAP
from fizzwright.design.goal import SEEKS, ScentWish
from fizzwright.design.reading import read_goal
from fizzwright.design.schema import schema
from fizzwright.design.search import SOUGHT_SCENT
from fizzwright.design.told import proof
from fizzwright.design_words import show_composed
from fizzwright.recipe.document import read_file, read_text
from fizzwright.review import review
from tests.cli.test_commands import run

RECIPE = """\
name = "Slack Water"
kind = "fizzer"
[makes]
mould = "sphere_65"
count = 2
[[line]]
use = "sodium_bicarbonate"
amount = "150 g"
[[line]]
use = "citric_acid"
amount = "1/3 cup"
[[line]]
use = "sweet_orange"
amount = "12 drops"
"""
ANSWER = Answer(
    text=RECIPE,
    grams={"sodium_bicarbonate": 150.0, "citric_acid": 72.4, "sweet_orange": 0.31},
    objective=1.5,
    cost_piece_minor=41.6,
    unpriced=("citric_acid",),
    promises=(
        Promise("water.ph_settled", "a bath of pH 6.6 to 7.8", "pH 7.42", True),
        Promise("fizz.gas_l", "at least 9 litres of gas", "8.7 litres", False),
    ),
    figures={"acid_to_base_eq": 0.633, "gas_l": 8.7, "ph_settled": 7.42, "share_of_limit": 0.31},
)
PROVEN = Composed(
    answer=ANSWER,
    bound=1.5,
    gap=0.0,
    is_proven=True,
    stopped=False,
    alternatives=(replace(ANSWER, differs="With kaolin instead of starch."),),
    shadows=(Shadow("fizz.gas_l", "A litre less of gas would save 3 p a piece.", 0.2),),
    notes=("Alcohol was left for you to add until it holds.",),
)
NONE = Composed(answer=None, bound=None, gap=None, is_proven=False, stopped=False)
CONFLICT = replace(
    NONE,
    conflict=Conflict(
        ("fizz.gas_l", "feel.filler_pct"),
        ("At least 18 litres of gas in a piece", "At least 35 % filler"),
        (Easing("feel.filler_pct", "Ask for at least 27 % filler.", 8.0, "%"),),
    ),
)


@pytest.fixture
def goals(quillmoor: Path) -> Path:
    return quillmoor / "goals"


def printed(composed: Composed, goals: Path, capsys: pytest.CaptureFixture[str], **how: bool) -> str:
    catalogue, workshop = open_workshop(goals.parent)
    goal = read_goal(goals / "slack_water.toml", catalogue, workshop)
    show_composed(composed, goal, catalogue, workshop.currency, **how)
    return " ".join(capsys.readouterr().out.split())


def test_an_answer_is_told_with_its_promises_proof_others_and_costs(
    goals: Path, capsys: pytest.CaptureFixture[str], catalogue: Catalogue
) -> None:
    text = printed(PROVEN, goals, capsys)
    assert "2 pieces in" in text
    for line in read_text(RECIPE, catalogue).lines:
        assert f"{line.amount.text} {catalogue.usable(line.use).name}" in text
    assert "72.4 g" in text and "£0.42 materials of one piece" in text
    assert "No price is known for citric acid" in text
    for promise in ANSWER.promises:
        assert promise.got in text
    assert text.index("▲ not kept") < text.index("● kept")
    assert "at least 9 litres of gas is not kept; see below" in text
    assert "No recipe inside these demands comes nearer to the wish; proven." in text
    assert text.index("Nearly as good, 1 With kaolin instead of starch.") < text.index("What the demands cost")
    assert PROVEN.shadows[0].text in text and PROVEN.notes[0] in text


def test_the_others_can_be_left_out(goals: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert "Nearly as good" not in printed(PROVEN, goals, capsys, alternatives=False)


def test_a_conflict_is_told_with_what_would_mend_it(goals: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = printed(CONFLICT, goals, capsys)
    assert CONFLICT.conflict is not None
    for words in CONFLICT.conflict.words:
        assert words in text
    assert "Any one of these would mend it - Ask for at least 27 % filler." in text and "How sure" not in text


def test_nothing_found_is_no_proof_that_there_is_nothing(goals: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert "is not proven" in printed(NONE, goals, capsys)
    assert "Stopped before any recipe" in printed(replace(NONE, stopped=True), goals, capsys)


def test_the_proof_says_no_more_than_was_proven(goals: Path) -> None:
    catalogue, workshop = open_workshop(goals.parent)
    goal = read_goal(goals / "slack_water.toml", catalogue, workshop)
    open_end = replace(PROVEN, is_proven=False, bound=1.2, gap=0.2)
    assert "at most 20 % could still be gained" in proof(open_end, goal)
    assert proof(replace(open_end, stopped=True), goal).startswith("Stopped before it was proven")
    assert "nothing yet says how much" in proof(replace(open_end, bound=None, gap=None), goal)
    assert proof(replace(PROVEN, stopped=True), goal).startswith(proof(PROVEN, goal) + " Stopped before")
    assert proof(NONE, goal) == ""
    # the tolerances that stand behind the words
    assert PROVEN_GAP == 0.01 and SOUGHT_SCENT == 0.05
    assert "more than 5 points of 100 nearer" in proof(PROVEN, replace(goal, seek="cheapest"))
    plain = replace(goal, seek="cheapest", scent=ScentWish())
    assert proof(PROVEN, plain) == "No recipe inside these demands is cheaper by more than 1 %; proven."
    assert len({proof(PROVEN, replace(goal, seek=seek)) for seek in SEEKS}) == len(SEEKS)


def test_the_first_interrupt_asks_for_the_best_so_far_and_the_second_ends(capsys: pytest.CaptureFixture[str]) -> None:
    before = signal.getsignal(signal.SIGINT)
    with _watched() as (on_progress, stop):
        on_progress(Progress("finding", "", None, None, 0.1))
        on_progress(Progress("checking", "", 2.0, 1.0, 0.2))
        on_progress(Progress("finding", "", 2.0, 1.0, 0.3))
        assert not stop()
        os.kill(os.getpid(), signal.SIGINT)
        assert stop()
        with pytest.raises(KeyboardInterrupt):
            os.kill(os.getpid(), signal.SIGINT)
    assert signal.getsignal(signal.SIGINT) is before
    said = capsys.readouterr().err
    assert said.count("Looking for a recipe.") == 1 and "best so far" in said


def test_the_schema_is_printed_without_a_goal() -> None:
    done = run("compose", "--schema")
    assert done.returncode == 0 and json.loads(done.stdout) == schema()


def test_what_cannot_be_read_is_refused_with_its_rows(tmp_path: Path, goals: Path) -> None:
    bad = tmp_path / "bad.toml"
    bad.write_text('name = "x"\nseek = "best"\n[makes]\nmould = "sphere_65"\n', encoding="utf-8")
    done = run("compose", bad)
    assert done.returncode == 2 and done.stdout == ""
    assert "line 2, seek" in done.stderr and "makes.count" in done.stderr and "Traceback" not in done.stderr
    assert run("compose").returncode == 2
    assert run("compose", tmp_path / "none.toml").returncode == 2
    poor = tmp_path / "poor.toml"
    poor.write_text((goals / "slack_water.toml").read_text(encoding="utf-8"), encoding="utf-8")
    done = run("compose", poor)
    assert done.returncode == 2 and "no prices are known" in done.stderr
    there = goals / "slack_water.toml"
    done = run("compose", there, "--out", there)
    assert done.returncode == 2 and "left alone" in done.stderr
    assert tomllib.loads(there.read_text(encoding="utf-8"))["name"] == "Slack Water"


def test_a_goal_becomes_a_recipe_that_reviews_without_a_stop(goals: Path, tmp_path: Path) -> None:
    out = tmp_path / "slack.toml"
    done = run("compose", goals / "slack_water.toml", "--out", out)
    assert done.returncode == 0, done.stderr
    assert f"Written as {out}" in " ".join(done.stdout.split()) and "How sure" in done.stdout
    assert "Looking for a recipe" in done.stderr
    catalogue, workshop = open_workshop(goals.parent)
    recipe = read_file(out, catalogue)
    report = review(recipe, catalogue, workshop)
    assert report.verdict != "stop"
    assert 0.8 <= report.section("fizz").figure("acid_to_base_eq").value <= 1.0
    assert 7.8 <= report.section("tub").figure("ph_settled").value <= 8.4
    assert report.section("mould").figure("pieces").value == 6


def test_a_goal_that_cannot_be_says_which_demands_conflict(goals: Path, tmp_path: Path) -> None:
    out = tmp_path / "both.toml"
    done = run("compose", goals / "both_ways.toml", "--json", "--out", out)
    assert done.returncode == 1, done.stderr
    data = json.loads(done.stdout)
    assert data["fizzwright"] == 1 and data["answer"] is None and not out.exists()
    assert set(data["conflict"]["demands"]) == {"fizz.gas_l", "feel.filler_pct"}
    assert data["conflict"]["easings"]
