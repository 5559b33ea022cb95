"""Spoons: against a plain brute force over scoop counts, and against cup and spoon sizes from pint."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fizzwright.catalogue import Catalogue, load, open_workshop
from fizzwright.demo import folder
from fizzwright.plan.drawer import Drawer, full_drawer, nearest
from fizzwright.plan.spoons import GOOD_ENOUGH_PCT, kitchen, spoonful, weighed, whole_error_pct
from fizzwright.recipe.document import read_file
from fizzwright.recipe.weigh import weigh

US: Drawer = full_drawer("us", load())


@pytest.fixture(scope="module")
def catalogue() -> Catalogue:
    return load()


def brute_force(volume_ml: float, cup: float, tbsp: float, tsp: float) -> tuple[float, int]:
    """Best (error %, scoops) by trying every count of every measure: written apart from the module, for US sizes."""
    sizes = [cup, cup / 2, cup / 3, cup / 4, tbsp, tsp, tsp / 2, tsp / 4, tsp / 8]
    counts = [range(int(volume_ml // cup) + 2), range(2), range(3), range(2), range(4), range(3), *[range(2)] * 3]
    best = (float("inf"), 0)
    for taken in itertools.product(*counts):
        if not 0 < sum(n > 0 for n in taken) <= 3:
            continue
        got = sum(n * size for n, size in zip(taken, sizes, strict=True))
        best = min(best, (max(abs(got - volume_ml) / volume_ml * 100, 2.0), sum(taken)))
    return best


# NIST SP 1038: 1 US cup = 236.588 ml, tablespoon 14.787 ml, teaspoon 4.929 ml
@settings(max_examples=40, deadline=None)
@given(volume=st.floats(0.4, 900))
def test_nothing_a_brute_force_finds_is_better(volume: float) -> None:
    pile = nearest(volume, US, GOOD_ENOUGH_PCT)
    error, fewest = brute_force(volume, 236.588, 14.787, 4.929)
    assert max(abs(pile.volume_ml - volume) / volume * 100, 2.0) == pytest.approx(error, abs=0.01), pile.text(US)
    assert pile.scoops == fewest


@pytest.mark.parametrize(
    ("system", "volume_ml", "text"),
    [
        ("us", 236.588, "1 cup"),
        ("us", 118.294 + 14.787, "1/2 cup + 1 tbsp"),
        ("us", 354.882, "1 cup + 1/2 cup"),
        ("us", 157.725, "2 x 1/3 cup"),
        ("us", 7 * 236.588, "7 cups"),
        ("us", 3.0805, "1/2 tsp + 1/8 tsp"),
        ("metric", 250, "1 cup"),
        ("metric", 30, "2 tbsp"),
        ("au", 40, "2 tbsp"),
        ("au", 15, "3 tsp"),
        ("uk", 284.13, "1 cup"),
    ],
)
def test_known_volumes_read_as_a_cook_would_say_them(
    catalogue: Catalogue, system: str, volume_ml: float, text: str
) -> None:
    drawer = full_drawer(system, catalogue)
    assert nearest(volume_ml, drawer, GOOD_ENOUGH_PCT).text(drawer) == text


def test_cup_sizes_agree_with_pint(catalogue: Catalogue) -> None:
    units: pint.UnitRegistry[float] = pint.UnitRegistry()
    sizes = {spoon.label: spoon.volume_ml for spoon in full_drawer("us", catalogue).spoons}
    assert sizes["cup"] == pytest.approx(units("1 cup").to("ml").magnitude, rel=1e-4)
    assert sizes["tbsp"] == pytest.approx(units("1 tablespoon").to("ml").magnitude, rel=1e-4)
    assert sizes["1/8 tsp"] == pytest.approx(units("1 teaspoon").to("ml").magnitude / 8, rel=1e-4)


def test_the_error_is_the_one_the_rounding_makes(catalogue: Catalogue) -> None:
    soda = catalogue.materials["sodium_bicarbonate"]
    density = soda.bulk_density_loose_g_ml_typ
    assert density
    got = spoonful(200.0, soda, US, catalogue)
    assert got is not None
    assert got.error_pct == pytest.approx((got.grams_got - 200.0) / 2.0)
    assert abs(got.error_pct) <= 2.0
    packed = spoonful(200.0, soda, US, catalogue, density * 1.3)
    assert packed is not None
    assert packed.grams_got / density / 1.3 < got.grams_got / density


def test_oils_come_in_whole_drops(catalogue: Catalogue) -> None:
    orange = catalogue.oils["sweet_orange"]
    # 30 drops a millilitre and 0.846 g/ml: 0.2 g is 7.09 drops, so seven
    got = spoonful(0.2, orange, US, catalogue)
    assert got is not None
    assert got.text == "7 drops"
    assert got.error_pct == pytest.approx((7 / 30 * 0.846 - 0.2) / 0.2 * 100, abs=0.01)
    many = spoonful(10.0, orange, US, catalogue)
    assert many is not None
    assert "tsp" in many.text


def test_what_no_spoon_can_hold_is_left_to_the_scale(catalogue: Catalogue) -> None:
    assert spoonful(0.05, catalogue.materials["sodium_bicarbonate"], US, catalogue) is None
    assert spoonful(0.005, catalogue.oils["sweet_orange"], US, catalogue) is None
    assert spoonful(0.0, catalogue.materials["sodium_bicarbonate"], US, catalogue) is None


def test_an_assumed_density_is_said(catalogue: Catalogue) -> None:
    unknown = replace(
        catalogue.materials["fdc_blue_1"],
        true_density_g_ml=None,
        bulk_density_loose_g_ml_min=None,
        bulk_density_loose_g_ml_typ=None,
        bulk_density_loose_g_ml_max=None,
        bulk_density_tapped_g_ml=None,
    )
    got = spoonful(5.0, unknown, US, catalogue)
    assert got is not None
    assert got.said
    known = spoonful(5.0, catalogue.materials["citric_acid"], US, catalogue)
    assert known is not None
    assert not known.said


@pytest.mark.parametrize(("grams", "shown"), [(330.04, "330"), (4.996, "5.00"), (0.2037, "0.20"), (0.0004, "0.01")])
def test_a_scale_shows_its_own_step_and_no_digit_more(grams: float, shown: str) -> None:
    got = weighed(grams)
    assert f"{got.grams_got:.{got.decimals}f}" == shown
    assert abs(got.grams_got - grams) <= got.step_g / 2 or got.grams_got == got.step_g


def test_a_mass_of_few_steps_goes_on_the_fine_scale() -> None:
    _, workshop = open_workshop(folder())
    whole_grams = replace(workshop, scale_step_g=1.0)
    assert weighed(8.85, whole_grams).step_g == workshop.small_scale_step_g
    assert weighed(10.4, whole_grams).step_g == 1.0
    # the scale that shows a tenth weighs the same mass well enough itself
    assert weighed(8.85, workshop).step_g == workshop.scale_step_g == 0.1


def test_what_was_written_in_real_spoons_and_drops_comes_back_as_written(catalogue: Catalogue) -> None:
    mix = weigh(read_file(folder() / "recipes" / "orchard_rain.toml", catalogue), catalogue)
    told = {m.id: kitchen(m, mix, catalogue) for m in mix.lines}
    said = {use: spoon.text for use, spoon in told.items() if spoon is not None}
    assert said["sodium_bicarbonate"] == "1 cup + 1/2 cup"
    assert said["citric_acid"] == "1/2 cup + 1/4 cup"
    assert said["corn_starch"] == "1/2 cup"
    assert said["coconut_oil"] == "1 tbsp + 1 tsp + 1/2 tsp"
    assert said["sweet_orange"] == "7 drops"
    assert said["witch_hazel"] == "24 sprays"
    assert all(abs(spoon.error_pct) < 0.2 for spoon in told.values() if spoon is not None)
    assert abs(whole_error_pct(mix, catalogue)) < 0.1


def test_the_whole_error_is_the_weighted_mean_of_the_lines(catalogue: Catalogue) -> None:
    mix = weigh(read_file(folder() / "recipes" / "stillwater_clay.toml", catalogue), catalogue)
    spoons = [(m.grams, kitchen(m, mix, catalogue)) for m in mix.lines]
    mean = sum(g * s.error_pct for g, s in spoons if s is not None) / sum(g for g, _ in spoons)
    assert whole_error_pct(mix, catalogue) == pytest.approx(mean)
    assert mean != 0
