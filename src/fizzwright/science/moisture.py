"""Humid air: what two readings tell about a room, by psychrolib (ASHRAE Handbook, Fundamentals), wrapped once here.

Temperatures are in degrees Celsius, humidity in percent, pressures in Pa, humidity ratios in kg of water to a kg of dry
air. Everything broadcasts; readings nobody can have (below 0 %, above 100 %, a room at 72 degrees) are a ValueError that
says what was read. Below the psychrometrics stands what such air does to powders: the humidity from which they melt away
in it, and how fast they take up its water.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import psychrolib
from numpy.typing import NDArray

from fizzwright.science.neutralisation import GAS_CONSTANT_J_MOL_K
from fizzwright.science.transfer import STILL_AIR_M_S, WATER_G_MOL, ZERO_C_K

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


@dataclass(frozen=True, slots=True)
class Air:
    """Humid air, told in every way; all arrays of one shape."""

    room_c: Array
    humidity_pct: Array
    dew_point_c: Array
    wet_bulb_c: Array
    humidity_ratio: Array
    vapour_pa: Array
    vapour_g_m3: Array
    """Grams of water in a cubic metre."""
    enthalpy_kj_kg: Array
    """To a kilogram of dry air, counted from dry air and water at 0 C."""
    density_kg_m3: Array
    volume_m3_kg: Array
    """Cubic metres to a kilogram of dry air."""


READINGS = ("room_c", "humidity_pct", "dew_point_c", "wet_bulb_c", "humidity_ratio")


def air(*, pressure_pa: Numbers = ATMOSPHERE_PA, **readings: Numbers) -> Air:
    """The air from any two of room_c, humidity_pct, dew_point_c, wet_bulb_c and humidity_ratio; all broadcast.

    Dew point and humidity ratio tell the same thing twice, so one of the two needs another beside it. Without room_c the
    temperature is looked for between the coldest and the warmest air can be. ValueError when the readings are not two of
    these, or when no air has both.
    """
    if len(readings) != 2 or not set(readings) <= set(READINGS):
        raise ValueError(f"air is told by two of {', '.join(READINGS)}; read {', '.join(readings) or 'none'}")
    if set(readings) == {"dew_point_c", "humidity_ratio"}:
        raise ValueError("dew point and humidity ratio say the same; give the temperature or the humidity beside one")
    wide = dict(
        zip(readings, np.broadcast_arrays(*(np.asarray(v, dtype=float) for v in readings.values())), strict=True)
    )
    if "humidity_pct" in wide:
        checked_humidity_pct(wide["humidity_pct"])
    for name in ("dew_point_c", "wet_bulb_c"):
        if name in wide:
            checked_temperature_c(wide[name])
    if "humidity_ratio" in wide and not np.all(wide["humidity_ratio"] >= 0):
        raise ValueError(f"read a humidity ratio of {float(np.min(wide['humidity_ratio'])):g}; it is 0 or more")
    room = checked_temperature_c(wide["room_c"]) if "room_c" in wide else _temperature_of(wide, pressure_pa)
    other = next(name for name in wide if name != "room_c")
    ratio = _ratio_of(other, wide[other], room, pressure_pa)
    most = _each(psychrolib.GetSatHumRatio, room, pressure_pa)
    if np.any((ratio < -1e-9) | (ratio > most * (1 + 1e-6) + 1e-12)):
        raise ValueError(
            "no air has both readings: the dew point and the wet bulb lie at or below the temperature of the air"
        )
    ratio = np.clip(ratio, 0.0, most)
    vapour = _each(psychrolib.GetVapPresFromHumRatio, ratio, pressure_pa)
    humidity = np.asarray(np.clip(100.0 * vapour / saturation_pa(room), 0.0, 100.0))
    return Air(
        room,
        humidity,
        dew_point_c(room, humidity),
        wet_bulb_c(room, humidity, pressure_pa),
        np.asarray(ratio),
        vapour,
        vapour_g_m3(room, vapour),
        _each(psychrolib.GetMoistAirEnthalpy, room, ratio) / 1000.0,
        _each(psychrolib.GetMoistAirDensity, room, ratio, pressure_pa),
        _each(psychrolib.GetMoistAirVolume, room, ratio, pressure_pa),
    )


def _ratio_of(name: str, value: Array, room: Array, pressure_pa: Numbers) -> Array:
    """Humidity ratio of air at a temperature, from one other reading; the wet bulb may come out below zero."""
    if name == "humidity_pct":
        return humidity_ratio(room, value, pressure_pa)
    if name == "humidity_ratio":
        return value
    if name == "dew_point_c":
        return _each(psychrolib.GetHumRatioFromVapPres, saturation_pa(value), pressure_pa)
    if np.any(value > room):
        raise ValueError("no air has both readings: a wet bulb shows at most the temperature of the air")
    saturated = _each(psychrolib.GetSatHumRatio, value, pressure_pa)
    # the balance psychrolib uses; written out because its own function hides readings no air can have
    over_water = ((2501.0 - 2.326 * value) * saturated - 1.006 * (room - value)) / (
        2501.0 + 1.86 * room - 4.186 * value
    )
    over_ice = ((2830.0 - 0.24 * value) * saturated - 1.006 * (room - value)) / (2830.0 + 1.86 * room - 2.1 * value)
    return np.asarray(np.where(value >= 0, over_water, over_ice))


def _temperature_of(wide: dict[str, Array], pressure_pa: Numbers) -> Array:
    """The temperature at which two other readings agree, by halving."""
    (one, first), (two, second) = wide.items()
    shape = np.broadcast_shapes(first.shape, np.shape(pressure_pa))
    floor = np.full(shape, COLDEST_C)
    for name, value in wide.items():
        if name in ("dew_point_c", "wet_bulb_c"):
            floor = np.maximum(floor, value)
    low, high = floor, np.full(shape, WARMEST_C)

    def apart(room: Array) -> Array:
        return _ratio_of(one, first, room, pressure_pa) - _ratio_of(two, second, room, pressure_pa)

    at_low, at_high = apart(low), apart(high)
    if np.any(at_low * at_high > 0):
        raise ValueError(f"no air between {COLDEST_C:g} and {WARMEST_C:g} °C has both readings: {one} and {two}")
    for _ in range(60):
        middle = (low + high) / 2.0
        same = apart(middle) * at_low > 0
        low, high = np.where(same, middle, low), np.where(same, high, middle)
    return np.asarray((low + high) / 2.0)


def vapour_g_m3(room_c: Numbers, vapour_pressure_pa: Numbers) -> Array:
    """Grams of water vapour in a cubic metre of air, as an ideal gas."""
    kelvin = np.asarray(room_c, dtype=float) + ZERO_C_K
    return np.asarray(np.asarray(vapour_pressure_pa) * WATER_G_MOL / (GAS_CONSTANT_J_MOL_K * kelvin))


def mutual_deliquescence_pct(critical_pct: Numbers) -> Array:
    """Humidity from which a mixture of soluble materials takes up water, from those of its members on the last axis.

    Ross's product of water activities (Ross 1975, Food Technology 29(3):26; memory): each solute lowers the activity as if
    it were alone. True for sugars and acids; salts, which hold water back from each other, melt a good deal higher, so for
    them the product is the lowest it can be. Never above the lowest member.
    """
    members = checked_humidity_pct(critical_pct)
    if members.ndim == 0 or members.shape[-1] == 0:
        raise ValueError("a mixture has at least one member on the last axis")
    return np.asarray(100.0 * np.prod(members / 100.0, axis=-1))


def uptake_g_s(
    room_c: Numbers,
    humidity_pct: Numbers,
    surface_pct: Numbers,
    area_m2: Numbers,
    air_film_m_s: Numbers = STILL_AIR_M_S,
) -> Array:
    """Water a surface takes from the air (gives off, below zero) in g/s: air film x area x difference of vapour density.

    surface_pct is the humidity right at the surface: that over the saturated film, or 100 over plain water.
    """
    gap = (checked_humidity_pct(humidity_pct) - checked_humidity_pct(surface_pct)) / 100.0
    full = vapour_g_m3(room_c, saturation_pa(room_c))
    return np.asarray(np.asarray(air_film_m_s) * np.asarray(area_m2) * full * gap)
