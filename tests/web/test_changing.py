"""The fold that changes one thing: each button, what stays in the file, and what is refused beside its box."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.web.conftest import TestClient, form_of

ORCHARD = "/recipes/orchard_rain"
CLAY = "/recipes/stillwater_clay"


def asked(client: TestClient, where: str, do: str, **more: str) -> dict[str, object]:
    return form_of(client.get(where)) | {"do": do} | more


def test_a_swap_stands_in_the_form_until_it_is_saved(client: TestClient, recipes: Path) -> None:
    before = (recipes / "orchard_rain.toml").read_bytes()
    page = client.post(
        ORCHARD, data=asked(client, ORCHARD, "change-swap", change_old="coconut_oil", change_new="Sunflower oil")
    )
    assert page.status_code == 200 and "Not saved yet" in page.text and 'id="change-fold" open' in page.text
    assert (recipes / "orchard_rain.toml").read_bytes() == before
    form = form_of(page)
    assert form["line-4-use"] == "sunflower_oil" and form["line-6-diluted_in"] == "sunflower_oil"
    assert form["line-4-was"] == "4", "the line keeps its place and its comments"
    assert client.post(ORCHARD, data=form | {"do": "save"}).status_code == 303
    saved = (recipes / "orchard_rain.toml").read_text(encoding="utf-8")
    assert "coconut_oil" not in saved and "# Our Saturday classic" in saved and 'in = "sunflower_oil"' in saved


def test_lines_that_come_and_go_are_saved_as_they_stand(client: TestClient, recipes: Path) -> None:
    page = client.post(CLAY, data=asked(client, CLAY, "change-families", change_families="citrus=3 woody=1"))
    assert page.status_code == 200 and "Lines that change" in page.text
    form = form_of(page)
    assert client.post(CLAY, data=form | {"do": "save"}).status_code == 303
    saved = (recipes / "stillwater_clay.toml").read_text(encoding="utf-8")
    assert "roman_chamomile" not in saved and "cedarwood_virginian" in saved


@pytest.mark.parametrize(
    ("where", "do", "more", "says"),
    [
        (ORCHARD, "change-without", {"change_group": "citric_acid"}, "with no citric acid"),
        (ORCHARD, "change-without", {"change_group": "animal"}, "ask the supplier"),
        (ORCHARD, "change-times", {"change_times": "1/2"}, "half the scent"),
        (ORCHARD, "change-most", {"change_chance": "90"}, "What sets it"),
        (CLAY, "change-like", {"change_like": "orchard_rain"}, "scented like Orchard Rain"),
        (CLAY, "change-cheaper", {}, "cheaper at the same feel"),
        (ORCHARD, "change-stock", {}, "out of the oils on the workshop"),
        ("/recipes/shingle_foam", "change-allergen", {"change_allergen": "Carvone"}, "below what a label names"),
    ],
)
def test_each_button_answers(spare: TestClient, where: str, do: str, more: dict[str, str], says: str) -> None:
    page = spare.post(where, data=asked(spare, where, do, **more))
    assert page.status_code == 200 and says in page.text.replace("&#39;", "'")
    assert 'id="changed"' in page.text


@pytest.mark.parametrize(
    ("do", "more", "box"),
    [
        ("change-swap", {}, "change_new"),
        ("change-swap", {"change_old": "citric_acid", "change_new": "corn_starch"}, "change_new"),
        ("change-without", {}, "change_group"),
        ("change-times", {"change_times": "loads"}, "change_times"),
        ("change-most", {"change_chance": "100"}, "change_chance"),
        ("change-most", {"change_chance": "most"}, "change_chance"),
        ("change-allergen", {"change_allergen": "Limonen"}, "change_allergen"),
        ("change-families", {"change_families": "citrus=much"}, "change_families"),
        ("change-like", {"change_like": "../secret"}, "change_like"),
        ("change-like", {}, "change_like"),
    ],
)
def test_what_cannot_be_done_is_told_beside_its_box(spare: TestClient, do: str, more: dict[str, str], box: str) -> None:
    page = spare.post(ORCHARD, data=asked(spare, ORCHARD, do, **more))
    assert page.status_code == 422 and f'<a href="#{box}">' in page.text
    assert 'id="changed"' not in page.text


def test_the_same_mix_in_another_mould(spare: TestClient) -> None:
    page = spare.post(ORCHARD, data=asked(spare, ORCHARD, "size-mould", size_mould="sphere_50"))
    form = form_of(page)
    assert page.status_code == 200 and form["mould"] == "sphere_50" and form["count"] == "10"
    assert form["line-0-amount"] == "1 1/2 cup"
