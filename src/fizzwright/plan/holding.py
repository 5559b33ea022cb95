"""Taking drops out of a recipe until enough kitchens stay inside every limit, or saying what stands in the way."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from fizzwright.catalogue import Catalogue
from fizzwright.plan.spoons import DROPS_AT_MOST, drops_of
from fizzwright.recipe.document import read_text
from fizzwright.recipe.mix import Mix
from fizzwright.recipe.tidy import remove_line, with_amounts
from fizzwright.recipe.weigh import weigh
from fizzwright.refusal import Refusal
from fizzwright.review import review
from fizzwright.review.figures import Review
from fizzwright.review.kitchens import Inside, inside
from fizzwright.wording import listed, shown

LEAST_SHARE = 0.5
"""A scent cut below half of what was written is another recipe, no rounding of this one."""

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
    catalogue: Catalogue
    habit: str

    def document(self, drops: Mapping[int, int]) -> str:
        some = {row: f"{n} drop{'' if n == 1 else 's'}" for row, n in drops.items() if n}
        text = with_amounts(self.text, some)
        for row in sorted((row for row, n in drops.items() if not n), reverse=True):
            text = remove_line(text, row)
        return text

    def inside(self, drops: Mapping[int, int]) -> Inside:
        recipe = read_text(self.document(drops), self.catalogue, self.mix.recipe.file)
        made = weigh(recipe, self.catalogue, as_of=self.mix.as_of, lot_analyses=self.mix.lot_analyses)
        return inside(made, self.catalogue, habit=self.habit)


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
    trial = _Trial(text, mix, catalogue, habit)
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
    while got.chance < chance and (left := [row for row in drops if drops[row] > floors[row]]):
        lowest = {row: trial.inside({**drops, row: floors[row]}) for row in left}
        driver = max(left, key=lambda row: lowest[row].chance)
        alone = lowest[driver].chance >= chance
        worst = got.worst
        if not alone:
            # where no oil alone mends it, the one behind the worst limit goes as far down as that limit asks
            driver = min(left, key=lambda row: lowest[row].over.get(worst, 0.0))
        low, high, got = floors[driver], drops[driver], lowest[driver]
        while high - low > 1:
            middle = (low + high) // 2
            tried = trial.inside({**drops, driver: middle})
            if tried.chance >= chance if alone else tried.over.get(worst, 0.0) <= 1.0 - chance:
                low, got = middle, tried
            else:
                high = middle
        drops[driver] = low
    return drops, got


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
        else f"take {drops[row]} drop{'' if drops[row] == 1 else 's'} of {lines[row].name}, not {lines[row].line.amount.text}"
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
