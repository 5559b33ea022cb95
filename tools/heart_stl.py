"""Draw the Quillmoor heart mould: a flat back, a domed front, an outline of our own. Writes demo recipes/heart.stl.

Run from the repository root: python tools/heart_stl.py
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import trimesh

LOBE_MM = 20.0
"""Radius of each of the two lobes."""
APART_MM = 16.0
"""Half the distance between the lobes' centres."""
ABOVE_MM = 9.0
"""How far the lobes' centres lie above the middle."""
TIP_MM = 36.0
"""How far the tip lies below the middle."""
DEPTH_MM = 30.0
SPOKES, RINGS = 72, 9
TARGET = Path("src/fizzwright/demo/quillmoor/recipes/heart.stl")


def reach_mm(angle: float) -> float:
    """How far the outline lies from the middle in one direction: the farther of the two lobes and the keel."""
    along = np.array([math.cos(angle), math.sin(angle)])
    reach = 0.0
    shoulders = []
    for side in (-1.0, 1.0):
        centre = np.array([side * APART_MM, ABOVE_MM])
        middle = float(along @ centre)
        reach = max(reach, middle + math.sqrt(middle**2 - float(centre @ centre) + LOBE_MM**2))
        # where the straight side from the tip touches the lobe
        down = centre - np.array([0.0, -TIP_MM])
        lean = math.atan2(down[1], down[0]) - side * math.asin(LOBE_MM / float(np.hypot(*down)))
        run = math.sqrt(float(down @ down) - LOBE_MM**2)
        shoulders.append(np.array([run * math.cos(lean), -TIP_MM + run * math.sin(lean)]))
    tip = np.array([0.0, -TIP_MM])
    for corner in shoulders:
        edge = corner - tip
        cross = along[0] * edge[1] - along[1] * edge[0]
        if abs(cross) < 1e-12:
            continue
        distance = (tip[0] * edge[1] - tip[1] * edge[0]) / cross
        place = (tip[0] * along[1] - tip[1] * along[0]) / cross
        if distance > 0 and -1e-9 <= place <= 1 + 1e-9:
            reach = max(reach, distance)
    return reach


def heart() -> trimesh.Trimesh:
    """The closed surface, in millimetres: rings from the rim up to the crown, and a flat back."""
    # half a turn less a quarter puts one spoke exactly on the tip and one in the cleft
    angles = np.linspace(0, 2 * math.pi, SPOKES, endpoint=False) - math.pi / 2
    outline = np.array([reach_mm(float(a)) for a in angles])
    points = []
    for ring in range(RINGS):
        share = math.cos(ring / RINGS * math.pi / 2)
        height = DEPTH_MM * (1 - share**2.6) ** 0.5
        points += [
            (share * r * math.cos(a), share * r * math.sin(a), height) for r, a in zip(outline, angles, strict=True)
        ]
    crown, back = len(points), len(points) + 1
    points += [(0.0, 0.0, DEPTH_MM), (0.0, 0.0, 0.0)]
    faces = []
    for spoke in range(SPOKES):
        after = (spoke + 1) % SPOKES
        for ring in range(RINGS - 1):
            a, b = ring * SPOKES + spoke, ring * SPOKES + after
            faces += [(a, b, b + SPOKES), (a, b + SPOKES, a + SPOKES)]
        last = (RINGS - 1) * SPOKES
        faces += [(last + spoke, last + after, crown), (after, spoke, back)]
    return trimesh.Trimesh(vertices=points, faces=faces, process=False)


if __name__ == "__main__":
    solid = heart()
    solid.export(TARGET)
    print(f"{TARGET}: {solid.volume / 1000:.1f} ml, watertight {solid.is_watertight}, {solid.extents.round(1)} mm")
