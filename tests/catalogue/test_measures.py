"""Kitchen measures against pint's own table of units."""

import pint
import pytest

from fizzwright.catalogue import Catalogue

UNITS = pint.UnitRegistry()
PINT_NAMES = {
    "us_tsp": "teaspoon", "us_half_tsp": "0.5 teaspoon", "us_quarter_tsp": "0.25 teaspoon",
    "us_eighth_tsp": "0.125 teaspoon", "us_tbsp": "tablespoon", "us_fl_oz": "fluid_ounce", "us_cup": "cup",
    "us_half_cup": "0.5 cup", "us_third_cup": "cup / 3", "us_quarter_cup": "0.25 cup", "us_pint": "pint",
    "us_dry_pint": "dry_pint", "us_quart": "quart", "us_gallon": "gallon", "us_gill": "gill",
    "us_fl_dram": "fluid_dram", "us_minim": "minim", "uk_fl_oz": "imperial_fluid_ounce",
    "uk_cup": "imperial_cup", "uk_pint": "imperial_pint", "uk_quart": "imperial_quart", "uk_gallon": "imperial_gallon",
    "uk_gill": "imperial_gill", "uk_minim": "imperial_minim", "ca_cup_trad": "8 imperial_fluid_ounce",
    "ca_fl_oz": "imperial_fluid_ounce", "uk_tbsp_trad": "0.625 imperial_fluid_ounce",
}  # fmt: skip


@pytest.mark.parametrize(("measure_id", "expression"), PINT_NAMES.items())
def test_volumes_agree_with_pint(catalogue: Catalogue, measure_id: str, expression: str) -> None:
    expected = UNITS.Quantity(expression).to("ml").magnitude
    assert catalogue.measures[measure_id].volume_ml == pytest.approx(expected, rel=1e-4)


def test_every_measure_from_the_library_is_checked(catalogue: Catalogue) -> None:
    from_library = {m.id for m in catalogue.measures.values() if m.how_of("") == "library" and m.volume_ml}
    assert from_library - PINT_NAMES.keys() == {"us_eighth_cup"}
    assert catalogue.measures["us_eighth_cup"].volume_ml == pytest.approx(2 * 14.78676, rel=1e-6)


def test_weights_agree_with_pint(catalogue: Catalogue) -> None:
    assert catalogue.measures["oz_weight"].value_typ == pytest.approx(UNITS.Quantity("ounce").to("g").magnitude)
    assert catalogue.measures["lb_weight"].value_typ == pytest.approx(UNITS.Quantity("pound").to("g").magnitude)


def test_four_systems_differ_where_they_should(catalogue: Catalogue) -> None:
    assert catalogue.measures["metric_cup"].volume_ml == 250
    assert catalogue.measures["au_tbsp"].volume_ml == 20
    assert catalogue.measures["uk_tbsp"].volume_ml == 15
