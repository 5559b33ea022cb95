"""Binders against geometry done numerically, textbook limits, tables of a library, and common practice."""

from itertools import pairwise

import numpy as np
import pytest
from chemicals import interface
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad, solve_ivp
from scipy.special import lambertw

from fizzwright.science import binding


# Outside check: the ring as a solid of revolution, its outline an arc that meets both balls at no angle, integrated
# numerically by scipy.integrate.quad.
@pytest.mark.parametrize("degrees", [5.0, 10.0, 20.0, 30.0, 45.0])
def test_the_ring_is_the_solid_of_revolution(degrees):
    angle = np.radians(degrees)
    arc = 1 / np.cos(angle) - 1

    def section(z):
        neck = np.tan(angle) - np.sqrt(max(arc**2 - z**2, 0.0))
        return np.pi * (neck**2 - (1 - (1 - z) ** 2))

    half, _ = quad(section, 0, 1 - np.cos(angle))
    assert binding.ring_volume(degrees) == pytest.approx(2 * half, rel=1e-6)


# Outside check (memory): in closely packed powder, porosity near 0.4, rings run together when a quarter to a third of the
# pores is full, and a bed held by rings is about a third as strong as one with full pores (Newitt & Conway-Jones 1958);
# full pores hold with 6 (1 - e) / e x g / d (Rumpf 1962): 6 x 1.5 x 0.072 / 1e-4 = 6480 Pa for water and grains of 0.1 mm.
def test_rings_end_where_newitt_and_conway_jones_found_it():
    ends = binding.ring_saturation(binding.WIDEST_RING_DEG, 0.6)
    assert 0.25 < ends < 0.35
    assert 0.25 < binding.ring_strength_kpa(ends, 0.6, 72.0, 100.0) / 6.48 < 0.5


# Worked by hand: a thin ring pulls with pi d g (Fisher 1926), so 9/8 x 1.5 x pi x 0.072 / 1e-4 = 3817 Pa.
def test_a_thin_ring_worked_by_hand():
    assert binding.ring_strength_kpa(1e-9, 0.6, 72.0, 100.0) == pytest.approx(3.817, rel=0.01)
    assert binding.ring_strength_kpa(0.0, 0.6, 72.0, 100.0) == 0


def test_the_angle_of_a_ring_is_found_again():
    angles = np.array([3.0, 12.0, 27.0, 44.0])
    found = binding.ring_angle_deg(binding.ring_saturation(angles, 0.44), 0.44)
    assert found == pytest.approx(angles, abs=1e-6)
    assert binding.ring_angle_deg(0.9, 0.44) == pytest.approx(binding.WIDEST_RING_DEG)


# Outside check: surface tensions of the pure liquids at 25 C in the library chemicals (Jasper 1972 as compiled by Lange;
# Mulero & Cachadina 2014 for water).
def test_pure_liquids_pull_as_tabulated():
    table = interface.sigma_data_Jasper_Lange
    for alcohol, cas in (("isopropyl", "67-63-0"), ("ethanol", "64-17-5")):
        row = table.loc[cas]
        assert binding.surface_mn_m(alcohol, 100.0) == pytest.approx(row["a"] - 25.0 * row["b"], abs=0.5)
        assert binding.surface_mn_m(alcohol, 0.0) == pytest.approx(1000 * interface.sigma_IAPWS(298.15), abs=0.2)
        assert np.all(np.diff(binding.surface_mn_m(alcohol, np.linspace(0, 100, 50))) < 0)


# Worked by hand: 0.37 g of water and 0.63 g of alcohol in a gram; the blend takes less room than both, so nothing is left.
def test_a_blend_is_worth_its_parts():
    assert binding.worth_ml(0.877, 37.0, 63.0, 0.45, 0.2) == pytest.approx([0.37 / 0.997, 0.45 * 0.63 / 0.785, 0.0])
    assert binding.worth_ml(0.997, 100.0, 0.0, 0.45, 0.2) == pytest.approx([1 / 0.997, 0.0, 0.0], abs=1e-12)
    assert binding.worth_ml(0.92, 0.0, 0.0, 0.45, 0.2) == pytest.approx([0.0, 0.0, 0.2 / 0.92])


ONE = np.array([1.0])
SPIRIT = np.array([0.3, 0.6, 0.1]), np.array([0.02, 0.5, 0.0])


# Outside check: for a single component, wanted = m exp(-r t / m) has the closed form m = r t / W(r t / wanted), with
# Lambert's W from scipy.special.lambertw.
@given(st.floats(1e-3, 500), st.floats(1e-3, 5), st.floats(0.1, 60))
def test_one_component_agrees_with_lamberts_function(wanted, rate, minutes):
    gone = rate * minutes
    expected = gone / lambertw(gone / wanted).real
    assert binding.put_in_g(wanted, ONE, np.array([rate]), minutes) == pytest.approx(expected, rel=1e-8)


# Outside check: each component falls by dm/dt = -rate m / put in, integrated by scipy.integrate.solve_ivp.
def test_what_is_left_agrees_with_a_solver():
    weights, rates = SPIRIT

    def course(_, grams):
        return -rates * grams / 8.0

    solved = solve_ivp(course, (0, 25), 8.0 * weights, rtol=1e-10, atol=1e-12).y[:, -1].sum()
    assert binding.left(8.0, weights, rates, 25.0) == pytest.approx(solved, rel=1e-8)


