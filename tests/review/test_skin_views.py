"""The four views of the scent, the film and its cure, each worked by hand beside the figure."""

from __future__ import annotations

import math

import pytest

from fizzwright.catalogue import Catalogue
from fizzwright.recipe.model import Tub
from fizzwright.review import views
from fizzwright.review.sizes import piece
from fizzwright.review.tub_defaults import bath
from tests.review.skin_mixes import mixed, on_skin, said

DRY = [("sodium_bicarbonate", 200.0), ("citric_acid", 100.0), ("corn_starch", 50.0)]


def test_scent_in_its_carrier_by_volume(catalogue: Catalogue) -> None:
    # Lavender 0.878-0.892 g/ml, mean 0.885: 0.885 g are 1 ml. Olive oil: 19 ml by the table's own density. 1 / 20 = 5 %.
    olive = catalogue.materials["olive_oil"].true_density_g_ml or 0
    section = on_skin(catalogue, mixed(catalogue, [*DRY, ("olive_oil", 19 * olive), ("lavender", 0.885)]))
    assert section.figure("neat_in_carrier_pct").value == pytest.approx(5.0)
    assert any(n.figure == "neat_in_carrier_pct" and n.level == "mind" for n in section.notices)


def test_the_strongest_carrier_is_told_when_lines_say_what_they_go_in(catalogue: Catalogue) -> None:
    olive = catalogue.materials["olive_oil"].true_density_g_ml or 0
    jojoba = catalogue.materials["jojoba_oil"].true_density_g_ml or 0
    lines = [
        *DRY,
        ("olive_oil", 99 * olive),
        ("jojoba_oil", 9 * jojoba),
        ("lavender", 0.885, {"diluted_in": "olive_oil"}),
        ("lavender", 0.885, {"diluted_in": "jojoba_oil"}),
    ]
    # 1 ml in 99 ml is 1 %, 1 ml in 9 ml is 10 %; all together it would be 2 in 110.
    figure = on_skin(catalogue, mixed(catalogue, lines)).figure("neat_in_carrier_pct")
    assert figure.value == pytest.approx(10.0)
    assert "jojoba" in figure.text.lower()


def test_scent_that_names_no_carrier_joins_what_is_already_there(catalogue: Catalogue) -> None:
    olive = catalogue.materials["olive_oil"].true_density_g_ml or 0
    lines = [*DRY, ("olive_oil", 98 * olive), ("lavender", 0.885, {"diluted_in": "olive_oil"}), ("lavender", 0.885)]
    assert on_skin(catalogue, mixed(catalogue, lines)).figure("neat_in_carrier_pct").value == pytest.approx(2.0)


def test_each_part_has_its_own_carrier(catalogue: Catalogue) -> None:
    olive = catalogue.materials["olive_oil"].true_density_g_ml or 0
    lines = [
        *DRY,
        ("olive_oil", 49 * olive, {"part": "shell"}),
        ("lavender", 0.885, {"part": "shell"}),
        ("lavender", 0.885, {"part": "core"}),
    ]
    # The core has no oil of its own: neat there. In the bath all of it shares one film: 1.77 g in 1.77 g + 49 ml of olive.
    section = on_skin(catalogue, mixed(catalogue, lines))
    assert section.figure("neat_in_carrier_pct").value == pytest.approx(100.0)
    assert section.figure("film_pct").value == pytest.approx(100 * 1.77 / (1.77 + 49 * olive))


def test_bath_film_and_skin_by_hand(catalogue: Catalogue) -> None:
    mix = mixed(catalogue, [*DRY, ("olive_oil", 9.0), ("lavender", 1.0)], tub=Tub(litres=100))
    section = on_skin(catalogue, mix)
    # 1 g in 360 g, none of which leaves: 0.2778 %.
    assert section.figure("in_product_pct").value == pytest.approx(100 / 360)
    # One piece of so many grams in 100 l, of which 1/360 is oil.
    dose_g = piece(mix, catalogue).per_bath_g.value
    assert section.figure("in_bath_mg_l").value == pytest.approx(1000 * dose_g / 360 / 100)
    # Nothing disperses: 1 g of lavender in 10 g of film. All on 1.75 m2: mg / 17,500 cm2.
    assert section.figure("film_pct").value == pytest.approx(10.0)
    assert section.figure("film_mg_cm2").value == pytest.approx(1000 * dose_g / 360 / 17_500)
    for figure in section.figures[:6]:
        assert float(figure.low or 0) <= float(figure.value) <= float(figure.high or 0)


