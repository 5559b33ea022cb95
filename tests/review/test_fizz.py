"""The fizz section against sums done by hand and against common practice."""

import pytest

from fizzwright.catalogue import Catalogue
from fizzwright.recipe.document import read_text
from fizzwright.recipe.weigh import weigh
from fizzwright.review import fizz
from fizzwright.review.figures import Section
from fizzwright.review.setting import Setting


def look(catalogue: Catalogue, *lines: tuple[str, str], head: str = "") -> Section:
    body = "".join(f'\n[[line]]\nuse = "{use}"\namount = "{amount}"\n' for use, amount in lines)
    text = f'name = "Test"\nkind = "fizzer"\n{head}\n[tub]\nlitres = 130\ntemperature_c = 38\n{body}'
    return fizz.section(weigh(read_text(text, catalogue), catalogue), catalogue, Setting())


# Worked by hand with IUPAC 2021 abridged atomic weights (NaHCO3 84.006, citric acid 192.123 g/mol):
# 300 g / 84.006 = 3.5712 mol base; 100 g / 192.123 = 0.52050 mol x 3 = 1.56150 eq acid.
# CO2 = 1.56150 mol x 44.009 = 68.72 g; base left = (3.5712 - 1.5615) x 84.006 = 168.83 g.
# Litres at 38 C, 1 atm, damp: CRC Handbook vapour pressure of water at 38 C 6.6331 kPa;
# 1.56150 x 8.31446 x 311.15 / (101325 - 6633) = 0.042662 m3.
def test_a_weighed_mix_worked_by_hand(catalogue):
    section = look(catalogue, ("sodium_bicarbonate", "300 g"), ("citric_acid", "100 g"), ("jojoba_oil", "20 g"))
    assert section.figure("acid_to_base_eq").value == pytest.approx(0.43725, rel=2e-4)
    assert section.figure("co2_potential_g").value == pytest.approx(68.72, rel=2e-4)
    assert section.figure("co2_potential_l").value == pytest.approx(42.66, rel=1e-3)
    assert section.figure("leftover_base_g").value == pytest.approx(168.83, rel=2e-4)
    assert section.figure("leftover_acid_g").value == 0
    assert section.figure("citric_to_bicarb_mass").value == pytest.approx(1 / 3, rel=1e-12)


# 3 mol NaHCO3 to 1 mol citric acid: 3 x 84.006 / 192.123 = 1.3117 by mass (stoichiometry).
def test_exact_stoichiometry_leaves_nothing(catalogue):
    section = look(catalogue, ("sodium_bicarbonate", "131.17 g"), ("citric_acid", "100 g"))
    assert section.figure("acid_to_base_eq").value == pytest.approx(1, rel=2e-4)
    assert section.figure("leftover_base_g").value == pytest.approx(0, abs=0.03)
    assert section.figure("leftover_acid_g").value == pytest.approx(0, abs=0.03)
    assert "at 1.31 parts" in section.figure("citric_to_bicarb_mass").text


# Common practice, no source: two parts bicarbonate to one of citric acid by volume leaves bicarbonate over.
def test_two_to_one_by_volume_is_the_usual_balance(catalogue):
    section = look(catalogue, ("sodium_bicarbonate", "2 cup"), ("citric_acid", "1 cup"), ("corn_starch", "1 cup"))
    ratio = section.figure("acid_to_base_eq")
    assert 0.5 < ratio.value < 0.75
    assert ratio.low < ratio.value < ratio.high
    assert [n.level for n in section.notices] == ["good"]


def test_every_acid_and_carbonate_counts(catalogue):
    # cream of tartar 188.177 g/mol gives one proton; washing soda 105.988 g/mol takes two: 2 x 188.177 g meet 105.988 g
    section = look(catalogue, ("sodium_carbonate", "105.988 g"), ("cream_of_tartar", "376.354 g"))
    assert section.figure("acid_to_base_eq").value == pytest.approx(1, rel=1e-3)
    assert section.figure("co2_potential_g").value == pytest.approx(44.009, rel=2e-3)


@pytest.mark.parametrize(
    ("lines", "word"),
    [
        ([("sodium_bicarbonate", "200 g"), ("corn_starch", "50 g")], "no acid"),
        ([("citric_acid", "200 g"), ("corn_starch", "50 g")], "no carbonate"),
        ([("corn_starch", "50 g")], "no acid and no carbonate"),
    ],
)
def test_without_acid_or_carbonate_it_stops(catalogue, lines, word):
    section = look(catalogue, *lines)
    assert [n.level for n in section.notices] == ["stop"]
    assert word in section.notices[0].text
    assert section.figure("co2_potential_g").value == 0


def test_too_much_acid_is_told(catalogue):
    section = look(catalogue, ("sodium_bicarbonate", "100 g"), ("citric_acid", "100 g"))
    assert "sour" in section.notices[0].text
    assert section.figure("leftover_acid_g").value == pytest.approx(100 - 100 / 1.3117, rel=1e-3)


def test_a_weighed_recipe_is_known_better_than_a_spooned_one(catalogue):
    weighed = look(catalogue, ("sodium_bicarbonate", "300 g"), ("citric_acid", "150 g")).figure("co2_potential_g")
    spooned = look(catalogue, ("sodium_bicarbonate", "1 1/2 cup"), ("citric_acid", "3/4 cup")).figure("co2_potential_g")
    assert (weighed.high - weighed.low) / weighed.value < 0.05 < (spooned.high - spooned.low) / spooned.value
