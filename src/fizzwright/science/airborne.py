"""The work room's air: alcohol vapour hanging in it, what a window lets out, and the water a dehumidifier must take.

One well-mixed room with so many air changes an hour, and for the air right at the bowl a second small box within it.
Masses are in grams, times in hours, vapour in mg/m3. Everything broadcasts; nothing is stepped, all forms are closed.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fizzwright.science.moisture import ATMOSPHERE_PA, humidity_ratio, vapour_pa
from fizzwright.science.neutralisation import GAS_CONSTANT_J_MOL_K
from fizzwright.science.transfer import GRAVITY_M_S2, STILL_AIR_M_S, WATER_G_MOL, ZERO_C_K, diffusivity_air_m2_s

Array = NDArray[np.float64]
Numbers = float | Array

MOLAR_MASS_G_MOL = {"isopropyl": 60.095, "ethanol": 46.068}
"""IUPAC 2021 abridged standard atomic weights."""
ANTOINE = {"isopropyl": (10.24268, 1580.92, -53.54), "ethanol": (10.33675, 1648.22, -42.232)}
"""log10(p / Pa) = A - B / (T + C), T in K, 8 to 100 and 3 to 96 C: The Properties of Gases and Liquids, 5th ed. 2001,
appendix A, as tabulated in the library chemicals."""
DISCHARGE = 0.61
"""Of a sharp-edged opening (BS 5925; memory)."""
WIND_THROUGH_ONE_SIDE = 0.025
"""Share of the wind's speed that passes an opening on one side only (BS 5925; memory)."""
DRY_AIR_J_KG_K = 287.042
WATER_TO_AIR = 1.607858
"""Molar mass of dry air over that of water (ASHRAE Handbook, Fundamentals, psychrometrics)."""
QUARTER_H = 0.25
SHIFT_H = 8.0

EQUATIONS: dict[str, str] = {
    "room": "V dC/dt = G(t) - n V C: what comes off less what the air changes carry away",
    "falling": "C = (m / V) (exp(-n t) - exp(-t / T)) / (1 - n T): m grams coming off ever slower with the time constant T",
    "even": "C = m / (T n V) (1 - exp(-n t)) while it lasts, then falling with exp(-n t)",
    "exposure": "integral of C dt = (grams off so far / V - C) / n (mass balance)",
    "ppm": "ppm = mg/m3 x R T / (p M) x 1000; at 25 C that is 24.45 / M",
    "near_field": "C near = C room + G / b, b = pi r^2 s: half the face of a half ball of radius r over the bowl times the "
    "random air speed s (two boxes, Nicas 1996)",
    "evaporation": "G = k A M p_s / (R T), k = 0.003 m/s x (D / D of water)^(2/3) in still air",
    "one_side_warmth": "Q = Cd / 3 x A sqrt(g h dT / T): one opening of area A and height h (BS 5925)",
    "one_side_wind": "Q = 0.025 A U (BS 5925)",
    "opening": "cm = 10 (n wanted - n shut) / (n a hand open - n shut), or its 2/3 power for a sash, whose area and height "
    "grow together; the larger of the two",
    "make_up": "water in = V n x dry air a m3 x (w of what leaks in - w wanted)",
    "machine": "litres a day = plate x (vapour pressure of the room / vapour pressure the plate names)^x",
    "hours_to_dry": "V d B dw/dt = n V d (w leak - w) + S - D w / w plate: hours = ln((w now - w end)/(w wanted - w end)) / r",
}


def _above_zero(name: str, value: Numbers) -> Array:
    found = np.asarray(value, dtype=float)
    if not np.all(np.isfinite(found) & (found > 0)):
        raise ValueError(f"{name} must be a number above zero; read {value!r}")
    return found


def _not_negative(name: str, value: Numbers) -> Array:
    found = np.asarray(value, dtype=float)
    if not np.all(np.isfinite(found) & (found >= 0)):
        raise ValueError(f"{name} must be a number, zero or more; read {value!r}")
    return found


def ppm_of(mg_m3: Numbers, g_mol: Numbers, room_c: Numbers = 25.0, pressure_pa: Numbers = ATMOSPHERE_PA) -> Array:
    """Parts of vapour in a million parts of air by volume; at 25 C and one atmosphere mg/m3 x 24.45 / M (NIOSH)."""
    kelvin = np.asarray(room_c, dtype=float) + ZERO_C_K
    return np.asarray(np.asarray(mg_m3) * GAS_CONSTANT_J_MOL_K * kelvin * 1000.0 / (pressure_pa * np.asarray(g_mol)))


