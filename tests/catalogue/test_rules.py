"""The rules as data: what binds a bath product, for whom, where and since when."""

import csv
from datetime import date

import pytest

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.holdings import DATA

TODAY = date(2026, 11, 25)


def limits(catalogue: Catalogue, rule: str, slug: str, day: date = TODAY) -> dict[str, float | None]:
    found = (row for row in catalogue.limits if row.rule == rule and row.slug == slug and row.holds_on(day))
    return {row.category: row.limit_pct for row in found}


@pytest.mark.parametrize(
    ("slug", "pct"),
    [
        # Public reprints of the Standards and IFRA's overview table of amendment 51, category 9.
        ("citral", 1.2),
        ("geraniol", 2.8),
        ("eugenol", 4.9),
        ("cinnamaldehyde", 0.49),
        ("methyl_eugenol", 0.0017),
        ("estragole", 0.0041),
        ("ylang_ylang_extracts", 1.4),
    ],
)
def test_category_9_today(catalogue: Catalogue, slug: str, pct: float) -> None:
    assert limits(catalogue, "ifra", slug)["9"] == pct


@pytest.mark.parametrize(
    ("slug", "category", "pct"),
    [
        # Regulation (EC) No 1223/2009, Annex III entries 73, 102, 324 and Annex II entry 360.
        ("isoeugenol", "all except oral", 0.02),
        ("methyl_eugenol", "rinse-off", 0.001),
        ("methyl_salicylate", "rinse-off skin products", 0.06),
    ],
)
def test_annex_iii(catalogue: Catalogue, slug: str, category: str, pct: float) -> None:
    assert limits(catalogue, "eu_annex_iii", slug)[category] == pct


def test_amendment_51_replaces_49_on_its_day(catalogue: Catalogue) -> None:
    before, after = date(2024, 3, 29), date(2024, 3, 30)
    assert limits(catalogue, "ifra", "estragole", before) == {"9": 0.05}
    assert limits(catalogue, "ifra", "estragole", after) == {"9": 0.0041}
    assert limits(catalogue, "ifra", "geraniol", before) == {"9": None}
    (row,) = [r for r in catalogue.limits if r.rule == "ifra" and r.slug == "geraniol" and r.holds_on(before)]
    assert row.figure_status == "exists_but_not_held"


def test_no_two_rows_of_a_rule_hold_for_the_same_thing_on_one_day(catalogue: Catalogue) -> None:
    for day in (date(2015, 1, 1), date(2022, 1, 1), date(2024, 3, 30), TODAY):
        held = [(row.rule, row.slug, row.category) for row in catalogue.limits if row.holds_on(day)]
        assert len(held) == len(set(held))


def test_what_binds_a_bath_product(catalogue: Catalogue) -> None:
    for row in catalogue.limits:
        if row.category in ("leave-on", "ingredient purity", "liquids"):
            assert not row.binds_bath_products, row.id
        if row.category in ("9", "all", "rinse-off"):
            assert row.binds_bath_products, row.id
        if row.binds_audiences:
            assert not row.binds_bath_products, row.id
            assert row.category.startswith("child_")
        assert not (row.category.startswith("child_") and not row.binds_audiences), row.id
        assert "child_6_plus" not in row.binds_audiences


def test_jurisdictions(catalogue: Catalogue) -> None:
    by_rule: dict[str, set[tuple[str, ...]]] = {}
    for row in catalogue.limits:
        by_rule.setdefault(row.rule, set()).add(row.jurisdictions)
    assert by_rule["ifra"] == {()}
    assert by_rule["canada_hotlist"] == {("ca",)}
    assert by_rule["us_cfr"] == {("us",)}
    assert by_rule["eu_annex_ii"] == {("eu", "uk")}
    assert by_rule["eu_annex_iii"] == {("eu",), ("eu", "uk")}


def test_remembered_dates_do_not_pass_for_read_ones(catalogue: Catalogue) -> None:
    for row in catalogue.limits:
        if row.effective_from is not None and row.how_of("effective_from") == "read":
            # The two days of amendment 51 that the notification letter prints.
            assert row.effective_from in (date(2024, 3, 30), date(2023, 8, 30)), row.id


def test_ids_are_built_from_rule_substance_and_class(catalogue: Catalogue) -> None:
    assert len({row.id for row in catalogue.limits}) == len(catalogue.limits)
    for row in catalogue.limits:
        assert row.id.startswith(f"{row.rule}.{row.slug}."), row.id


def test_allergen_thresholds_and_dates(catalogue: Catalogue) -> None:
    # Regulation (EC) No 1223/2009, Annex III: 0.001 % leave-on, 0.01 % rinse-off; (EU) 2023/1545 for the added names.
    for allergen in catalogue.allergens:
        assert (allergen.rinse_off_threshold_pct, allergen.leave_on_threshold_pct) == (0.01, 0.001)
        assert allergen.applies_new_products_from is not None
    old = [a for a in catalogue.allergens if a.applies_new_products_from == date(2005, 3, 11)]
    new = [a for a in catalogue.allergens if a.applies_new_products_from == date(2026, 8, 1)]
    assert (len(old), len(new)) == (24, 57)


def test_cautions_for_every_oil_are_those_the_list_of_unreached_names_says(catalogue: Catalogue) -> None:
    with (DATA / "unreached.csv").open(encoding="utf-8", newline="") as file:
        said = {row["name"] for row in csv.DictReader(file) if row["why"] == "applies to every oil"}
    assert {caution.subject for caution in catalogue.cautions if caution.every_oil} == said


def test_neat_citral_reaches_its_limit_and_label_name(catalogue: Catalogue) -> None:
    citral = catalogue.constituents["citral"]
    assert citral.limit_substances == ("citral",)
    assert citral.allergen_label_name == "Citral"
