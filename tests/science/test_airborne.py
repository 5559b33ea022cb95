"""The work room's air against ODEs solved by scipy, published conversions, the chemicals library and ratings of machines."""

from __future__ import annotations

import chemicals
import numpy as np
import pint
import psychrolib
import pytest
from scipy.integrate import quad, solve_ivp

from fizzwright.science import airborne
from fizzwright.science.airborne import MOLAR_MASS_G_MOL, Source

CAS = {"isopropyl": "67-63-0", "ethanol": "64-17-5"}
UNITS = pint.UnitRegistry()
ROOM = (28.0, 0.6)
BATCH = (
    Source(5.0, 0.25),
    Source(9.0, 0.4, is_falling=True),
    Source(12.0, 3.0, 0.3, is_falling=True),
)


@pytest.mark.parametrize(("alcohol", "mg_to_a_ppm"), [("isopropyl", 2.46), ("ethanol", 1.89)])
def test_ppm_as_the_niosh_pocket_guide_converts_them(alcohol: str, mg_to_a_ppm: float) -> None:
    # NIOSH Pocket Guide to Chemical Hazards, "Conversion": 1 ppm = 2.46 mg/m3 and 1.89 mg/m3 (memory).
    assert float(airborne.mg_m3_of(1.0, MOLAR_MASS_G_MOL[alcohol])) == pytest.approx(mg_to_a_ppm, rel=5e-3)
    # the library's own conversion
    assert float(airborne.ppm_of(500.0, MOLAR_MASS_G_MOL[alcohol])) == pytest.approx(
        chemicals.mgm3_to_ppmv(500.0, MW=MOLAR_MASS_G_MOL[alcohol]), rel=1e-6
    )


@pytest.mark.parametrize("alcohol", ["isopropyl", "ethanol"])
def test_constants_of_the_alcohols_as_the_library_holds_them(alcohol: str) -> None:
    row = chemicals.vapor_pressure.Psat_data_AntoinePoling.loc[CAS[alcohol]]
    assert airborne.ANTOINE[alcohol] == pytest.approx((row["A"], row["B"], row["C"]))
    assert MOLAR_MASS_G_MOL[alcohol] == pytest.approx(chemicals.MW(CAS[alcohol]), abs=2e-3)
    # A second correlation of the same library (Perry's Handbook, 8th ed., table 2-8), within two percent.
    perry = chemicals.vapor_pressure.Psat_data_Perrys2_8.loc[CAS[alcohol]]
    kelvin = 293.15
    log_pa = perry["C1"] + perry["C2"] / kelvin + perry["C3"] * np.log(kelvin) + perry["C4"] * kelvin ** perry["C5"]
    assert float(airborne.saturation_pa(alcohol, 20.0)) == pytest.approx(np.exp(log_pa), rel=0.02)
    # NIOSH Pocket Guide: 33 mmHg and 44 mmHg at 68 F (memory).
    told = {"isopropyl": 33.0, "ethanol": 44.0}[alcohol]
    in_mmhg = UNITS.Quantity(float(airborne.saturation_pa(alcohol, 20.0)), "Pa").to("mmHg").magnitude
    assert in_mmhg == pytest.approx(told, rel=0.03)


@pytest.mark.parametrize("alcohol", ["isopropyl", "ethanol"])
def test_at_the_flash_point_the_air_over_the_liquid_reaches_the_flammable_limit(alcohol: str) -> None:
    # What a flash point means; both measured figures from the library's tables. Good to some 5 K.
    flash_c = chemicals.T_flash(CAS[alcohol]) - 273.15
    share = float(airborne.saturation_pa(alcohol, flash_c)) / 101325.0
    assert share == pytest.approx(chemicals.LFL(CASRN=CAS[alcohol]), rel=0.35)


def test_the_room_follows_its_balance() -> None:
    volume, changes = ROOM

    def balance(hours: float, held: np.ndarray) -> np.ndarray:
        coming = sum(float(source.rate_g_h(hours)) for source in BATCH)
        return 1000.0 * coming / volume - changes * held

    hours = np.array([0.1, 0.24, 0.26, 0.5, 1.0, 3.0, 8.0])
    solved = solve_ivp(balance, (0, 8), [0.0], t_eval=hours, rtol=1e-10, atol=1e-10, max_step=0.01)
    found = airborne.room_mg_m3(BATCH, hours, volume, changes)
    assert found == pytest.approx(solved.y[0], rel=1e-4)


