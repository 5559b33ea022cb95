"""Bath water against PHREEQC, standard buffers and the reference constants, and against what must hold for any water."""

import csv
from collections.abc import Mapping
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from fizzwright.catalogue.holdings import DATA
from fizzwright.science import aqueous, fizzing
from fizzwright.science.aqueous import CALCITE, CARBONATE, CO2_STEP, HENRY, ION_PRODUCT, SPECIES, log10_k
from fizzwright.science.equilibrium import (
    ROOM_PCO2_ATM,
    BathState,
    Water,
    degas,
    log10_henry,
    rest,
    saturation_atm,
    solve,
)
from fizzwright.science.neutralisation import REAGENTS as NEUTRALISED
from tests.science.phreeqc_blocks import REAGENTS, Phreeqc

ACIDS = ("citric_acid", "citric_acid_monohydrate", "tartaric_acid", "cream_of_tartar", "malic_acid", "fumaric_acid",
         "succinic_acid", "adipic_acid", "ascorbic_acid", "lactic_acid")  # fmt: skip
BASES = (
    "sodium_bicarbonate",
    "potassium_bicarbonate",
    "sodium_carbonate",
    "potassium_carbonate",
    "sodium_sesquicarbonate",
)
SALTS = ("sea_salt", "epsom_salt", "magnesium_chloride_flakes", "trisodium_citrate", "lactic_powder", "sodium_sulfate")
TAP = Water(ph=7.6, alkalinity_mmol_l=1.9, calcium_mmol_l=0.9, magnesium_mmol_l=0.25)
PIECE = {"sodium_bicarbonate": 7.1e-3, "citric_acid": 1.6e-3}
"""A usual 150 g piece in 150 l."""


def random_bath(draw: np.random.Generator) -> tuple[dict[str, float], dict[str, float], float, float | None]:
    """Water in mmol/l with its charges met, dose in mol/l, temperature, and CO2 of the air or None."""
    hard, share = draw.uniform(0, 6), draw.uniform(0.3, 1)
    water = {
        "ph": draw.uniform(6.5, 9),
        "alkalinity_mmol_l": draw.uniform(0.2, 7),
        "calcium_mmol_l": hard * share,
        "magnesium_mmol_l": hard * (1 - share),
        "potassium_mmol_l": draw.uniform(0, 0.3),
        "sulfate_mmol_l": draw.uniform(0, 1.5),
        "measured_at_c": draw.uniform(8, 25),
    }
    wants = water["alkalinity_mmol_l"] + 2 * water["sulfate_mmol_l"] - 2 * hard - water["potassium_mmol_l"]
    water["chloride_mmol_l"] = max(-wants, 0) + draw.uniform(0, 2)
    water["sodium_mmol_l"] = wants + water["chloride_mmol_l"]
    if draw.random() < 0.5:
        dose = {"sodium_bicarbonate": draw.uniform(0.001, 0.02), "citric_acid": draw.uniform(0.0003, 0.006)}
    else:
        dose = {str(x): draw.uniform(0, 0.02) for x in draw.choice(BASES, draw.integers(0, 3), replace=False)}
        dose |= {str(x): draw.uniform(0, 0.006) for x in draw.choice(ACIDS, draw.integers(0, 3), replace=False)}
        dose |= {str(x): draw.uniform(0, 0.01) for x in draw.choice(SALTS, draw.integers(0, 2), replace=False)}
    return water, dose, draw.uniform(15, 45), None if draw.random() < 0.6 else 10 ** draw.uniform(-3.6, -0.3)


