"""Scents made of other oils: the programme against trying every count of drops, and the review as the judge."""

from __future__ import annotations

from itertools import product
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import nnls

from fizzwright.catalogue import load
from fizzwright.design import matching
from fizzwright.design.profiles import profile, profiles
from fizzwright.design.writing import drop_g
from fizzwright.recipe.document import read_text
from fizzwright.recipe.weigh import weigh
from fizzwright.refusal import Refusal
from fizzwright.review import review
from tests.design.everyday import of_demo, recipe, shop

OILS = ["tangerine", "petitgrain", "cedarwood_atlas"]


def test_the_nearest_blend_is_what_trying_every_count_finds() -> None:
    aim = matching.aim_of({"sweet_orange": 0.20, "cedarwood_virginian": 0.10}, load())
    found = matching.nearest_blend(aim, OILS, load())
    assert found is not None and found.is_proven
    # the halves of a profile written out again: constituents and families, each scaled to what is aimed at
    known = profiles(load())
    rows = [known.place(o) for o in OILS]
    drop = np.array([drop_g(load().oils[o], load()) for o in OILS])
    whole, (smelt, kinds) = (
        known.blend({"sweet_orange": 0.20, "cedarwood_virginian": 0.10})[0].sum(),
        known.blend({"sweet_orange": 0.20, "cedarwood_virginian": 0.10}),
    )

    def missed(brought: np.ndarray, wished: np.ndarray) -> float:
        """All that is lacking, and half of what is beside."""
        return float(np.maximum(wished - brought, 0).sum() + 0.5 * np.maximum(brought - wished, 0).sum())

    def apart(counts: tuple[int, ...]) -> float:
        g = np.array(counts) * drop
        by_nose = 0.5 * missed(g @ known.constituents[rows], smelt) / whole
        return float(by_nose + 0.5 * missed(g @ known.kinds[rows], kinds) / 0.30)

    best = min((c for c in product(range(13), repeat=3) if any(c)), key=apart)
    got = tuple(found.drops.get(o, 0) for o in OILS)
    # constituents that are next to nothing everywhere are left out of the programme
    assert apart(got) == pytest.approx(apart(best), abs=0.02)


def test_profiles_add_up_so_that_a_blend_can_be_taken_apart_again() -> None:
    # non-negative least squares (Lawson & Hanson, scipy) finds the grams of a blend back from its profile
    names = ["sweet_orange", "lavender", "cedarwood_virginian", "spearmint", "geranium"]
    grams = np.array([0.3, 0.0, 0.12, 0.05, 0.2])
    table = np.array([profile(o, load()) for o in names]).T
    back, miss = nnls(table, table @ grams)
    assert back == pytest.approx(grams, abs=1e-6) and miss < 1e-6


def test_what_smells_alike_is_found_alike() -> None:
    # orange peel oils are near one another, and far from mint (common practice, no source)
    known = profiles(load())
    alike = {
        o: known.alike({"sweet_orange": 1.0}, {o: 1.0}) for o in ("tangerine", "mandarin", "peppermint", "vetiver")
    }
    assert alike["tangerine"] > 0.9 and alike["mandarin"] > 0.8 > 0.1 > alike["peppermint"]
    assert known.alike({"lavender": 1.0}, {"lavender": 3.0}) == pytest.approx(1.0)


def test_a_cap_is_kept() -> None:
    aim = matching.aim_of({"lavender": 0.4}, load())
    cap = matching.Cap({"petitgrain": 1.0}, 3.0)
    found = matching.nearest_blend(aim, ["petitgrain", "coriander_seed"], load(), caps=[cap])
    assert found is not None and found.drops.get("petitgrain", 0) <= 3


