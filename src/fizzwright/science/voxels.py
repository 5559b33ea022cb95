"""A piece on a grid: how far each grid point lies from the surface, for every mould shape and for a mesh.

Lengths in mm. x runs along the width or length, y along the other side, z upwards as the piece lies in its mould: half
spheres, caps and cones point down, their open face up; a heart lies flat. Distances are below zero inside. Closed forms
keep only one half or quarter of a piece that is its own mirror image, which costs a quarter of the time or less.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from fizzwright.science.mesh import read_mesh

Array = NDArray[np.float64]

CELLS_ACROSS = 64
"""Default: grid cells across the smallest side of a piece; see `volume_error`."""
MOST_POINTS = 110_000
"""Grid points inside the box at most, so that the first look at any mould takes a quarter of a second or so."""
MARGIN = 3
"""Grid cells kept outside the piece on each side, for the slope at the surface."""

EQUATIONS: dict[str, str] = {
    "volume_error": "error of the volume left, as a share of the whole piece, at most 0.5 / n, n the grid cells across its "
    "smallest side: half a cell of the last sheet of a flat piece; a ball stays far below",
}


@dataclass(frozen=True, eq=False)
class Grid:
    """A piece on a regular grid."""

    spacing_mm: float
    distance_mm: Array
    """Signed distance to the surface, below zero inside; shape (x, y, z). True within two and a half cells inside the surface."""
    true_inside: bool
    """True when distance_mm is the true distance everywhere inside."""
    axes_mm: tuple[Array, Array, Array]
    """Where the grid points lie along x, y and z; 0 is the middle of the piece's box."""
    mirrored: tuple[bool, bool, bool]
    """True for an axis of which only the half from 0 upwards is kept, the other half being its mirror image."""
    flat_cut: bool
    """True when the outline shows best in a level cut (hearts, rings), not in an upright one."""
    smallest_mm: float
    """Smallest side of the piece's box."""

    @property
    def cells_mm3(self) -> Array:
        """Volume that each grid point stands for, mirror images counted; broadcasts against distance_mm."""
        counts = [
            np.where(np.arange(len(axis)) == 0, 1.0, 2.0) if mirror else np.ones(len(axis))
            for axis, mirror in zip(self.axes_mm, self.mirrored, strict=True)
        ]
        cells: Array = self.spacing_mm**3 * counts[0][:, None, None] * counts[1][:, None] * counts[2]
        return cells

    @property
    def inside(self) -> Array:
        """Share of each grid cell that lies inside, 0 to 1."""
        return np.clip(0.5 - self.distance_mm / self.spacing_mm, 0.0, 1.0)

    @property
    def volume_mm3(self) -> float:
        """Volume of the piece as the grid sees it."""
        return float((self.inside * self.cells_mm3).sum())


def volume_error(cells_across: float) -> float:
    """Largest error to expect of the volume left, as a share of the whole piece; see EQUATIONS["volume_error"]."""
    return 0.5 / cells_across


def cells_for(error: float) -> float:
    """Grid cells across the smallest side that keep the volume within that error, a share of the whole piece."""
    if not 0 < error < 1:
        raise ValueError(f"error is a share of the piece's volume, above 0 and below 1; read {error!r}")
    return 0.5 / error


def _spacing(size_mm: tuple[float, float, float], halves: int, error: float | None) -> float:
    """Spacing for the stated error, or the default, coarser where the piece would take too many points."""
    if error is not None:
        return min(size_mm) / cells_for(error)
    fewest: float = (float(np.prod(size_mm)) / 2**halves / MOST_POINTS) ** (1.0 / 3.0)
    return max(min(size_mm) / CELLS_ACROSS, fewest)


def _ellipsoid(half: Array) -> Callable[[Array, Array, Array], Array]:
    def distance(x: Array, y: Array, z: Array) -> Array:
        level = np.sqrt((x / half[0]) ** 2 + (y / half[1]) ** 2 + (z / half[2]) ** 2)
        slope = np.sqrt((x / half[0] ** 2) ** 2 + (y / half[1] ** 2) ** 2 + (z / half[2] ** 2) ** 2)
        # first order, exact on the surface; at the very middle the slope vanishes
        first: Array = np.where(slope > 0, level * (level - 1.0) / np.where(slope > 0, slope, 1.0), -half.min())
        near = np.abs(first) < 4.0 * (x[1, 0, 0] - x[0, 0, 0])
        points = np.stack([np.broadcast_to(axis, near.shape)[near] for axis in (x, y, z)], axis=-1)
        first[near] = _to_ellipsoid(points, half)
        return first

    return distance


