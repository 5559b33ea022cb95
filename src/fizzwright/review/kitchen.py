"""In other people's kitchens: what a recipe becomes where cups, drops, tubs and oils differ, and what would steady it."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import Any

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
    again,
    bent,
    checked_count,
    checked_habit,
    judge,
    kitchens_at,
    plan_of,
    points_of,
    stopping,
)
from fizzwright.review.setting import Setting
from fizzwright.review.tap import span

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
    points = points_of(plans[0], count, seed)
    checks = stopping(mix, catalogue)
    chosen = kitchens_at(plans[0], points)
    all_kitchens: list[Kitchens] = [chosen, *(again(chosen, plan, points) for plan in plans[1:])]
    results = [outcomes(kitchens, catalogue) for kitchens in all_kitchens]
    few = count if count >= MANY else min(count, PH_KITCHENS)
    room_atm = span(catalogue.fact("air_co2"))[1]
    acidity = settled_ph(all_kitchens, [r.size for r in results], few)
    ways = []
    for i, (kitchens, result) in enumerate(zip(all_kitchens, results, strict=True)):
        chance, levels = judge(checks, kitchens)
        ways.append(Way(habits[i], kitchens, result, None if acidity is None else acidity[i], chance, levels))
    first = ways[0]
    worst = next((c for c in checks if c.figure_id == first.inside.worst), None)
    if worst is not None and first.inside.over[worst.figure_id] < WORTH_A_WORD:
        worst = None
    draws = min(MOST_SOURCE_DRAWS, count) if count >= MANY else min(SOURCE_DRAWS, count)
    return Seen(
        mix,
        setting,
        tuple(ways),
        tuple(checks),
        worst,
        tuple(sources(plans[0], worst, draws, seed)),
        likely_fizz(mix, catalogue, setting, first.outcome.size).value,
        fizz_seconds(chosen, catalogue, setting, first.outcome.size),
        None if acidity is None else likely_ph(mix, catalogue, first.outcome.size, chosen.tap, room_atm),
        bent(plans[0]),
        draws,
    )
