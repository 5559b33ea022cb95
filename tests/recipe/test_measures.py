"""Cups, spoons and drops in four systems, against pint (a general-purpose units library) and printed food tables."""

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fizzwright.catalogue import Catalogue, load
from fizzwright.catalogue.model import Constituent, Material, Oil
from fizzwright.recipe.measures import consistency_range, density, drop_ml, is_poured, unit_ml
from fizzwright.recipe.model import HABITS, SYSTEMS
from fizzwright.science import measuring

CATALOGUE = load()
UREG = pint.UnitRegistry()


@pytest.mark.parametrize(
    ("unit", "system", "name"),
    [
        ("cup", "us", "cup"),
        ("tbsp", "us", "tablespoon"),
        ("tsp", "us", "teaspoon"),
        ("fl_oz", "us", "fluid_ounce"),
        ("fl_oz", "uk", "imperial_fluid_ounce"),
        ("fl_oz", "au", "imperial_fluid_ounce"),
        ("fl_oz", "metric", "imperial_fluid_ounce"),
        ("cup", "uk", "imperial_cup"),
        ("l", "us", "litre"),
        ("ml", "au", "millilitre"),
    ],
)
def test_volumes_agree_with_pint(catalogue: Catalogue, unit: str, system: str, name: str) -> None:
    assert unit_ml(unit, system, catalogue).ml == pytest.approx(UREG.Quantity(1, name).to("ml").magnitude, rel=2e-6)


@pytest.mark.parametrize(
    ("unit", "system", "ml"),
    [
        # common practice, no source: what is stamped on measuring spoons and cups of each country
        ("cup", "metric", 250),
        ("cup", "au", 250),
        ("tbsp", "metric", 15),
        ("tbsp", "uk", 15),
        ("tbsp", "au", 20),
        ("tsp", "metric", 5),
        ("tsp", "uk", 5),
        ("tsp", "au", 5),
    ],
)
def test_stamped_sizes(catalogue: Catalogue, unit: str, system: str, ml: float) -> None:
    assert unit_ml(unit, system, catalogue).ml == ml


def test_a_pinch_is_a_sixteenth_of_a_teaspoon_and_said_to_be_custom(catalogue: Catalogue) -> None:
    for system in SYSTEMS:
        pinch = unit_ml("pinch", system, catalogue)
        assert pinch.ml * 16 == pytest.approx(unit_ml("tsp", system, catalogue).ml)
        assert pinch.basis == "estimate"
        assert "custom" in pinch.said


def test_a_borrowed_fluid_ounce_is_said(catalogue: Catalogue) -> None:
    assert "imperial" in unit_ml("fl_oz", "metric", catalogue).said
    assert not unit_ml("fl_oz", "us", catalogue).said


@pytest.mark.parametrize(
    ("use", "unit", "grams"),
    [
        # household weights of the USDA food tables (SR Legacy), as remembered: memory
        ("sodium_bicarbonate", "tsp", 4.6),
        ("corn_starch", "cup", 128.0),
        ("coconut_oil", "tbsp", 13.6),
        ("olive_oil", "tbsp", 13.5),
        ("water", "cup", 236.6),
    ],
)
def test_household_weights_of_printed_food_tables(catalogue: Catalogue, use: str, unit: str, grams: float) -> None:
    entry = catalogue.usable(use)
    assert entry is not None
    found = density(entry, None).g_ml * unit_ml(unit, "us", catalogue).ml
    assert found == pytest.approx(grams, rel=0.05)


def test_drops(catalogue: Catalogue) -> None:
    """Twenty drops of water a ml (pharmacopoeia dropper); thirty of essential oil, 33 mg each (review of droppers)."""
    water, orange = catalogue.materials["water"], catalogue.oils["sweet_orange"]
    assert drop_ml(water, catalogue).ml == pytest.approx(1 / 20)
    assert drop_ml(orange, catalogue).ml == pytest.approx(1 / 30)
    masses = [drop_ml(oil, catalogue).ml * density(oil, None).g_ml * 1000 for oil in catalogue.oils.values()]
    assert sum(masses) / len(masses) == pytest.approx(33, rel=0.12)
    alcohol = catalogue.materials["isopropyl_alcohol_91"]
    assert 1 / (drop_ml(alcohol, catalogue).ml * density(alcohol, None).g_ml) == pytest.approx(55)


def test_every_entry_can_be_measured_and_a_guess_is_said(catalogue: Catalogue) -> None:
    for entry in (*catalogue.materials.values(), *catalogue.oils.values(), *catalogue.constituents.values()):
        for habit in (None, *HABITS):
            found = density(entry, habit)
            assert 0.02 < found.g_ml < 9
            assert found.basis in ("published", "estimate")
            assert found.said or found.sources, f"{entry.id}: a density from nowhere"
            if isinstance(entry, Constituent):
                assert entry.name in found.said
        if isinstance(entry, Oil | Constituent):
            assert is_poured(entry)


def test_fuller_habits_weigh_more(catalogue: Catalogue) -> None:
    for material in catalogue.materials.values():
        if not is_poured(material):
            sieved, spooned, scooped, packed = (
                density(material, habit).g_ml for habit in ("sieved", "spooned", "scooped", "packed")
            )
            assert sieved <= spooned <= scooped, material.id
            assert spooned <= packed, material.id


def test_what_brings_a_mix_to_consistency(catalogue: Catalogue) -> None:
    assert consistency_range(catalogue.materials["isopropyl_alcohol_91"]) is not None
    assert consistency_range(catalogue.materials["sodium_bicarbonate"]) is None
    assert consistency_range(catalogue.oils["lavender"]) is None


@given(
    st.sampled_from(sorted(CATALOGUE.materials)),
    st.sampled_from((None, *HABITS)),
    st.sampled_from(SYSTEMS),
    st.sampled_from(("cup", "tbsp", "tsp", "fl_oz", "ml", "l", "pinch")),
    st.floats(min_value=1e-3, max_value=1e3),
)
def test_volume_to_mass_and_back(use: str, habit: str | None, system: str, unit: str, number: float) -> None:
    entry = CATALOGUE.usable(use)
    assert isinstance(entry, Material)
    one_ml = unit_ml(unit, system, CATALOGUE).ml
    g_ml = density(entry, habit).g_ml
    grams = measuring.grams(number * one_ml, g_ml)
    assert measuring.volume_ml(grams, g_ml) / one_ml == pytest.approx(number, rel=1e-12)
