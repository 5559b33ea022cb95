"""Levels against limits: by hand, and joined a second time by SQL over the plain tables."""

from __future__ import annotations

import csv
import sqlite3
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fizzwright import catalogue as catalogue_room
from fizzwright.catalogue import Catalogue, load
from fizzwright.catalogue.model import OilConstituent
from fizzwright.review import limits
from fizzwright.review.figures import Section
from fizzwright.wording import apart, shown
from tests.review.skin_mixes import DAY, mixed, on_skin, said

DATA = Path(catalogue_room.__file__).parent / "data"
POWDER = [("sodium_bicarbonate", 60.0), ("citric_acid", 30.0)]


def rows(table: str) -> list[dict[str, str]]:
    with (DATA / table).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def limit_figures(section: Section) -> dict[str, float]:
    return {f.id: float(f.value) for f in section.figures if f.id.startswith("limit.")}


def by_sql(oils: dict[str, float], product_g: float, rules: tuple[str, ...]) -> dict[str, tuple[float, ...]]:
    """The same join done by sqlite3 over the CSV files: figure id -> (min, typical, max, limit) in percent."""
    db = sqlite3.connect(":memory:")
    db.execute("create table part (oil, constituent, low real, typical real, high real)")
    db.executemany(
        "insert into part values (?, ?, ?, ?, ?)",
        [
            (r["oil_id"], r["constituent"], r["min_pct"], r["typical_pct"], r["max_pct"])
            for r in rows("oil_constituents.csv")
        ]
        + [(r["id"], f"whole {r['id']}", 100, 100, 100) for r in rows("oils.csv")],
    )
    reaches, skips = [], []
    for row in rows("constituents.csv"):
        reaches += [(row["name"], name.strip()) for name in row["limit_substances"].split(";") if name.strip()]
        for pair in filter(None, row["limit_rules_added_only"].split(";")):
            rule, _, substance = pair.strip().partition(":")
            skips.append((row["name"], rule, substance))
    for row in rows("oils.csv"):
        reaches += [(f"whole {row['id']}", name.strip()) for name in row["limit_substances"].split(";") if name.strip()]
    db.execute("create table reach (constituent, substance)")
    db.executemany("insert into reach values (?, ?)", reaches)
    db.execute("create table skip (constituent, rule, substance)")
    db.executemany("insert into skip values (?, ?, ?)", skips)
    db.execute("create table lim (rule, substance, slug, pct real)")
    db.executemany(
        "insert into lim values (?, ?, ?, ?)",
        [
            (r["rule"], r["substance"], r["slug"], r["limit_pct"])
            for r in rows("limits.csv")
            if r["binds_bath_products"] == "yes"
            and r["limit_pct"]
            and r["rule"] in rules
            # Dates are ISO, so text compares as days; an empty cell is an open end.
            and (r["effective_from"] or "0000") <= str(DAY) <= (r["effective_to"] or "9999")
        ],
    )
    db.execute("create table used (oil, grams real)")
    db.executemany("insert into used values (?, ?)", oils.items())
    found = db.execute(
        """
        select 'limit.' || rule || '.' || slug, sum(grams * low) / ?, sum(grams * typical) / ?, sum(grams * high) / ?, pct
        from used join part using (oil) join reach using (constituent) join lim using (substance)
        where not exists (select 1 from skip where skip.constituent = part.constituent and skip.rule = lim.rule
                          and skip.substance = lim.substance)
        group by rule, slug having sum(high) > 0
        """,
        (product_g,) * 3,
    )
    return {figure: tuple(values) for figure, *values in found}


