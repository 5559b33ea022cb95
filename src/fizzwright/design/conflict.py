"""Why no recipe keeps every demand: a smallest set of them that cannot all hold, and the least that would mend it."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from fizzwright.design.composed import Conflict, Easing
from fizzwright.design.demands import Demand
from fizzwright.design.programme import Programme
from fizzwright.design.solving import INFINITE, Model, Row, Solved
from fizzwright.wording import listed, money_text, shown

Array = NDArray[np.float64]
Solve = Callable[[Model], Solved]

WEIGHTS = {"wish": 1.0, "law": 1.01, "house": 1.02}
"""Of two sets as small as each other the one in the maker's own words is told."""
BROKEN = 1e-5
"""Slack above which a demand counts as not kept."""
STEPS = 6
"""Steps of Dinkelbach's method towards the least easing."""
DIGITS = 3
ROOM = 0.005
"""Share by which an easing is told wider than arithmetic needs, so that amounts a scale can measure fit it too."""
HOUSE_KEYS = {
    "house.acid_to_base": "[fizz] acid_to_base",
    "house.filler_pct": "[feel] filler_pct",
    "house.oil_pct": "[feel] oil_pct",
    "house.foam_pct": "[feel] foam_pct",
    "house.total_pct": "[scent] total_pct",
}
"""Where a goal says what the house else takes from common practice."""


def smallest(drawn: Programme, demands: Sequence[Demand], solve: Solve) -> tuple[Demand, ...] | None:
    """A smallest set of demands that no recipe keeps together; None when all can be kept, or the search was stopped.

    By hitting sets (Ignatiev and others 2015, "Smallest MUS extraction with minimal hitting set dualization"): what can be
    broken to mend all others must be hit by every set that conflicts, so the least set that hits all known ones and still
    conflicts is a smallest. Empty when nothing at all can be composed, whatever is asked.
    """
    corrections: list[frozenset[int]] = []
    while True:
        held = _hitting(demands, corrections, solve)
        if held is None:
            return None
        broken = _broken(drawn, demands, held, solve)
        if broken is None:
            return tuple(demands[i] for i in sorted(held))
        if not broken:
            return None
        corrections.append(broken)


def _hitting(demands: Sequence[Demand], sets: Sequence[frozenset[int]], solve: Solve) -> frozenset[int] | None:
    """The lightest choice of demands that has one of each set."""
    if not sets:
        return frozenset()
    model = Model()
    for demand in demands:
        model.column(0, 1, WEIGHTS[demand.kind], whole=True)
    model.rows = [Row.of(dict.fromkeys(own, 1.0), low=1.0) for own in map(sorted, sets)]
    solved = solve(model)
    return None if solved.x is None else frozenset(int(i) for i in np.flatnonzero(solved.x > 0.5))


def _broken(drawn: Programme, demands: Sequence[Demand], held: Iterable[int], solve: Solve) -> frozenset[int] | None:
    """Demands that must give way, at least cost, when these are held; None when these alone cannot be kept."""
    model, slacks = elastic(drawn, demands, frozenset(held))
    solved = solve(model)
    if solved.status == "stopped" and solved.x is None:
        return frozenset()
    if solved.x is None:
        return None
    return frozenset(i for i, column in slacks.items() if solved.x[column] > BROKEN)


def elastic(drawn: Programme, demands: Sequence[Demand], held: frozenset[int]) -> tuple[Model, dict[int, int]]:
    """The programme with every demand but the held ones let go at a cost, and the column of each slack."""
    model = drawn.model.copy()
    model.cost = [0.0] * len(model.cost)
    slacks: dict[int, int] = {}
    for i, demand in enumerate(demands):
        if i in held:
            model.rows += demand.rows
            continue
        slack = slacks[i] = model.column(0.0, INFINITE, 1.0)
        for row in demand.rows:
            for sign, end in ((-1.0, row.high), (1.0, row.low)):
                if math.isfinite(end):
                    columns = np.append(row.columns, np.int32(slack))
                    low, high = (-INFINITE, end) if sign < 0 else (end, INFINITE)
                    model.rows.append(Row(columns, np.append(row.values, sign), low, high))
    return model, slacks


def can_hold(drawn: Programme, demands: Sequence[Demand], solve: Solve) -> Array | None:
    """A recipe that keeps these demands; None when there is none."""
    found = solve(drawn.with_rows(demands, np.zeros(len(drawn.model.cost))))
    return None if found.status != "optimal" else found.x


def told(drawn: Programme, solve: Solve, ph_of: Callable[[Array], float]) -> Conflict | None:
    """The smallest conflict of a programme in words, with the least easing of each of its demands.

    ph_of: the settled pH of a solution, for the demand whose rows speak of what pH comes from.
    """
    demands = drawn.demands
    core = smallest(drawn, demands, solve)
    if core is None:
        return None
    easings = []
    for demand in core:
        rest = [other for other in demands if other is not demand]
        start = can_hold(drawn, rest, solve)
        apart = start is None
        if apart:
            rest = [other for other in core if other is not demand]
            start = can_hold(drawn, rest, solve)
        if start is None:
            continue
        easing = _easing(drawn, demand, rest, start, solve, ph_of)
        if easing is not None:
            more = " That mends this conflict; another one then remains." if apart else ""
            easings.append(Easing(easing.demand, easing.text + more, easing.amount, easing.unit, easing.side))
    return Conflict(tuple(d.key for d in core), tuple(d.words for d in core), tuple(easings))


