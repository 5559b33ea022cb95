"""The outline of a piece at a moment, as closed paths, for a picture of it coming apart."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def outline_paths(seconds: Array, spacing_mm: float, at_s: float) -> list[Array]:
    """What is left of a cut piece at a moment: closed paths, outer edges and holes alike (fill them by the even-odd rule).

    seconds: when the water reaches each spot of the cut, shape (rows, columns), rows from the top down, nan outside. Returns
    arrays (points, 2) of x to the right and y down in mm from the middle of the spot at the upper left; nothing once all is gone.
    Marching squares with straight interpolation between spots (Lorensen and Cline 1987, the plane case).
    """
    field = _beyond(seconds) - at_s
    solid = field > 0
    # each square of four spots, named by its upper left; its sides are numbered top, right, bottom, left
    code = solid[:-1, :-1] * 1 + solid[:-1, 1:] * 2 + solid[1:, 1:] * 4 + solid[1:, :-1] * 8
    middle = (field[:-1, :-1] + field[:-1, 1:] + field[1:, 1:] + field[1:, :-1]) > 0
    after: dict[tuple[int, int, int], tuple[int, int, int]] = {}
    for row, column in np.argwhere((code > 0) & (code < 15)).tolist():
        sides = ((row, column, 0), (row, column + 1, 1), (row + 1, column, 0), (row, column, 1))
        for first, last in _CROSSINGS[int(code[row, column])][bool(middle[row, column])]:
            after[sides[first]] = sides[last]
    paths = []
    while after:
        start, side = after.popitem()
        path = [start]
        while side != start:
            path.append(side)
            side = after.pop(side)
        # one row and one column were put around the cut
        paths.append(spacing_mm * (np.array([_crossing(field, crossed) for crossed in path]) - 1.0))
    return paths


BLUR_SPOTS = 2.5
"""One standard deviation of the blur that takes the steps out of an edge between parts."""


def part_paths(seconds: Array, part: NDArray[np.int8], which: int, spacing_mm: float, at_s: float) -> list[Array]:
    """What is left of one part of a cut piece at a moment, as `outline_paths` gives it.

    part: the part each spot belongs to, shape of seconds. Which spot is in the part is a yes or no, so its edge runs in
    steps; blurred by two and a half spots it runs straight or round, as pressed, and moves by less than a fifth of a spot.
    """
    from scipy.ndimage import gaussian_filter

    inside = np.isfinite(seconds)
    weight = gaussian_filter(inside.astype(float), BLUR_SPOTS)
    share = gaussian_filter(((part == which) & inside).astype(float), BLUR_SPOTS) / np.maximum(weight, 1e-9)
    left = seconds - at_s
    # as steep as the arrival times, so that the two edges meet cleanly
    slope = float(np.nanmax(seconds)) if inside.any() else 1.0
    return outline_paths(np.minimum(left, (share - 0.5) * slope), spacing_mm, 0.0)


_ONE_WAY: dict[int, tuple[tuple[int, int], ...]] = {
    # solid corners (1 upper left, 2 upper right, 4 lower right, 8 lower left): from side to side, the solid on the right hand
    1: ((0, 3),), 2: ((1, 0),), 3: ((1, 3),), 4: ((2, 1),), 6: ((2, 0),), 7: ((2, 3),),
    8: ((3, 2),), 9: ((0, 2),), 11: ((1, 2),), 12: ((3, 1),), 13: ((0, 1),), 14: ((3, 0),),
}  # fmt: skip
_CROSSINGS: dict[int, dict[bool, tuple[tuple[int, int], ...]]] = {
    **{code: {False: ways, True: ways} for code, ways in _ONE_WAY.items()},
    # two corners across from each other hang together when the middle of the square is solid
    5: {False: ((0, 3), (2, 1)), True: ((0, 1), (2, 3))},
    10: {False: ((1, 0), (3, 2)), True: ((1, 2), (3, 0))},
}


def _crossing(field: Array, side: tuple[int, int, int]) -> tuple[float, float]:
    """Where the outline crosses the side that runs right (0) or down (1) from a spot: x, y in spots."""
    row, column, down = side
    first = field[row, column]
    second = field[row + 1, column] if down else field[row, column + 1]
    part = float(first / (first - second))
    return (column, row + part) if down else (column + part, float(row))


def _beyond(seconds: Array) -> Array:
    """The field carried on outside the piece by its own slope, with one more spot all round: the outline at 0 s falls between spots."""
    field = np.pad(seconds, 2, constant_values=np.nan)
    inside = np.isfinite(field)
    for _ in range(2):
        known = np.isfinite(field)
        total, count = np.zeros_like(field), np.zeros_like(field)
        for axis in (0, 1):
            for way in (1, -1):
                near, far = np.roll(field, way, axis), np.roll(field, 2 * way, axis)
                seen = np.isfinite(near) & np.isfinite(far) & ~known
                total[seen] += 2.0 * near[seen] - far[seen]
                count[seen] += 1.0
        grown = count > 0
        field[grown] = total[grown] / count[grown]
    # of a part that is all gone every value is below nought, so its size and not its sign is what counts
    step = max(float(np.nanmax(np.abs(seconds))), 1e-9) if inside.any() else 1.0
    field[~np.isfinite(field)] = -step
    # whatever the slope says, outside is outside
    field[~inside] = np.minimum(field[~inside], -1e-9 * step)
    return field[1:-1, 1:-1]
