"""Colours beside the lists of their markets, read a second time straight from the tables."""

from __future__ import annotations

import csv
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from fizzwright import catalogue as catalogue_room
from fizzwright.catalogue import Catalogue
from fizzwright.review import Notice, colours
from tests.review.skin_mixes import Given, mixed

DATA = Path(catalogue_room.__file__).parent / "data"
BASE: list[Given] = [("sodium_bicarbonate", 200.0), ("citric_acid", 100.0), ("olive_oil", 9.0)]


def told(catalogue: Catalogue, use: str, grams: float = 0.02, audience: str = "adult", **more: object) -> list[Notice]:
    mix = mixed(catalogue, [*BASE, (use, grams)], audience=audience, **more)
    return colours.compare(mix, catalogue)


@pytest.mark.parametrize(
    ("use", "market", "level", "words"),
    [
        # us_21cfr and FDA's status page, as held: general, external only, not listed.
        ("iron_oxide_red", "us", None, ""),
        ("ultramarine_blue", "us", "mind", "contested"),
        ("dc_red_33", "us", "mind", "contested"),
        ("guaiazulene", "us", "mind", "contested"),
        ("activated_charcoal", "us", "stop", "not a listed colour"),
        ("turmeric_powder", "us", "stop", "not a listed colour"),
        ("polyester_glitter", "us", "stop", "not a listed colour"),
        # Annex IV: all cosmetic products; not on mucous membranes; not in it.
        ("iron_oxide_red", "eu", None, ""),
        ("ultramarine_blue", "eu", None, ""),
        ("activated_charcoal", "eu", None, ""),
        ("ext_dc_violet_2", "eu", "stop", "mucous membranes; bath water reaches them"),
        ("dc_red_31", "uk", "stop", "in the UK it is not permitted"),
        ("guaiazulene", "eu", "stop", "not in Annex IV"),
        ("spirulina_powder", "eu", "stop", "not in Annex IV"),
        ("mica", "eu", "mind", "ask the supplier for each"),
        ("polyester_glitter", "eu", "mind", "ask the supplier"),
        ("cellulose_glitter", "eu", "mind", "No colour rule is held"),
    ],
)
def test_by_the_market_it_is_sold_in(
    catalogue: Catalogue, use: str, market: str, level: str | None, words: str
) -> None:
    notices = [n for n in told(catalogue, use, sold_in=(market,)) if not n.standing]
    assert [n.level for n in notices] == ([level] if level else [])
    assert all(words in n.text and n.line == use and n.sources for n in notices)


def test_a_certified_batch_is_asked_for_in_the_us_only(catalogue: Catalogue) -> None:
    (notice,) = told(catalogue, "fdc_blue_1", sold_in=("us",))
    assert notice.level == "mind" and notice.standing and "lot number" in notice.text
    assert not told(catalogue, "fdc_blue_1", sold_in=("eu",))
    assert not told(catalogue, "fdc_blue_1")


def test_the_most_of_a_colour(catalogue: Catalogue) -> None:
    # 21 CFR 74.2208: D&C Green No. 8 to 0.01 % of the finished product. In 309 g that is 0.0309 g.
    under = told(catalogue, "dc_green_8", 0.030, sold_in=("us",))
    over = told(catalogue, "dc_green_8", 0.032, sold_in=("us",))
    assert [n.level for n in under if not n.standing] == ["mind"]
    assert [n.level for n in over if not n.standing] == ["stop"] and "0.0104 %" in over[0].text
    # Annex IV: CI 45350 to 6 %.
    assert not told(catalogue, "dc_yellow_8", 19.0, sold_in=("eu",))
    (most,) = told(catalogue, "dc_yellow_8", 21.0, sold_in=("eu",))
    assert most.level == "stop" and "at most 6 %" in most.text


