"""What each demand costs: the programme solved again with that demand eased a step, beside the programme with it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from fizzwright.design.certifying import residue_window
from fizzwright.design.composed import Shadow
from fizzwright.design.demands import Demand, gas_sides
from fizzwright.design.goal import Window
from fizzwright.design.programme import Programme
from fizzwright.design.search import Clock, Found, loose_of, off_share, scent_row, weighed_cost
from fizzwright.design.solving import Row
from fizzwright.wording import money_text, shown

Array = NDArray[np.float64]

BINDS = 0.002
"""Share of a window's end within which a demand counts as holding the recipe there: the step of a scale."""
PH_STEP = 0.1
STEPS = {"% of the piece": 1.0, "to 1": 0.05, "l of gas a piece": 0.5, "of 10": 1.0, "oils": 1.0}
"""By how much a demand is eased, in its own unit."""
SHARE_STEP = 0.05
"""The same for money and grams, as a share of what was asked."""
GAINS = 1e-4


def shadows(found: Found, clock: Clock) -> list[Shadow]:
    """A shadow for each number the maker asked for; those that hold nothing back have no gain."""
    drawn, x = found.drawn, found.best.solved.found
    cost = weighed_cost(drawn, x)
    held = [] if drawn.pantry.goal.seek == "nearest" else scent_row(drawn, found.best.off_bound + loose_of(drawn))
    base = clock.solve(drawn.with_rows(drawn.demands, cost, held), "shadows")
    if base.x is None:
        return []
    told = []
    for demand in drawn.demands:
        if demand.kind != "wish" or not demand.quantities:
            continue
        if clock.ends():
            break
        told.append(_shadow(found, demand, (cost, held), base.objective, base.x, clock))
    return told


def _binding(demand: Demand, x: Array) -> str:
    """Which end holds the recipe back: low, high or none."""
    value, window = demand.value(x), demand.window
    size = max(abs(value), *(abs(end) for end in (window.low, window.high) if end is not None), 1e-9)
    if window.high is not None and value >= window.high - BINDS * size:
        return "high"
    if window.low is not None and value <= window.low + BINDS * size:
        return "low"
    return ""


def _shadow(
    found: Found, demand: Demand, judged: tuple[Array, list[Row]], base: float, x: Array, clock: Clock
) -> Shadow:
    drawn = found.drawn
    end = _binding(demand, x)
    if not end:
        return Shadow(demand.key, f"{demand.words}: it holds nothing back; there is room to spare.", 0.0)
    eased, step = _eased(found, demand, end)
    clock.tell("shadows", f"what it costs: {demand.words}")
    others = [eased if other is demand else other for other in drawn.demands]
    solved = clock.solve(drawn.with_rows(others, *judged), "shadows")
    gain = 0.0 if solved.x is None else max(0.0, base - solved.objective)
    if solved.x is None or gain <= GAINS:
        return Shadow(demand.key, f"{demand.words}: with {step} nothing would be gained.", 0.0)
    return Shadow(demand.key, f"{demand.words}: with {step} {_better(drawn, x, solved.x)}.", gain)


def _eased(found: Found, demand: Demand, end: str) -> tuple[Demand, str]:
    """The demand a step easier, and the step in words."""
    drawn, pantry, window = found.drawn, found.drawn.pantry, demand.window
    if demand.key == "water.ph_settled":
        own = pantry.goal.ph_settled
        wider = (
            replace(own, high=(own.high or 0.0) + PH_STEP)
            if end == "high"
            else replace(own, low=(own.low or 0.0) - PH_STEP)
        )
        grams = np.zeros(drawn.n)
        for place, taken in found.steps.items():
            grams[place] = taken.grams
        at = wider.high if end == "high" else wider.low
        return demand.eased(residue_window(pantry, grams, wider)), f"a pH {'up' if end == 'high' else 'down'} to {at:g}"
    asked = (window.high if end == "high" else window.low) or 0.0
    unit = demand.quantities[0].unit
    step = STEPS.get(unit, SHARE_STEP * asked)
    if demand.key == "scent.total_pct":
        oils = [i for i in found.steps if pantry.functions[i] == "scent"]
        main = max(oils, key=lambda i: found.steps[i].grams)
        step = 100.0 * float(pantry.drop_g[main]) / float(drawn.pantry.cured @ found.best.solved.found[: drawn.n])
        word = "more" if end == "high" else "less"
        told = (
            f"one drop {word} of {pantry.entries[main].name} ({shown(asked + (step if end == 'high' else -step), 3)} %)"
        )
    elif unit.endswith("minor a piece"):
        currency = pantry.workshop.currency if pantry.workshop is not None else ""
        told = f"{money_text(asked + step, currency)} a piece"
    else:
        told = f"{'up' if end == 'high' else 'down'} to {shown(asked + (step if end == 'high' else -step), 3)} {unit}"
    new = replace(window, high=asked + step) if end == "high" else replace(window, low=max(asked - step, 0.0))
    return demand.eased(Window(new.low, new.high)), told


def _better(drawn: Programme, x: Array, eased: Array) -> str:
    """What the easing buys, in what a maker counts."""
    pantry, n = drawn.pantry, drawn.n
    said = []
    minor = np.nan_to_num(pantry.minor, nan=0.0)
    saved = float(minor @ (x[:n] - eased[:n])) / pantry.count
    if pantry.workshop is not None and abs(saved) >= 0.5:
        said.append(
            f"a piece would cost {money_text(abs(saved), pantry.workshop.currency)} {'less' if saved > 0 else 'more'}"
        )
    nearer = 100.0 * (off_share(drawn, x) - off_share(drawn, eased))
    if nearer >= 0.5:
        said.append(f"the scent would come {shown(nearer)} points nearer to the wish")
    gas = min(float(side @ eased[:n]) for side in gas_sides(pantry)) - min(
        float(side @ x[:n]) for side in gas_sides(pantry)
    )
    if abs(gas) / pantry.count >= 0.1:
        said.append(f"a piece would free {shown(abs(gas) / pantry.count)} l {'more' if gas > 0 else 'less'} gas")
    if not said or pantry.goal.seek == "nearest":
        said.append("the rest would come nearer to common practice")
    return " and ".join(said)