def _to_ellipsoid(points: Array, half: Array) -> Array:
    """True signed distance of points near an ellipsoid: the foot of the normal by Newton's method; shape (points,)."""
    # sum (a x / (t + a^2))^2 = 1 falls steadily in t beyond its last pole; from a start where it is 1 or more Newton only rises
    t = np.max(half * np.abs(points) - half**2, axis=-1)
    # a pole is met only on an axis of a long ellipsoid, deep inside: a hair beyond it the sum is as good
    t = np.maximum(t, -(half.min() ** 2) * (1.0 - 1e-9))
    for _ in range(25):
        term = half * points / (t[:, None] + half**2)
        value, fall = (term**2).sum(axis=-1) - 1.0, 2.0 * (term**2 / (t[:, None] + half**2)).sum(axis=-1)
        t = t + np.maximum(value, 0.0) / np.maximum(fall, 1e-300)
    foot = half**2 * points / (t[:, None] + half**2)
    signed: Array = np.copysign(np.linalg.norm(points - foot, axis=-1), t)
    return signed


def _cap(radius: float, height: float) -> Callable[[Array, Array, Array], Array]:
    middle = radius - height / 2.0

    def distance(x: Array, y: Array, z: Array) -> Array:
        return np.asarray(np.maximum(np.sqrt(x**2 + y**2 + (z - middle) ** 2) - radius, z - height / 2.0))

    return distance


def _frustum(bottom: float, top: float, height: float) -> Callable[[Array, Array, Array], Array]:
    lean = (top - bottom) / height
    return lambda x, y, z: np.maximum(
        (np.hypot(x, y) - (bottom + top) / 2.0 - lean * z) / np.hypot(1.0, lean), np.abs(z) - height / 2.0
    )


def heart_outline_mm(width_mm: float, height_mm: float, steps: int = 40) -> Array:
    """The outline of a heart mould, point up at the foot, its box centred on 0; shape (points, 2).

    As packing.volume_ml reads it: a square on its corner with a half disc on each upper side, stretched.
    """
    turn = np.linspace(-np.pi / 4.0, 3.0 * np.pi / 4.0, steps)
    bow = np.c_[0.5 * np.cos(turn), 0.5 * np.sin(turn)] + np.array([1.0, 3.0]) / (2.0 * np.sqrt(2.0))
    right = np.vstack([[0.0, 0.0], bow])
    outline = np.vstack([right, right[-2:0:-1] * [-1.0, 1.0]])
    # the widest and highest points of the bows, not of the corners drawn through them
    wide, high = 1.0 + 1.0 / np.sqrt(2.0), 3.0 / (2.0 * np.sqrt(2.0)) + 0.5
    stretched: Array = (outline - [0.0, high / 2.0]) * [width_mm / wide, height_mm / high]
    return stretched


def _heart(width: float, height: float, depth: float) -> Callable[[Array, Array, Array], Array]:
    start = heart_outline_mm(width, height)
    along = np.roll(start, -1, axis=0) - start
    length2 = (along**2).sum(axis=1)

    def distance(x: Array, y: Array, z: Array) -> Array:
        point = np.stack(np.broadcast_arrays(x[:, :, 0], y[:, :, 0]), axis=-1)[:, :, None, :]
        place = np.clip(((point - start) * along).sum(axis=-1) / length2, 0.0, 1.0)
        away = np.sqrt((((point - start) - place[..., None] * along) ** 2).sum(axis=-1).min(axis=-1))
        # crossings of a ray to the right: odd inside
        rises = (start[:, 1] > point[..., 1]) != (start[:, 1] + along[:, 1] > point[..., 1])
        safe = np.where(along[:, 1] == 0, 1.0, along[:, 1])
        hits = point[..., 0] < start[:, 0] + (point[..., 1] - start[:, 1]) / safe * along[:, 0]
        odd = (rises & hits).sum(axis=-1) % 2 == 1
        return np.asarray(np.maximum(np.where(odd, -away, away)[:, :, None], np.abs(z) - depth / 2.0))

    return distance


@dataclass(frozen=True, slots=True)
class _Form:
    """A shape in closed form: its box, its distance, and the axes along which it is its own mirror image."""

    size_mm: tuple[float, float, float]
    distance: Callable[[Array, Array, Array], Array]
    mirrored: tuple[bool, bool, bool]
    flat_cut: bool = False
    true_inside: bool = True


def _round(diameter: float, height: float, distance: Callable[[Array, Array, Array], Array], even: bool) -> _Form:
    return _Form((diameter, diameter, height), distance, (True, True, even))