def test_one_gram_in_a_hundred_by_hand(catalogue: Catalogue) -> None:
    # 60 + 30 + 9 + 1 = 100 g, nothing leaves on curing. Typical lemongrass in oil_constituents.csv: geranial g %, neral
    # n %. Citral is both: 1 g x (g + n) % / 100 g = (g + n) / 100 percent of the piece.
    table = {
        r["constituent"]: float(r["typical_pct"]) for r in rows("oil_constituents.csv") if r["oil_id"] == "lemongrass"
    }
    mix = mixed(catalogue, [*POWDER, ("olive_oil", 9.0), ("lemongrass", 1.0)])
    figure = on_skin(catalogue, mix).figure("limit.ifra.citral")
    assert figure.value == pytest.approx((table["geranial"] + table["neral"]) / 100)
    # 1.2 % is IFRA's category 9 figure for citral (amendment 49).
    assert figure.high_allowed == 1.2
    assert figure.share_of_limit == pytest.approx(float(figure.value) / 1.2)


@pytest.mark.parametrize(
    "oils",
    [
        {"lemongrass": 1.0, "litsea_cubeba": 0.4, "melissa": 0.3},
        {"clove_bud": 0.5, "cinnamon_bark": 0.5, "ylang_ylang_complete": 0.2, "nutmeg": 0.4},
        {"jasmine_absolute": 0.4, "rose_damask": 0.2, "spearmint": 0.3, "dalmatian_sage": 0.2, "basil_estragole": 0.1},
    ],
)
@pytest.mark.parametrize(
    ("sold_in", "rules"),
    [
        (("eu",), ("ifra", "eu_annex_ii", "eu_annex_iii")),
        # The EU tables are compared with wherever a piece is sold.
        (("us",), ("ifra", "us_cfr", "eu_annex_ii", "eu_annex_iii")),
        (("ca",), ("ifra", "canada_hotlist", "eu_annex_ii", "eu_annex_iii")),
        ((), ("ifra", "eu_annex_ii", "eu_annex_iii")),
    ],
)
def test_every_level_agrees_with_sql(
    catalogue: Catalogue, oils: dict[str, float], sold_in: tuple[str, ...], rules: tuple[str, ...]
) -> None:
    lines = [*POWDER, ("olive_oil", 9.0), ("witch_hazel", 2.0), *oils.items()]
    mix = mixed(catalogue, lines, sold_in=sold_in)
    hazel = catalogue.materials["witch_hazel"]
    product_g = 99.0 + 2.0 * (1 - (hazel.water_mass_pct + hazel.alcohol_mass_pct) / 100) + sum(oils.values())
    section = on_skin(catalogue, mix)
    expected = by_sql(oils, product_g, rules)
    assert set(limit_figures(section)) == set(expected)
    for figure_id, (low, typical, high, limit) in expected.items():
        figure = section.figure(figure_id)
        assert (figure.low, figure.value, figure.high) == pytest.approx((low, typical, high))
        assert figure.high_allowed == limit


@given(st.floats(0.01, 3.0), st.floats(1.1, 5.0))
def test_more_powder_thins_every_level(oil_g: float, factor: float) -> None:
    catalogue = load()
    small = [("sodium_bicarbonate", 90.0 - oil_g), ("clove_bud", oil_g)]
    large = [("sodium_bicarbonate", 90.0 * factor - oil_g), ("clove_bud", oil_g)]
    before = limit_figures(on_skin(catalogue, mixed(catalogue, small)))
    after = limit_figures(on_skin(catalogue, mixed(catalogue, large)))
    assert before.keys() == after.keys() and before
    for figure_id in before:
        assert after[figure_id] == pytest.approx(before[figure_id] / factor)


def own(constituent: str, pct: float) -> OilConstituent:
    return OilConstituent(constituent, "", pct, pct, pct, "limit", ("lot LG-1",), "read", ("lot LG-1",), "read")


def test_a_lot_analysis_takes_the_place_of_the_range(catalogue: Catalogue) -> None:
    lines = [*POWDER, ("lemongrass", 1.0, {"lot": "LG-1"})]
    lots = {"LG-1": (own("geranial", 41.0), own("neral", 31.0))}
    species = on_skin(catalogue, mixed(catalogue, lines)).figure("limit.ifra.citral")
    analysed = on_skin(catalogue, mixed(catalogue, lines, lots=lots)).figure("limit.ifra.citral")
    assert analysed.low == analysed.high == analysed.value == pytest.approx(72.0 / 91.0)
    assert float(species.low or 0) < float(species.value) < float(species.high or 0)
    assert analysed.range_kind == "this lot's own analysis"
    assert any("own analysis (LG-1)" in given.how for given in analysed.working.inputs)


