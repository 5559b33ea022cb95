"""How a pressed piece loses its alcohol and water: air film, pores, heat, and what all of it comes to in hours.

Two pictures of the inside stand here. Crank's: what evaporates moves through the piece as one substance by diffusion. The
front: liquid sits in the corners between grains, far too little of it to flow, and dries from the outside inwards; its
vapour has to come out through the dry pores behind. Binder fills some five percent of the pores, so the front is the
truer one; Crank's, with vapour and liquid in step everywhere, takes about twice as long for the last tenth.

Densities of vapour and load in kg/m3, lengths in m, velocities in m/s, temperatures in C. Everything broadcasts.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fizzwright.science import airborne
from fizzwright.science.airborne import MOLAR_MASS_G_MOL
from fizzwright.science.neutralisation import GAS_CONSTANT_J_MOL_K, water_vapour_pa
from fizzwright.science.transfer import (
    AIR_G_MOL,
    ATMOSPHERE_PA,
    GRAVITY_M_S2,
    WATER_G_MOL,
    ZERO_C_K,
    diffusivity_air_m2_s,
)

Array = NDArray[np.float64]
Numbers = float | Array

WATER = "water"
LONG_TIMES = 0.05
"""Fourier number from which the series is summed; below it the form for short times is good to ten digits."""
VAN_LAAR = {"isopropyl": (2.4702, 1.0938), "ethanol": (1.6798, 0.9227)}
"""Alcohol in water and water in alcohol at one atmosphere (Gmehling & Onken, Vapor-Liquid Equilibrium Data Collection;
memory)."""
CONDUCTS_W_M_K = 0.0257
"""Air at 20 C (Incropera & DeWitt, table A.4; memory)."""
PRANDTL = 0.71
RADIATES_W_M2_K = 5.1
"""4 x 0.9 x 5.67e-8 x T^3 at 20 C: a dull face in a room of its own warmth."""
BALL_WHOLE = 1.0 / 6.0
BALL_HALF_OPEN = 0.588
HALF_BALL_FACE = 0.338
SLAB = 0.5
"""How far the last liquid is from the air, as `path` in the time path x R^2 / D: the highest value of u with
lap u = -1 in a body of radius (thickness) 1, u = 0 on its open face and no flow through the rest. Ball and slab in closed
form; a ball with one half bare, and a half ball with its flat face bare, solved on a grid of 80 x 160."""

EQUATIONS: dict[str, str] = {
    "crank": "share lost = 1 - 6/pi^2 sum 1/n^2 exp(-n^2 pi^2 Fo); while small 6 sqrt(Fo/pi) - 3 Fo (Crank 1975, eq. 6.20, 6.21)",
    "crank_film": "share lost = 1 - sum 6 L^2 exp(-b^2 Fo) / (b^2 (b^2 + L (L - 1))), b cot b + L - 1 = 0 (Crank 1975, eq. 6.43)",
    "sherwood": "Sh = 2 + 0.6 Re^(1/2) Sc^(1/3) (Ranz & Marshall 1952); in still air 2 + 0.589 (Gr Sc)^(1/4) / "
    "(1 + (0.469 / Sc)^(9/16))^(4/9) (Churchill 1983); both: their parts beyond 2 added as cubes",
    "pores": "D in the pores = porosity / tortuosity x D in air",
    "front": "seconds = load / (vapour at the front - vapour in the room) x (path (1 - 3 x^(2/3) + 2 x) + film (1 - x)), x the "
    "share left, path = R^2 / (6 D), film = V / (A k); a slab: path (1 - x)^2, path = L^2 / (2 D)",
    "mixed": "activity of alcohol in water by van Laar, averaged over its leaving",
    "cooling": "h (room - piece) = flow of vapour x heat of evaporation (Clausius-Clapeyron)",
}


def _not_negative(name: str, value: Numbers) -> Array:
    found = np.asarray(value, dtype=float)
    if not np.all(found >= 0):
        raise ValueError(f"{name} must be a number, zero or more; read {value!r}")
    return found


def sphere_fraction_lost(fourier: Numbers) -> Array:
    """Share a ball has lost by diffusion with its face held dry, 0 to 1; fourier = D t / R^2.

    Source: Crank, The Mathematics of Diffusion, 2nd ed. 1975, eq. 6.20 and 6.21. ValueError below zero.
    """
    fo = _not_negative("fourier", fourier)
    n = np.arange(1, 11)
    late = np.maximum(fo, LONG_TIMES)[..., None]
    series = 1.0 - 6.0 / np.pi**2 * (np.exp(-(n**2) * np.pi**2 * late) / n**2).sum(axis=-1)
    early = np.minimum(fo, LONG_TIMES)
    return np.asarray(np.where(fo < LONG_TIMES, 6.0 * np.sqrt(early / np.pi) - 3.0 * early, series))


def sphere_roots(biot: Numbers, count: int = 6) -> Array:
    """The first roots b of b cot b + L - 1 = 0, on a new last axis; L the Biot number, above zero."""
    found = np.asarray(biot, dtype=float)
    if not np.all(found > 0):
        raise ValueError(f"biot must be a number above zero; read {biot!r}")
    n = np.arange(count)
    low = np.broadcast_to(n * np.pi, (*found.shape, count))
    high = low + np.pi
    for _ in range(60):
        middle = (low + high) / 2.0
        # the same equation without the poles of cot; its sign turns with each root
        beyond = (middle * np.cos(middle) + (found[..., None] - 1.0) * np.sin(middle)) * (-1.0) ** n < 0
        low, high = np.where(beyond, low, middle), np.where(beyond, middle, high)
    return np.asarray((low + high) / 2.0)


def sphere_film_fraction_lost(fourier: Numbers, biot: Numbers, terms: int = 80) -> Array:
    """The same for a ball behind an air film: biot = film velocity x R / (D x partition).

    Source: Crank 1975, eq. 6.43, with its roots of table 6.2. Good to 1e-3 from a Fourier number of 1e-4 on.
    """
    fo, film = np.broadcast_arrays(_not_negative("fourier", fourier), np.asarray(biot, dtype=float))
    b2 = sphere_roots(film, terms) ** 2
    wide = film[..., None]
    left = 6.0 * wide**2 * np.exp(-b2 * fo[..., None]) / (b2 * (b2 + wide * (wide - 1.0)))
    return np.asarray(np.clip(1.0 - left.sum(axis=-1), 0.0, 1.0))


def sherwood_sphere(reynolds: Numbers, schmidt: Numbers) -> Array:
    """Sherwood number of a ball in a stream of air (for heat: Nusselt, with the Prandtl number).

    Source: Ranz & Marshall 1952, Chem. Eng. Progress 48:141, 173 (memory).
    """
    moved = np.sqrt(_not_negative("reynolds", reynolds)) * np.cbrt(_not_negative("schmidt", schmidt))
    return np.asarray(2.0 + 0.6 * moved)


def sherwood_still(grashof: Numbers, schmidt: Numbers) -> Array:
    """The same in still air, where heavy or cool air sinks off the ball; Schmidt number above zero.

    Source: Churchill 1983, Heat Exchanger Design Handbook, sect. 2.5.7 (memory).
    """
    sc = np.asarray(schmidt, dtype=float)
    if not np.all(sc > 0):
        raise ValueError(f"schmidt must be a number above zero; read {schmidt!r}")
    moved = (_not_negative("grashof", grashof) * sc) ** 0.25
    return np.asarray(2.0 + 0.589 * moved / (1.0 + (0.469 / sc) ** (9.0 / 16.0)) ** (4.0 / 9.0))


def sherwood_both(reynolds: Numbers, grashof: Numbers, schmidt: Numbers) -> Array:
    """Stream and sinking air together: cubes of both parts added (Incropera & DeWitt, ch. 9; memory)."""
    forced, rising = sherwood_sphere(reynolds, schmidt) - 2.0, sherwood_still(grashof, schmidt) - 2.0
    return np.asarray(2.0 + np.cbrt(forced**3 + rising**3))


def air_viscosity_m2_s(celsius: Numbers) -> Array:
    """Kinematic viscosity of air at one atmosphere, by Sutherland's law (US Standard Atmosphere 1976)."""
    kelvin = np.asarray(celsius, dtype=float) + ZERO_C_K
    density = ATMOSPHERE_PA * AIR_G_MOL / 1000.0 / (GAS_CONSTANT_J_MOL_K * kelvin)
    return np.asarray(1.458e-6 * kelvin**1.5 / (kelvin + 110.4) / density)