@pytest.mark.parametrize("source", BATCH)
@pytest.mark.parametrize("changes", [1e-3, 0.6, 1 / 0.4, 4.0, 60.0])
def test_what_came_off_is_in_the_air_or_gone_with_it(source: Source, changes: float) -> None:
    until = 8.0
    breaks = [0.25, 0.3]
    summed, _ = quad(
        lambda h: float(source.mg_m3(h, 28.0, changes)), 0, until, points=breaks, limit=400, epsabs=1e-10, epsrel=1e-10
    )
    assert float(airborne.exposure_mg_h_m3([source], until, 28.0, changes)) == pytest.approx(summed, rel=1e-6)
    left = float(source.mg_m3(until, 28.0, changes)) * 28.0 / 1000.0
    assert left + summed * changes * 28.0 / 1000.0 == pytest.approx(float(source.off_g(until)), rel=1e-6)


def test_the_two_rates_may_meet_and_may_be_far_apart() -> None:
    near = [float(Source(10.0, 1.0, is_falling=True).mg_m3(2.0, 28.0, 1.0 + d)) for d in (-1e-7, 0.0, 1e-7)]
    assert near == pytest.approx([near[1]] * 3, rel=1e-6)
    assert near[1] == pytest.approx(1000 * 10 / 28 * 2 * np.exp(-2), rel=1e-12)  # C = m/V n t exp(-n t)
    far = Source(10.0, 1e-6, is_falling=True).mg_m3(np.array([0.0, 1.0, 500.0]), 28.0, 100.0)
    assert np.all(np.isfinite(far)) and far[2] == 0.0
    at_once = float(Source(28.0, 0.0).mg_m3(1.0, 28.0, 0.5))
    assert at_once == pytest.approx(1000.0 * np.exp(-0.5), rel=1e-8)


def test_steady_dilution_as_industrial_ventilation_works_it() -> None:
    # ACGIH, Industrial Ventilation, dilution ventilation for health (memory): methyl chloroform, 1.5 pints in 60 min,
    # SG 1.32, M 133.4, TLV 350 ppm: Q = 403e6 x 1.32 x (1.5/60) / (133.4 x 350) = 285 cfm, 1425 with K = 5.
    rate_g_h = UNITS.Quantity(1.5, "pint").to("ml").magnitude * 1.32
    q_m3_h = UNITS.Quantity(285.0, "ft**3/min").to("m**3/h").magnitude
    settled = airborne.room_mg_m3([Source(1000 * rate_g_h, 1000.0)], 999.0, 100.0, q_m3_h / 100.0)
    room_c = (70 - 32) / 1.8
    assert float(airborne.ppm_of(settled, 133.4, room_c)) == pytest.approx(350.0, rel=0.01)


def test_the_air_at_the_bowl_is_that_of_two_boxes() -> None:
    volume, changes = ROOM
    exchange = float(airborne.exchange_m3_h(0.5, 0.06))
    near_m3 = 2 / 3 * np.pi * 0.5**3
    source = Source(9.0, 0.4, is_falling=True)

    def boxes(hours: float, held: np.ndarray) -> list[float]:
        near, far = held
        passed = exchange * (near - far)
        return [
            (1000 * float(source.rate_g_h(hours)) - passed) / near_m3,
            (passed - changes * volume * far) / (volume - near_m3),
        ]

    hours = np.array([0.05, 0.2, 0.5, 1.0])
    solved = solve_ivp(boxes, (0, 1), [0.0, 0.0], t_eval=hours, rtol=1e-9, atol=1e-9, method="LSODA")
    far = airborne.room_mg_m3([source], hours, volume, changes)
    found = airborne.near_mg_m3(far, source.rate_g_h(hours), exchange)
    assert found == pytest.approx(solved.y[0], rel=0.03)


def test_the_least_airing_brings_the_level_to_the_limit_and_not_below() -> None:
    def worst(changes: np.ndarray) -> np.ndarray:
        return airborne.mean_mg_m3(BATCH, 0.0, 8.0, 28.0, changes)

    limit = np.array([20.0, 1e9, 1e-9])
    found = airborne.least_air_changes(lambda changes: worst(changes) > limit, np.full(3, 0.6))
    assert float(worst(found[:1])[0]) == pytest.approx(20.0, rel=1e-5)
    assert found[1] == 0.6
    assert np.isinf(found[2])


def test_one_sided_airing_is_the_flow_through_a_plane_with_the_neutral_level_at_mid_height() -> None:
    # From Bernoulli: warm air leaves above mid height, each strip at Cd sqrt(2 g z dT/T); by quadrature.
    width, height, warmer, kelvin = 0.6, 0.5, 6.0, 293.15
    strip, _ = quad(lambda z: 0.61 * width * np.sqrt(2 * 9.80665 * z * warmer / kelvin), 0, height / 2)
    assert float(airborne.one_side_m3_h(width, height, warmer)) == pytest.approx(3600 * strip, rel=1e-6)
    assert float(airborne.one_side_m3_h(width, height, 0.0, 3.0)) == pytest.approx(3600 * 0.025 * 0.3 * 3.0)