def test_what_an_analysis_leaves_out_keeps_the_species_range(catalogue: Catalogue) -> None:
    lines = [*POWDER, ("lemongrass", 1.0, {"lot": "LG-1"})]
    plain = limit_figures(on_skin(catalogue, mixed(catalogue, lines)))
    analysed = limit_figures(on_skin(catalogue, mixed(catalogue, lines, lots={"LG-1": (own("geranial", 41.0),)})))
    assert plain.keys() == analysed.keys()
    assert {k: v for k, v in plain.items() if k != "limit.ifra.citral"} == {
        k: v for k, v in analysed.items() if k != "limit.ifra.citral"
    }


def dated(catalogue: Catalogue, rule: str, substance: str, **fields: object) -> Catalogue:
    """The catalogue with one rule's rows on one substance changed."""
    return replace(
        catalogue,
        limits=tuple(
            replace(row, **fields) if (row.rule, row.substance) == (rule, substance) else row
            for row in catalogue.limits
        ),
    )


def test_a_rule_holds_from_its_date_to_its_end(catalogue: Catalogue) -> None:
    coming = dated(catalogue, "ifra", "citral", effective_from=date(2027, 1, 1))
    ended = dated(catalogue, "ifra", "citral", effective_to=date(2026, 11, 24))
    lines = [*POWDER, ("lemongrass", 1.0)]
    citral = "limit.ifra.citral"
    assert "as of 2026-11-25" in on_skin(catalogue, mixed(catalogue, lines)).figure(citral).text
    # A day before the first version known is compared with that version, and told so.
    before = on_skin(coming, mixed(coming, lines)).figure(citral).text
    assert "no figure for 2026-11-25 is held, so the one in force from 2027-01-01 was compared" in before
    assert "as of 2027-01-01" in on_skin(coming, mixed(coming, lines, as_of=date(2027, 1, 1))).figure(citral).text
    assert citral in limit_figures(on_skin(ended, mixed(ended, lines, as_of=date(2026, 11, 24))))
    assert citral not in limit_figures(on_skin(ended, mixed(ended, lines)))


def test_amendment_51_takes_over_from_its_predecessor(catalogue: Catalogue) -> None:
    # IFRA's 51st amendment, category 9: geraniol 2.8 %, tightened; in force for new creations from 30 March 2024.
    lines = [*POWDER, ("palmarosa", 0.1)]
    before = on_skin(catalogue, mixed(catalogue, lines, as_of=date(2024, 3, 29)))
    after = on_skin(catalogue, mixed(catalogue, lines, as_of=date(2024, 3, 30)))
    assert after.figure("limit.ifra.geraniol").high_allowed == 2.8
    assert "as of 2024-03-30" in after.figure("limit.ifra.geraniol").text
    # The figure before it is not held, so the one that is held stands in for it.
    assert before.figure("limit.ifra.geraniol").high_allowed == 2.8
    assert "no figure for 2024-03-29 is held" in before.figure("limit.ifra.geraniol").text
    # Estragole's is held: 0.050 % before (amendment 49), 0.0041 % after.
    basil = [*POWDER, ("basil_estragole", 0.01)]
    levels = [
        on_skin(catalogue, mixed(catalogue, basil, as_of=day)).figure("limit.ifra.estragole").high_allowed
        for day in (date(2024, 3, 29), date(2024, 3, 30))
    ]
    assert levels == [0.05, 0.0041]


