"""The parts of a piece: what each is made of, how fast the water eats into it, and when it is where."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.model import Material
from fizzwright.recipe.mix import Mix
from fizzwright.review.bench import part_word
from fizzwright.review.chemistry import fizz_of
from fizzwright.review.figures import Input
from fizzwright.review.setting import Setting
from fizzwright.review.sizes import Piece, packed_density
from fizzwright.review.tub_defaults import bath
from fizzwright.science import erosion, packing, voxels

Array = NDArray[np.float64]

LEAST_SHARE = 0.002
"""A part smaller than this share of the piece is drawn this large: the grid shows nothing smaller."""
ALIKE = 0.02
"""Speeds are told apart in steps of 2 %, far below what is known of them, so that small changes need no new erosion."""
_IN_THE_WAY = frozenset({"filler", "botanical", "desiccant", "hardener", "thickener"})
_OILY = frozenset({"carrier_oil", "solid_fat"})


@dataclass(frozen=True)
class Part:
    """One part of a piece: as the water meets it."""

    name: str
    share: NDArray[np.float64]
    """Which share of each line of the mix it holds; shape (lines,)."""
    volume_share: float
    mass_share: float
    """Shares of the cured piece."""
    density_g_ml: float
    """Cured."""
    acid_share: float
    filler_share: float
    """What neither dissolves nor fizzes."""
    oil_share: float
    gas_g_per_g: float

    def speed_mm_s(self, temperature_c: float) -> float:
        """How fast the water eats into it, by default."""
        return float(
            erosion.speed_mm_s(
                temperature_c, self.acid_share, self.filler_share, self.oil_share, max(self.density_g_ml, 0.1)
            )
        )


def names_of(mix: Mix) -> tuple[str, ...]:
    """The parts of a piece from the outside in or from the bottom up; ("whole",) when it is all one.

    Lines without a part go through all parts; in a cored piece of which only shell or core is named they are the other.
    """
    held = {m.part for m, grams in zip(mix.lines, mix.grams, strict=True) if grams > 0}
    if mix.recipe.kind == "cored" and len(held) > 1:
        return "shell", "core"
    layers = tuple(sorted(held - {"whole"}))
    return layers if mix.recipe.kind == "layered" and len(layers) > 1 else ("whole",)


def parts_of(mix: Mix) -> tuple[Part, ...]:
    """What each part of the piece is made of."""
    names = names_of(mix)
    cured = mix.grams * mix.cured_fraction
    shares = line_shares(mix, names)
    functions = [role_of(m.material) for m in mix.lines]
    roles = {role: np.array([found == role for found in functions]) for role in ("acid", "filler", "oil")}
    density = np.array([float(packed_density(mix, mix.grams * share, packing.HAND_PRESSED[1])) for share in shares])
    volume = (shares * mix.grams).sum(axis=1) / density
    # a part of nothing but alcohol leaves nothing
    mass = np.maximum((shares * cured).sum(axis=1), 1e-9)
    parts = []
    for index, name in enumerate(names):
        held = shares[index] * cured
        gas_g = float(fizz_of(mix, mix.grams * shares[index]).co2_g)
        parts.append(
            Part(
                name,
                shares[index],
                float(volume[index] / volume.sum()),
                float(mass[index] / mass.sum()),
                float(mass[index] / volume[index]),
                acid_share=float(held[roles["acid"]].sum() / mass[index]),
                filler_share=float(held[roles["filler"]].sum() / mass[index]),
                oil_share=float(held[roles["oil"]].sum() / mass[index]),
                gas_g_per_g=gas_g / float(mass[index]),
            )
        )
    return tuple(parts)


def line_shares(mix: Mix, names: tuple[str, ...]) -> Array:
    """Which share of each line each part holds; shape (parts, lines)."""
    if len(names) == 1:
        return np.ones((1, len(mix.lines)))
    own: Array = np.array([[1.0 if m.part == name else 0.0 for m in mix.lines] for name in names])
    through = np.array([m.part not in names for m in mix.lines])
    grams = (own * mix.grams).sum(axis=1)
    # the part that nothing is named for is what the lines without a part make
    spread: Array = grams / grams.sum() if np.all(grams > 0) else (grams == 0).astype(float)
    return np.asarray(own + spread[:, None] * through)


def role_of(material: Material | None) -> str:
    """What a line does to the water's way in: acid, filler, oil or nothing much."""
    if material is None or material.function in _OILY:
        return "oil"
    if material.function in _IN_THE_WAY and material.water_solubility_class in ("insoluble", "slightly soluble"):
        return "filler"
    return "acid" if material.function == "acid" else ""