def pore_diffusivity_m2_s(in_air_m2_s: Numbers, porosity: Numbers, tortuosity: Numbers) -> Array:
    """Diffusivity of a vapour through the pores of a piece."""
    return np.asarray(np.asarray(in_air_m2_s) * np.asarray(porosity) / np.asarray(tortuosity))


def g_mol_of(liquid: str) -> float:
    """Molar mass of water, isopropyl or ethanol; KeyError for anything else."""
    return WATER_G_MOL if liquid == WATER else MOLAR_MASS_G_MOL[liquid]


def saturation_pa(liquid: str, celsius: Numbers) -> Array:
    """Vapour pressure over the pure liquid in Pa; water taken at 0 C where it is colder."""
    if liquid == WATER:
        return np.asarray(water_vapour_pa(np.maximum(np.asarray(celsius, dtype=float), 0.0)))
    return airborne.saturation_pa(liquid, celsius)


def vapour_kg_m3(liquid: str, pressure_pa: Numbers, celsius: Numbers) -> Array:
    """Density of that vapour as an ideal gas."""
    kelvin = np.asarray(celsius, dtype=float) + ZERO_C_K
    return np.asarray(np.asarray(pressure_pa) * g_mol_of(liquid) / 1000.0 / (GAS_CONSTANT_J_MOL_K * kelvin))


