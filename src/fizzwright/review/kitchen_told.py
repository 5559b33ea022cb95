"""The kitchens in words and numbers: figures, tables, curves and the one change that would steady a recipe most."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fizzwright.review.chemistry import fizz_of
from fizzwright.review.figures import Figure, Input, Notice, Section, Working, interval
from fizzwright.review.kitchen_measuring import PIPETTE
from fizzwright.review.kitchen_pictures import HABIT_WORDS, Seen, curves, tables
from fizzwright.review.limits import Check, rule_words
from fizzwright.review.views import in_carrier, scent_of, strongest
from fizzwright.wording import duration_text, listed, sentence, shown

Array = NDArray[np.float64]

TITLE = "In other people's kitchens"
MIND_ABOVE = 0.01
"""Our own choice: a limit that more than one kitchen in a hundred passes is worth a word."""
Z90 = 1.645
SOURCES = ("ROSENKRANZ2024", "NYT_FLOUR", "CI_2011", "DROP_REVIEW", "USP1101", "COMMON_PRACTICE")
"""What the spreads of measuring rest on: measures.csv, rows var_ and drop_."""
EQUATION = (
    "grams = grams as written x exp(sum of doubts x standard normals); doubts that one kitchen's lines share (cups, hand, dropper, "
    "scale) are drawn once a kitchen; shares of an oil add up to the oil; the rest is worked out as everywhere here"
)
CHANCE = "kitchens over the limit / kitchens drawn; range: Wilson's 90 % interval for so many draws"


def section(seen: Seen) -> Section:
    """Figures, tables, curves and notices."""
    return Section(
        "kitchen",
        TITLE,
        (*_chances(seen), *_spreads(seen), *_shares(seen)),
        tuple(_notices(seen)),
        curves=tuple(curves(seen)),
        tables=tuple(tables(seen)),
    )


def of_kitchens(chance: float) -> str:
    """A chance as a count of kitchens."""
    if chance <= 0.0:
        return "none of the kitchens drawn"
    if chance < 0.0015:
        return "about 1 kitchen in 1000" if chance >= 0.0005 else "fewer than 1 kitchen in 1000"
    if chance < 0.0095:
        return f"about {round(1000 * chance)} kitchens in 1000"
    if chance > 0.995:
        return "nearly every kitchen" if chance < 1.0 else "every kitchen drawn"
    count = round(100 * chance)
    return f"about {count} kitchen{'s' if count > 1 else ''} in 100"


def wilson(chance: float, count: int) -> tuple[float, float]:
    """90 % interval of a share of so many draws (Wilson 1927, J. Am. Stat. Assoc. 22:209)."""
    z2 = Z90 * Z90
    middle = (chance + z2 / (2 * count)) / (1 + z2 / count)
    half = Z90 / (1 + z2 / count) * np.sqrt(chance * (1 - chance) / count + z2 / (4 * count * count))
    return max(0.0, float(middle - half)), min(1.0, float(middle + half))


def _drawn(seen: Seen) -> tuple[Input, ...]:
    way = seen.first
    return (
        Input("kitchens drawn", way.inside.count),
        Input("how they measure", HABIT_WORDS[way.habit]),
    )


def _chance(seen: Seen, name: str, chance: float, text: str, *more: Input) -> Figure:
    low, high = wilson(chance, seen.first.inside.count)
    return Figure(
        name,
        100.0 * chance,
        "% of kitchens",
        text,
        Working(f"{CHANCE}; {EQUATION}", (*_drawn(seen), *more)),
        100.0 * min(low, chance),
        100.0 * max(high, chance),
        SOURCES,
    )


def _chances(seen: Seen) -> list[Figure]:
    inside = seen.first.inside
    how = HABIT_WORDS[seen.first.habit]
    figures = []
    if seen.checks:
        figures.append(
            _chance(
                seen,
                "chance_inside_all",
                inside.chance,
                f"{sentence(how)}, {of_kitchens(inside.chance)} would stay inside all {len(seen.checks)} published limits compared."
                if len(seen.checks) > 1
                else f"{sentence(how)}, {of_kitchens(inside.chance)} would stay inside the published limit compared.",
            )
        )
    for check in seen.checks:
        chance = inside.over[check.figure_id]
        level = seen.first.levels[check.figure_id]
        most = check.limit.limit_pct or 0.0
        low, high = interval(level * (most or 1.0))
        figures.append(
            _chance(
                seen,
                f"chance_over_{check.figure_id}",
                chance,
                f"{sentence(of_kitchens(chance))} would pass {rule_words(check, seen.mix, brief=True)} on "
                f"{check.limit.substance}: {shown(low)} to {shown(high)} % of the piece, {shown(most)} % allowed.",
                Input("level, 5th to 95th kitchen of 100", f"{shown(low)} to {shown(high)}", "% of the cured piece"),
                Input(
                    "limit", most, "%", "; ".join(check.limit.sources_of("limit_pct")), check.limit.how_of("limit_pct")
                ),
            )
        )
    return figures


def _figure(seen: Seen, name: str, value: float, draws: Array, unit: str, text: str) -> Figure:
    # of things that are counted nine in ten lie between two counts
    low, high = (
        np.quantile(draws, (0.05, 0.95), method="inverted_cdf").tolist() if unit == "pieces" else interval(draws)
    )
    span = " to ".join(dict.fromkeys((shown(low, 3), shown(high, 3))))
    return Figure(
        name,
        value,
        unit,
        f"{text} {span}{' ' + unit if unit else ''} in nine kitchens of ten.",
        Working(EQUATION, _drawn(seen)),
        min(low, value),
        max(high, value),
        SOURCES,
    )


def _spreads(seen: Seen) -> list[Figure]:
    mix, outcome = seen.mix, seen.first.outcome
    figures = []
    if not outcome.size.is_powder:
        figures.append(_figure(seen, "piece_g", outcome.size.piece_g.value, outcome.piece_g, "g", "A piece weighs"))
        figures.append(_figure(seen, "pieces", float(outcome.size.pieces), outcome.pieces, "pieces", "The mix makes"))
    if outcome.acid_to_base_eq is not None:
        ratio = float(fizz_of(mix, mix.grams).acid_to_base_eq)
        figures.append(_figure(seen, "acid_to_base_eq", ratio, outcome.acid_to_base_eq, "", "Acid to base comes to"))
    if seen.ph is not None and seen.first.ph is not None:
        figures.append(_figure(seen, "ph_settled", seen.ph, seen.first.ph, "", "The water settles at pH"))
    low, high = interval(seen.fizz_s_draws)
    figures.append(
        Figure(
            "fizz_seconds",
            seen.fizz_s,
            "s",
            f"It fizzes for {duration_text(low)} to {duration_text(high)} in nine kitchens of ten.",
            Working(
                f"the tub's own estimate x slowness of the mix here / slowness of the likely mix; {EQUATION}",
                _drawn(seen),
            ),
            min(low, seen.fizz_s),
            max(high, seen.fizz_s),
            SOURCES,
        )
    )
    if outcome.neat_pct is not None:
        scent = scent_of(mix)
        neat = float(in_carrier(scent, strongest(mix, scent))(mix.grams))
        figures.append(
            _figure(seen, "neat_in_carrier_pct", neat, outcome.neat_pct, "% v/v", "The scent in its carrier comes to")
        )
    return figures


def matters(seen: Seen) -> tuple[str, str]:
    """The quantity the sources are told of, and its name in a sentence."""
    if seen.worst is not None:
        return "worst", f"{seen.worst.limit.substance} in the piece"
    if any("acid_to_base_eq" in source.shares for source in seen.sources):
        return "acid_to_base_eq", "acid to base"
    return "piece_g", "the mass of a piece"


def _shares(seen: Seen) -> list[Figure]:
    what, name = matters(seen)
    figures = []
    for source in seen.sources:
        first, total = source.shares.get(what, (0.0, 0.0))
        if source.id in ("packing", "oil_composition") and what not in source.shares:
            continue
        # the draws tell no finer than whole percent
        part = f"{100 * first:.0f} %" if first >= 0.01 else "less than 1 %"
        figures.append(
            Figure(
                f"spread_share.{source.id}",
                100.0 * first,
                "% of the spread",
                f"{sentence(source.name)}: {part} of the spread of {name} would go if it were known.",
                Working(
                    "first order = Var(E(y | source)) / Var(y); with what it does together with others: total = E(Var(y | all but "
                    "source)) / Var(y); Saltelli et al. 2010, Jansen 1999",
                    (Input("draws", seen.source_draws), Input("total", 100.0 * total, "%")),
                ),
                100.0 * first,
                100.0 * total,
                range_kind="first order to total",
            )
        )
    return figures


def _notices(seen: Seen) -> list[Notice]:
    first = seen.first
    reason = (
        f"Compared: {first.inside.count} kitchens drawn, {HABIT_WORDS[first.habit]}, each with its own cups, hand, dropper, tub, tap "
        "and lot of oil, with every published limit whose passing stops a piece. The spreads of measuring are from a few studies, and how they part "
        "between person and scoop is an estimate."
    )
    if seen.bent:
        reason += f" {seen.bent}"
    # what is over as written is told with the scent, and no way of measuring mends it
    over = [c for c in seen.checks if not c.over and first.inside.over[c.figure_id] > MIND_ABOVE]
    over.sort(key=lambda check: -first.inside.over[check.figure_id])
    notices = []
    if over:
        check = over[0]
        chance = first.inside.over[check.figure_id]
        others = list(dict.fromkeys(c.limit.substance for c in over[1:] if c.limit.substance != check.limit.substance))
        also = f" {sentence(listed(others))} may pass a limit too." if others else ""
        text = (
            f"In {of_kitchens(chance)} this would pass {rule_words(check, seen.mix, brief=True)} on {check.limit.substance}."
            f"{_remedy(seen, check)}{also}"
        )
        line = max(check.level.parts, key=lambda part: float(seen.mix.grams[part.line]) * part.typical_pct)
        notices.append(
            Notice("mind", text, reason, SOURCES, f"chance_over_{check.figure_id}", seen.mix.lines[line.line].id)
        )
    elif seen.checks and first.inside.chance >= 1.0 - MIND_ABOVE:
        passing = 1.0 - first.inside.chance
        text = (
            f"{sentence(of_kitchens(passing))} would pass any of the published limits compared, {HABIT_WORDS[first.habit]}. "
            "Film, strength and cautions for people are not among them."
        )
        notices.append(Notice("good", text, reason, SOURCES, "chance_inside_all"))
    if all(m.line.amount.unit in ("g", "kg", "oz", "lb", "%") for m in seen.mix.lines):
        notices.append(
            Notice(
                "good",
                "All of it is weighed, so kitchens agree on the mix; what still differs is how hard it is pressed, the tub and the "
                "tap, and what the oils hold.",
                reason,
                SOURCES,
            )
        )
    return notices


def _remedy(seen: Seen, check: Check) -> str:
    """The one change of measuring that helps most, and by how much."""
    chance = seen.first.inside.over[check.figure_id]
    told = {
        PIPETTE: "the oils go by a graduated pipette",
        "scale": "all of it goes over a scale",
        "levelled": "spoons and cups are levelled with a knife",
    }
    found = {way.habit: way.inside.over[check.figure_id] for way in seen.ways if way.habit in told}
    if not found:
        return ""
    best = min(found, key=lambda habit: (found[habit], list(told).index(habit)))
    # a pipette is less to ask than a scale, and worth as much when it leaves no more than a fifth again
    easiest = next(h for h in told if h in found and found[h] <= 1.2 * found[best] + 0.002)
    if found[easiest] >= 0.7 * chance:
        return (
            " No way of measuring mends that much: what the oils hold differs from lot to lot. Less of it, or a lot with an "
            "analysis, would."
        )
    return f" When {told[easiest]}, it is {of_kitchens(found[easiest])}."
