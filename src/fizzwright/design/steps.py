"""From grams as the programme finds them to what a kitchen can measure: steps of a scale, spoons, drops and sprays."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from fizzwright.catalogue.model import Material
from fizzwright.design.pantry import Pantry
from fizzwright.design.solving import Model, Row
from fizzwright.plan.spoons import weighed
from fizzwright.recipe.amounts import format_number, parse_amount
from fizzwright.recipe.measures import density, drop_ml, spray_ml, unit_ml
from fizzwright.recipe.weigh import SCALES_G

Array = NDArray[np.float64]

FULL_DRAWER = ("1 cup", "1/2 cup", "1/3 cup", "1/4 cup", "1 tbsp", "1 tsp", "1/2 tsp", "1/4 tsp", "1/8 tsp")
SCOOPS_AT_MOST = 8
"""More scoops of one thing are miscounted."""
NEAR = 4
"""Steps of the scale to either side of the grams found that are tried."""
OFFERED = 14
"""Measures nearest to the grams found that are tried for each line."""
APART = 0.05
"""Share by which two amounts differ that are worth telling apart."""
WIDE = (0.6, 1.6)
"""Times the grams found between which other spoons are tried."""
SPRAYS_AT_MOST = 40
DROPS_AT_MOST = 60
SCOOP = 0.004
"""Our own choice: what a scoop weighs beside common practice, so that of two like recipes the one sooner measured wins."""


@dataclass(frozen=True, slots=True)
class Step:
    """One amount that can be measured."""

    text: str
    grams: float
    scoops: int


@lru_cache(maxsize=32)
def _sums(sizes: tuple[Fraction, ...]) -> Mapping[Fraction, int]:
    """Every number of a unit that these measures of it add up to, with the fewest scoops."""
    found: dict[Fraction, int] = {Fraction(0): 0}
    edge = [Fraction(0)]
    for scoops in range(1, SCOOPS_AT_MOST + 1):
        edge = list(dict.fromkeys(number + size for number in edge for size in sizes if number + size not in found))
        found |= dict.fromkeys(edge, scoops)
    del found[Fraction(0)]
    return found


def _spoonfuls(pantry: Pantry, place: int) -> list[Step]:
    """What the drawer holds of one material, in one unit at a time, as a recipe writes it."""
    entry, system = pantry.entries[place], pantry.goal.measures
    by_unit: dict[str, list[Fraction]] = {}
    for label in pantry.goal.spoons or FULL_DRAWER:
        amount = parse_amount(label)
        if amount.number:
            by_unit.setdefault(amount.unit, []).append(amount.number)
    g_ml = density(entry, None).g_ml
    steps = []
    for unit, sizes in by_unit.items():
        each = unit_ml(unit, system, pantry.catalogue).ml * g_ml
        for number, scoops in _sums(tuple(sorted(sizes))).items():
            steps.append(Step(f"{format_number(number, decimal=False)} {unit}", float(number) * each, scoops))
    return steps


def any_spoon(pantry: Pantry, place: int, low: float, high: float) -> list[Step]:
    """The amounts the drawer holds between so many grams, a twentieth apart, those sooner measured first."""
    steps: list[Step] = []
    for step in sorted(_spoonfuls(pantry, place), key=lambda s: (s.scoops, s.text)):
        if low <= step.grams <= high and all(abs(step.grams - k.grams) > APART * k.grams for k in steps):
            steps.append(step)
    return steps


def offers(pantry: Pantry, place: int, grams: float, fine: bool = False) -> list[Step]:
    """The amounts a kitchen can measure near so many grams; steps of the scale where no spoon comes near.

    fine: a tenth of the step, for the window or the bag that is too narrow for the scale.
    """
    entry = pantry.entries[place]
    steps: list[Step] = []
    if pantry.goal.measured_in == "spoons":
        if not isinstance(entry, Material):
            each = pantry.drop_g[place]
            count = round(grams / each)
            numbers = range(max(count - NEAR, 1), min(count + NEAR, DROPS_AT_MOST) + 1)
            steps = [Step(f"{n} drop{'s' if n > 1 else ''}", n * each, 1) for n in numbers]
            if count + NEAR > DROPS_AT_MOST:
                steps += _spoonfuls(pantry, place)
        else:
            steps = _spoonfuls(pantry, place)
            if entry.function == "binder_liquid":
                each = spray_ml(pantry.catalogue).ml * density(entry, None).g_ml
                steps += [Step(f"{n} spray{'s' if n > 1 else ''}", n * each, 2) for n in range(1, SPRAYS_AT_MOST + 1)]
            elif entry.is_liquid:
                each = drop_ml(entry, pantry.catalogue).ml * density(entry, None).g_ml
                steps += [Step(f"{n} drop{'s' if n > 1 else ''}", n * each, 3) for n in range(1, 16)]
        # of two that come to the same the one sooner measured
        best: dict[float, Step] = {}
        for step in sorted(steps, key=lambda s: (s.scoops, s.text)):
            best.setdefault(round(step.grams, 4), step)
        steps = sorted(best.values(), key=lambda s: abs(s.grams - grams))[:OFFERED]
        if steps and abs(steps[0].grams - grams) > 0.5 * grams:
            steps = []
    return steps or _scaled(pantry, grams, fine)


def _scaled(pantry: Pantry, grams: float, fine: bool) -> list[Step]:
    step_g = weighed(grams, pantry.workshop).step_g
    if pantry.workshop is None:
        step_g = next(step for least, step in SCALES_G if grams >= least)
    step_g = 0.1 * step_g if fine else step_g
    decimals = max(0, -math.floor(math.log10(step_g) + 1e-9))
    middle = round(grams / step_g)
    numbers = range(max(middle - NEAR, 1), middle + NEAR + 1)
    return [Step(f"{n * step_g:.{decimals}f} g", n * step_g, 1) for n in numbers]


Columns = dict[int, list[tuple[int, Step]]]


def on_steps(
    model: Model,
    pantry: Pantry,
    x: Array,
    used: tuple[int, ...],
    staples: tuple[int, ...] | None = None,
    fine: bool = False,
) -> tuple[Model, Columns]:
    """The model with its lines held to amounts that can be measured, and the column of each such amount.

    Only the used lines are kept. With `staples` every spoon within reach is tried, and these may come in as well.
    """
    n = len(pantry.uses)
    held = model.copy()
    columns: Columns = {}
    for i in range(n):
        held.whole[n + i] = False
        if i in used:
            held.low[n + i] = 1.0
            steps = offers(pantry, i, float(x[i]), fine)
            if staples is not None and pantry.drop_g[i] == 0.0:
                steps = any_spoon(pantry, i, WIDE[0] * float(x[i]), WIDE[1] * float(x[i])) or steps
        elif staples is not None and i in staples:
            steps = any_spoon(pantry, i, 0.0, held.high[i])
        else:
            held.high[n + i] = held.high[i] = 0.0
            continue
        worth = SCOOP if pantry.goal.measured_in == "spoons" else 0.0
        columns[i] = [(held.column(0, 1, worth * step.scoops, whole=True), step) for step in steps]
        held.rows.append(Row.of({n + i: -1.0} | {c: 1.0 for c, _ in columns[i]}, 0.0, 0.0))
        held.rows.append(Row.of({i: -1.0} | {c: step.grams for c, step in columns[i]}, 0.0, 0.0))
    return held, columns


def picked(x: Array, columns: Columns) -> dict[int, Step]:
    """The amount chosen for each line that is used."""
    best = {place: max(picks, key=lambda pick: x[pick[0]]) for place, picks in columns.items() if picks}
    return {place: step for place, (column, step) in best.items() if x[column] > 0.5}