@pytest.mark.parametrize(
    ("davies", "ph", "dic", "calcite"),
    [
        # PHREEQC falling back on Davies, as we do: what is left is the form of its constants and its (CO2)2 dimer
        (True, 0.003, 3e-3, 0.005),
        # PHREEQC with its own activity model (WATEQ Debye-Hueckel): how far Davies is from it
        (False, 0.02, 5e-3, 0.05),
    ],
)
def test_phreeqc_finds_the_same_bath(tmp_path: Path, davies: bool, ph: float, dic: float, calcite: float) -> None:
    judge, draw = Phreeqc(tmp_path, davies), np.random.default_rng(20)
    told, judged = [], []
    for _ in range(400):
        water, dose, celsius, pco2 = random_bath(draw)
        theirs = judge.solve(water, dose, celsius, pco2)
        if theirs.ionic_strength_mol_l <= 0.1:
            ours = solve(Water(**water), dose, celsius, pco2)
            told.append([ours.ph, np.log(ours.dic_mol_l), ours.calcite_si])
            judged.append([theirs.ph, np.log(theirs.dic_mol_l), theirs.calcite_si])
    apart = np.abs(np.array(told) - np.array(judged))
    assert len(apart) >= 300
    assert np.all(apart.max(axis=0) <= [ph, dic, calcite]), apart.max(axis=0)
    assert np.ptp(np.array(judged)[:, 0]) > 5


def test_phreeqc_knows_every_reagent(tmp_path: Path) -> None:
    judge = Phreeqc(tmp_path, davies=True)
    assert set(REAGENTS) == set(aqueous.DOSES) >= set(NEUTRALISED)
    water = {"ph": 7.6, "alkalinity_mmol_l": 2.0, "calcium_mmol_l": 1.0, "magnesium_mmol_l": 0.3, "potassium_mmol_l": 0.0,
             "sulfate_mmol_l": 0.0, "chloride_mmol_l": 1.0, "sodium_mmol_l": 0.4, "measured_at_c": 25.0}  # fmt: skip
    for name in REAGENTS:
        assert solve(Water(**water), {name: 2e-3}, 38.0).ph == pytest.approx(
            judge.solve(water, {name: 2e-3}, 38.0).ph, abs=0.002
        ), name


def test_standard_buffers() -> None:
    # primary pH standards of NIST/IUPAC (Buck et al. 2002, Pure Appl. Chem. 74:2169; values from memory):
    # 0.05 mol/kg potassium dihydrogen citrate 3.776, saturated (0.0341) potassium hydrogen tartrate 3.557, both at 25 C
    pure = Water(ph=7.0, alkalinity_mmol_l=0.0)
    citrate = solve(pure, {"citric_acid": 0.05, "potassium_bicarbonate": 0.05}, 25.0, 1e-9)
    assert citrate.ph == pytest.approx(3.776, abs=0.03)
    assert solve(pure, {"cream_of_tartar": 0.0341}, 25.0).ph == pytest.approx(3.557, abs=0.03)


def test_pure_water_and_rain() -> None:
    pure = Water(ph=7.0, alkalinity_mmol_l=0.0)
    # neutral pH is half of pKw: 13.995 at 25 C and 13.534 at 40 C (IAPWS, reference table pKw_iapws)
    assert solve(pure, {}, 25.0).ph == pytest.approx(13.9945 / 2, abs=0.002)
    assert solve(pure, {}, 40.0).ph == pytest.approx(13.5343 / 2, abs=0.002)
    # textbook value of clean rain at rest with air of 400 ppm: 5.6 (Stumm & Morgan, Aquatic Chemistry; memory)
    assert solve(pure, {}, 25.0, 400e-6).ph == pytest.approx(5.6, abs=0.03)


def reference() -> dict[str, dict[str, str]]:
    with (DATA / "equilibria.csv").open(encoding="utf-8") as file:
        return {row["id"]: row for row in csv.DictReader(file)}


def formation(name: str) -> NDArray[np.float64]:
    return next(s.log_k for s in SPECIES if s.name == name)


