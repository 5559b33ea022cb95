"""Drying against Crank's tables, scipy's own solving of the same equations, azeotropes, and the wet bulb of psychrolib."""

from __future__ import annotations

import chemicals
import numpy as np
import psychrolib
import pytest
from numpy.typing import NDArray
from scipy.integrate import solve_ivp
from scipy.optimize import brentq
from scipy.sparse import lil_matrix
from scipy.sparse.linalg import spsolve

from fizzwright.science import drying
from fizzwright.science.neutralisation import water_vapour_pa
from fizzwright.science.transfer import WATER_G_MOL, diffusivity_air_m2_s

Array = NDArray[np.float64]
SHELLS = 150


def _shells() -> tuple[Array, Array, Array]:
    """Faces, middles and volumes (over 4 pi) of a unit ball's shells, the finer the nearer its face."""
    faces = 1.0 - (1.0 - np.linspace(0.0, 1.0, SHELLS + 1)) ** 1.5
    return faces, (faces[1:] + faces[:-1]) / 2.0, (faces[1:] ** 3 - faces[:-1] ** 3) / 3.0


def _lost_by_shells(fourier: Array, biot: float) -> Array:
    """Share a unit ball has lost, by finite volumes and scipy's stiff solver; biot inf: the face is held dry."""
    faces, middles, volumes = _shells()
    between = faces[1:-1] ** 2 / np.diff(middles)
    last = 1.0 / ((1.0 - middles[-1]) + (0.0 if np.isinf(biot) else 1.0 / biot))

    def flow(_: float, held: Array) -> Array:
        out = np.append(between * (held[:-1] - held[1:]), last * held[-1])
        return np.asarray((np.insert(out[:-1], 0, 0.0) - out) / volumes)

    course = solve_ivp(flow, (0.0, float(fourier[-1])), np.ones(SHELLS), "BDF", fourier, rtol=1e-8, atol=1e-10)
    return np.asarray(1.0 - 3.0 * volumes @ course.y)


def test_a_ball_loses_what_finite_volumes_say() -> None:
    fourier = np.array([1e-3, 3e-3, 0.01, 0.03, 0.049, 0.051, 0.1, 0.2, 0.4])
    assert drying.sphere_fraction_lost(fourier) == pytest.approx(_lost_by_shells(fourier, np.inf), abs=1.5e-3)


def test_a_ball_loses_what_cranks_curve_says() -> None:
    # Crank 1975, sphere, outer curve of fig. 6.4 read as sqrt(D t / a^2) for a share (memory): half is gone at
    # Dt/a^2 = 0.0305, nine tenths at 0.183, as in Geankoplis, Transport Processes, fig. 5.3-13 (memory).
    assert drying.sphere_fraction_lost(np.array([0.0305, 0.183])) == pytest.approx([0.5, 0.9], abs=2e-3)
    assert float(drying.sphere_fraction_lost(0.0)) == 0.0
    assert float(drying.sphere_fraction_lost(5.0)) == pytest.approx(1.0)
    with pytest.raises(ValueError, match="fourier"):
        drying.sphere_fraction_lost(-0.1)
    assert drying.sphere_fraction_lost(np.full((3, 2), 0.1)).shape == (3, 2)


# Crank 1975, table 6.2: roots of b cot b + L - 1 = 0 (memory, to four figures)
TABLE_6_2 = {
    0.1: (0.5423, 4.5157, 7.7382, 10.9133),
    0.5: (1.1656, 4.6042, 7.7899, 10.9499),
    1.0: (1.5708, 4.7124, 7.8540, 10.9956),
    5.0: (2.5704, 5.3540, 8.3029, 11.3348),
    10.0: (2.8363, 5.7172, 8.6587, 11.6532),
}


@pytest.mark.parametrize("biot", TABLE_6_2)
def test_roots_of_the_ball_behind_a_film(biot: float) -> None:
    roots = drying.sphere_roots(biot, 4)
    assert roots == pytest.approx(TABLE_6_2[biot], abs=6e-5)
    for n, root in enumerate(roots):
        low, high = n * np.pi + 1e-9, (n + 1) * np.pi - 1e-9
        found = brentq(lambda b: b * np.cos(b) + (biot - 1.0) * np.sin(b), low + 1e-3, high)
        assert root == pytest.approx(found, abs=1e-9)


@pytest.mark.parametrize("biot", [0.3, 3.0, 30.0])
def test_a_ball_behind_a_film_loses_what_finite_volumes_say(biot: float) -> None:
    fourier = np.array([0.003, 0.02, 0.1, 0.5, 2.0])
    assert drying.sphere_film_fraction_lost(fourier, biot) == pytest.approx(_lost_by_shells(fourier, biot), abs=2e-3)