def test_the_opening_follows_the_one_sided_flow() -> None:
    # A sash 60 cm wide: opened to x it lets in what the orifice formula says; ask for that again.
    shut, hand = 0.5, 0.5 + float(airborne.one_side_m3_h(0.6, 0.10, 5.0)) / 28
    less = 0.5 + float(airborne.one_side_m3_h(0.6, 0.04, 5.0)) / 28
    assert float(airborne.opening_cm(less, shut, hand)) == pytest.approx(4.0, rel=1e-9)
    assert float(airborne.opening_cm(hand, shut, hand)) == pytest.approx(10.0)
    assert float(airborne.opening_cm(shut + 3 * (hand - shut), shut, hand)) == pytest.approx(30.0)
    assert float(airborne.opening_cm(0.2, shut, hand)) == 0.0
    with pytest.raises(ValueError, match="hand's width"):
        airborne.opening_cm(1.0, 4.0, 4.0)


@pytest.mark.parametrize("room_c", [15.0, 20.0, 25.0, 30.0])
def test_water_leaking_in_by_psychrolib_s_own_densities(room_c: float) -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)
    outside = psychrolib.GetHumRatioFromRelHum(room_c, 0.75, 101325)
    inside = psychrolib.GetHumRatioFromRelHum(room_c, 0.45, 101325)
    kg_h = 28 * 0.6 / psychrolib.GetMoistAirVolume(room_c, inside, 101325) * (outside - inside)
    found = airborne.make_up_l_per_day(28.0, 0.6, room_c, outside, 45.0)
    assert float(found) == pytest.approx(24 * kg_h, rel=1e-4)
    assert float(airborne.make_up_l_per_day(28.0, 0.6, room_c, inside, 60.0)) == 0.0


@pytest.mark.parametrize(("at_80_f", "at_65_f"), [(70, 50), (50, 35), (30, 22)])
def test_a_machine_takes_less_in_cooler_air_as_the_two_american_ratings_show(at_80_f: int, at_65_f: int) -> None:
    # US test procedures before and after 2019: 80 F / 60 % and 65 F / 60 % (pints a day; memory).
    cooler = (65 - 32) / 1.8
    few, many = (
        float(airborne.machine_l_per_day(at_80_f, (80 - 32) / 1.8, 60.0, cooler, 60.0, power)) for power in (1.6, 0.6)
    )
    assert few < at_65_f < many
    assert float(airborne.machine_l_per_day(at_80_f, (80 - 32) / 1.8, 60.0, cooler, 60.0, 0.65)) == pytest.approx(
        at_65_f, rel=0.05
    )


def test_drying_the_room_follows_its_balance() -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)
    now, wanted = (psychrolib.GetHumRatioFromRelHum(21.0, rh, 101325) for rh in (0.7, 0.45))
    air_kg = 28 / psychrolib.GetMoistAirVolume(21.0, now, 101325)
    machine, breath, holds = 8.0 / 24, 0.06, 4.0

    def balance(_: float, w: np.ndarray) -> np.ndarray:
        return (0.6 * air_kg * (now - w) + breath - machine * w / now) / (air_kg * holds)

    def reached(_: float, w: np.ndarray) -> float:
        return float(w[0] - wanted)

    solved = solve_ivp(balance, (0, 500), [now], events=reached, rtol=1e-10, atol=1e-12)
    found = airborne.hours_to_dry_air(28.0, 0.6, 21.0, 70.0, 45.0, 8.0, 24 * breath, holds)
    assert float(found) == pytest.approx(solved.t_events[0][0], rel=1e-4)
    assert np.isinf(airborne.hours_to_dry_air(28.0, 4.0, 21.0, 70.0, 45.0, 1.0))
    assert float(airborne.hours_to_dry_air(28.0, 0.6, 21.0, 40.0, 45.0, 8.0)) == 0.0


def test_what_cannot_be_is_refused_in_words() -> None:
    with pytest.raises(ValueError, match="air_changes_h must be a number above zero; read 0"):
        Source(1.0, 1.0).mg_m3(1.0, 28.0, 0.0)
    with pytest.raises(ValueError, match="grams must be a number, zero or more; read -1"):
        Source(-1.0, 1.0)
    with pytest.raises(KeyError):
        airborne.saturation_pa("methanol", 20.0)
