"""Closed forms against trimesh's own primitives, Monte Carlo, and published figures; the packing rules by hand."""

import math

import numpy as np
import pytest
import trimesh
from hypothesis import given
from hypothesis import strategies as st

from fizzwright.science import packing

EXAMPLES: dict[str, dict[str, float]] = {
    "sphere": {"diameter_mm": 65},
    "half_sphere": {"diameter_mm": 38},
    "cap": {"diameter_mm": 70, "height_mm": 22},
    "ellipsoid": {"length_mm": 62, "width_mm": 46, "height_mm": 41},
    "cylinder": {"diameter_mm": 60, "height_mm": 25},
    "cuboid": {"length_mm": 80, "width_mm": 50, "height_mm": 28},
    "torus": {"ring_mm": 52, "tube_mm": 24},
    "cone": {"diameter_mm": 55, "height_mm": 48},
    "frustum": {"bottom_mm": 60, "top_mm": 44, "height_mm": 30},
    "heart": {"width_mm": 70, "height_mm": 58, "depth_mm": 30},
}


def revolved(profile: list[tuple[float, float]], sections: int = 720) -> trimesh.Trimesh:
    return trimesh.creation.revolve(np.array(profile), sections=sections)


def heart_outline(width: float, height: float, steps: int = 400) -> np.ndarray:
    """The documented outline drawn point by point: square on its corner, half disc on each upper side."""
    right = [(0.0, 0.0), (math.sqrt(0.5), math.sqrt(0.5))]
    centre = (1 / (2 * math.sqrt(2)), 3 / (2 * math.sqrt(2)))
    angles = np.linspace(-math.pi / 4, 3 * math.pi / 4, steps)[1:]
    right += [(centre[0] + 0.5 * math.cos(a), centre[1] + 0.5 * math.sin(a)) for a in angles]
    left = [(-x, y) for x, y in reversed(right[1:-1])]
    outline = np.array(right + left)
    return outline * (np.array([width, height]) / np.ptp(outline, axis=0))


def heart_prism(width: float, height: float, depth: float) -> trimesh.Trimesh:
    """Extruded by hand as a fan from a point that sees the whole outline."""
    outline = heart_outline(width, height)
    n = len(outline)
    seer = outline.mean(axis=0)
    ring = np.arange(n)
    after = (ring + 1) % n
    flat = np.vstack([outline, seer])
    vertices = np.vstack([np.c_[flat, np.zeros(n + 1)], np.c_[flat, np.full(n + 1, depth)]])
    top = n + 1
    faces = np.vstack(
        [
            np.c_[after, ring, np.full(n, n)],
            np.c_[ring + top, after + top, np.full(n, n + top)],
            np.c_[ring, after, after + top],
            np.c_[ring, after + top, ring + top],
        ]
    )
    return trimesh.Trimesh(vertices, faces, process=False)


def outside_mesh(shape: str, d: dict[str, float]) -> trimesh.Trimesh:
    quarter = np.linspace(0, math.pi / 2, 400)
    match shape:
        case "sphere":
            return trimesh.creation.icosphere(subdivisions=6, radius=d["diameter_mm"] / 2)
        case "half_sphere":
            r = d["diameter_mm"] / 2
            return revolved([(0, 0), *[(r * math.cos(a), r * math.sin(a)) for a in quarter[:-1]], (0, r)])
        case "cap":
            r, h = d["diameter_mm"] / 2, d["height_mm"]
            rises = np.linspace(r - h, r, 400)
            return revolved([(0, r - h), *[(math.sqrt(r * r - z * z), z) for z in rises[:-1]], (0, r)])
        case "ellipsoid":
            ball = trimesh.creation.icosphere(subdivisions=6, radius=0.5)
            ball.apply_scale([d["length_mm"], d["width_mm"], d["height_mm"]])
            return ball
        case "cylinder":
            return trimesh.creation.cylinder(radius=d["diameter_mm"] / 2, height=d["height_mm"], sections=1440)
        case "cuboid":
            return trimesh.creation.box([d["length_mm"], d["width_mm"], d["height_mm"]])
        case "torus":
            return trimesh.creation.torus(d["ring_mm"] / 2, d["tube_mm"] / 2, major_sections=500, minor_sections=300)
        case "cone":
            return revolved([(0, 0), (d["diameter_mm"] / 2, 0), (0, d["height_mm"])])
        case "frustum":
            low, high, h = d["bottom_mm"] / 2, d["top_mm"] / 2, d["height_mm"]
            return revolved([(0, 0), (low, 0), (high, h), (0, h)])
        case "heart":
            return heart_prism(d["width_mm"], d["height_mm"], d["depth_mm"])
    raise AssertionError(shape)


