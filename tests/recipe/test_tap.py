"""Water reports in the units they come in, against molar masses of the periodictable package."""

import periodictable
import pytest

from fizzwright.recipe.tap import mmol_l

CACO3 = periodictable.formula("CaCO3").mass


@pytest.mark.parametrize(
    ("key", "typed", "expected"),
    [
        ("calcium_mmol_l", "100 mg/l", 100 / periodictable.formula("Ca").mass),
        ("magnesium_mmol_l", "12 mg/l Mg", 12 / periodictable.formula("Mg").mass),
        ("sodium_mmol_l", "20 ppm", 20 / periodictable.formula("Na").mass),
        ("potassium_mmol_l", "3,9 mg/L", 3.9 / periodictable.formula("K").mass),
        ("chloride_mmol_l", "35 mg/l Cl", 35 / periodictable.formula("Cl").mass),
        ("sulfate_mmol_l", "48 mg/l SO₄", 48 / periodictable.formula("SO4").mass),
        ("calcium_mmol_l", "250 mg/l as CaCO3", 250 / CACO3),
        ("alkalinity_mmol_l", "250 mg/l CaCO3", 2 * 250 / CACO3),
        ("alkalinity_mmol_l", "305 mg/l HCO3", 305 / periodictable.formula("HCO3").mass),
        ("alkalinity_mmol_l", "2.5 meq/l", 2.5),
        ("calcium_mmol_l", "2 meq/l", 1.0),
        # One German degree is 10 mg CaO a litre (DIN 38409-6).
        ("calcium_mmol_l", "14 °dH", 140 / periodictable.formula("CaO").mass),
        ("alkalinity_mmol_l", "10 °f", 2 * 100 / CACO3),
        ("alkalinity_mmol_l", "3", 3.0),
    ],
)
def test_units_of_reports(key, typed, expected):
    assert mmol_l(key, typed) == pytest.approx(expected, rel=6e-4)


@pytest.mark.parametrize("typed", ["much", "-3", "12 grains", "5 mg/l HCO3", "", "1.2.3"])
def test_what_is_no_amount_stays_text(typed):
    assert mmol_l("calcium_mmol_l", typed) == typed


def test_a_total_without_its_kind_is_not_guessed():
    """250 mg/l of alkalinity may be CaCO3 or HCO3: a fifth apart."""
    assert mmol_l("alkalinity_mmol_l", "250 mg/l") == "250 mg/l"
