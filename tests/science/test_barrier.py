"""Wrapping against units by pint, vapour pressures by psychrolib, handbook permeances and an ODE solved by scipy."""

from __future__ import annotations

import numpy as np
import pint
import psychrolib
import pytest
from scipy.integrate import solve_ivp

from fizzwright.catalogue import Catalogue
from fizzwright.science import barrier, neutralisation

UNITS = pint.UnitRegistry()
UNITS.define("grain_mass = 64.79891 mg")
UNITS.define("inch_mercury = 3386.389 Pa")


def ng_s_m2_pa(g_m2_day_pa: float) -> float:
    return float(UNITS.Quantity(g_m2_day_pa, "g/m**2/day/Pa").to("ng/s/m**2/Pa").magnitude)


def rated(catalogue: Catalogue, film: str) -> tuple[float, float, float]:
    fact = catalogue.fact(f"wvtr_{film}")
    assert fact.min is not None and fact.typical is not None and fact.max is not None
    return fact.min, fact.typical, fact.max


@pytest.mark.parametrize(("celsius", "humidity"), [(38.0, 90.0), (25.0, 80.0), (20.0, 60.0), (4.0, 50.0)])
def test_vapour_pressures_as_psychrolib_has_them(celsius: float, humidity: float) -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)
    expected = psychrolib.GetVapPresFromRelHum(celsius, humidity / 100)
    assert float(barrier.drop_pa(celsius, humidity)) == pytest.approx(expected, rel=3e-3)


@pytest.mark.parametrize(
    ("film", "least", "most"),
    [
        ("ldpe", 1.0, 2.0),
        ("hdpe", 0.3, 0.6),
        ("opp", 0.2, 0.5),
        ("pet", 1.0, 2.0),
        ("ps", 7.0, 10.0),
        ("nylon", 10, 20),
    ],
)
def test_grams_a_hundred_square_inches_are_those_of_the_catalogue(
    film: str, least: float, most: float, catalogue: Catalogue
) -> None:
    # The chapter FOODPACK prints g mil/100 in2/day at 38 C and 90 %; one mil is 25.4 um.
    low, _, high = rated(catalogue, film)
    unit = UNITS.Quantity(1.0, "g/day") / UNITS.Quantity(100.0, "inch**2")
    factor = unit.to("g/m**2/day").magnitude
    assert factor == pytest.approx(15.5, abs=0.001)
    assert low == pytest.approx(least * factor, rel=0.02)
    assert high >= most * factor * 0.98


def test_a_perm_is_57_nanograms() -> None:
    # ASTM E96 / ASHRAE: 1 perm = 1 grain/(h ft2 inHg) = 57.2 ng/(s m2 Pa) (memory).
    perm = UNITS.Quantity(1.0, "grain_mass/hour/foot**2/inch_mercury")
    a_day = perm.to("g/m**2/day/Pa").magnitude
    assert ng_s_m2_pa(a_day) == pytest.approx(57.2, abs=0.1)
    through = a_day * float(barrier.drop_pa(38.0, 90.0))
    assert float(barrier.permeance_g_m2_day_pa(through, 38.0)) == pytest.approx(a_day)
    assert through == pytest.approx(29.5, rel=0.01)


@pytest.mark.parametrize(
    ("film", "thickness_um", "handbook_ng"),
    [("pet", 25.0, 42.0), ("pvc_rigid", 50.0, 39.0)],
)
def test_films_of_the_catalogue_against_handbook_permeances(
    film: str, thickness_um: float, handbook_ng: float, catalogue: Catalogue
) -> None:
    # ASHRAE Handbook, Fundamentals, water vapor permeance of building materials: polyester 0.025 mm 42,
    # unplasticised PVC 0.05 mm 39 ng/(s m2 Pa) (memory).
    low, _, high = (ng_s_m2_pa(float(barrier.permeance_g_m2_day_pa(v, 38.0))) for v in rated(catalogue, film))
    assert low * 25.0 / thickness_um < handbook_ng < high * 25.0 / thickness_um


