"""A mixed-integer linear programme as arrays, and HiGHS to solve it: the same answer on any count of cores."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import highspy
import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from highspy.highs import HighsCallbackEvent

Array = NDArray[np.float64]

INFINITE = float("inf")
HEARD_EVERY_S = 0.1
"""How often a word on the search is passed on."""
CLOSE = 1e-7
"""How far a row may be passed, in its own unit after scaling: the solver's own tolerance."""
GAP = 1e-3
"""Share of the objective within which the best found counts as proven; the absolute gap is a hundredth of that."""


@dataclass(frozen=True, slots=True)
class Row:
    """low <= sum of values times columns <= high."""

    columns: NDArray[np.int32]
    values: Array
    low: float
    high: float

    @classmethod
    def of(cls, terms: Mapping[int, float], low: float = -INFINITE, high: float = INFINITE) -> Row:
        """A row from the column numbers it speaks of."""
        return cls(np.array(list(terms), dtype=np.int32), np.array(list(terms.values()), dtype=float), low, high)

    @classmethod
    def dense(cls, weights: Array, low: float = -INFINITE, high: float = INFINITE) -> Row:
        """A row from a weight for every column up to the last that counts, scaled so that its largest weight is 1."""
        places = np.flatnonzero(weights)
        size = float(np.abs(weights[places]).max()) if len(places) else 1.0
        return cls(places.astype(np.int32), weights[places] / size, low / size, high / size)


@dataclass
class Model:
    """Columns with their cost and bounds, and rows; what is asked is the least total cost."""

    cost: list[float] = field(default_factory=list)
    low: list[float] = field(default_factory=list)
    high: list[float] = field(default_factory=list)
    whole: list[bool] = field(default_factory=list)
    rows: list[Row] = field(default_factory=list)

    def column(self, low: float = 0.0, high: float = INFINITE, cost: float = 0.0, whole: bool = False) -> int:
        """Add a column; its number."""
        self.cost.append(cost)
        self.low.append(low)
        self.high.append(high)
        self.whole.append(whole)
        return len(self.cost) - 1

    def copy(self) -> Model:
        """The same again, to be added to."""
        return Model(list(self.cost), list(self.low), list(self.high), list(self.whole), list(self.rows))


@dataclass(frozen=True)
class Solved:
    """What the solver found."""

    status: str
    """optimal, infeasible, unbounded, stopped (by the maker, the time or the branches), or failed."""
    x: Array | None
    """Shape columns; None when nothing was found."""
    objective: float
    bound: float
    """No solution can cost less."""
    seconds: float
    """The solver's own time."""

    @property
    def found(self) -> Array:
        """The columns; ValueError when nothing was found."""
        if self.x is None:
            raise ValueError(f"the programme has no solution to read: {self.status}")
        return self.x


Heard = Callable[[float | None, float | None], None]
"""Called with the best found so far and the bound, now and then."""


class _Quiet(highspy.Highs):
    """HiGHS without the words it would otherwise print as it wakes."""

    def __init__(self) -> None:
        """As HiGHS, hushed by `enableCallbacks`, which it calls first of all."""
        highspy.Highs.__init__(self)

    def enableCallbacks(self) -> None:  # noqa: N802 - the name is HiGHS's own
        """Hush it before the first thing it would say."""
        self.setOptionValue("output_flag", False)
        highspy.Highs.enableCallbacks(self)


