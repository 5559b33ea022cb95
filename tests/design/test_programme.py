"""The solver and the programme against other solvers and against counting everything out."""

from itertools import product

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, linprog, milp

from fizzwright.catalogue import Catalogue
from fizzwright.design.demands import Lens
from fizzwright.design.pantry import stocked
from fizzwright.design.programme import Programme, programme
from fizzwright.design.search import Clock, best_of, off_share
from fizzwright.design.solving import INFINITE, Model, Row, solve
from tests.design.goals import CLASSIC, goal, small


def dense(model: Model) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The rows of a model as a full matrix with both ends."""
    matrix = np.zeros((len(model.rows), len(model.cost)))
    for i, row in enumerate(model.rows):
        matrix[i, row.columns] = row.values
    return matrix, np.array([row.low for row in model.rows]), np.array([row.high for row in model.rows])


def by_scipy(model: Model) -> float:
    """The least cost by scipy's own build of a solver."""
    matrix, low, high = dense(model)
    found = milp(
        np.array(model.cost),
        constraints=LinearConstraint(matrix, low, high),
        bounds=Bounds(np.array(model.low), np.array(model.high)),
        integrality=np.array(model.whole, dtype=int),
        options={"mip_rel_gap": 1e-6},
    )
    return float(found.fun) if found.x is not None else INFINITE


def drawn(catalogue: Catalogue, more: str = "", text: str = CLASSIC) -> Programme:
    pantry = stocked(goal(catalogue, text, more), catalogue, None)
    return programme(pantry, Lens(pantry.batch_g))


def test_a_blending_problem_with_a_known_answer() -> None:
    """Dantzig 1957's fractional knapsack: best worth for weight first, and the last in part."""
    model = Model()
    weights, worths, most = (12.0, 2.0, 1.0, 1.0, 4.0), (4.0, 2.0, 1.0, 2.0, 10.0), 15.0
    columns = [model.column(0, 1, -worth) for worth in worths]
    model.rows.append(Row.of(dict(zip(columns, weights, strict=True)), high=most))
    # everything but the first, 8 kg for 15, then 7/12 of the first
    assert solve(model).objective == pytest.approx(-(15.0 + 4.0 * 7.0 / 12.0))


