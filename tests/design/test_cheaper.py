"""The cheapest mix of the same feel: the programme against trying a grid of grams, and savings worked by hand."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from pathlib import Path

import numpy as np
import pytest

from fizzwright.catalogue import load
from fizzwright.design import groups
from fizzwright.design.cheaper import Choice, cheaper, solve
from fizzwright.recipe.document import read_text
from fizzwright.recipe.weigh import weigh
from fizzwright.refusal import Refusal
from tests.design.everyday import of_demo


def choice(use: str, now_g: float, minor_per_g: float) -> Choice:
    return Choice(load().materials[use], "whole", now_g, minor_per_g, (0,) if now_g else ())


def test_no_point_of_a_grid_is_cheaper() -> None:
    choices = [
        choice("corn_starch", 40.0, 0.32),
        choice("tapioca_starch", 0.0, 0.52),
        choice("jojoba_oil", 12.0, 4.97),
        choice("sunflower_oil", 6.0, 0.69),
        choice("avocado_oil", 0.0, 2.6),
    ]
    price = np.array([c.minor_per_g for c in choices])
    total = 58.0
    got = solve(choices, total)
    lowest = np.inf
    for starch, tapioca, jojoba, sunflower in product(
        np.arange(38, 43, 0.5), (0, 2, 4), np.arange(0, 13, 0.5), np.arange(0, 20, 0.25)
    ):
        avocado = 18 - jojoba - sunflower
        if avocado < 0 or not 40 <= starch + tapioca <= 42:
            continue
        # no more sunflower than 6 % of the mix, which is usual, or 5 % more than there is
        if sunflower > max(0.06 * total, 6.3) or avocado > 0.06 * total or jojoba > 12.6:
            continue
        lowest = min(lowest, float(price @ [starch, tapioca, jojoba, sunflower, avocado]))
    assert float(price @ got) <= lowest + 1e-6
    assert float(price @ got) == pytest.approx(lowest, rel=0.02)
    assert got[:2].sum() == pytest.approx(40) and got[2:].sum() == pytest.approx(18)


def test_acid_and_gas_stay_when_acids_differ_in_price() -> None:
    # grams an equivalent: citric 64.04, tartaric 75.04 (molar mass over equivalents)
    choices = [
        choice("sodium_bicarbonate", 300.0, 0.3),
        choice("tartaric_acid", 150.0, 2.0),
        choice("citric_acid", 0.0, 0.48),
        choice("corn_starch", 60.0, 0.32),
    ]
    got = solve(choices, 3000.0)
    before = 150 / 75.04
    assert got[1] / 75.04 + got[2] / 64.04 == pytest.approx(before, rel=0.021)
    assert got[2] > 100 and got[0] == pytest.approx(300.0, rel=0.021)


def test_the_saving_is_what_the_packs_say(tmp_path: Path) -> None:
    before, catalogue, workshop = of_demo(tmp_path, "stillwater_clay")
    changed = cheaper(before, catalogue, workshop)
    # 15 g of jojoba at 21.50 for 500 ml against sunflower at 6.40 a litre
    jojoba = 15 * 2150 / (500 * (load().materials["jojoba_oil"].true_density_g_ml or 0))
    rows = {r.use: r for r in changed.rows}
    sunflower = (
        rows["sunflower_oil"].after_g * 640 / (1000 * (load().materials["sunflower_oil"].true_density_g_ml or 0))
    )
    costs = next(f for f in changed.figures if f.id == "cost.materials")
    assert costs.before is not None and costs.after is not None
    assert costs.before - costs.after == pytest.approx(jojoba - sunflower, abs=2.0)
    assert "acid to base" in changed.kept and "gas in the whole mix" in changed.kept
    was = {m.id: m.grams for m in weigh(before, catalogue).lines}
    now = {m.id: m.grams for m in weigh(read_text(changed.text, catalogue), catalogue).lines}
    assert {u: g for u, g in now.items() if u in catalogue.oils} == {
        u: g for u, g in was.items() if u in catalogue.oils
    }


@pytest.mark.parametrize("name", ["orchard_rain", "drift", "two_tides", "shingle_foam", "loft_heart", "lantern"])
def test_it_saves_or_says_that_nothing_can_be_saved(name: str, tmp_path: Path) -> None:
    before, catalogue, workshop = of_demo(tmp_path, name)
    try:
        changed = cheaper(before, catalogue, workshop)
    except Refusal as refused:
        assert "Nothing worth a new recipe" in str(refused)
        return
    costs = next(f for f in changed.figures if f.id == "cost.materials")
    assert costs.before is not None and costs.after is not None and costs.after < costs.before
    was = {line.use for line in before.lines}
    new = {line.use for line in read_text(changed.text, catalogue).lines} - was
    for group in ("nuts", "animal", "sulfate"):
        if not was & groups.members(group, catalogue).keys():
            assert not new & groups.members(group, catalogue).keys()


def test_without_prices_nothing_is_called_cheaper(tmp_path: Path) -> None:
    before, catalogue, workshop = of_demo(tmp_path, "drift")
    for bare in (None, replace(workshop, prices=())):
        with pytest.raises(Refusal, match=r"prices\.csv"):
            cheaper(before, catalogue, bare)
