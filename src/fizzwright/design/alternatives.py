"""Other recipes nearly as good: each without at least one main material or scent of every one before it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from fizzwright.design.certifying import Certified
from fizzwright.design.demands import Lens
from fizzwright.design.pantry import Pantry
from fizzwright.design.programme import MATCH, Programme
from fizzwright.design.search import Clock, Found, searched
from fizzwright.design.solving import Row
from fizzwright.wording import listed, money_text, shown

Array = NDArray[np.float64]

HOW_MANY = 3
MAIN_PCT = 1.0
"""Our own choice: percent of the mix from which a material is a main one; every oil is."""
STANDING = ("binder_liquid", "base", "solubiliser", "emulsifier", "carrier_oil", "solid_fat")
"""Functions whose exchange makes no other recipe to a maker."""
NEARLY, NEARLY_POINTS = 0.25, 3.0
"""Our own choice: an alternative may be worse by a quarter of the objective, or by so many points of it."""
MINOR_TOLD = 0.5
GAS_TOLD, MATCH_TOLD = 0.1, 1.0
"""Differences from which a figure is worth a word: minor units and litres a piece, points of scent."""


def main_uses(pantry: Pantry, found: Found) -> frozenset[str]:
    """What a recipe is known by: its scents, and materials of a percent or more that other things could stand in for."""
    total = sum(step.grams for step in found.steps.values())
    return frozenset(
        pantry.uses[i]
        for i, step in found.steps.items()
        if pantry.functions[i] == "scent"
        or (100.0 * step.grams / total >= MAIN_PCT and pantry.functions[i] not in STANDING)
    )


def room_of(best: Found) -> float:
    """The worst objective an alternative may have."""
    return best.best.objective + max(NEARLY * abs(best.best.objective), NEARLY_POINTS)


def alternatives(pantry: Pantry, best: Found, lens: Lens, clock: Clock) -> list[Found]:
    """At most three more certified recipes, each different from all before it and none worse than the room there is."""
    found = [best]
    most = room_of(best)
    for _ in range(HOW_MANY):
        if clock.ends():
            break
        clock.tell("alternatives", f"looking for another recipe nearly as good ({len(found)} of {HOW_MANY})")
        mains = [main_uses(pantry, other) for other in found]

        def cuts(drawn: Programme, mains: Sequence[frozenset[str]] = tuple(mains)) -> list[Row]:
            rows = [
                Row.of({drawn.n + i: 1.0 for i, use in enumerate(pantry.uses) if use in own}, high=len(own) - 1.0)
                for own in mains
            ]
            if drawn.off_wish.any():
                # the wish may be missed by what the room allows, in points of the objective
                share = (most - best.best.objective) / MATCH + best.best.off_bound
                rows.append(Row.dense(0.5 * drawn.off_wish - (share + 0.05) * drawn.scent, high=0.0))
            return rows

        other = searched(pantry, lens, clock, cuts, best.best.off_bound)
        if other is None or other.best.objective > most or other.certified.broken:
            break
        found.append(other)
    return found[1:]


def differs(pantry: Pantry, best: Found, other: Found) -> str:
    """How another recipe differs from the best, in a sentence."""
    had, has = ({line.id for line in found.certified.mix.lines} for found in (best, other))
    name = {use: entry.name for use, entry in zip(pantry.uses, pantry.entries, strict=True)}
    new, gone = ([name[use] for use in pantry.uses if use in here - there] for here, there in ((has, had), (had, has)))
    said = []
    if new and gone:
        said.append(f"{listed(new)} in place of {listed(gone)}")
    elif new:
        said.append(f"with {listed(new)}")
    elif gone:
        said.append(f"without {listed(gone)}")
    said += compared(pantry, best.certified, other.certified)
    text = "; ".join(said) + "."
    return text[:1].upper() + text[1:]


def compared(pantry: Pantry, best: Certified, other: Certified) -> list[str]:
    """What it costs, fizzes and smells more or less."""
    said = []
    currency = pantry.workshop.currency if pantry.workshop is not None else ""
    if best.cost_piece_minor is not None and other.cost_piece_minor is not None:
        more = other.cost_piece_minor - best.cost_piece_minor
        if abs(more) >= MINOR_TOLD:
            said.append(f"{money_text(abs(more), currency)} a piece {'dearer' if more > 0 else 'cheaper'}")
    for key, least, unit in (
        ("gas_l", GAS_TOLD, "l of gas a piece"),
        ("scent_match_pct", MATCH_TOLD, "points of the scent as wished"),
    ):
        more = other.figures.get(key, 0.0) - best.figures.get(key, 0.0)
        if abs(more) >= least:
            said.append(f"{shown(abs(more))} {unit} {'more' if more > 0 else 'less'}")
    return said
