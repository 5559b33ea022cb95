"""Weighing: amounts into grams, shares solved, spreads honest; judged by numpy's solver, scipy's distributions, pint."""

from datetime import date
from pathlib import Path

import numpy as np
import pint
import pytest
from scipy import stats

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.model import LotAnalysis, OilConstituent
from fizzwright.recipe.document import read_file, read_text
from fizzwright.recipe.mix import Mix
from fizzwright.recipe.problems import RecipeRefused
from fizzwright.recipe.weigh import PRESSED_G_ML, weigh

from .documents import ORCHARD
from .test_document import HEAD

UREG = pint.UnitRegistry()


def line(use: str, amount: str, more: str = "") -> str:
    return f'[[line]]\nuse = "{use}"\namount = "{amount}"\n{more}'


def mix(catalogue: Catalogue, *lines: str, head: str = HEAD) -> Mix:
    return weigh(read_text(head + "".join(lines), catalogue), catalogue)


def test_the_contract_example(catalogue: Catalogue) -> None:
    found = weigh(read_text(ORCHARD, catalogue), catalogue)
    soda, acid, coconut, orange = found.lines
    bulk = catalogue.materials["sodium_bicarbonate"].bulk_density_loose_g_ml_typ
    assert bulk is not None
    assert soda.grams == pytest.approx(1.5 * UREG.Quantity(1, "cup").to("ml").magnitude * bulk, rel=1e-5)
    assert soda.volume_ml == pytest.approx(354.88, abs=0.01)
    assert soda.density_g_ml == bulk
    assert soda.equation == f"1 1/2 cup x 236.6 ml x {bulk:.3g} g/ml (spooned) = {soda.grams:.0f} g"
    assert found.grams == pytest.approx([m.grams for m in (soda, acid, coconut, orange)])
    assert found.draws_g.shape == (1024, 4)
    assert found.as_of == date(2026, 11, 25)
    assert found.mould is not None
    assert found.mould_volume_ml == pytest.approx(4 / 3 * np.pi * 3.25**3)
    assert orange.is_oil
    assert 0.2 < orange.grams < 0.32
    assert "No analysis of lot SO-2411-02 is held; the range of the species was taken for sweet_orange." in (
        found.assumptions
    )


@pytest.mark.parametrize(
    ("amount", "unit"), [("2 lb", "pound"), ("3 oz", "ounce"), ("1 1/2 kg", "kilogram"), ("7.5 g", "gram")]
)
def test_weights_agree_with_pint(catalogue: Catalogue, amount: str, unit: str) -> None:
    number = {"2 lb": 2, "3 oz": 3, "1 1/2 kg": 1.5, "7.5 g": 7.5}[amount]
    (found,) = mix(catalogue, line("citric_acid", amount)).lines
    assert found.grams == pytest.approx(UREG.Quantity(number, unit).to("g").magnitude, rel=1e-7)
    assert found.basis == "exact"
    assert found.volume_ml is None


def test_an_australian_tablespoon_is_a_third_larger(catalogue: Catalogue) -> None:
    au, uk = (
        mix(catalogue, line("citric_acid", "1 tbsp"), head=f'measures = "{system}"\n' + HEAD).grams[0]
        for system in ("au", "uk")
    )
    assert au / uk == pytest.approx(4 / 3)


def test_shares_and_binder_solve_the_same_as_a_linear_solver(catalogue: Catalogue) -> None:
    """400 g of soda, 10 % citric acid, 2 % almond oil, alcohol to consistency (its share c of the dry mass)."""
    found = mix(
        catalogue,
        line("sodium_bicarbonate", "400 g"),
        line("citric_acid", "10 %"),
        line("sweet_almond_oil", "2 %"),
        line("isopropyl_alcohol_91", "to consistency"),
    )
    alcohol = catalogue.materials["isopropyl_alcohol_91"]
    c = ((alcohol.typical_use_pct_min or 0) + (alcohol.typical_use_pct_max or 0)) / 200
    equations = np.eye(4) - np.array([[0, 0, 0, 0], [0.1] * 4, [0.02] * 4, [c, c, 0, 0]])
    assert found.grams == pytest.approx(np.linalg.solve(equations, [400, 0, 0, 0]), rel=1e-12)
    assert any("to consistency was taken as" in said for said in found.assumptions)
    assert found.lines[3].spread_pct > 30


def test_parts_without_a_count_are_cups(catalogue: Catalogue) -> None:
    parts = mix(catalogue, line("sodium_bicarbonate", "2 parts"), line("citric_acid", "1 part"))
    cups = mix(catalogue, line("sodium_bicarbonate", "2 cups"), line("citric_acid", "1 cup"))
    assert parts.grams == pytest.approx(cups.grams)
    assert any("one cup" in said for said in parts.assumptions)