def _form(shape: str, dims: Mapping[str, float]) -> _Form:
    """The closed form of a mould shape; dimension names as in packing.SHAPES."""
    if shape == "sphere":
        d = dims["diameter_mm"]
        return _round(d, d, lambda x, y, z: np.sqrt(x**2 + y**2 + z**2) - d / 2.0, True)
    if shape in ("half_sphere", "cap"):
        radius = dims["diameter_mm"] / 2.0
        height = dims.get("height_mm", radius)
        wide = 2.0 * radius if height >= radius else 2.0 * np.sqrt(height * (2.0 * radius - height))
        return _round(float(wide), height, _cap(radius, height), False)
    if shape == "ellipsoid":
        size = (dims["length_mm"], dims["width_mm"], dims["height_mm"])
        return _Form(size, _ellipsoid(np.array(size) / 2.0), (True, True, True), true_inside=False)
    if shape == "cylinder":
        d, h = dims["diameter_mm"], dims["height_mm"]
        return _round(d, h, _frustum(d / 2.0, d / 2.0, h), True)
    if shape == "cuboid":
        size = (dims["length_mm"], dims["width_mm"], dims["height_mm"])
        return _Form(
            size,
            lambda x, y, z: np.maximum(
                np.maximum(np.abs(x) - size[0] / 2.0, np.abs(y) - size[1] / 2.0), np.abs(z) - size[2] / 2.0
            ),
            (True, True, True),
        )
    if shape == "torus":
        ring, tube = dims["ring_mm"], dims["tube_mm"]
        return _Form(
            (ring + tube, ring + tube, tube),
            lambda x, y, z: np.hypot(np.hypot(x, y) - ring / 2.0, z) - tube / 2.0,
            (True, True, True),
            True,
        )
    if shape == "cone":
        d, h = dims["diameter_mm"], dims["height_mm"]
        return _round(d, h, _frustum(0.0, d / 2.0, h), False)
    if shape == "frustum":
        bottom, top, h = dims["bottom_mm"], dims["top_mm"], dims["height_mm"]
        return _round(max(bottom, top), h, _frustum(bottom / 2.0, top / 2.0, h), False)
    if shape == "heart":
        w, h, deep = dims["width_mm"], dims["height_mm"], dims["depth_mm"]
        return _Form((w, h, deep), _heart(w, h, deep), (True, False, True), True)
    raise ValueError(f"no mould shape is called {shape!r}; a mesh goes to mesh_grid")


def _axis(size: float, spacing: float, mirror: bool) -> Array:
    """Grid points along one side: always one in the middle, and some beyond the surface."""
    count = int(np.ceil(size / 2.0 / spacing)) + MARGIN
    return spacing * np.arange(0 if mirror else -count, count + 1, dtype=np.float64)


def shape_grid(shape: str, dims_mm: Mapping[str, float], *, even: bool = True, error: float | None = None) -> Grid:
    """A mould in closed form on a grid; shapes and dimensions as packing.volume_ml takes them.

    even: False when the upper half must be kept apart from the lower one, as with layers. error: the error of the volume
    asked for (see `volume_error`); by default CELLS_ACROSS the smallest side, as far as MOST_POINTS allows.
    ValueError for a shape not known.
    """
    form = _form(shape, dims_mm)
    mirrored = (form.mirrored[0], form.mirrored[1], form.mirrored[2] and even)
    h = _spacing(form.size_mm, sum(mirrored), error)
    axes = tuple(_axis(size, h, mirror) for size, mirror in zip(form.size_mm, mirrored, strict=True))
    x, y, z = np.meshgrid(*axes, indexing="ij", sparse=True)
    distance = np.ascontiguousarray(np.broadcast_to(form.distance(x, y, z), [len(a) for a in axes]))
    return Grid(h, distance, form.true_inside, (axes[0], axes[1], axes[2]), mirrored, form.flat_cut, min(form.size_mm))


def mesh_grid(path: str | Path, *, error: float | None = None) -> Grid:
    """An STL drawn in mm on a grid, z upwards; `error` as in `shape_grid`. MeshRefused when the file cannot be read.

    That it is watertight is for measure_mesh to check; here a point is inside when an upright line below it meets the
    surface an odd number of times.
    """
    vertices, faces = read_mesh(path)
    low, high = vertices[faces].min(axis=(0, 1)), vertices[faces].max(axis=(0, 1))
    corners = vertices[faces] - (low + high) / 2.0
    size = (float(high[0] - low[0]), float(high[1] - low[1]), float(high[2] - low[2]))
    h = _spacing(size, 0, error)
    axes = (_axis(size[0], h, False), _axis(size[1], h, False), _axis(size[2], h, False))
    inside = _odd(corners, axes)
    distance = np.where(inside, -1.0, 1.0) * _near_distance(corners, axes, inside, h)
    flat = size[2] <= min(size[0], size[1])
    return Grid(h, distance, False, axes, (False, False, False), flat, min(size))


