"""Cups and grams against pint's units and hand-worked spreads."""

import math

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from fizzwright.science import measuring


def test_a_us_cup_of_water_by_pint() -> None:
    units = pint.UnitRegistry()
    cup_ml = (1 * units.cup).to("ml").magnitude
    ounces = (measuring.grams(cup_ml, 1.0) * units.gram).to("oz").magnitude
    # a US fluid ounce of water at 1 g/ml weighs 1.043 avoirdupois ounces
    assert ounces == pytest.approx(8 * 1.0432, rel=1e-4)


@given(volume=st.floats(1e-3, 1e6), density=st.floats(0.05, 20))
def test_volume_and_mass_round_trip(volume: float, density: float) -> None:
    assert measuring.volume_ml(measuring.grams(volume, density), density) == pytest.approx(volume, rel=1e-12)


@pytest.mark.parametrize("density", [0.0, -1.0, math.nan, math.inf])
def test_densities_that_are_none_are_refused(density: float) -> None:
    for function in (measuring.grams, measuring.volume_ml):
        with pytest.raises(ValueError, match="density_g_ml must be a number above zero"):
            function(10.0, density)


def test_each_habit_reads_its_own_figure() -> None:
    for habit, expected in (("sieved", 0.7), ("spooned", 0.9), ("scooped", 1.0), ("packed", 1.3)):
        got = measuring.loose_density(0.7, 0.9, 1.0, 1.3, habit)
        assert (got.density_g_ml, got.basis) == (expected, "published")


def test_missing_figures_are_estimated_and_said_so() -> None:
    packed = measuring.loose_density(None, 0.8, None, None, "packed")
    assert packed.basis == "estimate"
    assert packed.density_g_ml == pytest.approx(1.0)
    assert "spooned density 0.8" in packed.equation
    only_tapped = measuring.loose_density(None, None, None, 1.25, "spooned")
    assert only_tapped.density_g_ml == pytest.approx(1.0)
    # sifting took 17 % off a cup of sugar (measures.csv, var_sugar_sifting)
    assert measuring.loose_density(None, 1.0, None, None, "sieved").density_g_ml == pytest.approx(0.83)
    # the guess is less certain than the figure it came from
    assert packed.sd_fraction > measuring.loose_density(None, 0.8, None, None).sd_fraction


def test_range_is_read_as_a_ninety_percent_interval() -> None:
    got = measuring.loose_density(0.7, 0.9, 1.1, None)
    normal = stats.norm(0.9, got.sd_fraction * 0.9)
    assert normal.cdf(1.1) - normal.cdf(0.7) == pytest.approx(0.9, abs=1e-9)


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(ValueError, match="allowed are sieved, spooned, scooped, packed"):
        measuring.loose_density(None, 1.0, None, None, "heaped")
    with pytest.raises(ValueError, match="no bulk density is held"):
        measuring.loose_density(None, None, None, None)
    with pytest.raises(ValueError, match="packed density must be"):
        measuring.loose_density(None, 1.0, None, -1.0)


def test_interval_matches_scipy_lognormal() -> None:
    sd = 0.2
    exact = stats.lognorm(math.sqrt(math.log1p(sd**2)), scale=150).ppf([0.05, 0.95])
    assert measuring.interval_g(150, sd) == pytest.approx(tuple(exact))
    assert measuring.interval_g(150, 0) == (150, 150)