@given(st.floats(1e-3, 500), st.floats(0, 120))
def test_what_is_put_in_leaves_what_is_wanted(wanted, minutes):
    weights, rates = SPIRIT
    put_in = binding.put_in_g(wanted, weights, rates, minutes)
    assert put_in >= wanted / weights.sum() * (1 - 1e-9)
    assert binding.left(put_in, weights, rates, minutes) == pytest.approx(wanted, rel=1e-7)
    assert binding.put_in_g(0.0, weights, rates, minutes) == 0


def test_the_time_a_binder_takes_to_go():
    assert binding.going_min(12.0, ONE, np.array([0.4]), 0.5) == pytest.approx(12.0 / 0.4 * np.log(2))
    assert binding.going_min(12.0, ONE, np.array([0.0]), 0.5) == np.inf
    weights, rates = SPIRIT
    minutes = binding.going_min(8.0, weights, rates, 0.3)
    assert binding.left(8.0, weights, rates, minutes) == pytest.approx(2.4)
    # a tenth of it never goes
    assert binding.going_min(8.0, weights, rates, 0.09) == np.inf


def test_pores_worked_by_hand():
    # grains of 100 ml at 40 % of the room leave 150 ml
    assert binding.pore_ml(100.0, 0.4) == pytest.approx(150.0)


# Common practice, no source (facts binder_water, binder_alcohol): 0.5-1.5-3 % water or 1-3-6 % alcohol by mass; a couple
# of tablespoons of oil in some 500 g. Dry mix of true density 1.95 squeezed to 0.44, in a dry room.
@pytest.mark.parametrize(
    ("density", "water", "alcohol", "least_g", "most_g"),
    [
        (0.997, 100, 0, 2.5, 15),
        (0.98, 88, 12, 2.5, 15),
        (0.818, 13, 87, 5, 30),
        (0.877, 37, 63, 5, 30),
        (0.92, 0, 0, 25, 40),
    ],
)
def test_the_want_of_a_dry_mix_is_the_usual(density, water, alcohol, least_g, most_g):
    pores = binding.pore_ml(500 / 1.95, 0.44)
    need = 0.024 * pores / binding.worth_ml(density, water, alcohol, 0.45, 0.2).sum()
    assert least_g < need < most_g


def test_damp_air_takes_the_binders_place():
    assert binding.damp_share(np.array([20.0, 40.0, 52.5, 65.0, 90.0]), 40.0, 65.0) == pytest.approx([0, 0, 0.5, 1, 1])
    assert binding.still_wanted_ml(8.0, 0.5, 3.0) == pytest.approx(1.0)
    assert binding.still_wanted_ml(8.0, 0.75, 3.0) == 0
    with pytest.raises(ValueError, match="above full_pct"):
        binding.damp_share(50.0, 60.0, 60.0)


@given(st.floats(0, 30), st.floats(0, 20), st.floats(1.2, 3))
def test_additions_never_pass_what_is_pasty_and_shrink(held, wanted, times):
    pasty = wanted * times
    steps = []
    for _ in range(200):
        step = float(binding.next_ml(held, wanted, pasty))
        assert step >= 0
        assert held + step <= max(pasty, held) * (1 + 1e-12)
        steps.append(step)
        held += step
    assert all(a >= b - 1e-9 for a, b in pairwise(steps))
    assert steps[-1] == pytest.approx(0, abs=1e-6)


def test_dry_powder_brings_it_back_to_what_holds():
    # 100 ml of pores, 4 ml in them, 2.5 % wanted: 60 ml more pores hold it all at 2.5 %
    assert binding.dry_pores_ml(4.0 - 2.5, 0.025) == pytest.approx(60.0)


def test_amounts_nobody_can_have_are_refused_in_words():
    for call in (
        lambda: binding.pore_ml(-1.0, 0.4),
        lambda: binding.pore_ml(1.0, 1.2),
        lambda: binding.left(np.nan, ONE, np.array([0.1]), 1),
        lambda: binding.put_in_g(1.0, ONE, np.array([-0.1]), 1),
        lambda: binding.worth_ml(0.0, 0, 0, 0.4, 0.2),
        lambda: binding.ring_strength_kpa(0.1, 0.4, 30.0, 0.0),
    ):
        with pytest.raises(ValueError, match="read"):
            call()


def test_everything_broadcasts_over_draws():
    pores = binding.pore_ml(np.array([200.0, 300.0]), 0.44)
    worth = binding.worth_ml(0.818, 13.0, 87.0, np.array([0.35, 0.45, 0.6]), 0.2)
    assert worth.shape == (3, 3)
    assert (0.024 * pores / worth.sum(axis=-1)[:, None]).shape == (3, 2)
    assert binding.put_in_g(np.array([0.0, 5.0, 6.0]), worth, np.array([0.01, 0.4, 0.0]), 5.0).shape == (3,)
    assert binding.ring_strength_kpa(np.array([0.02, 0.06]), 0.44, 22.0, 120.0).shape == (2,)