def _pairs(counts: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """For counts n_i: i repeated n_i times, and beside it 0, 1 ... n_i - 1."""
    owner = np.repeat(np.arange(len(counts)), counts)
    return owner, np.arange(len(owner)) - np.repeat(np.cumsum(counts) - counts, counts)


def _odd(corners: Array, axes: tuple[Array, Array, Array]) -> NDArray[np.bool_]:
    """Which grid points lie inside: an odd number of faces below them."""
    x, y, z = axes
    h = x[1] - x[0]
    low, high = corners[:, :, :2].min(axis=1), corners[:, :, :2].max(axis=1)
    # a little more than the face, so that rounding leaves out no point upon its rim
    first = np.ceil((low - [x[0], y[0]]) / h - 1e-6).astype(np.int64)
    last = np.floor((high - [x[0], y[0]]) / h + 1e-6).astype(np.int64)
    wide = np.maximum(last - first + 1, 0)
    face, place = _pairs(wide[:, 0] * wide[:, 1])
    i = first[face, 0] + place // wide[face, 1]
    j = first[face, 1] + place % wide[face, 1]
    point = np.stack([x[i], y[j]], axis=-1)
    left = np.ones((len(face), 3), dtype=bool)
    for side in range(3):
        a, b = corners[face, side], corners[face, (side + 1) % 3]
        # both faces at an edge take it in the same order of its ends, so that none and no two claim a point upon it
        turned = (a[:, 0] > b[:, 0]) | ((a[:, 0] == b[:, 0]) & (a[:, 1] > b[:, 1]))
        start, end = np.where(turned[:, None], b, a), np.where(turned[:, None], a, b)
        along, to = end[:, :2] - start[:, :2], point - start[:, :2]
        left[:, side] = (along[:, 0] * to[:, 1] - along[:, 1] * to[:, 0] > 0) != turned
    hit = (left[:, 0] == left[:, 1]) & (left[:, 1] == left[:, 2])
    face, i, j, point = face[hit], i[hit], j[hit], point[hit]
    origin = corners[face, 0]
    normal = np.cross(corners[face, 1] - origin, corners[face, 2] - origin)
    upright = normal[:, 2] == 0
    height = origin[:, 2] - (normal[:, :2] * (point - origin[:, :2])).sum(axis=1) / np.where(upright, 1.0, normal[:, 2])
    # on a face all but upright the height is lost in rounding, but it cannot leave the face
    height = np.clip(height, corners[face, :, 2].min(axis=1), corners[face, :, 2].max(axis=1))
    above = np.clip(np.ceil((height - z[0]) / h).astype(np.int64), 0, len(z) - 1)
    crossed = np.zeros((len(x), len(y), len(z)), dtype=np.int64)
    np.add.at(crossed, (i, j, above), 1)
    return np.asarray(np.cumsum(crossed, axis=2) % 2 == 1)


def _near_distance(corners: Array, axes: tuple[Array, Array, Array], inside: NDArray[np.bool_], h: float) -> Array:
    """Distance of each grid point to the surface, true within two and a half cells inside it and two outside, more beyond."""
    from scipy.ndimage import binary_dilation, binary_erosion
    from scipy.spatial import cKDTree
    from trimesh import triangles

    closest_point: Callable[..., Array] = triangles.closest_point

    cube = np.ones((3, 3, 3), dtype=bool)
    near = binary_dilation(inside, cube, 2) & ~binary_erosion(inside, cube, 3)
    area = np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1) / 2.0
    # about five points a cell of surface, and one on every face, spread evenly (Roberts' R2 sequence, folded into the face)
    face, place = _pairs(np.ceil(5.0 * area / h**2).astype(np.int64).clip(1))
    u, v = (0.5 + place * 0.7548776662466927) % 1.0, (0.5 + place * 0.5698402909980532) % 1.0
    over = u + v > 1.0
    u, v = np.where(over, 1.0 - u, u)[:, None], np.where(over, 1.0 - v, v)[:, None]
    samples = corners[face, 0] * (1.0 - u - v) + corners[face, 1] * u + corners[face, 2] * v
    i, j, k = np.nonzero(near)
    points = np.stack([axes[0][i], axes[1][j], axes[2][k]], axis=-1)
    # sliding midpoints: faces laid out evenly make the default tree very slow
    _, nearest = cKDTree(samples, balanced_tree=False, compact_nodes=False).query(points, k=3)
    distance = np.full(near.shape, 4.0 * h)
    # near an edge the nearest sample may lie on the farther of two faces
    tried = [np.linalg.norm(closest_point(corners[face[found]], points) - points, axis=1) for found in nearest.T]
    distance[near] = np.min(tried, axis=0)
    return distance
