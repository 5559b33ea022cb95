"""Hand-made outcomes of composing, so that the page can be tried without the solver."""

from __future__ import annotations

from typing import Any

from fizzwright.demo import folder
from fizzwright.design.composed import Answer, Composed, Conflict, Easing, Progress, Promise, Shadow
from fizzwright.design.glimpse import Glimpse
from fizzwright.design.goal import Goal

WISH = {"name": "Harbour Light", "kind": "fizzer", "audience": "adult", "mould": "sphere_65", "count": "6",
        "smell_1": "citrus", "smell_2": "woody", "smell_3": "", "seek": "nearest", "amounts": "grams",
        "limits_by": "worst", "measures": "us"}  # fmt: skip


def answer(cost: float = 41.0, differs: str = "", gas_l: float = 6.8, pct: float = 0.6) -> Answer:
    text = (folder() / "recipes/orchard_rain.toml").read_text(encoding="utf-8")
    figures = {
        "acid_to_base_eq": 0.9,
        "gas_l": gas_l,
        "ph_settled": 7.1,
        "essential_oil_pct": pct,
        "share_of_limit": pct / 2,
    }
    promises = (
        Promise("scent.families", "citrus three parts, woody two", "citrus 61 %, woody 39 %", True),
        Promise("cost.piece_at_most", "at most £0.45 a piece", "£0.41", True),
    )
    return Answer(text, {}, 0.02, cost, (), promises, figures, differs)


def answered(*, stopped: bool = False) -> Composed:
    others = (
        answer(44, "Oat in place of starch"),
        answer(39, "No cardamom"),
        answer(47, "Cream of tartar in place of some acid"),
    )
    shadows = (Shadow("cost.piece_at_most", "5 % more money would bring the scent nearer by 2 %.", 0.01),)
    return Composed(answer(), 0.02, 0.0, not stopped, stopped, others, shadows, rounds=2, total_seconds=1.2)


def in_conflict() -> Composed:
    conflict = Conflict(
        ("cost.piece_at_most", "water.ph_settled", "avoid.allergens.Limonene"),
        ("Materials cost at most £0.10 a piece.", "The bath settles at pH 6.8 to 7.0.", "Limonene needs no word."),
        (
            Easing("cost.piece_at_most", "Let a piece cost up to £0.17.", 7, "GBP minor"),
            Easing("water.ph_settled", "Let the bath settle as high as pH 7.3.", 0.3, "", "high"),
            Easing("avoid.allergens.Limonene", "Let Limonene be declared.", 1, ""),
            Easing("limit.ifra.citral", "No box can ease this one.", 1, "%"),
            Easing("with.materials.kaolin", "Do without kaolin.", 1, "materials"),
            Easing("amounts.in", "Measure on a scale.", 1, "way to measure"),
            Easing("avoid.groups.nuts", "Let nuts in.", 1, "materials"),
            Easing("scent.most_oils", "Let in one more oil.", 1, "oils", "high"),
            Easing("feel.hardness_at_least", "Let it be softer.", 1, "of 10", "low"),
        ),
    )
    return Composed(None, None, None, True, False, conflict=conflict)


def by_hand(goal: Goal, bench: Any, say: Any = None, stop: Any = None, brief: bool = False) -> Composed:
    """Composes without composing: what a piece may cost decides."""
    if say:
        say(Progress("finding", "Looking among 41 materials", 0.04, 0.01, 0.3))
    if goal.cost_most_minor is not None and goal.cost_most_minor < 20 and goal.seek != "cheapest":
        return in_conflict()
    if goal.seek == "cheapest":
        gas_l = goal.gas_l.low or 4.0
        return Composed(answer(20 + 40 * (gas_l - 4.0), gas_l=gas_l), 0.0, 0.0, True, False)
    if goal.seek == "most_fizz":
        return Composed(answer(80, gas_l=5.5), 0.0, 0.0, True, False)
    if goal.seek == "most_scent":
        return Composed(answer(pct=min(1.4, 2 * goal.limit_share)), 0.0, 0.0, True, False)
    return answered()


def glimpsed(goal: Goal, bench: Any, stop: Any) -> Glimpse:
    """The quick look by hand."""
    found = by_hand(goal, bench)
    return Glimpse(found.answer is not None, found.conflict)
