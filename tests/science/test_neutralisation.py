"""Stoichiometry against the reference ratios and hand-balanced equations; gas against CODATA and the CRC tables."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fizzwright.catalogue import load
from fizzwright.science import neutralisation as n

# IUPAC 2021 abridged standard atomic weights
H, C, O, NA, K = 1.008, 12.011, 15.999, 22.990, 39.098  # noqa: E741
NAHCO3 = NA + H + C + 3 * O
CITRIC = 6 * C + 8 * H + 7 * O


@pytest.mark.parametrize(
    ("acid", "molar_mass", "ratio"),
    [
        # ratios printed to three places in environment.csv, ratio_stoich_citric, from slightly older atomic weights
        ("citric_acid", CITRIC, 1.312),
        ("citric_acid_monohydrate", CITRIC + 2 * H + O, 1.199),
        ("tartaric_acid", 4 * C + 6 * H + 6 * O, 1.119),
        ("malic_acid", 4 * C + 6 * H + 5 * O, 1.253),
        ("fumaric_acid", 4 * C + 4 * H + 4 * O, 1.448),
        ("adipic_acid", 6 * C + 10 * H + 4 * O, 1.150),
    ],
)
def test_mass_ratios_of_full_neutralisation(acid: str, molar_mass: float, ratio: float) -> None:
    assert n.base_to_acid_mass_ratio("sodium_bicarbonate", acid, NAHCO3, molar_mass) == pytest.approx(ratio, abs=6e-4)


def test_molar_masses_follow_from_the_atoms() -> None:
    assert pytest.approx(C + 2 * O) == n.CO2_G_MOL


def test_reagents_agree_with_the_catalogue_table() -> None:
    # materials.csv was compiled apart from this room's table, from formulas and their sources
    table = load().materials
    shared = [name for name in n.REAGENTS if name in table]
    assert len(shared) >= 14
    for name in shared:
        row, reagent = table[name], n.REAGENTS[name]
        assert (row.acid_equivalents_per_mol or 0) == reagent.acid_eq, name
        assert (row.base_equivalents_per_mol or 0) == reagent.base_eq, name
        assert (row.carbonate_per_mol or 0) == reagent.carbonate, name


def test_three_bicarbonates_meet_one_citric_acid() -> None:
    # H3Cit + 3 NaHCO3 -> Na3Cit + 3 H2O + 3 CO2
    r = n.react({"sodium_bicarbonate": 3.0, "citric_acid": 1.0})
    assert (r.co2_mol, r.water_mol, r.acid_eq, r.base_eq) == (3, 3, 3, 3)
    assert r.leftover == {"sodium_bicarbonate": 0, "citric_acid": 0}


def test_usual_kitchen_mix_keeps_bicarbonate() -> None:
    r = n.react({"sodium_bicarbonate": 5.0, "citric_acid": 1.0})
    assert r.co2_mol == 3
    assert r.leftover["sodium_bicarbonate"] == 2
    assert (r.leftover_base_eq, r.leftover_acid_eq, r.leftover_bicarbonate_mol) == (2, 0, 2)


@pytest.mark.parametrize(
    ("protons", "co2", "bicarbonate", "carbonate"),
    # Na2CO3 + H+ -> NaHCO3 + Na+; NaHCO3 + H+ -> Na+ + H2O + CO2
    [(0, 0, 0, 2), (1, 0, 1, 1), (2, 0, 2, 0), (3, 1, 1, 0), (4, 2, 0, 0), (5, 2, 0, 0)],
)
def test_washing_soda_frees_gas_with_its_second_proton(
    protons: float, co2: float, bicarbonate: float, carbonate: float
) -> None:
    r = n.react({"sodium_carbonate": 2.0, "lactic_acid": protons})
    assert (r.co2_mol, r.leftover_bicarbonate_mol, r.leftover_carbonate_mol) == (co2, bicarbonate, carbonate)
    assert r.leftover_acid_eq == max(protons - 4, 0)


def test_trona_is_soda_and_bicarbonate_together() -> None:
    trona = n.react({"sodium_sesquicarbonate": 2.0, "malic_acid": 2.5})
    parts = n.react({"sodium_carbonate": 2.0, "sodium_bicarbonate": 2.0, "malic_acid": 2.5})
    assert trona.co2_mol == parts.co2_mol == 3
    assert trona.leftover_base_eq == parts.leftover_base_eq == 1
    assert trona.crystal_water_mol == 4


def test_weakest_acid_is_left_and_strengths_decide() -> None:
    # 2 mol of bicarbonate take both first protons (pKa 3.0 and 3.1), leaving the weaker ones
    r = n.react({"sodium_bicarbonate": 2.0, "fumaric_acid": 1.0, "citric_acid": 1.0})
    assert r.leftover["fumaric_acid"] == pytest.approx(1 / 2)
    assert r.leftover["citric_acid"] == pytest.approx(2 / 3)
    assert r.leftover_acid_eq == 3
    # the same acid in two crystals is one acid: shared alike
    twin = n.react({"sodium_bicarbonate": 3.0, "citric_acid": 1.0, "citric_acid_monohydrate": 1.0})
    assert twin.leftover["citric_acid"] == twin.leftover["citric_acid_monohydrate"] == pytest.approx(0.5)


REAGENT_MOLES = st.dictionaries(
    st.sampled_from(sorted(n.REAGENTS)), st.floats(0, 10, allow_subnormal=False), min_size=1, max_size=6
)


@given(moles=REAGENT_MOLES)
def test_nothing_is_lost(moles: dict[str, float]) -> None:
    r = n.react(moles)
    carbonate = sum(n.REAGENTS[k].carbonate * v for k, v in moles.items())
    # carbon: gas, hydrogencarbonate or carbonate
    assert r.co2_mol + r.leftover_bicarbonate_mol + r.leftover_carbonate_mol == pytest.approx(carbonate, abs=1e-9)
    # charge: what the bases could take is taken or left, and so for the acids
    assert r.base_eq - r.leftover_base_eq == pytest.approx(r.acid_eq - r.leftover_acid_eq, abs=1e-9)
    assert min(r.leftover_base_eq, r.leftover_acid_eq) == 0
    # the leftover of each reagent adds up to the leftover of all
    left_acid = sum(n.REAGENTS[k].acid_eq * v for k, v in r.leftover.items())
    left_base = sum(n.REAGENTS[k].base_eq * v for k, v in r.leftover.items())
    assert left_acid == pytest.approx(r.leftover_acid_eq, abs=1e-9)
    assert left_base == pytest.approx(r.leftover_base_eq, abs=1e-9)
    assert r.leftover_bicarbonate_mol + 2 * r.leftover_carbonate_mol == pytest.approx(r.leftover_base_eq, abs=1e-9)
    assert all(-1e-12 <= r.leftover[k] <= v + 1e-12 for k, v in moles.items())


@given(moles=REAGENT_MOLES, acid=st.sampled_from(["citric_acid", "cream_of_tartar"]), more=st.floats(0, 5))
def test_more_acid_never_makes_less_gas(moles: dict[str, float], acid: str, more: float) -> None:
    before = n.react(moles)
    after = n.react({**moles, acid: moles.get(acid, 0.0) + more})
    assert after.co2_mol >= before.co2_mol - 1e-12


@given(moles=REAGENT_MOLES)
def test_arrays_and_floats_agree(moles: dict[str, float]) -> None:
    one = n.react(moles)
    many = n.react({k: np.array([v, 2 * v, 0.0]) for k, v in moles.items()})
    assert np.shape(many.co2_mol) == (3,)
    assert np.asarray(many.co2_mol) == pytest.approx([one.co2_mol, 2 * one.co2_mol, 0])
    for name, left in one.leftover.items():
        assert np.asarray(many.leftover[name]) == pytest.approx([left, 2 * left, 0], abs=1e-12)


def test_shapes_broadcast() -> None:
    r = n.react({"sodium_bicarbonate": np.ones((5, 1)), "citric_acid": np.linspace(0, 1, 4)})
    assert np.shape(r.co2_mol) == np.shape(r.leftover["citric_acid"]) == (5, 4)


def test_a_hundred_thousand_draws_in_one_call() -> None:
    rng = np.random.default_rng(1)
    draws = {
        name: rng.uniform(0, 1, 100_000)
        for name in ("sodium_bicarbonate", "sodium_carbonate", "citric_acid", "malic_acid")
    }
    r = n.react(draws)
    assert np.shape(r.co2_mol) == (100_000,)
    one = n.react({name: float(values[7]) for name, values in draws.items()})
    assert np.asarray(r.co2_mol)[7] == pytest.approx(one.co2_mol, abs=1e-12)


def test_balance_counts_a_base_that_is_no_carbonate_first() -> None:
    # 1 mol of hydroxide beside 1 mol of bicarbonate: the first proton makes water only, and no gas
    b = n.balance(acid_eq=1.5, base_eq=2.0, carbonate_mol=1.0)
    assert (b.co2_mol, b.leftover_base_eq) == (0.5, 0.5)
    with pytest.raises(ValueError, match="below carbonate"):
        n.balance(1.0, 0.5, 1.0)


@pytest.mark.parametrize("amount", [-1.0, math.nan, math.inf])
def test_amounts_that_are_none_are_refused(amount: float) -> None:
    with pytest.raises(ValueError, match="citric_acid: amounts must be"):
        n.react({"citric_acid": amount})


def test_unknown_reagents_and_roles_are_refused() -> None:
    with pytest.raises(ValueError, match="no reagent is called 'sugar'"):
        n.react({"sugar": 1.0})
    with pytest.raises(ValueError, match="'citric_acid' is no base"):
        n.base_to_acid_mass_ratio("citric_acid", "citric_acid", 1, 1)


def test_molar_volume_of_dry_gas() -> None:
    # R T / p with CODATA R: 24.465 l at 25 C, 22.414 l at 0 C and 1 atm (CODATA 2018 lists 22.413 969 54 l/mol)
    assert n.co2_litres(1, 25, humidified=False) == pytest.approx(24.465, abs=5e-4)
    assert n.co2_litres(1, 0, humidified=False) == pytest.approx(22.41396954, rel=1e-8)


@pytest.mark.parametrize(
    ("celsius", "kpa"), [(10, 1.228), (20, 2.339), (25, 3.169), (30, 4.246), (38, 6.632), (40, 7.384)]
)
def test_water_vapour_matches_the_handbook(celsius: float, kpa: float) -> None:
    # CRC Handbook of Chemistry and Physics, "Vapor pressure of water from 0 to 370 C" (from memory)
    assert n.water_vapour_pa(celsius) == pytest.approx(kpa * 1000, rel=1e-3)


def test_damp_gas_fills_more() -> None:
    # at 40 C: 101.325 / (101.325 - 7.384) = 1.0786
    damp, dry = n.co2_litres(2, 40), n.co2_litres(2, 40, humidified=False)
    assert damp / dry == pytest.approx(101.325 / (101.325 - 7.384), rel=1e-4)
    with pytest.raises(ValueError, match="boils"):
        n.co2_litres(1, 60, pressure_pa=15_000)
    with pytest.raises(ValueError, match="between 0 and 100"):
        n.co2_litres(1, -5)
