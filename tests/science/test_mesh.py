"""STL files written by trimesh, whole and broken in every way a download can be."""

import math
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import trimesh
from hypothesis import given
from hypothesis import strategies as st

from fizzwright.science import crossing, mesh
from fizzwright.science.packing import MeshRefused, mesh_volume_ml


def ball(diameter: float = 65, subdivisions: int = 4) -> trimesh.Trimesh:
    return trimesh.creation.icosphere(subdivisions=subdivisions, radius=diameter / 2)


def save(folder: Path, solid: trimesh.Trimesh | bytes) -> Path:
    path = folder / "mould.stl"
    path.write_bytes(solid if isinstance(solid, bytes) else solid.export(file_type="stl"))
    return path


def text_stl(solid: trimesh.Trimesh) -> bytes:
    return solid.export(file_type="stl_ascii").encode()


@pytest.mark.parametrize("text", [False, True], ids=["binary", "text"])
@pytest.mark.parametrize(
    ("solid", "exact_ml"),
    [
        (trimesh.creation.box([40, 50, 60]), 120.0),
        (ball(65, 5), math.pi * 65**3 / 6000),
        (
            trimesh.creation.capsule(height=30, radius=20, count=[128, 128]),
            (math.pi * 400 * 30 + math.pi * 32000 / 3) / 1000,
        ),
        (trimesh.creation.torus(25, 10, major_sections=200, minor_sections=100), 2 * math.pi**2 * 25 * 100 / 1000),
        (trimesh.creation.cylinder(radius=30, height=40, sections=500), math.pi * 36),
    ],
    ids=["box", "ball", "capsule", "torus", "cylinder"],
)
def test_volume_of_known_solids(tmp_path: Path, solid: trimesh.Trimesh, exact_ml: float, text: bool) -> None:
    path = save(tmp_path, text_stl(solid) if text else solid)
    assert mesh_volume_ml(path) == pytest.approx(exact_ml, rel=2e-3)
    assert mesh_volume_ml(str(path)) == pytest.approx(abs(solid.volume) / 1000, rel=1e-5)


def test_ball_converges_to_the_sphere_as_faces_shrink(tmp_path: Path) -> None:
    exact = math.pi * 65**3 / 6000
    errors = [exact - mesh_volume_ml(save(tmp_path, ball(65, n))) for n in (2, 3, 4)]
    # halving the edges quarters the error of an inscribed polyhedron
    assert errors[0] / errors[1] == pytest.approx(4, rel=0.05)
    assert errors[1] / errors[2] == pytest.approx(4, rel=0.05)


def test_far_from_the_origin_and_turned(tmp_path: Path) -> None:
    solid = trimesh.creation.box([40, 50, 60])
    solid.apply_transform(trimesh.transformations.rotation_matrix(0.7, [1, 2, 3], None))
    solid.apply_translation([4000, -3000, 5000])
    assert mesh_volume_ml(save(tmp_path, solid)) == pytest.approx(120, rel=1e-3)


def test_inside_out_is_turned_and_said(tmp_path: Path) -> None:
    solid = ball()
    expected = mesh.measure_mesh(save(tmp_path, solid))
    assert expected.repaired == ()
    solid.invert()
    got = mesh.measure_mesh(save(tmp_path, solid))
    assert got.volume_ml == pytest.approx(expected.volume_ml, rel=1e-9)
    assert "inside out" in got.repaired[0]


def test_single_faces_turned_the_wrong_way_are_turned_and_counted(tmp_path: Path) -> None:
    solid = ball()
    faces = solid.faces.copy()
    faces[[3, 500, 4000]] = faces[[3, 500, 4000], ::-1]
    got = mesh.measure_mesh(save(tmp_path, trimesh.Trimesh(solid.vertices, faces, process=False)))
    assert got.volume_ml == pytest.approx(solid.volume / 1000, rel=1e-6)
    assert got.repaired[0].startswith("3 of 5120 faces")


def test_leak_counts_its_open_edges(tmp_path: Path) -> None:
    solid = trimesh.creation.box([40, 40, 40])
    solid.update_faces(np.arange(12) != 5)
    with pytest.raises(MeshRefused, match=r"not watertight, 3 open edges"):
        mesh_volume_ml(save(tmp_path, solid))


@pytest.mark.parametrize(
    ("factor", "unit"), [(1000, "metres"), (25.4, "inches"), (10, "centimetres"), (0.001, "thousandths")]
)
def test_wrong_unit_is_guessed(tmp_path: Path, factor: float, unit: str) -> None:
    with pytest.raises(MeshRefused, match=f"drawn in {unit}.*scale it by {factor:g}"):
        mesh_volume_ml(save(tmp_path, ball(65 / factor)))


