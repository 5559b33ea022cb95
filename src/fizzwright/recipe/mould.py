"""The mould of a recipe: from the catalogue, or a shape of the maker's own, with the volume inside."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from fizzwright.catalogue.model import Mould
from fizzwright.recipe.model import Recipe
from fizzwright.recipe.problems import Problem, RecipeRefused, file_name
from fizzwright.recipe.values import mesh_path_fault

if TYPE_CHECKING:
    from fizzwright.catalogue import Catalogue

PEA_ML = 0.25
"""A pea of 8 mm (4/3 pi 4^3 = 268 mm3): nothing smaller can be pressed, so a slip of units is likelier."""


@dataclass(frozen=True, slots=True)
class Inside:
    """A mould and the volume of one cavity; None for a mould known by the mass of its piece."""

    mould: Mould
    volume_ml: float | None


def inside_of(recipe: Recipe, catalogue: Catalogue) -> Inside | None:
    """The mould of a recipe with its volume in ml; None when the recipe names none. RecipeRefused when unusable."""
    name = recipe.makes.mould
    if name is None:
        return None
    if name.startswith("mesh:"):
        inside = _mesh(recipe, name)
    else:
        mould = catalogue.moulds[name]
        inside = Inside(mould, None if mould.shape == "weight" else _closed_form(mould))
    size = inside.mould.piece_g_typ if inside.volume_ml is None else inside.volume_ml
    if size is not None and size < PEA_ML:
        unit = "g" if inside.volume_ml is None else "ml"
        raise _refused(
            recipe,
            f"This mould holds {size:.3g} {unit}, less than a pea. A drawing in centimetres or inches read as "
            "millimetres looks like this: save it again in millimetres.",
            f"a mould of at least {PEA_ML:g} ml",
        )
    return inside


def _closed_form(mould: Mould) -> float:
    return _shape_ml(mould.shape, tuple(sorted(mould.dims_mm.items())))


@lru_cache(maxsize=256)
def _shape_ml(shape: str, dims_mm: tuple[tuple[str, float], ...]) -> float:
    from fizzwright.science import packing

    return float(packing.volume_ml(shape, **dict(dims_mm)))


def _mesh(recipe: Recipe, name: str) -> Inside:
    relative = name.removeprefix("mesh:")
    fault = mesh_path_fault(relative)
    if fault:
        raise _refused(recipe, fault, '"mesh:FILE.stl" beside the recipe')
    if recipe.file is None:
        raise _refused(
            recipe, "A recipe that is not saved yet has no folder to look for the shape in. Save it first.", ""
        )
    folder = recipe.file.parent.resolve()
    path = (folder / relative).resolve()
    if not path.is_relative_to(folder):
        raise _refused(recipe, "The shape lies outside the recipe's own folder. Copy it there.", "a file in the folder")
    if not path.is_file():
        raise _refused(recipe, f"There is no file {relative} beside the recipe. Check the name.", "an STL file")
    stat = path.stat()
    try:
        volume_ml = _mesh_ml(path, stat.st_mtime_ns, stat.st_size)
    except (ValueError, OSError) as error:
        raise _refused(recipe, f"The shape cannot be used. {error}", "a closed shape in millimetres") from error
    mould = Mould(id=name, name=path.stem, shape="mesh", volume_ml=volume_ml, mesh=str(path), origin=relative)
    return Inside(mould, volume_ml)


@lru_cache(maxsize=64)
def _mesh_ml(path: Path, changed_ns: int, size: int) -> float:
    """Volume of a mesh, read again only when the file has changed."""
    from fizzwright.science import packing

    return float(packing.mesh_volume_ml(path))


def _refused(recipe: Recipe, text: str, allowed: str) -> RecipeRefused:
    from fizzwright.recipe import statements

    row = statements.rows(recipe.text).get(("makes", "mould"), 0)
    return RecipeRefused(
        [Problem(file_name(recipe.file), row, "makes.mould", f'"{recipe.makes.mould}"', allowed, text)]
    )