def test_whole_numbers_are_proven() -> None:
    """The 0/1 knapsack against trying every choice."""
    rng = np.random.default_rng(3)
    for _ in range(5):
        weights, worths = rng.integers(3, 30, 12), rng.integers(3, 30, 12)
        most = int(weights.sum() // 2)
        model = Model()
        columns = [model.column(0, 1, -float(worth), whole=True) for worth in worths]
        model.rows.append(Row.of({c: float(w) for c, w in zip(columns, weights, strict=True)}, high=most))
        best = max(
            int(worths @ np.array(pick)) for pick in product((0, 1), repeat=12) if weights @ np.array(pick) <= most
        )
        solved = solve(model)
        assert solved.status == "optimal"
        assert -solved.objective == pytest.approx(best)
        assert solved.bound <= solved.objective + 1e-9


def test_infeasible_and_stopped_are_told() -> None:
    model = Model()
    column = model.column(0, 1, 1.0, whole=True)
    model.rows.append(Row.of({column: 1.0}, low=2.0))
    assert solve(model).status == "infeasible"
    assert solve(model).x is None
    assert solve(model, stop=lambda: True).status == "stopped"
    assert solve(model, seconds=0.0).status == "stopped"


@pytest.mark.parametrize("seek", ["nearest", "cheapest", "most_fizz", "most_scent"])
def test_the_programme_against_another_solver(catalogue: Catalogue, seek: str) -> None:
    """scipy.optimize.milp finds the same least cost of the very same programme."""
    made = drawn(catalogue, text=f'seek = "{seek}"\n{CLASSIC}', more="total_pct = [0.3, 0.8]\n")
    model = made.with_rows(made.demands, made.cost())
    assert solve(model).objective == pytest.approx(by_scipy(model), rel=2e-4, abs=1e-5)


def test_the_programme_against_every_choice_of_lines(catalogue: Catalogue) -> None:
    """Each choice of lines is a plain linear programme for scipy's linprog; the best of them is the answer."""
    made = drawn(small(catalogue), more="[feel]\nfiller_pct = [12, 18]\n")
    model = made.with_rows(made.demands, made.cost())
    matrix, low, high = dense(model)
    whole = np.flatnonzero(model.whole)
    uses = [i for i in whole if i < 2 * made.n]
    others = [i for i in whole if i >= 2 * made.n]
    assert len(uses) == made.n <= 11
    # a line that is no binder may be there or not; the ways of the cautions are tried as well
    best = INFINITE
    least, most = np.array(model.low), np.array(model.high)
    upper, lower = np.isfinite(high), np.isfinite(low)
    a_ub, b_ub = np.vstack([matrix[upper], -matrix[lower]]), np.concatenate([high[upper], -low[lower]])
    must = [made.n + made.pantry.uses.index(use) for use in ("sodium_bicarbonate", "isopropyl_alcohol_91")]
    free = [i for i in uses if i not in must]
    for pick in product((0.0, 1.0), repeat=len(free)):
        for ways in product((0.0, 1.0), repeat=len(others)):
            bounds = np.column_stack([least, most])
            for columns, values in ((free, pick), (others, ways), (must, (1.0, 1.0))):
                for column, value in zip(columns, values, strict=True):
                    bounds[column] = value
            if any(matrix[r, others] @ np.array(ways) < 1 for r in _choices(matrix, others, low)):
                continue
            if sum(ways) > _choices(matrix, others, low).size:
                continue
            found = linprog(model.cost, a_ub, b_ub, bounds=bounds, method="highs-ds")
            if found.status == 0:
                best = min(best, float(found.fun))
    assert solve(model).objective == pytest.approx(best, rel=2e-4, abs=1e-5)


def _choices(matrix: np.ndarray, others: list[int], low: np.ndarray) -> np.ndarray:
    """Rows that ask for one way at least."""
    only = [i for i in range(len(matrix)) if low[i] == 1.0 and set(np.flatnonzero(matrix[i])) <= set(others)]
    return np.array([i for i in only if np.any(matrix[i])], dtype=int)


def test_the_nearest_scent_is_found(catalogue: Catalogue) -> None:
    """Two oils, petitgrain half citrus and half floral, orange all citrus: the share of each for two to one is known."""
    made = drawn(small(catalogue), text=CLASSIC.replace("citrus = 1", "citrus = 5, floral = 1"))
    best = best_of(made, Clock())
    assert best is not None
    assert off_share(made, best.solved.found) <= 0.002 + 1e-6
    grams = made.grams(best.solved.found)
    share = grams["petitgrain"] / (grams["petitgrain"] + grams["sweet_orange"])
    # floral comes from half of the petitgrain only: one sixth of the scent is a third of petitgrain
    assert share == pytest.approx(1 / 3, abs=0.005)


def test_a_wish_no_oil_meets_is_missed_by_the_least(catalogue: Catalogue) -> None:
    """Floral alone from petitgrain, half of which is citrus: half of the scent must lie off the wish."""
    made = drawn(small(catalogue), text=CLASSIC.replace("citrus = 1", "floral = 1"))
    best = best_of(made, Clock())
    assert best is not None
    assert best.off == pytest.approx(0.5, abs=0.003)
    assert best.off_bound == pytest.approx(0.5, abs=0.003)


def test_what_is_drawn_is_what_the_review_finds(catalogue: Catalogue) -> None:
    """Gas, mass and strength are linear in the grams exactly, not nearly."""
    from fizzwright.design.certifying import certify
    from fizzwright.design.programme import gas_sides
    from fizzwright.design.steps import Step

    made = drawn(catalogue, more="total_pct = [0.3, 0.8]\n")
    best = best_of(made, Clock())
    assert best is not None
    x = best.solved.found
    steps = {i: Step(f"{x[i]:.6f} g", round(float(x[i]), 6), 1) for i in made.used(x)}
    told = certify(made, steps)
    pieces = float(made.pantry.pieces @ x[: made.n])
    gas = min(float(side @ x[: made.n]) for side in gas_sides(made.pantry)) / pieces
    assert told.figures["gas_l"] == pytest.approx(gas, rel=1e-5)
    assert float(told.mix.grams.sum()) / told.figures["piece_g"] == pytest.approx(pieces, rel=1e-5)
    scent = 100 * float(made.pantry.scent @ x[: made.n]) / float(made.pantry.cured @ x[: made.n])
    assert told.figures["essential_oil_pct"] == pytest.approx(scent, rel=1e-4)