def mg_m3_of(ppm: Numbers, g_mol: Numbers, room_c: Numbers = 25.0, pressure_pa: Numbers = ATMOSPHERE_PA) -> Array:
    """The other way round: mg/m3 of so many ppm."""
    return np.asarray(np.asarray(ppm) / ppm_of(1.0, g_mol, room_c, pressure_pa))


def saturation_pa(alcohol: str, room_c: Numbers) -> Array:
    """Vapour pressure of the pure alcohol in Pa; alcohol is a key of ANTOINE, KeyError otherwise."""
    a, b, c = ANTOINE[alcohol]
    return np.asarray(10.0 ** (a - b / (np.asarray(room_c, dtype=float) + ZERO_C_K + c)))


def evaporation_g_h(alcohol: str, area_m2: Numbers, room_c: Numbers, film: Numbers = 1.0) -> Array:
    """Grams an hour that a face wet with the alcohol gives off into still air; film: how many times faster than still."""
    g_mol = MOLAR_MASS_G_MOL[alcohol]
    ratio = diffusivity_air_m2_s(g_mol, room_c) / diffusivity_air_m2_s(WATER_G_MOL, room_c)
    velocity = STILL_AIR_M_S * ratio ** (2.0 / 3.0) * film
    kelvin = np.asarray(room_c, dtype=float) + ZERO_C_K
    g_m3 = saturation_pa(alcohol, room_c) * g_mol / (GAS_CONSTANT_J_MOL_K * kelvin)
    return np.asarray(3600.0 * velocity * np.asarray(area_m2) * g_m3)


@dataclass(frozen=True)
class Source:
    """Something that gives off vapour: so many grams in all, from `start_h` on. Fields broadcast with each other."""

    grams: Numbers
    lasts_h: Numbers
    """How long it goes on at an even rate; of a falling source, its time constant. 0: all at once."""
    start_h: Numbers = 0.0
    is_falling: bool = False
    """True when it comes off ever slower (an open bowl, a drying piece), False at an even rate (spraying)."""

    def __post_init__(self) -> None:
        """Refuse amounts and times that cannot be."""
        _not_negative("grams", self.grams)
        _not_negative("lasts_h", self.lasts_h)
        _not_negative("start_h", self.start_h)

    def _share_off(self, hours: Numbers) -> Array:
        since = np.maximum(np.asarray(hours, dtype=float) - self.start_h, 0.0)
        turns = since / np.maximum(self.lasts_h, 1e-9)
        return np.asarray(-np.expm1(-turns) if self.is_falling else np.minimum(turns, 1.0))

    def off_g(self, hours: Numbers) -> Array:
        """Grams that have come off by then."""
        return np.asarray(self.grams * self._share_off(hours))

    def rate_g_h(self, hours: Numbers) -> Array:
        """Grams an hour coming off at that moment."""
        since = np.asarray(hours, dtype=float) - self.start_h
        lasts = np.maximum(self.lasts_h, 1e-9)
        share = np.exp(-np.maximum(since, 0.0) / lasts) if self.is_falling else since < lasts
        return np.asarray(np.where(since >= 0, share * self.grams / lasts, 0.0))

    def mg_m3(self, hours: Numbers, volume_m3: Numbers, air_changes_h: Numbers) -> Array:
        """What of it hangs in the room's air then."""
        changes = _above_zero("air_changes_h", air_changes_h)
        since = np.maximum(np.asarray(hours, dtype=float) - self.start_h, 0.0)
        lasts = np.maximum(self.lasts_h, 1e-9)
        if self.is_falling:
            off = 1.0 / lasts
            # symmetric in the two rates, so that neither overflows nor equal ones divide by zero
            slow, apart = np.minimum(off, changes), np.abs(off - changes) * since
            held = off * since * np.exp(-slow * since) * _one_less_exp_over(apart)
        else:
            while_on = np.minimum(since, lasts)
            held = while_on / lasts * _one_less_exp_over(changes * while_on) * np.exp(-changes * (since - while_on))
        return np.asarray(1000.0 * self.grams / _above_zero("volume_m3", volume_m3) * held)


