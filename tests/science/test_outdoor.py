"""Outdoor air and the room that follows it."""

from __future__ import annotations

import numpy as np
import psychrolib
import pytest
from scipy.integrate import solve_ivp

from fizzwright.science.outdoor import (
    DRY_AIR_KG_M3,
    humidity_from_dew_point_pct,
    outdoor_ratio,
    over_water_pa,
    room_ratio,
)


@pytest.mark.parametrize(("air_c", "pa"), [(0.0, 611.21), (-5.0, 421.5), (-10.0, 286.5), (-20.0, 125.4), (-30.0, 50.9)])
def test_vapour_over_supercooled_water(air_c: float, pa: float) -> None:
    """Smithsonian Meteorological Tables, table 94: saturation over water in frost (from memory, to half a percent)."""
    assert float(over_water_pa(air_c)) == pytest.approx(pa, rel=0.006)


def test_above_frost_it_is_the_handbooks_air() -> None:
    """psychrolib (ASHRAE Handbook, Fundamentals) for humidity ratio and dew point; the two meet at 0 °C."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    for air_c, humidity in ((2.0, 95.0), (15.0, 60.0), (30.0, 40.0)):
        expected = psychrolib.GetHumRatioFromRelHum(air_c, humidity / 100, 101_325.0)
        assert float(outdoor_ratio(air_c, humidity)) == pytest.approx(expected, rel=2e-5)
        dew = psychrolib.GetTDewPointFromRelHum(air_c, humidity / 100)
        if dew > 0:
            assert float(humidity_from_dew_point_pct(air_c, dew)) == pytest.approx(humidity, abs=0.05)
    assert float(over_water_pa(-1e-6)) == pytest.approx(float(over_water_pa(0.0)), rel=1e-3)


def test_the_room_follows_as_the_box_of_the_textbook() -> None:
    """dw/dt = n (w_out - w) + g / (rho V), solved by scipy with the outdoor air steady through each hour."""
    outdoors = 0.006 + 0.003 * np.sin(np.arange(24) / 3.0)
    changes, gain, volume = 0.6, 0.06, 28.0

    def slope(hours: float, ratio: np.ndarray) -> np.ndarray:
        source = gain / (DRY_AIR_KG_M3 * volume)
        return np.asarray(changes * (outdoors[min(int(hours) + 1, 23)] - ratio) + source)

    ours = room_ratio(outdoors, changes, gain, volume)
    now = np.array([ours[0]])
    for hour in range(23):
        now = solve_ivp(slope, (hour, hour + 1 - 1e-9), now, rtol=1e-9, atol=1e-13).y[:, -1]
        assert ours[hour + 1] == pytest.approx(float(now[0]), rel=1e-6)


def test_after_a_gap_the_room_begins_anew() -> None:
    room = room_ratio(np.array([0.005, 0.009, np.nan, 0.008, 0.008]), 0.5)
    assert room[0] == 0.005 and 0.005 < room[1] < 0.009
    assert np.isnan(room[2]) and room[3] == room[4] == 0.008
    with pytest.raises(ValueError, match="air changes"):
        room_ratio(np.array([0.005]), 0.0)
