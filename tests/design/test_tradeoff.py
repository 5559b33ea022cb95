"""The front against every choice there is: SciPy's own solver composes, an enumeration judges."""

from __future__ import annotations

from itertools import product
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp

from fizzwright.design.composed import Answer, Composed, Conflict
from fizzwright.design.goal import Goal, ScentWish, Window
from fizzwright.design.tradeoff import front

COST = np.array([7, 3, 9, 4, 6, 5, 8])
GAS = np.array([5.0, 1.5, 8.0, 2.0, 3.5, 3.0, 4.0])
LEAST_GAS = 4.0


def every_choice() -> list[tuple[int, float]]:
    """(cost, gas) of each of the 128 ways to take or leave seven things that give enough gas."""
    found = []
    for taken in product((0, 1), repeat=len(COST)):
        cost, gas = int(np.dot(COST, taken)), float(np.dot(GAS, taken))
        if gas >= LEAST_GAS:
            found.append((cost, gas))
    return found


def unbeaten(pairs: list[tuple[int, float]]) -> set[tuple[int, float]]:
    return {p for p in pairs if not any(q != p and q[0] <= p[0] and q[1] >= p[1] for q in pairs)}


def composed(figures: dict[str, float], cost: float | None) -> Composed:
    answer = Answer("", {}, 0.0, cost, () if cost is not None else ("kaolin",), (), figures)
    return Composed(answer, 0.0, 0.0, True, False)


def by_scipy(goal: Goal) -> Composed:
    """The small problem composed by SciPy's mixed-integer solver."""
    least = max(LEAST_GAS, goal.gas_l.low or 0.0)
    rows = [LinearConstraint(COST, 0, goal.cost_most_minor), LinearConstraint(GAS, least, np.inf)]
    weights = COST - GAS * 1e-4 if goal.seek == "cheapest" else COST * 1e-4 - GAS
    found = milp(weights, constraints=rows, integrality=np.ones(len(COST)), bounds=Bounds(0, 1))
    if found.x is None:
        return Composed(None, None, None, True, False)
    taken = np.round(found.x)
    return composed({"gas_l": float(GAS @ taken)}, float(COST @ taken))


def test_no_choice_beats_a_point_and_the_ends_are_the_ends() -> None:
    best = unbeaten(every_choice())
    found = front(Goal("wish"), by_scipy, "cost", 7, currency="GBP")
    pairs = [(int(p.x), p.y) for p in found.points]
    assert len(pairs) >= 5 and set(pairs) <= best
    assert pairs[0] == min(best) and pairs[-1] == max(best)
    assert all(p.y >= p.asked for p in found.points), "each keeps the demand it was asked under"


def test_steps_fine_enough_find_the_whole_front() -> None:
    best = unbeaten(every_choice())
    found = front(Goal("wish"), by_scipy, "cost", 56)
    assert {(int(p.x), p.y) for p in found.points} == best, "gas comes in halves, 28 litres at most"


def test_what_another_beats_is_left_out_and_counted() -> None:
    def careless(goal: Goal) -> Composed:
        # every second step it finds a recipe no livelier than the one before, and dearer
        if goal.seek == "most_fizz":
            return composed({"gas_l": 20.0}, 20.0)
        step = round(goal.gas_l.low or 10)
        return composed({"gas_l": float(step - step % 2)}, float(step))

    found = front(Goal("wish"), careless, "cost", 11)
    assert [p.x for p in found.points] == [10, 12, 14, 16, 18, 20] and found.beaten == 5


