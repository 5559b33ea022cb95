"""What makes a squeezed powder hold: liquid in the pores, drawn into rings where grains touch.

A mix wants a share of its pores wet, counted as water: a liquid that pulls less and dissolves less counts for less. What
is short of that is the binder. Volumes are in millilitres, masses in grams. Everything broadcasts.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Numbers = float | Array

WATER_G_ML, ALCOHOL_G_ML = 0.997, 0.785
"""At 25 C (CRC Handbook; memory); ethanol and 2-propanol differ by less than one in the last place."""
OIL_MN_M = 32.0
"""Surface tension of plant oils at room warmth: 31 to 34 mN/m (memory)."""
ALCOHOL_PCT = np.array([0.0, 5.0, 10.0, 20.0, 30.0, 40.0, 50.0, 60.0, 70.0, 80.0, 90.0, 100.0])
SURFACE_MN_M = {
    "ethanol": np.array([72.0, 56.0, 47.5, 38.0, 33.0, 30.2, 28.0, 26.2, 25.0, 23.8, 22.7, 21.8]),
    "isopropyl": np.array([72.0, 49.6, 40.4, 30.6, 26.8, 25.3, 24.3, 23.5, 22.7, 22.1, 21.7, 21.2]),
}
"""mN/m at 25 C by percent of alcohol by mass in water (Vazquez 1995; memory)."""

EQUATIONS: dict[str, str] = {
    "pore_ml": "pores = solids (1 / solid fraction - 1)",
    "worth_ml_g": "worth of a gram = its ml of water x 1 + its ml of alcohol x their worth + the rest x its worth",
    "wanted_ml": "wanted = pores x wetness; the liquids already there and the damp of the air count towards it",
    "damp_share": "share of the want that the air's damp meets = (humidity - full) / (none - full), 0 to 1",
    "still_wanted_ml": "still wanted = max(0, wanted (1 - damp) - sum of liquids x worth)",
    "left_g": "left = put in x exp(-rate x minutes / put in): it goes ever slower",
    "put_in_g": "put in = r t / W(r t / wanted), W Lambert's: so much that the wanted is left after t minutes",
    "next_ml": "next = half of what is still short; once nothing is short, a third of the way to pasty",
    "dry_ml": "pores to add = excess / wetness",
    "ring_ml": "V = 2 pi R^3 (1/cos b - 1)^2 (1 - (pi/2 - b) tan b): the ring between two touching balls, filled to the "
    "angle b (Fisher 1926)",
    "ring_saturation": "S = k/2 x ring / ball x solid fraction / (1 - solid fraction), k = pi / (1 - solid fraction) touches",
    "ring_strength_kpa": "strength = 9/8 x solid fraction / (1 - solid fraction) x F / d^2, F = pi d g / (1 + tan(b/2)) "
    "(Rumpf 1962, Fisher 1926)",
    "full_strength_kpa": "strength = 6 S x solid fraction / (1 - solid fraction) x g / d, pores full or nearly (Rumpf 1962)",
}

WIDEST_RING_DEG = 45.0
"""Rings on one ball begin to run together: six neighbours in a cubic packing leave each a cone of 45 degrees."""


def _checked(name: str, value: Numbers, above: float = 0.0) -> Array:
    """The value as an array; ValueError unless finite and at least so much."""
    found = np.asarray(value, dtype=float)
    if not np.all(np.isfinite(found) & (found >= above)):
        raise ValueError(f"{name} must be a number, {above:g} or more; read {value!r}")
    return found


def _share(name: str, value: Numbers) -> Array:
    found = np.asarray(value, dtype=float)
    if not np.all((found > 0) & (found < 1)):
        raise ValueError(f"{name} is a share between 0 and 1; read {value!r}")
    return found


def pore_ml(solids_ml: Numbers, solid_fraction: Numbers) -> Array:
    """Air between the grains of squeezed powder in ml, from the space the grains themselves take."""
    return np.asarray(_checked("solids_ml", solids_ml) * (1.0 / _share("solid_fraction", solid_fraction) - 1.0))


def worth_ml_g(
    density_g_ml: Numbers, water_pct: Numbers, alcohol_pct: Numbers, alcohol_worth: Numbers, rest_worth: Numbers
) -> Array:
    """What a gram of a liquid is worth as a binder, in ml of water: its water, its alcohol, and what else it is.

    water_pct and alcohol_pct of its mass; alcohol_worth and rest_worth in ml of water a ml. A blend takes less room than
    its parts, so what else it is can come out below nothing, and counts as nothing then.
    """
    water = _checked("water_pct", water_pct) / 100.0 / WATER_G_ML
    alcohol = _checked("alcohol_pct", alcohol_pct) / 100.0 / ALCOHOL_G_ML
    rest = np.maximum(1.0 / _checked("density_g_ml", density_g_ml, 1e-6) - water - alcohol, 0.0)
    return np.asarray(water + alcohol * np.asarray(alcohol_worth) + rest * np.asarray(rest_worth))


def surface_mn_m(alcohol: str, alcohol_pct: Numbers) -> Array:
    """Surface tension in mN/m of ethanol or isopropyl alcohol in water, by percent of mass; KeyError for another."""
    return np.asarray(np.interp(alcohol_pct, ALCOHOL_PCT, SURFACE_MN_M[alcohol]))


def damp_share(humidity_pct: Numbers, full_pct: Numbers, none_pct: Numbers) -> Array:
    """Share of what a mix wants that the damp of the air already brings, 0 up to full_pct and 1 from none_pct on."""
    span = np.asarray(none_pct, dtype=float) - np.asarray(full_pct, dtype=float)
    if not np.all(span > 0):
        raise ValueError(f"none_pct must lie above full_pct; read {none_pct!r} and {full_pct!r}")
    return np.asarray(np.clip((np.asarray(humidity_pct) - full_pct) / span, 0.0, 1.0))


def still_wanted_ml(wanted_ml: Numbers, damp: Numbers, held_ml: Numbers) -> Array:
    """Water that is still wanted in ml, after the damp of the air and the liquids already in (counted as water)."""
    return np.asarray(np.maximum(np.asarray(wanted_ml) * (1.0 - np.asarray(damp)) - np.asarray(held_ml), 0.0))


def left_g(put_in_g: Numbers, rate_g_min: Numbers, minutes: Numbers) -> Array:
    """What is left of a binder that gives off rate_g_min at first, and ever less as it goes."""
    put_in, rate = _checked("put_in_g", put_in_g), _checked("rate_g_min", rate_g_min)
    gone = rate * _checked("minutes", minutes)
    turns = np.divide(gone, put_in, out=np.zeros(np.broadcast_shapes(gone.shape, put_in.shape)), where=put_in > 0)
    return np.asarray(put_in * np.exp(-turns))


def put_in_g(wanted_g: Numbers, rate_g_min: Numbers, minutes: Numbers) -> Array:
    """How much to put in so that wanted_g is left after so many minutes: the inverse of left_g."""
    wanted, gone = np.broadcast_arrays(
        _checked("wanted_g", wanted_g), _checked("rate_g_min", rate_g_min) * _checked("minutes", minutes)
    )
    # where next to nothing evaporates, Lambert's function has nothing to say
    plain = (gone <= 1e-12 * wanted) | (wanted <= 0)
    ratio = np.divide(gone, wanted, out=np.ones(wanted.shape), where=~plain)
    return np.asarray(
        np.where(plain, wanted, np.divide(gone, lambert_w(ratio), out=np.ones(wanted.shape), where=~plain))
    )


def lambert_w(x: Numbers) -> Array:
    """w with w exp(w) = x, for x of 0 and more, by Halley's steps (Corless et al. 1996)."""
    found = _checked("x", x)
    w = np.log1p(found)
    w = w - np.where(w > 1.0, np.log(np.maximum(w, 1.0)), 0.0)
    for _ in range(8):
        # w exp(w) - x over exp(w), so that nothing overflows
        miss = w - found * np.exp(-w)
        w = w - miss / (w + 1.0 - (w + 2.0) * miss / (2.0 * w + 2.0))
    return np.asarray(np.maximum(w, 0.0))