def _easing(
    drawn: Programme,
    demand: Demand,
    rest: Sequence[Demand],
    start: Array,
    solve: Solve,
    ph_of: Callable[[Array], float],
) -> Easing | None:
    if demand.kind == "law" or (demand.kind == "house" and demand.key not in HOUSE_KEYS):
        return None
    if not demand.quantities:
        return _let_go(drawn, demand, rest, solve)
    found = least(drawn, demand, rest, start, solve)
    value, window = demand.value(found), demand.window
    below = window.low is not None and value < window.low
    side = "low" if below else "high"
    if demand.key == "water.ph_settled":
        own, value = drawn.pantry.goal.ph_settled, ph_of(found)
        # more base left over is a higher pH, so the end that gives way is the same
        asked = own.low if below else own.high
        value = _outward(value, below, 2)
        text = f"{demand.words}: {'at least' if below else 'at most'} {value:g} would do."
        return Easing(demand.key, text, abs(value - (asked or 0.0)), "pH", side)
    asked = window.low if below else window.high
    unit = demand.quantities[0].unit
    value = _outward(value * (1.0 - ROOM if below else 1.0 + ROOM), below, DIGITS)
    if unit.endswith("minor a piece"):
        value = float(math.ceil(value))
    elif unit == "oils":
        value = float(round(value))
    text = f"{demand.words}: {'at least' if below else 'at most'} {_in_words(drawn, value, unit)} would do."
    if demand.kind == "house":
        text += f" Say so in the goal: {HOUSE_KEYS[demand.key]}."
    return Easing(demand.key, text, abs(value - (asked or 0.0)), unit, side)


def _in_words(drawn: Programme, value: float, unit: str) -> str:
    if unit.endswith("minor a piece") and drawn.pantry.workshop is not None:
        return f"{money_text(value, drawn.pantry.workshop.currency)} a piece"
    return f"{shown(value, DIGITS)} {unit}"


def _outward(value: float, down: bool, digits: int) -> float:
    """Rounded so that what was found still fits."""
    if value == 0.0 or not math.isfinite(value):
        return value
    step = 10.0 ** (math.floor(math.log10(abs(value))) - digits + 1)
    return step * (math.floor(value / step + 1e-9) if down else math.ceil(value / step - 1e-9))


def least(drawn: Programme, demand: Demand, rest: Sequence[Demand], start: Array, solve: Solve) -> Array:
    """The recipe that keeps the rest and comes nearest to a demand's window, in the demand's own unit."""
    best, value = start, demand.value(start)
    below = demand.window.low is not None and value < demand.window.low
    for _ in range(STEPS):
        model = drawn.with_rows(rest, np.zeros(len(drawn.model.cost)))
        away = model.column(-INFINITE, INFINITE, -1.0 if below else 1.0)
        # all of several quantities must come up to the low end; above, the first is enough
        for quantity in demand.quantities if below else demand.quantities[:1]:
            weights = quantity.num - value * quantity.den
            row = np.zeros(len(model.cost))
            row[: len(weights)] = weights
            row[away] = -1.0
            model.rows.append(Row.dense(row, low=0.0) if below else Row.dense(row, high=0.0))
        solved = solve(model)
        if solved.x is None:
            break
        fresh = demand.value(solved.x)
        if (fresh <= value) if below else (fresh >= value):
            break
        near = abs(fresh - value) <= 1e-6 * max(abs(value), 1.0)
        best, value = solved.x, fresh
        if near:
            break
    return best


def _let_go(drawn: Programme, demand: Demand, rest: Sequence[Demand], solve: Solve) -> Easing | None:
    """What must be let in, or done without, when a demand that bounds no number gives way."""
    if demand.key == "stock.only":
        return _bought(drawn, demand, rest, solve)
    kept = drawn.with_rows(rest, np.zeros(len(drawn.model.cost)))
    if demand.key.startswith("avoid."):
        kept.cost = [0.0] * len(kept.cost)
        uses = [i for i, use in enumerate(drawn.pantry.uses) if use in drawn.pantry.avoided[demand.key]]
        for i in uses:
            kept.cost[drawn.n + i] = 1.0
        solved = solve(kept)
        if solved.x is None:
            return None
        needed = [drawn.pantry.entries[i].name for i in uses if solved.x[drawn.n + i] > 0.5]
        return Easing(
            demand.key, f"{demand.words}: letting in {listed(needed)} would do.", float(len(needed)), "materials"
        )
    return Easing(demand.key, f"{demand.words}: doing without it would do.", 1.0, "materials")


def _bought(drawn: Programme, demand: Demand, rest: Sequence[Demand], solve: Solve) -> Easing | None:
    """The least that must be bought."""
    model = drawn.with_rows(rest, np.zeros(len(drawn.model.cost)))
    bought: dict[int, int] = {}
    for i, held in enumerate(drawn.pantry.stock_g):
        if np.isfinite(held):
            bought[i] = model.column(0.0, INFINITE, 1.0)
            model.rows.append(Row.of({i: 1.0, bought[i]: -1.0}, high=float(held)))
    solved = solve(model)
    if solved.x is None:
        return None
    grams = {i: float(solved.x[column]) for i, column in bought.items() if solved.x[column] > BROKEN}
    words = listed(
        f"{shown(_outward(g, False, DIGITS), DIGITS)} g of {drawn.pantry.entries[i].name}" for i, g in grams.items()
    )
    return Easing(demand.key, f"{demand.words}: with {words} more it would do.", sum(grams.values()), "g")