@pytest.mark.parametrize("celsius", [25, 40])
def test_constants_are_those_of_the_reference_table(celsius: int) -> None:
    # the table was compiled apart from this module and worked out at 25 and 40 C, partly by running PHREEQC
    bicarbonate = CARBONATE - CO2_STEP
    h1, h2, h3 = (formation(f"H{n}Cit") for n in (1, 2, 3))
    meant = {
        "pKw_phreeqc": -ION_PRODUCT,
        "pKw_iapws": -ION_PRODUCT,
        "logKH_CO2_PB82": HENRY,
        "logKH_CO2_phreeqc": HENRY,
        "pK1_carbonic_PB82": -CO2_STEP,
        "pK2_carbonic_PB82": -bicarbonate,
        "logKsp_calcite": CALCITE,
        "logK_CaHCO3+_PB82": formation("CaHCO3") - CO2_STEP,
        "logK_CaCO3aq_PB82": formation("CaCO3") - CARBONATE,
        "logK_MgHCO3+": formation("MgHCO3") - CO2_STEP,
        "logK_MgCO3aq": formation("MgCO3") - CARBONATE,
        "logK_NaHCO3aq": formation("NaHCO3") - CO2_STEP,
        "logK_NaCO3-": formation("NaCO3") - CARBONATE,
        "logK_HSO4": formation("HSO4"),
        "logK_CaSO4aq": formation("CaSO4"),
        "logK_MgSO4aq": formation("MgSO4"),
        "logK_NaSO4-": formation("NaSO4"),
        "logK_KSO4-": formation("KSO4"),
        "logK_CaOH+": formation("CaOH"),
        "logK_MgOH+": formation("MgOH"),
        "pK3_citric_ben97": h1,
        "pK2_citric_ben97": h2 - h1,
        "pK1_citric_ben97": h3 - h2,
        **{f"logK_{n}_minteq": formation(s) for n, s in {
            "CaCit-": "CaCit", "CaHCit": "CaHCit", "CaH2Cit+": "CaH2Cit", "MgCit-": "MgCit", "MgHCit": "MgHCit",
            "MgH2Cit+": "MgH2Cit", "NaCit-2": "NaCit", "Na2Cit-": "Na2Cit", "NaHCit-": "NaHCit", "KCit-2": "KCit",
            "CaTar": "CaTar", "CaHTar+": "CaHTar", "MgTar": "MgTar", "MgHTar+": "MgHTar", "NaTar-": "NaTar",
            "NaHTar": "NaHTar", "KTar-": "KTar",
        }.items()},
        "pK2_tartaric": formation("H1Tar"),
        "pK1_tartaric": formation("H2Tar") - formation("H1Tar"),
        "pK2_malic": formation("H1Mal"),
        "pK1_malic": formation("H2Mal") - formation("H1Mal"),
        "pK2_fumaric": formation("H1Fum"),
        "pK1_fumaric": formation("H2Fum") - formation("H1Fum"),
        "pK2_adipic": formation("H1Adi"),
        "pK1_adipic": formation("H2Adi") - formation("H1Adi"),
    }  # fmt: skip
    table = reference()
    compared = 0
    for name, coefficients in meant.items():
        printed = table[name][f"value_{celsius}c"]
        if printed:
            assert float(log10_k(coefficients, float(celsius))) == pytest.approx(float(printed), abs=0.004), name
            compared += 1
    assert compared >= 40
    assert float(aqueous.davies_a(float(celsius))) == pytest.approx(float(table["DH_A"][f"value_{celsius}c"]), abs=1e-4)


def test_acid_strengths_order_as_the_fizz_has_them() -> None:
    # neutralisation's pKa at 25 C are the CRC Handbook's, kept apart from these constants
    letters = {"citric_acid": "Cit", "tartaric_acid": "Tar", "malic_acid": "Mal", "fumaric_acid": "Fum",
               "adipic_acid": "Adi", "succinic_acid": "Suc", "ascorbic_acid": "Asc", "lactic_acid": "Lac"}  # fmt: skip
    for acid, anion in letters.items():
        steps = [formation(anion), *(formation(f"H{n + 1}{anion}") for n in range(NEUTRALISED[acid].acid_eq))]
        pk = [float(log10_k(b - a, 25.0)) for a, b in pairwise(steps)]
        assert pk[::-1] == pytest.approx(NEUTRALISED[acid].acid_pka, abs=0.07), acid


