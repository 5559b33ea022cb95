"""The section of other people's kitchens: what it tells, for every kind of recipe, and what it must not hang on."""

from __future__ import annotations

import tracemalloc

import numpy as np
import pytest
from scipy import stats

from fizzwright.catalogue import load, open_workshop
from fizzwright.catalogue.workshop import Workshop
from fizzwright.demo import folder
from fizzwright.recipe.document import read_file, read_text
from fizzwright.recipe.mix import Mix
from fizzwright.recipe.weigh import weigh
from fizzwright.review import Review, kitchen, review
from fizzwright.review.figures import Section
from fizzwright.review.kitchen_sources import sources
from fizzwright.review.kitchen_through import through
from fizzwright.review.kitchen_told import of_kitchens, wilson
from fizzwright.review.kitchens import AROUND, draw, inside, plan_of, stopping
from fizzwright.review.setting import Setting
from fizzwright.science.neutralisation import REAGENTS

CATALOGUE = load()


def mixed(*lines: tuple[str, str], kind: str = "fizzer", more: str = '[makes]\nmould = "sphere_65"\n') -> Mix:
    text = f'name = "Tarn"\nkind = "{kind}"\nmade_on = 2026-11-25\n{more}'
    text += "".join(f'[[line]]\nuse = "{use}"\namount = "{amount}"\n' for use, amount in lines)
    return weigh(read_text(text, CATALOGUE), CATALOGUE)


def told(mix: Mix, kitchens: int = 2**11, habit: str = "as_written") -> Section:
    return kitchen.section(mix, CATALOGUE, Setting(kitchens=kitchens, habit=habit))


BASE = (("sodium_bicarbonate", "1 cup"), ("citric_acid", "1/2 cup"), ("coconut_oil", "1 tbsp"))


def test_the_ratio_of_acid_to_base_spreads_as_its_closed_form() -> None:
    mix = mixed(*BASE)
    figure = told(mix, kitchens=2**14).figure("acid_to_base_eq")
    plan = plan_of(mix, CATALOGUE, Setting(), "as_written")
    apart = plan.loads[:, 0] - plan.loads[:, 1]
    equal = (
        float(mix.grams[1]) / 192.123 * REAGENTS["citric_acid"].acid_eq / (float(mix.grams[0]) / 84.007)
    )  # molar masses: IUPAC 2021 atomic weights
    law = stats.lognorm(s=float(np.sqrt(apart @ apart)), scale=equal)
    assert (figure.low, figure.high) == pytest.approx(law.ppf((0.05, 0.95)), rel=0.01)


def test_the_sources_of_a_ratio_are_the_shares_of_its_logarithm_nearly() -> None:
    # a lognormal ratio of small spread: first-order shares are the squared loads over their sum (linear model)
    mix = mixed(("sodium_bicarbonate", "300 g"), ("citric_acid", "9 g"), ("corn_starch", "20 g"))
    plan = plan_of(mix, CATALOGUE, Setting(), "as_written")
    found = {s.id: s.shares["acid_to_base_eq"] for s in sources(plan, None, 2**12, 0) if s.id != "packing"}
    apart = plan.loads[:, 0] - plan.loads[:, 1]
    for name in ("sodium_bicarbonate", "citric_acid", "scale"):
        own = [column - len(AROUND) for column in plan.group(name)]
        linear = float(apart[own] @ apart[own] / (apart @ apart))
        assert found[name][0] == pytest.approx(linear, abs=0.03)
        assert found[name][1] == pytest.approx(linear, abs=0.03)
    assert found["corn_starch"] == pytest.approx((0.0, 0.0), abs=1e-9)


def test_a_scale_mends_what_cups_spread() -> None:
    section = told(mixed(*BASE, ("lemongrass", "20 drops")))
    table = next(t for t in section.tables if t.id == "remedies")
    ratio = {row[0]: [float(x) for x in row[2].split(" to ")] for row in table.rows}
    assert ratio["By scale"][1] - ratio["By scale"][0] < 0.2 * (ratio["As written"][1] - ratio["As written"][0])
    assert set(ratio) == {"As written", "By scale", "Oils by pipette", "Levelled spoons", "Scooped and heaped"}