def heat_j_kg(liquid: str, celsius: Numbers) -> Array:
    """Heat of evaporation from the slope of the vapour pressure: R T^2 / M d ln p / dT (Clausius-Clapeyron)."""
    warm = np.maximum(np.asarray(celsius, dtype=float), 0.5)
    kelvin = warm + ZERO_C_K
    slope = np.log(saturation_pa(liquid, warm + 0.5) / saturation_pa(liquid, warm - 0.5))
    return np.asarray(GAS_CONSTANT_J_MOL_K * kelvin**2 * slope / (g_mol_of(liquid) / 1000.0))


def cooled_c(
    liquid: str,
    room_c: Numbers,
    outside_pa: Numbers,
    conductance_m_s: Numbers,
    heat_w_m2_k: Numbers,
    activity: Numbers = 1.0,
) -> Array:
    """Temperature of what evaporates, where the heat that comes in is the heat the vapour takes along.

    conductance_m_s: from the liquid to the room, film and pores together; heat_w_m2_k: from the room to the liquid.
    """
    room = np.asarray(room_c, dtype=float)
    heat_kg = heat_j_kg(liquid, room)
    kelvin = room + ZERO_C_K
    # vapour on its way out is told at the room's temperature, as the film is thin and the difference small
    per_pa = np.asarray(conductance_m_s) * heat_kg * g_mol_of(liquid) / 1000.0 / (GAS_CONSTANT_J_MOL_K * kelvin)
    per_pa = per_pa / np.asarray(heat_w_m2_k)
    celsius = room
    for _ in range(6):
        pressure = np.asarray(activity) * saturation_pa(liquid, celsius)
        slope = pressure * heat_kg * g_mol_of(liquid) / 1000.0 / (GAS_CONSTANT_J_MOL_K * (celsius + ZERO_C_K) ** 2)
        excess = celsius - room + per_pa * (pressure - np.asarray(outside_pa))
        celsius = celsius - excess / (1.0 + per_pa * slope)
    return np.asarray(celsius)


def activities(alcohol: str, mole_share: Numbers) -> tuple[Array, Array]:
    """Activity of alcohol and of water in their mixture, by van Laar; mole_share is that of the alcohol, 0 to 1."""
    a, b = VAN_LAAR[alcohol]
    x = np.asarray(mole_share, dtype=float)
    both = np.maximum(a * x + b * (1.0 - x), 1e-300)
    return (
        np.asarray(x * np.exp(a * (b * (1.0 - x) / both) ** 2)),
        np.asarray((1.0 - x) * np.exp(b * (a * x / both) ** 2)),
    )


def leaving_activity(alcohol: str, alcohol_g: Numbers, water_g: Numbers, until_left: float = 0.1) -> Array:
    """Activity of an alcohol while it leaves its water behind, as one number that gives the same time: the harmonic mean
    over what leaves, from all of it to the share left. 1 without water.
    """
    alcohol_mol = np.asarray(alcohol_g, dtype=float) / MOLAR_MASS_G_MOL[alcohol]
    water_mol = np.asarray(water_g, dtype=float) / WATER_G_MOL
    nodes, weights = np.polynomial.legendre.leggauss(8)
    left = (1.0 + until_left + (1.0 - until_left) * nodes) / 2.0
    some = np.maximum(alcohol_mol, 1e-12)[..., None] * left
    activity = activities(alcohol, some / (some + water_mol[..., None]))[0]
    return np.asarray(2.0 / (weights / activity).sum(axis=-1))


