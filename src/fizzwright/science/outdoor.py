"""Outdoor air and the room it blows through: humidity as weather services tell it, and how the room follows.

Weather services tell humidity and dew point over water, also in frost (WMO-No. 8, Guide to Instruments and Methods of
Observation, annex 4.B; memory), where psychrolib speaks of ice; so below zero the vapour has an equation of its own here.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fizzwright.science.moisture import ATMOSPHERE_PA, checked_humidity_pct, checked_temperature_c, saturation_pa

Array = NDArray[np.float64]
Numbers = float | Array

EQUATIONS = {
    "over_water": "saturation over water below 0 °C = 610.94 exp(17.625 t / (243.04 + t)) Pa",
    "humidity": "relative humidity = 100 x saturation at the dew point / saturation at the temperature, both over water",
    "room": "room after an hour = outdoors + (room before - outdoors) x exp(-air changes), in grams of water a kg of dry air",
}
"""over_water: Alduchov and Eskridge 1996, J. Appl. Meteor. 35, 601 (memory). room: a well-mixed box, solved exactly hour by hour."""
WATER_TO_AIR = 0.621945
"""Molar mass of water over that of dry air (ASHRAE Handbook, Fundamentals, as in psychrolib)."""
DRY_AIR_KG_M3 = 1.2
"""Of a room, near enough: 1.18 at 25 °C, 1.25 at 10 °C."""


def over_water_pa(air_c: Numbers) -> Array:
    """Vapour pressure over water in Pa, supercooled below 0 °C; shape of the input."""
    celsius = checked_temperature_c(air_c)
    frost = np.minimum(celsius, 0.0)
    below = 610.94 * np.exp(17.625 * frost / (243.04 + frost))
    return np.asarray(np.where(celsius >= 0.0, saturation_pa(celsius), below))


def humidity_from_dew_point_pct(air_c: Numbers, dew_point_c: Numbers) -> Array:
    """Relative humidity in percent as weather services tell it, at most 100; temperature and dew point broadcast."""
    return np.asarray(np.minimum(100.0 * over_water_pa(dew_point_c) / over_water_pa(air_c), 100.0))


def outdoor_ratio(air_c: Numbers, humidity_pct: Numbers, pressure_pa: float = ATMOSPHERE_PA) -> Array:
    """Kilograms of water to a kilogram of dry air, of outdoor air as weather services tell it."""
    vapour = over_water_pa(air_c) * checked_humidity_pct(humidity_pct) / 100.0
    return np.asarray(WATER_TO_AIR * vapour / (pressure_pa - vapour))


def room_ratio(outdoors: Array, air_changes_per_h: float, gain_kg_h: Numbers = 0.0, room_m3: float = 30.0) -> Array:
    """Humidity ratio of a room hour by hour, from that of the air it takes in; shape (hours,).

    The room begins as the air outdoors, and again after hours that hold nothing (nan, which stay nan). `gain_kg_h` is the
    water given off in it, by people say. ValueError without any air change.
    """
    if not air_changes_per_h > 0:
        raise ValueError(f"air changes: read {air_changes_per_h:g} an hour; a room that follows the weather has some")
    source = np.asarray(gain_kg_h, dtype=float) / (DRY_AIR_KG_M3 * room_m3 * air_changes_per_h)
    towards = np.asarray(outdoors, dtype=float) + source
    keeps = float(np.exp(-air_changes_per_h))
    room = np.empty(towards.shape)
    now = float("nan")
    for hour, target in enumerate(towards.tolist()):
        now = target if now != now else target + (now - target) * keeps
        room[hour] = now
    return room
