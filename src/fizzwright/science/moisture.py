"""Humid air: what two readings tell about a room, by psychrolib (ASHRAE Handbook, Fundamentals), wrapped once here.

Temperatures are in degrees Celsius, humidity in percent, pressures in Pa, humidity ratios in kg of water to a kg of dry
air. Everything broadcasts; readings nobody can have (below 0 %, above 100 %, a room at 72 degrees) are a ValueError that
says what was read.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import psychrolib
from numpy.typing import NDArray

Array = NDArray[np.float64]
Numbers = float | Array

ATMOSPHERE_PA = 101_325.0
COLDEST_C, WARMEST_C = -40.0, 50.0
"""What air in and around a workshop can be; a warmer reading is in Fahrenheit, or a slip."""

psychrolib.SetUnitSystem(psychrolib.SI)


def _each(function: Callable[..., float], *values: Numbers) -> Array:
    """One of psychrolib's functions over arrays of any shapes that broadcast."""
    return np.asarray(np.vectorize(function, otypes=[float])(*values))


def checked_temperature_c(room_c: Numbers) -> Array:
    """The temperatures, when air can have them; otherwise ValueError, which asks whether Fahrenheit was meant."""
    found = np.asarray(room_c, dtype=float)
    bad = found[~((found >= COLDEST_C) & (found <= WARMEST_C))]
    if bad.size:
        worst = float(bad.flat[0])
        asked = f" Is that Fahrenheit? It would be {(worst - 32) / 1.8:.0f} °C." if WARMEST_C < worst <= 122 else ""
        raise ValueError(f"read {worst:g} °C; air here has {COLDEST_C:g} to {WARMEST_C:g} °C.{asked}")
    return found


def checked_humidity_pct(humidity_pct: Numbers) -> Array:
    """The relative humidities, when they lie from 0 to 100; otherwise ValueError."""
    found = np.asarray(humidity_pct, dtype=float)
    bad = found[~((found >= 0) & (found <= 100))]
    if bad.size:
        raise ValueError(f"read {float(bad.flat[0]):g} %; relative humidity is 0 to 100 %.")
    return found


def saturation_pa(room_c: Numbers) -> Array:
    """Vapour pressure of saturated air in Pa, over ice below 0 C."""
    return _each(psychrolib.GetSatVapPres, checked_temperature_c(room_c))


def vapour_pa(room_c: Numbers, humidity_pct: Numbers) -> Array:
    """Vapour pressure of the air in Pa."""
    return np.asarray(saturation_pa(room_c) * checked_humidity_pct(humidity_pct) / 100.0)


def vapour_pressure_deficit_pa(room_c: Numbers, humidity_pct: Numbers) -> Array:
    """Vapour pressure missing to saturation, Pa."""
    return np.asarray(saturation_pa(room_c) * (1.0 - checked_humidity_pct(humidity_pct) / 100.0))


def humidity_ratio(room_c: Numbers, humidity_pct: Numbers, pressure_pa: Numbers = ATMOSPHERE_PA) -> Array:
    """Kilograms of water vapour to a kilogram of dry air."""
    humidity = checked_humidity_pct(humidity_pct) / 100.0
    return _each(psychrolib.GetHumRatioFromRelHum, checked_temperature_c(room_c), humidity, pressure_pa)


def dew_point_c(room_c: Numbers, humidity_pct: Numbers) -> Array:
    """The temperature at which this air begins to drip; at 0 % there is none, and the floor of the library stands."""
    share = checked_humidity_pct(humidity_pct) / 100.0
    return _each(psychrolib.GetTDewPointFromRelHum, checked_temperature_c(room_c), share)


def wet_bulb_c(room_c: Numbers, humidity_pct: Numbers, pressure_pa: Numbers = ATMOSPHERE_PA) -> Array:
    """What a thermometer in a wet sleeve shows in moving air."""
    humidity = checked_humidity_pct(humidity_pct) / 100.0
    return _each(psychrolib.GetTWetBulbFromRelHum, checked_temperature_c(room_c), humidity, pressure_pa)


def humidity_from_ratio(room_c: Numbers, ratio: Numbers, pressure_pa: Numbers = ATMOSPHERE_PA) -> Array:
    """Relative humidity in percent of air of this humidity ratio; at most 100, as the rest drips out."""
    found = _each(psychrolib.GetRelHumFromHumRatio, checked_temperature_c(room_c), ratio, pressure_pa)
    return np.asarray(np.minimum(100.0 * found, 100.0))
