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
    "worth_ml": "worth of a gram = its ml of water x 1 + its ml of alcohol x their worth + the rest x its worth",
    "wanted_ml": "wanted = pores x wetness; the liquids already there and the damp of the air count towards it",
    "damp_share": "share of the want that the air's damp meets = (humidity - full) / (none - full), 0 to 1",
    "still_wanted_ml": "still wanted = max(0, wanted (1 - damp) - sum of liquids x worth)",
    "left": "left = put in x sum over its components of share x exp(-rate x minutes / put in): each goes ever slower",
    "put_in_g": "put in: so much that the wanted is left after t minutes, by Newton's steps",
    "next_ml": "next = half of what is still short; once nothing is short, a sixth of the way to pasty",
    "dry_ml": "pores to add = excess / wetness",
    "ring_ml": "V = 2 pi R^3 (1/cos b - 1)^2 (1 - (pi/2 - b) tan b): the ring between two touching balls, filled to the "
    "angle b (Fisher 1926)",
    "ring_saturation": "S = k/2 x ring / ball x solid fraction / (1 - solid fraction), k = pi / (1 - solid fraction) touches",
    "ring_strength_kpa": "strength = 9/8 x solid fraction / (1 - solid fraction) x F / d^2, F = pi d g / (1 + tan(b/2)) "
    "(Rumpf 1962, Fisher 1926)",
}

NEWTON_STEPS, NEAR_ENOUGH = 60, 1e-10
HALVINGS = 36
TRACE_G = 1e-9
"""Less of a binder than this is gone at once."""
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


def worth_ml(
    density_g_ml: Numbers, water_pct: Numbers, alcohol_pct: Numbers, alcohol_worth: Numbers, rest_worth: Numbers
) -> Array:
    """What the water, the alcohol and the rest of a gram of liquid are worth as a binder, in ml of water: last axis of 3.

    water_pct and alcohol_pct of its mass; alcohol_worth and rest_worth in ml of water a ml. A blend takes less room than
    its parts, so the rest can come out below nothing, and counts as nothing then.
    """
    water = _checked("water_pct", water_pct) / 100.0 / WATER_G_ML
    alcohol = _checked("alcohol_pct", alcohol_pct) / 100.0 / ALCOHOL_G_ML
    rest = np.maximum(1.0 / _checked("density_g_ml", density_g_ml, 1e-6) - water - alcohol, 0.0)
    return np.stack(
        np.broadcast_arrays(water, alcohol * np.asarray(alcohol_worth), rest * np.asarray(rest_worth)), axis=-1
    )


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


def left(put_in_g: Numbers, weights: Numbers, rates_g_min: Numbers, minutes: Numbers) -> Array:
    """What is left of a blend in an open bowl, in whatever the weights count (grams, or ml of water).

    weights: what each of its components brings a gram of blend; rates_g_min: what a bowl wet with that component alone
    gives off at first; components on the last axis of both. Each goes ever slower, and goes by itself.
    """
    put_in = _checked("put_in_g", put_in_g)[..., None]
    gone = _checked("rates_g_min", rates_g_min) * _checked("minutes", minutes)[..., None]
    return _left(put_in, np.asarray(weights, dtype=float), gone)


def _left(put_in: Array, weights: Array, gone: Array) -> Array:
    turns = gone / np.maximum(put_in, TRACE_G)
    return np.asarray((weights * put_in * np.exp(-turns)).sum(axis=-1))


def put_in_g(wanted: Numbers, weights: Numbers, rates_g_min: Numbers, minutes: Numbers) -> Array:
    """How much of a blend to put in so that the wanted is left after so many minutes: the inverse of `left`.

    Newton's steps from above: m exp(-g / m) bends upward and is at least m - g, so that they never overshoot.
    """
    want, weight = _checked("wanted", wanted), _checked("weights", weights)
    gone = _checked("rates_g_min", rates_g_min) * _checked("minutes", minutes)[..., None]
    whole = weight.sum(axis=-1)
    if not np.all(whole > 0):
        raise ValueError(f"weights must add up to more than nothing; read {weights!r}")
    start = (want + (weight * gone).sum(axis=-1)) / whole
    put_in = np.maximum(start, np.finfo(float).tiny)
    for _ in range(NEWTON_STEPS):
        turns = gone / put_in[..., None]
        each = weight * np.exp(-turns)
        miss = (each * put_in[..., None]).sum(axis=-1) - want
        step = np.where(want > 0, miss / (each * (1.0 + turns)).sum(axis=-1), 0.0)
        put_in = put_in - step
        if np.all(np.abs(step) <= NEAR_ENOUGH * put_in):
            break
    return np.asarray(np.where(want > 0, put_in, 0.0))


def going_min(put_in_g: Numbers, weights: Numbers, rates_g_min: Numbers, share: Numbers) -> Array:
    """Minutes until only this share of a blend is left; infinite when so much of it never goes. See `left`."""
    put_in, weight = _checked("put_in_g", put_in_g), _checked("weights", weights)
    rates = _checked("rates_g_min", rates_g_min)
    part = _share("share", share)
    weight, rates = np.broadcast_arrays(weight, rates)
    stays = (weight * (rates <= 0)).sum(axis=-1) >= part * weight.sum(axis=-1)
    # longer than the slowest component takes to fall to the share is never needed
    slowest = np.min(np.where(rates > 0, rates, np.inf), axis=-1)
    share_of_going = np.maximum(part - (weight * (rates <= 0)).sum(axis=-1) / weight.sum(axis=-1), 1e-12)
    low, high = np.broadcast_arrays(np.zeros_like(put_in), -np.log(share_of_going) * put_in / slowest)
    until = part * put_in * weight.sum(axis=-1)
    for _ in range(HALVINGS):
        middle = (low + high) / 2.0
        over = _left(put_in[..., None], weight, rates * middle[..., None]) > until
        low, high = np.where(over, middle, low), np.where(over, high, middle)
    return np.asarray(np.where(stays, np.inf, high))


def next_ml(held_ml: Numbers, wanted_ml: Numbers, pasty_ml: Numbers) -> Array:
    """The next addition, counted as water, when a handful still crumbles: ever smaller, and none from pasty on.

    Half of what is short by the reckoning; a mix that crumbles though nothing is short gets a sixth of the way from there to pasty.
    """
    held, wanted, pasty = (np.asarray(v, dtype=float) for v in (held_ml, wanted_ml, pasty_ml))
    least = np.maximum(pasty - np.maximum(wanted, 0.0), 0.0) / 6.0
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
    volume = wet / ring_saturation(WIDEST_RING_DEG, solid) * ring_volume(WIDEST_RING_DEG)
    for _ in range(HALVINGS):
        middle = (low + high) / 2.0
        over = ring_volume(middle) > volume
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