def half_life_min(put_in_g: Numbers, rate_g_min: Numbers, share: Numbers = 0.5) -> Array:
    """Minutes until only this share of a binder is left; infinite when it does not evaporate."""
    rate = _checked("rate_g_min", rate_g_min)
    longest = -np.log(_share("share", share)) * _checked("put_in_g", put_in_g)
    shape = np.broadcast_shapes(longest.shape, rate.shape)
    return np.asarray(np.divide(longest, rate, out=np.full(shape, np.inf), where=rate > 0))


def next_ml(held_ml: Numbers, wanted_ml: Numbers, pasty_ml: Numbers) -> Array:
    """The next addition, counted as water, when a handful still crumbles: ever smaller, and none from pasty on.

    Half of what is short by the reckoning; a mix that crumbles though nothing is short gets a third of the way to pasty.
    """
    held, wanted, pasty = (np.asarray(v, dtype=float) for v in (held_ml, wanted_ml, pasty_ml))
    least = np.maximum(pasty - np.maximum(wanted, 0.0), 0.0) / 3.0
    step = np.maximum((wanted - held) / 2.0, least)
    return np.asarray(np.clip(step, 0.0, np.maximum(pasty - held, 0.0)))


def dry_pores_ml(excess_ml: Numbers, wetness: Numbers) -> Array:
    """Pores of fresh dry powder that take up so much excess, counted as water, at the wetness that holds."""
    return np.asarray(_checked("excess_ml", excess_ml) / _share("wetness", wetness))


