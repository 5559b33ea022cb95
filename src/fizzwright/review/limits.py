"""The finished piece against every fragrance limit in force: what was compared with what, as of the recipe's date."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.model import Limit
from fizzwright.recipe.mix import Array, Mix
from fizzwright.review.figures import sources_of
from fizzwright.review.fitting import Bound, Way
from fizzwright.review.joins import UNCHECKED, Part, Reach
from fizzwright.review.rules import compared, lawful
from fizzwright.science import exposure
from fizzwright.wording import apart, shown

TRACE_PCT = 0.001
"""Below this a text says so and no more: digits of a trace tell a maker nothing. The figure keeps them."""
ROUNDING = 1 + 1e-9
"""A level that is the limit to the last digit of the arithmetic is not over it."""
RULE_NAMES = {
    "ifra": "IFRA's limit for bath products (category 9)",
    "eu_annex_ii": "Annex II of EU and UK law",
    "eu_annex_iii": "Annex III of EU and UK law",
    "canada_hotlist": "Canada's Hotlist",
    "us_cfr": "the US federal code",
    "other": "a published ceiling",
}
ADDED_BAN_WORDS = (
    "not to be added",
    "adding the pure",
    "only as part of natural",
    "only as a natural",
    "only as natural",
)
"""Wording in a limit's condition that bars the pure substance and leaves only what an oil brings of itself."""
LEVEL_EQUATION = "level % = sum over lines of (grams x share of the line in %) / cured grams of the whole mix"


@dataclass(frozen=True, slots=True)
class Level:
    """How much of one thing is in the cured product, percent: likely, and the smallest and largest by species range."""

    typical: float
    low: float
    high: float
    high_known: bool
    parts: tuple[Part, ...]

    @property
    def unchecked(self) -> bool:
        """True when a typical figure is remembered or estimated."""
        return any(part.how in UNCHECKED for part in self.parts)

    @property
    def range_unchecked(self) -> bool:
        """True when the end of a range is remembered or estimated."""
        return any(part.range_how in UNCHECKED for part in self.parts)

    @property
    def analysed(self) -> bool:
        """True when every part comes from a lot's own analysis."""
        return all(part.how == "analysis" for part in self.parts)

    @property
    def range_kind(self) -> str:
        """What low and high mean: the species range, the lot's own analysis, or exact for the thing itself."""
        if all(part.how == "exact" for part in self.parts):
            return "exact"
        return "this lot's own analysis" if self.analysed else "species range"

    @property
    def sources(self) -> tuple[str, ...]:
        """Citation ids of the composition figures."""
        return sources_of(*(part.sources for part in self.parts))


@dataclass(frozen=True, slots=True)
class Check:
    """One limit in force beside the level it was compared with."""

    limit: Limit
    level: Level
    yardstick: bool
    """True when the rule does not bind this piece by law but is worth a look."""
    stand_in: bool = False
    """True when no figure of the recipe's day is held, so the earliest one known is compared instead."""

    @property
    def figure_id(self) -> str:
        """The id of the figure: limit.<rule>.<substance slug>."""
        return f"limit.{self.limit.rule}.{self.limit.slug}"

    @property
    def share(self) -> float | None:
        """Typical level / limit; None for a ban or a limit without a figure."""
        return self.level.typical / self.limit.limit_pct if self.limit.limit_pct else None

    @property
    def over(self) -> bool:
        """True when the typical level is over the limit."""
        return self.limit.limit_pct is not None and self.level.typical > self.limit.limit_pct * ROUNDING

    @property
    def stops(self) -> bool:
        """True when passing it stops the piece: an opinion that binds nobody by age only warns."""
        return self.limit.rule != "other" or bool(self.limit.binds_audiences)

    @property
    def over_at_worst(self) -> bool:
        """True when only the largest level by species range is over."""
        return self.limit.limit_pct is not None and not self.over and self.level.high > self.limit.limit_pct * ROUNDING


def cured_g(mix: Mix, grams: Array | None = None) -> float | Array:
    """Grams of the whole mix when alcohol and free water have gone; shape (...) for grams of shape (..., lines)."""
    total = ((mix.grams if grams is None else grams) * mix.cured_fraction).sum(axis=-1)
    return float(total) if np.ndim(total) == 0 else np.asarray(total)


