"""The search for the best recipe: nearest scent first, then the rest; drawn afresh until the true model keeps every promise."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from fizzwright.design.certifying import Certified, certify, document, lens_of, settled_ph, weighed_mix
from fizzwright.design.composed import Progress
from fizzwright.design.demands import Lens
from fizzwright.design.pantry import Pantry
from fizzwright.design.programme import MATCH, Programme, programme
from fizzwright.design.solving import GAP, Model, Row, Solved, solve
from fizzwright.design.steps import Step, on_steps, picked

Array = NDArray[np.float64]

SECONDS = 60.0
"""The house's ceiling: then the best found so far is told with its gap."""
SAME_SCENT = 0.002
"""Share of the scent that may lie further off the wish than the nearest there is, for the sake of the rest."""
SOUGHT_SCENT = 0.05
"""The same where the goal seeks the end of one scale."""
TOLD_SCENT = 0.005
"""Share off the wish that counts as none in measured amounts: less than a drop in a hundred."""
STRAYS = (0.0, 0.02, 0.06, 0.15)
"""Shares by which whole drops and spoons may stray beyond that, tried one after another."""
COARSE = 0.01
"""Gap of the first round, which is drawn afresh in any case."""
ROUNDS = 8
"""Times the programme is drawn afresh before a promise counts as one the true model does not keep."""
SUPPORTS = 6
"""Choices of materials tried when no measures of the drawer suit one."""
SETTLED = 0.03
"""Share by which mass and binder may still differ from what the programme was drawn with."""
SPOONED_GAP, SPOONED_NODES, SPOONED_STRAY = 0.1, 400, 0.03
"""Share within which the search among spoons is content, its branches, and how far the scent may stray for whole drops."""
INSET_PH = 0.01
"""pH by which the window is drawn narrower for each round that the measured amounts fell outside it."""
PARAMETRIC = 6
"""Steps of Dinkelbach's method (1967, Management Science 13:492) for the least share off the wish."""


@dataclass
class Clock:
    """Time, the solver's share of it, the wish to stop, and who listens."""

    on_progress: Callable[[Progress], None] | None = None
    stop: Callable[[], bool] | None = None
    seconds: float = SECONDS
    began: float = field(default_factory=time.perf_counter)
    solver_s: float = 0.0
    stopped: bool = False
    best: float | None = None
    bound: float | None = None
    failed: Lens | None = None
    """The lens through which no recipe was left: what conflicts is looked for through the same."""

    @property
    def spent(self) -> float:
        """Seconds since the start."""
        return time.perf_counter() - self.began

    def ends(self) -> bool:
        """True when the maker asked to stop or the time is up."""
        if self.stop is not None and self.stop():
            self.stopped = True
        return self.stopped or self.spent >= self.seconds

    def tell(self, stage: str, text: str) -> None:
        """A word to whoever listens."""
        if self.on_progress is not None:
            self.on_progress(Progress(stage, text, self.best, self.bound, self.spent))

    def solve(self, model: Model, stage: str, gap: float = GAP, nodes: int | None = None) -> Solved:
        """Solve within what time is left, telling how it stands."""

        def heard(best: float | None, bound: float | None) -> None:
            if self.on_progress is not None:
                self.on_progress(Progress(stage, "searching", best, bound, self.spent))

        found = solve(model, seconds=self.seconds - self.spent, stop=self.stop, heard=heard, gap=gap, nodes=nodes)
        self.solver_s += found.seconds
        if found.status == "stopped":
            self.stopped = self.stopped or (self.stop is not None and self.stop())
        return found


@dataclass(frozen=True)
class Best:
    """The best of one programme in grams as fine as arithmetic."""

    solved: Solved
    off: float
    """Share of the scent off the wish in it, 0 to 1."""
    off_bound: float
    """No recipe of the programme has a smaller one."""

    @property
    def objective(self) -> float:
        """The scale it is judged by: the scent, and then the rest."""
        return MATCH * self.off + self.solved.objective

    @property
    def bound(self) -> float:
        """No recipe of the programme comes below."""
        return MATCH * self.off_bound + self.solved.bound


def loose_of(drawn: Programme) -> float:
    """Share of the scent that may lie further off the wish than the nearest there is."""
    return SAME_SCENT if drawn.pantry.goal.seek == "nearest" else SOUGHT_SCENT


def weighed_cost(drawn: Programme, x: Array) -> Array:
    """Scent and the rest as one cost round a solution; where one scale is sought, the scent is held by a row instead."""
    if drawn.pantry.goal.seek != "nearest":
        return drawn.cost()
    return np.asarray(drawn.cost() + (MATCH * 0.5 / max(float(drawn.scent @ x), 1e-9)) * drawn.off_wish)