@pytest.mark.parametrize(
    ("use", "audience", "standing"),
    [
        ("turmeric_powder", "adult", True),
        ("turmeric_powder", "child_6_plus", False),
        ("spirulina_powder", "adult", False),
    ],
)
def test_at_home_what_is_listed_nowhere_is_told(catalogue: Catalogue, use: str, audience: str, standing: bool) -> None:
    # Turmeric is in Annex IV (CI 75300) and in no US list; spirulina is in neither.
    (notice,) = told(catalogue, use, audience=audience)
    assert notice.level == "mind" and notice.standing is standing and "could not be sold everywhere" in notice.text
    assert not told(catalogue, "titanium_dioxide", audience=audience)


@pytest.mark.parametrize(("day", "level"), [(date(2027, 10, 16), "mind"), (date(2027, 10, 17), "stop")])
def test_plastic_glitter_ends_in_the_eu(catalogue: Catalogue, day: date, level: str) -> None:
    # Regulation (EU) 2023/2055: rinse-off cosmetics until 16 October 2027.
    (notice,) = told(catalogue, "polyester_glitter", sold_in=("eu",), as_of=day)
    assert notice.level == level


def test_markets_without_a_list_are_said(catalogue: Catalogue) -> None:
    (notice,) = told(catalogue, "iron_oxide_red", sold_in=("ca", "au"))
    assert "No colour list of Canada and Australia" in notice.text


def test_clay_is_not_to_be_put_in_for_its_colour(catalogue: Catalogue) -> None:
    (notice,) = told(catalogue, "kaolin", 20.0, sold_in=("us",))
    assert notice.standing and "Kaolin: in the US not to be put in for the colour" in notice.text
    assert not told(catalogue, "kaolin", 20.0, sold_in=("uk",))


def test_a_colour_of_the_makers_own_is_found_by_its_ci_number_or_told_as_unknown(catalogue: Catalogue) -> None:
    pink = replace(
        catalogue.materials["carmine"],
        id="my_pink",
        name="my pink",
        inci="",
        inci_eu="CI 45170",
        origin="materials.csv",
    )
    blank = replace(pink, id="my_grey", name="my grey", inci_eu="")
    mine = replace(catalogue, materials={**catalogue.materials, "my_pink": pink, "my_grey": blank})
    # CI 45170 is rhodamine B: barred in the EU (Annex II), in no US list.
    for market in ("us", "eu"):
        (notice,) = told(mine, "my_pink", sold_in=(market,))
        assert notice.level == "stop"
    assert "No colour rule is held for my grey" in told(mine, "my_grey")[0].text


def test_every_colourant_of_the_catalogue_meets_the_rule_of_its_own_ci_number(catalogue: Catalogue) -> None:
    with (DATA / "colour_rules.csv").open(encoding="utf-8", newline="") as file:
        numbers = {row["id"]: row["ci_number"] for row in csv.DictReader(file)}
    met = 0
    for material in catalogue.materials.values():
        if not colours.is_colour(material):
            continue
        rule = colours.rule_of(material, catalogue)
        if rule is None:
            assert material.id == "cellulose_glitter"
        elif material.inci_eu.startswith("CI ") and numbers[rule.id]:
            assert material.inci_eu.removeprefix("CI ") in numbers[rule.id], material.id
            met += 1
    assert met > 25


def test_every_rule_of_the_table_comes_to_a_ruling(catalogue: Catalogue) -> None:
    for rule in catalogue.colours.values():
        if not rule.us_allowed or rule.us_allowed == "rule":
            continue
        for ruling in (colours._us(rule, 0.001), colours._eu(rule, 0.001, "the EU", date(2026, 11, 25))):
            assert (ruling.level == "good") is (ruling.text == "")
        # Nothing outside the general list passes for the US, and nothing outside Annex IV for the EU.
        if rule.us_allowed != "general":
            assert colours._us(rule, 0.001).level != "good", rule.id
        if "not in Annex IV" in rule.eu_field or "prohibited" in rule.eu_field:
            assert colours._eu(rule, 0.001, "the EU", date(2026, 11, 25)).level != "good", rule.id
