"""The standing batch against scipy's solver, closed forms and the stoichiometry of the reaction."""

import math
from dataclasses import fields, replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from fizzwright.science import damp_law, neutralisation, runaway
from fizzwright.science.runaway import Batch, stand

PLAIN = Batch(
    fizz_mol=4.5,
    capacity_g=4.0,
    water_g=7.0,
    alcohol_g=20.0,
    alcohol_lifetime_s=3000.0,
    rate_mol_g_s=3e-5,
    hydrate_share=0.4,
    air_g_s=2e-3,
    humidity=0.5,
    danger=0.55,
)


def drawn(count: int, seed: int = 3) -> Batch:
    """Batches of every temper, from bone dry to foaming over."""
    rng = np.random.default_rng(seed)

    def ratio(low: float, high: float) -> np.ndarray:
        return np.exp(rng.uniform(np.log(low), np.log(high), count))

    kilos = ratio(0.1, 5)
    return Batch(
        fizz_mol=4.5 * kilos,
        capacity_g=ratio(1, 25) * kilos,
        water_g=ratio(1, 40) * kilos,
        alcohol_g=rng.uniform(0, 30, count) * kilos,
        alcohol_lifetime_s=ratio(300, 6000),
        rate_mol_g_s=ratio(5e-6, 5e-4),
        hydrate_share=rng.uniform(0, 0.66, count),
        air_g_s=ratio(5e-4, 8e-3) * kilos ** (2 / 3),
        humidity=rng.uniform(0.2, 0.95, count),
        danger=rng.uniform(0.3, 0.7, count),
        added_g_s=rng.uniform(0, 2e-4, count) * kilos,
    )


def by_scipy(batch: Batch, column: int, minutes: np.ndarray) -> np.ndarray:
    """The same equations, written out again as plain sums and solved by LSODA at 1e-10."""
    of = {f.name: float(np.broadcast_to(getattr(batch, f.name), batch.shape or (1,))[column]) for f in fields(batch)}

    def slope(t: float, y: np.ndarray) -> list[float]:
        water, spent = float(y[0]), float(y[1])
        bound = of["capacity_g"] + of["hydrate_share"] * 18.015 * of["fizz_mol"] * spent
        alcohol = of["alcohol_g"] * math.exp(-t / of["alcohol_lifetime_s"])
        film = max(water - bound, 0.0)
        co2 = of["rate_mol_g_s"] * film * (water / (water + alcohol) if water > 0 else 0.0) * (1.0 - spent)
        air = of["air_g_s"] * (of["humidity"] - of["danger"] * min(water / bound, 1.0))
        return [air + of["added_g_s"] + 18.015 * co2, co2 / of["fizz_mol"]]

    found = solve_ivp(
        slope,
        (0.0, 60.0 * minutes[-1]),
        [of["water_g"], 0.0],
        method="LSODA",
        rtol=1e-10,
        atol=1e-13,
        t_eval=60.0 * minutes,
    )
    assert found.success
    return np.asarray(found.y)


def test_agrees_with_scipy_on_random_draws():
    batch, minutes = drawn(60), np.array([0.0, 5.0, 20.0, 60.0, 120.0, 240.0])
    course = stand(batch, 240.0)
    spent, water = course.spent(minutes), course.water_g(minutes)
    for column in range(60):
        exact = by_scipy(batch, column, minutes)
        assert water[:, column] == pytest.approx(exact[0], rel=1e-4)
        # a share below a thousandth counts as a thousandth
        assert spent[:, column] == pytest.approx(exact[1], rel=1e-4, abs=1e-7)
    # the draws held runaways and tame ones
    assert (spent[-1] > 0.9).sum() > 10 and (spent[-1] < 0.05).sum() > 10


def test_a_coarse_sum_is_good_enough_for_a_review():
    batch = drawn(60)
    fine, coarse = (stand(batch, 240.0, rtol).spent(np.linspace(0, 240, 9)) for rtol in (1e-7, 1e-3))
    assert np.abs(fine - coarse).max() < 5e-3


# A method of order n errs by h^(n + 1) in one step: halving the step makes the error 64 and 32 times smaller.
@pytest.mark.parametrize(("step", "times"), [(damp_law.plain_step, 64), (damp_law.stiff_step, 32)])
def test_the_methods_have_their_order(step, times):
    law = damp_law.Law(replace(PLAIN, water_g=12.0, rate_mol_g_s=3e-4).columns())
    start, wet, zero = np.array([[12.0], [0.0]]), np.array([True]), np.zeros(1)

    def slope(t: float, y: np.ndarray) -> np.ndarray:
        return law.slope(law.alcohol_g(np.array([t])), y[:, None], wet)[:, 0]

    def error(h: float) -> float:
        new, *_ = step(law, wet, zero, start, slope(0.0, start[:, 0])[:, None], np.array([h]))
        exact = solve_ivp(slope, (0, h), start[:, 0], method="DOP853", rtol=1e-13, atol=1e-15).y[:, -1]
        return float(abs(new[1, 0] - exact[1]))

    ratios = [error(h) / error(h / 2) for h in (100.0, 50.0)]
    assert all(0.75 * times < ratio < 1.3 * times for ratio in ratios)