def off_share(drawn: Programme, x: Array) -> float:
    """Share of the scent that lies off the wish."""
    scent = float(drawn.scent @ x)
    return 0.5 * float(drawn.off_wish @ x) / scent if scent > 0 else 0.0


def scent_row(drawn: Programme, share: float) -> list[Row]:
    """That at most this share of the scent lies off the wish."""
    if not drawn.off_wish.any():
        return []
    return [Row.dense(0.5 * drawn.off_wish - share * drawn.scent, high=0.0)]


def best_of(
    drawn: Programme, clock: Clock, more: Sequence[Row] = (), known_off: float = 0.0, gap: float = GAP
) -> Best | None:
    """The best recipe of a programme: the least scent off the wish, then the least cost; None when there is none.

    known_off: what is known to be the least share off the wish, to begin with.
    """
    loose = loose_of(drawn)
    least, bound = known_off, known_off
    solved = clock.solve(
        drawn.with_rows(drawn.demands, drawn.cost(), [*scent_row(drawn, least + loose), *more]), "finding", gap
    )
    if solved.status == "infeasible" and drawn.off_wish.any():
        found = _least_off(drawn, clock, more)
        if found is None:
            return None
        least, bound = found
        rows = [*scent_row(drawn, least + loose), *more]
        solved = clock.solve(drawn.with_rows(drawn.demands, drawn.cost(), rows), "finding", gap)
    if solved.x is None:
        return None
    # what the programme proves is the scent first and then the rest, so both bounds hold together
    return Best(solved, max(off_share(drawn, solved.x) - loose, bound), bound)


def _least_off(drawn: Programme, clock: Clock, more: Sequence[Row]) -> tuple[float, float] | None:
    """The least share off the wish by Dinkelbach's method, and a bound on it; None when there is no recipe at all."""
    share = 0.0
    for _ in range(PARAMETRIC):
        cost = 0.5 * drawn.off_wish - share * drawn.scent
        solved = clock.solve(drawn.with_rows(drawn.demands, cost, more), "finding")
        if solved.x is None:
            return None
        scent = float(drawn.scent @ solved.x)
        lower = max(0.0, share + solved.bound / scent) if scent > 0 else 0.0
        nearer = off_share(drawn, solved.x)
        if abs(nearer - share) <= SAME_SCENT / 4 or clock.ends():
            return nearer, min(lower, nearer)
        share = nearer
    return share, 0.0


@dataclass(frozen=True)
class Found:
    """A recipe in amounts a kitchen can measure, with the programme it came from."""

    drawn: Programme
    best: Best
    x: Array
    """The measured amounts as columns of the programme."""
    steps: dict[int, Step]
    objective: float
    certified: Certified
    rounds: int


def measured(drawn: Programme, best: Best, clock: Clock) -> tuple[Array, dict[int, Step]] | None:
    """The best recipe held to amounts that can be measured, all demands kept; None when none near it keeps them."""
    x = best.solved.found
    near = best.off_bound + max(loose_of(drawn), TOLD_SCENT)
    # drops and spoons come in whole numbers, so the scent may have to stray a little further than in grams
    fines = (False,) if drawn.pantry.goal.measured_in == "spoons" else (False, True)
    for stray, fine in ((stray, fine) for fine in fines for stray in STRAYS):
        rows = scent_row(drawn, near + stray)
        cost = weighed_cost(drawn, x) if stray else drawn.cost()
        model, columns = on_steps(
            drawn.with_rows(drawn.demands, cost, rows), drawn.pantry, x, drawn.used(x), None, fine
        )
        solved = clock.solve(model, "checking", gap=1e-3)
        if solved.x is not None:
            return solved.x[: len(drawn.model.cost)], picked(solved.x, columns)
    return None