def test_an_allergen_goes_below_its_label_even_at_the_top_of_the_range(tmp_path: Path) -> None:
    before, catalogue, workshop = of_demo(tmp_path, "shingle_foam")
    changed = matching.without_allergen(before, catalogue, workshop, "Carvone")
    assert "Carvone" in changed.label_gone
    skin = review(read_text(changed.text, catalogue), catalogue, workshop).section("skin")
    levels = [f for f in skin.figures if f.id == "allergen.carvone"]
    assert all(float(f.high or 0.0) <= 0.01 for f in levels)


def test_a_scent_that_is_the_allergen_is_refused_with_the_nearest(tmp_path: Path) -> None:
    catalogue, workshop = shop(tmp_path / "w")
    orange = recipe("sodium_bicarbonate = 300 g\ncitric_acid = 150 g\ncorn_starch = 50 g\nsweet_orange = 30 drops\n")
    # sweet orange oil is about 95 % limonene
    with pytest.raises(Refusal, match=r"much of what this scent is.*brings \d+ %.*--anyway"):
        matching.without_allergen(orange, catalogue, workshop, "limonene")
    taken = matching.without_allergen(orange, catalogue, workshop, "limonene", anyway=True)
    assert "Limonene" in taken.label_gone


def test_what_goes_unnamed_already_stays(tmp_path: Path) -> None:
    before, catalogue, workshop = of_demo(tmp_path, "orchard_rain")
    changed = matching.without_allergen(before, catalogue, workshop, "Linalool")
    assert not changed.is_changed and "no more Linalool" in changed.summary


def test_families_are_matched_from_the_shelf_alone(tmp_path: Path) -> None:
    before, catalogue, workshop = of_demo(tmp_path, "orchard_rain")
    changed = matching.match(before, catalogue, workshop, wish={"citrus": 3.0, "woody": 1.0})
    after = read_text(changed.text, catalogue)
    oils = {line.use for line in after.lines if line.use in catalogue.oils}
    assert oils <= set(matching.stock_oils(workshop, catalogue))
    assert {o for o in oils if "citrus" in catalogue.oils[o].odour_family}
    assert {o for o in oils if "woody" in catalogue.oils[o].odour_family}
    # lavender and its like are only half floral, and still the way to a floral scent
    changed = matching.match(before, catalogue, workshop, wish={"floral": 1.0, "woody": 1.0})
    oils = {line.use for line in read_text(changed.text, catalogue).lines if line.use in catalogue.oils}
    assert {o for o in oils if "floral" in catalogue.oils[o].odour_family}
    grams = [matching.scent_g(weigh(r, catalogue), catalogue) for r in (before, read_text(changed.text, catalogue))]
    assert sum(grams[1].values()) == pytest.approx(sum(grams[0].values()), abs=0.04)


def test_another_recipes_scent_comes_over_whole_when_its_oils_are_in_stock(tmp_path: Path) -> None:
    before, catalogue, workshop = of_demo(tmp_path, "stillwater_clay")
    like, _, _ = of_demo(tmp_path, "orchard_rain")
    changed = matching.match(before, catalogue, workshop, like=like)
    oils = {line.use for line in read_text(changed.text, catalogue).lines if line.use in catalogue.oils}
    assert oils == {"sweet_orange", "cardamom", "cedarwood_virginian"}


def test_strange_names_are_refused_with_those_that_are_known(tmp_path: Path) -> None:
    before, catalogue, workshop = of_demo(tmp_path, "orchard_rain")
    with pytest.raises(Refusal, match=r"Nearest: .*Limonene"):
        matching.without_allergen(before, catalogue, workshop, "Limonen")
    with pytest.raises(Refusal, match="citrus"):
        matching.match(before, catalogue, workshop, wish={"lemony": 1.0})
    with pytest.raises(Refusal, match="no essential oil"):
        matching.match(recipe("sodium_bicarbonate = 3 g\ncitric_acid = 1 g\n"), catalogue, workshop)
    with pytest.raises(Refusal, match=r"prices\.csv"):
        matching.match(before, catalogue, None)
