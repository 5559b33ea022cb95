"""What a maker is told of the fragrance limits: one notice a substance, its rules worst first, and a figure for each."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from fizzwright.catalogue import Catalogue
from fizzwright.recipe.mix import Mix
from fizzwright.review.figures import Figure, Input, Notice, Working, sources_of
from fizzwright.review.fitting import Fits
from fizzwright.review.joins import UNCHECKED, Reach
from fizzwright.review.limits import (
    ADDED_BAN_WORDS,
    LEVEL_EQUATION,
    Check,
    Level,
    cured_g,
    level,
    pct,
    pct_beside,
    rule_words,
)
from fizzwright.review.rules import compared, dated_notice, lawful
from fizzwright.wording import apart, listed, sentence, shown

NEAR = 0.8
"""Share of a limit from which a typical level is told as near; our own choice."""


def _lots(checks: Iterable[Check], mix: Mix) -> str:
    """The lots whose analysis would settle a level."""
    named, own = {}, []
    for part in (part for check in checks for part in check.level.parts):
        mixed = mix.lines[part.line]
        if part.how in ("analysis", "exact"):
            continue
        if mixed.line.lot:
            named[mixed.line.lot] = f"lot {mixed.line.lot} of {mixed.name}"
        else:
            own.append(mixed.name)
    yours = [f"your lot of {listed(own)}"] if len(set(own)) == 1 else [f"your lots of {listed(own)}"] if own else []
    return listed([*named.values(), *yours])


def _doubt(level: Level, worst: bool = False) -> str:
    if worst:
        return " The range is from memory, not checked against a text." if level.range_unchecked else ""
    if level.unchecked:
        return " The oil's composition is from memory here, not checked against a text: ask for the lot's analysis."
    return ""


def _day_words(check: Check, mix: Mix) -> str:
    """Of which day the rule is."""
    if not check.stand_in:
        return f"as of {mix.as_of.isoformat()}"
    start = check.limit.effective_from
    known = f"the one in force from {start.isoformat()}" if start else "an undated one"
    return f"no figure for {mix.as_of.isoformat()} is held, so {known} was compared"


def _reason(check: Check, mix: Mix) -> str:
    limit = check.limit
    basis = limit.basis or "not stated"
    condition = f" Condition: {limit.condition}." if limit.condition else ""
    remembered = " The limit itself is from memory." if limit.how_of("limit_pct") in UNCHECKED else ""
    force = _day_words(check, mix) if check.stand_in else f"as in force on {mix.as_of.isoformat()}"
    return (
        f"Compared: {limit.substance}, percent of the cured piece, with {rule_words(check, mix)}, "
        f"{limit.effective or 'undated'}, {force}. Set for: {basis}.{condition}{remembered}"
    )


def _sources(check: Check) -> tuple[str, ...]:
    return sources_of(check.limit.sources_of("limit_pct"), check.level.sources)


def _main_line(check: Check, mix: Mix) -> str:
    main = max(check.level.parts, key=lambda part: float(mix.grams[part.line]) * part.typical_pct)
    return mix.lines[main.line].id


def _named(check: Check, first: Check, mix: Mix) -> str:
    """A rule, with its substance where that goes by another name than the first one told."""
    other = "" if check.limit.substance == first.limit.substance else f" on {check.limit.substance}"
    return f"{rule_words(check, mix)}{other}"


def _allows(check: Check, first: Check, mix: Mix) -> str:
    most = pct_beside(check.level.typical, check.limit.limit_pct or 0)[1]
    return f"{_named(check, first, mix)} allows {f'{most} %' if check.limit.limit_pct else 'none'}"


def _over_text(over: Sequence[Check], mix: Mix, fits: Fits) -> str:
    first = over[0]
    have = pct_beside(first.level.typical, first.limit.limit_pct or 0)[0]
    share = shown(first.share) if first.share else "1"
    times = f", {share} times what is allowed" if share != "1" else ""
    uses = [mix.lines[part.line].id for check in over for part in check.level.parts]
    cure = fits.cure(uses) or f"Use less {mix.lines[first.level.parts[0].line].name}."
    stand_ins = [f" {sentence(_day_words(check, mix))}." for check in over if check.stand_in]
    return (
        f"{sentence(first.limit.substance)} would be {have} % of the finished piece{times}; "
        f"{listed(_allows(check, first, mix) for check in over)}. {cure}{''.join(dict.fromkeys(stand_ins))}"
    )


def _worst_text(worst: Sequence[Check], mix: Mix) -> str:
    first = worst[0]
    high, most = apart(first.level.high, first.limit.limit_pct or 0)
    at_worst = f"{high} %" if first.level.high_known else "nobody knows how much"
    typical = pct(first.level.typical)
    head = f"{sentence(first.limit.substance)} could pass "
    if len(worst) == 1:
        said = f"{rule_words(first, mix)}: typically {typical} %, at worst {at_worst}, allowed {most} %. "
    else:
        said = f"a limit: typically {typical} %, at worst {at_worst}; {listed(_allows(c, first, mix) for c in worst)}. "
    settle = _lots(worst, mix)
    return f"{head}{said}" + (
        f"The analysis of {settle} would settle it." if settle else "Weaken the scent to be clear of it."
    )


def _also(worst: Sequence[Check], near: Sequence[Check], first: Check, mix: Mix) -> str:
    """The milder rules of a substance that is over another."""
    if not worst and not near:
        return ""
    said = ""
    if near:
        said += f" It is near another rule: {listed(_allows(check, first, mix) for check in near)}."
    if worst:
        said += f" A lot at the top of its range could pass another: {listed(_allows(check, first, mix) for check in worst)}."
    return said


def _near_text(near: Sequence[Check], mix: Mix) -> str:
    first = near[0]
    have, most = pct_beside(first.level.typical, first.limit.limit_pct or 0)
    where = f"{have} % where {most} % is allowed"
    if len(near) > 1:
        where += "; " + "; ".join(_allows(check, first, mix) for check in near[1:])
    return f"{sentence(first.limit.substance)} is near {rule_words(first, mix)}: {where}. Weigh the scent, do not count drops."


def _substance_notice(group: Sequence[Check], mix: Mix, fits: Fits) -> Notice | None:
    """One notice on one substance, all its rules in it; None when there is nothing to tell."""
    over = [check for check in group if check.over]
    rest = [check for check in group if not check.over and check.limit.limit_pct is not None]
    worst = [check for check in rest if check.over_at_worst or not check.level.high_known]
    near = [check for check in rest if check not in worst and check.share is not None and check.share >= NEAR]
    over.sort(key=lambda check: not check.stops)
    told = [*over, *worst, *near]
    if not told:
        return None
    first = told[0]
    why = ""
    if over:
        uses = [mix.lines[part.line].id for check in over for part in check.level.parts]
        text = _over_text(over, mix, fits) + _also(worst, near, first, mix) + _doubt(first.level)
        why = fits.why(uses)
    elif worst:
        text = _worst_text(worst, mix) + _also([], near, first, mix) + _doubt(first.level, worst=True)
    else:
        text = _near_text(near, mix) + _doubt(first.level)
    return Notice(
        "stop" if any(check.stops for check in over) else "mind",
        text,
        " ".join(_reason(check, mix) for check in told) + why,
        sources_of(*(_sources(check) for check in told)),
        first.figure_id,
        _main_line(first, mix),
    )


def _not_held(check: Check, mix: Mix) -> Notice:
    text = (
        f"{sentence(check.limit.substance)} has a limit in {rule_words(check, mix)}, but its figure is not held here, so the "
        f"{pct(check.level.typical)} % in this piece was compared with nothing. Look the rule up before selling."
    )
    return Notice("mind", text, _reason(check, mix), _sources(check), check.figure_id, _main_line(check, mix))


def added(mix: Mix, catalogue: Catalogue, found: Reach) -> list[Notice]:
    """Pure substances that a rule allows only as what an oil brings of itself; each names its line."""
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
                        f"{part.of} is added as such; {rule_words(check, mix)} allows it only as what an oil brings of "
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
        else f"{pct_beside(amount.typical, limit.limit_pct)[1]} % allowed"
    )  # fmt: skip
    have = pct(amount.typical) if not limit.limit_pct else pct_beside(amount.typical, limit.limit_pct)[0]
    worst = "" if amount.high_known else "; the worst case is not known"
    return Figure(
        id=check.figure_id,
        value=amount.typical,
        unit="% of the cured piece",
        text=f"{sentence(limit.substance)}: {have} % of the piece against {allowed} "
        f"({rule_words(check, mix)}; {_day_words(check, mix)}){worst}.",
        working=Working(LEVEL_EQUATION, tuple(inputs)),
        low=amount.low,
        high=amount.high,
        sources=_sources(check),
        basis="estimate" if amount.unchecked else "published",
        range_kind=amount.range_kind,
        high_allowed=limit.limit_pct,
        share_of_limit=check.share,
    )


def _summary(all_checks: list[Check], mix: Mix) -> Notice:
    rules = listed(rule_words(c, mix) for c in all_checks)
    closest = next((c for c in all_checks if c.share is not None), None)
    count = f"{len(all_checks)} limits were" if len(all_checks) != 1 else "One limit was"
    text = f"{count} compared as of {mix.as_of.isoformat()}, and no typical level is over: {rules}."
    if closest is not None and closest.share is not None:
        share = f"{shown(100 * closest.share)} %" if closest.share >= 0.01 else "less than 1 %"
        text += f" The closest is {closest.limit.substance} at {share} of {rule_words(closest, mix, brief=True)}."
    reason = (
        "Each level is the sum over all oils of what the species typically holds, with the species range as low and high, "
        "as percent of the cured piece. Traces that the tables hold no figure for are not covered."
    )
    return Notice("good", text, reason, sources_of(*(c.limit.sources_of("limit_pct") for c in all_checks)))


def _by_substance(all_checks: Iterable[Check]) -> Mapping[object, list[Check]]:
    """Checks of the very same stuff together, by whatever name a rule calls it."""
    groups: dict[object, list[Check]] = {}
    for check in all_checks:
        groups.setdefault(frozenset((part.line, part.of) for part in check.level.parts), []).append(check)
    return groups


def compare(
    mix: Mix, catalogue: Catalogue, all_checks: list[Check], barred: Sequence[Notice], fits: Fits
) -> tuple[list[Figure], list[Notice]]:
    """Figures for every limit reached and the notices worth reading; barred: what `added` found."""
    product_g = float(cured_g(mix))
    notices = [*barred, *dated_notice(mix, catalogue)]
    for group in _by_substance(all_checks).values():
        if notice := _substance_notice(group, mix, fits):
            notices.append(notice)
    notices += [_not_held(check, mix) for check in all_checks if check.limit.limit_pct is None]
    figures = [_figure_of(check, mix, product_g) for check in all_checks]
    if all_checks and not any(check.over for check in all_checks) and not any(n.level == "stop" for n in notices):
        notices.append(_summary(all_checks, mix))
    return figures, notices
