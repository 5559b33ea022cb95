"""Moulds drawn as a mesh: the volume inside a watertight STL in mm, or a clear word on why it cannot be trusted.

Size and face count are read before the file is, so that no file can ask for more memory than MOST_BYTES allows.
"""

from __future__ import annotations

import io
import logging
import struct
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from fizzwright.refusal import Refusal

# the reader prints a traceback when the normals written in a file are unreadable; here they are never used: the order
# of the corners says which way a face looks
logging.getLogger("trimesh").addHandler(logging.NullHandler())

Array = NDArray[np.float64]
Indices = NDArray[np.int64]

MOST_BYTES = 50_000_000
MOST_FACES = 400_000
SMALLEST_ML = 2.0
LARGEST_ML = 3000.0

_HEADER, _FACE = 84, 50  # bytes of a binary STL's head (80 of text and the count) and of one face
_UNITS = {1000.0: "metres", 25.4: "inches", 10.0: "centimetres", 0.001: "thousandths of a millimetre"}
_LIKELY_MM = (25.0, 130.0)  # what a mould measures across, to guess the unit it was drawn in


class MeshRefused(Refusal, ValueError):
    """A mesh whose inside cannot be measured; the message says what was found and what to do."""


@dataclass(frozen=True, slots=True)
class MeshMeasure:
    """A mesh, measured."""

    volume_ml: float
    size_mm: tuple[float, float, float]
    """Extents along x, y and z."""
    faces: int
    repaired: tuple[str, ...]
    """Plain sentences on what was put right while reading; empty when the file was sound."""


def _read(path: Path) -> bytes:
    """The file, once its size is known to be bearable."""
    try:
        size = path.stat().st_size
    except (OSError, ValueError) as error:
        # ValueError: a name with a zero byte in it, which no folder can hold
        why = getattr(error, "strerror", None) or error
        raise MeshRefused(f"{path.name}: cannot be opened ({why}); check the name and the folder") from error
    if not path.is_file():
        raise MeshRefused(f"{path.name}: is a folder or device, not an STL file; name the .stl file itself")
    if size == 0:
        raise MeshRefused(f"{path.name}: the file is empty; export the mould again as STL")
    if size > MOST_BYTES:
        raise MeshRefused(
            f"{path.name}: {size / 1e6:.0f} MB; allowed is {MOST_BYTES / 1e6:.0f} MB. Export it with fewer faces"
        )
    try:
        with path.open("rb") as file:
            data = file.read(MOST_BYTES + 1)
    except OSError as error:
        raise MeshRefused(f"{path.name}: cannot be read ({error.strerror}); check who may read it") from error
    if len(data) > MOST_BYTES:
        raise MeshRefused(f"{path.name}: the file grew past {MOST_BYTES / 1e6:.0f} MB while it was read; try again")
    return data


def _claimed_faces(name: str, data: bytes) -> tuple[int, bool]:
    """How many faces the file says it has, and whether it is binary; MeshRefused when size and claim disagree."""
    claimed = struct.unpack("<I", data[80:_HEADER])[0] if len(data) >= _HEADER else None
    if claimed is not None and len(data) == _HEADER + _FACE * claimed:
        return claimed, True
    words = data.lstrip()
    if words[:5].lower() == b"solid":
        lowered = words.lower()
        count = lowered.count(b"endfacet")
        if count or b"endsolid" in lowered:
            if count != lowered.count(b"facet normal") or b"endsolid" not in lowered[-1000:]:
                raise MeshRefused(
                    f"{name}: the text stops in the middle; the copy is cut short, export or copy it again"
                )
            return count, False
        if b"facet normal" in lowered[:2000]:
            raise MeshRefused(f"{name}: the text stops in the middle; the copy is cut short, export or copy it again")
    if claimed is None:
        raise MeshRefused(f"{name}: this is not an STL file; export the mould as STL (binary or text)")
    holds = (len(data) - _HEADER) // _FACE
    raise MeshRefused(
        f"{name}: not an STL file, or a damaged one: its head claims {claimed} faces, but there is room for {holds}. "
        "Export the mould as STL again"
    )