def test_over_the_limit_stops_and_the_cut_it_names_ends_at_the_limit(catalogue: Catalogue) -> None:
    # Enough solubiliser keeps it from floating, so that the limit on cinnamaldehyde alone sets the amount: 0.49 % of the
    # piece (IFRA category 9) at 66 % of the oil is x / (150 + x) = 0.49 / 66, x = 1.12 g.
    lines = [("sodium_bicarbonate", 120.0), ("polysorbate_80", 30.0), ("cinnamon_bark", 5.0)]
    stops = [n for n in said(on_skin(catalogue, mixed(catalogue, lines)), "stop") if "cinnamaldehyde" in n.figure]
    assert len(stops) == 1 and stops[0].line == "cinnamon_bark"
    keep = float(stops[0].text.split("at most ")[1].split(" g")[0])
    cut = [*lines[:2], ("cinnamon_bark", keep)]
    section = on_skin(catalogue, mixed(catalogue, cut))
    assert float(section.figure("limit.ifra.cinnamaldehyde").share_of_limit or 0) <= 1.0
    assert not [n for n in said(section, "stop") if n.line == "cinnamon_bark"]
    assert "2026-11-25" in stops[0].reason and stops[0].sources


def test_only_the_worst_case_over_asks_for_the_analysis(catalogue: Catalogue) -> None:
    # Two percent of cinnamon bark: typical methyl eugenol under the EU's 0.001 %, the top of its range over.
    mix = mixed(catalogue, [("sodium_bicarbonate", 98.0), ("cinnamon_bark", 2.0, {"lot": "CB-9"})], sold_in=("eu",))
    section = on_skin(catalogue, mix)
    figure = section.figure("limit.eu_annex_iii.methyl_eugenol")
    assert float(figure.value) < 0.001 < float(figure.high or 0)
    (notice,) = (n for n in section.notices if n.figure == figure.id)
    assert notice.level == "mind"
    assert "analysis of lot CB-9" in notice.text and "from memory" in notice.text


def test_numbers_side_by_side_show_that_they_differ() -> None:
    assert apart(0.10034, 0.1) == ("0.1003", "0.1")
    assert apart(2.25, 0.49) == ("2.25", "0.49")
    assert shown(0.000353, 3) == "0.000353" and shown(1804.2) == "1804" and shown(0) == "0"


def test_a_near_level_is_told(catalogue: Catalogue) -> None:
    table = {
        r["constituent"]: float(r["typical_pct"]) for r in rows("oil_constituents.csv") if r["oil_id"] == "lemongrass"
    }
    grams = 100 * 0.9 * 1.2 / (table["geranial"] + table["neral"])
    lots = {"L": (own("geranial", table["geranial"]), own("neral", table["neral"]))}
    mix = mixed(catalogue, [("sodium_bicarbonate", 100 - grams), ("lemongrass", grams, {"lot": "L"})], lots=lots)
    (notice,) = (n for n in on_skin(catalogue, mix).notices if n.figure == "limit.ifra.citral")
    assert notice.level == "mind" and "is near" in notice.text


def test_what_is_barred_as_an_addition_stops_only_when_added(catalogue: Catalogue) -> None:
    # EU Annex II bars benzyl cyanide as an ingredient; neroli brings some of itself, which IFRA caps at 0.01 %.
    cyanide = next(c.id for c in catalogue.constituents.values() if c.name == "benzyl cyanide")
    natural = on_skin(catalogue, mixed(catalogue, [*POWDER, ("neroli", 0.05)], sold_in=("eu",)))
    added = on_skin(catalogue, mixed(catalogue, [*POWDER, (cyanide, 0.001)], sold_in=("eu",)))
    assert "limit.eu_annex_ii.benzyl_cyanide" not in limit_figures(natural)
    assert "limit.ifra.benzyl_cyanide" in limit_figures(natural)
    stops = said(added, "stop")
    assert any(n.figure == "limit.eu_annex_ii.benzyl_cyanide" and "allows none" in n.text for n in stops)
    assert any("added as such" in n.text for n in stops)


def test_the_wording_that_bars_an_addition_reaches_the_rows_it_should(catalogue: Catalogue) -> None:
    barred = {
        row.substance for row in catalogue.limits if any(words in row.condition for words in limits.ADDED_BAN_WORDS)
    }
    assert {
        "safrole",
        "safrole + isosafrole + dihydrosafrole",
        "methyl eugenol",
        "benzyl cyanide",
        "isophorone",
        "cis- and trans-asarone",
        "7-methoxycoumarin",
    } <= barred
    # The last three are the French ceilings for small children.
    assert barred <= {
        *("safrole", "safrole + isosafrole + dihydrosafrole", "methyl eugenol", "benzyl cyanide", "isophorone"),
        *("cis- and trans-asarone", "7-methoxycoumarin", "camphor", "1,8-cineole (eucalyptol)", "menthol"),
    }