@pytest.mark.parametrize("shape", sorted(packing.SHAPES))
def test_closed_forms_match_trimesh_solids(shape: str) -> None:
    d = EXAMPLES[shape]
    mesh = outside_mesh(shape, d)
    assert mesh.is_watertight
    assert packing.volume_ml(shape, **d) == pytest.approx(abs(mesh.volume) / 1000, rel=4e-4)
    assert packing.surface_mm2(shape, **d) == pytest.approx(mesh.area, rel=4e-4)


def test_heart_volume_matches_counting_points() -> None:
    # Monte Carlo: the outline's own definition asked of random points, none of the closed form used
    rng = np.random.default_rng(7)
    n, width, height, depth = 400_000, 70.0, 58.0, 30.0
    points = rng.uniform([-width / 2, 0], [width / 2, height], (n, 2))
    x = np.abs(points[:, 0]) * (1 + math.sqrt(0.5)) / width
    y = points[:, 1] * (1.5 * math.sqrt(0.5) + 0.5) / height
    in_square = (x <= y) & (x + y <= math.sqrt(2))
    in_disc = (x - 0.5 * math.sqrt(0.5)) ** 2 + (y - 1.5 * math.sqrt(0.5)) ** 2 <= 0.25
    counted = np.mean(in_square | in_disc) * width * height * depth / 1000
    assert packing.volume_ml("heart", width_mm=width, height_mm=height, depth_mm=depth) == pytest.approx(
        counted, rel=5e-3
    )


def test_published_volumes_and_areas() -> None:
    # the mould table's printed volumes (common practice, no source): 33.5, 143.8 and 268.1 ml
    for diameter, printed in ((40, 33.5), (65, 143.8), (80, 268.1)):
        assert packing.volume_ml("sphere", diameter_mm=diameter) == pytest.approx(printed, abs=0.05)
    # area of the Earth's GRS 80 ellipsoid, 510 065 622 km2 from axes 6378.137 and 6356.7523141 km (Moritz 1980)
    area = packing.surface_mm2("ellipsoid", length_mm=2 * 6378.137, width_mm=2 * 6378.137, height_mm=2 * 6356.7523141)
    assert area == pytest.approx(510_065_621.724, rel=1e-9)


@pytest.mark.parametrize("shape", sorted(packing.SHAPES))
@given(k=st.floats(0.1, 10))
def test_scaling_every_length_scales_volume_by_its_cube(shape: str, k: float) -> None:
    d = EXAMPLES[shape]
    scaled = {name: k * value for name, value in d.items()}
    assert packing.volume_ml(shape, **scaled) == pytest.approx(k**3 * packing.volume_ml(shape, **d), rel=1e-9)
    assert packing.surface_mm2(shape, **scaled) == pytest.approx(k**2 * packing.surface_mm2(shape, **d), rel=1e-9)


def test_lengths_broadcast() -> None:
    volumes = packing.volume_ml("cylinder", diameter_mm=np.array([[20.0], [40.0]]), height_mm=np.array([10.0, 20, 30]))
    assert np.shape(volumes) == (2, 3)
    assert volumes[1, 2] == pytest.approx(packing.volume_ml("cylinder", diameter_mm=40, height_mm=30))