def test_along_the_limit_each_step_lets_more_of_every_limit_be_used() -> None:
    asked: list[float] = []

    def solve(goal: Goal) -> Composed:
        assert goal.seek == "most_scent" and goal.scent.total_pct == Window(0.2, None), "past the wish's own end"
        asked.append(goal.limit_share)
        pct = min(1.4, 2 * goal.limit_share)
        return composed({"essential_oil_pct": pct, "share_of_limit": pct / 2}, 30.0)

    goal = Goal("wish", scent=ScentWish({"citrus": 1.0}, total_pct=Window(0.2, 0.9)))
    found = front(goal, solve, "limit", 7)
    assert asked.pop(1) == pytest.approx(0.0875), "whether an eighth of it would do for as strong a scent"
    assert asked == pytest.approx([1.0, 0.0875, 0.1238, 0.175, 0.2475, 0.35, 0.495, 0.7], abs=1e-4)
    assert asked[4] == pytest.approx(0.7 / 8**0.5, abs=1e-4), "even by times, from an eighth of the strongest"
    assert [p.x for p in found.points] == pytest.approx([100 * a for a in asked[1:]])
    assert [p.y for p in found.points] == pytest.approx([2 * a for a in asked[1:]])


def test_where_the_strongest_wastes_a_limit_the_walk_ends_lower() -> None:
    def solve(goal: Goal) -> Composed:
        # 2 % of oil needs a hundredth of the limit; left alone, the search uses half of it
        share = 0.5 if goal.limit_share == 1 else min(goal.limit_share, 0.01)
        return composed({"essential_oil_pct": min(2.0, 200 * share), "share_of_limit": share}, 30.0)

    found = front(Goal("wish", scent=ScentWish({"citrus": 1.0})), solve, "limit", 7)
    assert found.points[-1].x == pytest.approx(1.0) and found.points[-1].y == 2.0
    assert found.points[0].x == pytest.approx(1.0 / 8, rel=0.05) and len(found.points) == 7


def test_a_wish_that_cannot_be_tells_why() -> None:
    conflict = Conflict(("cost.piece_at_most",), ("at most 1 p a piece",), ())
    found = front(Goal("wish"), lambda _: Composed(None, None, None, True, False, conflict=conflict), "cost")
    assert not found.points and found.conflict is conflict
    unpriced = front(Goal("wish"), lambda _: composed({"gas_l": 3.0}, None), "cost")
    assert not unpriced.points and "kaolin" in unpriced.notes[0]
    scentless = front(Goal("wish"), lambda _: composed({"essential_oil_pct": 0.0, "share_of_limit": 0.0}, 1.0), "limit")
    assert not scentless.points and "no scent" in scentless.notes[0]


def test_of_two_that_cost_the_same_pence_the_livelier_stays() -> None:
    def solve(goal: Goal) -> Composed:
        gas = goal.gas_l.low or (6.0 if goal.seek == "most_fizz" else 4.0)
        return composed({"gas_l": gas}, 40.0 + gas / 10)

    found = front(Goal("wish"), solve, "cost", 5)
    assert [(p.x, p.y) for p in found.points] == [(41, 6.0)] and found.beaten == 4


def test_where_money_buys_nothing_it_says_so() -> None:
    found = front(Goal("wish"), lambda _: composed({"gas_l": 3.0}, 12.0), "cost")
    assert len(found.points) == 1 and "no more fizz" in found.notes[0]


def test_it_stops_between_two_steps_and_says_how_far_it_is() -> None:
    said: list[str] = []
    told = SimpleNamespace(many=0)

    def stop() -> bool:
        return told.many >= 4

    def solve(goal: Goal) -> Composed:
        told.many += 1
        return by_scipy(goal)

    found = front(Goal("wish"), solve, "cost", 7, on_progress=lambda p: said.append(p.text), stop=stop)
    assert found.stopped and told.many == 4 and len(found.points) == 2
    assert said[0].startswith("Recipe 1 of") and len(said) == 4


@pytest.mark.parametrize(("along", "points"), [("weight", 7), ("cost", 1)])
def test_it_takes_only_what_it_knows(along: str, points: int) -> None:
    with pytest.raises(ValueError, match="cost or limit"):
        front(Goal("wish"), by_scipy, along, points)
