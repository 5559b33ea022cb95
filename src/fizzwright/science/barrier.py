"""Wrapping: how fast damp comes through a film, a jar or paper, and how long a piece keeps its fizz in it.

Films are rated in grams of water a square metre and day, with dry air on one side and damp on the other; most tables do
so at 38 C and 90 % humidity (ASTM E96, F1249). Pressures are in Pa. Everything broadcasts.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fizzwright.science.neutralisation import CO2_G_MOL, GAS_CONSTANT_J_MOL_K, water_vapour_pa
from fizzwright.science.transfer import STILL_AIR_M_S, WATER_G_MOL, ZERO_C_K

Array = NDArray[np.float64]
Numbers = float | Array

RATED_C, RATED_PCT = 38.0, 90.0
"""The air most tables of films are measured in, against dry air."""
SCALED_C, SCALED_PCT = 23.0, 50.0
"""The air the catalogue's fact `wvtr_temp` tells the share of the rated figure for."""
DAY_S = 86_400.0
MONTH_DAYS = 30.44

EQUATIONS: dict[str, str] = {
    "permeance": "g/m2/day/Pa = rated g/m2/day / (0.90 x saturation pressure at 38 C), times exp(-E/R (1/T - 1/311.15))",
    "air_film": "1 / through all = 1 / through the wrap + 1 / through the still air on it; air: k M / (R T)",
    "gain": "g a day = permeance x area x (vapour pressure of the room - that over the piece)",
    "days": "days = water bound without harm / gain while the piece dampens + water that costs the share / gain at its "
    "danger humidity",
    "water_for_share": "g water = share x g CO2 of the piece / (g CO2 that a gram of water sets free)",
    "desiccant": "g = (water in the air of the pack + water in the pack + permeance x area x difference x days) / g a gram "
    "takes up (the sum of DIN 55474)",
}


def drop_pa(celsius: Numbers, humidity_pct: Numbers) -> Array:
    """Vapour pressure of air in Pa against dry air."""
    return np.asarray(np.asarray(water_vapour_pa(celsius)) * np.asarray(humidity_pct) / 100.0)


def energy_j_mol(scaled_share: Numbers) -> Array:
    """Activation energy of a film's permeance, from the share of its rated figure found at 23 C and 50 %.

    What of that share the smaller difference of vapour pressure does not explain is the film's own answer to cold.
    """
    own = np.asarray(scaled_share) * drop_pa(RATED_C, RATED_PCT) / drop_pa(SCALED_C, SCALED_PCT)
    inverse = 1.0 / (SCALED_C + ZERO_C_K) - 1.0 / (RATED_C + ZERO_C_K)
    return np.asarray(-GAS_CONSTANT_J_MOL_K * np.log(own) / inverse)


def permeance_g_m2_day_pa(rated_g_m2_day: Numbers, celsius: Numbers, energy: Numbers = 0.0) -> Array:
    """What a film lets through for each Pa of difference at a temperature, from its figure at 38 C and 90 %."""
    inverse = 1.0 / (np.asarray(celsius, dtype=float) + ZERO_C_K) - 1.0 / (RATED_C + ZERO_C_K)
    warm = np.exp(-np.asarray(energy) / GAS_CONSTANT_J_MOL_K * inverse)
    return np.asarray(np.asarray(rated_g_m2_day) / drop_pa(RATED_C, RATED_PCT) * warm)


def air_film_g_m2_day_pa(celsius: Numbers) -> Array:
    """What still air lets through to a bare piece, for each Pa: the most any wrap can."""
    kelvin = np.asarray(celsius, dtype=float) + ZERO_C_K
    return np.asarray(STILL_AIR_M_S * WATER_G_MOL / (GAS_CONSTANT_J_MOL_K * kelvin) * DAY_S)


def through_both(wrap: Numbers, air: Numbers) -> Array:
    """Wrap and still air one behind the other; a wrap of inf is none, of 0 lets nothing in."""
    wrap_, air_ = np.broadcast_arrays(np.asarray(wrap, dtype=float), np.asarray(air, dtype=float))
    resisted = np.divide(1.0, wrap_, out=np.full(wrap_.shape, np.inf), where=wrap_ > 0) + 1.0 / air_
    return np.asarray(1.0 / resisted)


def gain_g_day(permeance: Numbers, area_m2: Numbers, room_pa: Numbers, piece_pa: Numbers) -> Array:
    """Grams of water a day that come in; 0 where the room is no damper than the piece."""
    return np.asarray(permeance * np.asarray(area_m2) * np.maximum(np.asarray(room_pa) - piece_pa, 0.0))


def water_for_share_g(share: Numbers, co2_g: Numbers, co2_per_water: Numbers) -> Array:
    """Grams of water that cost a share of the fizz, over what the piece binds without harm.

    estimate: water dissolves acid and carbonate, and what dissolves reacts. A gram of water dissolves some 1.6 g of
    citric acid, which frees 1.1 g of carbon dioxide and makes 0.45 g of water; citrate binds two thirds of that in its
    crystals (the dihydrate), the rest goes on. That comes to 1.3 g of gas for a gram of water: `co2_per_water`.
    """
    return np.asarray(np.asarray(share) * co2_g / np.asarray(co2_per_water))


CITRIC_G_MOL = 192.123
"""IUPAC 2021 abridged standard atomic weights."""
CITRIC_DISSOLVES = 1.6
"""Grams of citric acid that a gram of water dissolves at 25 C (catalogue, citric_acid: 162 g in 100 ml)."""
FREED_FROM_CRYSTALS = 1.0 / 3.0
"""Of the three waters a molecule of citric acid makes, citrate keeps two in its crystals (trisodium citrate dihydrate)."""


def co2_per_water() -> float:
    """Grams of carbon dioxide that a gram of water costs, with the water that the reaction makes anew; see above."""
    moles = CITRIC_DISSOLVES / CITRIC_G_MOL
    again = moles * 3.0 * WATER_G_MOL * FREED_FROM_CRYSTALS
    return moles * 3.0 * CO2_G_MOL / (1.0 - again)


def days_until(bound_g: Numbers, water_g: Numbers, dampening_g_day: Numbers, danger_g_day: Numbers) -> Array:
    """Days until the piece has gained what it binds without harm and then what costs the share; inf when it never does."""
    first, then, bound, water = np.broadcast_arrays(
        *(np.asarray(x, dtype=float) for x in (dampening_g_day, danger_g_day, bound_g, water_g))
    )
    days = np.full(first.shape, np.inf)
    comes = (first > 0) & (then > 0)
    days[comes] = bound[comes] / first[comes] + water[comes] / then[comes]
    return days


def desiccant_g(water_g: Numbers, takes_up_g_g: Numbers) -> Array:
    """Grams of desiccant for the water that would come in, from what a gram of it takes up at the humidity to hold."""
    return np.asarray(np.asarray(water_g) / np.asarray(takes_up_g_g))