# The curve between the ends of a step is of fourth order too.
def test_between_the_steps_nothing_is_lost():
    batch, minutes = drawn(30, seed=5), np.linspace(0.0, 240.0, 97)
    spent = stand(batch, 240.0).spent(minutes)
    for column in range(30):
        assert spent[:, column] == pytest.approx(by_scipy(batch, column, minutes)[1], rel=1e-4, abs=1e-6)


# No reaction, powders below their capacity: w = b RH/a + (w0 - b RH/a) exp(-G a t / b). Above it: a straight line.
def test_without_reaction_the_closed_forms_hold():
    minutes = np.array([0.0, 30.0, 240.0])
    dry = replace(PLAIN, rate_mol_g_s=0.0, water_g=np.array([0.0, 1.0]), humidity=0.4)
    end = 4.0 * 0.4 / 0.55
    expected = end + (np.array([0.0, 1.0]) - end) * np.exp(-2e-3 * 0.55 / 4.0 * 60 * minutes[:, None])
    assert stand(dry, 240.0).water_g(minutes) == pytest.approx(expected, rel=1e-6)
    wet = replace(PLAIN, rate_mol_g_s=0.0, humidity=np.array([0.7, 0.5]), water_g=40.0)
    expected = 40.0 + 2e-3 * np.array([0.15, -0.05]) * 60 * minutes[:, None]
    assert stand(wet, 240.0).water_g(minutes) == pytest.approx(expected, rel=1e-6)


# No air, no alcohol, no hydrate: spent' = k/n (f0 + H spent)(1 - spent), whose solution is a logistic curve.
def test_without_air_it_is_a_logistic_curve():
    batch = replace(PLAIN, alcohol_g=0.0, air_g_s=0.0, hydrate_share=0.0)
    minutes = np.linspace(0, 240, 13)
    film, made, rate = 3.0, 18.015 * 4.5, 3e-5 / 4.5
    grown = np.exp(rate * (film + made) * 60 * minutes)
    expected = film * (grown - 1) / (made + film * grown)
    course = stand(batch, 240.0)
    assert course.spent(minutes) == pytest.approx(expected, rel=1e-5, abs=1e-12)
    half = math.log((film + made * 0.5) / (film * 0.5)) / (rate * (film + made)) / 60
    assert course.minutes_until(0.5) == pytest.approx(half, rel=1e-5)


# A mix worked out by neutralisation.react: all its fizz spent in shut air, it holds the water the reaction says it made.
def test_water_made_is_the_stoichiometry():
    reaction = neutralisation.react({"sodium_bicarbonate": 3.0, "citric_acid": 0.6})
    batch = replace(PLAIN, fizz_mol=reaction.co2_mol, alcohol_g=0.0, air_g_s=0.0, rate_mol_g_s=1e-3)
    course = stand(batch, 2000.0)
    assert course.spent(2000.0) == pytest.approx(1.0, abs=1e-6)
    assert course.water_g(2000.0) - 7.0 == pytest.approx(18.015 * reaction.water_mol, rel=1e-5)


def test_water_in_is_water_held():
    batch, minutes = drawn(40, seed=8), np.linspace(0, 240, 4801)
    course = stand(batch, 240.0, rtol=1e-8)
    water, spent = course.water_g(minutes), course.spent(minutes)
    bound = batch.capacity_g + batch.hydrate_share * 18.015 * batch.fizz_mol * spent
    air = batch.air_g_s * (batch.humidity - batch.danger * np.minimum(water / bound, 1.0)) + batch.added_g_s
    brought = np.trapezoid(air, 60 * minutes, axis=0)
    made = 18.015 * batch.fizz_mol * spent[-1]
    # as far as the trapezoids know
    assert water[-1] == pytest.approx(batch.water_g + brought + made, rel=3e-5)
    assert course.film_g(minutes) == pytest.approx(np.maximum(water - bound, 0), abs=1e-6)


def test_no_acid_spends_nothing():
    course = stand(replace(PLAIN, fizz_mol=0.0, humidity=0.9), 240.0)
    assert course.spent(240.0) == 0 and course.onset_min == np.inf and course.minutes_until(0.01) == np.inf
    assert course.water_g(240.0) > 7.0


def test_onset_and_minutes():
    batch = replace(PLAIN, humidity=np.array([0.2, 0.8]), water_g=np.array([3.0, 12.0]))
    course = stand(batch, 240.0, rtol=1e-8)
    tame, wild = course.onset_min
    assert tame == np.inf and wild == 0.0
    assert course.minutes_until(0.05)[0] == np.inf
    reached = float(course.minutes_until(0.05)[1])
    assert course.spent(reached)[1] == pytest.approx(0.05, rel=1e-5)