@dataclass(frozen=True, eq=False)
class Solved:
    """A piece coming apart with its first part at 1 mm/s; other speeds only stretch the time."""

    seconds: Array
    left: Array
    """Share of each part left; shape (parts, n)."""
    face_per_mm: Array
    """Surface over volume of what is left; shape (n,)."""
    shows: tuple[float, ...]
    """When the water first meets each part."""
    pushes: erosion.Pushes | None
    """None for a piece of one part, which nothing turns."""
    cut_seconds: Array
    """The piece cut through; rows from the top down, nan outside."""
    cut_part: NDArray[np.int8]
    spacing_mm: float
    level_cut: bool
    volume_error: float


@dataclass(frozen=True)
class Shape:
    """What is dissolved: a mould's shape and its dimensions, or a mesh file as it stands today."""

    shape: str
    dims_mm: tuple[tuple[str, float], ...] = ()
    mesh: str = ""
    changed: tuple[int, int] = (0, 0)


def shape_of(mix: Mix, size: Piece) -> Shape:
    """The shape of a mould; a ball of the same volume when the mould is known by weight only. ValueError for a powder."""
    mould = mix.mould
    if mould is None:
        raise ValueError("a powder has no shape to dissolve from")
    if mould.shape == "mesh":
        stat = Path(mould.mesh).stat()
        return Shape("mesh", (), mould.mesh, (stat.st_mtime_ns, stat.st_size))
    if mould.shape == "weight":
        density = float(packed_density(mix, mix.grams, packing.HAND_PRESSED[1]))
        diameter = (6000.0 * size.piece_g.value / density / np.pi) ** (1.0 / 3.0)
        return Shape("sphere", (("diameter_mm", round(float(diameter), 1)),))
    return Shape(mould.shape, tuple(sorted(mould.dims_mm.items())))


def solve(shape: Shape, parts: tuple[Part, ...], speeds_mm_s: tuple[float, ...]) -> Solved:
    """How a piece comes apart in units of its first part's speed; worked out once for each shape, parts and ratio of speeds."""
    shares = np.maximum([part.volume_share for part in parts], LEAST_SHARE)
    ratios = np.exp(ALIKE * np.round(np.log(np.asarray(speeds_mm_s) / speeds_mm_s[0]) / ALIKE))
    kind = "whole" if len(parts) == 1 else "cored" if parts[-1].name == "core" else "layers"
    return _solve(
        shape, kind, tuple(float(s) for s in np.round(shares / shares.sum(), 3)), tuple(float(r) for r in ratios)
    )


@lru_cache(maxsize=12)
def _grid(shape: Shape, even: bool) -> tuple[voxels.Grid, Array]:
    """The grid of a shape and how deep each point of it lies."""
    grid = (
        voxels.mesh_grid(shape.mesh) if shape.mesh else voxels.shape_grid(shape.shape, dict(shape.dims_mm), even=even)
    )
    return grid, erosion.depth_mm(grid)


@lru_cache(maxsize=64)
def _solve(shape: Shape, kind: str, shares: tuple[float, ...], speeds: tuple[float, ...]) -> Solved:
    grid, depth = _grid(shape, kind != "layers")
    shows = [0.0] * len(shares)
    if kind == "cored":
        parts, shell_mm = erosion.cored(grid, depth, shares[1])
        run = erosion.erode_cored(grid, depth, parts, shell_mm, speeds)
        shows[1] = shell_mm / speeds[0]
    else:
        parts = erosion.layers(grid, shares) if kind == "layers" else erosion.whole(grid)
        run = erosion.erode(grid, depth, parts, speeds)
    # layers lie level, so only an upright cut shows them
    level = grid.flat_cut and kind != "layers"
    cut_parts = np.array([erosion.cut(grid, part, level) for part in parts]).argmax(axis=0)
    arrival = erosion.cut(grid, run.arrival_s, level)
    outside = arrival < 0
    volume = run.left_mm3.sum(axis=0)
    some = volume > 0.002 * volume[0]
    return Solved(
        seconds=run.seconds,
        left=run.left_mm3 / run.left_mm3[:, :1],
        # of the last crumbs neither is known: the ratio stands still there
        face_per_mm=np.interp(run.seconds, run.seconds[some], run.face_mm2.sum(axis=0)[some] / volume[some]),
        shows=tuple(shows),
        pushes=erosion.pushes(grid, parts, speeds, run) if len(parts) > 1 else None,
        cut_seconds=np.where(outside, np.nan, arrival),
        cut_part=np.where(outside, -1, cut_parts).astype(np.int8),
        spacing_mm=grid.spacing_mm,
        level_cut=level,
        volume_error=voxels.volume_error(grid.smallest_mm / grid.spacing_mm),
    )