def test_metre_scale_says_how_small_it_is(tmp_path: Path) -> None:
    with pytest.raises(MeshRefused, match=r"0\.065 mm across"):
        mesh_volume_ml(save(tmp_path, ball(0.065)))


def test_smaller_than_a_pea_and_larger_than_any_mould(tmp_path: Path) -> None:
    with pytest.raises(MeshRefused, match="pea or less"):
        mesh_volume_ml(save(tmp_path, ball(15)))
    with pytest.raises(MeshRefused, match="more than any mould"):
        mesh_volume_ml(save(tmp_path, ball(200)))
    # long but thin: its box is large enough, its inside is not
    with pytest.raises(MeshRefused, match=r"holds 0\.6 ml"):
        mesh_volume_ml(save(tmp_path, trimesh.creation.box([60, 10, 1])))
    assert mesh_volume_ml(save(tmp_path, ball(16))) > 2


def test_two_bodies(tmp_path: Path) -> None:
    apart = trimesh.util.concatenate([ball(40), ball(40).apply_translation([60, 0, 0])])
    with pytest.raises(MeshRefused, match="2 separate bodies"):
        mesh_volume_ml(save(tmp_path, apart))


def test_surface_that_cuts_through_itself(tmp_path: Path) -> None:
    # the tube is thicker than the hole it turns about
    with pytest.raises(MeshRefused, match="cuts through itself"):
        mesh_volume_ml(save(tmp_path, trimesh.creation.torus(20, 25)))
    solid = ball()
    vertices = solid.vertices.copy()
    vertices[vertices[:, 2].argmax()] = [0, 0, -50]
    with pytest.raises(MeshRefused, match="cuts through itself"):
        mesh_volume_ml(save(tmp_path, trimesh.Trimesh(vertices, solid.faces, process=False)))


def test_crossing_finder_against_known_cases() -> None:
    first = trimesh.creation.box([40, 40, 40])
    # corner in corner: every piercing point lies exactly on a seam between two faces
    joined = trimesh.util.concatenate([first, first.copy().apply_translation([20, 20, 20])])
    assert crossing.crossings(joined.vertices, joined.faces.astype(np.int64)) > 0
    apart = trimesh.util.concatenate([first, first.copy().apply_translation([41, 0, 0])])
    assert crossing.crossings(apart.vertices, apart.faces.astype(np.int64)) == 0
    touching = trimesh.util.concatenate([first, first.copy().apply_translation([40, 0, 0])])
    assert crossing.crossings(touching.vertices, touching.faces.astype(np.int64)) == 0


def test_crossing_finder_agrees_with_trying_every_pair() -> None:
    rng = np.random.default_rng(3)
    vertices = rng.uniform(0, 10, (60 * 3, 3))
    vertices += np.repeat(rng.uniform(0, 12, (60, 3)), 3, axis=0)
    faces = np.arange(180).reshape(60, 3)
    found = crossing.crossings(vertices, faces, stop_at=10**9)
    # one pair at a time, the edges of each sent as rays through the other by trimesh
    truth = 0
    for i in range(60):
        for j in range(i):
            ray = trimesh.Trimesh(vertices[faces[[i]]].reshape(3, 3), [[0, 1, 2]], process=False)
            other = trimesh.Trimesh(vertices[faces[[j]]].reshape(3, 3), [[0, 1, 2]], process=False)
            truth += int(_edges_hit(ray, other) or _edges_hit(other, ray))
    assert truth > 20
    assert found == truth


def _edges_hit(one: trimesh.Trimesh, other: trimesh.Trimesh) -> bool:
    starts = one.triangles[0]
    steps = np.roll(starts, -1, axis=0) - starts
    locations, rays, _ = trimesh.ray.ray_triangle.RayMeshIntersector(other).intersects_location(starts, steps)
    return any(np.linalg.norm(p - starts[r]) <= np.linalg.norm(steps[r]) for p, r in zip(locations, rays, strict=True))


