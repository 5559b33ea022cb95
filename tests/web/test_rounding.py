"""The fold that rounds a recipe to real spoons: looked at, put in, saved, refused."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.web.conftest import TestClient, form_of

CLAY = "/recipes/stillwater_clay"


def asked(client: TestClient, do: str, **more: object) -> dict[str, object]:
    return form_of(client.get(CLAY)) | {"do": do} | more


def test_the_workshop_s_drawer_is_ticked_from_the_start(spare: TestClient) -> None:
    page = spare.get(CLAY).text
    assert page.count('name="round_spoon"') == 9
    assert page.count("checked>1/8 tsp") == 1
    assert 'id="round-fold">' in page  # shut


def test_the_answer_stands_beside_a_form_that_has_not_changed(spare: TestClient) -> None:
    page = spare.post(CLAY, data=asked(spare, "round-see"))
    assert page.status_code == 200
    assert "1/2 cup + 1/3 cup + 1 tbsp" in page.text and "Put it in the recipe" in page.text
    assert form_of(page)["line-0-amount"] == "210 g"
    assert form_of(page)["round_within"] == "5"


def test_fewer_spoons_are_kept_to_and_kept_ticked(spare: TestClient) -> None:
    few = ["1 cup", "1/4 cup", "1 tbsp", "1 tsp"]
    page = spare.post(CLAY, data=asked(spare, "round-see", round_spoon=few))
    answer = page.text.split('id="rounded"')[1].split("</table>")[0]
    assert "3 x 1/4 cup + 2 tbsp" in answer and "1/2 cup" not in answer and "weigh it" in answer
    assert page.text.count('name="round_spoon"') == 9 and page.text.count('name="round_spoon" value="1/2 cup">') == 1


def test_put_in_the_recipe_it_waits_to_be_saved(client: TestClient, recipes: Path) -> None:
    before = (recipes / "stillwater_clay.toml").read_bytes()
    page = client.post(CLAY, data=asked(client, "round-put"))
    assert page.status_code == 200 and "Not saved yet" in page.text
    assert (recipes / "stillwater_clay.toml").read_bytes() == before
    assert form_of(page)["line-7-amount"] == "10 drops"
    assert client.post(CLAY, data=form_of(page) | {"do": "save"}).status_code == 303
    saved = (recipes / "stillwater_clay.toml").read_text(encoding="utf-8")
    assert 'amount = "10 drops"' in saved and "# Weighed, not spooned" in saved


@pytest.mark.parametrize(
    ("typed", "box"),
    [
        ({"round_within": "lots"}, "round_within"),
        ({"round_within": "80"}, "round_within"),
        ({"round_within": "nan"}, "round_within"),
        ({"round_chance": "100"}, "round_chance"),
        ({"round_chance": ""}, "round_chance"),
        ({"round_spoon": []}, "round_spoons"),
        ({"round_spoon": ["1 stone"]}, "round_spoons"),
    ],
)
def test_what_cannot_be_read_is_told_beside_its_box(spare: TestClient, typed: dict[str, object], box: str) -> None:
    page = spare.post(CLAY, data=asked(spare, "round-see", **typed))
    assert page.status_code == 422
    assert page.text.split(f'id="{box}-wrong">')[1].split("</p>")[0].strip()
    assert 'id="round-fold" open' in page.text


def test_a_recipe_past_its_limits_says_what_mends_it(spare: TestClient) -> None:
    form = form_of(spare.get("/recipes/hearth")) | {"do": "round-see"}
    page = spare.post("/recipes/hearth", data=form)
    assert page.status_code == 422
    assert "drops of Cinnamon bark" in page.text.split('id="round_chance-wrong">')[1].split("</p>")[0]


def test_a_chance_typed_in_percent_is_refused_in_percent(spare: TestClient) -> None:
    page = spare.post(CLAY, data=asked(spare, "round-see", round_chance="5")).text
    wrong = page.split('id="round_chance-wrong">')[1].split("</p>")[0]
    assert "5 % of kitchens" in wrong and "50 % to 99.99 %" in wrong
