"""Moulds and meshes on a grid, against closed forms, trimesh's own solids and distances."""

import math

import numpy as np
import pytest
import trimesh

from fizzwright.science import packing, voxels
from tests.science.test_packing import EXAMPLES


# Volumes: Bronstein and Semendjajew, Handbook of Mathematics, "Stereometry" (through packing, which is tested against trimesh).
@pytest.mark.parametrize("even", [True, False])
@pytest.mark.parametrize("shape", EXAMPLES)
def test_every_mould_shape_holds_its_volume(shape, even):
    grid = voxels.shape_grid(shape, EXAMPLES[shape], even=even)
    assert grid.volume_mm3 / 1000 == pytest.approx(packing.volume_ml(shape, **EXAMPLES[shape]), rel=1e-3)


def test_there_is_a_grid_for_every_shape_that_has_a_volume():
    assert set(EXAMPLES) == set(packing.SHAPES)


# trimesh measures the distance from a point to a fine mesh of the same ellipsoid (its proximity query), independently of ours.
def test_the_distance_to_an_ellipsoid_is_true_near_its_surface():
    half = np.array([42.5, 30.0, 20.0])
    size = dict(zip(("length_mm", "width_mm", "height_mm"), 2 * half, strict=True))
    grid = voxels.shape_grid("ellipsoid", size)
    mesh = trimesh.creation.icosphere(subdivisions=5)
    mesh.apply_scale(half)
    near = np.argwhere(np.abs(grid.distance_mm) < 2.5 * grid.spacing_mm)[::97]
    points = np.array([[axis[i] for axis, i in zip(grid.axes_mm, place, strict=True)] for place in near])
    away = trimesh.proximity.closest_point(mesh, points)[1]
    ours = np.abs([grid.distance_mm[tuple(place)] for place in near])
    # the mesh itself lies up to 0.03 mm inside the ellipsoid
    assert np.abs(ours - away).max() < 0.04


@pytest.fixture(scope="module")
def ball(tmp_path_factory):
    path = tmp_path_factory.mktemp("stl") / "ball.stl"
    trimesh.creation.icosphere(subdivisions=4, radius=32.5).export(path)
    return path


# A point is inside a ball when it is nearer to the middle than the radius.
def test_a_mesh_knows_inside_from_outside_and_how_far(ball):
    grid = voxels.mesh_grid(ball)
    x, y, z = np.meshgrid(*grid.axes_mm, indexing="ij")
    true = np.sqrt(x**2 + y**2 + z**2) - 32.5
    # a ball drawn with 5120 faces dips at most 0.1 mm under the round one
    clear = np.abs(true) > 0.12
    assert np.array_equal(grid.distance_mm[clear] < 0, true[clear] < 0)
    near = (true > -2.5 * grid.spacing_mm) & (true < grid.spacing_mm)
    assert np.abs(grid.distance_mm - true)[near].max() < 0.12


# trimesh.contains decides inside by casting rays of its own.
def test_a_mesh_with_a_hole_and_upright_walls_on_the_grid_lines(tmp_path):
    path = tmp_path / "ring.stl"
    mesh = trimesh.creation.annulus(r_min=12.0, r_max=30.0, height=24.0, sections=64)
    mesh.export(path)
    grid = voxels.mesh_grid(path)
    assert grid.volume_mm3 == pytest.approx(mesh.volume, rel=3e-3)
    points = np.random.default_rng(3).uniform([-33, -33, -13], [33, 33, 13], (400, 3))
    places = [np.abs(axis[:, None] - points[:, i]).argmin(axis=0) for i, axis in enumerate(grid.axes_mm)]
    snapped = np.stack([axis[place] for axis, place in zip(grid.axes_mm, places, strict=True)], axis=-1)
    # not upon the surface, where either is right
    clear = np.abs(grid.distance_mm[tuple(places)]) > 0.05
    assert np.array_equal(mesh.contains(snapped[clear]), grid.distance_mm[tuple(places)][clear] < 0)
    assert clear.sum() > 300


# On a grid of 1 mm every face of this box runs through grid points. Counted twice or not at all, a face would be off by 1/64
# or more; the cells along the edges, a quarter of which lies inside, count by half: 640 mm x 1 mm2 / 4 = 160 mm3, 0.12 %.
def test_a_box_whose_faces_fall_on_the_grid_is_counted_once(tmp_path):
    path = tmp_path / "box.stl"
    trimesh.creation.box(extents=(64.0, 64.0, 32.0)).export(path)
    grid = voxels.mesh_grid(path, error=voxels.volume_error(32))
    assert grid.spacing_mm == 1.0
    assert grid.volume_mm3 == pytest.approx(64 * 64 * 32, rel=2e-3)


def test_a_finer_grid_is_asked_for_by_its_error():
    coarse, fine = (voxels.shape_grid("sphere", {"diameter_mm": 65}, error=error) for error in (0.02, 0.005))
    assert coarse.spacing_mm == pytest.approx(65 / 25)
    assert fine.spacing_mm == pytest.approx(65 / 100)
    assert voxels.volume_error(voxels.cells_for(0.004)) == pytest.approx(0.004)


def test_no_mould_takes_more_points_than_agreed():
    for shape, dims in EXAMPLES.items():
        inside = np.count_nonzero(voxels.shape_grid(shape, dims, even=False).distance_mm < 0)
        assert 2000 < inside <= voxels.MOST_POINTS * 1.1, shape


@pytest.mark.parametrize("error", [0.0, 1.0, -1.0, math.nan])
def test_an_error_that_is_no_share_is_refused(error):
    with pytest.raises(ValueError, match="share"):
        voxels.cells_for(error)


def test_an_unknown_shape_is_refused():
    with pytest.raises(ValueError, match="dodecahedron"):
        voxels.shape_grid("dodecahedron", {})
