"""Scent in the room: three boxes that trade with each other, film, water and air, and a draught that carries it off.

Written in fugacities (Mackay, Multimedia Environmental Models, 2nd ed. 2001, level IV): each box has a capacity in
mol/Pa, each border a conductance in mol/(Pa s). What flows is conductance times difference of pressure, so the system
is linear and its matrix symmetric once scaled by the roots of the capacities: it is solved exactly by its eigenvalues.
The film keeps its thickness as it shrinks (area and moles fall together), which is what makes Raoult's law linear.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fizzwright.science.neutralisation import GAS_CONSTANT_J_MOL_K

Array = NDArray[np.float64]
Numbers = float | Array

BLENDING_POWER = 3.0
"""estimate: with it two equally strong odours together are 1.26 times either alone. Berglund's vector sum at 105 degrees
gives 1.22 for two (memory), but goes astray with many."""

MOST_INTENSE = 10.0
AT_THRESHOLD = 1.4
"""estimate: the scale's value of one odour at its threshold. With the exponent 0.4 it keeps within one step of ten of the
categories of VDI 3882 (memory), by which odours rise from weak at 5 times the threshold over distinct at 15 to very
strong at 100."""

EQUATIONS: dict[str, str] = {
    "film_capacity": "film: moles of film / vapour pressure (Raoult: pressure = mole fraction x vapour pressure)",
    "water_capacity": "water: V (1 + Kow v) / H, v the share of the bath that is dispersed oil",
    "air_capacity": "air: V / (R T)",
    "course": "dm_i/dt = release + sum_j g_ij (m_j / Z_j - m_i / Z_i) - air changes x m_air; exact, release linear between "
    "the given moments",
    "odour_activity": "odour activity = concentration in air / odour threshold",
    "intensity": "intensity = 1.4 (sum of activity^(3 n))^(1/3), at most 10; n Stevens' exponent",
}


def film_capacity(film_mol: Numbers, vapour_pressure_pa: Numbers) -> Array:
    """Capacity of a film of oil in mol/Pa; film_mol counts every oil in it, fixed oils too."""
    return np.asarray(np.asarray(film_mol) / np.asarray(vapour_pressure_pa))


def water_capacity(litres: Numbers, henry_pa_m3_mol: Numbers, kow: Numbers = 0.0, oil_share: Numbers = 0.0) -> Array:
    """Capacity of the bath in mol/Pa: dissolved, and held by the droplets of oil in it (oil_share by volume)."""
    return np.asarray(
        np.asarray(litres) / 1000.0 * (1.0 + np.asarray(kow) * np.asarray(oil_share)) / np.asarray(henry_pa_m3_mol)
    )


def air_capacity(room_m3: Numbers, celsius: Numbers) -> Array:
    """Capacity of the room's air in mol/Pa."""
    return np.asarray(room_m3) / (GAS_CONSTANT_J_MOL_K * (np.asarray(celsius) + 273.15))


def film_to_air(gas_side_m_s: Numbers, area_m2: Numbers, celsius: Numbers) -> Array:
    """Conductance from a film to the air in mol/(Pa s)."""
    return np.asarray(
        np.asarray(gas_side_m_s) * np.asarray(area_m2) / (GAS_CONSTANT_J_MOL_K * (np.asarray(celsius) + 273.15))
    )


def through_water(velocity_m_s: Numbers, area_m2: Numbers, henry_pa_m3_mol: Numbers) -> Array:
    """Conductance of a velocity on the water's side (both films, or the water film alone) in mol/(Pa s)."""
    return np.asarray(np.asarray(velocity_m_s) * np.asarray(area_m2) / np.asarray(henry_pa_m3_mol))


@dataclass(frozen=True)
class Boxes:
    """Film, water and air of one bath; every array broadcasts to one common shape."""

    film: Array
    water: Array
    air: Array
    """Capacities, mol/Pa, above zero."""
    film_air: Array
    water_air: Array
    film_water: Array
    """Conductances, mol/(Pa s), zero or more."""
    air_changes_s: Array
    """Share of the room's air that is replaced each second."""


@dataclass(frozen=True)
class Course:
    """Where the scent is at each moment, in the unit it was given in; times on the first axis."""

    film: Array
    water: Array
    air: Array
    gone: Array
    """Carried out of the room since the start."""


