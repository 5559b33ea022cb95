"""A quick word on a goal while it is being written: can all of it hold, or what conflicts?"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.workshop import Workshop
from fizzwright.design.certifying import residue_window
from fizzwright.design.composed import Conflict
from fizzwright.design.composing import compose, usual
from fizzwright.design.conflict import can_hold
from fizzwright.design.goal import Goal
from fizzwright.design.pantry import stocked
from fizzwright.design.programme import programme
from fizzwright.design.search import Clock, first_lens


@dataclass(frozen=True, slots=True)
class Glimpse:
    """What a quick look tells."""

    holds: bool | None
    """True when the programme knows a recipe that keeps every demand; None when it was stopped before it could tell."""
    conflict: Conflict | None = None


def glimpse(
    goal: Goal, catalogue: Catalogue, workshop: Workshop | None, *, stop: Callable[[], bool] | None = None
) -> Glimpse:
    """Any recipe that keeps every demand, not the best one, and without the full review; else the smallest conflict."""
    clock = Clock(None, stop)
    pantry = stocked(goal, catalogue, workshop)
    # which base may be left over for a pH depends a little on the rest; the whole search goes by the recipe it finds
    residue = residue_window(pantry, usual(pantry), goal.ph_settled)
    drawn = programme(pantry, replace(first_lens(pantry), residue=residue))
    if can_hold(drawn, drawn.demands, lambda model: clock.solve(model, "finding")) is not None:
        return Glimpse(True)
    if clock.ends():
        return Glimpse(None)
    found = compose(goal, catalogue, workshop, stop=stop, brief=True)
    return Glimpse(True if found.answer else None if found.conflict is None else False, found.conflict)