def level(parts: Sequence[Part], mix: Mix, product_g: float) -> Level:
    """Percent of the cured product that the parts add up to; the ends of the range are sums of all low and all high."""
    grams = mix.grams[[part.line for part in parts]]
    shares = np.array([(part.typical_pct, part.min_pct, part.max_pct) for part in parts])
    typical, low, high = (float(total) for total in exposure.constituent_totals_pct(grams, shares, product_g))
    return Level(
        typical,
        low,
        high,
        all(part.max_known for part in parts),
        tuple(parts),
    )


def checks(mix: Mix, catalogue: Catalogue, found: Reach) -> list[Check]:
    """Every limit in force that something in the mix reaches; the strictest row of each rule and substance."""
    product_g = float(cured_g(mix))
    strictest: dict[tuple[str, str], Check] = {}
    for substance, parts in found.limits.items():
        for limit, stand_in in compared(mix, catalogue, substance):
            if limit.figure_status == "no_figure_by_nature":
                continue
            counted = [part for part in parts if part.counts_for(limit.rule)]
            if not counted:
                continue
            amount = level(counted, mix, product_g)
            if amount.high <= 0 and amount.high_known:
                continue
            yardstick = limit.rule == "other" or not lawful(limit, mix.recipe.sold_in)
            key = (limit.rule, limit.slug)
            if key not in strictest or _figure(limit) < _figure(strictest[key].limit):
                strictest[key] = Check(limit, amount, yardstick, stand_in)
    return sorted(strictest.values(), key=lambda c: -(c.share if c.share is not None else float("inf")))


def _figure(limit: Limit) -> float:
    return limit.limit_pct if limit.limit_pct is not None else float("inf")


def pct(value: float, digits: int = 3) -> str:
    """A percentage in a sentence, without its sign; a trace is only said to be one."""
    return f"below {shown(TRACE_PCT)}" if 0 < value < TRACE_PCT else shown(value, digits)


def pct_beside(value: float, limit: float) -> tuple[str, str]:
    """A percentage and the limit beside it, both without their sign."""
    have, most = apart(value, limit)
    return (f"below {shown(TRACE_PCT)}" if 0 < value < TRACE_PCT <= limit else have), most


def rule_words(check: Check, mix: Mix, brief: bool = False) -> str:
    """The rule of a check in words; brief leaves out why it is only a yardstick."""
    limit = check.limit
    name = RULE_NAMES.get(limit.rule, limit.rule)
    if limit.jurisdictions == ("eu",):
        name = name.replace("EU and UK law", "EU law")
    if limit.rule == "ifra" and limit.category != "9":
        name = "IFRA's limit for all products"
    if limit.binds_audiences:
        name = f"{name} for {limit.category.replace('_', ' ').replace('child', 'children')}"
    if check.yardstick and limit.rule != "other" and not brief:
        where = "not law where you sell" if mix.recipe.sold_in else "the piece is not marked as sold"
        name = f"{name} (as a yardstick; {where})"
    return name


def limit_words(figure_id: str, mix: Mix, all_checks: Sequence[Check]) -> str:
    """The rule and the substance behind the figure of a limit, in words; the id where nothing is known by it."""
    for check in all_checks:
        if check.figure_id == figure_id:
            return f"{rule_words(check, mix, brief=True)} on {check.limit.substance}"
    return figure_id


def per_product(mix: Mix, parts: Sequence[Part], allowed_pct: float) -> Way:
    """That what the parts add up to stays within a percentage of the cured product."""
    brings = np.zeros(len(mix.lines))
    for part in parts:
        brings[part.line] += part.typical_pct
    return Way(brings - allowed_pct * mix.cured_fraction if allowed_pct else brings)


def bounds(mix: Mix, all_checks: Sequence[Check]) -> list[Bound]:
    """What keeps each limit that stops from being passed."""
    found = []
    for check in all_checks:
        if check.stops and check.limit.limit_pct is not None:
            way = per_product(mix, check.level.parts, check.limit.limit_pct)
            brings = per_product(mix, check.level.parts, 0.0).fixed
            found.append(Bound(f"{check.limit.substance}, {rule_words(check, mix, brief=True)}", brings, (way,)))
    return found
