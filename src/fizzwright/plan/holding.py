"""Taking drops out of a recipe until enough kitchens stay inside every limit, or saying what stands in the way."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cached_property

import numpy as np

from fizzwright.catalogue import Catalogue
from fizzwright.plan.spoons import DROPS_AT_MOST, drops_of
from fizzwright.recipe.document import read_text
from fizzwright.recipe.mix import Mix
from fizzwright.recipe.model import Amount
from fizzwright.recipe.tidy import with_amounts
from fizzwright.recipe.weigh import weigh
from fizzwright.refusal import Refusal
from fizzwright.review import review
from fizzwright.review.figures import Review
from fizzwright.review.kitchens import Inside, inside, stopping
from fizzwright.wording import listed, shown

LEAST_SHARE = 0.5
"""A scent cut below half of what was written is another recipe, no rounding of this one."""

KITCHENS, FEW = 2**13, 2**11
MANY_OILS = 12
"""With more oils than these fewer kitchens are drawn, so that nobody waits for minutes."""
TRIED_AT_MOST = 3
"""Oils behind one limit that are tried one by one: those that bring most of it."""
DRAWN_TO = 0.001
"""Some thousand kitchens are drawn: they tell shares down to about this."""


@dataclass(frozen=True)
class Holding:
    """A document that enough kitchens keep inside every limit."""

    text: str
    inside: Inside
    drops: Mapping[int, int] = field(default_factory=dict)
    """Lines whose drops had to become fewer, with how many are left."""


@dataclass(frozen=True)
class _Trial:
    """A document to be tried with other drops."""

    text: str
    mix: Mix
    """As written."""
    made: Mix
    """The document weighed; its lines stand where those of the mix do."""
    catalogue: Catalogue
    habit: str

    def document(self, drops: Mapping[int, int]) -> str:
        """The document with so many drops on some lines."""
        return with_amounts(self.text, {row: _amount(n).text for row, n in drops.items()})

    def inside(self, drops: Mapping[int, int]) -> Inside:
        """The kitchens of the document with so many drops on some lines; none takes the line out."""
        lines = []
        for row, line in enumerate(self.made.lines):
            if row not in drops:
                lines.append(line)
            elif drops[row]:
                grams = line.grams * drops[row] / drops_of(line, self.catalogue)
                lines.append(replace(line, grams=grams, line=replace(line.line, amount=_amount(drops[row]))))
        made = replace(self.made, lines=tuple(lines), grams=np.array([line.grams for line in lines]))
        many = sum(line.is_oil for line in lines) > MANY_OILS
        return inside(made, self.catalogue, habit=self.habit, count=FEW if many else KITCHENS)

    @cached_property
    def drivers(self) -> Mapping[str, list[int]]:
        """Figure of each limit -> the lines behind it, the largest share first."""
        found: dict[str, list[int]] = {}
        for check in stopping(self.made, self.catalogue):
            share: dict[int, float] = {}
            for part in check.level.parts:
                share[part.line] = share.get(part.line, 0.0) + part.typical_pct * self.made.lines[part.line].grams
            found[check.figure_id] = sorted(share, key=lambda row: -share[row])
        return found


def _amount(drops: int) -> Amount:
    return Amount(f"{drops} drop{'' if drops == 1 else 's'}", Fraction(drops), "drop")


def hold(
    text: str,
    mix: Mix,
    catalogue: Catalogue,
    counts: Mapping[int, int],
    wanted: Mapping[int, float],
    *,
    chance: float,
    habit: str,
) -> Holding:
    """The document itself when it holds, else with fewer drops of the oils that drive the limit.

    counts: drops of each oil by its line in the document; wanted: the drops that were asked for. No oil goes below half
    of what was wanted. Refusal names the limit in the way and the largest counts that would hold.
    """
    recipe = read_text(text, catalogue, mix.recipe.file)
    made = weigh(recipe, catalogue, as_of=mix.as_of, lot_analyses=mix.lot_analyses)
    trial = _Trial(text, mix, made, catalogue, habit)
    now = trial.inside({})
    if now.chance >= chance:
        return Holding(text, now)
    floors = {row: max(1, math.ceil(LEAST_SHARE * wanted[row] - 1e-6)) for row in counts}
    drops, got = _fewer(trial, counts, floors, chance)
    if got.chance >= chance:
        fewer = {row: n for row, n in drops.items() if n < counts[row]}
        return Holding(trial.document(fewer), got, fewer)
    raise _refused(trial, now, chance)


def _fewer(
    trial: _Trial, counts: Mapping[int, int], floors: Mapping[int, int], chance: float
) -> tuple[dict[int, int], Inside]:
    """The largest counts that hold, taking from the oil that drives the limit first; all floors when none do."""
    drops = dict(counts)
    got = trial.inside(drops)
    while got.chance < chance:
        found = _driver(trial, drops, floors, got, 1.0 - chance)
        if found is None:
            break
        worst, driver, lowest = found
        low, high, got = floors[driver], drops[driver], lowest
        # where it does not mend everything by itself it goes as far down as its own limit asks
        alone = got.chance >= chance
        while high - low > 1:
            middle = (low + high) // 2
            tried = trial.inside({**drops, driver: middle})
            if tried.chance >= chance if alone else tried.over.get(worst, 0.0) <= 1.0 - chance:
                low, got = middle, tried
            else:
                high = middle
        drops[driver] = low
    return drops, got


def _driver(
    trial: _Trial, drops: Mapping[int, int], floors: Mapping[int, int], now: Inside, allowed: float
) -> tuple[str, int, Inside] | None:
    """A limit passed too often, an oil behind it that may still lose drops, and the kitchens with it at its floor.

    One that mends its limit alone goes first, by the limit passed most often and the oil that brings most of it; where
    none does, the oil most behind the worst limit. None when no oil may lose any.
    """
    first = None
    tried: dict[int, Inside] = {}
    for limit in sorted(now.over, key=lambda name: -now.over[name]):
        if now.over[limit] <= (0.0 if first is None else allowed):
            break
        left = [row for row in trial.drivers.get(limit, ()) if drops.get(row, 0) > floors.get(row, 0)]
        for row in left[:TRIED_AT_MOST]:
            if row not in tried:
                tried[row] = trial.inside({**drops, row: floors[row]})
            if tried[row].over.get(limit, 0.0) <= allowed:
                return limit, row, tried[row]
            first = first or (limit, row, tried[row])
    return first


def _refused(trial: _Trial, now: Inside, chance: float) -> Refusal:
    """What stands in the way, and the least change that mends it: whole drops, down to none."""
    lines = {row: line for row, line in enumerate(trial.mix.lines) if line.is_oil}
    start = {row: min(_written(trial, row), DROPS_AT_MOST) for row in lines}
    drops, got = _fewer(trial, start, dict.fromkeys(start, 0), chance)
    passed = now.over.get(now.worst, 0.0)
    wall = (
        f"In {drawn(passed)} of kitchens with levelled spoons this passes a limit. {_limit(trial, now.worst)} "
        f"Inside every limit stay {drawn(now.chance)}; asked was {percent(chance)}."
    )
    if got.chance < chance:
        return Refusal(f"chance: {wall} No smaller count of drops mends it: read the review of this recipe first.")
    changed = [row for row, n in drops.items() if n < _written(trial, row)]
    steps = [
        f"leave out {lines[row].name}"
        if drops[row] == 0
        else f"take {drops[row]} drop{'' if drops[row] == 1 else 's'} of {lines[row].name} (not {lines[row].line.amount.text})"
        for row in changed
    ]
    return Refusal(f"chance: {wall} That is past rounding. What mends it: {listed(steps)}; then round again.")


def _written(trial: _Trial, row: int) -> int:
    """Drops of an oil as written, the nearest whole number of them."""
    return max(round(drops_of(trial.mix.lines[row], trial.catalogue)), 1)


def _limit(trial: _Trial, figure_id: str) -> str:
    """What the review says of a limit."""
    return limit_text(review(trial.mix.recipe, trial.catalogue, as_of=trial.mix.as_of), figure_id)


def limit_text(report: Review, figure_id: str) -> str:
    """The sentence of a limit by the id of its figure."""
    return next((f.text for f in report.section("skin").figures if f.id == figure_id), figure_id)


def percent(share: float) -> str:
    """A share of kitchens as words: 0.9913 -> 99.13 %."""
    return f"{shown(share * 100, 4)} %"


def drawn(share: float) -> str:
    """The same for a share that was drawn, which tells neither all nor none."""
    if share > 1.0 - DRAWN_TO:
        return f"more than {percent(1.0 - DRAWN_TO)}"
    return f"fewer than {percent(DRAWN_TO)}" if share < DRAWN_TO else percent(share)
