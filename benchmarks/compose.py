"""Compose fifty random wishes from 60 materials and 40 oils: time to a proven best, and what of it is the solver's own."""

from __future__ import annotations

import statistics
import time
from dataclasses import replace

import numpy as np

from fizzwright.catalogue import Catalogue, open_workshop
from fizzwright.demo import folder
from fizzwright.design.composing import compose
from fizzwright.design.goal import Goal, ScentWish, Window
from fizzwright.design.pantry import SHELF, is_clay
from fizzwright.design.profiles import families
from fizzwright.recipe.model import Makes

WISHES, MATERIALS, OILS = 50, 60, 40
FAMILIES = ("citrus", "floral", "woody", "herbal", "spicy", "minty")
MOULDS = ("sphere_50", "sphere_65", "sphere_70")


def shelf(catalogue: Catalogue) -> Catalogue:
    """The catalogue cut to so many materials a fizzer is made of, and so many oils."""
    usual = [m for m in catalogue.materials.values() if m.function in SHELF or is_clay(m)]
    others = [m for m in catalogue.materials.values() if m not in usual]
    materials = {m.id: m for m in (*usual, *others)[:MATERIALS]}
    wanted = [oil for oil in catalogue.oils.values() if set(families(oil)) & set(FAMILIES)]
    return replace(catalogue, materials=materials, oils={oil.id: oil for oil in wanted[:OILS]})


def wish(rng: np.random.Generator) -> Goal:
    """A wish such as a maker may have: a mould, one to three families, and a window or two."""
    chosen = rng.choice(FAMILIES, size=int(rng.integers(1, 4)), replace=False)
    low = float(rng.uniform(5, 18))
    least = float(rng.uniform(0.1, 0.5))
    return Goal(
        name="Wish",
        sold_in=("uk",),
        makes=Makes(str(rng.choice(MOULDS)), int(rng.integers(2, 10))),
        filler_pct=Window(low, low + 8.0) if rng.random() < 0.5 else Window(),
        clay_pct=Window(2.0, 6.0) if rng.random() < 0.3 else Window(),
        ph_settled=Window(8.0, 8.5) if rng.random() < 0.3 else Window(),
        scent=ScentWish(
            families={str(name): float(rng.integers(1, 5)) for name in chosen}, total_pct=Window(least, least + 0.4)
        ),
        cost_most_minor=int(rng.integers(60, 200)) if rng.random() < 0.3 else None,
        seek=str(rng.choice(["nearest", "nearest", "cheapest", "most_fizz", "most_scent"])),
    )


def main() -> None:
    """Asked: median at most 2 s to a proven best, and at most 1.5 times the solver's own time beside it."""
    whole, workshop = open_workshop(folder())
    catalogue, rng = shelf(whole), np.random.default_rng(5)
    times, beside, proven, conflicts, slowest = [], [], 0, 0, 0.0
    for i in range(WISHES + 1):
        began = time.perf_counter()
        found = compose(wish(rng), catalogue, workshop, brief=True)
        spent = time.perf_counter() - began
        if i == 0:  # the first one warms what is kept
            continue
        times.append(spent)
        beside.append((spent - found.solver_seconds) / max(found.solver_seconds, 1e-9))
        proven += found.is_proven
        conflicts += found.answer is None
        slowest = max(slowest, spent)
    print(
        f"compose, {len(catalogue.materials)} materials and {len(catalogue.oils)} oils, {WISHES} random wishes: median "
        f"{statistics.median(times):.2f} s (asked at most 2), slowest {slowest:.1f} s; {proven} proven, {conflicts} of them "
        f"conflicts; beside the solver's own time {statistics.median(beside):.2f} times it (asked at most 1.5)"
    )


if __name__ == "__main__":
    main()
