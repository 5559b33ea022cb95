"""Does a mesh cut through itself? A tree of boxes finds the faces that come near each other, then edges meet faces.

Broad phase: faces sorted along a Morton curve, boxes merged pairwise into a complete binary tree, and the tree compared
with itself level by level. Narrow phase: an edge of one face pierces the other when its ends lie on opposite sides of
the plane and the piercing point lies in the face (signed volumes, Moller and Trumbore's test written as determinants).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Indices = NDArray[np.int64]

MOST_PAIRS = 50_000_000
"""Box pairs looked at before giving up."""
_CHUNK = 400_000
# An edge must stand out of the face by this share of the mesh's size on both sides: coarser than the rounding of the
# single-precision numbers in an STL (6e-8), finer than anything pressed by hand.
_TOLERANCE = 1e-6


class TooTangled(RuntimeError):
    """So many faces lie on top of each other that the search was stopped."""


def _morton_order(points: Array) -> Indices:
    """Indices that walk points (n x 3) so that neighbours in the order are neighbours in space."""
    low, high = points.min(axis=0), points.max(axis=0)
    cells = ((points - low) / np.maximum(high - low, 1e-300) * 1023.0).astype(np.int64)
    code = np.zeros(len(points), dtype=np.int64)
    for bit in range(10):
        for axis in range(3):
            code |= ((cells[:, axis] >> bit) & 1) << (3 * bit + axis)
    return np.argsort(code, kind="stable")


def _box_levels(triangles: Array) -> list[tuple[Array, Array]]:
    """Lower and upper corners of the boxes, level by level from the root; the last level has a box a face."""
    leaves = 1 << (len(triangles) - 1).bit_length()
    low = np.full((leaves, 3), np.inf)
    high = np.full((leaves, 3), -np.inf)
    low[: len(triangles)], high[: len(triangles)] = triangles.min(axis=1), triangles.max(axis=1)
    levels = [(low, high)]
    while len(low) > 1:
        low, high = np.minimum(low[::2], low[1::2]), np.maximum(high[::2], high[1::2])
        levels.append((low, high))
    return levels[::-1]


def _pierces(start: Array, end: Array, face: Array, tolerance: float) -> NDArray[np.bool_]:
    """Whether segments (n x 3 each) pierce faces (n x 3 corners x 3) by more than tolerance on both sides."""
    origin = face[:, 0]
    first, second = face[:, 1] - origin, face[:, 2] - origin
    normal = np.cross(first, second)
    length = np.linalg.norm(normal, axis=1)
    above = np.einsum("ij,ij->i", start - origin, normal)
    below = np.einsum("ij,ij->i", end - origin, normal)
    reach = tolerance * length
    crosses = ((above > reach) & (below < -reach)) | ((above < -reach) & (below > reach))
    hit: NDArray[np.bool_] = np.zeros(len(start), dtype=bool)
    (at,) = np.nonzero(crosses)
    if len(at):
        along = (end - start)[at]
        sides = [
            np.einsum("ij,ij->i", along, np.cross(face[at, i] - start[at], face[at, (i + 1) % 3] - start[at]))
            for i in range(3)
        ]
        # closed face: an edge through the seam between two faces must not slip through between them
        hit[at] = np.all([s >= 0 for s in sides], axis=0) | np.all([s <= 0 for s in sides], axis=0)
    return hit


def _one_sided(triangles: Array, normals: Array, one: Indices, other: Indices, tolerance: float) -> NDArray[np.bool_]:
    """Whether the faces `other` stay on one side of the planes of the faces `one` (normals of length 1)."""
    normal, origin = normals[one], triangles[one, 0]
    offset = np.einsum("ij,ij->i", normal, origin)
    heights = [np.einsum("ij,ij->i", normal, triangles[other, i]) - offset for i in range(3)]
    lowest = np.minimum(np.minimum(heights[0], heights[1]), heights[2])
    highest = np.maximum(np.maximum(heights[0], heights[1]), heights[2])
    stays: NDArray[np.bool_] = (lowest >= -tolerance) | (highest <= tolerance)
    return stays


def _crossing_pairs(faces: Indices, triangles: Array, normals: Array, a: Indices, b: Indices, tolerance: float) -> int:
    """How many of the face pairs (a, b) cut through each other; faces sharing an edge never do."""
    # nearly all pairs end here: if an edge of one pierces the other, it stands out on both sides of that one's plane
    may_a = ~_one_sided(triangles, normals, b, a, tolerance)
    may_b = ~_one_sided(triangles, normals, a, b, tolerance)
    a, b = a[may_a | may_b], b[may_a | may_b]
    same = faces[a][:, :, None] == faces[b][:, None, :]
    shared = same.sum(axis=(1, 2))
    a, b, same = a[shared < 2], b[shared < 2], same[shared < 2]
    hit = np.zeros(len(a), dtype=bool)
    for one, other, touched in ((a, b, same.any(axis=2)), (b, a, same.any(axis=1))):
        for i in range(3):
            j = (i + 1) % 3
            # an edge that starts at a shared corner only touches there
            (at,) = np.nonzero(~touched[:, i] & ~touched[:, j] & ~hit)
            ends = triangles[one[at]]
            hit[at] = _pierces(ends[:, i], ends[:, j], triangles[other[at]], tolerance)
    return int(np.count_nonzero(hit))


def crossings(vertices: Array, faces: Indices, stop_at: int = 1) -> int:
    """Pairs of faces that cut through each other; stops counting once stop_at are found.

    vertices: n x 3; faces: m x 3 indices, merged so that neighbours share vertices. Faces that merely touch do not
    count. Work is bounded: TooTangled after MOST_PAIRS box pairs; memory stays below some 200 MB.
    """
    order = _morton_order(vertices[faces].mean(axis=1))
    faces = faces[order]
    triangles = vertices[faces]
    tolerance = _TOLERANCE * float(np.ptp(vertices, axis=0).max())
    normals = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    normals /= np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-300)
    levels = _box_levels(triangles)
    stack: list[tuple[int, Indices, Indices]] = [(0, np.zeros(1, dtype=np.int64), np.zeros(1, dtype=np.int64))]
    looked_at = found = 0
    while stack:
        level, a, b = stack.pop()
        if len(a) > _CHUNK:
            half = len(a) // 2
            stack += [(level, a[half:], b[half:]), (level, a[:half], b[:half])]
            continue
        low, high = levels[level]
        looked_at += len(a)
        if looked_at > MOST_PAIRS:
            raise TooTangled(f"stopped after comparing {MOST_PAIRS} pairs of boxes")
        near = np.all((low[a] <= high[b]) & (low[b] <= high[a]), axis=1)
        a, b = a[near], b[near]
        if level == len(levels) - 1:
            apart = a != b
            found += _crossing_pairs(faces, triangles, normals, a[apart], b[apart], tolerance)
            if found >= stop_at:
                return found
            continue
        left_a, left_b = 2 * a, 2 * b
        twin = a == b
        children_a = np.concatenate([left_a, left_a, left_a[~twin] + 1, left_a + 1])
        children_b = np.concatenate([left_b, left_b + 1, left_b[~twin], left_b + 1])
        if len(children_a):
            stack.append((level + 1, children_a, children_b))
    return found
