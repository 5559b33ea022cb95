"""The page of oils: the list with its verdicts, what is refused beside its box, and a recipe on the wheel."""

from __future__ import annotations

import html
import re
from datetime import date
from pathlib import Path
from xml.etree import ElementTree

import pytest
from starlette.testclient import TestClient

from fizzwright.catalogue import load
from fizzwright.design import wheel
from fizzwright.design.choosing import choose
from fizzwright.web.wheel_drawing import Mark, wheel_svg

SVG = "{http://www.w3.org/2000/svg}"


def test_every_oil_stands_on_the_page_in_the_order_of_the_choice(spare: TestClient) -> None:
    page = spare.get("/oils")
    assert page.status_code == 200
    shown = re.findall(r'<li id="oil-([a-z_0-9]+)">', page.text)
    assert len(shown) == 74 and len(set(shown)) == 74
    assert 'aria-current="page">Oils' in page.text
    assert "Room to spare" in page.text or "room to spare" in page.text
    assert "ask" in page.text.casefold() and "safe " not in re.sub(r"<[^>]+>", "", page.text)


def test_what_is_asked_reaches_the_choice(spare: TestClient) -> None:
    page = spare.get("/oils?audience=child_6_plus&wish=family:citrus&sold_in=eu&sold_in=uk&without=Citral")
    expected = choose(
        load(), audience="child_6_plus", sold_in=("eu", "uk"), family="citrus", without_allergens=("Citral",),
        as_of=date(2026, 11, 25),
    )  # fmt: skip
    shown = re.findall(r'<li id="oil-([a-z_0-9]+)">', page.text)
    assert set(shown) == {one.oil for one in expected.choices}
    assert "sold in eu and uk" in page.text and "without Citral" in page.text


@pytest.mark.parametrize(
    ("query", "box", "said"),
    [
        ("audience=dragon", "audience", "Choose one of: adult"),
        ("wish=mood:calm", "wish", "fresh, bright"),
        ("wish=sleepy", "wish", "Choose a scent from the list"),
        ("without=Linalol", "without", "Did you mean"),
        ("recipe=../../etc/passwd", "recipe", "no recipe called"),
        ("recipe=paddling_pool", "recipe", "Nothing in this recipe is scented"),
    ],
)
def test_what_cannot_be_read_is_told_beside_its_box(spare: TestClient, query: str, box: str, said: str) -> None:
    page = spare.get(f"/oils?{query}")
    assert page.status_code == 422
    beside = re.search(rf'id="{box}-wrong">(.*?)</p>', page.text, re.DOTALL)
    assert beside and said in html.unescape(beside[1])


def test_a_hostile_word_is_escaped(spare: TestClient) -> None:
    page = spare.get("/oils?without=%3Cscript%3Ealert(1)%3C/script%3E&recipe=%22%3E%3Cscript%3E")
    assert page.status_code == 422 and "<script>alert" not in page.text and '"><script>' not in page.text


def test_a_recipe_that_cannot_be_read_says_so(client: TestClient, recipes: Path) -> None:
    (recipes / "torn.toml").write_text("name = ", encoding="utf-8")
    page = client.get("/oils?recipe=torn")
    assert page.status_code == 422 and "put it right first" in page.text


def test_a_recipe_on_the_wheel_with_its_table(spare: TestClient) -> None:
    page = spare.get("/oils?recipe=orchard_rain")
    assert page.status_code == 200
    assert "Orchard Rain smells mostly citrus" in page.text
    assert "No minty: Peppermint" in page.text
    table = page.text[page.text.index("Families round the wheel") :]
    assert all(f'<th scope="row">{family}</th>' in table for family in wheel.FAMILIES)


def test_marks_on_the_wheel_do_not_hide_one_another_and_stay_inside() -> None:
    catalogue = load()
    ring = wheel.ring(catalogue)
    oils = [oil for oil in catalogue.oils.values() if oil.odour_family.startswith("citrus")]
    marks = [Mark(n, oil.name, wheel.places(oil, catalogue)) for n, oil in enumerate(oils, 1)]
    drawn = ElementTree.fromstring(
        wheel_svg(ring, marks, {"citrus": 0.7}, "wheel & words").replace("<svg ", f'<svg xmlns="{SVG[1:-1]}" ', 1)
    )
    assert drawn.get("aria-label") == "wheel & words"
    spots = [(float(c.get("cx", 0)), float(c.get("cy", 0))) for c in drawn.iter(f"{SVG}circle") if c.get("cx")]
    assert len(spots) == len(oils) >= 14
    for i, (x, y) in enumerate(spots):
        assert x**2 + y**2 <= 100**2
        assert all((x - u) ** 2 + (y - v) ** 2 >= 14**2 for u, v in spots[:i])
    words = [text.text for text in drawn.iter(f"{SVG}text")]
    assert set(wheel.FAMILIES) <= set(words)


def test_words_from_memory_are_not_called_published(spare: TestClient) -> None:
    hows = {row.how_of("words") for row in load().odour_words.values()}
    page = spare.get("/oils?recipe=orchard_rain").text
    assert ("odour words (from memory, not checked)" in page) == ("memory" in hows)
    assert "published odour words" not in page
