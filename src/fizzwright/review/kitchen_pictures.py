"""What was seen of the kitchens, and the tables and curves of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fizzwright.recipe.mix import Mix
from fizzwright.review.figures import Curve, Table, interval
from fizzwright.review.kitchen_measuring import HABITS, PIPETTE
from fizzwright.review.kitchen_outcomes import Outcomes
from fizzwright.review.kitchen_sources import Source
from fizzwright.review.kitchens import Inside
from fizzwright.review.limits import Check
from fizzwright.review.setting import Setting
from fizzwright.wording import sentence, shown

Array = NDArray[np.float64]

HABIT_WORDS = {
    "as_written": "measured as written",
    "scale": "all over a scale",
    "levelled": "levelled with a knife",
    "scooped": "scooped and heaped",
    PIPETTE: "oils by a pipette",
}
ROW_WORDS = {
    "as_written": "As written",
    "scale": "By scale",
    PIPETTE: "Oils by pipette",
    "levelled": "Levelled spoons",
    "scooped": "Scooped and heaped",
}
DRAWN = ("as_written", "scale", "scooped")
"""Habits the pictures show beside each other."""
BINS = 24
WORTH_A_ROW = 0.01


@dataclass(frozen=True)
class Way:
    """What comes of the kitchens of one habit."""

    habit: str
    outcome: Outcomes
    ph: Array | None
    """At rest, in all of them or in the first few."""
    inside: Inside
    levels: dict[str, Array]
    """By figure id, each level as a share of its limit."""


@dataclass(frozen=True)
class Seen:
    """What the section tells."""

    mix: Mix
    setting: Setting
    ways: tuple[Way, ...]
    """The chosen habit first."""
    checks: tuple[Check, ...]
    worst: Check | None
    """The limit most kitchens pass, when it is worth a word."""
    sources: tuple[Source, ...]
    fizz_s: float
    fizz_s_draws: Array
    ph: float | None
    bent: str
    source_draws: int

    @property
    def first(self) -> Way:
        """The chosen habit."""
        return self.ways[0]

    def way(self, habit: str) -> Way | None:
        """The kitchens of a habit; None when they were not drawn."""
        return next((way for way in self.ways if way.habit == habit), None)


def _span_text(draws: Array | None, digits: int = 3) -> str:
    if draws is None:
        return "–"
    low, high = interval(draws)
    return f"{shown(low, digits)} to {shown(high, digits)}"


def _chance_of(way: Way, check: Check | None) -> str:
    return "–" if check is None else f"{shown(100 * way.inside.over[check.figure_id])}"


def _told_check(seen: Seen) -> Check | None:
    """The limit the tables tell of: the one most kitchens pass, else the nearest one."""
    if seen.worst is not None:
        return seen.worst
    real = [check for check in seen.checks if check.limit.limit_pct]
    return max(real, key=lambda check: float(np.mean(seen.first.levels[check.figure_id])), default=None)


def tables(seen: Seen) -> list[Table]:
    """Where the spread comes from, and what other ways of measuring would do."""
    check = _told_check(seen)
    found = []
    if seen.sources:

        def cell(source: Source, what: str) -> str:
            if what not in source.shares:
                return "–"
            first, total = source.shares[what]
            return f"{100 * first:.0f} / {100 * total:.0f}"

        limit = f"{seen.worst.limit.substance}, %" if seen.worst is not None else "nearest limit, %"
        found.append(
            Table(
                "spread",
                "Where the spread comes from",
                ("Source", "Piece mass, %", "Acid to base, %", limit),
                tuple(
                    (sentence(s.name), cell(s, "piece_g"), cell(s, "acid_to_base_eq"), cell(s, "worst"))
                    for s in seen.sources
                    if any(total >= WORTH_A_ROW for _, total in s.shares.values())
                ),
                "First what would go if that alone were known, then what would stay if all else were. Draws leave about five in "
                "the hundred of doubt; what is below one in the hundred everywhere is left out.",
            )
        )
    rows = []
    for habit, word in ROW_WORDS.items():
        way = seen.way(habit)
        if way is not None:
            rows.append((
                word,
                _span_text(None if way.outcome.size.is_powder else way.outcome.piece_g),
                _span_text(way.outcome.acid_to_base_eq, 2),
                _span_text(way.ph, 2),
                _chance_of(way, check),
            ))  # fmt: skip
    over = (
        f"Over the limit of {check.limit.substance}, % of kitchens"
        if check is not None
        else "Over a limit, % of kitchens"
    )
    found.append(
        Table(
            "remedies",
            "What a scale, a pipette or a knife would do",
            ("Measured", "Piece, g", "Acid to base", "pH at rest", over),
            tuple(rows),
            "Ranges hold nine kitchens of ten. Between kitchens also tub, tap, pressing and the oils themselves differ, which no "
            "scale mends.",
        )
    )
    return found


def _histogram(name: str, title: str, x_name: str, unit: str, by_habit: dict[str, Array]) -> Curve | None:
    both = np.concatenate(list(by_habit.values()))
    low, high = np.quantile(both, (0.002, 0.998))
    if not np.isfinite(low + high) or high - low <= 1e-9 * max(abs(high), 1.0):
        return None
    edges = np.linspace(low, high, BINS + 1)
    middles = 0.5 * (edges[1:] + edges[:-1])
    lines = {
        word: tuple(float(x) for x in 100.0 * np.histogram(np.clip(draws, low, high), edges)[0] / len(draws))
        for word, draws in by_habit.items()
    }
    return Curve(name, title, x_name, unit, "kitchens of a hundred", "", tuple(float(m) for m in middles), lines)


def curves(seen: Seen) -> list[Curve]:
    """How kitchens spread, a line for each habit."""
    habits = [way for habit in DRAWN if (way := seen.way(habit)) is not None]
    if seen.first.habit not in DRAWN:
        habits.insert(0, seen.first)

    def drawn(name: str, x_name: str, unit: str, of: Callable[[Way], Array | None]) -> Curve | None:
        by_habit: dict[str, Array] = {}
        for way in habits:
            values = of(way)
            if values is not None:
                by_habit[HABIT_WORDS[way.habit]] = values
        if not by_habit:
            return None
        low, high = interval(next(iter(by_habit.values())))
        title = f"{sentence(x_name)}: {shown(low, 3)} to {shown(high, 3)}{' ' + unit if unit else ''} in nine kitchens of ten."
        return _histogram(name, title, x_name, unit, by_habit)

    check = _told_check(seen)
    found = [
        drawn("kitchen_acid_to_base", "acid to base", "", lambda w: w.outcome.acid_to_base_eq),
        drawn("kitchen_ph", "pH at rest", "", lambda w: w.ph),
        drawn(
            "kitchen_piece_g", "mass of a piece", "g", lambda w: None if w.outcome.size.is_powder else w.outcome.piece_g
        ),
    ]
    if check is not None and check.limit.limit_pct:
        share = drawn(
            "kitchen_limit",
            f"share of the limit of {check.limit.substance}",
            "%",
            lambda w: 100.0 * w.levels[check.figure_id],
        )
        if share is not None:
            found.append(replace(share, marks={"the limit": 100.0} if share.x[0] <= 100.0 <= share.x[-1] else {}))
    return [curve for curve in found if curve is not None]


assert set(HABITS) | {PIPETTE} == set(HABIT_WORDS), "every habit has its words"