def _load(name: str, data: bytes) -> tuple[Array, Indices]:
    """Vertices, each once, and faces of an STL; MeshRefused when it is none or holds too much."""
    count, binary = _claimed_faces(name, data)
    if count == 0:
        raise MeshRefused(f"{name}: an STL file without a single face; export the mould again")
    if count > MOST_FACES:
        raise MeshRefused(f"{name}: {count} faces; allowed are {MOST_FACES}. Export it coarser, 0.1 mm is plenty")
    import trimesh

    try:
        # corners that are no numbers are looked for below, in words
        with np.errstate(all="ignore"):
            loaded = trimesh.load_mesh(io.BytesIO(data), file_type="stl" if binary else "stl_ascii", process=False)
            corners = np.asarray(loaded.triangles, dtype=np.float64)
    except Exception as error:
        # the reader has no one kind of error of its own; whatever it met, the file is what it could not read
        raise MeshRefused(f"{name}: could not be read as STL ({error}); export the mould again") from error
    if len(corners) != count:
        raise MeshRefused(f"{name}: {count} faces announced, {len(corners)} readable; export the mould again")
    if not np.all(np.isfinite(corners)):
        raise MeshRefused(f"{name}: some corners are not numbers (NaN or infinite); export the mould again")
    vertices, inverse = np.unique(corners.reshape(-1, 3), axis=0, return_inverse=True)
    faces = inverse.reshape(-1, 3).astype(np.int64)
    # a face with a corner twice is a line: its neighbours close over it
    whole = (faces[:, 0] != faces[:, 1]) & (faces[:, 1] != faces[:, 2]) & (faces[:, 2] != faces[:, 0])
    if not whole.any():
        raise MeshRefused(f"{name}: every face is a mere line or point; export the mould again")
    return vertices, faces[whole]


def _check_size(name: str, size_mm: Array, volume_ml: float | None = None) -> None:
    """MeshRefused when no mould is that small or large, guessing which unit was meant."""
    across = float(size_mm.max())
    ball_ml = across**3 / 1000.0  # the most that could fit into its box
    held = ball_ml if volume_ml is None else volume_ml
    too_small, too_large = held < SMALLEST_ML, (volume_ml is not None and held > LARGEST_ML) or across > 1000.0
    if not (too_small or too_large):
        return
    guess = [unit for factor, unit in _UNITS.items() if _LIKELY_MM[0] <= across * factor <= _LIKELY_MM[1]]
    factors = {unit: factor for factor, unit in _UNITS.items()}
    hint = (
        f" Was it drawn in {guess[0]}? Then scale it by {factors[guess[0]]:g} and export it in millimetres"
        if guess
        else " STL files carry no unit: export it in millimetres"
    )
    what = f"holds {volume_ml:.3g} ml, " if volume_ml is not None else ""
    verdict = "about a pea or less" if too_small else "more than any mould"
    raise MeshRefused(
        f"{name}: {what}{across:.3g} mm across, {verdict}; allowed are {SMALLEST_ML:g} ml to {LARGEST_ML / 1000:g} l.{hint}"
    )


def _neighbours(name: str, faces: Indices) -> tuple[Indices, Indices, NDArray[np.bool_]]:
    """Pairs of faces that share an edge, and whether both run it the same way; MeshRefused when it leaks."""
    edges = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    owner = np.tile(np.arange(len(faces)), 3)
    forward = edges[:, 0] < edges[:, 1]
    low, high = edges.min(axis=1), edges.max(axis=1)
    order = np.lexsort((high, low))
    low, high, owner, forward = low[order], high[order], owner[order], forward[order]
    starts = np.flatnonzero(np.r_[True, (low[1:] != low[:-1]) | (high[1:] != high[:-1])])
    uses = np.diff(np.r_[starts, len(low)])
    leaking, crowded = int(np.count_nonzero(uses == 1)), int(np.count_nonzero(uses > 2))
    if leaking:
        raise MeshRefused(
            f"{name}: not watertight, {leaking} open edges; close the holes in the program it was drawn with"
        )
    if crowded:
        raise MeshRefused(
            f"{name}: {crowded} edges are shared by more than two faces, so inside and outside cannot be told apart; "
            "remove doubled faces and inner walls"
        )
    return owner[starts], owner[starts + 1], forward[starts] == forward[starts + 1]