def test_parts_with_a_count_fill_the_moulds(catalogue: Catalogue) -> None:
    head = HEAD + '[makes]\nmould = "sphere_65"\ncount = 4\n'
    found = mix(
        catalogue,
        line("sodium_bicarbonate", "2 parts"),
        line("citric_acid", "1 part"),
        line("jojoba_oil", "15 g"),
        line("isopropyl_alcohol_91", "to consistency"),
        line("corn_starch", "5 %"),
        head=head,
    )
    sphere_ml = 4 / 3 * np.pi * 3.25**3
    assert found.grams.sum() == pytest.approx(4 * sphere_ml * PRESSED_G_ML)
    soda, acid = found.lines[:2]
    assert soda.volume_ml is not None
    assert acid.volume_ml is not None
    assert soda.volume_ml / acid.volume_ml == pytest.approx(2), "common practice: two to one by volume"
    assert found.grams[4] == pytest.approx(0.05 * found.grams.sum())


def test_parts_that_find_no_room_are_refused(catalogue: Catalogue) -> None:
    head = HEAD + '[makes]\nmould = "sphere_40"\ncount = 1\n'
    with pytest.raises(RecipeRefused, match="already fill the moulds") as refused:
        mix(catalogue, line("sodium_bicarbonate", "200 g"), line("citric_acid", "1 part"), head=head)
    assert refused.value.problems[0].row == 9


def test_percent_alone_fills_the_moulds(catalogue: Catalogue) -> None:
    head = HEAD + '[makes]\nmould = "sphere_65"\ncount = 2\n'
    found = mix(catalogue, line("sodium_bicarbonate", "65 %"), line("citric_acid", "35 %"), head=head)
    assert found.grams[0] / found.grams.sum() == pytest.approx(0.65)
    assert found.grams.sum() == pytest.approx(2 * 4 / 3 * np.pi * 3.25**3 * PRESSED_G_ML)


def test_a_binder_that_leaves_nothing_is_refused(catalogue: Catalogue) -> None:
    with pytest.raises(RecipeRefused, match="leave nothing"):
        mix(
            catalogue,
            line("water", "1 g"),
            line("citric_acid", "99.9 %"),
            line("isopropyl_alcohol_91", "to consistency"),
        )


def test_spreads_are_those_of_the_hand_and_the_powder(catalogue: Catalogue) -> None:
    """11.3 % a scoop, 5.5 % a pour, 20 % drops (measures.csv, read) with the density range in quadrature."""
    found = mix(
        catalogue,
        line("sodium_bicarbonate", "1 cup"),
        line("water", "1 cup"),
        line("sweet_orange", "9 drops"),
        line("citric_acid", "200 g"),
        line("kaolin", "5 g"),
        line("tartaric_acid", "0.5 g"),
        line("witch_hazel", "4 sprays"),
    )
    soda, water, orange, acid, clay, pinch, spray = found.lines
    material = catalogue.materials["sodium_bicarbonate"]
    low, typical, high = (
        material.bulk_density_loose_g_ml_min,
        material.bulk_density_loose_g_ml_typ,
        material.bulk_density_loose_g_ml_max,
    )
    assert low and typical and high
    density_sd = (high - low) / (stats.norm.ppf(0.95) - stats.norm.ppf(0.05)) / typical
    assert soda.spread_pct == pytest.approx(100 * np.hypot(0.113, density_sd), rel=1e-6)
    assert water.spread_pct == pytest.approx(np.hypot(5.5, 1), rel=1e-6)
    assert orange.spread_pct == pytest.approx(20, abs=0.5)
    assert [m.spread_pct for m in (acid, clay, pinch)] == pytest.approx([0.3, 1.2, 1.2])
    assert spray.basis == "estimate"
    assert "ten sprays" in " ".join(found.assumptions)
    for m in found.lines:
        sigma = np.sqrt(np.log1p((m.spread_pct / 100) ** 2))
        reference = stats.lognorm(s=sigma, scale=m.grams)
        assert (m.grams_low, m.grams_high) == pytest.approx(tuple(reference.ppf([0.05, 0.95])), rel=1e-6)
        assert m.spread_why
        assert m.sources or m.basis == "estimate"


def test_draws_have_the_spread_that_is_told(catalogue: Catalogue) -> None:
    recipe = read_text(ORCHARD, catalogue)
    found = weigh(recipe, catalogue, draws=2**14)
    assert np.median(found.draws_g, axis=0) == pytest.approx(found.grams, rel=2e-3)
    for column, m in zip(found.draws_g.T, found.lines, strict=True):
        assert np.std(column) / np.mean(column) == pytest.approx(m.spread_pct / 100, rel=0.03)
        assert tuple(np.quantile(column, [0.05, 0.95])) == pytest.approx((m.grams_low, m.grams_high), rel=0.01)
    again = weigh(recipe, catalogue, draws=2**14)
    assert np.array_equal(found.draws_g, again.draws_g)
    other = weigh(recipe, catalogue, draws=2**14, seed=1)
    assert not np.array_equal(found.draws_g, other.draws_g)
    assert np.array_equal(found.grams, other.grams)


