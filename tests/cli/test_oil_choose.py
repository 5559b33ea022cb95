"""`fizzwright oil choose` and `fizzwright oil wheel` from the outside."""

from __future__ import annotations

import json
from pathlib import Path

from typer.testing import CliRunner

from fizzwright.cli import app
from fizzwright.demo import folder

RUN = CliRunner()
RECIPES = Path(str(folder())) / "recipes"


def test_a_list_with_verdicts_in_words_and_shapes() -> None:
    run = RUN.invoke(app, ["oil", "choose", "--mood", "warm", "--workshop", str(folder())])
    assert run.exit_code == 0, run.output
    assert "✓ Room to spare" in run.output and "⯃ Poor choice" in run.output
    assert "Cinnamon bark" in run.output and "irritant" in run.output
    assert "no medical opinion" in " ".join(run.output.split())


def test_why_tells_every_reason_with_its_source() -> None:
    run = RUN.invoke(app, ["oil", "choose", "--why", "bergamot_expressed"])
    assert run.exit_code == 0, run.output
    said = " ".join(run.output.split())
    assert "Bergamot FCF" in said and "ifra_overview51" in said
    assert "Cinnamon bark" not in said


def test_json_holds_every_oil() -> None:
    run = RUN.invoke(app, ["oil", "choose", "--audience", "pregnancy", "--sold-in", "eu", "--json"])
    told = json.loads(run.stdout)
    assert told["fizzwright"] == 1 and len(told["choices"]) == 74
    assert told["sold_in"] == ["eu"] and told["usual_pct"] == 0.3


def test_a_word_that_is_not_known_is_refused() -> None:
    run = RUN.invoke(app, ["oil", "choose", "--mood", "calm"])
    assert run.exit_code == 2 or run.exception is not None
    run = RUN.invoke(app, ["oil", "choose", "--why", "lemon_expresed"])
    assert "lemon_expressed" in (run.output + str(run.exception))


def test_a_recipe_on_the_wheel() -> None:
    run = RUN.invoke(app, ["oil", "wheel", str(RECIPES / "orchard_rain.toml")])
    assert run.exit_code == 0, run.output
    assert "mostly citrus" in run.output and "No minty: Peppermint" in run.output
    told = json.loads(RUN.invoke(app, ["oil", "wheel", str(RECIPES / "orchard_rain.toml"), "--json"]).stdout)
    assert len(told["ring"]) == 13 and {one["oil"] for one in told["added"]} == {
        "sweet_orange", "cardamom", "cedarwood_virginian",
    }  # fmt: skip


def test_a_recipe_without_scent_says_so() -> None:
    run = RUN.invoke(app, ["oil", "wheel", str(RECIPES / "paddling_pool.toml")])
    assert "nothing in it is scented" in (run.output + str(run.exception))
