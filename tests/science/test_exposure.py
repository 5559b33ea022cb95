"""The views of essential oil against pint conversions, numpy loops and the trade's own rule of thumb."""

import math

import numpy as np
import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fizzwright.science import exposure


def test_three_percent_is_eight_to_nine_drops_a_tablespoon_at_twenty_a_ml() -> None:
    # common practice, no source: 3 % is 8 to 9 drops a tablespoon
    assert 8 < exposure.drops_per_tablespoon(3, 1 / 20) < 9
    assert exposure.drops_per_tablespoon(3, 1 / 30) == pytest.approx(13.3, abs=0.05)
    tablespoon_ml = (1 * pint.UnitRegistry().tablespoon).to("ml").magnitude
    assert pytest.approx(tablespoon_ml, rel=1e-6) == exposure.US_TABLESPOON_ML
    drops = exposure.drops_per_tablespoon(3, 0.05)
    # the rule speaks of percent of the carrier; of the blend it is 3 / 103
    assert exposure.share_by_volume_pct(drops * 0.05, tablespoon_ml) == pytest.approx(300 / 103, rel=1e-6)


def test_shares_by_volume_and_mass() -> None:
    assert exposure.share_by_volume_pct(0.45, 14.55) == pytest.approx(3)
    assert exposure.share_by_volume_pct(0.45, 0) == 100
    assert exposure.share_by_volume_pct(0, 0) == 0
    assert exposure.share_by_mass_pct(1.2, 150) == pytest.approx(0.8)
    with pytest.raises(ValueError, match="more oil than product"):
        exposure.share_by_mass_pct(2, 1)
    with pytest.raises(ValueError, match="product_g must be above zero"):
        exposure.share_by_mass_pct(0, 0)


def test_bath_and_skin_units_by_pint() -> None:
    units = pint.UnitRegistry()
    assert exposure.bath_mg_l(0.9, 150) == pytest.approx((0.9 * units.gram / (150 * units.litre)).to("mg/l").magnitude)
    assert exposure.film_mg_cm2(0.9, 1.8) == pytest.approx(
        (0.9 * units.gram / (1.8 * units.m**2)).to("mg/cm**2").magnitude
    )


def test_film_is_worst_when_nothing_disperses() -> None:
    assert exposure.film_pct(1, 0) == 100
    assert exposure.film_pct(0, 0) == 0
    assert exposure.film_pct(1, 9) == pytest.approx(10)
    assert exposure.film_pct(1, 9, 0.5) == pytest.approx(100 * 0.5 / 9.5)
    assert exposure.film_pct(1, 9, 1) == 0
    with pytest.raises(ValueError, match="0 to 1"):
        exposure.film_pct(1, 9, 1.1)


@given(oil=st.floats(0.01, 10), carrier=st.floats(0, 50), less=st.floats(0, 1), more=st.floats(0, 1))
def test_more_dispersing_never_strengthens_the_film(oil: float, carrier: float, less: float, more: float) -> None:
    less, more = sorted((less, more))
    assert exposure.film_pct(oil, carrier, more) <= exposure.film_pct(oil, carrier, less) + 1e-9


def test_constituent_totals_match_a_loop_over_oils() -> None:
    rng = np.random.default_rng(2)
    oils, shares, product = rng.uniform(0, 2, (50, 3)), rng.uniform(0, 30, (50, 3, 4)), rng.uniform(100, 200, 50)
    totals = exposure.constituent_totals_pct(oils, shares, product)
    for d in range(50):
        for c in range(4):
            expected = sum(oils[d, o] * shares[d, o, c] / 100 for o in range(3)) / product[d] * 100
            assert totals[d, c] == pytest.approx(expected)
    one = exposure.constituent_totals_pct(oils[0], shares[0], product[0])
    assert one == pytest.approx(totals[0])
    fixed = exposure.constituent_totals_pct(oils, shares[0], 150.0)
    assert fixed.shape == (50, 4)
    with pytest.raises(ValueError, match="count the same oils"):
        exposure.constituent_totals_pct(np.ones(2), np.ones((3, 4)), 100.0)
    with pytest.raises(ValueError, match="more than 100 %"):
        exposure.constituent_totals_pct(np.ones(1), np.full((1, 1), 101.0), 100.0)


def test_solubiliser_is_counted_for_both_oils() -> None:
    assert exposure.solubiliser_needed_g(0.5, 10, 4, 1.5) == pytest.approx(17)
    for bad in (-1.0, math.nan, math.inf):
        with pytest.raises(ValueError, match="oil_g"):
            exposure.solubiliser_needed_g(bad, 0, 1, 1)
