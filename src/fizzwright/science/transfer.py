"""How readily a scent leaves water or a film of oil, and how fast: vapour pressure, Henry's law, two films.

Temperatures are in degrees Celsius, molar masses in g/mol. Everything broadcasts.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fizzwright.science.neutralisation import GAS_CONSTANT_J_MOL_K, water_vapour_pa

Array = NDArray[np.float64]
Numbers = float | Array

STANDARD_K = 298.15
ZERO_C_K = 273.15
GRAVITY_M_S2 = 9.80665
ATMOSPHERE_PA = 101_325.0
AIR_G_MOL = 28.965
"""Dry air (US Standard Atmosphere 1976)."""
WATER_G_MOL = 18.015
STILL_AIR_M_S = 3.0e-3
"""Gas-side velocity of water vapour over water when nothing drives the air: the intercept of the wind relation in
Schwarzenbach, Gschwend & Imboden, Environmental Organic Chemistry, 2nd ed. 2003, ch. 20 (basis: memory)."""

EQUATIONS: dict[str, str] = {
    "vapour_pressure_pa": "p = p25 exp(-dH/R (1/T - 1/298.15)), dH = 70.0 - 3.82 ln(p25 / Pa) kJ/mol "
    "(Goss & Schwarzenbach 1999)",
    "henry_at": "H = H25 exp(-B (1/T - 1/298.15)), B the slope of the solubility (van 't Hoff)",
    "gas_side_m_s": "kG = 0.15 D (g d / (v D))^(1/3), d the relative difference of air density between water and room "
    "(Lloyd & Moran 1974), never below still air 0.003 m/s (D / D of water)^(2/3)",
    "water_side_m_s": "kL = 0.4 (e v)^(1/4) Sc^(-1/2), e the stirring in W/kg (Lamont & Scott 1970)",
    "overall_m_s": "1/K = 1/kL + 1/(Kaw kG) (Lewis & Whitman 1924)",
}


def vapour_pressure_pa(at_25c_pa: Numbers, celsius: Numbers) -> Array:
    """Vapour pressure in Pa at a temperature near 25 C, from the one at 25 C alone.

    Source: heat of vaporisation from the vapour pressure, Goss & Schwarzenbach 1999 (basis: memory). Alcohols such as
    ethanol that cling together run some ten percent higher at bath warmth.
    """
    p25 = np.asarray(at_25c_pa, dtype=float)
    heat_j = 1000.0 * (70.0 - 3.82 * np.log(p25))
    inverse = 1.0 / (np.asarray(celsius, dtype=float) + ZERO_C_K) - 1.0 / STANDARD_K
    return np.asarray(p25 * np.exp(-heat_j / GAS_CONSTANT_J_MOL_K * inverse))


def henry_at(at_25c: Numbers, slope_k: Numbers, celsius: Numbers) -> Array:
    """Henry constant (pressure over concentration, any unit) at a temperature; slope_k is d ln(solubility)/d(1/T)."""
    inverse = 1.0 / (np.asarray(celsius, dtype=float) + ZERO_C_K) - 1.0 / STANDARD_K
    return np.asarray(np.asarray(at_25c, dtype=float) * np.exp(-np.asarray(slope_k, dtype=float) * inverse))


def air_over_water(henry_pa_m3_mol: Numbers, celsius: Numbers) -> Array:
    """Dimensionless Henry constant Kaw = H / (R T): concentration in air over concentration in water."""
    return np.asarray(henry_pa_m3_mol) / (GAS_CONSTANT_J_MOL_K * (np.asarray(celsius) + ZERO_C_K))


def water_viscosity_pa_s(celsius: Numbers) -> Array:
    """Viscosity of water: 2.414e-5 x 10^(247.8 / (T - 140)), T in K (Al-Shemmeri 2012; within 2.5 % from 0 to 100 C)."""
    return np.asarray(2.414e-5 * 10.0 ** (247.8 / (np.asarray(celsius, dtype=float) + ZERO_C_K - 140.0)))


def diffusivity_water_m2_s(molar_mass_g_mol: Numbers, celsius: Numbers) -> Array:
    """Diffusivity in water: 2.7e-4 / M^0.71 cm2/s at 25 C (Schwarzenbach 2003, fig. 18.10; memory), as T over viscosity."""
    kelvin = np.asarray(celsius, dtype=float) + ZERO_C_K
    warm = kelvin / STANDARD_K * water_viscosity_pa_s(25.0) / water_viscosity_pa_s(celsius)
    return np.asarray(2.7e-8 / np.asarray(molar_mass_g_mol, dtype=float) ** 0.71 * warm)


def diffusivity_air_m2_s(molar_mass_g_mol: Numbers, celsius: Numbers) -> Array:
    """Diffusivity in air: 1.55 / M^0.65 cm2/s at 25 C (Schwarzenbach 2003, fig. 18.9; memory), growing as T^1.75."""
    kelvin = np.asarray(celsius, dtype=float) + ZERO_C_K
    return np.asarray(1.55e-4 / np.asarray(molar_mass_g_mol, dtype=float) ** 0.65 * (kelvin / STANDARD_K) ** 1.75)


def _moist_air_kg_m3(celsius: Array, vapour_pa: Array) -> Array:
    grams = (ATMOSPHERE_PA - vapour_pa) * AIR_G_MOL + vapour_pa * WATER_G_MOL
    return np.asarray(grams / 1000.0 / (GAS_CONSTANT_J_MOL_K * (celsius + ZERO_C_K)))


def gas_side_m_s(molar_mass_g_mol: Numbers, water_c: Numbers, room_c: Numbers, humidity_pct: Numbers) -> Array:
    """Velocity through the air film over a tub in m/s: warm damp air rises from the water and takes the scent along.

    Source: natural convection over a warm plate, Lloyd & Moran 1974, with heat and mass transfer alike (memory).
    """
    water, room = np.asarray(water_c, dtype=float), np.asarray(room_c, dtype=float)
    over = _moist_air_kg_m3(water, np.asarray(water_vapour_pa(water)))
    around = _moist_air_kg_m3(room, np.asarray(water_vapour_pa(room)) * np.asarray(humidity_pct) / 100.0)
    lighter = np.maximum(around / over - 1.0, 0.0)
    film_c = (water + room) / 2
    kelvin = film_c + ZERO_C_K
    viscosity_m2_s = 1.458e-6 * kelvin**1.5 / (kelvin + 110.4) / ((over + around) / 2)
    diffusivity = diffusivity_air_m2_s(molar_mass_g_mol, film_c)
    rising = 0.15 * diffusivity * (GRAVITY_M_S2 * lighter / (viscosity_m2_s * diffusivity)) ** (1.0 / 3.0)
    still = STILL_AIR_M_S * (diffusivity / diffusivity_air_m2_s(WATER_G_MOL, film_c)) ** (2.0 / 3.0)
    return np.asarray(np.maximum(rising, still))


def water_side_m_s(molar_mass_g_mol: Numbers, celsius: Numbers, stirring_w_kg: Numbers) -> Array:
    """Velocity through the water film in m/s from how much the water is stirred (small eddies, Lamont & Scott 1970)."""
    viscosity_m2_s = water_viscosity_pa_s(celsius) / 993.0  # the density of bath water, good to half a percent
    schmidt = viscosity_m2_s / diffusivity_water_m2_s(molar_mass_g_mol, celsius)
    return np.asarray(0.4 * (np.asarray(stirring_w_kg) * viscosity_m2_s) ** 0.25 / np.sqrt(schmidt))


def overall_m_s(water_side: Numbers, gas_side: Numbers, kaw: Numbers) -> Array:
    """Both films together, as a velocity on the water's side, m/s."""
    return np.asarray(1.0 / (1.0 / np.asarray(water_side) + 1.0 / (np.asarray(kaw) * np.asarray(gas_side))))
