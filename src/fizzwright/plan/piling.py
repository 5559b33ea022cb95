"""Picking one pile of scoops for every line: the fewest scoops that keep each amount and the acid against the base."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np


class Choice(NamedTuple):
    """One way to measure one line."""

    scoops: int
    error_pct: float
    acid_eq: float
    base_eq: float


class Picked(NamedTuple):
    """Which choice each line takes."""

    choices: tuple[int, ...]
    strays_pct: float
    """How far the acid-to-base ratio lies outside the window at the least, percent of it; 0 when it is kept."""


def pick(lines: Sequence[Sequence[Choice]], acid_to_base: float | None, within_pct: float) -> Picked:
    """The choices with the fewest scoops in all whose ratio of acid to base keeps within so many percent; exact.

    A binary for every choice, one to be taken a line; the ratio window is two rows, linear in equivalents. Among equal
    counts of scoops the smallest errors win. When no choice keeps the window, the one fewest equivalents short of it. Solved
    by HiGHS through scipy.optimize.milp to a gap of zero. acid_to_base None: no window.
    """
    best = _by_itself(lines)
    free = acid_to_base is None or not any(c.base_eq for line in lines for c in line)
    if free or _strays(lines, best, acid_to_base or 0.0, within_pct) == 0.0:
        return Picked(best, 0.0)
    assert acid_to_base is not None
    found = _solved(lines, acid_to_base, within_pct, stray=False) or _solved(
        lines, acid_to_base, within_pct, stray=True
    )
    if found is None:
        raise ArithmeticError("no pick of one choice a line was found, though each line has one")
    return Picked(found, _strays(lines, found, acid_to_base, within_pct))


def _by_itself(lines: Sequence[Sequence[Choice]]) -> tuple[int, ...]:
    """Fewest scoops line by line: the best of all when the window happens to hold."""
    return tuple(min(range(len(line)), key=lambda i: (line[i].scoops, abs(line[i].error_pct))) for line in lines)


def _strays(lines: Sequence[Sequence[Choice]], taken: tuple[int, ...], acid_to_base: float, within_pct: float) -> float:
    picked = [line[i] for line, i in zip(lines, taken, strict=True)]
    base = sum(c.base_eq for c in picked)
    if base <= 0:
        return 0.0
    off = abs(sum(c.acid_eq for c in picked) / base / acid_to_base - 1.0) * 100.0
    return max(off - within_pct, 0.0) if off > within_pct * (1 + 1e-9) else 0.0


def _solved(
    lines: Sequence[Sequence[Choice]], acid_to_base: float, within_pct: float, *, stray: bool
) -> tuple[int, ...] | None:
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import csr_array

    flat = [choice for line in lines for choice in line]
    owner = [row for row, line in enumerate(lines) for _ in line]
    acid, base = (np.array([getattr(c, name) for c in flat]) for name in ("acid_eq", "base_eq"))
    scale = max(float(base.sum()), 1e-12) / len(flat)
    edge = within_pct / 100.0
    upper = (acid - acid_to_base * (1.0 + edge) * base) / scale
    lower = (acid - acid_to_base * (1.0 - edge) * base) / scale
    # errors only part equal counts: all lines together they weigh less than half a scoop
    worst = np.array([max(abs(c.error_pct) for c in line) or 1.0 for line in lines])[owner]
    cost = np.array([c.scoops for c in flat]) + 0.5 / len(lines) * np.abs([c.error_pct for c in flat]) / worst
    if stray:
        cost = cost * 1e-6
    one_each = csr_array((np.ones(len(flat)), (owner, range(len(flat)))), shape=(len(lines), len(flat))).toarray()
    slack = np.zeros((len(lines), 1))
    found = milp(
        np.append(cost, 1.0 if stray else 0.0),
        integrality=np.append(np.ones(len(flat)), 0.0),
        bounds=Bounds(0.0, np.append(np.ones(len(flat)), np.inf if stray else 0.0)),
        constraints=[
            LinearConstraint(np.hstack([one_each, slack]), 1.0, 1.0),
            LinearConstraint(np.append(upper, -1.0)[None, :], -np.inf, 0.0),
            LinearConstraint(np.append(lower, 1.0)[None, :], 0.0, np.inf),
        ],
        options={"mip_rel_gap": 0.0},
    )
    if found.x is None:
        return None
    taken = found.x[:-1] > 0.5
    starts = np.concatenate([[0], np.cumsum([len(line) for line in lines])])
    return tuple(int(np.argmax(taken[a:b])) for a, b in pairwise(starts))