# What the onset says, reckoned anew around it: just before, the air takes more from the film than the reaction gives; just
# after, less. So the film is smallest there.
def test_onset_is_where_gain_and_loss_cross():
    batch = replace(PLAIN, humidity=0.4, rate_mol_g_s=6e-5, alcohol_g=60.0)
    course = stand(batch, 480.0, rtol=1e-9)
    onset = float(course.onset_min)
    assert 1 < onset < 240
    assert course.spent(480.0) > runaway.RUNS_AWAY
    film = course.film_g(np.linspace(0.0, 2 * onset, 2001))
    assert np.argmin(film) == pytest.approx(1000, abs=3)
    # less air taken from it, and it feeds itself sooner; a film that dries out never does
    assert stand(replace(batch, humidity=0.45), 480.0).onset_min < onset
    assert stand(replace(batch, humidity=0.2), 480.0).onset_min == np.inf


@given(
    humidity=st.floats(0, 1), water=st.floats(0, 500), rate=st.floats(0, 1), air=st.floats(0, 1),
    capacity=st.floats(1e-3, 100), mol=st.floats(0, 50), hydrate=st.floats(0, 1), alcohol=st.floats(0, 300),
    danger=st.floats(0.01, 1), lifetime=st.floats(1, 1e9), minutes=st.floats(0.1, 1000),
)  # fmt: skip
def test_never_blows_up(humidity, water, rate, air, capacity, mol, hydrate, alcohol, danger, lifetime, minutes):
    batch = Batch(mol, capacity, water, alcohol, lifetime, rate, hydrate, air, humidity, danger)
    course = stand(batch, minutes, rtol=1e-3)
    times = np.linspace(0, minutes, 7)
    spent, held = course.spent(times), course.water_g(times)
    assert np.all(np.isfinite(spent)) and np.all(np.isfinite(held))
    assert np.all((spent >= 0) & (spent <= 1)) and np.all(np.diff(course.y[1]) >= 0)
    assert course.onset_min >= 0


# A foam-over in half a second, and powders that are in balance with the air a thousand times a second, for a whole day.
def test_stiff_batches_come_out_right():
    boom = replace(PLAIN, rate_mol_g_s=1.0, water_g=256.0, alcohol_g=0.0, air_g_s=0.0, hydrate_share=0.0)
    course = stand(boom, 1440.0)
    film, made, rate = 252.0, 18.015 * 4.5, 1.0 / 4.5
    half = math.log((film + made * 0.5) / (film * 0.5)) / (rate * (film + made)) / 60
    assert course.minutes_until(0.5) == pytest.approx(half, rel=1e-4)
    assert course.spent(1440.0) == pytest.approx(1.0, abs=1e-9)
    quick = replace(PLAIN, capacity_g=1e-3, water_g=0.0, air_g_s=2.0, humidity=0.3)
    assert stand(quick, 1440.0).water_g(1440.0) == pytest.approx(1e-3 * 0.3 / 0.55, rel=1e-5)
    # a bowl that dries out, and what it then still holds
    drying = replace(PLAIN, rate_mol_g_s=0.0, capacity_g=0.28, water_g=500.0, air_g_s=1.0, humidity=0.32, danger=1.0)
    assert stand(drying, 1000.0).water_g(1000.0) == pytest.approx(0.28 * 0.32, rel=1e-5)


def test_shapes_broadcast():
    batch = replace(PLAIN, humidity=np.array([0.3, 0.5, 0.7]), water_g=np.array([[4.0], [9.0]]))
    course = stand(batch, 60.0)
    assert course.spent(np.array([10.0, 20.0])).shape == (2, 2, 3)
    assert course.minutes_until(0.05).shape == (2, 3) == course.onset_min.shape
    assert stand(PLAIN, 60.0).spent(30.0).shape == ()


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"capacity_g": 0.0}, "capacity_g: read 0; allowed is above 0"),
        ({"humidity": 45.0}, "humidity: read 45; allowed is 0 or more, at most 1"),
        ({"water_g": -1.0}, "water_g: read -1; allowed is 0 or more"),
        ({"rate_mol_g_s": float("nan")}, "rate_mol_g_s: read nan"),
    ],
)
def test_batches_nobody_has_are_refused(change, words):
    with pytest.raises(ValueError, match=words):
        stand(replace(PLAIN, **change), 60.0)


def test_times_outside_are_refused():
    with pytest.raises(ValueError, match="more than 0"):
        stand(PLAIN, 0.0)
    with pytest.raises(ValueError, match="from 0 to 60"):
        stand(PLAIN, 60.0).spent(61.0)
