"""The catalogue's pages, help and patterns."""

from __future__ import annotations

import pytest
from starlette.testclient import TestClient


def test_a_slip_still_finds(spare: TestClient) -> None:
    page = spare.get("/catalogue", params={"q": "sweet ornage"})
    assert page.status_code == 200
    assert "/catalogue/oil/sweet_orange" in page.text


def test_nothing_found_says_what_to_try(spare: TestClient) -> None:
    page = spare.get("/catalogue", params={"q": "<b>zzzzqqqqxx</b>"})
    assert "Try a shorter word" in page.text
    assert "<b>zzzz" not in page.text


def test_an_oil_tells_its_constituents_and_how_they_are_known(spare: TestClient) -> None:
    oil = spare.app.state.bench.catalogue.oils["sweet_orange"]
    page = spare.get("/catalogue/oil/sweet_orange")
    for constituent in oil.constituents:
        assert constituent.constituent in page.text
    assert "read in the source" in page.text or "from memory, not checked" in page.text


@pytest.mark.parametrize(
    "kind", ["material", "oil", "constituent", "mould", "measure", "fact", "colour", "limit", "allergen"]
)
def test_every_entry_search_can_find_has_a_page(spare: TestClient, kind: str) -> None:
    catalogue = spare.app.state.bench.catalogue
    held = {
        "material": catalogue.materials.values(),
        "oil": catalogue.oils.values(),
        "constituent": catalogue.constituents.values(),
        "mould": catalogue.moulds.values(),
        "measure": catalogue.measures.values(),
        "fact": catalogue.facts.values(),
        "colour": catalogue.colours.values(),
        "limit": catalogue.limits,
        "allergen": catalogue.allergens,
    }[kind]
    for entry in list(held)[:: max(1, len(list(held)) // 8)]:
        page = spare.get(f"/catalogue/{kind}/{entry.id}")
        assert page.status_code == 200, entry.id
        for source in entry.sources.get("", ())[:1]:
            assert f"/catalogue/sources/{source}" in page.text


def test_every_source_linked_from_a_recipe_has_a_page(spare: TestClient) -> None:
    import re

    links = set(re.findall(r'href="(/catalogue/sources/[^"]+)"', spare.get("/recipes/orchard_rain").text))
    assert len(links) > 5
    for link in links:
        assert spare.get(link).status_code == 200, link


@pytest.mark.parametrize("path", ["/catalogue/oil/nothing", "/catalogue/nothing/x", "/catalogue/sources/nothing"])
def test_what_is_not_held_is_said(spare: TestClient, path: str) -> None:
    answer = spare.get(path)
    assert answer.status_code == 404
    assert "The catalogue holds no" in answer.text


def test_help_and_patterns_open(spare: TestClient) -> None:
    assert "does not mean that nothing can go wrong" in spare.get("/help").text
    patterns = spare.get("/patterns").text
    for word in ("Stop", "Take care", "Fine", "Needs a change"):
        assert word in patterns


def test_no_page_gives_the_verdict_safe(spare: TestClient) -> None:
    import re

    for path in ("/", "/help", "/patterns", "/catalogue", "/recipes/orchard_rain", "/recipes/paddling_pool"):
        text = re.sub(r"<[^>]+>", " ", spare.get(path).text)
        text = text.replace("not a safety assessment", "")
        assert not re.search(r"\bis safe\b|\bsafe to\b|\bSafe\b", text), path
