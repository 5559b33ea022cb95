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
    grams = [grams_at(plan, half) for half in normals]
    for name in names:
        crossed = normals[0].copy()
        own = [column - around for column in plan.group(name)]
        crossed[:, own] = normals[1][:, own]
        grams.append(grams_at(plan, crossed))
    all_g = np.stack(grams)
    found: dict[str, dict[str, tuple[float, float]]] = {}
    mix = plan.mix

    ratio = np.asarray(acid_to_base_eq(all_g, mix), dtype=float)
    if np.isfinite(ratio).all() and (ratio > 0).all():
        _tell(found, "acid_to_base_eq", names, ratio)
    if mix.mould_volume_ml is not None and mix.recipe.kind != "powder":
        phi = [solid_fraction_at(half[:, AROUND.index("packing")]) for half in (one, other)]
        # all pressed as in the first half; the second half as itself; the first half once more as in the second
        pressed = np.stack([*(phi[1 if i == 1 else 0] for i in range(len(all_g))), phi[1]])
        _tell(
            found,
            "piece_g",
            [*names, "packing"],
            packed_density(mix, np.concatenate([all_g, all_g[:1]]), pressed) * mix.mould_volume_ml,
        )
    if worst is not None:
        oils = [drawn_oils(plan, half[:, plan.normals :]) for half in (one, other)]
        cured = np.asarray(cured_g(mix, all_g))

        def level(grams_: Array, cured_: Array, half: int) -> Array:
            total = np.zeros(count)
            for part in worst.level.parts:
                shares = oils[half].get(part.line)
                pct = shares.of(part.of) if shares is not None and part.of in shares.names else part.typical_pct
                total = total + grams_[:, part.line] * pct
            return np.asarray(total / cured_)

        levels = [level(g, c, 1 if i == 1 else 0) for i, (g, c) in enumerate(zip(all_g, cured, strict=True))]
        levels.append(level(all_g[0], cured[0], 1))
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