amounts = st.one_of(st.just(0.0), st.floats(1e-9, 0.1))
doses = st.dictionaries(st.sampled_from(sorted(aqueous.DOSES)), amounts, max_size=6)
waters = st.builds(
    Water,
    ph=st.floats(6.3, 9.5),
    alkalinity_mmol_l=st.floats(0.1, 10),
    calcium_mmol_l=st.one_of(st.just(0.0), st.floats(0, 6)),
    magnesium_mmol_l=st.one_of(st.just(0.0), st.floats(0, 6)),
    sodium_mmol_l=st.one_of(st.none(), st.floats(0, 20)),
    potassium_mmol_l=st.floats(0, 2),
    chloride_mmol_l=st.one_of(st.none(), st.floats(0, 20)),
    sulfate_mmol_l=st.one_of(st.just(0.0), st.floats(0, 5)),
    measured_at_c=st.floats(5, 40),
)
airs = st.one_of(st.none(), st.floats(1e-5, 1.0))


@settings(max_examples=300, deadline=None)
@given(waters, doses, st.floats(5, 60), airs)
def test_any_water_is_solved_and_its_charges_close(
    water: Water, dose: Mapping[str, float], celsius: float, pco2: float | None
) -> None:
    state = solve(water, dose, celsius, pco2)
    assert abs(state.charge_eq_l) <= 1e-12
    assert 0 < state.ph < 14
    assert 0 <= state.co2_mol_l <= state.dic_mol_l * (1 + 1e-12)


@settings(max_examples=150, deadline=None)
@given(waters, doses, st.sampled_from(ACIDS), st.floats(1e-5, 0.02), st.floats(5, 50), airs)
def test_more_acid_never_raises_the_ph(
    water: Water, dose: Mapping[str, float], acid: str, more: float, celsius: float, pco2: float | None
) -> None:
    # cream of tartar is an acid above pH 4 only; below, it takes protons up
    least = solve(water, dose, celsius, pco2)
    if acid == "cream_of_tartar" and least.ph < 4.5:
        return
    assert solve(water, {**dose, acid: dose.get(acid, 0.0) + more}, celsius, pco2).ph <= least.ph + 1e-5


def test_wild_mixtures_are_solved_too() -> None:
    # up to 0.3 mol/l of anything, or next to nothing, in any tap water: spoonfuls of acid in a foot bath and worse
    for seed in range(16):
        draw, count = np.random.default_rng(seed), 500

        def some(most: float, draw: np.random.Generator = draw, count: int = count) -> NDArray[np.float64]:
            return np.where(draw.random(count) < 0.4, 0.0, 10 ** draw.uniform(-9, np.log10(most), count))

        ph = draw.uniform(4.5, 10.5, count)
        alkalinity = np.maximum(some(20.0), 1.3e3 * 10 ** (ph - 13.2) + 0.02)
        alkalinity = np.where(ph < 6, np.minimum(alkalinity, 2.0), alkalinity)
        sodium, chloride = (None if seed % 2 else some(50.0)), (None if seed % 3 else some(50.0))
        water = Water(
            ph, alkalinity, some(20.0), some(20.0), sodium, some(5.0), chloride, some(20.0), draw.uniform(0, 35, count)
        )
        dose = {str(x): some(0.3) for x in draw.choice(sorted(aqueous.DOSES), draw.integers(0, 7), replace=False)}
        for pco2 in (None, 10 ** draw.uniform(-5, 0.5, count)):
            state = solve(water, dose, draw.uniform(0, 60, count), pco2)
            assert np.max(np.abs(state.charge_eq_l)) <= 1e-12
            assert np.all((np.asarray(state.ph) > 0) & (np.asarray(state.ph) < 14))


def test_totals_are_kept_and_co2_alone_leaves() -> None:
    kept, settled = solve(TAP, PIECE, 38.0), solve(TAP, PIECE, 38.0, ROOM_PCO2_ATM)
    started = solve(TAP, {}, 25.0)
    assert kept.dic_mol_l == pytest.approx(started.dic_mol_l + PIECE["sodium_bicarbonate"], rel=1e-12)
    assert settled.alkalinity_eq_l == pytest.approx(kept.alkalinity_eq_l, rel=1e-12)
    # each mole of citric acid gives one strong proton and two that alkalinity gets back (Dickson 1981)
    assert kept.alkalinity_eq_l == pytest.approx(1.9e-3 + 7.1e-3 - 1.6e-3, rel=1e-9)
    assert 6.0 < kept.ph < 6.8 < 8.0 < settled.ph < 8.8
    assert started.ph == pytest.approx(7.6, abs=1e-5)