def ring_volume(half_angle_deg: Numbers) -> Array:
    """Volume of the liquid ring between two touching balls that it wets perfectly, over the cube of their radius."""
    b = np.radians(np.asarray(half_angle_deg, dtype=float))
    return np.asarray(2.0 * np.pi * (1.0 / np.cos(b) - 1.0) ** 2 * (1.0 - (np.pi / 2.0 - b) * np.tan(b)))


def ring_saturation(half_angle_deg: Numbers, solid_fraction: Numbers) -> Array:
    """Share of the pores that rings of this angle fill at every touch; touches a grain: pi / porosity (Rumpf 1962)."""
    solid = _share("solid_fraction", solid_fraction)
    touches = np.pi / (1.0 - solid)
    return np.asarray(touches / 2.0 * ring_volume(half_angle_deg) / (4.0 / 3.0 * np.pi) * solid / (1.0 - solid))


def ring_angle_deg(saturation: Numbers, solid_fraction: Numbers) -> Array:
    """The angle to which rings are filled when so much of the pores is wet, at most where rings run together."""
    wet, solid = np.broadcast_arrays(_checked("saturation", saturation), _share("solid_fraction", solid_fraction))
    low, high = np.zeros(wet.shape), np.full(wet.shape, WIDEST_RING_DEG)
    for _ in range(40):
        middle = (low + high) / 2.0
        over = ring_saturation(middle, solid) > wet
        low, high = np.where(over, low, middle), np.where(over, middle, high)
    return np.asarray((low + high) / 2.0)


def ring_strength_kpa(saturation: Numbers, solid_fraction: Numbers, surface_mn_m: Numbers, grain_um: Numbers) -> Array:
    """Tensile strength in kPa of powder held by rings of liquid; nothing wet, nothing held."""
    solid = _share("solid_fraction", solid_fraction)
    grain_m = _checked("grain_um", grain_um, 1e-3) * 1e-6
    angle = np.radians(ring_angle_deg(saturation, solid))
    pull_n = np.pi * grain_m * np.asarray(surface_mn_m) / 1000.0 / (1.0 + np.tan(angle / 2.0))
    held = 9.0 / 8.0 * solid / (1.0 - solid) * pull_n / grain_m**2 / 1000.0
    return np.asarray(np.where(np.asarray(saturation) > 0, held, 0.0))


def full_strength_kpa(saturation: Numbers, solid_fraction: Numbers, surface_mn_m: Numbers, grain_um: Numbers) -> Array:
    """Tensile strength in kPa of powder whose pores are full or nearly: what rings can never reach."""
    solid = _share("solid_fraction", solid_fraction)
    grain_m = _checked("grain_um", grain_um, 1e-3) * 1e-6
    pull_pa = np.asarray(surface_mn_m) / 1000.0 / grain_m
    return np.asarray(6.0 * _checked("saturation", saturation) * solid / (1.0 - solid) * pull_pa / 1000.0)