def test_packed_cups_weigh_more_and_a_habit_of_a_liquid_is_left_aside(catalogue: Catalogue) -> None:
    packed = mix(catalogue, line("sodium_bicarbonate", "1 cup packed"))
    spooned = mix(catalogue, line("sodium_bicarbonate", "1 cup"))
    assert packed.grams[0] > 1.2 * spooned.grams[0]
    shea = mix(catalogue, line("shea_butter", "1 cup packed"))
    assert any("left aside" in said for said in shea.assumptions)


def test_lots_bring_their_analysis(catalogue: Catalogue) -> None:
    shares = (OilConstituent("limonene", "5989-27-5", 94.0, 95.0, 96.0, "limit"),)
    analysis = LotAnalysis("SO-2411-02", "sweet_orange", shares)
    other = LotAnalysis("LV-2410-01", "lavender", ())
    recipe = read_text(ORCHARD, catalogue)
    found = weigh(recipe, catalogue, lot_analyses={"SO-2411-02": analysis, "LV-2410-01": other})
    assert dict(found.lot_analyses) == {"SO-2411-02": analysis}
    assert not any("No analysis" in said for said in found.assumptions)


def test_the_day_asked_for_comes_before_the_day_written(catalogue: Catalogue) -> None:
    recipe = read_text(ORCHARD, catalogue)
    assert weigh(recipe, catalogue, as_of=date(2030, 1, 1)).as_of == date(2030, 1, 1)
    assert mix(catalogue, line("water", "1 g")).as_of == date.today()


def cube_stl(path: Path, side_mm: float) -> None:
    """A closed cube in the text form of STL, written out by hand."""
    corners = [(x, y, z) for x in (0, 1) for y in (0, 1) for z in (0, 1)]
    faces = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
    rows = ["solid cube"]
    for a, b, c, d in faces:
        for triangle in ((a, b, c), (a, c, d)):
            rows += ["facet normal 0 0 0", "outer loop"]
            rows += ["vertex " + " ".join(str(v * side_mm) for v in corners[i]) for i in triangle]
            rows += ["endloop", "endfacet"]
    path.write_text("\n".join([*rows, "endsolid cube"]) + "\n")


def mesh_recipe(folder: Path, mesh: str) -> Path:
    file = folder / "heart.toml"
    file.write_text(HEAD + f'[makes]\nmould = "mesh:{mesh}"\ncount = 1\n' + line("citric_acid", "100 g"))
    return file


def test_a_mould_of_ones_own_shape(catalogue: Catalogue, tmp_path: Path) -> None:
    cube_stl(tmp_path / "cube.stl", 40)
    found = weigh(read_file(mesh_recipe(tmp_path, "cube.stl"), catalogue), catalogue)
    assert found.mould_volume_ml == pytest.approx(64)
    assert found.mould is not None
    assert (found.mould.id, found.mould.shape, found.mould.name) == ("mesh:cube.stl", "mesh", "cube")


def test_a_shape_saved_again_is_read_again(catalogue: Catalogue, tmp_path: Path) -> None:
    recipe = read_file(mesh_recipe(tmp_path, "cube.stl"), catalogue)
    for side, ml in ((40, 64), (60, 216)):
        cube_stl(tmp_path / "cube.stl", side)
        assert weigh(recipe, catalogue).mould_volume_ml == pytest.approx(ml)


def test_shapes_that_cannot_be_used(catalogue: Catalogue, tmp_path: Path) -> None:
    cube_stl(tmp_path / "outside.stl", 40)
    folder = tmp_path / "recipes"
    folder.mkdir()
    (folder / "link.stl").symlink_to(tmp_path / "outside.stl")
    (folder / "words.stl").write_text("two cups of soda")
    cube_stl(folder / "pea.stl", 4)
    for mesh, says in {
        "no.stl": "no file no.stl",
        "link.stl": "outside the recipe's own folder",
        "words.stl": "cannot be used",
        "pea.stl": "less than a pea|cannot be used",
    }.items():
        with pytest.raises(RecipeRefused, match=says) as refused:
            weigh(read_file(mesh_recipe(folder, mesh), catalogue), catalogue)
        (problem,) = refused.value.problems
        assert (problem.field, problem.row) == ("makes.mould", 4)
    text = (folder / "heart.toml").read_text()
    with pytest.raises(RecipeRefused, match="Save it first"):
        weigh(read_text(text, catalogue), catalogue)