def test_work_is_bounded(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(crossing, "MOST_PAIRS", 1000)
    with pytest.raises(MeshRefused, match="on top of each other"):
        mesh_volume_ml(save(tmp_path, ball()))


def binary(count: int, body: bytes) -> bytes:
    return b"mould".ljust(80, b" ") + count.to_bytes(4, "little") + body


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "empty"),
        (b"a recipe, not a mesh", "not an STL"),
        (binary(4_000_000_000, b"\0" * 5000), "claims 4000000000 faces, but there is room for 100"),
        (binary(400_001, b"\0" * 50 * 400_001), "400001 faces; allowed are 400000"),
        (binary(0, b""), "without a single face"),
        (binary(2, b"\0" * 100), "mere line or point"),
        (b"solid x\nendsolid x\n", "without a single face"),
        (b"solid x\n facet normal 0 0 1\n  outer loop\n   vertex 0 0 0\n", "stops in the middle"),
        (b"solid x\nfacet normal 0 0 0\nouter loop\nvertex a b c\nendloop\nendfacet\nendsolid", "could not be read"),
        (b"\0" * (mesh.MOST_BYTES + 1), "allowed is 50 MB"),
    ],
    ids=["empty", "prose", "bomb", "many", "none", "points", "solid", "cut", "letters", "big"],
)
def test_files_that_are_no_mould(tmp_path: Path, data: bytes, words: str) -> None:
    with pytest.raises(MeshRefused, match=words) as refusal:
        mesh_volume_ml(save(tmp_path, data))
    assert str(refusal.value).startswith("mould.stl: ")


def test_cut_short_and_not_numbers(tmp_path: Path) -> None:
    whole = save(tmp_path, ball()).read_bytes()
    with pytest.raises(MeshRefused, match="claims 5120 faces, but there is room for 5100"):
        mesh_volume_ml(save(tmp_path, whole[:-1000]))
    for word in (b"\0\0\xc0\x7f", b"\0\0\x80\x7f"):  # NaN and infinity in single precision
        with pytest.raises(MeshRefused, match="not numbers"):
            mesh_volume_ml(save(tmp_path, whole[:96] + word + whole[100:]))
    text = text_stl(ball())
    with pytest.raises(MeshRefused, match="stops in the middle"):
        mesh_volume_ml(save(tmp_path, text[:-1000]))


def test_doubled_faces(tmp_path: Path) -> None:
    solid = trimesh.creation.box([40, 40, 40])
    doubled = trimesh.Trimesh(
        solid.vertices, np.vstack([solid.faces, solid.faces[:1], solid.faces[:1, ::-1]]), process=False
    )
    with pytest.raises(MeshRefused, match="more than two faces"):
        mesh_volume_ml(save(tmp_path, doubled))


def test_no_file_and_folder(tmp_path: Path) -> None:
    with pytest.raises(MeshRefused, match="cannot be opened"):
        mesh_volume_ml(tmp_path / "absent.stl")
    with pytest.raises(MeshRefused, match="cannot be opened"):
        mesh_volume_ml(tmp_path / "mou\0ld.stl")
    (tmp_path / "folder.stl").mkdir()
    with pytest.raises(MeshRefused, match=r"folder or device|empty"):
        mesh_volume_ml(tmp_path / "folder.stl")


def test_unreadable_normals_do_not_matter_and_print_nothing(tmp_path: Path) -> None:
    text = text_stl(trimesh.creation.box([40, 50, 60])).replace(b"facet normal", b"facet normal x", 1)
    path = save(tmp_path, text)
    # a fresh interpreter: the test runner's own log handlers would hide what a maker sees
    code = f"from fizzwright.science.mesh import mesh_volume_ml; print(mesh_volume_ml({str(path)!r}))"
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert float(ran.stdout) == pytest.approx(120)
    assert ran.stderr == ""


@given(
    text=st.booleans(),
    cuts=st.lists(st.tuples(st.integers(0, 10**6), st.binary(min_size=1, max_size=6)), max_size=4),
    keep=st.floats(0.2, 1),
)
def test_damaged_files_end_in_a_volume_or_a_refusal(
    tmp_path_factory: pytest.TempPathFactory, text: bool, cuts: list[tuple[int, bytes]], keep: float
) -> None:
    solid = trimesh.creation.box([40, 50, 60])
    data = bytearray(text_stl(solid) if text else solid.export(file_type="stl"))
    for at, noise in cuts:
        place = at % len(data)
        data[place : place + len(noise)] = noise
    if keep < 0.9:
        del data[int(keep * len(data)) :]
    path = save(tmp_path_factory.mktemp("damaged"), bytes(data))
    try:
        volume = mesh_volume_ml(path)
    except MeshRefused as refusal:
        assert str(refusal).startswith("mould.stl: ")
    else:
        assert mesh.SMALLEST_ML <= volume <= mesh.LARGEST_ML
