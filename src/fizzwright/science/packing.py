"""Moulds: what they hold, what a pressed piece weighs, how many come out of a bowl, and how firm they will be.

Lengths are inner lengths in mm, volumes in ml, areas in mm2. Closed forms: Bronstein and Semendjajew, Handbook of
Mathematics, "Stereometry"; the ellipsoid's surface after DLMF 19.33.1. A mesh is measured in mesh.py.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import overload

import numpy as np
from numpy.typing import NDArray

from fizzwright.science.mesh import MeshRefused, mesh_volume_ml

__all__ = [
    "EQUATIONS",
    "HAND_PRESSED",
    "SHAPES",
    "Hardness",
    "MeshRefused",
    "hardness_class",
    "mesh_volume_ml",
    "mound_ml",
    "packed_density_g_ml",
    "pieces",
    "surface_mm2",
    "true_density_of_solids_g_ml",
    "volume_ml",
]

Array = NDArray[np.float64]
Numbers = float | Array

EQUATIONS: dict[str, str] = {
    "sphere": "V = pi d^3 / 6",
    "half_sphere": "V = pi d^3 / 12",
    "cap": "V = pi h^2 (3 d/2 - h) / 3, d the diameter of the whole sphere",
    "ellipsoid": "V = pi l w h / 6, full axes",
    "cylinder": "V = pi d^2 h / 4",
    "cuboid": "V = l w h",
    "torus": "V = pi^2 D t^2 / 4, D the ring's centre-line diameter, t the tube's diameter",
    "cone": "V = pi d^2 h / 12",
    "frustum": "V = pi h (D^2 + D d + d^2) / 12",
    "heart": "V = (1 + pi/4) a b depth, a = width / (1 + 1/sqrt 2), b = height / (3 / (2 sqrt 2) + 1/2): "
    "a square on its corner with a half disc on each upper side, stretched to width and height",
    "mesh": "V = sum over faces of (v1 . (v2 x v3)) / 6 (divergence theorem)",
    "mound_ml": "V = pi h (3 r^2 + h^2) / 6, a round cap of height h over a rim of radius r",
    "packed_density_g_ml": "density = solid fraction x true density of the solids x (1 + liquid mass / solid mass), at "
    "most what a piece without pores would weigh",
    "true_density_of_solids_g_ml": "true density = total mass / sum of (mass / true density)",
    "pieces": "pieces = floor(mix / piece), leftover = mix - pieces x piece",
    "hardness": "index 0-10 = 1.5 + 1.0 binder % (to 4) + 0.4 oil % (to 3) - 0.6 oil % (beyond 3) + 0.5 solid fat % "
    "(to 4) + 0.06 fine filler % (to 25) + 0.5 hardener % (to 3) + 40 (solid fraction - 0.44)",
}

_HEART_WIDTH = 1.0 + 1.0 / np.sqrt(2.0)  # of the plain heart whose square has side 1
_HEART_HEIGHT = 3.0 / (2.0 * np.sqrt(2.0)) + 0.5


def _heart_sides(width: Array, height: Array) -> tuple[Array, Array]:
    """How far the unit heart is stretched sideways and upwards."""
    return width / _HEART_WIDTH, height / _HEART_HEIGHT


def _heart_volume(width_mm: Array, height_mm: Array, depth_mm: Array) -> Array:
    a, b = _heart_sides(width_mm, height_mm)
    return (1.0 + np.pi / 4.0) * a * b * depth_mm


def _heart_surface(width_mm: Array, height_mm: Array, depth_mm: Array) -> Array:
    from scipy.special import ellipe

    a, b = _heart_sides(width_mm, height_mm)
    # the two stretched half discs have the edge of one whole ellipse of axes a and b
    long, short = np.maximum(a, b), np.minimum(a, b)
    edge = 2.0 * long * ellipe(1.0 - (short / long) ** 2) + np.sqrt(2.0 * (a**2 + b**2))
    surface: Array = 2.0 * (1.0 + np.pi / 4.0) * a * b + edge * depth_mm
    return surface


def _ellipsoid_surface(length_mm: Array, width_mm: Array, height_mm: Array) -> Array:
    from scipy.special import elliprg

    a, b, c = length_mm / 2.0, width_mm / 2.0, height_mm / 2.0
    surface: Array = 4.0 * np.pi * a * b * c * elliprg(a**-2.0, b**-2.0, c**-2.0)
    return surface


def _frustum_surface(bottom_mm: Array, top_mm: Array, height_mm: Array) -> Array:
    slant = np.hypot(height_mm, (bottom_mm - top_mm) / 2.0)
    surface: Array = np.pi / 2.0 * (bottom_mm + top_mm) * slant + np.pi / 4.0 * (bottom_mm**2 + top_mm**2)
    return surface


@dataclass(frozen=True, slots=True)
class _Shape:
    """One shape: its dimensions and its two closed forms (mm3 and mm2, all faces counted)."""

    dims: tuple[str, ...]
    volume: Callable[..., Array]
    surface: Callable[..., Array]


_SHAPES: dict[str, _Shape] = {
    "sphere": _Shape(
        ("diameter_mm",),
        lambda diameter_mm: np.pi * diameter_mm**3 / 6.0,
        lambda diameter_mm: np.pi * diameter_mm**2,
    ),
    "half_sphere": _Shape(
        ("diameter_mm",),
        lambda diameter_mm: np.pi * diameter_mm**3 / 12.0,
        lambda diameter_mm: 0.75 * np.pi * diameter_mm**2,
    ),
    "cap": _Shape(
        ("diameter_mm", "height_mm"),
        lambda diameter_mm, height_mm: np.pi * height_mm**2 * (1.5 * diameter_mm - height_mm) / 3.0,
        lambda diameter_mm, height_mm: np.pi * height_mm * (2.0 * diameter_mm - height_mm),
    ),
    "ellipsoid": _Shape(
        ("length_mm", "width_mm", "height_mm"),
        lambda length_mm, width_mm, height_mm: np.pi * length_mm * width_mm * height_mm / 6.0,
        _ellipsoid_surface,
    ),
    "cylinder": _Shape(
        ("diameter_mm", "height_mm"),
        lambda diameter_mm, height_mm: np.pi * diameter_mm**2 * height_mm / 4.0,
        lambda diameter_mm, height_mm: np.pi * diameter_mm * (diameter_mm / 2.0 + height_mm),
    ),
    "cuboid": _Shape(
        ("length_mm", "width_mm", "height_mm"),
        lambda length_mm, width_mm, height_mm: length_mm * width_mm * height_mm,
        lambda length_mm, width_mm, height_mm: (
            2.0 * (length_mm * width_mm + width_mm * height_mm + height_mm * length_mm)
        ),
    ),
    "torus": _Shape(
        ("ring_mm", "tube_mm"),
        lambda ring_mm, tube_mm: np.pi**2 * ring_mm * tube_mm**2 / 4.0,
        lambda ring_mm, tube_mm: np.pi**2 * ring_mm * tube_mm,
    ),
    "cone": _Shape(
        ("diameter_mm", "height_mm"),
        lambda diameter_mm, height_mm: np.pi * diameter_mm**2 * height_mm / 12.0,
        lambda diameter_mm, height_mm: _frustum_surface(diameter_mm, np.zeros(()), height_mm),
    ),
    "frustum": _Shape(
        ("bottom_mm", "top_mm", "height_mm"),
        lambda bottom_mm, top_mm, height_mm: np.pi * height_mm * (bottom_mm**2 + bottom_mm * top_mm + top_mm**2) / 12.0,
        _frustum_surface,
    ),
    "heart": _Shape(("width_mm", "height_mm", "depth_mm"), _heart_volume, _heart_surface),
}

SHAPES: dict[str, tuple[str, ...]] = {name: shape.dims for name, shape in _SHAPES.items()}
"""Every shape in closed form, with the names of its dimensions."""


def _positive(name: str, value: Numbers) -> Array:
    """The value as an array; ValueError unless finite and above zero."""
    array = np.asarray(value, dtype=float)
    if not np.all(np.isfinite(array) & (array > 0)):
        raise ValueError(f"{name} must be a number above zero; read {value!r}")
    return array


def _dims_of(shape: str, dims_mm: dict[str, Numbers]) -> dict[str, Array]:
    """The dimensions checked: the right names, all positive, and of a shape that can exist."""
    if shape not in SHAPES:
        raise ValueError(f"no mould shape is called {shape!r}; allowed are {', '.join(SHAPES)}")
    wanted = SHAPES[shape]
    missing = [name for name in wanted if name not in dims_mm]
    unknown = [name for name in dims_mm if name not in wanted]
    if missing or unknown:
        faults = [f"misses {', '.join(missing)}"] * bool(missing) + [f"does not know {', '.join(unknown)}"] * bool(
            unknown
        )
        raise ValueError(f"a {shape} {' and '.join(faults)}; it takes {', '.join(wanted)}")
    checked = {name: _positive(f"{shape} {name}", dims_mm[name]) for name in wanted}
    if shape == "cap" and np.any(checked["height_mm"] > checked["diameter_mm"]):
        raise ValueError("a cap cannot be higher than its sphere: height_mm must not exceed diameter_mm")
    if shape == "torus" and np.any(checked["tube_mm"] > checked["ring_mm"]):
        raise ValueError("a ring cannot overlap itself: tube_mm must not exceed ring_mm (the centre-line diameter)")
    return checked


@overload
def volume_ml(shape: str, **dims_mm: float) -> float: ...
@overload
def volume_ml(shape: str, **dims_mm: Numbers) -> Numbers: ...
def volume_ml(shape: str, **dims_mm: Numbers) -> Numbers:
    """Inner volume in ml of a mould in closed form; dimensions broadcast (see SHAPES for their names).

    A heart is a prism: a square standing on its corner with a half disc on each upper side, stretched to width and
    height, depth_mm thick. ValueError for an unknown shape, missing or unknown dimensions, or lengths not above zero.
    """
    checked = _dims_of(shape, dims_mm)
    return (_SHAPES[shape].volume(**checked) / 1000.0)[()]


@overload
def surface_mm2(shape: str, **dims_mm: float) -> float: ...
@overload
def surface_mm2(shape: str, **dims_mm: Numbers) -> Numbers: ...
def surface_mm2(shape: str, **dims_mm: Numbers) -> Numbers:
    """Whole outside of a piece in mm2, flat faces counted; arguments and errors as `volume_ml`."""
    checked = _dims_of(shape, dims_mm)
    return _SHAPES[shape].surface(**checked)[()]


def mound_ml(rim_diameter_mm: Numbers, overfill_mm: Numbers) -> Numbers:
    """Volume in ml of the round mound heaped over one round rim before two halves are pressed together.

    overfill_mm is the height over the rim, from 0 (struck level) to half the rim's diameter.
    """
    radius = _positive("rim_diameter_mm", rim_diameter_mm) / 2.0
    height = np.asarray(overfill_mm, dtype=float)
    if not np.all((height >= 0) & (height <= radius)):
        raise ValueError(f"overfill_mm must lie between 0 and half the rim's diameter; read {overfill_mm!r}")
    mound: Numbers = np.pi * height * (3.0 * radius**2 + height**2) / 6000.0
    return mound


HAND_PRESSED = (0.39, 0.44, 0.52)
"""Low, typical, high share of a hand-pressed piece that is solid; basis: estimate. Worked back from common practice (no
source): about a cup and a quarter of dry mix fills two 65 mm spheres (143.8 ml each) with some over, such a piece weighs
110 to 160 g, and most float. With a true density of the powders near 1.9 g/ml that is a solid fraction near 0.44."""
OILY_LIQUID_G_ML = 0.92
"""Density of a plant oil, common practice; only bounds a mix so wet that its pores are full."""


def true_density_of_solids_g_ml(solids_g: Array, true_density_g_ml: Array) -> Numbers:
    """Density of the solids without any pores, g/ml: the harmonic mean by mass; lines on the last axis.

    Not a number where there are no solids at all.
    """
    solids = np.asarray(solids_g, dtype=float)
    space = np.sum(solids / _positive("true_density_g_ml", true_density_g_ml), axis=-1)
    total = np.sum(solids, axis=-1)
    density: Array = np.divide(total, space, out=np.full(np.shape(total), np.nan), where=space > 0)
    return density[()]


def packed_density_g_ml(
    solids_g: Array,
    true_density_g_ml: Array,
    liquids_g: Array,
    solid_fraction: Numbers = HAND_PRESSED[1],
    liquid_density_g_ml: Numbers = OILY_LIQUID_G_ML,
) -> Numbers:
    """Density in g/ml of a pressed piece as made: solids share the space with pores, liquids sit in the pores.

    solids_g and true_density_g_ml: lines on the last axis (0 g for what is no solid, any density above 0).
    liquids_g: lines on the last axis. solid_fraction broadcasts over draws. A mix so wet that the liquids fill every
    pore weighs what the same mass without air weighs. Model and defaults: estimate; see HAND_PRESSED.
    """
    solids = np.asarray(solids_g, dtype=float)
    fraction = np.asarray(solid_fraction, dtype=float)
    if not np.all((fraction > 0) & (fraction < 1)):
        raise ValueError(f"solid_fraction is a share between 0 and 1; read {solid_fraction!r}")
    solid_ml = np.sum(solids / _positive("true_density_g_ml", true_density_g_ml), axis=-1)
    liquid_g = np.sum(np.asarray(liquids_g, dtype=float), axis=-1)
    total_g = np.sum(solids, axis=-1) + liquid_g
    if not np.all(total_g > 0):
        raise ValueError("nothing is in the mix: its solids and liquids weigh nothing")
    without_air_ml = solid_ml + liquid_g / _positive("liquid_density_g_ml", liquid_density_g_ml)
    density: Numbers = total_g / np.maximum(solid_ml / fraction, without_air_ml)
    return density


def pieces(mix_g: Numbers, piece_g: Numbers) -> tuple[Numbers, Numbers]:
    """Whole pieces a mix fills and the grams left over; broadcasts.

    A mix within a billionth of a whole piece counts as that piece (binary fractions must not cost one).
    """
    piece = _positive("piece_g", piece_g)
    mix = np.asarray(mix_g, dtype=float)
    if not np.all(np.isfinite(mix) & (mix >= 0)):
        raise ValueError(f"mix_g must be a number, zero or more; read {mix_g!r}")
    whole = np.floor(mix / piece * (1.0 + 1e-9))
    return whole[()], np.maximum(mix - whole * piece, 0.0)[()]


HARDNESS_WORDS = ("crumbly", "tender", "firm", "hard")
HARDNESS_BOUNDS = (2.5, 5.0, 7.5)


@dataclass(frozen=True, slots=True)
class Hardness:
    """How firm a cured piece is likely to be."""

    index: Numbers
    """0 falls apart in the hand, 10 rings on the table."""
    word: str | NDArray[np.str_]
    """crumbly, tender, firm or hard; an array when index is one."""


def hardness_class(
    *,
    binder_pct: Numbers = 0.0,
    oil_pct: Numbers = 0.0,
    solid_fat_pct: Numbers = 0.0,
    fine_filler_pct: Numbers = 0.0,
    hardener_pct: Numbers = 0.0,
    solid_fraction: Numbers = HAND_PRESSED[1],
) -> Hardness:
    """How firm a piece will be, from its composition in percent of the mix as made; a rule of thumb, estimate.

    Watery or spirit binder grows bridges between grains; a little oil helps grains cling, more keeps them apart; fats
    that set, fine fillers, hardeners and pressing add firmness. All coefficients are estimates (EQUATIONS["hardness"]),
    to be replaced by the maker's own batches.
    """
    shares = {
        "binder_pct": binder_pct,
        "oil_pct": oil_pct,
        "solid_fat_pct": solid_fat_pct,
        "fine_filler_pct": fine_filler_pct,
        "hardener_pct": hardener_pct,
    }
    for name, share in shares.items():
        # shares come from divisions: a hair over 100 is 100
        if not np.all((np.asarray(share) >= 0) & (np.asarray(share) <= 100 * (1 + 1e-9))):
            raise ValueError(f"{name} is percent of the mix, 0 to 100; read {share!r}")
    raw = (
        1.5
        + 1.0 * np.minimum(binder_pct, 4.0)
        + 0.4 * np.minimum(oil_pct, 3.0)
        - 0.6 * np.maximum(np.asarray(oil_pct) - 3.0, 0.0)
        + 0.5 * np.minimum(solid_fat_pct, 4.0)
        + 0.06 * np.minimum(fine_filler_pct, 25.0)
        + 0.5 * np.minimum(hardener_pct, 3.0)
        + 40.0 * (np.asarray(solid_fraction) - HAND_PRESSED[1])
    )
    index = np.clip(raw, 0.0, 10.0)
    words = np.asarray(HARDNESS_WORDS)[np.searchsorted(HARDNESS_BOUNDS, index, side="right")]
    return Hardness(index[()], str(words) if np.ndim(index) == 0 else words)