def test_a_larger_bath_is_weaker_and_the_default_checks_the_smaller_one(catalogue: Catalogue) -> None:
    lines = [*DRY, ("olive_oil", 9.0), ("lavender", 1.0)]
    small = on_skin(catalogue, mixed(catalogue, lines, tub=Tub(litres=80))).figure("in_bath_mg_l")
    large = on_skin(catalogue, mixed(catalogue, lines, tub=Tub(litres=160))).figure("in_bath_mg_l")
    assert float(small.value) == pytest.approx(2 * float(large.value))
    default = bath(mixed(catalogue, lines).recipe, catalogue)
    # Facts tub_na_fill (100, 135, 170 l) and design_volume_safe (100 l).
    assert (default.litres_low, default.litres, default.litres_high) == (100, 135, 170)
    child = bath(mixed(catalogue, lines, audience="child_2_plus").recipe, catalogue)
    assert (child.litres_low, child.litres, child.litres_high) == (40, 60, 80)


def test_the_old_rule_of_drops(catalogue: Catalogue) -> None:
    # Common practice, no source: 3 % is eight or nine drops a tablespoon, at 20 drops a ml: 14.79 ml x 3 % x 20 = 8.87.
    figure = on_skin(catalogue, mixed(catalogue, [*DRY, ("lavender", 0.1)])).figure("rule_of_thumb_drops_per_tbsp")
    assert figure.low == pytest.approx(14.78676 * 0.03 * 20)
    assert figure.value == pytest.approx(14.78676 * 0.03 * 30)
    assert "COMMON_PRACTICE" in figure.sources


def test_oil_in_oil_is_diluted_not_dispersed(catalogue: Catalogue) -> None:
    section = on_skin(catalogue, mixed(catalogue, [*DRY, ("olive_oil", 10.0), ("lavender", 0.2)]))
    (notice,) = (n for n in section.notices if n.figure == "film_pct")
    assert notice.level == "mind" and "float on the bath" in notice.text and "To mix it into the water" in notice.text
    # 4 g a gram of scent and 0.5 g a gram of fixed oil: 0.8 + 5 = 5.8 g.
    assert section.figure("solubiliser_needed_g").value == pytest.approx(5.8)


def test_enough_solubiliser_is_said_to_be_enough(catalogue: Catalogue) -> None:
    lines = [*DRY, ("olive_oil", 10.0), ("lavender", 0.2), ("polysorbate_80", 6.0)]
    section = on_skin(catalogue, mixed(catalogue, lines))
    assert section.figure("dispersed_share_pct").value == pytest.approx(100.0)
    assert any(n.level == "good" and "enough solubiliser" in n.text for n in section.notices)
    assert not any("float on the bath" in n.text for n in section.notices)


@pytest.mark.parametrize("use", ["emulsifying_wax", "dipropylene_glycol"])
def test_waxes_and_solvents_disperse_nothing(catalogue: Catalogue, use: str) -> None:
    section = on_skin(catalogue, mixed(catalogue, [*DRY, ("olive_oil", 10.0), ("lavender", 0.2), (use, 20.0)]))
    assert section.figure("dispersed_share_pct").value == 0


def test_neat_oil_on_powder(catalogue: Catalogue) -> None:
    weak = on_skin(catalogue, mixed(catalogue, [*DRY, ("lavender", 1.0)]))
    assert weak.figure("film_pct").value == pytest.approx(100.0)
    assert any(n.level == "mind" and "undiluted" in n.text for n in weak.notices)
    strong = on_skin(catalogue, mixed(catalogue, [*DRY, ("lavender", 10.0)]))
    assert any("undiluted" in n.text for n in said(strong, "stop"))
    child = on_skin(catalogue, mixed(catalogue, [*DRY, ("lavender", 0.2)], audience="child_6_plus"))
    assert any("undiluted" in n.text for n in said(child, "stop"))


def test_no_scent_is_all_noughts_and_good(catalogue: Catalogue) -> None:
    section = on_skin(catalogue, mixed(catalogue, [*DRY, ("fractionated_coconut_oil", 9.0)], audience="child_2_plus"))
    assert [f.value for f in section.figures] == [0, 0, 0, 0]
    assert {n.level for n in section.notices} == {"good"}


def test_childrens_skin_by_mosteller() -> None:
    # Mosteller (N Engl J Med 1987;317:1098): m2 = sqrt(cm x kg / 3600).
    sizes = [(87, 12), (116, 20), (138, 32)]
    assert pytest.approx([math.sqrt(cm * kg / 3600) for cm, kg in sizes], abs=0.005) == views.CHILD_SKIN_M2


def test_nothing_is_called_safe(catalogue: Catalogue) -> None:
    for audience in ("adult", "child_6_plus", "pregnancy"):
        mix = mixed(
            catalogue, [*DRY, ("olive_oil", 9.0), ("lavender", 0.3), ("bergamot_expressed", 0.2)], audience=audience
        )
        section = on_skin(catalogue, mix)
        words = " ".join(
            [*(f.text for f in section.figures), *(f"{n.text} {n.reason}" for n in section.notices)]
        ).lower()
        assert " safe" not in words
        assert "clinician" in words