def _one_less_exp_over(x: Array) -> Array:
    """(1 - exp(-x)) / x, and 1 at 0."""
    return np.asarray(np.divide(-np.expm1(-x), x, out=np.ones_like(x), where=x > 0))


def room_mg_m3(sources: Sequence[Source], hours: Numbers, volume_m3: Numbers, air_changes_h: Numbers) -> Array:
    """Vapour in the well-mixed room at those hours; air changes an hour above zero."""
    parts = [source.mg_m3(hours, volume_m3, air_changes_h) for source in sources]
    return np.asarray(sum(parts, np.zeros(())))


def exposure_mg_h_m3(sources: Sequence[Source], hours: Numbers, volume_m3: Numbers, air_changes_h: Numbers) -> Array:
    """Concentration summed over time from the start up to those hours, mg h/m3."""
    off_g = sum((source.off_g(hours) for source in sources), np.zeros(()))
    hanging = room_mg_m3(sources, hours, volume_m3, air_changes_h)
    return np.asarray((1000.0 * off_g / volume_m3 - hanging) / air_changes_h)


def mean_mg_m3(
    sources: Sequence[Source], from_h: Numbers, lasts_h: float, volume_m3: Numbers, air_changes_h: Numbers
) -> Array:
    """Time-weighted average over `lasts_h` hours from `from_h` on: QUARTER_H and SHIFT_H are what limits are set for."""
    before = exposure_mg_h_m3(sources, from_h, volume_m3, air_changes_h)
    after = exposure_mg_h_m3(sources, np.asarray(from_h) + lasts_h, volume_m3, air_changes_h)
    return np.asarray((after - before) / lasts_h)


def exchange_m3_h(radius_m: Numbers, air_speed_m_s: Numbers) -> Array:
    """Air that changes places between the half ball over the bowl and the room: half its face times the air speed.

    Source: Nicas 1996 (memory). A still room has random speeds of some 0.06 m/s (Baldwin & Maynard 1998; memory).
    """
    return np.asarray(3600.0 * np.pi * np.asarray(radius_m) ** 2 * np.asarray(air_speed_m_s))


def near_mg_m3(far_mg_m3: Numbers, rate_g_h: Numbers, exchange: Numbers) -> Array:
    """Vapour at the bowl: the room's, and what it gives off over the air that passes it; settled within seconds."""
    return np.asarray(np.asarray(far_mg_m3) + 1000.0 * np.asarray(rate_g_h) / _above_zero("exchange", exchange))


MOST_AIR_CHANGES = 200.0
"""More than any window gives; what would need it is beyond airing."""


def least_air_changes(is_over: Callable[[Array], NDArray[np.bool_]], at_least: Numbers, steps: int = 30) -> Array:
    """The fewest air changes an hour at which `is_over` no longer holds, from `at_least` up; inf when none is enough.

    is_over: given air changes (shape of at_least), True where a limit is passed; more air never makes it worse.
    """
    low = np.log(_above_zero("at_least", at_least))
    high = np.full_like(low, np.log(MOST_AIR_CHANGES))
    fine_now, never = ~is_over(np.exp(low)), is_over(np.exp(high))
    for _ in range(steps):
        middle = (low + high) / 2
        over = is_over(np.exp(middle))
        low, high = np.where(over, middle, low), np.where(over, high, middle)
    return np.asarray(np.where(fine_now, at_least, np.where(never, np.inf, np.exp(high))))


def one_side_m3_h(
    width_m: Numbers, height_m: Numbers, difference_k: Numbers, wind_m_s: Numbers = 0.0, room_c: Numbers = 20.0
) -> Array:
    """Air through one open window in one wall, m3/h: by warmth or by wind, whichever moves more (BS 5925; memory)."""
    area = np.asarray(width_m, dtype=float) * height_m
    kelvin = np.asarray(room_c, dtype=float) + ZERO_C_K
    rising = np.sqrt(GRAVITY_M_S2 * np.asarray(height_m) * np.abs(difference_k) / kelvin)
    by_warmth, by_wind = DISCHARGE / 3.0 * area * rising, WIND_THROUGH_ONE_SIDE * area * np.asarray(wind_m_s)
    return np.asarray(3600.0 * np.maximum(by_warmth, by_wind))


HAND_CM = 10.0
"""A hand's width."""