@pytest.mark.parametrize(
    ("shape", "dims", "words"),
    [
        ("pyramid", {"height_mm": 3}, "allowed are sphere, half_sphere"),
        ("cap", {"diameter_mm": 60}, "misses height_mm"),
        ("sphere", {"diameter_mm": 60, "radius_mm": 30}, "does not know radius_mm"),
        ("sphere", {"diameter_mm": 0}, "above zero"),
        ("sphere", {"diameter_mm": -3}, "above zero"),
        ("sphere", {"diameter_mm": math.nan}, "above zero"),
        ("sphere", {"diameter_mm": math.inf}, "above zero"),
        ("cap", {"diameter_mm": 60, "height_mm": 61}, "higher than its sphere"),
        ("torus", {"ring_mm": 20, "tube_mm": 30}, "overlap itself"),
    ],
)
def test_impossible_moulds_are_refused_in_words(shape: str, dims: dict[str, float], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        packing.volume_ml(shape, **dims)


def test_mound_is_a_cap_of_the_sphere_through_rim_and_top() -> None:
    # heaped to half its rim, a mound is a half sphere: 4/3 pi 32.5^3 / 2 mm3
    assert packing.mound_ml(65, 32.5) == pytest.approx(2 / 3 * math.pi * 32.5**3 / 1000)
    # sphere through the rim (r) and the top (h): R = (r^2 + h^2) / 2h
    sphere_mm = (30**2 + 6**2) / 6
    assert packing.mound_ml(60, 6) == pytest.approx(packing.volume_ml("cap", diameter_mm=sphere_mm, height_mm=6))
    assert packing.mound_ml(60, 0) == 0
    with pytest.raises(ValueError, match="half the rim"):
        packing.mound_ml(60, 31)


def test_true_density_of_two_to_one_matches_the_reference_row() -> None:
    # environment.csv, true_density_2to1: 1.987 g/ml from 2.200 and 1.665
    assert packing.true_density_of_solids_g_ml(np.array([2.0, 1.0]), np.array([2.2, 1.665])) == pytest.approx(
        1.987, abs=6e-4
    )


def test_kitchen_mix_lands_on_common_practice() -> None:
    # common practice, no source: a hand-pressed 65 mm sphere weighs 110 to 160 g.
    # composition: the typical rows of environment.csv (52 % bicarbonate, 26 % citric acid, 15 % filler, 4 % oils)
    solids, true, liquids = np.array([52.0, 26, 15]), np.array([2.2, 1.665, 1.5]), np.array([4.0])
    weights = [
        packing.volume_ml("sphere", diameter_mm=65) * packing.packed_density_g_ml(solids, true, liquids, f)
        for f in packing.HAND_PRESSED
    ]
    assert weights == sorted(weights)
    assert 110 <= weights[0] < weights[-1] <= 160


def test_a_cup_and_a_quarter_fills_two_spheres_with_some_over() -> None:
    # common practice, no source. 2 : 1 : 1 by volume of bicarbonate, citric acid and starch, loose 0.93, 0.85, 0.54 g/ml
    solids = 1.25 * 236.6 * np.array([0.5 * 0.93, 0.25 * 0.85, 0.25 * 0.54])
    liquids = np.array([0.04 * solids.sum()])
    density = packing.packed_density_g_ml(solids, np.array([2.2, 1.665, 1.478]), liquids)
    count, over = packing.pieces(solids.sum() + liquids.sum(), density * packing.volume_ml("sphere", diameter_mm=65))
    assert count == 2
    assert 0 < over < 40


@given(whole=st.integers(0, 500), piece=st.floats(1, 400), rest=st.floats(0, 0.999))
def test_pieces_and_leftover_give_the_mix_back(whole: int, piece: float, rest: float) -> None:
    mix = piece * (whole + rest)
    count, left = packing.pieces(mix, piece)
    assert count == whole or rest > 0.99
    assert float(count) * piece + left == pytest.approx(mix, rel=1e-6, abs=1e-6)
    assert 0 <= left < piece


def test_binary_fractions_do_not_cost_a_piece() -> None:
    assert packing.pieces(0.1 * 3, 0.1) == (3, 0)
    assert packing.pieces(0.7 + 0.1, 0.1)[0] == 8


def test_hardness_words_follow_the_index() -> None:
    plain = packing.hardness_class(binder_pct=1.5, oil_pct=3, fine_filler_pct=15)
    assert plain.word == "firm"
    assert packing.hardness_class().word == "crumbly"
    assert packing.hardness_class(binder_pct=2, solid_fraction=0.62).word == "hard"
    oily = packing.hardness_class(binder_pct=1.5, oil_pct=8, fine_filler_pct=15)
    assert oily.index < plain.index
    many = packing.hardness_class(binder_pct=np.array([0.0, 1.5]), oil_pct=3, fine_filler_pct=15)
    assert list(np.asarray(many.word)) == ["tender", "firm"]
    with pytest.raises(ValueError, match="oil_pct"):
        packing.hardness_class(oil_pct=-1)