def test_handbook_polyethylene_lies_between_the_two_kinds_of_the_catalogue(catalogue: Catalogue) -> None:
    # ASHRAE Handbook, Fundamentals: polyethylene 0.05 mm 9.1 ng/(s m2 Pa) (memory).
    hdpe, ldpe = (
        ng_s_m2_pa(float(barrier.permeance_g_m2_day_pa(rated(catalogue, f)[place], 38.0))) / 2
        for f, place in (("hdpe", 0), ("ldpe", 2))
    )
    assert hdpe < 9.1 < ldpe


@pytest.mark.parametrize("share", [0.15, 0.2, 0.3])
def test_a_film_lets_through_at_23_c_the_share_it_was_scaled_by(share: float) -> None:
    energy = barrier.energy_j_mol(share)
    through = barrier.permeance_g_m2_day_pa(10.0, 23.0, energy) * barrier.drop_pa(23.0, 50.0)
    assert float(through) == pytest.approx(10.0 * share, rel=1e-9)
    assert float(barrier.permeance_g_m2_day_pa(10.0, 38.0, energy) * barrier.drop_pa(38.0, 90.0)) == pytest.approx(10.0)


def test_still_air_and_wrap_stand_one_behind_the_other() -> None:
    # Still air over open water at 25 C: 3 mm/s x 23.0 g/m3 (steam tables: saturated vapour at 25 C weighs 23.0 g/m3).
    air = float(barrier.air_film_g_m2_day_pa(25.0)) * float(barrier.drop_pa(25.0, 100.0))
    assert air == pytest.approx(0.003 * 23.04 * 86400, rel=5e-3)
    assert float(barrier.through_both(np.inf, 2.0)) == 2.0
    assert float(barrier.through_both(0.0, 2.0)) == 0.0
    assert float(barrier.through_both(2.0, 2.0)) == 1.0


def test_a_gram_of_water_costs_what_the_reaction_counts_for_it() -> None:
    # Dissolve, react, keep two of three waters in crystals, go on with the rest: by the house's own stoichiometry.
    water, gas = 1.0, 0.0
    for _ in range(60):
        acid_mol = barrier.CITRIC_DISSOLVES * water / barrier.CITRIC_G_MOL
        reaction = neutralisation.react({"citric_acid": acid_mol, "sodium_bicarbonate": 3 * acid_mol})
        gas += float(reaction.co2_mol) * neutralisation.CO2_G_MOL
        water = float(reaction.water_mol) * 18.015 / 3
    assert barrier.co2_per_water() == pytest.approx(gas, rel=1e-9)
    assert float(barrier.water_for_share_g(0.1, 26.0, barrier.co2_per_water())) == pytest.approx(2.6 / gas)


def test_the_days_follow_the_balance_of_water() -> None:
    permeance, area, room = 0.0013, 0.017, float(barrier.drop_pa(25.0, 80.0))
    dry, danger = float(barrier.drop_pa(25.0, 42.0)), float(barrier.drop_pa(25.0, 55.0))

    def gains(_: float, held: np.ndarray) -> list[float]:
        over = dry if held[0] < 0.6 else danger
        return [permeance * area * (room - over)]

    def full(_: float, held: np.ndarray) -> float:
        return float(held[0] - 2.6)

    solved = solve_ivp(gains, (0, 3000), [0.0], events=full, max_step=0.5)
    found = barrier.days_until(0.6, 2.0, *(barrier.gain_g_day(permeance, area, room, over) for over in (dry, danger)))
    assert float(found) == pytest.approx(solved.t_events[0][0], rel=2e-3)
    assert np.isinf(barrier.days_until(0.6, 2.0, barrier.gain_g_day(permeance, area, danger, dry), 0.0))


def test_a_desiccant_unit_of_silica_gel_weighs_what_bags_of_the_trade_do(catalogue: Catalogue) -> None:
    # DIN 55473: a unit takes up at least 6 g at 40 %; a bag of one unit holds 25 to 35 g (memory).
    unit = catalogue.fact("desiccant_unit").min
    gel = catalogue.fact("silica_gel").typical
    assert unit is not None and gel is not None
    assert 25.0 < float(barrier.desiccant_g(unit, gel)) < 35.0
