"""Compose a recipe from a goal: the proven best, others nearly as good, what each demand costs, or which demands conflict."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.workshop import Workshop
from fizzwright.design import conflict
from fizzwright.design.alternatives import alternatives, differs
from fizzwright.design.certifying import document, lens_of, residue_window, settled_ph, weighed_mix
from fizzwright.design.composed import Answer, Composed, Conflict, Easing, Progress, Promise
from fizzwright.design.demands import Lens
from fizzwright.design.goal import Goal
from fizzwright.design.pantry import Pantry, stocked
from fizzwright.design.programme import LINE, programme
from fizzwright.design.search import Clock, Found, finer, first_lens, searched
from fizzwright.design.shadows import shadows
from fizzwright.design.steps import Step
from fizzwright.wording import shown

MARGIN_STEPS = (0.0, 0.1, 0.2, 0.3, 0.4, 0.55, 0.7)
"""Shares by which the limits are kept clear of, one after another, until enough kitchens stay inside them."""
REDRAWN = 2
"""Times a wish that seems to conflict is drawn afresh: the first drawing guesses what the mix weighs and the binder it wants."""
PROVEN = 0.01
"""Gap below which the best counts as proven: what the step of a scale costs is no better recipe missed. So is less
than what one line more would weigh."""


def compose(
    goal: Goal,
    catalogue: Catalogue,
    workshop: Workshop | None,
    *,
    on_progress: Callable[[Progress], None] | None = None,
    stop: Callable[[], bool] | None = None,
    brief: bool = False,
) -> Composed:
    """The best recipe that keeps every demand of a goal, or the smallest set of demands that conflict.

    The proof is of amounts as fine as arithmetic, so it holds for spoons as well; where it leaves a gap of more than a
    hundredth and of more than a line weighs, as coarse spoons do, the answer is not called proven.
    on_progress is called while the search runs; `stop` is asked often, and when it says True the best so far is told.
    brief: only the answer or the conflict, without alternatives and shadows. The same goal gives the same answer, unless
    time ran out. RecipeRefused when the mould cannot be used.
    """
    clock = Clock(on_progress, stop)
    pantry = stocked(goal, catalogue, workshop)
    clock.tell("finding", f"{len(pantry.uses)} things to choose from")
    found, margin, chance = _found(pantry, clock)
    if found is None:
        return _none(pantry, clock)
    clock.best, clock.bound = found.objective, found.best.bound
    notes = [*pantry.notes, *_notes(found)]
    answer = _answer(pantry, found, chance)
    others: list[Answer] = []
    costs = []
    if not brief:
        lens = replace(found.drawn.lens, margin=margin)
        for other in alternatives(pantry, found, lens, clock):
            told = _answer(pantry, other, _chance(pantry, other))
            others.append(replace(told, differs=differs(pantry, found, other)))
        costs = shadows(found, clock)
    behind = answer.objective - found.best.bound
    nearest = goal.seek == "nearest"
    # at the end of a scale the gap is of that scale, not of the scent that is held before it
    gap = behind / max(abs(answer.objective if nearest else found.best.solved.objective), 1.0 if nearest else 1e-6)
    near = gap <= PROVEN or (nearest and behind <= LINE)
    proven = found.best.solved.status == "optimal" and near and all(p.holds for p in answer.promises)
    return Composed(
        answer=answer,
        bound=found.best.bound,
        gap=max(gap, 0.0),
        is_proven=proven,
        stopped=clock.stopped or found.best.solved.status == "stopped",
        alternatives=tuple(others),
        shadows=tuple(costs),
        rounds=found.rounds,
        solver_seconds=clock.solver_s,
        total_seconds=clock.spent,
        notes=tuple(notes),
    )


def _found(pantry: Pantry, clock: Clock) -> tuple[Found | None, float, float | None]:
    """The best recipe, the margin it keeps from the limits, and the chance of kitchens inside them where it was asked."""
    lens, wanted = first_lens(pantry), pantry.goal.chance
    last: tuple[Found | None, float, float | None] = (None, 0.0, None)
    for margin in MARGIN_STEPS if wanted is not None else (0.0,):
        found = searched(pantry, replace(lens, margin=margin), clock)
        for _ in range(REDRAWN if margin == 0.0 else 0):
            if found is not None or clock.ends() or (nearest := _nearest_lens(pantry, clock)) is None:
                break
            found = searched(pantry, nearest, clock)
        if found is None:
            return last
        if pantry.goal.measured_in == "spoons":
            found = finer(found, clock)
        chance = _chance(pantry, found)
        last = found, margin, chance
        if chance is None or wanted is None or chance >= wanted or clock.ends():
            return last
        clock.tell(
            "checking", f"{shown(100 * chance, 3)} % of kitchens stay inside every limit; keeping clearer of them"
        )
        lens = found.drawn.lens
    return last


def _nearest_lens(pantry: Pantry, clock: Clock) -> Lens | None:
    """The lens round the recipe that comes nearest to all the wishes; None where even what is no wish cannot be kept."""
    lens = clock.failed or first_lens(pantry)
    drawn = programme(pantry, lens)
    kept = frozenset(i for i, demand in enumerate(drawn.demands) if demand.kind != "wish")
    solved = clock.solve(conflict.elastic(drawn, drawn.demands, kept)[0], "conflict")
    if solved.x is None:
        return None
    grams = solved.x[: drawn.n]
    steps = {i: Step(f"{grams[i]:.3f} g", float(grams[i]), 1) for i in drawn.used(solved.x) if grams[i] >= 0.001}
    return lens_of(pantry, weighed_mix(pantry, document(pantry, steps)), grams, lens)


def _chance(pantry: Pantry, found: Found) -> float | None:
    """Share of kitchens that stay inside every limit; None where the goal does not ask."""
    if pantry.goal.chance is None:
        return None
    from fizzwright.review.kitchens import inside

    return float(inside(found.certified.mix, pantry.catalogue).chance)


def _answer(pantry: Pantry, found: Found, chance: float | None) -> Answer:
    certified = found.certified
    promises = list(certified.promises)
    figures = dict(certified.figures)
    if chance is not None and pantry.goal.chance is not None:
        asked = f"inside every limit in {shown(100 * pantry.goal.chance, 4)} % of kitchens"
        promises.append(Promise("kitchens.chance", asked, f"{shown(100 * chance, 4)} %", chance >= pantry.goal.chance))
        figures["chance"] = chance
    return Answer(
        text=certified.text,
        grams={pantry.uses[i]: step.grams for i, step in sorted(found.steps.items())},
        objective=found.objective,
        cost_piece_minor=certified.cost_piece_minor,
        unpriced=certified.unpriced,
        promises=tuple(promises),
        figures=figures,
    )


def _notes(found: Found) -> list[str]:
    notes = [f"The true model does not keep: {p.demand} ({p.asked}; got {p.got})." for p in found.certified.broken]
    rest = found.objective - found.best.objective
    if rest > max(PROVEN * abs(found.objective), LINE):
        notes.append(
            "The proof is of the amounts as fine as arithmetic; what can be measured comes a little behind it."
        )
    return notes


def _none(pantry: Pantry, clock: Clock) -> Composed:
    """No recipe: the conflict, or nothing when the search was stopped before it could tell."""
    clock.tell("conflict", "no recipe keeps every demand; looking for the smallest set that conflicts")
    told: Conflict | None = None
    if not clock.ends():
        lens = _lens_for_conflict(pantry, clock)
        drawn = programme(pantry, lens)
        told = conflict.told(
            drawn, lambda model: clock.solve(model, "conflict"), lambda x: float(settled_ph(pantry, x[: drawn.n]))
        )
    notes = list(pantry.notes)
    if told is None and not clock.ends():
        told = _unmeasured(pantry, clock)
        if told is None:
            notes.append(
                "Recipes were found that keep every demand by the gram, but none that still does once it is measured and reviewed in "
                "full. Widen a window a little, the pH first, or measure in grams."
            )
    return Composed(
        answer=None,
        bound=None,
        gap=None,
        is_proven=told is not None,
        stopped=clock.stopped,
        conflict=told,
        solver_seconds=clock.solver_s,
        total_seconds=clock.spent,
        notes=tuple(notes),
    )


def _unmeasured(pantry: Pantry, clock: Clock) -> Conflict | None:
    """That only the spoons stand in the way; None when the scale does not help either."""
    if pantry.goal.measured_in != "spoons":
        return None
    goal = replace(pantry.goal, measured_in="grams")
    by_scale = stocked(goal, pantry.catalogue, pantry.workshop)
    if searched(by_scale, first_lens(by_scale), clock) is None:
        return None
    words = "measured with the spoons in the drawer: no choice of them comes inside the other demands"
    easing = Easing(
        "amounts.in", "Measured on a scale a recipe can be found; so it may with more spoons.", 1.0, "way to measure"
    )
    return Conflict(("amounts.in",), (words,), (easing,))


def _lens_for_conflict(pantry: Pantry, clock: Clock) -> Lens:
    """The lens round the nearest recipe that leaves the pH aside, so that the pH demand is judged where recipes lie."""
    lens = clock.failed or first_lens(pantry)
    if pantry.goal.ph_settled.is_open or not lens.residue.is_open:
        return lens
    drawn = programme(pantry, lens)
    kept = [d for d in drawn.demands if d.key != "water.ph_settled"]
    solved = clock.solve(drawn.with_rows(kept, drawn.cost()), "conflict")
    grams = solved.x[: drawn.n] if solved.x is not None else usual(pantry)
    return replace(lens, residue=residue_window(pantry, grams, pantry.goal.ph_settled))


def usual(pantry: Pantry) -> np.ndarray:
    """The usual two to one of bicarbonate and citric acid, where no other composition is known."""
    grams = np.zeros(len(pantry.uses))
    for use, share in (("sodium_bicarbonate", 0.52), ("citric_acid", 0.26)):
        if use in pantry.uses:
            grams[pantry.uses.index(use)] = share * pantry.batch_g
    fills = float(pantry.pieces @ grams)
    return grams * pantry.count / fills if fills > 0 else grams
