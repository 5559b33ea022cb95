"""Dissolving against closed forms: bodies that shrink evenly, a core, refraction at a border; water against a handbook."""

import math

import numpy as np
import pytest
import trimesh
from hypothesis import given
from hypothesis import strategies as st

from fizzwright.science import erosion, voxels
from fizzwright.science.outline import outline_paths

BALL = {"diameter_mm": 65.0}
WHOLE_BALL = 4 / 3 * math.pi * 32.5**3


def run(grid: voxels.Grid, speed: float = 0.13) -> erosion.Erosion:
    return erosion.erode(grid, erosion.depth_mm(grid), erosion.whole(grid), [speed])


def ball_left(radius: np.ndarray) -> np.ndarray:
    return 4 / 3 * math.pi * np.maximum(radius, 0.0) ** 3


# Closed form V = 4/3 pi (R - v t)^3 (design section 5): within 1 % of what is left, until a hundredth is left.
def test_a_ball_shrinks_by_the_closed_form():
    found = run(voxels.shape_grid("sphere", BALL))
    exact = ball_left(32.5 - 0.13 * found.seconds)
    some = exact > 0.01 * WHOLE_BALL
    assert some.sum() > 150
    assert np.abs(found.left_mm3[0] / np.maximum(exact, 1e-9) - 1)[some].max() < 0.01
    assert np.abs(found.left_mm3[0] - exact).max() < 0.001 * WHOLE_BALL
    assert found.gone_s == pytest.approx(32.5 / 0.13, rel=1e-6)


# A convex body with flat faces a, b, c apart: (a - 2vt)(b - 2vt)(c - 2vt); a cylinder pi (R - vt)^2 (h - 2vt); a ring
# 2 pi^2 R (r - vt)^2 (Bronstein and Semendjajew for the volumes).
SHRINKING = {
    "cuboid": (
        {"length_mm": 80, "width_mm": 50, "height_mm": 28},
        lambda e: (80 - 2 * e) * (50 - 2 * e) * (28 - 2 * e),
    ),
    "cylinder": ({"diameter_mm": 60, "height_mm": 25}, lambda e: math.pi * (30 - e) ** 2 * (25 - 2 * e)),
    "torus": ({"ring_mm": 52, "tube_mm": 24}, lambda e: 2 * math.pi**2 * 26 * (12 - e) ** 2),
}


@pytest.mark.parametrize("shape", SHRINKING)
def test_other_bodies_shrink_by_their_closed_forms(shape):
    dims, left = SHRINKING[shape]
    found = run(voxels.shape_grid(shape, dims), 1.0)
    exact = np.array([left(e) for e in found.seconds])
    assert np.abs(found.left_mm3[0] - exact).max() < 0.005 * exact[0]
    assert found.gone_s == pytest.approx(min(dims.get("height_mm", 99), dims.get("tube_mm", 99)) / 2, rel=0.01)


# Half a ball eaten to the depth e: what is left is the part of the ball of radius R - e below the plane e: a cap of height R - 2e,
# pi h^2 (3 r - h) / 3.
def test_half_a_ball_shrinks_by_the_closed_form():
    found = run(voxels.shape_grid("half_sphere", {"diameter_mm": 64.0}), 1.0)
    e = found.seconds
    height, radius = np.maximum(32 - 2 * e, 0.0), 32 - e
    exact = math.pi * height**2 * (3 * radius - height) / 3
    assert np.abs(found.left_mm3[0] - exact).max() < 0.005 * exact[0]
    assert found.gone_s == pytest.approx(16.0, rel=0.01)


@pytest.mark.parametrize("cells", [24, 48, 80])
@pytest.mark.parametrize("shape", SHRINKING)
def test_the_error_stays_within_what_is_stated(shape, cells):
    dims, left = SHRINKING[shape]
    found = run(voxels.shape_grid(shape, dims, error=voxels.volume_error(cells)), 1.0)
    exact = np.array([left(e) for e in found.seconds])
    assert np.abs(found.left_mm3[0] - exact).max() < voxels.volume_error(cells) * exact[0]


# An icosphere of trimesh as an STL, marched from its faces, against the ball of the same volume.
def test_a_mesh_of_a_ball_shrinks_as_a_ball(tmp_path):
    path = tmp_path / "ball.stl"
    mesh = trimesh.creation.icosphere(subdivisions=5, radius=32.5)
    mesh.export(path)
    found = run(voxels.mesh_grid(path), 1.0)
    radius = (mesh.volume * 3 / 4 / math.pi) ** (1 / 3)
    exact = ball_left(radius - found.seconds)
    some = exact > 0.05 * exact[0]
    assert np.abs(found.left_mm3[0] - exact).max() < 0.002 * exact[0]
    assert np.abs(found.left_mm3[0] / np.maximum(exact, 1e-9) - 1)[some].max() < 0.01
    assert found.gone_s == pytest.approx(radius, rel=0.025)