def test_a_limit_some_kitchens_pass_is_told_with_what_helps() -> None:
    mix = mixed(*BASE, ("coumarin", "42 drops"))
    section = told(mix)
    check = next(c for c in stopping(mix, CATALOGUE) if c.limit.rule == "ifra")
    chance = section.figure(f"chance_over_{check.figure_id}")
    assert 1.0 < float(chance.value) < 99.0 and not check.over
    notice = next(n for n in section.notices if n.level == "mind")
    assert "scale" in notice.text or "pipette" in notice.text
    assert notice.figure == chance.id and notice.line == "coumarin"


def test_all_in_grams_says_what_remains() -> None:
    section = told(mixed(("sodium_bicarbonate", "300 g"), ("citric_acid", "150 g"), ("lavender", "2 g")))
    assert any("All of it is weighed" in notice.text for notice in section.notices)


@pytest.mark.parametrize(
    ("lines", "kind", "more"),
    [
        ((("sodium_bicarbonate", "1 cup"),), "powder", ""),
        ((("citric_acid", "1 cup"), ("corn_starch", "1 cup")), "fizzer", '[makes]\nmould = "sphere_65"\n'),
        ((*BASE, ("witch_hazel", "to consistency")), "fizzer", '[makes]\nmould = "sphere_65"\ncount = 2\n'),
        ((("coconut_oil", "1 cup"), ("lavender", "2 %")), "fizzer", '[makes]\nmould = "sphere_65"\n'),
        ((("sodium_bicarbonate", "8 parts"), ("citric_acid", "4 parts")), "fizzer", '[makes]\nmould = "sphere_65"\ncount = 3\n'),
    ],
)  # fmt: skip
@pytest.mark.parametrize("habit", ["as_written", "scooped"])
def test_every_kind_of_recipe_has_kitchens(
    lines: tuple[tuple[str, str], ...], kind: str, more: str, habit: str
) -> None:
    section = told(mixed(*lines, kind=kind, more=more), kitchens=256, habit=habit)
    for figure in section.figures:
        low, value, high = (float(x or 0.0) for x in (figure.low, figure.value, figure.high))
        assert np.isfinite(low + value + high), figure.id
        assert low <= value <= high, figure.id


def demo(name: str) -> tuple[Mix, Workshop, Review]:
    catalogue, workshop = open_workshop(folder())
    recipe = read_file(folder() / "recipes" / f"{name}.toml", catalogue)
    mix = weigh(recipe, catalogue, lot_analyses=workshop.lot_analyses)
    return mix, workshop, review(recipe, catalogue, workshop)


def test_kitchens_through_every_section_meet_the_review() -> None:
    mix, workshop, whole = demo("orchard_rain")
    found = through(mix, CATALOGUE, Setting(workshop), 2**12)
    for section, figure in (
        ("mix", "total_g"), ("mould", "piece_g"), ("fizz", "acid_to_base_eq"), ("fizz", "co2_potential_g"),
        ("tub", "ph_dissolved"), ("tub", "ph_settled"), ("skin", "in_product_pct"), ("skin", "neat_in_carrier_pct"),
        ("air", "total_peak_mg_m3"), ("making_day", "alcohol_peak_ppm"), ("cost", "materials"),
    ):  # fmt: skip
        value = float(whole.section(section).figure(figure).value)
        low, high = np.quantile(found[section][figure], (0.02, 0.98))
        assert low <= value <= high, (section, figure, low, value, high)


def test_the_workers_do_not_matter_and_draws_are_the_same_cut_or_whole() -> None:
    mix, workshop, _ = demo("two_tides")
    one, three = (through(mix, CATALOGUE, Setting(workshop), 2**14, seed=5, workers=n) for n in (1, 3))
    for section, figures in one.items():
        for name, values in figures.items():
            assert np.array_equal(values, three[section][name], equal_nan=True), name
    whole = draw(mix, CATALOGUE, Setting(workshop), count=2**14, seed=5)
    assert np.array_equal(whole.mix.draws_g.sum(axis=1), one["mix"]["total_g"])