def test_one_call_for_many_waters_is_the_same_as_many_calls() -> None:
    ph = np.linspace(7, 9, 3)[:, None, None]
    dose = {"sodium_bicarbonate": np.linspace(0, 0.02, 1500)[None, :, None], "citric_acid": 2e-3}
    celsius = np.array([20.0, 38.0])
    water = Water(ph=ph, alkalinity_mmol_l=3.0, calcium_mmol_l=1.0)
    many = solve(water, dose, celsius)
    assert np.shape(many.ph) == (3, 1500, 2)
    for i, j, k in [(0, 0, 0), (1, 700, 1), (2, 1499, 0)]:
        one = solve(
            Water(float(ph[i, 0, 0]), 3.0, 1.0),
            {"sodium_bicarbonate": float(dose["sodium_bicarbonate"][0, j, 0]), "citric_acid": 2e-3},
            float(celsius[k]),
        )
        assert np.asarray(many.ph)[i, j, k] == pytest.approx(one.ph, abs=1e-5)
        assert np.asarray(many.calcite_si)[i, j, k] == pytest.approx(one.calcite_si, abs=1e-5)


@pytest.mark.parametrize(
    ("water", "balanced"),
    [
        ({"calcium_mmol_l": 1.0}, "sodium"),
        ({"calcium_mmol_l": 2.0}, "chloride"),
        ({"calcium_mmol_l": 1.0, "sodium_mmol_l": 3.0}, "chloride"),
        ({"calcium_mmol_l": 1.0, "sodium_mmol_l": 3.0, "chloride_mmol_l": 1.0}, "unnamed anions"),
        ({"calcium_mmol_l": 1.0, "sodium_mmol_l": 1.0, "chloride_mmol_l": 1.0}, "nothing"),
        ({"calcium_mmol_l": 0.0, "sodium_mmol_l": 1.0, "chloride_mmol_l": 1.0}, "unnamed cations"),
    ],
)
def test_what_the_report_leaves_out_is_balanced_and_said(water: dict[str, float], balanced: str) -> None:
    state = solve(Water(ph=7.5, alkalinity_mmol_l=2.0 + (balanced == "sodium"), **water), {}, 25.0)
    assert str(state.balanced_by) == balanced
    assert abs(state.charge_eq_l) < 1e-12


@pytest.mark.parametrize(
    ("make", "read"),
    [
        (lambda: Water(ph=15, alkalinity_mmol_l=2), "ph: read 15"),
        (lambda: Water(ph=float("nan"), alkalinity_mmol_l=2), "ph: read nan"),
        (lambda: Water(ph=7, alkalinity_mmol_l=2, calcium_mmol_l=-1), "calcium_mmol_l: read -1"),
        (lambda: solve(Water(ph=7, alkalinity_mmol_l=-1), {}, 25), "alkalinity_mmol_l: read -1 at pH 7"),
        (lambda: solve(Water(ph=11, alkalinity_mmol_l=0.5), {}, 25), "alkalinity_mmol_l: read 0.5 at pH 11"),
        (lambda: solve(Water(ph=4, alkalinity_mmol_l=5), {}, 25), "ph: read 4 with 5 mmol/l"),
        (lambda: solve(TAP, {"sodium_bicarbonat": 1e-3}, 25), "'sodium_bicarbonat'"),
        (lambda: solve(TAP, {"citric_acid": -1e-3}, 25), "dose of citric_acid: read -0.001"),
        (lambda: solve(TAP, {}, 90), "temperature_c: read 90"),
    ],
)
def test_water_that_cannot_exist_is_refused_with_what_was_read(make: object, read: str) -> None:
    assert callable(make)
    with pytest.raises(ValueError, match=read):
        make()