def test_the_air_film_as_worked_by_hand() -> None:
    # A ball in still air without any sinking loses by diffusion alone: Sh = 2 exactly (Bird, Stewart & Lightfoot).
    assert float(drying.sherwood_sphere(0.0, 0.6)) == 2.0
    assert float(drying.sherwood_still(0.0, 0.6)) == 2.0
    # By hand: sqrt(100) = 10, cube root of 0.6 = 0.8434, so 2 + 0.6 x 8.434 = 7.06; Re 400, Sc 2.6: 2 + 12 x 1.3751.
    assert drying.sherwood_sphere(np.array([100.0, 400.0]), np.array([0.6, 2.6])) == pytest.approx(
        [7.0606, 18.501], 1e-4
    )
    # Each alone stands where the other is nothing; together never more than their sum.
    assert float(drying.sherwood_both(100.0, 0.0, 0.6)) == pytest.approx(7.0606, 1e-4)
    both = float(drying.sherwood_both(100.0, 1e4, 0.6))
    assert (
        max(7.06, float(drying.sherwood_still(1e4, 0.6))) < both < 7.06 + float(drying.sherwood_still(1e4, 0.6)) - 2.0
    )


@pytest.mark.parametrize("reynolds", [1.0, 30.0, 300.0])
def test_the_air_film_lies_near_whitakers(reynolds: float) -> None:
    # Whitaker 1972, as in Incropera & DeWitt eq. 7.56 (memory), with the viscosity the same at wall and in the stream;
    # good to 30 % by its own account, from Re 3.5 up.
    prandtl = 0.71
    whitaker = 2.0 + (0.4 * reynolds**0.5 + 0.06 * reynolds ** (2 / 3)) * prandtl**0.4
    assert float(drying.sherwood_sphere(reynolds, prandtl)) == pytest.approx(whitaker, rel=0.15)


def test_still_air_lies_near_yuges_balls() -> None:
    # Yuge 1960, balls of steel in air: Nu = 2 + 0.392 Gr^(1/4), Gr from 1 to 1e5 (memory).
    grashof = np.array([10.0, 1e3, 1e5])
    assert drying.sherwood_still(grashof, 0.71) == pytest.approx(2.0 + 0.392 * grashof**0.25, rel=0.08)
    # Ranz & Marshall's own form for still air, 2 + 0.6 Gr^(1/4) Pr^(1/3) (memory), lies a good quarter higher.
    older = 2.0 + 0.6 * grashof**0.25 * np.cbrt(0.71)
    assert np.all(drying.sherwood_still(grashof, 0.71) < older)
    assert drying.sherwood_still(grashof, 0.71) == pytest.approx(older, rel=0.3)
    with pytest.raises(ValueError, match="schmidt"):
        drying.sherwood_still(1e3, 0.0)


def test_air_is_as_thin_as_handbooks_say() -> None:
    # Incropera & DeWitt, table A.4: 15.89e-6 m2/s at 300 K (memory).
    assert float(drying.air_viscosity_m2_s(26.85)) == pytest.approx(15.89e-6, rel=0.02)


@pytest.mark.parametrize(("liquid", "cas"), [("water", "7732-18-5"), ("isopropyl", "67-63-0"), ("ethanol", "64-17-5")])
def test_heat_of_evaporation_as_the_chemicals_library_holds_it(liquid: str, cas: str) -> None:
    # CRC Handbook values at 25 C, J/mol, held in the library
    crc = chemicals.phase_change.Hvap_data_CRC.loc[cas]["Hvap298"]
    found = float(drying.heat_j_kg(liquid, 25.0)) * drying.g_mol_of(liquid) / 1000.0
    assert found == pytest.approx(float(crc), rel=0.02)


@pytest.mark.parametrize(("alcohol", "mass_pct", "boils_c"), [("ethanol", 95.6, 78.2), ("isopropyl", 87.8, 80.3)])
def test_alcohol_and_water_boil_together_where_the_handbooks_say(alcohol: str, mass_pct: float, boils_c: float) -> None:
    # CRC Handbook, azeotropic data (memory): mass percent and boiling point at one atmosphere.
    pure_pa, water_pa = float(drying.saturation_pa(alcohol, boils_c)), float(water_vapour_pa(boils_c))

    def apart(x: float) -> float:
        one, two = drying.activities(alcohol, x)
        return float(one / x * pure_pa - two / (1.0 - x) * water_pa)

    x = brentq(apart, 0.4, 0.98)
    mass = x * drying.g_mol_of(alcohol)
    assert 100.0 * mass / (mass + (1.0 - x) * WATER_G_MOL) == pytest.approx(mass_pct, abs=1.2)
    one, two = drying.activities(alcohol, x)
    assert float(one * pure_pa + two * water_pa) == pytest.approx(101_325.0, rel=0.01)