# Fast marching itself against the distance from a ball's surface.
def test_marching_reaches_every_depth_on_time():
    grid = voxels.shape_grid("sphere", BALL)
    late = erosion.marched_s(grid, 0.5) - -grid.distance_mm / 0.5
    assert np.nanmax(np.abs(late)) * 0.5 < 0.5 * grid.spacing_mm


TWO_SPEEDS = (0.1, 0.2)


def two_speeds(seconds: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Shell from 32.5 to 18 mm at 0.1 mm/s, core at 0.2 mm/s: what is left of each, by hand."""
    radius = np.where(seconds < 145, 32.5 - 0.1 * seconds, 18 - 0.2 * (seconds - 145))
    return ball_left(radius) - ball_left(np.minimum(radius, 18)), ball_left(np.minimum(radius, 18))


def test_a_core_within_a_shell_by_the_closed_form():
    grid = voxels.shape_grid("sphere", BALL)
    depth = erosion.depth_mm(grid)
    parts, shell_mm = erosion.cored(grid, depth, (18 / 32.5) ** 3)
    assert shell_mm == pytest.approx(14.5, abs=0.02)
    found = erosion.erode_cored(grid, depth, parts, shell_mm, TWO_SPEEDS)
    for left, exact in zip(found.left_mm3, two_speeds(found.seconds), strict=True):
        assert np.abs(left - exact).max() < 0.01 * exact[0]
    assert found.gone_s == pytest.approx(145 + 90, rel=0.002)


def test_marching_through_shell_and_core_agrees_too():
    grid = voxels.shape_grid("sphere", BALL)
    depth = erosion.depth_mm(grid)
    parts, _ = erosion.cored(grid, depth, (18 / 32.5) ** 3)
    found = erosion.erode(grid, depth, parts, TWO_SPEEDS)
    exact = sum(two_speeds(found.seconds))
    assert np.abs(found.left_mm3.sum(axis=0) - exact).max() < 0.01 * WHOLE_BALL
    assert found.gone_s == pytest.approx(235, rel=0.01)


# A ring's core is a thinner ring: share (r_core / r)^2 by Pappus' theorem.
def test_the_core_of_a_ring_is_a_thinner_ring():
    grid = voxels.shape_grid("torus", {"ring_mm": 52, "tube_mm": 24})
    _, shell_mm = erosion.cored(grid, erosion.depth_mm(grid), 0.25)
    assert shell_mm == pytest.approx(6.0, abs=0.06)


# Seismic refraction: a front that runs fast along a border sends a head wave into the slow side, which arrives after
# t = x / v_fast + b sqrt(1 / v_slow^2 - 1 / v_fast^2) at x along the border and b away from it (Telford, Geldart, Sheriff,
# Applied Geophysics, "Refraction"); far from the border the straight way from the wall is sooner.
def test_a_fast_layer_undermines_a_slow_one():
    grid = voxels.shape_grid("cuboid", {"length_mm": 60, "width_mm": 60, "height_mm": 60}, even=False)
    depth = erosion.depth_mm(grid)
    parts = erosion.layers(grid, [0.5, 0.5])
    slow, fast = 0.1, 0.3
    arrival = erosion.arrival_s(grid, depth, parts, [slow, fast])
    x, _, z = grid.axes_mm
    checked = 0
    for i in range(0, len(x), 3):
        for k in np.flatnonzero((z < -2.5) & (z > -14)):
            along, away = 30 - x[i], -z[k]
            if along < 4 or along > min(26, 30 + z[k]):
                continue
            head = along / fast + away * math.sqrt(1 / slow**2 - 1 / fast**2)
            straight = along / slow
            assert arrival[i, 0, k] == pytest.approx(min(head, straight), rel=0.05), (along, away)
            checked += head < straight
    assert checked > 30


def test_layers_share_the_volume_from_the_bottom_up():
    for shape, dims in (("sphere", BALL), ("cone", {"diameter_mm": 55, "height_mm": 48})):
        grid = voxels.shape_grid(shape, dims, even=False)
        parts = erosion.layers(grid, [0.2, 0.5, 0.3])
        held = (parts * grid.inside * grid.cells_mm3).sum(axis=(1, 2, 3)) / grid.volume_mm3
        assert held == pytest.approx([0.2, 0.5, 0.3], abs=0.004)
        heights = (parts * grid.inside * grid.axes_mm[2]).sum(axis=(1, 2, 3)) / held
        assert np.all(np.diff(heights) > 0)
    with pytest.raises(ValueError, match="even=False"):
        erosion.layers(voxels.shape_grid("sphere", BALL), [0.5, 0.5])


# Surface of a ball, 4 pi r^2, is what its shrinking gives back.
def test_the_surface_that_the_water_touches():
    found = run(voxels.shape_grid("sphere", BALL))
    middle = slice(20, 160)
    exact = 4 * math.pi * (32.5 - 0.13 * found.seconds[middle]) ** 2
    assert found.face_mm2[0, middle] == pytest.approx(exact, rel=0.05)


def turned(shape: str, dims: dict[str, float], speeds: list[float], gas: list[float]) -> float:
    grid = voxels.shape_grid(shape, dims, even=False)
    parts = erosion.layers(grid, [0.5, 0.5])
    found = erosion.erode(grid, erosion.depth_mm(grid), parts, speeds)
    return erosion.turning(erosion.pushes(grid, parts, speeds, found), gas)


# The normals over half a ball sum to its flat side, pi R^2, and its own surface is 2 pi R^2 (Gauss' theorem): one half.
def test_half_a_ball_that_gives_all_the_gas_pushes_by_a_half():
    assert turned("sphere", BALL, [0.1, 0.1], [0.0, 1.0]) == pytest.approx(0.5, abs=0.01)


def test_an_even_piece_does_not_turn_and_an_uneven_one_does():
    assert turned("sphere", BALL, [0.1, 0.1], [1.0, 1.0]) == pytest.approx(0.0, abs=1e-9)
    assert turned("half_sphere", BALL, [0.1, 0.1], [1.0, 1.0]) == pytest.approx(0.0, abs=1e-9)
    assert turned("sphere", BALL, [0.1, 0.1], [0.0, 0.0]) == 0.0
    mild, strong = (turned("sphere", BALL, [0.1, 0.1], [1.0, more]) for more in (1.5, 4.0))
    assert 0.02 < mild < strong < 0.5
    assert turned("sphere", BALL, [0.1, 0.1], [4.0, 1.0]) == pytest.approx(strong, abs=0.01)


# On a coarse grid the last step holds a single point: it has a surface but no arm, and turns nothing (no division by it).
def test_a_last_point_has_no_arm():
    push = erosion.Pushes(np.zeros((1, 2, 3)), np.zeros((1, 2, 3)), np.array([[5.0, 1.0]]), np.array([[9.0, 0.0]]))
    assert erosion.turning(push, [1.0]) == 0.0


# By symmetry: an even shell round an even core pushes nowhere.
def test_a_core_in_the_middle_turns_nothing(tmp_path):
    path = tmp_path / "ball.stl"
    trimesh.creation.icosphere(subdivisions=4, radius=25).export(path)
    grid = voxels.mesh_grid(path)
    depth = erosion.depth_mm(grid)
    parts, shell_mm = erosion.cored(grid, depth, 0.3)
    found = erosion.erode_cored(grid, depth, parts, shell_mm, [0.1, 0.2])
    assert erosion.turning(erosion.pushes(grid, parts, [0.1, 0.2], found), [1.0, 3.0]) < 0.02


# CRC Handbook of Chemistry and Physics, "Standard density of water" (memory): g/ml at 4, 20, 25, 38 and 40 C.
@pytest.mark.parametrize(
    ("celsius", "density"), [(4, 0.999972), (20, 0.998203), (25, 0.997047), (38, 0.992965), (40, 0.992215)]
)
def test_the_density_of_water(celsius, density):
    assert erosion.water_density_g_ml(celsius) == pytest.approx(density, abs=1e-5)


# Common practice, no source: a 65 mm piece of two to one fizzes for 3 1/2 to 5 minutes at 38 C, a large hard one for 5 to 8.
def test_the_default_speeds_take_the_minutes_that_makers_know():
    usual = erosion.speed_mm_s(38, 0.26, 0.12, 0.035, 0.89)
    assert 3.5 * 60 <= 32.5 / usual <= 5 * 60
    hard = erosion.speed_mm_s(38, 0.26, 0.12, 0.035, 1.05)
    assert 5 * 60 <= 40 / hard <= 8.5 * 60


# Arrhenius by hand: exp(-25000 / 8.314462618 (1/293.15 - 1/311.15)) = 0.5524.
def test_cooler_water_is_slower():
    assert erosion.warmth(20.0) == pytest.approx(0.5524, abs=2e-4)
    assert erosion.warmth(38.0) == pytest.approx(1.0)


@given(
    st.floats(15, 45),
    st.floats(0, 0.4),
    st.floats(0, 0.4),
    st.floats(0, 0.2),
    st.floats(0.6, 1.4),
    st.floats(1.01, 1.2),
)
def test_speed_goes_the_way_makers_know(celsius, acid, filler, oil, density, more):
    usual = erosion.speed_mm_s(celsius, acid, filler, oil, density)
    assert usual > 0
    assert erosion.speed_mm_s(celsius + 1, acid, filler, oil, density) > usual
    assert erosion.speed_mm_s(celsius, acid * more, filler, oil, density) >= usual
    assert erosion.speed_mm_s(celsius, acid, filler * more, oil, density) <= usual
    assert erosion.speed_mm_s(celsius, acid, filler, oil * more, density) <= usual
    assert erosion.speed_mm_s(celsius, acid, filler, oil, density * more) < usual


@pytest.mark.parametrize("wrong", [(38, 1.5, 0, 0, 1), (38, 0, -0.1, 0, 1), (38, 0, 0, 0, 0), (120, 0, 0, 0, 1)])
def test_speeds_of_nothing_that_can_be_are_refused(wrong):
    with pytest.raises(ValueError, match="read"):
        erosion.speed_mm_s(*wrong)


@pytest.mark.parametrize("speeds", [[0.0], [-1.0], [math.nan], [0.1, 0.1]])
def test_speeds_that_do_not_fit_the_parts_are_refused(speeds):
    grid = voxels.shape_grid("sphere", BALL)
    with pytest.raises(ValueError, match="one speed above zero"):
        erosion.erode(grid, erosion.depth_mm(grid), erosion.whole(grid), speeds)


def area(path: np.ndarray) -> float:
    """The shoelace formula (Gauss)."""
    x, y = path.T
    return float(0.5 * (x * np.roll(y, -1) - y * np.roll(x, -1)).sum())


# Area of a circle of radius R - t.
@pytest.mark.parametrize("at_s", [0.0, 0.4, 5.0, 17.3, 25.0])
def test_the_outline_of_a_ball_is_a_circle(at_s):
    grid = voxels.shape_grid("sphere", BALL)
    cut = erosion.cut(grid, erosion.depth_mm(grid), level=False)
    paths = outline_paths(np.where(cut >= 0, cut, np.nan), grid.spacing_mm, at_s)
    assert len(paths) == 1
    assert abs(area(paths[0])) == pytest.approx(math.pi * (32.5 - at_s) ** 2, rel=0.01)
    middle = (np.array(cut.shape)[::-1] - 1) / 2 * grid.spacing_mm
    radii = np.linalg.norm(paths[0] - middle, axis=1)
    assert radii == pytest.approx(np.full(len(radii), 32.5 - at_s), rel=0.01)


def test_the_outline_of_a_ring_is_two_circles_one_a_hole():
    grid = voxels.shape_grid("torus", {"ring_mm": 52, "tube_mm": 24})
    cut = erosion.cut(grid, erosion.depth_mm(grid), level=True)
    paths = outline_paths(np.where(cut >= 0, cut, np.nan), grid.spacing_mm, 4.0)
    areas = sorted(area(path) for path in paths)
    assert [abs(a) for a in areas] == pytest.approx([math.pi * 18**2, math.pi * 34**2], rel=0.01)
    assert areas[0] < 0 < areas[1]


def test_nothing_is_drawn_once_all_is_gone():
    grid = voxels.shape_grid("sphere", BALL)
    cut = erosion.cut(grid, erosion.depth_mm(grid), level=False)
    assert outline_paths(np.where(cut >= 0, cut, np.nan), grid.spacing_mm, 33.0) == []


# The lower 0.4 of a cone that stands on its tip reaches up to (0.4)^(1/3) of its height.
def test_a_layered_cut_stands_with_the_first_layer_at_the_foot():
    grid = voxels.shape_grid("cone", {"diameter_mm": 55, "height_mm": 48}, even=False)
    parts = erosion.layers(grid, [0.4, 0.6])
    cut = erosion.cut(grid, parts[0] * grid.inside, level=False)
    wide = cut.sum(axis=1)
    rows = np.flatnonzero(wide)
    assert (rows.max() - rows.min()) * grid.spacing_mm == pytest.approx(48 * 0.4 ** (1 / 3), abs=grid.spacing_mm)
    assert wide[rows.max()] < wide[rows.min() + 1]
