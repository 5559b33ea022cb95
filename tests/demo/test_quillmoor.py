"""The demo workshop: that it copies without harm, reads, prices everything, and reviews as its story says.

Piece weights and the acid window are common practice, no source: a 65 mm piece of 125-155 g, two parts of bicarbonate to
one of citric acid by volume.
"""

from __future__ import annotations

import importlib.util
import math
from functools import cache
from pathlib import Path

import pytest
import trimesh

from fizzwright.catalogue import Catalogue, open_workshop
from fizzwright.catalogue.workshop import Workshop
from fizzwright.demo import copy_to, folder
from fizzwright.recipe.document import read_file
from fizzwright.recipe.model import KINDS, Recipe
from fizzwright.review import Review, review
from fizzwright.science import packing

ROOT = Path(__file__).parents[2]
FILES = sorted((folder() / "recipes").glob("*.toml"))
STOPPED = {"hearth", "noon"}


@cache
def opened() -> tuple[Catalogue, Workshop]:
    return open_workshop(folder())


@cache
def read(file: Path) -> Recipe:
    return read_file(file, opened()[0])


@cache
def reviewed(file: Path) -> Review:
    return review(read(file), *opened())


def number(value: float | str) -> float:
    assert not isinstance(value, str)
    return value


def test_a_copy_is_whole_and_a_second_one_keeps_what_the_maker_changed(tmp_path: Path) -> None:
    assert copy_to(tmp_path / "mine") == []
    here = {p.relative_to(folder()) for p in folder().rglob("*") if p.is_file()}
    there = {p.relative_to(tmp_path / "mine") for p in (tmp_path / "mine").rglob("*") if p.is_file()}
    assert here == there
    assert all((folder() / p).read_bytes() == (tmp_path / "mine" / p).read_bytes() for p in here)
    changed, gone = tmp_path / "mine/recipes/drift.toml", tmp_path / "mine/recipes/hearth.toml"
    changed.write_text("my own", encoding="utf-8")
    gone.unlink()
    kept = copy_to(tmp_path / "mine")
    assert changed.read_text(encoding="utf-8") == "my own"
    assert gone.exists()
    assert set(kept) == {tmp_path / "mine" / p for p in here} - {gone}


def test_every_kind_of_piece_has_a_recipe_and_a_child_has_one_without_oils() -> None:
    recipes = {file.stem: read(file) for file in FILES}
    assert {r.kind for r in recipes.values()} == set(KINDS)
    assert {r.measures for r in recipes.values()} >= {"us", "metric", "uk"}
    catalogue = opened()[0]
    child = recipes["paddling_pool"]
    assert child.audience == "child_2_plus"
    assert all(line.use in catalogue.materials for line in child.lines)
    foam = [catalogue.materials[line.use] for line in recipes["shingle_foam"].lines if line.use in catalogue.materials]
    assert any(m.function == "surfactant" for m in foam)
    assert not any("sulfate" in m.inci.lower() for m in foam if m.function == "surfactant")


@pytest.mark.parametrize("file", FILES, ids=lambda f: f.stem)
def test_only_the_two_warnings_are_stopped(file: Path) -> None:
    stops = [n.text for _, n in reviewed(file).notices if n.level == "stop"]
    assert bool(stops) == (file.stem in STOPPED), stops


def test_hearth_is_stopped_for_cinnamon_and_noon_for_the_sun() -> None:
    by_stem = {f.stem: reviewed(f) for f in FILES}
    hearth = [n.text for _, n in by_stem["hearth"].notices if n.level == "stop"]
    assert any("Cinnamaldehyde" in text for text in hearth)
    noon = [n.text for _, n in by_stem["noon"].notices if n.level == "stop"]
    assert any("sun" in text and "Bergamot" in text for text in noon)


@pytest.mark.parametrize("file", FILES, ids=lambda f: f.stem)
def test_a_65_mm_piece_weighs_what_a_practitioner_expects_and_the_count_is_reached(file: Path) -> None:
    recipe, mould = read(file), reviewed(file).section("mould")
    if recipe.makes.mould == "sphere_65":
        assert 125 <= number(mould.figure("piece_g").value) <= 155
    if recipe.makes.count is not None:
        assert mould.figure("pieces").value == recipe.makes.count
        # not so much left over that the count should have been higher
        assert number(mould.figure("leftover_g").value) < number(mould.figure("piece_g").value) * 3


@pytest.mark.parametrize("file", FILES, ids=lambda f: f.stem)
def test_acid_and_base_stand_near_two_to_one(file: Path) -> None:
    ratio = number(reviewed(file).section("fizz").figure("acid_to_base_eq").value)
    # 2 : 1 by volume at 0.93 and 0.85 g/ml: (0.85 / 192.12 x 3) / (2 x 0.93 / 84.01) = 0.60
    assert 0.5 < ratio < 0.8


@pytest.mark.parametrize("file", FILES, ids=lambda f: f.stem)
def test_everything_has_a_price(file: Path) -> None:
    workshop = opened()[1]
    assert [line.use for line in read(file).lines if workshop.price_of(line.use) is None] == []
    assert number(reviewed(file).section("cost").figure("price_for_margin").value) > 0


def test_the_lot_named_in_orchard_rain_has_its_analysis() -> None:
    (lot,) = {line.lot for line in read(folder() / "recipes/orchard_rain.toml").lines if line.lot}
    shares = opened()[1].lot_analyses[lot].shares
    assert 95 <= sum(s.typical_pct or 0.0 for s in shares) <= 102


def test_the_heart_is_watertight_and_its_volume_is_the_one_trimesh_measures() -> None:
    stl = folder() / "recipes/heart.stl"
    solid = trimesh.load(stl)
    assert solid.is_watertight
    assert solid.is_winding_consistent
    assert 60 <= solid.volume / 1000 <= 70
    assert packing.mesh_volume_ml(stl) == pytest.approx(solid.volume / 1000, rel=1e-6)


def test_the_shipped_heart_is_the_one_the_script_draws() -> None:
    spec = importlib.util.spec_from_file_location("heart_stl", ROOT / "tools/heart_stl.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    drawn, shipped = module.heart(), trimesh.load(folder() / "recipes/heart.stl")
    assert len(drawn.faces) == len(shipped.faces)
    assert drawn.volume == pytest.approx(shipped.volume, rel=1e-5)
    # the tip, and the outermost point of a lobe: 16 + 20 mm from the middle line
    assert drawn.bounds[0][1] == pytest.approx(-36.0)
    assert drawn.bounds[1][0] == pytest.approx(36.0, abs=0.2)
    # the cleft lies where the two circles meet: 9 + sqrt(20^2 - 16^2) = 21 mm above the middle
    cleft = max(y for x, y, z in drawn.vertices if math.isclose(x, 0.0, abs_tol=1e-9) and math.isclose(z, 0.0))
    assert cleft == pytest.approx(21.0)