def colours_of(parts: tuple[Part, ...], mix: Mix, given: Mapping[str, str] | None, plain: str) -> tuple[str, ...]:
    """The dry colour of each part, from colours by part of the recipe; plain where none is given."""
    given = given or {}
    written = [m.part for m in mix.lines]
    # a part that the recipe gives no name has the colour of the lines without one
    return tuple(given.get(p.name) or given.get("whole" if "whole" in written else written[0]) or plain for p in parts)


@dataclass(frozen=True)
class Course:
    """One piece in one bath: its parts, their speeds, and how it comes apart."""

    parts: tuple[Part, ...]
    solved: Solved
    speeds_mm_s: tuple[float, ...]
    temperature_c: float
    factor: float
    """90 % of pieces are gone within the likely time times or divided by this."""
    basis: str
    inputs: tuple[Input, ...]

    @property
    def second(self) -> float:
        """Seconds of one unit of the solved time."""
        return 1.0 / self.speeds_mm_s[0]

    @property
    def gone_s(self) -> float:
        """When the last of it is gone."""
        return float(self.solved.seconds[-1]) * self.second


def course_of(mix: Mix, catalogue: Catalogue, setting: Setting, size: Piece) -> Course:
    """How one piece comes apart in its bath: at the maker's own speed or time where given, else at the default speeds."""
    temperature_c = bath(mix.recipe, catalogue).temperature_c
    parts = parts_of(mix)
    told = setting.speed_mm_s
    timed = mix.recipe.tub.fizzed_in_s
    speeds = tuple(part.speed_mm_s(temperature_c) if told is None else told for part in parts)
    shape = shape_of(mix, size)
    solved = solve(shape, parts, speeds)
    inputs = [Input("water", temperature_c, "°C")]
    own = True
    if told is not None:
        inputs.append(Input("speed given by the maker, for every part", told, "mm/s", "", "your own"))
    elif timed is not None:
        stretch = float(solved.seconds[-1]) / speeds[0] / timed
        speeds = tuple(speed * stretch for speed in speeds)
        inputs.append(Input("timed test", timed, "s", "", "your own"))
        inputs.append(Input("default speeds made faster by", round(stretch, 3), "times", "", "from the timed test"))
    else:
        own = False
    for part, speed in zip(parts, speeds, strict=True):
        word = "" if part.name == "whole" else f"{part_word(part.name)}: "
        how = "your own" if own else "estimate"
        if told is None:
            inputs += [
                Input(f"{word}acid", round(100 * part.acid_share, 1), "% of its cured mass"),
                Input(f"{word}filler that does not dissolve", round(100 * part.filler_share, 1), "% of its cured mass"),
                Input(f"{word}oil, fat and scent", round(100 * part.oil_share, 1), "% of its cured mass"),
                Input(f"{word}density", round(part.density_g_ml, 3), "g/ml", "", "estimate"),
            ]
        inputs.append(Input(f"{word}speed", round(speed, 4), "mm/s", "", how))
    if mix.mould is not None and mix.mould.shape == "weight":
        diameter = dict(shape.dims_mm)["diameter_mm"]
        inputs.append(Input("shape not known: taken as a ball of the same volume", diameter, "mm", "", "estimate"))
    inputs.append(Input("error of the grid, share of the piece, at most", round(solved.volume_error, 4)))
    return Course(
        parts,
        solved,
        speeds,
        temperature_c,
        erosion.OWN_FACTOR if own else erosion.SPEED_FACTOR,
        "your_own_batches" if own else "estimate",
        tuple(inputs),
    )
