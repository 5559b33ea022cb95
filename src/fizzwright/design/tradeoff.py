"""What one wish costs the other: cost against fizz, scent against the nearest limit, point by point.

Each point is a recipe composed under one more demand, the epsilon-constraint way: one scale is held below (or above) a
step, the best of the other is asked for, and the step is moved along. What another point beats on both scales is left
out (Haimes, Lasdon & Wismer 1971, "On a bicriterion formulation").
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

from fizzwright.design.composed import Answer, Composed, Conflict, Progress
from fizzwright.design.goal import Goal, Window

ALONG = ("cost", "limit")
"""cost: what more money buys in fizz; limit: how near more scent comes to the nearest limit."""
SAME = 1e-9
ALIKE = 0.005
"""Share by which a point must be better to be another point: less is lost in the weighing."""
SHARES, LEAST_SHARE = 10_000, 0.001
"""Steps in the whole of a limit that a form can hold, and the least a goal can ask for."""
WEAKEST = 1 / 8
"""Where the walk towards a limit begins, as a part of what the strongest scent uses of it."""
PLENTY = 1_000_000
"""A ceiling no piece comes near, minor units: with a ceiling, only what has a price is used, and costs can be compared."""

Solve = Callable[[Goal], Composed]


@dataclass(frozen=True)
class Point:
    """One recipe of the front."""

    asked: float
    """The step of the demand this point was composed under: litres of gas a piece at least, or share of each limit."""
    x: float
    y: float
    answer: Answer
    is_proven: bool


@dataclass(frozen=True)
class Front:
    """The recipes between which only the maker can choose, in order of x."""

    along: str
    demand: str
    """Key of the goal each point's `asked` belongs to."""
    x_name: str
    x_unit: str
    y_name: str
    y_unit: str
    points: tuple[Point, ...] = ()
    beaten: int = 0
    """Recipes found that another one beats on both scales."""
    conflict: Conflict | None = None
    stopped: bool = False
    notes: tuple[str, ...] = field(default=())


def front(
    goal: Goal,
    solve: Solve,
    along: str = "cost",
    points: int = 7,
    *,
    currency: str = "",
    on_progress: Callable[[Progress], None] | None = None,
    stop: Callable[[], bool] | None = None,
) -> Front:
    """The trade-off of a goal along "cost" or "limit", at most `points` recipes; `solve` composes one goal.

    ValueError for another `along` or fewer than two points.
    """
    if along not in ALONG or points < 2:
        raise ValueError(f"a front goes along {' or '.join(ALONG)} and has at least two points")
    walk = _cost if along == "cost" else _limit
    return walk(goal, _Walker(solve, points, on_progress, stop), currency)


@dataclass
class _Walker:
    """Composes step by step, tells how far it is, and stops between two steps."""

    solve: Solve
    points: int
    on_progress: Callable[[Progress], None] | None
    stop: Callable[[], bool] | None
    done: int = 0
    seconds: float = 0.0

    @property
    def is_stopped(self) -> bool:
        return self.stop is not None and self.stop()

    def compose(self, goal: Goal) -> Composed:
        if self.on_progress is not None:
            text = f"Recipe {self.done + 1} of about {self.points + 2}"
            self.on_progress(Progress("tradeoff", text, None, None, self.seconds))
        composed = self.solve(goal)
        self.done += 1
        self.seconds += composed.total_seconds
        return composed

    def walk(self, steps: Sequence[float], at: Callable[[float], Goal]) -> list[tuple[float, Composed]]:
        found = []
        for step in steps:
            if self.is_stopped:
                break
            composed = self.compose(at(step))
            if composed.answer is not None:
                found.append((step, composed))
        return found