def test_activities_keep_the_law_of_gibbs_and_duhem() -> None:
    x = np.linspace(0.05, 0.95, 400)
    one, two = drying.activities("isopropyl", x)
    slopes = x * np.gradient(np.log(one), x) + (1.0 - x) * np.gradient(np.log(two), x)
    assert np.abs(slopes[2:-2]).max() < 5e-3


def test_alcohol_that_leaves_its_water_behind_takes_as_long_as_summed_step_by_step() -> None:
    left = np.linspace(1.0, 0.1, 20001)
    moles, water = left * 63.0 / 60.095, 37.0 / 18.015
    x = moles / (moles + water)
    slow = np.trapezoid(1.0 / drying.activities("isopropyl", x)[0], -left) / 0.9
    assert float(drying.leaving_activity("isopropyl", 63.0, 37.0)) == pytest.approx(1.0 / slow, rel=1e-3)
    assert float(drying.leaving_activity("ethanol", 5.0, 0.0)) == pytest.approx(1.0)


@pytest.mark.parametrize(("room_c", "humidity"), [(20.0, 30.0), (25.0, 50.0), (30.0, 20.0), (15.0, 80.0)])
def test_a_wet_ball_in_moving_air_comes_to_the_wet_bulb(room_c: float, humidity: float) -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)
    across, speed = 0.01, 5.0
    viscosity = float(drying.air_viscosity_m2_s(room_c))
    diffusivity = float(diffusivity_air_m2_s(WATER_G_MOL, room_c))
    reynolds = speed * across / viscosity
    film = drying.sherwood_sphere(reynolds, viscosity / diffusivity) * diffusivity / across
    heat = drying.sherwood_sphere(reynolds, drying.PRANDTL) * drying.CONDUCTS_W_M_K / across
    outside = humidity / 100.0 * float(water_vapour_pa(room_c))
    found = float(drying.cooled_c("water", room_c, outside, film, heat))
    assert found == pytest.approx(psychrolib.GetTWetBulbFromRelHum(room_c, humidity / 100.0, 101_325.0), abs=1.0)


def test_cooling_balances_its_heat() -> None:
    celsius = float(drying.cooled_c("isopropyl", 22.0, 0.0, 8e-4, 11.0, 0.8))
    vapour = drying.vapour_kg_m3("isopropyl", 0.8 * drying.saturation_pa("isopropyl", celsius), 22.0)
    assert 11.0 * (22.0 - celsius) == pytest.approx(
        float(8e-4 * vapour * drying.heat_j_kg("isopropyl", 22.0)), rel=1e-6
    )


@pytest.mark.parametrize("biot", [2.0, 20.0])
def test_the_front_moves_as_finite_volumes_say(biot: float) -> None:
    # Liquid in each shell holds the vapour there at saturation until it is gone; load a thousand times the vapour.
    # The rate at which a shell's liquid goes is the balance of vapour through its faces; no closed form is used.
    load = 1000.0
    faces, middles, volumes = _shells()
    between = faces[1:-1] ** 2 / np.diff(middles)
    last = 1.0 / ((1.0 - middles[-1]) + 1.0 / biot)

    def flow(_: float, held: Array) -> Array:
        # held: vapour plus liquid; vapour is what there is, at most 1
        vapour = np.minimum(held, 1.0)
        out = np.append(between * (vapour[:-1] - vapour[1:]), last * vapour[-1])
        return np.asarray((np.insert(out[:-1], 0, 0.0) - out) / volumes)

    near = np.eye(SHELLS, k=1) + np.eye(SHELLS) + np.eye(SHELLS, k=-1)
    whole = load * (1.0 / 6.0 + 1.0 / (3.0 * biot))
    times = np.array([0.1, 0.3, 0.6, 0.9]) * whole
    course = solve_ivp(
        flow, (0.0, times[-1]), np.full(SHELLS, load), "BDF", times, rtol=1e-4, atol=1e-3, jac_sparsity=near
    )
    left = 3.0 * volumes @ course.y / load
    told = drying.front_seconds(left, load, 1.0, 1.0 / 6.0, 1.0 / (3.0 * biot))
    assert told == pytest.approx(times, rel=0.03)


def test_a_slab_dries_with_the_square_of_its_depth() -> None:
    # Stefan's tube: d(s)/dt = D drop / (load s), so s^2 = 2 D drop t / load (Bird, Stewart & Lightfoot, ch. 18; memory).
    diffusivity, depth, load, drop = 3e-6, 0.02, 20.0, 0.05
    seconds = float(drying.front_seconds(0.5, load, drop, depth**2 / (2 * diffusivity), 0.0, is_ball=False))
    assert np.sqrt(2 * diffusivity * drop * seconds / load) == pytest.approx(depth / 2)