def test_chances_in_words() -> None:
    assert of_kitchens(0.0) == "none of the kitchens drawn"
    assert of_kitchens(0.03) == "about 3 kitchens in 100"
    assert of_kitchens(0.001) == "about 1 kitchen in 1000"
    assert of_kitchens(0.999) == "nearly every kitchen"


def test_the_interval_of_a_chance_is_wilsons() -> None:
    ours = wilson(0.03, 2000)
    theirs = stats.binomtest(60, 2000).proportion_ci(0.9, method="wilson")
    assert ours == pytest.approx((theirs.low, theirs.high), abs=1e-5)


def test_the_section_is_kept_until_something_it_hangs_on_changes() -> None:
    mix = mixed(*BASE)
    first = told(mix, kitchens=512)
    assert told(mixed(*BASE), kitchens=512) is first
    assert told(mix, kitchens=512, habit="scale") is not first
    assert told(mixed(*BASE[:2], ("coconut_oil", "2 tbsp")), kitchens=512) is not first


def test_many_kitchens_of_very_many_oils_are_worked_slice_by_slice() -> None:
    # every oil of the catalogue: two thousand columns of draws, several GB when all kitchens and sources are held together
    mix = mixed(("sodium_bicarbonate", "600 g"), ("citric_acid", "300 g"), *((oil, "0.1 g") for oil in CATALOGUE.oils))
    tracemalloc.start()
    told(mix, kitchens=2**14)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 600 * 2**20


def test_slices_are_the_row_cut() -> None:
    # 2^14 kitchens are two slices: each figure is of the very draws that one long row gives
    mix = mixed(*BASE, ("cinnamon_bark", "35 drops"))
    whole = draw(mix, CATALOGUE, count=2**14)
    seen = kitchen.see(mix, CATALOGUE, Setting(kitchens=2**14))
    base, acid = (whole.mix.draws_g[:, i] / m for i, m in ((0, 84.007), (1, 192.124 / 3)))
    assert seen.first.outcome.acid_to_base_eq == pytest.approx(acid / base, rel=1e-3)
    assert seen.first.ph is not None and len(seen.first.ph) == len(seen.fizz_s_draws) == 2**14
    check, one = max(seen.first.inside.over.items(), key=lambda found: found[1])
    assert 0.001 < one < 0.999 and seen.first.inside.count == 2**14
    assert one == pytest.approx(float(np.mean(seen.first.levels[check] > 1.0)), abs=1e-6)
    assert seen.first.inside == inside(mix, CATALOGUE, count=2**14)


def test_a_bath_too_strong_in_some_kitchens_has_no_water_in_any() -> None:
    # 2.94 kg in a 20 l tub: only the few fullest doses in the smallest tubs are beyond 2 mol/l, and not in every slice
    more = "[tub]\nlitres = 20\npowder_g = 2940\n"
    mix = mixed(("sodium_bicarbonate", "3 kg"), ("citric_acid", "1.5 kg"), kind="powder", more=more)
    found = through(mix, CATALOGUE, Setting(), 2**15)
    assert "ph_settled" not in found["tub"] and len(found["tub"]["fizz_seconds"]) == 2**15
    assert "ph_settled" not in {figure.id for figure in told(mix, kitchens=2**15).figures}
    assert "ph_settled" in {figure.id for figure in told(mix, kitchens=2**9).figures}


def test_counts_are_whole_and_small_shares_are_told_as_small() -> None:
    # at this size of batch the 95th kitchen of 100 lies between two counts of pieces
    section = told(mixed(("sodium_bicarbonate", "1 cup"), ("sweet_orange", "3 drops")), kitchens=2**10)
    pieces = section.figure("pieces")
    assert float(pieces.low).is_integer() and float(pieces.high).is_integer()
    assert section.figure("spread_share.packing").text.startswith("How hard it is pressed: 100 %")
    assert "less than 1 % of the spread" in section.figure("spread_share.cups").text
    assert (
        section.figure("neat_in_carrier_pct").text
        == "The scent in its carrier comes to 100 % v/v in nine kitchens of ten."
    )