def _phi(z: Array) -> tuple[Array, Array]:
    """(e^z - 1)/z and (e^z - 1 - z)/z^2, true near zero."""
    small = np.abs(z) < 1e-2
    safe = np.where(small, 1.0, z)
    first = np.where(small, 1 + z / 2 * (1 + z / 3 * (1 + z / 4 * (1 + z / 5 * (1 + z / 6)))), np.expm1(safe) / safe)
    series = 0.5 * (1 + z / 3 * (1 + z / 4 * (1 + z / 5 * (1 + z / 6 * (1 + z / 7)))))
    return first, np.where(small, series, (np.expm1(safe) - safe) / safe**2)


def course(boxes: Boxes, seconds: Array, released: Array, film_share: Numbers) -> Course:
    """Follow a scent from its release into the bath until the last of the given moments.

    seconds: shape (n,), rising from the start. released: shape (n, ...), how much has come out of the piece by each
    moment (any unit of mass), linear in between. film_share: share of it that rises into the film at once; the rest is
    in the water. Exact for what is given: no step size enters the result.
    """
    times = np.asarray(seconds, dtype=float)
    spans = np.diff(times)
    if times.ndim != 1 or len(times) < 2 or np.any(spans <= 0):
        raise ValueError("seconds must be two or more moments, each later than the one before")
    z_film, z_water, z_air, fa, wa, fw, leak, share = np.broadcast_arrays(
        boxes.film, boxes.water, boxes.air, boxes.film_air, boxes.water_air, boxes.film_water, boxes.air_changes_s,
        film_share,
    )  # fmt: skip
    capacity = np.stack([z_film, z_water, z_air], axis=-1)
    if not np.all(capacity > 0):
        raise ValueError("every box needs a capacity above zero")
    total = np.asarray(released, dtype=float)
    shape = np.broadcast_shapes(total.shape[1:], z_film.shape)
    total = np.broadcast_to(total, (len(times), *shape))
    root = np.sqrt(capacity)
    rates = np.empty((*z_film.shape, 3, 3))
    for row, column, conductance in ((0, 2, fa), (1, 2, wa), (0, 1, fw)):
        rates[..., row, column] = rates[..., column, row] = conductance / (root[..., row] * root[..., column])
    rates[..., 0, 0] = -(fa + fw) / z_film
    rates[..., 1, 1] = -(wa + fw) / z_water
    rates[..., 2, 2] = -(fa + wa) / z_air - leak
    speeds, ways = np.linalg.eigh(rates)
    # nothing in here grows by itself: what is above zero is rounding
    speeds = np.minimum(speeds, 0.0)
    pushed = (
        ways[..., 0, :] * (share / root[..., 0])[..., None] + ways[..., 1, :] * ((1 - share) / root[..., 1])[..., None]
    )
    state = pushed * total[0][..., None]
    states = np.empty((len(times), *state.shape))
    states[0] = state
    swept = np.zeros((len(times), *state.shape))
    known: dict[float, tuple[Array, Array, Array]] = {}
    for step, span in enumerate(spans):
        key = round(float(span), 9)
        if key not in known:
            decay = speeds * span
            first, second = _phi(decay)
            known[key] = np.exp(decay), first, second
        fades, first, second = known[key]
        fresh = pushed * (total[step + 1] - total[step])[..., None]
        swept[step + 1] = swept[step] + span * (first * state + second * fresh)
        state = fades * state + first * fresh
        states[step + 1] = state

    def told(box: int, values: Array) -> Array:
        return np.asarray(np.einsum("...j,...j->...", ways[..., box, :], values) * root[..., box])

    return Course(told(0, states), told(1, states), told(2, states), leak * told(2, swept))


def odour_activity(air_mg_m3: Numbers, threshold_mg_m3: Numbers) -> Array:
    """How many times its odour threshold a substance stands at."""
    return np.asarray(np.maximum(np.asarray(air_mg_m3, dtype=float), 0.0) / np.asarray(threshold_mg_m3))


def strength(activity: Array, exponent: Numbers) -> Array:
    """Strength of a mixture without an upper end; activity holds the constituents on its last axis.

    Stevens' law for each, then summed as powers (`BLENDING_POWER`), for the nose does not add odours up. exponent: about
    0.4 for odours (estimate; published ones run from 0.2 to 0.7); broadcasts without the last axis. The nose tires
    within minutes; this does not.
    """
    power = BLENDING_POWER * np.asarray(exponent, dtype=float)[..., None]
    return np.asarray(AT_THRESHOLD * (np.asarray(activity) ** power).sum(axis=-1) ** (1.0 / BLENDING_POWER))


def intensity(activity: Array, exponent: Numbers) -> Array:
    """`strength` on a scale of 0 to 10: below 1 not smelt, about 3 faint, 5 clear, 8 strong, above it overwhelming."""
    return np.minimum(MOST_INTENSE, strength(activity, exponent))