def _farthest(rings: int, turns: int, end: float, bare: str) -> float:
    """Highest u with lap u = -1 in a ball (or half ball) of radius 1, on a grid of rings and angles."""
    r, angle = np.linspace(0.0, 1.0, rings + 1), np.linspace(0.0, end, turns + 1)
    middle_r, middle_a = (r[1:] + r[:-1]) / 2, (angle[1:] + angle[:-1]) / 2
    step_r, step_a = 1.0 / rings, end / turns
    cap, ring = np.cos(angle[:-1]) - np.cos(angle[1:]), (r[1:] ** 2 - r[:-1] ** 2) / 2
    volume = np.outer((r[1:] ** 3 - r[:-1] ** 3) / 3, cap)
    place = np.arange(rings * turns).reshape(rings, turns)
    matrix = lil_matrix((rings * turns, rings * turns))

    def join(one: int, two: int, flow: float) -> None:
        for row, column, sign in ((one, one, 1), (two, two, 1), (one, two, -1), (two, one, -1)):
            matrix[row, column] += sign * flow

    for i in range(rings):
        for j in range(turns):
            if i < rings - 1:
                join(place[i, j], place[i + 1, j], r[i + 1] ** 2 * cap[j] / step_r)
            elif bare == "all" or (bare == "upper half" and middle_a[j] < np.pi / 2):
                matrix[place[i, j], place[i, j]] += 2 * cap[j] / step_r
            if j < turns - 1:
                join(place[i, j], place[i, j + 1], ring[i] * np.sin(angle[j + 1]) / (middle_r[i] * step_a))
            elif bare == "flat":
                matrix[place[i, j], place[i, j]] += 2 * ring[i] * np.sin(end) / (middle_r[i] * step_a)
    return float(spsolve(matrix.tocsr(), volume.ravel()).max())


@pytest.mark.parametrize(
    ("bare", "end", "path"),
    [
        ("all", np.pi, drying.BALL_WHOLE),
        ("upper half", np.pi, drying.BALL_HALF_OPEN),
        ("flat", np.pi / 2, drying.HALF_BALL_FACE),
    ],
)
def test_how_far_the_last_liquid_is_from_the_air(bare: str, end: float, path: float) -> None:
    assert path == pytest.approx(_farthest(16, 32 if end > 2 else 16, end, bare), rel=0.04)


def test_cranks_picture_is_inverted_rightly_and_is_the_slower() -> None:
    left = np.array([0.95, 0.7, 0.5, 0.36, 0.34, 0.1, 0.02])
    assert 1.0 - drying.sphere_fraction_lost(drying.crank_turns(left) / 6.0) == pytest.approx(left, abs=2e-3)
    assert np.all(drying.crank_turns(left) > drying.front_turns(left))


def test_two_liquids_side_by_side_leave_what_may_stay() -> None:
    masses, scales, paths, films = (20.0, 6.0), (200.0, 3000.0), (60.0, 30.0), (4.0, 3.0)
    rest = np.array([1.0, 3.0, 5.9, 6.1, 15.0, 25.9, 27.0])
    seconds = drying.seconds_until(rest, masses, scales, paths, films)

    def left_at(time: float) -> float:
        held = 0.0
        for mass, scale, path, film in zip(masses, scales, paths, films, strict=True):
            way = lambda x: float(drying.front_seconds(x, scale, 1.0, path, film)) - time  # noqa: E731, B023
            held += 0.0 if way(0.0) <= 0 else mass * float(brentq(way, 0.0, 1.0))
        return held

    for time, wanted in zip(seconds[:-1], rest[:-1], strict=True):
        assert left_at(float(time)) == pytest.approx(wanted, abs=0.01)
    assert seconds[-1] == 0.0
    assert np.all(np.diff(seconds) < 0)


def test_what_never_leaves_is_told() -> None:
    damp = (200.0, np.inf)
    seconds = drying.seconds_until(np.array([5.0, 7.0]), (20.0, 6.0), damp, (60.0, 30.0), (4.0, 3.0))
    assert np.isinf(seconds[0])
    # a twentieth of the alcohol and all of the water stay
    assert seconds[1] == pytest.approx(float(drying.front_seconds(0.05, 200.0, 1.0, 60.0, 4.0)), rel=1e-6)
    assert np.isinf(drying.front_seconds(0.5, 10.0, 0.0, 60.0, 4.0))
    only = drying.seconds_until(2.0, (20.0, 0.0), damp, (60.0, 30.0), (4.0, 3.0))
    assert float(only) == pytest.approx(float(drying.front_seconds(0.1, 200.0, 1.0, 60.0, 4.0)))