def _one_way_round(name: str, faces: Indices) -> tuple[Indices, int]:
    """Faces of one closed shell, all turned the same way, and how many had to be turned."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    a, b, against = _neighbours(name, faces)
    count = len(faces)
    ones = np.ones(len(a), dtype=np.int8)
    shells, _ = connected_components(coo_array((ones, (a, b)), shape=(count, count)), directed=False)
    if shells > 1:
        raise MeshRefused(
            f"{name}: {shells} separate bodies; a mould is one closed body. Join them, or save one of them alone"
        )
    # every face twice, as drawn and turned over: neighbours that disagree link one's front to the other's back
    rows = np.concatenate([a, a + count])
    columns = np.concatenate([np.where(against, b + count, b), np.where(against, b, b + count)])
    links = coo_array((np.ones(len(rows), dtype=np.int8), (rows, columns)), shape=(2 * count, 2 * count))
    _, side = connected_components(links, directed=False)
    if side[0] == side[count]:
        raise MeshRefused(f"{name}: the surface has no inside (it turns into its own back); draw it as a solid body")
    turn = side[:count] != side[0]
    # whichever way most faces were drawn is taken as meant
    if np.count_nonzero(turn) * 2 > count:
        turn = ~turn
    faces = faces.copy()
    faces[turn] = faces[turn][:, ::-1]
    return faces, int(np.count_nonzero(turn))


def signed_volume_mm3(vertices: Array, faces: Indices) -> float:
    """Volume inside a closed mesh by the divergence theorem, negative when its faces look inward."""
    corners = (vertices - vertices.mean(axis=0))[faces]
    return float(np.einsum("ij,ij->", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])) / 6.0)


def read_mesh(path: str | Path) -> tuple[Array, Indices]:
    """Corners in mm, each once, and faces of an STL; MeshRefused when it is none. Closed or not is for `measure_mesh`."""
    path = Path(path)
    return _load(path.name, _read(path))


def measure_mesh(path: str | Path) -> MeshMeasure:
    """Measure the inside of a watertight STL, binary or text, drawn in mm.

    MeshRefused, a ValueError, for: no STL, empty, cut short, more than 50 MB or 400,000 faces, corners that are no
    numbers, holes, doubled faces, several bodies, faces that cut through each other, less than 2 ml or more than 3 l.
    Faces turned the wrong way are put right and said so in `repaired`.
    """
    from fizzwright.science.crossing import TooTangled, crossings

    path = Path(path)
    name = path.name
    vertices, faces = _load(name, _read(path))
    size_mm = np.ptp(vertices[np.unique(faces)], axis=0)
    _check_size(name, size_mm)
    faces, turned = _one_way_round(name, faces)
    volume_mm3 = signed_volume_mm3(vertices, faces)
    repaired = []
    if turned:
        repaired.append(f"{turned} of {len(faces)} faces looked the wrong way and were turned.")
    if volume_mm3 < 0:
        repaired.append("The surface was drawn inside out and was turned.")
    try:
        cut = crossings(vertices, faces)
    except TooTangled as error:
        raise MeshRefused(
            f"{name}: too many faces lie on top of each other to tell inside from outside; simplify the mesh"
        ) from error
    if cut:
        raise MeshRefused(
            f"{name}: the surface cuts through itself (at least {cut} pairs of faces), so part of it would count twice; "
            "join the parts into one solid before exporting"
        )
    volume_ml = abs(volume_mm3) / 1000.0
    _check_size(name, size_mm, volume_ml)
    x, y, z = (float(s) for s in size_mm)
    return MeshMeasure(volume_ml, (x, y, z), len(faces), tuple(repaired))


def mesh_volume_ml(path: str | Path) -> float:
    """Volume in ml inside a watertight STL drawn in mm; refusals as `measure_mesh`."""
    return measure_mesh(path).volume_ml