def test_acid_water_of_a_negative_alkalinity_exists_when_its_ph_says_so() -> None:
    # pH 4.2 is 0.063 mmol/l of free acid: such an alkalinity is what rain on granite has
    assert solve(Water(ph=4.2, alkalinity_mmol_l=-0.06), {}, 25.0).ph == pytest.approx(4.2, abs=0.01)


def fed(scale: float, celsius: float = 38.0) -> BathState:
    return solve(TAP, {name: scale * amount for name, amount in PIECE.items()}, celsius)


@pytest.mark.parametrize("scale", [0.0, 1.0, 8.0])
def test_degassing_is_what_an_ode_solver_finds(scale: float) -> None:
    # scipy's Radau on the same two rates, with the chemistry asked afresh at every step
    state, kla, bubbling = fed(scale), 1e-3, 0.05
    henry, full = 10.0 ** float(log10_henry(38.0)), float(saturation_atm(38.0))

    def slope(_: float, carbonate: NDArray[np.float64]) -> list[float]:
        now = rest({**state.totals_mol_l, "carbonate": carbonate[0]}, state.unnamed_eq_l, 38.0)
        per_atm = float(now.co2_mol_l) / float(now.pco2_atm)
        excess = max(float(now.pco2_atm) - full, 0.0)
        return [-per_atm * (kla * (float(now.pco2_atm) - ROOM_PCO2_ATM) + bubbling * excess)]

    seconds = np.array([0.0, 10.0, 120.0, 900.0, 5000.0])
    solved = solve_ivp(slope, (0, 5000), [float(state.dic_mol_l)], "Radau", seconds, rtol=1e-7, atol=1e-10)
    left = degas(state, seconds, kla, bubbling_per_s=bubbling)
    assert np.asarray(left.state.dic_mol_l) == pytest.approx(solved.y[0], rel=1e-3)
    assert henry > 0


def test_all_gas_gone_is_rest_with_the_room() -> None:
    state, settled = fed(1.0), solve(TAP, PIECE, 38.0, ROOM_PCO2_ATM)
    after = degas(state, np.array([0.0, 1e7]), 1e-4)
    assert np.asarray(after.state.ph) == pytest.approx([state.ph, settled.ph], abs=1e-3)
    assert np.asarray(after.released_mol_l)[1] == pytest.approx(state.dic_mol_l - settled.dic_mol_l, rel=1e-3)
    # times, rates and waters broadcast
    assert np.shape(degas(fed(1.0), np.arange(5.0)[:, None], np.array([1e-4, 1e-3])).released_mol_l) == (5, 2)


def test_saturated_water_is_as_the_textbook_has_it() -> None:
    # solubility of CO2 at 1 atm in all, 25 C: 1.45 g/l (Seidell, quoted by handbooks; memory)
    assert float(saturation_atm(25.0)) * 10 ** float(log10_henry(25.0)) * 44.009 == pytest.approx(1.45, abs=0.02)


def test_a_fizz_ends_where_the_sum_of_its_parts_does() -> None:
    seconds = np.linspace(0, 300, 40)
    dissolved = 1 - (1 - seconds / 300) ** 3
    dose = {name: amount * dissolved for name, amount in PIECE.items()}
    none = fizzing.course(TAP, dose, 38.0, seconds, 0.0, 0.0)
    assert none.ph[-1] == pytest.approx(fed(1.0).ph, abs=1e-5)
    assert none.ph[0] == pytest.approx(fed(0.0).ph, abs=1e-5)
    half = fizzing.course(TAP, dose, 38.0, seconds, 0.0, 0.5)
    made = float(fed(1.0).co2_mol_l) - float(fed(0.0).co2_mol_l)
    assert half.released_mol_l[-1] == pytest.approx(0.5 * made, rel=1e-5)
    # a strong dose in little water: whatever is above saturation has left
    strong = fizzing.course(TAP, {n: 12 * a for n, a in dose.items()}, 38.0, seconds, 0.0, 0.0)
    assert np.max(strong.co2_mol_l) <= float(saturation_atm(38.0)) * 10 ** float(log10_henry(38.0)) * 1.001
    assert np.all(np.diff(strong.released_mol_l) >= 0)
    assert strong.released_mol_l[-1] > 0.01
