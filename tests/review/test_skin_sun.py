"""Expressed citrus in the film beside IFRA's leave-on limits, which add up by shares."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.overlay import open_workshop
from fizzwright.recipe.document import read_file
from fizzwright.recipe.weigh import weigh
from tests.review.skin_mixes import mixed, on_skin, said

DRY = [("sodium_bicarbonate", 200.0), ("citric_acid", 100.0)]


def test_shares_of_limits_add_up(catalogue: Catalogue) -> None:
    # IFRA (amendment 49): bergamot 0.4 %, lime 0.7 % leave-on; for mixtures the sum of level / maximum must not pass 1.
    # In a film of 100 g, 0.2 g and 0.35 g are half of each maximum: together exactly 1.
    lines = [*DRY, ("olive_oil", 99.45), ("bergamot_expressed", 0.2), ("lime_expressed", 0.35)]
    section = on_skin(catalogue, mixed(catalogue, lines, audience="child_6_plus"))
    assert section.figure("sun_share_of_film_limit").value == pytest.approx(1.0)


@pytest.mark.parametrize(("grams", "level"), [(0.3, "mind"), (0.5, "stop")])
def test_a_child_is_stopped_above_the_skin_maximum(catalogue: Catalogue, grams: float, level: str) -> None:
    lines = [*DRY, ("olive_oil", 100 - grams), ("bergamot_expressed", grams), ("polysorbate_80", 120.0)]
    section = on_skin(catalogue, mixed(catalogue, lines, audience="child_6_plus"))
    (notice,) = (n for n in section.notices if n.figure == "sun_share_of_film_limit")
    assert notice.level == level and notice.sources


def test_an_adult_is_told_to_keep_from_the_sun(catalogue: Catalogue) -> None:
    section = on_skin(catalogue, mixed(catalogue, [*DRY, ("olive_oil", 20.0), ("bergamot_expressed", 0.5)]))
    (notice,) = (n for n in section.notices if n.figure == "sun_share_of_film_limit")
    assert notice.level == "mind" and "out of strong sun" in notice.text
    assert "leaves bath preparations out" in notice.reason


@pytest.mark.parametrize(("polysorbate_g", "level"), [(0.0, "stop"), (60.0, "mind")])
def test_ten_times_the_skin_maximum_stops_an_adult_where_nothing_disperses_it(
    catalogue: Catalogue, polysorbate_g: float, level: str
) -> None:
    # 1 g of bergamot in 21 g of film is 4.76 %, 11.9 times IFRA's leave-on 0.4 %.
    lines = [*DRY, ("olive_oil", 20.0), ("bergamot_expressed", 1.0), ("polysorbate_80", polysorbate_g)]
    section = on_skin(catalogue, mixed(catalogue, lines))
    (notice,) = (n for n in section.notices if n.figure == "sun_share_of_film_limit")
    assert notice.level == level and "12 times" in notice.text


def test_a_phototoxic_oil_without_a_figure_is_not_waved_through(catalogue: Catalogue) -> None:
    mine = replace(catalogue.oils["lavender"], phototoxic="yes")
    changed = replace(catalogue, oils={**catalogue.oils, "lavender": mine})
    lines = [*DRY, ("olive_oil", 99.0), ("lavender", 0.1)]
    child = on_skin(changed, mixed(changed, lines, audience="child_6_plus"))
    assert any("no figure is held" in n.text for n in said(child, "stop"))
    adult = on_skin(changed, mixed(changed, lines))
    assert any(n.level == "mind" and "out of strong sun" in n.text for n in adult.notices)


@pytest.mark.parametrize("use", ["bergamot_fcf", "lime_distilled", "lemon_distilled", "sweet_orange"])
def test_oils_without_furocoumarins_raise_nothing(catalogue: Catalogue, use: str) -> None:
    section = on_skin(catalogue, mixed(catalogue, [*DRY, ("olive_oil", 20.0), (use, 1.0)], audience="child_6_plus"))
    assert not any(f.id == "sun_share_of_film_limit" for f in section.figures)


@pytest.mark.parametrize(
    ("recipe", "verdict"), [("hearth", "stop"), ("noon", "stop"), ("paddling_pool", "good"), ("orchard_rain", "mind")]
)
def test_quillmoor_recipes_get_the_verdict_they_deserve(quillmoor: Path, recipe: str, verdict: str) -> None:
    catalogue, workshop = open_workshop(quillmoor)
    document = read_file(quillmoor / "recipes" / f"{recipe}.toml", catalogue)
    section = on_skin(catalogue, weigh(document, catalogue, lot_analyses=workshop.lot_analyses))
    levels = [notice.level for notice in section.notices if not notice.standing]
    assert min(levels, key=("stop", "mind", "good").index) == verdict
    if recipe == "noon":
        assert any("Bergamot (expressed) and Lime (expressed)" in n.text for n in said(section, "stop"))
    if recipe == "hearth":
        assert any(n.figure == "limit.ifra.cinnamaldehyde" for n in said(section, "stop"))