def test_safrole_itself_may_not_be_added(catalogue: Catalogue) -> None:
    safrole = next(c.id for c in catalogue.constituents.values() if c.name == "safrole")
    section = on_skin(catalogue, mixed(catalogue, [*POWDER, (safrole, 0.0001)], sold_in=("eu",)))
    assert float(section.figure("limit.ifra.safrole_isosafrole_dihydrosafrole").share_of_limit or 0) < 0.05
    assert {"ifra", "eu_annex_ii"} <= {n.figure.split(".")[1] for n in said(section, "stop")}


def test_a_limit_whose_figure_is_not_held_is_said(catalogue: Catalogue) -> None:
    blank = dated(catalogue, "ifra", "citral", limit_pct=None, figure_status="exists_but_not_held")
    (notice,) = (
        n for n in on_skin(blank, mixed(blank, [*POWDER, ("lemongrass", 1.0)])).notices if "not held" in n.text
    )
    assert notice.level == "mind" and notice.figure == "limit.ifra.citral"


def test_an_unknown_maximum_is_never_taken_for_none(catalogue: Catalogue) -> None:
    grass = catalogue.oils["lemongrass"]
    open_ended = tuple(
        replace(row, min_pct=None, max_pct=None) if row.constituent == "neral" else row for row in grass.constituents
    )
    mine = replace(catalogue, oils={**catalogue.oils, "lemongrass": replace(grass, constituents=open_ended)})
    section = on_skin(mine, mixed(mine, [*POWDER, ("lemongrass", 0.1)]))
    assert "worst case is not known" in section.figure("limit.ifra.citral").text
    (notice,) = (n for n in section.notices if n.figure == "limit.ifra.citral")
    assert notice.level == "mind" and "nobody knows" in notice.text


def test_children_answer_to_the_ceilings_of_their_age(catalogue: Catalogue) -> None:
    lines = [*POWDER, ("eucalyptus_globulus", 1.0)]
    small = limit_figures(on_skin(catalogue, mixed(catalogue, lines, audience="child_2_plus")))
    grown = limit_figures(on_skin(catalogue, mixed(catalogue, lines)))
    assert "limit.other.1_8_cineole_eucalyptol" in small and "limit.other.1_8_cineole_eucalyptol" not in grown
    section = on_skin(catalogue, mixed(catalogue, lines, audience="child_2_plus"))
    # Trace ceiling of the French text under three years: 0.1 %.
    assert section.figure("limit.other.1_8_cineole_eucalyptol").high_allowed == 0.1
    assert any(n.figure == "limit.other.1_8_cineole_eucalyptol" for n in said(section, "stop"))


def test_the_summary_counts_and_names_the_closest(catalogue: Catalogue) -> None:
    section = on_skin(catalogue, mixed(catalogue, [*POWDER, ("lemongrass", 0.05)]))
    count = len(limit_figures(section))
    closest = max(
        (f for f in section.figures if f.share_of_limit and f.id.startswith("limit.")),
        key=lambda f: f.share_of_limit or 0,
    )
    summary = next(n for n in said(section, "good") if "compared" in n.text)
    assert summary.text.startswith(f"{count} limits were compared")
    assert closest.id == "limit.ifra.citral" and "closest is citral" in summary.text


def test_every_source_named_is_in_the_catalogue(catalogue: Catalogue) -> None:
    for oil in catalogue.oils:
        section = on_skin(catalogue, mixed(catalogue, [*POWDER, (oil, 0.5)], sold_in=("eu", "ca")))
        named = {s for f in section.figures for s in f.sources} | {s for n in section.notices for s in n.sources}
        assert named <= set(catalogue.sources), oil
        assert all(f.working.equation and f.working.inputs for f in section.figures)
