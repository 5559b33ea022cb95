"""Which limit, label name and caution each scented line reaches, and how much of it the line brings.

The joins follow the catalogue: an oil reaches what its constituents reach, and what names the oil as a whole.
Constituents that point to the same substance (geranial and neral to citral) end in the same list and are summed.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import lru_cache

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.holdings import Held
from fizzwright.catalogue.model import Allergen, Caution, Constituent, Limit, Oil, OilConstituent
from fizzwright.recipe.mix import Mix

UNCHECKED = frozenset({"memory", "estimate"})
"""Ways of knowing that nobody has checked against a text."""
DOUBTED_BELOW = 0.2
"""estimate: an analysis that gives less than a fifth of what the species holds of the same constituents is taken for a slip
(fractions typed for percent give a hundredth); lots of one species differ by less than that in their main constituents."""
MAIN_PCT = 10.0
"""estimate: typical percent of an oil from which constituents taken together count as main ones for that comparison."""


@dataclass(frozen=True, slots=True)
class Part:
    """What a line brings of one thing, percent of the line by mass; `line` is its place in the mix."""

    line: int
    of: str
    """Constituent name, or the oil itself when it counts as a whole."""
    min_pct: float
    typical_pct: float
    max_pct: float
    max_known: bool = True
    how: str = "read"
    """Of the typical figure: read, library, memory, estimate, analysis (the lot's own) or exact (the thing itself)."""
    range_how: str = "read"
    sources: tuple[str, ...] = ()
    neat: bool = False
    """True when the line is the pure substance, added as such."""
    only_rule: str = ""
    """The one rule the part counts for; empty for all."""
    skipped_rules: tuple[str, ...] = ()
    """Rules that bind the substance only when it is added as such, so not this part."""

    def counts_for(self, rule: str) -> bool:
        """True when a rule counts the part."""
        return (not self.only_rule or self.only_rule == rule) and rule not in self.skipped_rules


@dataclass(frozen=True)
class Reach:
    """The parts by limited substance, by label name of an allergen, and by subject of a caution."""

    limits: Mapping[str, tuple[Part, ...]]
    labels: Mapping[str, tuple[Part, ...]]
    cautions: Mapping[str, tuple[Part, ...]]


@dataclass(frozen=True)
class Joins:
    """The catalogue's rules by the name they are reached by."""

    limits: Mapping[str, tuple[Limit, ...]]
    rules: Mapping[str, tuple[tuple[Limit, ...], ...]]
    """The rows of a substance, those of one rule and product class (its versions in time) together."""
    labels: Mapping[str, Allergen]
    cautions: Mapping[str, tuple[Caution, ...]]
    newest: date | None
    """The day on which the newest limit comes into force."""
    species: dict[str, Reach] = field(default_factory=dict)
    """Reach of each oil by its species range, worked out once."""


@lru_cache(maxsize=4)
def _joins(held: Held) -> Joins:
    limits: dict[str, list[Limit]] = defaultdict(list)
    cautions: dict[str, list[Caution]] = defaultdict(list)
    rules: dict[str, dict[tuple[object, ...], list[Limit]]] = defaultdict(lambda: defaultdict(list))
    for limit in held.catalogue.limits:
        limits[limit.substance].append(limit)
        rules[limit.substance][limit.rule, limit.category, limit.jurisdictions].append(limit)
    for caution in held.catalogue.cautions:
        cautions[caution.subject].append(caution)
    return Joins(
        limits={name: tuple(rows) for name, rows in limits.items()},
        rules={name: tuple(tuple(rows) for rows in by_rule.values()) for name, by_rule in rules.items()},
        labels={allergen.label_name: allergen for allergen in held.catalogue.allergens},
        cautions={name: tuple(rows) for name, rows in cautions.items()},
        newest=max((limit.effective_from for limit in held.catalogue.limits if limit.effective_from), default=None),
    )


def joins(catalogue: Catalogue) -> Joins:
    """The joins of a catalogue, made once for each catalogue."""
    return _joins(Held(catalogue))


def likely_pct(row: OilConstituent) -> tuple[float, str]:
    """The typical percent of a constituent and how it is known."""
    if row.typical_pct is not None:
        return row.typical_pct, row.typical_how
    # Nobody has said which value is usual, so the middle of the range stands for it and is called an estimate.
    low = row.min_pct or 0.0
    return (low + row.max_pct) / 2 if row.max_pct is not None else low, "estimate"


def _part(line: int, row: OilConstituent, skipped: tuple[str, ...], analysis: bool) -> Part:
    low = row.min_pct if row.min_pct is not None else 0.0
    typical, how = likely_pct(row)
    return Part(
        line=line,
        of=row.constituent,
        min_pct=low,
        typical_pct=typical,
        max_pct=row.max_pct if row.max_pct is not None else typical,
        max_known=row.max_pct is not None,
        how="analysis" if analysis else how,
        range_how="analysis" if analysis else row.how,
        sources=tuple(dict.fromkeys((*row.sources, *row.typical_sources))),
        skipped_rules=skipped,
    )


def _pairs(constituent: Constituent) -> list[tuple[str, str]]:
    """The `rule:substance` pairs that bind only what is added as such."""
    found = []
    for pair in constituent.limit_rules_added_only:
        rule, _, substance = pair.partition(":")
        found.append((rule.strip(), substance.strip()))
    return found


def rows_of(oil: Oil, analysis: tuple[OilConstituent, ...]) -> list[tuple[OilConstituent, bool]]:
    """The constituents of an oil with a lot's own analysis over them, and whether each is the lot's own."""
    own = {row.constituent: row for row in analysis}
    # What an analysis does not list may not have been looked for, so the species range stands for it.
    rows = [(own.get(row.constituent, row), row.constituent in own) for row in oil.constituents]
    listed = {row.constituent for row in oil.constituents}
    return rows + [(row, True) for row in analysis if row.constituent not in listed]


def doubted(oil: Oil, analysis: tuple[OilConstituent, ...]) -> bool:
    """True when an analysis gives so little of what the species holds that it must be a slip: it is not counted then."""
    own = {row.constituent: row.typical_pct or 0.0 for row in analysis}
    same = [row for row in oil.constituents if row.constituent in own]
    given = sum(own[row.constituent] for row in same)
    typical = sum(likely_pct(row)[0] for row in same)
    least = sum(row.min_pct or 0.0 for row in same)
    return given < DOUBTED_BELOW * (typical if typical >= MAIN_PCT else least)


def analysis_of(mix: Mix, place: int) -> tuple[OilConstituent, ...]:
    """The analysis of the lot that a line names; empty when there is none, or when it is one of another oil."""
    held = mix.lot_analyses.get(mix.lines[place].line.lot or "")
    return held.shares if held is not None and held.oil == mix.lines[place].id else ()


def _oil_reach(line: int, oil: Oil, analysis: tuple[OilConstituent, ...], catalogue: Catalogue) -> Reach:
    limits: dict[str, list[Part]] = defaultdict(list)
    labels: dict[str, list[Part]] = defaultdict(list)
    cautions: dict[str, list[Part]] = defaultdict(list)
    for row, analysed in rows_of(oil, analysis):
        constituent = catalogue.constituent_named(row.constituent)
        if constituent is None:
            continue
        pairs = _pairs(constituent)
        for substance in constituent.limit_substances:
            skipped = tuple(rule for rule, name in pairs if name == substance)
            limits[substance].append(_part(line, row, skipped, analysed))
        part = _part(line, row, (), analysed)
        if constituent.allergen_label_name:
            labels[constituent.allergen_label_name].append(part)
        for name in constituent.caution_names:
            cautions[name].append(part)
    whole = Part(line, oil.name, 100.0, 100.0, 100.0, how="exact", range_how="exact")
    for substance in oil.limit_substances:
        limits[substance].append(whole)
    if oil.allergen_label_name:
        labels[oil.allergen_label_name].append(whole)
    for name in oil.caution_names:
        cautions[name].append(whole)
    return Reach(_frozen(limits), _frozen(labels), _frozen(cautions))


def _neat_reach(line: int, constituent: Constituent) -> Reach:
    limits: dict[str, list[Part]] = defaultdict(list)
    whole = Part(line, constituent.name, 100.0, 100.0, 100.0, how="exact", range_how="exact", neat=True)
    for substance in constituent.limit_substances:
        limits[substance].append(whole)
    for rule, substance in _pairs(constituent):
        if substance not in constituent.limit_substances:
            limits[substance].append(
                Part(line, constituent.name, 100, 100, 100, how="exact", range_how="exact", neat=True, only_rule=rule)
            )
    labels = {constituent.allergen_label_name: (whole,)} if constituent.allergen_label_name else {}
    return Reach(_frozen(limits), labels, dict.fromkeys(constituent.caution_names, (whole,)))


def _frozen(lists: Mapping[str, list[Part]]) -> dict[str, tuple[Part, ...]]:
    return {name: tuple(parts) for name, parts in lists.items()}


def reach(mix: Mix, catalogue: Catalogue) -> Reach:
    """Everything the scented lines of a mix reach, all lines together."""
    known = joins(catalogue)
    merged: tuple[dict[str, list[Part]], ...] = (defaultdict(list), defaultdict(list), defaultdict(list))
    for place, mixed in enumerate(mix.lines):
        entry = mixed.entry
        if isinstance(entry, Oil):
            analysis = analysis_of(mix, place)
            if analysis and doubted(entry, analysis):
                analysis = ()
            found = _oil_reach(0, entry, analysis, catalogue) if analysis else known.species.get(entry.id)
            if found is None:
                found = known.species[entry.id] = _oil_reach(0, entry, (), catalogue)
        elif isinstance(entry, Constituent):
            found = _neat_reach(0, entry)
        else:
            continue
        for target, by_name in zip(merged, (found.limits, found.labels, found.cautions), strict=True):
            for name, parts in by_name.items():
                target[name].extend(_at(place, part) for part in parts)
    return Reach(*(_frozen(target) for target in merged))


def _at(place: int, part: Part) -> Part:
    return Part(
        place, part.of, part.min_pct, part.typical_pct, part.max_pct, part.max_known, part.how, part.range_how,
        part.sources, part.neat, part.only_rule, part.skipped_rules,
    )  # fmt: skip
