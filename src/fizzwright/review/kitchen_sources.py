"""Which doubt the spread comes from: first-order and total shares of what differs between kitchens, by its source."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from fizzwright.review.chemistry import acid_to_base_eq
from fizzwright.review.kitchen_measuring import SHARED
from fizzwright.review.kitchens import AROUND, Plan, columns_of, drawn_oils, grams_at
from fizzwright.review.limits import Check, cured_g
from fizzwright.review.sizes import packed_density, solid_fraction_at
from fizzwright.science.sensitivity import shares_of

Array = NDArray[np.float64]

SOURCE_WORDS = {
    "packing": "how hard it is pressed",
    "cups": "the cups and spoons themselves",
    "hand": "how this maker fills a measure",
    "pouring": "how this maker pours",
    "dropper": "how this maker drops",
    "scale": "the scale",
    "oil_composition": "what the oils hold",
}
MOST_AT_ONCE = 2**20
"""Grams of lines held together: eight megabytes, and as much again for each step of the working."""


@dataclass(frozen=True)
class Source:
    """One source of doubt and its shares of the spread of each quantity: (first order, total)."""

    id: str
    name: str
    shares: Mapping[str, tuple[float, float]]


def sources(plan: Plan, worst: Check | None, count: int, seed: int) -> list[Source]:
    """The shares of piece_g, acid_to_base_eq and worst (as far as the recipe has them), largest first.

    count: draws, a power of two; each source is then changed alone, so that the mix is worked out count x (sources + 2)
    times. Sources that cannot matter to a quantity have none of it.
    """
    names = [name for name in (*SHARED, *plan.things) if _moves(plan, name)]
    around, width = len(AROUND), len(plan.loads)
    pair = columns_of(count, 2 * plan.columns, seed + 1)
    one, other = pair[:, : plan.columns], pair[:, plan.columns :]
    normals = [ndtri(half[:, around : around + width]) for half in (one, other)]
    phi = [solid_fraction_at(half[:, AROUND.index("packing")]) for half in (one, other)]
    mix, volume = plan.mix, plan.mix.mould_volume_ml if plan.mix.recipe.kind != "powder" else None
    oils = [] if worst is None else [drawn_oils(plan, half[:, plan.normals :]) for half in (one, other)]

    def grams_of(name: str | int) -> Array:
        """One half of the draws, or the first with one source taken from the other."""
        if isinstance(name, int):
            return grams_at(plan, normals[name])
        crossed = normals[0].copy()
        own = [column - around for column in plan.group(name)]
        crossed[:, own] = normals[1][:, own]
        return grams_at(plan, crossed)

    def level(grams: Array, half: int) -> Array:
        assert worst is not None
        total = np.zeros(count)
        for part in worst.level.parts:
            shares = oils[half].get(part.line)
            pct = shares.of(part.of) if shares is not None and part.of in shares.names else part.typical_pct
            total = total + grams[:, part.line] * pct
        return np.asarray(total / cured_g(mix, grams))

    ratios: list[Array] = []
    pieces: list[Array] = []
    levels: list[Array] = []
    halves: list[str | int] = [0, 1, *names]
    at_once = max(MOST_AT_ONCE // (count * len(mix.lines)), 1)
    for start in range(0, len(halves), at_once):
        block = halves[start : start + at_once]
        all_g = np.stack([grams_of(name) for name in block])
        # without acid or base it is one number for all
        ratios.extend(np.broadcast_to(acid_to_base_eq(all_g, mix), all_g.shape[:2]))
        if volume is not None:
            pressed = np.stack([phi[1 if name == 1 else 0] for name in block])
            pieces.extend(packed_density(mix, all_g, pressed) * volume)
        if worst is not None:
            levels.extend(level(grams, 1 if name == 1 else 0) for grams, name in zip(all_g, block, strict=True))
    found: dict[str, dict[str, tuple[float, float]]] = {}
    ratio = np.stack(ratios)
    if np.isfinite(ratio).all() and (ratio > 0).all():
        _tell(found, "acid_to_base_eq", names, ratio)
    # what is no measuring: the first half once more, pressed as the second, and with the oils of the second
    if volume is not None:
        pieces.append(packed_density(mix, grams_of(0), phi[1]) * volume)
        _tell(found, "piece_g", [*names, "packing"], np.stack(pieces))
    if worst is not None:
        levels.append(level(grams_of(0), 1))
        _tell(found, "worst", [*names, "oil_composition"], np.stack(levels))
    told = {line.id: line.name for line in mix.lines}
    rows = [
        Source(name, SOURCE_WORDS.get(name) or told[name], found[name])
        for name in dict.fromkeys([*names, "packing", "oil_composition"])
        if name in found
    ]
    key = "worst" if worst is not None else "acid_to_base_eq"
    return sorted(rows, key=lambda row: -row.shares.get(key, row.shares.get("piece_g", (0.0, 0.0)))[1])


def _moves(plan: Plan, name: str) -> bool:
    """True when the source moves any line."""
    own = [column - len(AROUND) for column in plan.group(name)]
    return bool(np.any(plan.loads[own] != 0.0))


def _tell(found: dict[str, dict[str, tuple[float, float]]], what: str, names: list[str], results: Array) -> None:
    if not np.ptp(results) > 1e-12 * float(np.abs(results).max()):
        return
    first, total = shares_of(results)
    for name, s, t in zip(names, first, total, strict=True):
        # draws leave an index a little below nothing or above its total
        total_share = min(max(float(t), 0.0), 1.0)
        found.setdefault(name, {})[what] = (min(max(float(s), 0.0), total_share), total_share)
