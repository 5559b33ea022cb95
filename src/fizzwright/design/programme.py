"""The programme of a goal: grams and uses as columns, demands as rows, and what is best as cost."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fizzwright.catalogue.model import Fact
from fizzwright.design.demands import Demand, Draft, Lens, gas_sides
from fizzwright.design.goal import Goal, Window
from fizzwright.design.pantry import FEEL, Pantry
from fizzwright.design.solving import INFINITE, Model, Row
from fizzwright.design.wishes import SPARE, SPOON_SPARE, all_demands
from fizzwright.review.tap import span

Array = NDArray[np.float64]

LINE, NEARNESS, MONEY = 0.03, 0.15, 0.05
"""Our own choice: what a line more, a material out of the usual, and a piece of usual cost weigh beside a share that lies
half the usual range from the usual: simple and usual recipes win where nothing else decides."""
SECOND = 0.01
"""What nearness to common practice weighs where the goal seeks the end of one scale."""
MATCH = 100.0
"""Points of the objective for a scent that has nothing of the wish: the wish comes before common practice."""
SCENT_USUAL = {"adult": 1.0, "pregnancy": 0.5, "child_6_plus": 0.3, "child_2_plus": 0.3}
"""Times the usual scent (facts, comp_eo, typical): half in pregnancy and its least for children, as the review counts."""
CUPS = 2.0
"""How many times its usual most one line may hold where the goal itself asks for more of that kind."""


@dataclass(frozen=True)
class Programme:
    """A goal as columns, rows and costs, drawn through one lens."""

    pantry: Pantry
    lens: Lens
    model: Model
    """Columns and what a recipe is at all; no demand and no cost yet."""
    demands: tuple[Demand, ...]
    off_wish: Array
    """Twice the grams of scent that lie off the wish; shape columns, all zero where no scent is wished for."""
    scent: Array
    """Grams of scent."""
    practice: Array
    """Distance from common practice."""
    sought: Array
    """What the goal seeks, to be made small; zero for the nearest."""

    @property
    def n(self) -> int:
        """How many candidates there are."""
        return len(self.pantry.uses)

    def with_rows(self, demands: Sequence[Demand], cost: Array, more: Sequence[Row] = ()) -> Model:
        """The model with these demands, these further rows and this cost."""
        model = self.model.copy()
        model.rows += [row for demand in demands for row in demand.rows]
        model.rows += more
        model.cost = list(cost)
        return model

    def grams(self, x: Array) -> dict[str, float]:
        """Grams of what is used in a solution."""
        return {use: float(x[i]) for i, use in enumerate(self.pantry.uses) if x[self.n + i] > 0.5 and x[i] > 0}

    def used(self, x: Array) -> tuple[int, ...]:
        """Places of what is used."""
        return tuple(i for i in range(self.n) if x[self.n + i] > 0.5)

    def cost(self) -> Array:
        """What is made small once the scent is as near as it can be."""
        if self.pantry.goal.seek == "nearest":
            return self.practice
        return self.sought + SECOND * self.practice


def programme(pantry: Pantry, lens: Lens) -> Programme:
    """Draw the programme of a pantry through a lens."""
    draft = Draft(pantry, lens)
    model, n = draft.model, len(pantry.uses)
    roomy = _roomy(pantry)
    most_g = np.minimum(pantry.most_pct * roomy, 100.0) / 100.0 * lens.batch_g * 1.2
    for grams in most_g:
        model.column(0.0, float(grams))
    for _ in range(n):
        model.column(0.0, 1.0, whole=True)
    least_g = np.maximum(pantry.least_pct / 100.0 * lens.batch_g, pantry.drop_g)
    for i in range(n):
        draft.fixed.append(Row.of({i: 1.0, n + i: -float(most_g[i])}, high=0.0))
        draft.fixed.append(Row.of({i: 1.0, n + i: -float(min(least_g[i], most_g[i]))}, low=0.0))
    spare = SPOON_SPARE if pantry.goal.measured_in == "spoons" else SPARE
    fill = pantry.pieces / pantry.count
    draft.fixed.append(Row.dense(draft.grams(fill), 1.0, 1.0 + spare))
    # a gas comes only where acid meets a carbonate
    for which in (pantry.acid_eq, pantry.carbonate):
        draft.fixed.append(Row.dense(draft.grams(which), low=1e-3 * float(which.max(initial=0.0)) * lens.batch_g))
    demands = all_demands(draft)
    off_wish = _off_wish(draft)
    practice = _practice(draft)
    sought = _sought(draft)
    columns = len(model.cost)
    model.rows = list(draft.fixed)
    scent = np.zeros(columns)
    scent[:n] = pantry.scent
    return Programme(
        pantry,
        lens,
        model,
        tuple(demands),
        _padded(off_wish, columns),
        scent,
        _padded(practice, columns),
        _padded(sought, columns),
    )


def _padded(vector: Array, columns: int) -> Array:
    return np.concatenate([vector, np.zeros(columns - len(vector))])


def _roomy(pantry: Pantry) -> Array:
    """How many times its usual most a line may hold: more where the goal asks for more of its kind than is usual."""
    goal = pantry.goal
    times = np.ones(len(pantry.uses))
    for key, functions in FEEL.items():
        window: Window = getattr(goal, key)
        if window.low is not None or window.high is not None:
            times = np.where(pantry.of(*functions) > 0, CUPS, times)
    if not goal.clay_pct.is_open:
        times = np.where(pantry.clay > 0, CUPS, times)
    return np.where(pantry.of("acid", "base") > 0, 1.3, times)


def wished(goal: Goal) -> tuple[dict[str, float], dict[str, float]]:
    """The shares wished for, by family and by oil, each summing to 1."""
    families, oils = goal.scent.families, goal.scent.oils
    return (
        {name: weight / sum(families.values()) for name, weight in families.items()},
        {name: weight / sum(oils.values()) for name, weight in oils.items()},
    )


def shares_of_wish(pantry: Pantry) -> list[tuple[dict[str, float], list[dict[str, float]]]]:
    """Each half of the wish (families, oils) as its shares, and what a gram of each candidate brings of each name."""
    families, oils = wished(pantry.goal)
    found = []
    if families:
        found.append((families, [{f: 1.0 / len(own) for f in own} for own in pantry.families]))
    if oils:
        found.append((oils, [{use: 1.0} for use in pantry.uses]))
    return found


def _off_wish(draft: Draft) -> Array:
    """Sum over names of |grams of it - wished share x grams of scent|; halved it is what lies off the wish (L1)."""
    pantry, model = draft.pantry, draft.model
    off = np.zeros(draft.n)
    halves = shares_of_wish(pantry)
    terms: dict[int, float] = {}
    for shares, brings in halves:
        for name, share in shares.items():
            away = model.column(0.0, INFINITE)
            terms[away] = 1.0 / len(halves)
            weights = np.array([own.get(name, 0.0) for own in brings]) * pantry.scent - share * pantry.scent
            for sign in (1.0, -1.0):
                row = draft.grams(sign * weights)
                row[away] = -1.0
                draft.fixed.append(Row.dense(row, high=0.0))
        elsewhere = np.array([sum(part for name, part in own.items() if name not in shares) for own in brings])
        off = off + elsewhere * pantry.scent / len(halves)
    vector = draft.grams(off)
    for column, worth in terms.items():
        vector[column] += worth
    return vector


def _near(draft: Draft, vector: dict[int, float], weights: Array, target_pct: float, half_pct: float) -> None:
    """Add to the cost how far a share of the piece lies from the usual, in halves of the usual range."""
    pantry = draft.pantry
    away = draft.model.column(0.0, INFINITE)
    cured_g = draft.lens.batch_g * 0.97
    vector[away] = 100.0 / (half_pct * cured_g)
    for sign in (1.0, -1.0):
        row = draft.grams(sign * (weights * pantry.cured - target_pct / 100.0 * pantry.cured))
        row[away] = -1.0
        draft.fixed.append(Row.dense(row, high=0.0))


def _usual(fact: Fact, times: float = 1.0) -> tuple[float, float]:
    """The usual share, whatever the goal asks, so that a demand that leads away from it is seen to cost; half the usual range."""
    low, usual, high = span(fact)
    return usual * times, (high - low) / 2.0


def _practice(draft: Draft) -> Array:
    pantry, goal = draft.pantry, draft.pantry.goal
    fact = pantry.catalogue.fact
    vector: dict[int, float] = {}
    groups = [
        (pantry.of("acid"), *_usual(fact("comp_acid"))),
        (pantry.of(*FEEL["filler_pct"]), *_usual(fact("comp_filler"))),
        (pantry.of(*FEEL["oil_pct"]), *_usual(fact("comp_oil"))),
    ]
    if goal.scent.is_asked:
        times = SCENT_USUAL[goal.audience]
        groups.append((pantry.scent, *_usual(fact("comp_eo"), times)))
    if goal.kind == "foaming" or goal.foam_pct.low:
        groups.append((pantry.of("surfactant"), *_usual(fact("comp_surf"))))
    # the usual shares leave a few percent over, which go to the bicarbonate rather than to a line nobody needs
    low, _, high = span(fact("comp_bicarb"))
    rest = 100.0 - sum(target for weights, target, _ in groups if weights.any())
    groups.append((pantry.of("base"), min(max(rest, low), high), (high - low) / 2.0))
    for weights, target, half in groups:
        if weights.any():
            _near(draft, vector, weights, target, half)
    for i in range(draft.n):
        vector[draft.n + i] = LINE + NEARNESS * float(pantry.nearness[i])
    known = np.isfinite(pantry.minor)
    if known.any():
        # a gram without a price counts as dear as the middle of the others
        minor = np.where(known, pantry.minor, np.median(pantry.minor[known]))
        usual = float(np.median(minor)) * draft.lens.batch_g
        for i in range(draft.n):
            vector[i] = MONEY * float(minor[i]) / usual
    full = np.zeros(len(draft.model.cost))
    for column, worth in vector.items():
        full[column] = worth
    return full


def _sought(draft: Draft) -> Array:
    pantry, model = draft.pantry, draft.model
    if pantry.goal.seek == "cheapest":
        known = np.isfinite(pantry.minor)
        dear = float(np.nanmax(pantry.minor)) if known.any() else 1.0
        return draft.grams(np.where(known, pantry.minor, dear) / pantry.count)
    if pantry.goal.seek == "most_fizz":
        gas = model.column(0.0, INFINITE)
        for side in gas_sides(pantry):
            row = draft.grams(-side / pantry.count)
            row[gas] = 1.0
            draft.fixed.append(Row.dense(row, high=0.0))
        vector = draft.grams(np.zeros(draft.n))
        vector[gas] = -1.0
        return vector
    if pantry.goal.seek == "most_scent":
        return draft.grams(-100.0 * pantry.scent / draft.lens.batch_g)
    return draft.grams(np.zeros(draft.n))