def opening_cm(wanted_h: Numbers, shut_h: Numbers, hand_open_h: Numbers) -> Array:
    """How far to open the window for so many air changes an hour, from those it has shut and a hand's width open.

    The air through one opening goes with its area and the root of its height (BS 5925): a casement's gap grows in width
    only, a sash's in height, so with opening to the power 3/2. The larger of both is given, 0 where shut is enough.
    """
    if np.any(np.asarray(hand_open_h) <= shut_h):
        raise ValueError("a window a hand's width open must let in more air than a shut one")
    ratio = np.maximum((np.asarray(wanted_h, dtype=float) - shut_h) / (np.asarray(hand_open_h) - shut_h), 0.0)
    return np.asarray(HAND_CM * np.maximum(ratio, ratio ** (2.0 / 3.0)))


def dry_air_kg_m3(room_c: Numbers, ratio: Numbers, pressure_pa: Numbers = ATMOSPHERE_PA) -> Array:
    """Kilograms of dry air in a cubic metre of air of that humidity ratio (ASHRAE Handbook, Fundamentals)."""
    kelvin = np.asarray(room_c, dtype=float) + ZERO_C_K
    return np.asarray(pressure_pa / (DRY_AIR_J_KG_K * kelvin * (1.0 + WATER_TO_AIR * np.asarray(ratio))))


def make_up_l_per_day(
    volume_m3: Numbers,
    air_changes_h: Numbers,
    room_c: Numbers,
    leak_ratio: Numbers,
    wanted_pct: Numbers,
    pressure_pa: Numbers = ATMOSPHERE_PA,
) -> Array:
    """Litres of water a day to take out of the air that leaks in, to hold the room at `wanted_pct`; 0 when it is drier."""
    wanted = humidity_ratio(room_c, wanted_pct, pressure_pa)
    kg_air_h = np.asarray(volume_m3) * air_changes_h * dry_air_kg_m3(room_c, wanted, pressure_pa)
    return np.asarray(24.0 * kg_air_h * np.maximum(np.asarray(leak_ratio) - wanted, 0.0))


def machine_l_per_day(
    plate_l: Numbers,
    plate_c: Numbers,
    plate_pct: Numbers,
    room_c: Numbers,
    humidity_pct: Numbers,
    power: Numbers = 1.0,
) -> Array:
    """What a dehumidifier takes in this air, from what its plate names: less in air that holds less vapour.

    estimate: with the vapour pressure to a power near 1. When the United States moved the test from 80 to 65 F at 60 %,
    machines of 70, 50 and 30 pints became ones of 50, 35 and 22 (memory): a power of 0.65.
    """
    share = vapour_pa(room_c, humidity_pct) / vapour_pa(plate_c, plate_pct)
    return np.asarray(_not_negative("plate_l", plate_l) * share ** np.asarray(power))


def hours_to_dry_air(
    volume_m3: Numbers,
    air_changes_h: Numbers,
    room_c: Numbers,
    now_pct: Numbers,
    wanted_pct: Numbers,
    machine_now_l_per_day: Numbers,
    given_off_l_per_day: Numbers = 0.0,
    holds: Numbers = 1.0,
    pressure_pa: Numbers = ATMOSPHERE_PA,
) -> Array:
    """Hours until the machine has brought the room from one humidity to another; inf when it never gets there.

    What leaks in is as damp as the room now. The machine takes less as the air dries, in proportion. holds: how many
    times the air's own water walls, wood and boxes give off on the way. 0 when the room is dry enough already.
    """
    now = humidity_ratio(room_c, now_pct, pressure_pa)
    wanted = humidity_ratio(room_c, wanted_pct, pressure_pa)
    air_kg = np.asarray(volume_m3) * dry_air_kg_m3(room_c, now, pressure_pa)
    leak_kg_h = air_kg * air_changes_h
    per_ratio = np.asarray(machine_now_l_per_day) / 24.0 / np.maximum(now, 1e-12)
    end = (leak_kg_h * now + np.asarray(given_off_l_per_day) / 24.0) / (leak_kg_h + per_ratio)
    rate = (leak_kg_h + per_ratio) / (air_kg * holds)
    reaches = end < wanted
    ratio = np.divide(now - end, wanted - end, out=np.full(np.broadcast(end, wanted).shape, np.inf), where=reaches)
    return np.asarray(np.where(now <= wanted, 0.0, np.log(np.maximum(ratio, 1.0)) / rate))