def film_m_s(
    liquid: str, room_c: Numbers, across_m: Numbers, speed_m_s: Numbers, lighter: Numbers
) -> tuple[Array, Array]:
    """Velocity of vapour through the air film (m/s) and heat through it (W/m2/K, radiation counted), for a ball.

    lighter: difference of density between the air at the face and in the room, as a share of it (either way).
    """
    viscosity = air_viscosity_m2_s(room_c)
    diffusivity = diffusivity_air_m2_s(g_mol_of(liquid), room_c)
    across = np.asarray(across_m, dtype=float)
    reynolds = np.asarray(speed_m_s) * across / viscosity
    grashof = GRAVITY_M_S2 * np.abs(lighter) * across**3 / viscosity**2
    velocity = sherwood_both(reynolds, grashof, viscosity / diffusivity) * diffusivity / across
    heat = sherwood_both(reynolds, grashof, PRANDTL) * CONDUCTS_W_M_K / across + RADIATES_W_M2_K
    return np.asarray(velocity), np.asarray(heat)


def front_turns(left: Numbers, is_ball: bool = True) -> Array:
    """How much of the way through the pores is behind it when a share is left: 0 at the start, 1 at the end."""
    x = np.clip(np.asarray(left, dtype=float), 0.0, 1.0)
    return np.asarray(1.0 - 3.0 * np.cbrt(x) ** 2 + 2.0 * x if is_ball else (1.0 - x) ** 2)


def front_seconds(
    left: Numbers, load_kg_m3: Numbers, drop_kg_m3: Numbers, path_s: Numbers, film_s: Numbers, is_ball: bool = True
) -> Array:
    """Seconds until a share is left in the front picture; inf where nothing drives it out and not all is to stay.

    load: liquid in a cubic metre of the piece; drop: vapour density at the front less that of the room; path_s = R^2/(6 D)
    of a ball or L^2/(2 D) of a slab; film_s = V / (A k).
    """
    x, load, drop, path, film = np.broadcast_arrays(
        *(np.asarray(v, dtype=float) for v in (left, load_kg_m3, drop_kg_m3, path_s, film_s))
    )
    way = path * front_turns(x, is_ball) + film * (1.0 - x)
    found = np.divide(load * way, drop, out=np.full(x.shape, np.inf), where=drop > 0)
    return np.asarray(np.where((x >= 1.0) | (load <= 0), 0.0, found))


def crank_turns(left: Numbers) -> Array:
    """The same way in Crank's picture, in units of R^2/(6 D): 6 x the Fourier number at which a share is left.

    Short times by solving the quadratic, long ones by the first term of the series (both within 1 % of the sum).
    """
    x = np.clip(np.asarray(left, dtype=float), 1e-12, 1.0)
    root = (6.0 / np.sqrt(np.pi) - np.sqrt(np.maximum(36.0 / np.pi - 12.0 * (1.0 - x), 0.0))) / 6.0
    late = -np.log(x * np.pi**2 / 6.0) / np.pi**2
    return np.asarray(6.0 * np.where(x > 0.16, root**2, late))


@np.errstate(invalid="ignore")
def _times(scale: Array, path: Array, film: Array, left: Array, is_ball: bool) -> Array:
    way = path * front_turns(left, is_ball) + film * (1.0 - left)
    return np.where(way > 0, scale * way, 0.0)


def seconds_until(
    rest: Numbers,
    masses: tuple[Numbers, Numbers],
    scales: tuple[Numbers, Numbers],
    paths: tuple[Numbers, Numbers],
    films: tuple[Numbers, Numbers],
    is_ball: bool = True,
) -> Array:
    """Seconds until no more than `rest` is left of two liquids that dry side by side, each behind a front of its own.

    masses and rest in one unit; scales: load / drop of each, inf where it does not dry. inf where it never gets there.
    """
    wide = np.broadcast_arrays(*(np.asarray(v, dtype=float) for v in (rest, *masses, *scales, *paths, *films)))
    rest_, one, two, slow_one, slow_two, path_one, path_two, film_one, film_two = wide
    # the share left of the second lies between these; that of the first follows from it
    none_two = np.maximum(two, 1e-300)
    low = np.clip((rest_ - one) / none_two, 0.0, 1.0)
    high = np.clip(rest_ / none_two, 0.0, 1.0)

    def first(share: Array) -> Array:
        return np.asarray(np.clip((rest_ - two * share) / np.maximum(one, 1e-300), 0.0, 1.0))

    for _ in range(40):
        middle = (low + high) / 2.0
        later = _times(slow_two, path_two, film_two, middle, is_ball) > _times(
            slow_one, path_one, film_one, first(middle), is_ball
        )
        low, high = np.where(later, middle, low), np.where(later, high, middle)
    both = np.maximum(
        np.where(two > 0, _times(slow_two, path_two, film_two, high, is_ball), 0.0),
        np.where(one > 0, _times(slow_one, path_one, film_one, first(high), is_ball), 0.0),
    )
    return np.asarray(np.where(one + two <= rest_, 0.0, both))
