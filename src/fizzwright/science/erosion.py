"""How a piece dissolves: the water eats inwards from the whole surface, each part at its own speed.

The time T at which the water reaches a spot obeys the eikonal equation v |grad T| = 1, solved by fast marching
(Sethian 1996, Proc. Natl. Acad. Sci. 93:1591) with scikit-fmm. Lengths in mm, times in s, speeds in mm/s.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fizzwright.science.neutralisation import GAS_CONSTANT_J_MOL_K
from fizzwright.science.voxels import Grid

Array = NDArray[np.float64]
Numbers = float | Array

EQUATIONS: dict[str, str] = {
    "speed": "v = 0.135 mm/s x exp(-E/R (1/T - 1/311.15 K)) x (0.3 + 0.7 acid/0.26, at most 1.28) x "
    "exp(-0.8 (filler - 0.15)) x exp(-6 (oil - 0.03)) x (0.89 / density)^2.5, E = 25 kJ/mol; shares of the cured mass",
    "arrival": "v |grad T| = 1, T = 0 on the surface (eikonal equation, fast marching)",
    "gone": "the piece is gone when the water reaches its last spot: T at its largest",
    "grains": "share dissolved = 1 - (1 - t / t_gone)^3: each grain shrinks evenly (Hixson and Crowell 1931)",
    "lift": "density in water = (mass left + soaked rim - gas film) / volume left = density + net film x water density x "
    "surface / volume; floats while below the density of the water",
    "turning": "push = |sum of gas rate x normal| / sum of gas rate over the surface, twist = |sum of gas rate x arm x "
    "normal| / sum of gas rate x arm about the middle; the larger of the two, averaged over the gas",
    "water_density": "density of water after Kell 1975, J. Chem. Eng. Data 20:97",
}

REFERENCE_MM_S = 0.135
"""estimate: a 65 mm piece of two cups of bicarbonate to one of citric acid and one of starch at 38 C is then gone in 32.5 / 0.135 =
240 s. Common practice: 3 to 4 min with starch (fact efferv_bathbomb), 5 to 8 min when large and hard."""
REFERENCE_C = 38.0
ACTIVATION_J_MOL = 25_000.0
"""estimate: between diffusion in water (17 to 20 kJ/mol, as its viscosity) and the dissolving of salts held back by their
surface (30 and more)."""
REFERENCE_ACID, WITHOUT_ACID, MOST_ACID = 0.26, 0.3, 1.28
"""estimate: acid share of the cured reference piece; a piece without acid only dissolves, at about a third of the speed, since no
gas breaks it up; past 1.4 times the usual share more acid finds no partner and speeds nothing up."""
REFERENCE_FILLER, FILLER_SLOWS = 0.15, 0.8
"""estimate: starch and clay neither dissolve nor fizz and lie in the way; a third of filler costs about a sixth of the speed."""
REFERENCE_OIL, OIL_SLOWS = 0.03, 6.0
"""estimate: oil and fat coat the grains; a tenth of oil costs about a third of the speed."""
REFERENCE_G_ML, DENSITY_SLOWS = 0.89, 2.5
"""estimate: what the reference piece comes to pressed by hand (packing.HAND_PRESSED). Water creeps in through the pores, which
pressing closes: at 1.05 g/ml a third of the speed is gone, and an 80 mm piece takes 7 to 8 min, as large hard ones do."""
SPEED_FACTOR, OWN_FACTOR = 1.6, 1.2
"""estimate: 90 % of pieces dissolve within the default speed times or divided by the first, and, when a maker has timed one of
this recipe, by the second (packing from piece to piece, and when one calls it gone)."""
GRAIN_S = (20.0, 40.0, 60.0)
"""estimate: until a loose powder is gone at 38 C; low, typical, high. Measured effervescent powders of under a gram take 50 to
80 s in cool water (fact efferv_time_tablet)."""
NET_FILM_MM = (-0.1, 0.2, 0.6)
"""estimate: thickness of the water that the gas clinging to a piece displaces, less the water soaked into its rim; low, typical,
high. A fizzing face looks covered by bubbles of about a millimetre, a third to a half of it; the rim soaks about as deep,
but gas keeps its pores half empty."""

TIMES = 240
"""Steps in time of an erosion, from 0 to gone."""
PUSHES = 24
"""Steps in time of the pushes on the surface: wide enough to hold several grid cells."""


def warmth(temperature_c: Numbers) -> Numbers:
    """Speed at a temperature over the speed at 38 C (Arrhenius); 0 to 100 C."""
    t = np.asarray(temperature_c, dtype=float)
    if not np.all((t >= 0) & (t <= 100)):
        raise ValueError(f"temperature_c must lie between 0 and 100; read {temperature_c!r}")
    factor: Numbers = np.exp(
        -ACTIVATION_J_MOL / GAS_CONSTANT_J_MOL_K * (1.0 / (t + 273.15) - 1.0 / (REFERENCE_C + 273.15))
    )
    return factor


def speed_mm_s(
    temperature_c: Numbers, acid_share: Numbers, filler_share: Numbers, oil_share: Numbers, density_g_ml: Numbers
) -> Numbers:
    """How fast the water eats into a piece, mm/s; shares 0 to 1 of the cured mass; broadcasts. All coefficients: estimate."""
    shares = {"acid_share": acid_share, "filler_share": filler_share, "oil_share": oil_share}
    for name, share in shares.items():
        if not np.all((np.asarray(share) >= 0) & (np.asarray(share) <= 1 + 1e-9)):
            raise ValueError(f"{name} is a share, 0 to 1; read {share!r}")
    if not np.all(np.asarray(density_g_ml) > 0):
        raise ValueError(f"density_g_ml must be above zero; read {density_g_ml!r}")
    sour = np.minimum(WITHOUT_ACID + (1.0 - WITHOUT_ACID) * np.asarray(acid_share) / REFERENCE_ACID, MOST_ACID)
    held = FILLER_SLOWS * (np.asarray(filler_share) - REFERENCE_FILLER) + OIL_SLOWS * (
        np.asarray(oil_share) - REFERENCE_OIL
    )
    speed: Numbers = (
        REFERENCE_MM_S
        * warmth(temperature_c)
        * sour
        * np.exp(-held)
        * (REFERENCE_G_ML / np.asarray(density_g_ml)) ** DENSITY_SLOWS
    )
    return speed


def water_density_g_ml(temperature_c: Numbers) -> Numbers:
    """Density of fresh water in g/ml, 0 to 100 C (Kell 1975, J. Chem. Eng. Data 20:97)."""
    t = np.asarray(temperature_c, dtype=float)
    top = (
        999.83952
        + 16.945176 * t
        - 7.9870401e-3 * t**2
        - 46.170461e-6 * t**3
        + 105.56302e-9 * t**4
        - 280.54253e-12 * t**5
    )
    density: Numbers = top / (1.0 + 16.879850e-3 * t) / 1000.0
    return density


def grains_dissolved(seconds: Numbers, gone_s: Numbers) -> Numbers:
    """Share of a loose powder dissolved (Hixson and Crowell 1931, Ind. Eng. Chem. 23:923: the cube-root law)."""
    share: Numbers = 1.0 - (1.0 - np.clip(np.asarray(seconds) / gone_s, 0.0, 1.0)) ** 3
    return share


def marched_s(grid: Grid, speed_mm_s: Numbers) -> Array:
    """When the water reaches each grid point inside, s, by fast marching of second order; nan outside."""
    import skfmm

    # what lies farther out than the next cell is never asked about
    distance = np.ma.MaskedArray(grid.distance_mm, grid.distance_mm > 1.9 * grid.spacing_mm)
    speed = np.broadcast_to(np.asarray(speed_mm_s, dtype=float), distance.shape)
    travelled = skfmm.travel_time(distance, np.ascontiguousarray(speed), dx=grid.spacing_mm, order=2)
    return np.where(grid.distance_mm <= 0, np.ma.filled(travelled, np.nan), np.nan)


def depth_mm(grid: Grid) -> Array:
    """How deep each grid point lies under the surface, mm, below zero outside; shape as the grid."""
    if grid.true_inside:
        return -grid.distance_mm
    from scipy.ndimage import distance_transform_edt

    near, h = -grid.distance_mm, grid.spacing_mm
    marched = marched_s(grid, 1.0)
    # marching starts a little late on a bent surface and keeps the delay: it is measured in the second and third cell,
    # where the distance is known, and taken off what lies beneath
    known = (near > 1.5 * h) & (near < 2.5 * h)
    late = np.where(known, marched - near, 0.0)
    beneath = distance_transform_edt(~known, return_distances=False, return_indices=True)
    return np.where(near < 1.5 * h, near, marched - late[tuple(beneath)])


def arrival_s(grid: Grid, depth: Array, parts: Array, speeds_mm_s: Sequence[float]) -> Array:
    """When the water reaches each grid point, s, below zero outside; depth from `depth_mm`, parts (parts, x, y, z)."""
    speeds = _speeds(parts, speeds_mm_s)
    slowness = np.tensordot(1.0 / speeds, parts, axes=1)
    straight = depth * slowness
    if np.ptp(speeds) == 0:
        return straight
    marched, even = marched_s(grid, 1.0 / slowness), marched_s(grid, 1.0)
    # both marches are late alike, so their ratio is not: it says what the other parts save or cost
    told = (depth > 0.5 * grid.spacing_mm) & (even > 0)
    return np.where(told, depth * np.divide(marched, even, out=np.zeros_like(marched), where=told), straight)


def _speeds(parts: Array, speeds_mm_s: Sequence[float]) -> Array:
    speeds = np.asarray(speeds_mm_s, dtype=float)
    if len(speeds) != len(parts) or not np.all(np.isfinite(speeds) & (speeds > 0)):
        raise ValueError(f"there must be one speed above zero for each of {len(parts)} parts; read {speeds_mm_s!r}")
    return speeds


def whole(grid: Grid) -> Array:
    """A piece of one part, shaped as `layers` shapes several: (1, x, y, z)."""
    return np.ones((1, *grid.distance_mm.shape))


def layers(grid: Grid, shares: Sequence[float]) -> Array:
    """Share of each grid cell in each level layer, from the lowest up; shape (layers, x, y, z). Shares of the volume sum to 1."""
    if grid.mirrored[2]:
        raise ValueError("layers need the whole height of a piece; make its grid with even=False")
    h, z = grid.spacing_mm, grid.axes_mm[2]
    held = np.concatenate([[0.0], np.cumsum((grid.inside * grid.cells_mm3).sum(axis=(0, 1)))])
    edges = np.concatenate([z - h / 2.0, z[-1:] + h / 2.0])
    # where the piece starts and stops the sum stands still, and the inverse of a standing sum is no function
    rises = np.concatenate([[True], np.diff(held) > 0])
    cuts = np.interp(np.cumsum(shares)[:-1] * held[-1], held[rises], edges[rises])
    bounds = np.concatenate([[-np.inf], cuts, [np.inf]])
    below = np.clip((bounds[:, None] - (z - h / 2.0)) / h, 0.0, 1.0)
    part = np.diff(below, axis=0)
    return np.ascontiguousarray(np.broadcast_to(part[:, None, None, :], (len(part), *grid.distance_mm.shape)))


def cored(grid: Grid, depth: Array, core_share: float) -> tuple[Array, float]:
    """Share of each grid cell in the shell and in the core, shape (2, x, y, z), and how thick the shell is, mm.

    The shell is equally thick all round: for a ball, a cube or a ring the core is then the same shape, smaller.
    """
    fine = np.linspace(0.0, float(depth.max()), 4 * TIMES)
    half = grid.spacing_mm / 2.0
    left = _left(depth - half, depth + half, np.broadcast_to(grid.cells_mm3, depth.shape), fine)
    thick = float(np.interp(-core_share, -left / left[0], fine))
    core = np.clip(0.5 + (depth - thick) / grid.spacing_mm, 0.0, 1.0)
    return np.stack([1.0 - core, core]), thick


def _left(begin_s: Array, end_s: Array, weights: Array, times: Array) -> Array:
    """What is left at evenly spaced times from 0 of weights that each go steadily from begin to end; all of one shape.

    The sum of the ramps is summed up twice from where each begins and ends, which is exact on the points of `times`.
    """
    step = times[1] - times[0]
    used = (weights != 0) & (end_s > 0)
    begin, end, weight = begin_s[used], end_s[used], weights[used]
    end = np.maximum(end, begin + 1e-6 * step)
    before = int(np.ceil(max(-float(begin.min(initial=0.0)), 0.0) / step)) + 1
    bend = np.zeros(len(times) + before + 2)
    slope = weight / (end - begin)
    for bound, sign in ((begin, -1.0), (end, 1.0)):
        place = np.clip(bound / step + before, 0.0, len(bend) - 1.001)
        point = place.astype(np.int64)
        part = place - point
        bend += sign * np.bincount(point, slope * (1.0 - part), len(bend))
        bend += sign * np.bincount(point + 1, slope * part, len(bend))
    lost = np.cumsum(np.cumsum(bend)) * step
    # the second sum runs one step ahead; and before its first step nothing is lost
    left: Array = weight.sum() + np.concatenate([[0.0], lost])[before : before + len(times)]
    return left


@dataclass(frozen=True, eq=False)
class Erosion:
    """How a piece comes apart."""

    arrival_s: Array
    """When the water reaches each grid point; below zero outside. Shape of the grid."""
    seconds: Array
    """From 0 until all is gone, evenly spaced; shape (n,)."""
    left_mm3: Array
    """Volume left of each part; shape (parts, n)."""
    face_mm2: Array
    """Surface of each part that the water touches; shape (parts, n)."""

    @property
    def gone_s(self) -> float:
        """When the last of it is gone."""
        return float(self.seconds[-1])


def erode(grid: Grid, depth: Array, parts: Array, speeds_mm_s: Sequence[float]) -> Erosion:
    """Let the water eat a piece: depth from `depth_mm`, parts (parts, x, y, z) from `layers` or `whole`, mm/s of each."""
    arrival = arrival_s(grid, depth, parts, speeds_mm_s)
    # a cell across a border takes the time that both its pieces take
    half = grid.spacing_mm / 2.0 * np.tensordot(1.0 / _speeds(parts, speeds_mm_s), parts, axes=1)
    spans = [(arrival - half, arrival + half)] * len(parts)
    return _eroded(grid, arrival, parts, speeds_mm_s, spans)


def erode_cored(grid: Grid, depth: Array, parts: Array, shell_mm: float, speeds_mm_s: Sequence[float]) -> Erosion:
    """Let the water eat a cored piece; parts and shell_mm from `cored`, mm/s of the shell and of the core.

    Under a shell of even thickness the water meets the core everywhere at once, so depth alone tells when: exact.
    """
    shell, core = _speeds(parts, speeds_mm_s)

    def reached(deep: Array) -> Array:
        return np.asarray(np.where(deep < shell_mm, deep / shell, shell_mm / shell + (deep - shell_mm) / core))

    upper, lower = depth - grid.spacing_mm / 2.0, depth + grid.spacing_mm / 2.0
    spans = [(reached(side(upper, shell_mm)), reached(side(lower, shell_mm))) for side in (np.minimum, np.maximum)]
    return _eroded(grid, reached(depth), parts, speeds_mm_s, spans)


def _eroded(
    grid: Grid, arrival: Array, parts: Array, speeds_mm_s: Sequence[float], spans: Sequence[tuple[Array, Array]]
) -> Erosion:
    """The erosion, from when each grid cell begins and ends to go, for each part."""
    seconds = np.linspace(0.0, float(arrival.max()), TIMES + 1)
    left = np.array(
        [
            np.maximum(_left(begin, end, grid.cells_mm3 * part, seconds), 0.0)
            for part, (begin, end) in zip(parts, spans, strict=True)
        ]
    )
    # of the last spot half a grid cell would remain
    left[:, -1] = 0.0
    face = np.maximum(-np.gradient(left, seconds, axis=1), 0.0) / _speeds(parts, speeds_mm_s)[:, None]
    return Erosion(arrival, seconds, left, face)


@dataclass(frozen=True, eq=False)
class Pushes:
    """Where the gas of each part pushes, in even steps of time from 0 to gone."""

    push_mm2: Array
    """Sum of the outward normal over the surface of each part that the water touches; shape (parts, steps, 3)."""
    twist_mm3: Array
    """Sum of arm x normal over it, about the middle of what is left; shape (parts, steps, 3)."""
    reach_mm2: Array
    """That surface of each part; shape (parts, steps)."""
    arm_mm3: Array
    """Sum of the length of the arm over it; shape (parts, steps)."""


def pushes(grid: Grid, parts: Array, speeds_mm_s: Sequence[float], erosion: Erosion) -> Pushes:
    """Normals and arms summed over the touched surface of each part; arguments as `erode` had them."""
    speeds = _speeds(parts, speeds_mm_s)
    times: Array = np.linspace(0.0, erosion.gone_s, PUSHES + 1)
    used = grid.distance_mm < grid.spacing_mm
    arrival = erosion.arrival_s[used]
    half = grid.spacing_mm / 2.0 * np.tensordot(1.0 / speeds, parts, axes=1)[used]
    begin, end = arrival - half, arrival + half
    cells = np.broadcast_to(grid.cells_mm3, used.shape)[used]
    normal = -np.stack([np.gradient(erosion.arrival_s, axis=axis)[used] for axis in range(3)], axis=-1)
    normal /= np.maximum(np.linalg.norm(normal, axis=-1, keepdims=True), 1e-300)
    spot = np.stack([axis[index] for axis, index in zip(grid.axes_mm, np.nonzero(used), strict=True)], axis=-1)
    # mirror images cancel along a mirrored axis; a twist is a turn in a plane, which a mirror across either of its axes cancels
    single = ~np.array(grid.mirrored)
    turns = np.array([single[1] & single[2], single[0] & single[2], single[0] & single[1]])

    def summed(weight: Array) -> Array:
        return -np.diff(_left(begin, end, weight, times))

    def each_axis(weight: Array, vectors: Array, axes: NDArray[np.bool_]) -> Array:
        return np.stack(
            [summed(weight * vectors[:, axis]) if axes[axis] else np.zeros(PUSHES) for axis in range(3)], axis=-1
        )

    volume = _left(begin, end, cells, times)[:-1]
    centre = np.stack(
        [_left(begin, end, cells * spot[:, axis] * single[axis], times)[:-1] / volume for axis in range(3)], axis=-1
    )
    step = np.clip(arrival / erosion.gone_s * PUSHES, 0, PUSHES - 1).astype(np.int64)
    arm = spot - centre[step]
    twisting, length = np.cross(arm, normal), np.linalg.norm(arm, axis=-1)
    areas = [cells * part[used] / speed / times[1] for part, speed in zip(parts, speeds, strict=True)]
    return Pushes(
        np.array([each_axis(area, normal, single) for area in areas]),
        np.array([each_axis(area, twisting, turns) for area in areas]),
        np.array([summed(area) for area in areas]),
        np.array([summed(area * length) for area in areas]),
    )


def turning(push: Pushes, gas_rate: Sequence[float]) -> float:
    """How one-sided the gas pushes, 0 (even all round) to 1; gas_rate: gas set free per mm2 and s by each part, any unit.

    The normals of any closed surface sum to nothing, so an even rate neither pushes nor turns: only what each part gives
    above or below the mean of the moment counts. EQUATIONS["turning"].
    """
    rate = np.asarray(gas_rate, dtype=float)[:, None]
    gas, reach = (rate * push.reach_mm2).sum(axis=0), push.reach_mm2.sum(axis=0)
    there = (gas > 0) & (reach > 0)
    if not there.any():
        return 0.0
    gas = gas[there]
    extra = rate - gas / reach[there]
    pushed = np.linalg.norm((extra[..., None] * push.push_mm2[:, there]).sum(axis=0), axis=-1) / gas
    twisted = np.linalg.norm((extra[..., None] * push.twist_mm3[:, there]).sum(axis=0), axis=-1)
    # at the very last the surface may be a point, which has no arm
    arms = (rate * push.arm_mm3).sum(axis=0)[there]
    twisted = np.divide(twisted, arms, out=np.zeros_like(twisted), where=arms > 0)
    return float(min(np.average(np.maximum(pushed, twisted), weights=gas), 1.0))


def density_in_water_g_ml(
    density_g_ml: Numbers, face_per_mm: Numbers, net_film_mm: Numbers, water_g_ml: Numbers
) -> Numbers:
    """What a piece weighs in water with the gas that clings to it and the water it soaks up, per ml of piece; broadcasts.

    face_per_mm: surface over volume of what is left. net_film_mm: see NET_FILM_MM, above zero lifts.
    """
    dense: Numbers = np.asarray(density_g_ml) - np.asarray(net_film_mm) * face_per_mm * water_g_ml
    return dense


def cut(grid: Grid, field: Array, level: bool) -> Array:
    """A field of the grid cut through its middle, mirror images put back; rows from the top down.

    level: lying, through the middle of z; otherwise upright, through the middle of y.
    """
    index = [0 if mirror else len(axis) // 2 for axis, mirror in zip(grid.axes_mm, grid.mirrored, strict=True)]
    across = 1 if level else 2
    plane = field[:, :, index[2]] if level else field[:, index[1], :]
    if grid.mirrored[0]:
        plane = np.concatenate([plane[:0:-1], plane])
    if grid.mirrored[across]:
        plane = np.concatenate([plane[:, :0:-1], plane], axis=1)
    return np.ascontiguousarray(plane.T[::-1])