def _cost(goal: Goal, walker: _Walker, currency: str) -> Front:
    told = Front("cost", "fizz.gas_l", "materials of a piece", f"{currency} minor", "gas of a piece", "litres")
    own = goal.gas_l
    cheap = replace(goal, seek="cheapest", cost_most_minor=goal.cost_most_minor or PLENTY)
    cheapest = walker.compose(cheap)
    if cheapest.answer is None:
        return replace(told, conflict=cheapest.conflict, stopped=cheapest.stopped, notes=cheapest.notes)
    if cheapest.answer.cost_piece_minor is None:
        names = ", ".join(cheapest.answer.unpriced)
        return replace(told, notes=(f"Nothing can be said of cost while a price is not known: {names}.",))
    liveliest = walker.compose(replace(cheap, seek="most_fizz"))
    low = cheapest.answer.figures["gas_l"]
    high = max(low, liveliest.answer.figures["gas_l"] if liveliest.answer else low)
    # cut, not rounded: a step above what can be reached would have no recipe
    steps = sorted({math.floor(100 * step + SAME) / 100 for step in _between(low, high, walker.points)})
    found = walker.walk(steps, lambda step: replace(cheap, gas_l=replace(own, low=step)))
    made = [
        # nobody pays parts of a penny: of two recipes that cost the same whole ones the livelier stays
        Point(step, math.ceil(answer.cost_piece_minor - SAME), answer.figures["gas_l"], answer, composed.is_proven)
        for step, composed in found
        if (answer := composed.answer) is not None and answer.cost_piece_minor is not None
    ]
    return _sifted(told, made, walker.is_stopped, "More money buys no more fizz inside these demands.")


def _limit(goal: Goal, walker: _Walker, _currency: str) -> Front:
    told = Front("limit", "limits.share_at_most", "share of the nearest limit", "%", "essential oil", "%")
    wish = goal.scent
    strong = replace(goal, seek="most_scent", scent=replace(wish, total_pct=Window(wish.total_pct.low, None)))
    strongest = walker.compose(strong)
    if strongest.answer is None:
        return replace(told, conflict=strongest.conflict, stopped=strongest.stopped, notes=strongest.notes)
    if strongest.answer.figures["essential_oil_pct"] <= 0:
        return replace(told, notes=("This wish holds no scent, so there is none to weigh against a limit.",))
    most = strongest.answer.figures["share_of_limit"]
    if most <= 0:
        return replace(told, notes=("No limit we hold speaks of anything in this scent.",))

    def at(step: float) -> Goal:
        return replace(strong, limit_share=min(step, goal.limit_share))

    # the strongest found may use more of a limit than it need: what is as strong and uses less is where the walk ends
    enough = strongest.answer.figures["essential_oil_pct"] * (1 - ALIKE)
    while most > LEAST_SHARE and not walker.is_stopped:
        less = walker.compose(at(_held(most * WEAKEST))).answer
        if less is None or less.figures["essential_oil_pct"] < enough or less.figures["share_of_limit"] >= most:
            break
        most = less.figures["share_of_limit"]
    # even steps by times, as nearness to a limit counts
    steps = sorted({_held(most * WEAKEST ** (i / (walker.points - 1))) for i in range(walker.points)})
    found = walker.walk(steps, at)
    made = [
        Point(
            step,
            100 * answer.figures["share_of_limit"],
            answer.figures["essential_oil_pct"],
            answer,
            composed.is_proven,
        )
        for step, composed in found
        if (answer := composed.answer) is not None
    ]
    return _sifted(told, made, walker.is_stopped, "More of a limit buys no more scent inside these demands.")


def _held(share: float) -> float:
    """A share of a limit as a form can hold it, rounded up so that what uses just that much stays inside."""
    return min(1.0, max(LEAST_SHARE, math.ceil(SHARES * share - SAME) / SHARES))


def _between(low: float, high: float, points: int) -> list[float]:
    return [low + (high - low) * i / (points - 1) for i in range(points)]


def _sifted(told: Front, made: Sequence[Point], stopped: bool, alone: str) -> Front:
    """The points nothing beats: less of x or more of y is better, and equal ones are one."""
    kept: list[Point] = []
    for point in sorted(made, key=lambda p: (p.x, -p.y)):
        if not kept or point.y > kept[-1].y * (1 + ALIKE):
            kept.append(point)
    notes = (alone,) if len(kept) == 1 and not stopped else ()
    return replace(told, points=tuple(kept), beaten=len(made) - len(kept), stopped=stopped, notes=notes)
