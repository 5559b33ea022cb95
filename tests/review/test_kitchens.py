"""The kitchens of a recipe: against closed forms of scipy, and what must hold for every seed, habit and machine."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from fizzwright.catalogue import load
from fizzwright.catalogue.model import LotAnalysis
from fizzwright.recipe.document import read_text
from fizzwright.recipe.mix import Mix
from fizzwright.recipe.weigh import weigh
from fizzwright.review import kitchens, limits
from fizzwright.review.kitchen_measuring import HABITS, fills
from fizzwright.review.kitchens import draw, inside, plan_of
from fizzwright.review.setting import Setting

CATALOGUE = load()


def mixed(*lines: tuple[str, str], more: str = "", lots: dict[str, LotAnalysis] | None = None) -> Mix:
    text = 'name = "Tarn"\nkind = "fizzer"\nmade_on = 2026-11-25\n[makes]\nmould = "sphere_65"\n' + more
    text += "".join(f'[[line]]\nuse = "{use}"\namount = "{amount}"\n' for use, amount in lines)
    return weigh(read_text(text, CATALOGUE), CATALOGUE, lot_analyses=lots)


CUPS = (
    ("sodium_bicarbonate", "1 cup"),
    ("citric_acid", "1/2 cup"),
    ("corn_starch", "1/4 cup"),
    ("coconut_oil", "1 tbsp"),
    ("witch_hazel", "12 sprays"),
)


def total_sd(mix: Mix, place: int, habit: str = "as_written") -> float:
    """Standard deviation of the logarithm of a line, from the measured parts."""
    return math.sqrt(math.log1p(plan_of(mix, CATALOGUE, Setting(), habit).lines[place].total ** 2))


def test_the_chance_of_a_pure_substance_is_the_closed_form() -> None:
    # coumarin, neat by the drop, in bicarbonate by the gram (as good as exact): level = 100 x / (x + b), x lognormal, so
    # P(level > l) = P(x > b l / (100 - l)), the survival of scipy.stats.lognorm
    mix = mixed(("sodium_bicarbonate", "300 g"), ("coumarin", "52 drops"))
    check = next(c for c in kitchens.stopping(mix, CATALOGUE) if c.limit.rule == "ifra" and c.limit.limit_pct)
    most = check.limit.limit_pct
    assert most is not None
    at = float(mix.grams[0]) * most / (100.0 - most)
    law = stats.lognorm(s=total_sd(mix, 1), scale=float(mix.grams[1]))
    closed = float(law.sf(at))
    assert 0.02 < closed < 0.98
    got = inside(mix, CATALOGUE, count=2**14)
    assert got.over[check.figure_id] == pytest.approx(closed, abs=0.004)


def test_the_ratio_of_two_lines_is_lognormal() -> None:
    # two different powders by cups: shared doubts cancel in the ratio, what is left is each bag's and each scoop's own
    mix = mixed(("sodium_bicarbonate", "2 cups"), ("citric_acid", "1 cup"))
    plan = plan_of(mix, CATALOGUE, Setting(), "as_written")
    drawn = draw(mix, CATALOGUE, count=2**14).mix.draws_g
    ratio = drawn[:, 1] / drawn[:, 0]
    sd = math.sqrt(float((plan.loads[:, 0] - plan.loads[:, 1]) @ (plan.loads[:, 0] - plan.loads[:, 1])))
    law = stats.lognorm(s=sd, scale=float(mix.grams[1] / mix.grams[0]))
    assert stats.kstest(ratio, law.cdf).statistic < 0.008
    # the hand takes part in each line but not in the ratio
    assert sd < math.hypot(total_sd(mix, 0), total_sd(mix, 1))


def test_the_sum_of_weighed_lines_is_the_additive_model() -> None:
    # four weighings of one scale: JCGM 101:2008, 9.2.2, four normal inputs added up, here partly in step by the scale's
    # own error; variance of the sum = (a sum of shared)^2 + sum of own^2
    mix = mixed(
        ("sodium_bicarbonate", "100 g"), ("citric_acid", "100 g"), ("corn_starch", "100 g"), ("epsom_salt", "100 g")
    )
    plan = plan_of(mix, CATALOGUE, Setting(), "as_written")
    sums = draw(mix, CATALOGUE, count=2**14).mix.draws_g.sum(axis=1)
    shared = sum(line.shared["scale"] for line in plan.lines if line.shared) * 100.0
    own = math.sqrt(sum((100.0 * line.own) ** 2 for line in plan.lines))
    law = stats.norm(400.0, math.hypot(shared, own))
    assert np.quantile(sums, (0.025, 0.975)) == pytest.approx(law.ppf((0.025, 0.975)), abs=0.02)
    # 0.6 g each (measures.csv), all alike in step by half: 4 x 0.6 x sqrt(0.5) and 2 x 0.6 x sqrt(0.5)
    assert law.std() == pytest.approx(math.hypot(4, 2) * 0.6 * math.sqrt(0.5), rel=1e-9)


def test_scatter_shrinks_as_independent_fills_do() -> None:
    from fractions import Fraction

    assert fills(Fraction(9)) == pytest.approx(1 / 3)
    assert fills(Fraction(1)) == 1
    assert fills(Fraction(3, 2)) == pytest.approx(math.sqrt(1.25) / 1.5)


def test_an_oil_adds_up_and_stays_in_its_range() -> None:
    mix = mixed(*CUPS, ("sweet_orange", "12 drops"), ("lavender", "8 drops"))
    drawn = draw(mix, CATALOGUE, count=2**12)
    for place, shares in drawn.shares.items():
        rows = {row.constituent: row for row in CATALOGUE.oils[mix.lines[place].id].constituents}
        assert np.all(shares.pct.sum(axis=1) <= 100.0 + 1e-6)
        for name in shares.names:
            low, high = rows[name].min_pct or 0.0, rows[name].max_pct or 100.0
            assert np.all((shares.of(name) >= low - 1e-9) & (shares.of(name) <= high + 1e-9))


def test_one_oil_in_two_lines_is_one_oil() -> None:
    mix = mixed(*CUPS, ("lavender", "12 drops"), ("lavender", '1/4 tsp"\nin = "coconut_oil'))
    drawn = draw(mix, CATALOGUE, count=256)
    first, second = (drawn.shares[place] for place in (5, 6))
    assert np.array_equal(first.pct, second.pct)


def test_every_oil_of_the_catalogue_can_be_drawn() -> None:
    for use in CATALOGUE.oils:
        drawn = draw(mixed(*CUPS, (use, "10 drops")), CATALOGUE, count=128)
        total = drawn.shares[5].pct.sum(axis=1)
        assert np.all(total <= 100.0 + 1e-6) and np.all(total > 10.0)


def test_a_lots_own_analysis_narrows_the_chance() -> None:
    row = next(r for r in CATALOGUE.oils["lemongrass"].constituents if r.constituent == "geranial")
    fixed = dataclasses.replace(row, min_pct=row.typical_pct, max_pct=row.typical_pct)
    lot = LotAnalysis("L-7", "lemongrass", (fixed,))
    lines = (*CUPS, ("lemongrass", '20 drops"\nlot = "L-7'))
    wide = draw(mixed(*lines), CATALOGUE, count=1024).shares[5].of("geranial")
    narrow = draw(mixed(*lines, lots={"L-7": lot}), CATALOGUE, count=1024).shares[5].of("geranial")
    assert np.ptp(narrow) < 1e-9 < np.ptp(wide)


def test_habits_order_the_spread() -> None:
    mix = mixed(*CUPS)
    spreads = [draw(mix, CATALOGUE, habit=habit, count=2**11).mix.draws_g for habit in ("scale", "levelled", "scooped")]
    for place in range(3):
        sd = [float(np.std(np.log(grams[:, place]))) for grams in spreads]
        assert sd[0] < sd[1] <= sd[2]
    middle = [np.median(grams[:, 0]) for grams in spreads]
    assert middle[2] > middle[1]


def test_what_is_added_by_feel_follows_the_dry_mass() -> None:
    mix = mixed(*CUPS[:4], ("witch_hazel", "to consistency"))
    drawn = draw(mix, CATALOGUE, count=2**11).mix.draws_g
    dry = drawn[:, :3].sum(axis=1)
    assert np.corrcoef(np.log(dry), np.log(drawn[:, 4]))[0, 1] > 0.05
    share = drawn[:, 4] / dry
    assert abs(np.corrcoef(np.log(dry), np.log(share))[0, 1]) < 0.03


@settings(max_examples=12, deadline=None)
@given(st.integers(0, 10_000), st.sampled_from(HABITS), st.integers(1, 60))
def test_seeds_repeat_and_chances_are_chances(seed: int, habit: str, drops: int) -> None:
    mix = mixed(*CUPS, ("lemongrass", f"{drops} drops"), ("clove_bud", "3 drops"))
    one = inside(mix, CATALOGUE, habit=habit, count=256, seed=seed)
    assert one == inside(mix, CATALOGUE, habit=habit, count=256, seed=seed)
    assert 0.0 <= one.chance <= 1.0
    assert all(0.0 <= chance <= 1.0 for chance in one.over.values())
    assert 1.0 - one.chance >= max(one.over.values()) - 1e-12
    assert 1.0 - one.chance <= sum(one.over.values()) + 1e-12
    assert (one.worst == "") == (max(one.over.values()) == 0.0)


def test_what_is_far_over_is_over_everywhere() -> None:
    mix = mixed(*CUPS, ("cinnamon_bark", "1/4 cup"))
    over = [c for c in kitchens.stopping(mix, CATALOGUE) if c.level.typical > 10 * (c.limit.limit_pct or 0.0)]
    assert over
    got = inside(mix, CATALOGUE, count=256)
    assert got.chance == 0.0 and all(got.over[c.figure_id] == 1.0 for c in over)


def test_the_middle_kitchen_is_the_typical_level() -> None:
    # a lone oil by scale: the level's median stays near the typical level of the skin section
    mix = mixed(("sodium_bicarbonate", "300 g"), ("citric_acid", "150 g"), ("lavender", "3 g"))
    drawn = draw(mix, CATALOGUE, count=2**12)
    cured = np.asarray(limits.cured_g(mix, drawn.mix.draws_g))
    for check in kitchens.stopping(mix, CATALOGUE):
        if check.level.typical > 1e-3:
            level = kitchens.level_draws(check, drawn, cured)
            assert check.level.low * 0.98 <= np.median(level) <= check.level.high * 1.02


@pytest.mark.parametrize(
    ("count", "habit", "says"), [(1000, "scale", "power of two"), (256, "spoony", "allowed is one of")]
)
def test_what_cannot_be_drawn_is_said(count: int, habit: str, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        draw(mixed(*CUPS), CATALOGUE, count=count, habit=habit)
