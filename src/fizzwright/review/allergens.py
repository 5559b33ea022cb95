"""Which fragrance allergens pass the threshold for being named on a label, as of the recipe's date."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.model import Allergen
from fizzwright.recipe.mix import Mix
from fizzwright.review.figures import Figure, Input, Notice, Working, sources_of
from fizzwright.review.joins import Reach, joins
from fizzwright.review.limits import LEVEL_EQUATION, Level, cured_g, level, pct
from fizzwright.wording import listed, shown

FIRST_LIST = "2003/15/EC"
"""The directive whose names Great Britain still asks for; the longer list of 2023 binds the EU and Northern Ireland."""
ASKING = {"eu": date(2005, 3, 11), "uk": date(2005, 3, 11), "ca": date(2026, 4, 12)}
"""Markets whose law asks for the names, and from when.

EU and UK: Directive 2003/15/EC, kept in Regulation (EC) 1223/2009. Canada: Cosmetic Regulations s.21.4(4), by SOR/2024-63;
its names follow the EU's list and dates (s.21.4(5)).
"""
ASKED_BY = {"eu": "eu_annex_iii", "uk": "uk_allergen_status", "ca": "ca_crc869"}
"""Citation of each."""
NO_TEXT = (
    "No official text says whether a bath oil that is not rinsed off counts as rinse-off or leave-on. The rinse-off "
    "threshold is 0.01 % of the product, the leave-on one 0.001 %; the review can be read either way."
)


@dataclass(frozen=True, slots=True)
class Named:
    """One label name beside its level and the threshold it was compared with."""

    allergen: Allergen
    level: Level
    threshold_pct: float

    @property
    def passes(self) -> bool:
        """True when the typical level passes the threshold."""
        return self.level.typical > self.threshold_pct


def names(mix: Mix, catalogue: Catalogue, found: Reach, leave_on: bool) -> list[Named]:
    """Label names whose typical or largest level passes the threshold, most first."""
    known = joins(catalogue).labels
    product_g = float(cured_g(mix))
    passing = []
    for label, parts in found.labels.items():
        allergen = known.get(label)
        if allergen is None:
            continue
        threshold = allergen.leave_on_threshold_pct if leave_on else allergen.rinse_off_threshold_pct
        amount = level(parts, mix, product_g)
        if amount.high > threshold or not amount.high_known:
            passing.append(Named(allergen, amount, threshold))
    return sorted(passing, key=lambda named: -named.level.typical)


def _figure(named: Named, mix: Mix, reading: str) -> Figure:
    allergen, amount = named.allergen, named.level
    inputs = [Input("cured grams of the whole mix", float(cured_g(mix)), "g")]
    for part in amount.parts:
        mixed = mix.lines[part.line]
        inputs.append(Input(f"{mixed.name} as weighed", mixed.grams, "g", "", mixed.basis))
        unit = f"% of the oil ({shown(part.min_pct)}-{shown(part.max_pct)})"
        inputs.append(Input(f"{part.of} in {mixed.name}", part.typical_pct, unit, "; ".join(part.sources), part.how))
    return Figure(
        id=f"allergen.{allergen.id}",
        value=amount.typical,
        unit="% of the cured piece",
        text=f"{allergen.label_name}: {pct(amount.typical)} % of the piece; named on a label from "
        f"{shown(named.threshold_pct)} % ({reading}).",
        working=Working(LEVEL_EQUATION, tuple(inputs)),
        low=amount.low,
        high=amount.high,
        sources=sources_of(allergen.sources_of("rinse_off_threshold_pct"), amount.sources),
        basis="estimate" if amount.unchecked else "published",
        range_kind=amount.range_kind,
        high_allowed=named.threshold_pct,
        share_of_limit=amount.typical / named.threshold_pct,
    )


def _asking(mix: Mix) -> list[str]:
    """The markets of the recipe whose law asks for names on its date."""
    return [market for market in mix.recipe.sold_in if market in ASKING and ASKING[market] <= mix.as_of]


def _asked(allergen: Allergen, mix: Mix) -> bool:
    """True when a piece newly put on the market on the recipe's date must carry the name."""
    if _asking(mix) == ["uk"] and allergen.first_listed != FIRST_LIST:
        return False
    start = allergen.applies_new_products_from
    return start is None or start <= mix.as_of


def declare(mix: Mix, catalogue: Catalogue, found: Reach, leave_on: bool) -> tuple[list[Figure], list[Notice]]:
    """Figures for each label name near or over the threshold, and one notice that lists them."""
    passing = names(mix, catalogue, found, leave_on)
    if not passing:
        return [], []
    reading = "the cautious leave-on reading" if leave_on else "the rinse-off reading"
    figures = [_figure(named, mix, reading) for named in passing]
    now = [n.allergen.label_name for n in passing if n.passes and _asked(n.allergen, mix)]
    later = [n.allergen.label_name for n in passing if n.passes and not _asked(n.allergen, mix)]
    maybe = [n.allergen.label_name for n in passing if not n.passes and _asked(n.allergen, mix)]
    sold = _asking(mix)
    where = listed({"eu": "EU", "uk": "UK", "ca": "Canada"}[market] for market in sold)
    threshold = shown(passing[0].threshold_pct)
    said = []
    if now and sold:
        said.append(f"Name on the label ({where}): {listed(now)}.")
    elif now:
        said.append(f"A label in the EU would name: {listed(now)}.")
    elif sold:
        said.append(f"No name has to be on the label ({where}): nothing it asks for typically passes {threshold} %.")
    else:
        said.append(f"A label in the EU would name nothing: nothing it asks for typically passes {threshold} %.")
    if maybe:
        said.append(f"Perhaps, in a lot at the top of its range: {listed(maybe)}.")
    dates = sorted({n.allergen.applies_all_products_from for n in passing if n.allergen.applies_all_products_from})
    coming = [day.isoformat() for day in dates if day > mix.as_of]
    reason = (
        f"Compared: each allergen, percent of the cured piece, all oils summed, with {threshold} % ({reading}), as of "
        f"{mix.as_of.isoformat()}. {NO_TEXT}"
        + (
            f" Over that too, but on the EU's longer list and not asked for here today: {listed(later)}."
            if later
            else ""
        )
        + (f" Pieces already on sale must follow by {listed(coming)}." if coming else "")
        + " An allergy is a matter for a clinician; a label, for the law of the place it is sold in."
    )
    sources = sources_of(
        [ASKED_BY[market] for market in sold], *(n.allergen.sources_of("rinse_off_threshold_pct") for n in passing)
    )
    return figures, [Notice("mind" if sold else "good", " ".join(said), reason, sources, standing=True)]
