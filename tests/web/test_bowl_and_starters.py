"""The order at the bowl, what is folded, the starters, and how a stopped recipe is listed."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from fizzwright.catalogue import open_workshop
from fizzwright.demo import folder
from fizzwright.recipe.document import read_text
from fizzwright.review import Figure, Notice, Review, Section, review
from fizzwright.review.figures import Working
from fizzwright.web.bowl import as_written, bowl_steps
from fizzwright.web.documents import STARTERS, starter
from fizzwright.web.views import LineView, Views, briefly, verdict_sentence, verdict_short

RECIPES = sorted(p.stem for p in (folder() / "recipes").glob("*.toml"))


@pytest.mark.parametrize("stem", RECIPES)
def test_at_the_bowl_room_then_cover_then_weights_then_steps(spare: TestClient, stem: str) -> None:
    bench = spare.app.state.bench
    recipe, report = bench.review(bench.shelf.read(stem), stem)
    steps = bowl_steps(Views(bench.catalogue.sources).review(report, recipe.kind))
    titles = [s.title for s in steps]
    if report.verdict == "stop":
        assert titles.pop(0) == "Do not make this yet"
        steps = steps[1:]
    assert titles[0] == "Make the room ready"
    assert steps[0].ready == report.section("making").ready
    assert steps[0].ready
    weighing = [i for i, s in enumerate(steps) if s.weight]
    assert weighing == list(range(weighing[0], weighing[0] + len(recipe.lines)))
    assert "Weigh everything out" not in titles
    wear = next(i for i, s in enumerate(steps) if any(w in c.text for c in s.cautions for w in ("mask", "gloves")))
    assert wear < weighing[0]
    asked = [s.title for s in report.section("making").steps if s.title != "Weigh everything out"]
    assert [t for i, t in enumerate(titles) if i == 0 or i > weighing[-1]] == asked


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ("34.5 g", ""),
        ("1 kg", ""),
        ("1 1/2 cup", "Or 1 1/2 cup."),
        ("2 oz", "Or 2 oz."),
        ("3 %", "Written as 3 %."),
        ("to consistency", "Written as to consistency."),
    ],
)
def test_a_weight_is_not_said_twice(written: str, said: str) -> None:
    assert as_written(LineView("x", "", written, "34.5\u202fg", "", "", "")) == said


def test_sections_show_key_figures_and_fold_the_rest_but_no_limit_and_nothing_noticed() -> None:
    def figure(name: str, high: float | None = None, share: float | None = None) -> Figure:
        return Figure(name, 1.0, "g", name, Working("x"), high_allowed=high, share_of_limit=share)

    section = Section(
        "mould",
        "Mould",
        (
            figure("piece_g"),
            figure("volume_ml"),
            figure("mound_ml"),
            figure("rim", 2.0, 0.9),
            figure("limit.a.b", 2, 0.9),
        ),
        (Notice("mind", "The mound is high.", "", figure="mound_ml"),),
    )
    view = Views({}).section(section)
    assert [f.text for f in view.figures] == ["piece_g", "mound_ml", "rim"]
    assert [f.text for f in view.more] == ["volume_ml"]
    assert [f.text for f in view.limits] == ["limit.a.b"]


def test_a_folded_figure_is_on_the_page_inside_a_closed_fold(spare: TestClient) -> None:
    page = spare.get("/recipes/orchard_rain").text
    fold = page.split('<details id="more-mould">')[1].split('<section id="')[0]
    assert 'id="figure-mould-volume_ml"' in fold
    assert 'id="figure-mould-piece_g"' not in fold
    assert '<details id="more-lines">' in page


@pytest.mark.parametrize("name", sorted(p.stem for p in STARTERS.glob("*.toml")))
@pytest.mark.parametrize("priced", [True, False])
def test_each_starter_reviews_without_a_fault(name: str, priced: bool, tmp_path: Path) -> None:
    if not priced:
        (tmp_path / "workshop.toml").write_text('name = "New"\ncurrency = "GBP"\n', encoding="utf-8")
    catalogue, workshop = open_workshop(folder() if priced else tmp_path)
    recipe = read_text(starter(name), catalogue)
    report = review(recipe, catalogue, workshop)
    minded = [(s, n.text) for s, n in report.notices if n.level != "good" and not n.standing]
    assert [text for section, text in minded if priced or section != "cost"] == []
    assert report.section("mould").figure("pieces").value == recipe.makes.count
    functions = {catalogue.materials[line.use].function for line in recipe.lines}
    assert {"acid", "base", "binder_liquid"} <= functions
    assert functions & {"carrier_oil", "solid_fat"}


def test_a_recipe_started_anew_is_the_starter_under_its_own_name(client: TestClient, recipes: Path) -> None:
    client.post("/recipes", data={"new_name": "Low Water", "copy_of": ""})
    text = (recipes / "low_water.toml").read_text(encoding="utf-8")
    assert text == starter("plain_fizzer").replace('"Plain fizzer"', '"Low Water"')


def test_the_list_names_everything_that_must_change(spare: TestClient) -> None:
    bench = spare.app.state.bench
    _, report = bench.review(bench.shelf.read("hearth"), "hearth")
    said = re.split(r">Hearth<", spare.get("/").text)[1].split("</li>")[0]
    stops = [n for _, n in report.notices if n.level == "stop"]
    assert len(stops) > 1
    assert f"{len(stops)} things must change" in said
    for notice in stops:
        assert briefly(notice.text).replace("'", "&#39;") in said


def _report(*levels: str) -> Review:
    notices = tuple(Notice(level, f"{level}.", "") for level in levels)
    from datetime import date

    return Review("R", date(2026, 11, 25), "v", (Section("mix", "Mix", (), notices),))


def test_the_verdict_says_what_was_held_against_it() -> None:
    assert verdict_sentence(_report("mind", "good")) == "No limit we hold is passed; one thing to mind."
    assert verdict_sentence(_report("good")) == "No limit we hold is passed, and nothing stands out."
    assert verdict_sentence(_report("stop", "stop", "mind")) == "2 things must change before this is made."
    assert verdict_short(_report("stop")) == "one thing must change"
    assert verdict_short(_report("mind", "mind")) == "2 things to mind"
    assert verdict_short(_report()) == "no limit passed"


@pytest.mark.parametrize(
    ("text", "short"),
    [
        (
            "Cinnamaldehyde would be 2.25 % of the piece, 4.6 times what is allowed; x.",
            "Cinnamaldehyde would be 2.25 % of the piece",
        ),
        ("Not for a child: it burns, and more.", "Not for a child: it burns"),
        ("A" * 30 + " " + "b" * 60 + ".", "A" * 30 + "…"),
    ],
)
def test_briefly(text: str, short: str) -> None:
    assert briefly(text) == short
