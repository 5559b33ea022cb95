"""In other people's kitchens: what a recipe becomes where cups, drops, tubs and oils differ, and what would steady it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fizzwright.catalogue import Catalogue
from fizzwright.recipe.mix import Mix
from fizzwright.review import kitchen_told
from fizzwright.review.figures import Section
from fizzwright.review.kitchen_measuring import HABITS, PIPETTE
from fizzwright.review.kitchen_outcomes import fizz_seconds, likely_fizz, likely_ph, outcomes, settled_ph
from fizzwright.review.kitchen_pictures import Seen, Way
from fizzwright.review.kitchen_sources import sources
from fizzwright.review.kitchens import (
    Kitchens,
    Plan,
    again,
    bent,
    checked_count,
    checked_habit,
    judge,
    kitchens_at,
    plan_of,
    points_of,
    slice_of,
    stopping,
    together,
)
from fizzwright.review.limits import Check
from fizzwright.review.setting import Setting
from fizzwright.review.tap import span
from fizzwright.science.equilibrium import Water

Array = NDArray[np.float64]

PH_KITCHENS = 2**9
"""How many kitchens' water is solved for each habit while nobody asks for more."""
SOURCE_DRAWS = 2**9
MANY = 2**14
"""From so many kitchens on the rest is worked out with more draws too."""
MOST_SOURCE_DRAWS = 2**12
WORTH_A_WORD = 0.001
"""Chance over a limit from which the sources tell of that limit rather than of acid and base."""


class _Key:
    """A mix and where it is read, equal when nothing the section depends on differs."""

    def __init__(self, mix: Mix, catalogue: Catalogue, setting: Setting) -> None:
        self.mix, self.catalogue, self.setting = mix, catalogue, setting
        recipe = replace(mix.recipe, text="", name="", lines=())
        lines = tuple((m.line.use, m.line.amount, m.line.part, m.line.diluted_in, m.line.lot) for m in mix.lines)
        lots = tuple(sorted((lot, id(held)) for lot, held in mix.lot_analyses.items()))
        self.key: tuple[Any, ...] = (
            recipe,
            lines,
            mix.grams.tobytes(),
            mix.as_of,
            mix.mould,
            mix.mould_volume_ml,
            lots,
            id(catalogue),
            id(setting.workshop),
            setting.speed_mm_s,
            setting.room,
            setting.kitchens,
            setting.habit,
        )
        self.seen = hash(repr(self.key))

    def __hash__(self) -> int:
        return self.seen

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Key) and other.key == self.key


def section(mix: Mix, catalogue: Catalogue, setting: Setting) -> Section:
    """The kitchen section of a review. ValueError for a count of kitchens or a habit that cannot be drawn."""
    checked_count(setting.kitchens)
    checked_habit(setting.habit)
    return _section(_Key(mix, catalogue, setting))


@lru_cache(maxsize=16)
def _section(key: _Key) -> Section:
    return kitchen_told.section(see(key.mix, key.catalogue, key.setting))


def see(mix: Mix, catalogue: Catalogue, setting: Setting, seed: int = 0) -> Seen:
    """Everything the section tells, worked out: the chosen habit first, then the others and the pipette."""
    count = setting.kitchens
    habits = list(dict.fromkeys((setting.habit, *HABITS)))
    if any(m.is_oil and m.line.amount.unit == "drop" for m in mix.lines):
        habits.append(PIPETTE)
    plans = [plan_of(mix, catalogue, setting, habit) for habit in habits]
    checks = stopping(mix, catalogue)
    step = slice_of(plans[0], count)
    # below MANY the few whose water is solved all lie in the first slice
    few, solved = (step, count // step) if count >= MANY else (min(count, PH_KITCHENS), 1)
    slices: list[_Slice] = []
    for start in range(0, count, step):
        points = points_of(plans[0], step, seed, start)
        chosen = kitchens_at(plans[0], points)
        slices.append(_slice(plans, chosen, points, checks, few if len(slices) < solved else 0))
    ways = [_joined([part.ways[i] for part in slices], solved) for i in range(len(habits))]
    first = ways[0]
    worst = next((c for c in checks if c.figure_id == first.inside.worst), None)
    if worst is not None and first.inside.over[worst.figure_id] < WORTH_A_WORD:
        worst = None
    draws = min(MOST_SOURCE_DRAWS, count) if count >= MANY else min(SOURCE_DRAWS, count)
    room_atm = span(catalogue.fact("air_co2"))[1]
    size = first.outcome.size
    return Seen(
        mix,
        setting,
        tuple(ways),
        tuple(checks),
        worst,
        tuple(sources(plans[0], worst, draws, seed)),
        likely_fizz(mix, catalogue, setting, size).value,
        np.concatenate([part.fizz_s for part in slices]),
        None if first.ph is None else likely_ph(mix, catalogue, size, slices[0].tap, room_atm),
        bent(plans[0]),
        draws,
    )


@dataclass(frozen=True)
class _Slice:
    """So many kitchens, worked out in every habit."""

    ways: tuple[Way, ...]
    fizz_s: Array
    tap: Water


def _slice(plans: Sequence[Plan], chosen: Kitchens, points: Array, checks: list[Check], few: int) -> _Slice:
    """The kitchens of these points; few: how many have their water solved."""
    catalogue, setting = plans[0].catalogue, plans[0].setting
    all_kitchens = [chosen, *(again(chosen, plan, points) for plan in plans[1:])]
    results = [outcomes(kitchens, catalogue) for kitchens in all_kitchens]
    acidity = settled_ph(all_kitchens, [r.size for r in results], few) if few else None
    ways = []
    for i, (kitchens, result) in enumerate(zip(all_kitchens, results, strict=True)):
        chance, levels = judge(checks, kitchens)
        ways.append(Way(kitchens.habit, result, None if acidity is None else acidity[i], chance, levels))
    return _Slice(tuple(ways), fizz_seconds(chosen, catalogue, setting, results[0].size), chosen.tap)


def _joined(parts: Sequence[Way], solved: int) -> Way:
    """The same habit in one slice after the other; the water of the first `solved`, unless one of them is too strong."""
    one = parts[0]

    def row(of: Callable[[Way], Array | None]) -> Array | None:
        found = [values for part in parts if (values := of(part)) is not None]
        return np.concatenate(found) if found else None

    outcome = replace(
        one.outcome,
        piece_g=np.concatenate([part.outcome.piece_g for part in parts]),
        pieces=np.concatenate([part.outcome.pieces for part in parts]),
        acid_to_base_eq=row(lambda part: part.outcome.acid_to_base_eq),
        neat_pct=row(lambda part: part.outcome.neat_pct),
    )
    ph = row(lambda part: part.ph) if all(part.ph is not None for part in parts[:solved]) else None
    levels = {name: np.concatenate([part.levels[name] for part in parts]) for name in one.levels}
    return Way(one.habit, outcome, ph, together([part.inside for part in parts]), levels)
