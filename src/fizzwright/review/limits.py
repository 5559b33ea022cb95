"""The finished piece against every fragrance limit in force: what was compared with what, as of the recipe's date."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.model import Limit
from fizzwright.recipe.mix import Array, Mix
from fizzwright.review.figures import Figure, Input, Notice, Working, sources_of
from fizzwright.review.joins import UNCHECKED, Part, Reach
from fizzwright.review.rules import compared, dated_notice, lawful
from fizzwright.science import exposure
from fizzwright.wording import apart, listed, sentence, shown

NEAR = 0.8
"""Share of a limit from which a typical level is told as near; our own choice."""
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


def _lot_words(check: Check, mix: Mix) -> str:
    names = []
    for part in check.level.parts:
        mixed = mix.lines[part.line]
        if part.how not in ("analysis", "exact"):
            names.append(f"lot {mixed.line.lot} of {mixed.name}" if mixed.line.lot else f"your lot of {mixed.name}")
    return listed(names)


def _doubt(level: Level, worst: bool = False) -> str:
    if worst:
        return " The range is from memory, not checked against a text." if level.range_unchecked else ""
    if level.unchecked:
        return " The oil's composition is from memory here, not checked against a text: ask for the lot's analysis."
    return ""


def _rule_words(check: Check, mix: Mix, brief: bool = False) -> str:
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


def _day_words(check: Check, mix: Mix) -> str:
    """Of which day the rule is."""
    if not check.stand_in:
        return f"as of {mix.as_of.isoformat()}"
    start = check.limit.effective_from
    known = f"the one in force from {start.isoformat()}" if start else "an undated one"
    return f"no figure for {mix.as_of.isoformat()} is held, so {known} was compared"


def _stand_in_words(check: Check, mix: Mix) -> str:
    return f" {sentence(_day_words(check, mix))}." if check.stand_in else ""


def _cut(check: Check, mix: Mix, product_g: float) -> str:
    """How far the line that brings most would have to come down, the others staying."""
    limit_pct = check.limit.limit_pct or 0.0
    by_line: dict[int, float] = {}
    for part in check.level.parts:
        by_line[part.line] = by_line.get(part.line, 0.0) + float(mix.grams[part.line]) * part.typical_pct
    place = max(by_line, key=lambda line: by_line[line])
    mixed = mix.lines[place]
    others = sum(by_line.values()) - by_line[place]
    left = limit_pct * product_g - others
    if left <= 0:
        return f"{mixed.name} brings most of it: leave it out."
    keep = left / by_line[place]
    return (
        f"{mixed.name} brings most of it: at most {shown(mixed.grams * keep)} g of it in this mix "
        f"({shown(100 * keep)} % of what is written)."
    )


def _over_notice(check: Check, mix: Mix, product_g: float) -> Notice:
    limit, amount = check.limit, check.level
    name = sentence(limit.substance)
    rule = _rule_words(check, mix)
    banned = limit.limit_pct == 0
    have, most = apart(amount.typical, limit.limit_pct or 0)
    share = shown(check.share) if check.share else "1"
    times = f", {share} times as much" if share != "1" else ""
    text = (
        f"{name} would be {have} % of the finished piece{times}; {rule} allows {'none' if banned else f'{most} %'}. "
        f"{_cut(check, mix, product_g)}{_stand_in_words(check, mix)}{_doubt(amount)}"
    )
    # An opinion that binds nobody by age warns; a rule, or a ceiling for this very age, stops.
    level_word = "mind" if limit.rule == "other" and not limit.binds_audiences else "stop"
    return Notice(level_word, text, _reason(check, mix), _sources(check), check.figure_id, _main_line(check, mix))


def _reason(check: Check, mix: Mix) -> str:
    limit = check.limit
    basis = limit.basis or "not stated"
    condition = f" Condition: {limit.condition}." if limit.condition else ""
    remembered = " The limit itself is from memory." if limit.how_of("limit_pct") in UNCHECKED else ""
    return (
        f"Compared: {limit.substance}, percent of the cured piece, with {_rule_words(check, mix)}, {limit.effective or 'undated'}, "
        f"{'as in force on ' + mix.as_of.isoformat() if not check.stand_in else _day_words(check, mix)}. Set for: {basis}.{condition}{remembered}"
    )


def _sources(check: Check) -> tuple[str, ...]:
    return sources_of(check.limit.sources_of("limit_pct"), check.level.sources)


def _main_line(check: Check, mix: Mix) -> str:
    main = max(check.level.parts, key=lambda part: float(mix.grams[part.line]) * part.typical_pct)
    return mix.lines[main.line].id


def _worst_notice(check: Check, mix: Mix) -> Notice:
    limit, amount = check.limit, check.level
    settle = _lot_words(check, mix)
    high, most = apart(amount.high, limit.limit_pct or 0)
    worst = f"{high} %" if amount.high_known else "nobody knows how much"
    text = (
        f"{sentence(limit.substance)} could pass {_rule_words(check, mix)}: typically {shown(amount.typical, 3)} %, "
        f"at worst {worst}, allowed {most} %. "
        + (f"The analysis of {settle} would settle it." if settle else "Weaken the scent to be clear of it.")
        + _doubt(amount, worst=True)
    )
    return Notice("mind", text, _reason(check, mix), _sources(check), check.figure_id, _main_line(check, mix))


def _near_notice(check: Check, mix: Mix) -> Notice:
    limit, amount = check.limit, check.level
    have, most = apart(amount.typical, limit.limit_pct or 0)
    text = (
        f"{sentence(limit.substance)} is near {_rule_words(check, mix)}: {have} % where "
        f"{most} % is allowed. Weigh the scent, do not count drops.{_doubt(amount)}"
    )
    return Notice("mind", text, _reason(check, mix), _sources(check), check.figure_id, _main_line(check, mix))


def _not_held(check: Check, mix: Mix) -> Notice:
    text = (
        f"{sentence(check.limit.substance)} has a limit in {_rule_words(check, mix)}, but its figure is not held here, so the "
        f"{shown(check.level.typical, 3)} % in this piece was compared with nothing. Look the rule up before selling."
    )
    return Notice("mind", text, _reason(check, mix), _sources(check), check.figure_id, _main_line(check, mix))


def _added_notices(mix: Mix, catalogue: Catalogue, found: Reach) -> list[Notice]:
    """Pure substances that a rule allows only as what an oil brings of itself."""
    notices = {}
    for substance, parts in found.limits.items():
        if not any(part.neat for part in parts):
            continue
        for limit, stand_in in compared(mix, catalogue, substance):
            if not any(words in limit.condition for words in ADDED_BAN_WORDS):
                continue
            for part in parts:
                if part.neat and part.counts_for(limit.rule):
                    yardstick = limit.rule == "other" or not lawful(limit, mix.recipe.sold_in)
                    check = Check(limit, level([part], mix, float(cured_g(mix))), yardstick, stand_in)
                    text = (
                        f"{part.of} is added as such; {_rule_words(check, mix)} allows it only as what an oil brings of "
                        "itself. Leave it out."
                    )
                    notices[limit.rule, part.line] = Notice(
                        "stop", text, _reason(check, mix), _sources(check), check.figure_id, mix.lines[part.line].id
                    )
    return list(notices.values())


def _figure_of(check: Check, mix: Mix, product_g: float) -> Figure:
    limit, amount = check.limit, check.level
    inputs = [Input("cured grams of the whole mix", product_g, "g")]
    for part in amount.parts:
        mixed = mix.lines[part.line]
        inputs.append(Input(f"{mixed.name} as weighed", mixed.grams, "g", "", mixed.basis))
        spread = "" if part.how in ("exact", "analysis") else f" ({shown(part.min_pct)}-{shown(part.max_pct)})"
        how = f"this lot's own analysis ({mixed.line.lot})" if part.how == "analysis" else part.how
        inputs.append(
            Input(f"{part.of} in {mixed.name}", part.typical_pct, f"% of the oil{spread}", "; ".join(part.sources), how)
        )
    if limit.limit_pct is not None:
        inputs.append(
            Input(
                "limit",
                limit.limit_pct,
                "% of the product",
                "; ".join(limit.sources_of("limit_pct")),
                limit.how_of("limit_pct"),
            )
        )
    allowed = (
        "a limit whose figure is not held here" if limit.limit_pct is None else "a ban" if limit.limit_pct == 0
        else f"{apart(amount.typical, limit.limit_pct)[1]} % allowed"
    )  # fmt: skip
    have = shown(amount.typical, 3) if not limit.limit_pct else apart(amount.typical, limit.limit_pct)[0]
    worst = "" if amount.high_known else "; the worst case is not known"
    return Figure(
        id=check.figure_id,
        value=amount.typical,
        unit="% of the cured piece",
        text=f"{sentence(limit.substance)}: {have} % of the piece against {allowed} "
        f"({_rule_words(check, mix)}; {_day_words(check, mix)}){worst}.",
        working=Working(LEVEL_EQUATION, tuple(inputs)),
        low=amount.low,
        high=amount.high,
        sources=_sources(check),
        basis="estimate" if amount.unchecked else "published",
        range_kind=amount.range_kind,
        high_allowed=limit.limit_pct,
        share_of_limit=check.share,
    )


def _summary(compared: list[Check], mix: Mix) -> Notice:
    rules = listed(dict.fromkeys(_rule_words(c, mix) for c in compared))
    closest = next((c for c in compared if c.share is not None), None)
    count = f"{len(compared)} limits were" if len(compared) != 1 else "One limit was"
    text = f"{count} compared as of {mix.as_of.isoformat()}, and no typical level is over: {rules}."
    if closest is not None and closest.share is not None:
        text += f" The closest is {closest.limit.substance} at {shown(100 * closest.share)} % of {_rule_words(closest, mix, brief=True)}."
    reason = (
        "Each level is the sum over all oils of what the species typically holds, with the species range as low and high, "
        "as percent of the cured piece. Traces that the tables hold no figure for are not covered."
    )
    return Notice("good", text, reason, sources_of(*(c.limit.sources_of("limit_pct") for c in compared)))


def compare(mix: Mix, catalogue: Catalogue, found: Reach) -> tuple[list[Figure], list[Notice]]:
    """Figures for every limit reached and the notices worth reading, worst first."""
    product_g = float(cured_g(mix))
    all_checks = checks(mix, catalogue, found)
    notices = [*_added_notices(mix, catalogue, found), *dated_notice(mix, catalogue)]
    figures = []
    for check in all_checks:
        if check.limit.limit_pct is None:
            notices.append(_not_held(check, mix))
        elif check.over:
            notices.append(_over_notice(check, mix, product_g))
        elif check.over_at_worst or not check.level.high_known:
            notices.append(_worst_notice(check, mix))
        elif check.share is not None and check.share >= NEAR:
            notices.append(_near_notice(check, mix))
        figures.append(_figure_of(check, mix, product_g))
    if all_checks and not any(check.over for check in all_checks) and not any(n.level == "stop" for n in notices):
        notices.append(_summary(all_checks, mix))
    return figures, notices