def solve(
    model: Model,
    *,
    seconds: float = 60.0,
    stop: Callable[[], bool] | None = None,
    heard: Heard | None = None,
    gap: float = GAP,
    nodes: int | None = None,
) -> Solved:
    """The least cost of a model by HiGHS on one thread with one seed; `stop` is asked while it runs.

    nodes: branches after which the best so far is taken, the same on every machine, as a limit by time is not.
    RuntimeError when HiGHS refuses the model, which is a fault of whoever built it.
    """
    began = time.perf_counter()
    if seconds <= 0 or (stop is not None and stop()):
        return Solved("stopped", None, INFINITE, -INFINITE, 0.0)
    highs = _Quiet()
    for name, value in (
        ("threads", 1),
        ("random_seed", 0),
        ("parallel", "off"),
        ("time_limit", float(seconds)),
        ("mip_rel_gap", gap),
        ("mip_abs_gap", gap / 100.0),
        ("mip_feasibility_tolerance", CLOSE),
        ("primal_feasibility_tolerance", CLOSE),
    ):
        highs.setOptionValue(name, value)
    if nodes is not None:
        highs.setOptionValue("mip_max_nodes", nodes)
    _pass(highs, model)
    _listen(highs, began, stop, heard)
    if highs.run() == highspy.HighsStatus.kError:
        raise RuntimeError("HiGHS could not run the programme")
    spent = time.perf_counter() - began
    told = highs.getModelStatus()
    kinds = highspy.HighsModelStatus
    info = highs.getInfo()
    has_x = info.primal_solution_status == int(highspy.SolutionStatus.kSolutionStatusFeasible)
    x = np.array(highs.getSolution().col_value, dtype=float) if has_x else None
    status = {
        kinds.kOptimal: "optimal",
        kinds.kInfeasible: "infeasible",
        kinds.kUnboundedOrInfeasible: "infeasible",
        kinds.kUnbounded: "unbounded",
        kinds.kInterrupt: "stopped",
        kinds.kTimeLimit: "stopped",
        kinds.kSolutionLimit: "stopped",
        kinds.kIterationLimit: "stopped",
    }.get(told, "failed")
    if x is None and status == "optimal":
        status = "failed"
    best = float(info.objective_function_value) if x is not None else INFINITE
    bound = float(info.mip_dual_bound) if any(model.whole) else best if status == "optimal" else -INFINITE
    return Solved(status, x, best, min(bound, best), spent)


def _pass(highs: highspy.Highs, model: Model) -> None:
    lp = highspy.HighsLp()
    lp.num_col_, lp.num_row_ = len(model.cost), len(model.rows)
    lp.col_cost_ = np.array(model.cost, dtype=float)
    lp.col_lower_ = np.array(model.low, dtype=float)
    lp.col_upper_ = np.array(model.high, dtype=float)
    lp.row_lower_ = np.array([row.low for row in model.rows], dtype=float)
    lp.row_upper_ = np.array([row.high for row in model.rows], dtype=float)
    if any(model.whole):
        kinds = highspy.HighsVarType
        lp.integrality_ = [kinds.kInteger if whole else kinds.kContinuous for whole in model.whole]
    lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    lp.a_matrix_.start_ = np.cumsum([0, *(len(row.columns) for row in model.rows)], dtype=np.int32)
    lp.a_matrix_.index_ = np.concatenate([np.zeros(0, np.int32), *(row.columns for row in model.rows)], dtype=np.int32)
    lp.a_matrix_.value_ = np.concatenate([np.zeros(0), *(row.values for row in model.rows)])
    if highs.passModel(lp) == highspy.HighsStatus.kError:
        raise RuntimeError("HiGHS does not take the programme: a bound or a weight in it is no number")


def _listen(highs: highspy.Highs, began: float, stop: Callable[[], bool] | None, heard: Heard | None) -> None:
    """Pass on how the search stands, and ask whether it shall stop."""
    if stop is None and heard is None:
        return
    last = began

    def look(event: HighsCallbackEvent) -> None:
        nonlocal last
        now = time.perf_counter()
        if now - last < HEARD_EVERY_S:
            return
        last = now
        if heard is not None:
            best, bound = event.data_out.mip_primal_bound, event.data_out.mip_dual_bound
            heard(*(value if np.isfinite(value) else None for value in (best, bound)))
        if stop is not None and stop():
            event.interrupt()

    highs.cbMipInterrupt += look
    if stop is not None:
        highs.cbSimplexInterrupt += look