def finer(found: Found, clock: Clock) -> Found:
    """The measured recipe looked for again with every size of spoon, and staples to make up for what no spoon hits.

    The first is kept where nothing better is found, or where the true model would not keep a promise of the other.
    """
    drawn, x = found.drawn, found.best.solved.found
    staples = []
    for function in ("base", "acid", "filler"):
        own = [i for i in range(drawn.n) if drawn.pantry.functions[i] == function and i not in drawn.used(x)]
        staples += sorted(own, key=lambda i: (drawn.pantry.nearness[i], i))[:1]
    rows = scent_row(drawn, off_share(drawn, x) + SPOONED_STRAY)
    model, columns = on_steps(
        drawn.with_rows(drawn.demands, weighed_cost(drawn, x), rows), drawn.pantry, x, drawn.used(x), tuple(staples)
    )
    clock.tell("checking", "measuring it with the spoons there are")
    solved = clock.solve(model, "checking", gap=SPOONED_GAP, nodes=SPOONED_NODES)
    if solved.x is None:
        return found
    spooned = solved.x[: len(drawn.model.cost)]
    objective, steps = judged(drawn, spooned, found.best), picked(solved.x, columns)
    if objective >= found.objective or not _ph_kept(drawn.pantry, grams_of(drawn, steps)):
        return found
    certified = certify(drawn, steps)
    if certified.broken:
        return found
    return replace(found, x=spooned, steps=steps, objective=objective, certified=certified)


def grams_of(drawn: Programme, steps: dict[int, Step]) -> Array:
    """Grams by candidate of measured amounts."""
    grams = np.zeros(drawn.n)
    for place, step in steps.items():
        grams[place] = step.grams
    return grams


def judged(drawn: Programme, x: Array, best: Best) -> float:
    """The objective of measured amounts, never better than the bound it is told beside."""
    off = max(off_share(drawn, x) - max(loose_of(drawn), TOLD_SCENT), best.off_bound)
    return max(MATCH * off + float(drawn.cost() @ x), best.bound)


def first_lens(pantry: Pantry) -> Lens:
    """The lens before anything is known of the composition."""
    return Lens(pantry.batch_g, margin=0.0)


def searched(
    pantry: Pantry,
    lens: Lens,
    clock: Clock,
    cuts: Callable[[Programme], Sequence[Row]] | None = None,
    known_off: float = 0.0,
) -> Found | None:
    """The best certified recipe: solve, measure, look with the true model, draw afresh; None when no recipe is left.

    What the true model will still not keep after the last round is told among the promises.
    """
    inset, last = 0.0, None
    banned: list[tuple[int, ...]] = []
    tried = 0
    for turn in range(1, ROUNDS + SUPPORTS + 1):
        drawn = programme(pantry, lens)
        more = [*(cuts(drawn) if cuts else ()), *(_not_again(drawn, used) for used in banned)]
        gap = COARSE if turn == 1 and cuts is None else GAP
        best = best_of(drawn, clock, more, known_off, gap)
        if best is None:
            clock.failed = lens if cuts is None and not banned else clock.failed
            return last
        amounts = measured(drawn, best, clock)
        if amounts is None:
            tried += 1
            if tried > SUPPORTS or clock.ends():
                return last
            banned.append(drawn.used(best.solved.found))
            continue
        x, steps = amounts
        grams = grams_of(drawn, steps)
        text = document(pantry, steps)
        mix = weighed_mix(pantry, text)
        fresh = lens_of(pantry, mix, grams, lens, inset)
        ph_kept = _ph_kept(pantry, grams)
        if (ph_kept and gap == GAP and _like(fresh, lens, pantry, steps)) or turn >= ROUNDS or clock.ends():
            certified = certify(drawn, steps)
            return Found(drawn, best, x, steps, judged(drawn, x, best), certified, turn)
        if not ph_kept and lens.residue == fresh.residue:
            inset += INSET_PH
            fresh = lens_of(pantry, mix, grams, lens, inset)
        clock.tell("finding", "drawn afresh round the last answer")
        lens = fresh
    return last


def _ph_kept(pantry: Pantry, grams: Array) -> bool:
    window = pantry.goal.ph_settled
    if window.is_open:
        return True
    ph = float(settled_ph(pantry, grams))
    return (window.low is None or ph >= window.low) and (window.high is None or ph <= window.high)


def _like(fresh: Lens, lens: Lens, pantry: Pantry, steps: dict[int, Step]) -> bool:
    """True when the programme was drawn near enough to what it found."""
    if abs(fresh.batch_g - lens.batch_g) > SETTLED * lens.batch_g:
        return False
    for place in steps:
        wants = fresh.binder_pct.get(pantry.uses[place])
        had = lens.binder_pct.get(pantry.uses[place])
        if wants is not None and (had is None or abs(wants - had) > max(5 * SETTLED * wants, 0.3)):
            return False
    return True


def _not_again(drawn: Programme, used: tuple[int, ...]) -> Row:
    """That not this very choice of lines comes out again."""
    terms = {drawn.n + i: (1.0 if i in used else -1.0) for i in range(drawn.n)}
    return Row.of(terms, high=len(used) - 1.0)
