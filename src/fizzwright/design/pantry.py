"""What a recipe may be composed from: each material and oil with what a gram of it does to the piece, the bath and the bill."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.model import Constituent, Material, Oil, Usable
from fizzwright.catalogue.workshop import Workshop
from fizzwright.design.goal import COLOURLESS, Goal
from fizzwright.design.groups import members
from fizzwright.design.profiles import families
from fizzwright.recipe.measures import density, drop_ml
from fizzwright.recipe.mix import Mix
from fizzwright.recipe.model import Amount, Line, Makes, Recipe
from fizzwright.recipe.weigh import weigh
from fizzwright.review import colours, composition, ingredients, limit_notices, limits, people, strength, sun, views
from fizzwright.review.chemistry import reagent_of
from fizzwright.review.cost import line_cost
from fizzwright.review.fitting import Bound
from fizzwright.review.joins import Reach, reach
from fizzwright.review.sizes import POWDER_PER_BATH_G, true_densities
from fizzwright.review.tub_defaults import Bath, bath
from fizzwright.science import packing
from fizzwright.science.aqueous import DOSES

Array = NDArray[np.float64]

COUNT = 4
"""Pieces (or baths of a powder) when the goal names no count."""
SHELF = frozenset({"base", "acid", "filler", "carrier_oil", "solid_fat", "binder_liquid", "solubiliser"})
"""Functions a fizzer is composed of without being asked; anything else only when the goal names it or needs it."""
FEEL = {
    "filler_pct": ("filler", "salt", "botanical"),
    "oil_pct": ("carrier_oil", "solid_fat"),
    "foam_pct": ("surfactant",),
}
"""Functions behind each window of [feel]."""
CLAY = re.compile(r"\b(?:clay|clays|kaolin|bentonite|illite|montmorillonite|rhassoul)\b", re.I)
USUAL_MOST_PCT = 5.0
"""estimate: the most of a material for which the catalogue holds no usual use, percent of the mix."""
OIL_MOST_PCT = 3.0
"""Our own choice: the most of one essential oil, percent of the mix; the limits are far below it for most."""
LEAST_PCT = 0.2
"""Our own choice: less of a powder or a fat than this is not worth a line."""
FIRST_NAMED = 0.1
"""Our own choice: what the last of the catalogue stands further off than the first, where nothing else tells them apart."""
TRIED_PCT = 0.1
"""Share of a bland mix at which a material is tried against what bars it whatever the amount."""
ALWAYS = frozenset({"water"})
"""What every kitchen has."""


@dataclass(frozen=True)
class Pantry:
    """Candidates in order, materials first; arrays have one place for each."""

    goal: Goal
    catalogue: Catalogue
    workshop: Workshop | None
    mix: Mix
    """A gram of each, for the rules of the review to read."""
    tub: Bath
    count: int
    uses: tuple[str, ...]
    entries: tuple[Usable, ...]
    functions: tuple[str, ...]
    """The material's function, or "scent"."""
    cured: Array
    pieces: Array
    """Pieces that a gram fills."""
    acid_eq: Array
    base_eq: Array
    carbonate: Array
    minor: Array
    """Minor units a gram; nan where no price is known."""
    stock_g: Array
    """Grams on hand; infinite where everybody has it."""
    least_pct: Array
    most_pct: Array
    """Percent of the mix of one line."""
    drop_g: Array
    """Grams of a drop of an oil, 0 for materials."""
    nearness: Array
    """How far from what a maker would reach for, 0 to 2."""
    families: tuple[tuple[str, ...], ...]
    found: Reach
    checks: tuple[limits.Check, ...]
    bounds: tuple[Bound, ...]
    barred: Mapping[str, str]
    """Uses in which no amount passes, with the reason."""
    avoided: Mapping[str, Mapping[str, str]]
    """Key of the demand -> uses it keeps out, with the reason."""
    notes: tuple[str, ...]

    def of(self, *functions: str) -> Array:
        """1 where the function is one of these."""
        return np.array([float(function in functions) for function in self.functions])

    @property
    def clay(self) -> Array:
        """1 where the material is a clay."""
        return np.array([float(isinstance(e, Material) and is_clay(e)) for e in self.entries])

    @property
    def scent(self) -> Array:
        """1 where it is an essential oil or an aroma substance."""
        return self.of("scent")

    @property
    def batch_g(self) -> float:
        """About what the whole batch weighs."""
        if self.mix.mould_volume_ml is None or self.goal.kind == "powder":
            return float(self.count / self.pieces.max())
        return self.count * self.mix.mould_volume_ml * 0.9

    @property
    def pieces_per_bath(self) -> float:
        """Pieces that go into one bath together."""
        return 1.0 if self.goal.kind == "powder" else self.goal.tub.pieces or 1.0


def is_clay(material: Material) -> bool:
    """True for a clay, by its names."""
    return bool(CLAY.search(" ".join((material.name, *material.also))))


def shell(goal: Goal, lines: tuple[Line, ...]) -> Recipe:
    """The recipe a goal asks for, with these lines."""
    count = goal.makes.count or (COUNT if goal.makes.mould else None)
    return Recipe(
        name=goal.name,
        kind=goal.kind,
        lines=lines,
        audience=goal.audience,
        sold_in=goal.sold_in,
        measures=goal.measures,
        made_on=goal.made_on,
        makes=Makes(goal.makes.mould, count),
        tub=goal.tub,
        file=goal.file,
    )


def _line(use: str, grams: float = 1.0) -> Line:
    amount = Fraction(grams).limit_denominator(10_000)
    return Line(use, Amount(f"{grams:g} g", amount, "g"))


def _wanted(material: Material, goal: Goal) -> bool:
    """True when a material may be reached for."""
    if material.id in goal.with_materials:
        return True
    if material.function == "colourant":
        return goal.colour == material.id != COLOURLESS
    if material.function == "surfactant":
        return goal.kind == "foaming" or bool(goal.foam_pct.low)
    if material.function == "hardener":
        return goal.hardness_at_least is not None
    if is_clay(material) or material.function in SHELF:
        if material.function == "binder_liquid" and goal.kind == "powder":
            return False
        if material.function in ("acid", "base"):
            reagent = reagent_of(material)
            # strong bases waste acid, and what the water model does not know cannot be certified
            return reagent is not None and material.id in DOSES and reagent.base_eq <= max(reagent.carbonate, 0)
        return material.typical_use_pct_max != 0
    return False


def _scents(goal: Goal, catalogue: Catalogue, workshop: Workshop | None) -> list[Usable]:
    """The oils that can bring the scent nearer to the wish."""
    named: dict[str, Usable] = {
        use: entry
        for use in (*goal.scent.oils, *goal.with_materials)
        if (entry := catalogue.usable(use)) is not None and not isinstance(entry, Material)
    }
    if not goal.scent.is_asked:
        return list(named.values())
    wanted = set(goal.scent.families)
    priced = {price.use for price in workshop.prices} if workshop else set()
    if wanted:
        named |= {oil.id: oil for oil in catalogue.oils.values() if wanted & set(families(oil))}
    elif not goal.scent.oils:
        named |= {oil.id: oil for oil in catalogue.oils.values() if not priced or oil.id in priced}
    return list(named.values())


def _stock(goal: Goal, workshop: Workshop | None, use: str) -> float:
    if use in goal.stock_g:
        return goal.stock_g[use]
    if use in ALWAYS:
        return float("inf")
    rows = [price for price in workshop.prices if price.use == use] if workshop else []
    return sum(price.on_hand_g or 0.0 for price in rows)


def _tried(goal: Goal, catalogue: Catalogue, use: str, day_mix: Mix) -> str:
    """Why a material is barred whatever its amount; empty when it is not."""
    share = max(TRIED_PCT, catalogue.materials[use].typical_use_pct_min or 0.0)
    recipe = replace(day_mix.recipe, lines=(_line("sodium_bicarbonate", 100.0 - share), _line(use, share)))
    mix = weigh(recipe, catalogue, draws=2, as_of=day_mix.as_of)
    told = [n for n in (*colours.compare(mix, catalogue), *ingredients.advise(mix, catalogue)) if n.level == "stop"]
    return told[0].text if told else ""


@dataclass(frozen=True)
class _Rules:
    """What the review compares a piece with, read for a mix that holds everything."""

    found: Reach
    checks: tuple[limits.Check, ...]
    bounds: tuple[Bound, ...]
    barred: Mapping[str, str]


def _rules(mix: Mix, catalogue: Catalogue) -> _Rules:
    scent, found = views.scent_of(mix), reach(mix, catalogue)
    if not scent.present:
        return _Rules(found, (), (), {})
    seen = people.Seen(found, scent, 1.0, 1.0, 0.0)
    on_people, barred_people = people.bounds(mix, catalogue, seen, people.hits(mix, catalogue, seen))
    on_sun, barred_sun = sun.bounds(mix, catalogue, scent)
    added = {n.line: "a ban on adding it" for n in limit_notices.added(mix, catalogue, found)}
    return _Rules(
        found,
        tuple(check for check in limits.checks(mix, catalogue, found) if check.limit.limit_pct is not None),
        (*on_people, *strength.bounds(mix, scent), *on_sun),
        added | composition.barred(mix) | barred_people | barred_sun,
    )


def stocked(goal: Goal, catalogue: Catalogue, workshop: Workshop | None) -> Pantry:
    """Everything a goal may be composed from; RecipeRefused when the mould cannot be used."""
    asked = {*goal.with_materials, *goal.scent.oils, goal.colour}
    materials = [m for m in catalogue.materials.values() if _wanted(m, goal)]
    entries: list[Usable] = [*materials, *_scents(goal, catalogue, workshop)]
    notes = []
    if goal.makes.count is None:
        notes.append(f"No count was asked for, so {COUNT} were taken.")
    priced = {price.use for price in workshop.prices} if workshop else set()
    if goal.cost_most_minor is not None and priced:
        kept = [entry for entry in entries if entry.id in priced or entry.id in asked]
        if len(kept) < len(entries):
            aside = len(entries) - len(kept)
            notes.append(f"There is a ceiling on cost, so {aside} things without a price were left aside.")
        entries = kept
    if goal.stock_only:
        # what was bought before stays though it ran out, and a kind that was never there, so that what to buy can be told
        near = [e for e in entries if e.id in priced or e.id in asked or _stock(goal, workshop, e.id) > 0]
        kinds = {_kind(e) for e in near}
        entries = [e for e in entries if e in near or _kind(e) not in kinds]
    avoided = _avoided(goal, catalogue, [entry.id for entry in entries])
    kept_out = {use for uses in avoided.values() for use in uses}
    demanded = kept_out | asked
    if not goal.stock_only and any(_kind(e) == "binder_liquid" and e.id not in ALWAYS | kept_out for e in entries):
        # water wakes the fizz in the bowl: it binds where it is asked for or nothing else is there, not because it is cheap
        entries = [e for e in entries if e.id not in ALWAYS or e.id in asked]
    mix = weigh(shell(goal, tuple(_line(entry.id) for entry in entries)), catalogue, draws=2)
    barred = dict(_rules(mix, catalogue).barred)
    for entry in entries:
        if isinstance(entry, Material) and (why := _tried(goal, catalogue, entry.id, mix)):
            barred[entry.id] = why
    # what is barred stays only where a demand turns on it, so that a conflict can tell
    entries = [entry for entry in entries if entry.id not in barred or entry.id in demanded]
    mix = weigh(shell(goal, tuple(_line(entry.id) for entry in entries)), catalogue, draws=2)
    return _table(goal, catalogue, workshop, entries, mix, _rules(mix, catalogue), barred, avoided, tuple(notes))


def _kind(entry: Usable) -> str:
    return entry.function if isinstance(entry, Material) else "scent"


def _avoided(goal: Goal, catalogue: Catalogue, uses: list[str]) -> dict[str, dict[str, str]]:
    found: dict[str, dict[str, str]] = {}
    for use in goal.avoid_materials:
        if use in uses:
            found[f"avoid.materials.{use}"] = {use: "as asked"}
    for group in goal.avoid_groups:
        own = {use: why for use, why in members(group, catalogue).items() if use in uses}
        if own:
            found[f"avoid.groups.{group}"] = own
    return found


def _table(
    goal: Goal,
    catalogue: Catalogue,
    workshop: Workshop | None,
    entries: list[Usable],
    mix: Mix,
    rules: _Rules,
    barred: Mapping[str, str],
    avoided: Mapping[str, Mapping[str, str]],
    notes: tuple[str, ...],
) -> Pantry:
    reagents = [reagent_of(e) if isinstance(e, Material) else None for e in entries]
    molar = np.array([(e.molar_mass_g_mol or 1.0) if isinstance(e, Material) else 1.0 for e in entries])
    priced = {price.use for price in workshop.prices} if workshop else set()
    minor = [line_cost(line, workshop).minor_per_g if workshop else None for line in mix.lines]
    return Pantry(
        goal,
        catalogue,
        workshop,
        mix,
        bath(mix.recipe, catalogue),
        goal.makes.count or COUNT,
        tuple(entry.id for entry in entries),
        tuple(entries),
        tuple(_kind(e) for e in entries),
        mix.cured_fraction,
        _pieces(mix, goal),
        np.array([r.acid_eq if r else 0.0 for r in reagents]) / molar,
        np.array([r.base_eq if r else 0.0 for r in reagents]) / molar,
        np.array([r.carbonate if r else 0.0 for r in reagents]) / molar,
        np.array([np.nan if value is None else value for value in minor]),
        np.array([_stock(goal, workshop, e.id) for e in entries]),
        np.array([_least_pct(e) for e in entries]),
        np.array([_most_pct(e) for e in entries]),
        np.array(
            [0.0 if isinstance(e, Material) else drop_ml(e, catalogue).ml * density(e, None).g_ml for e in entries]
        ),
        _nearness(entries, priced),
        tuple(families(e) if isinstance(e, Oil) else () for e in entries),
        rules.found,
        rules.checks,
        rules.bounds,
        {use: why for use, why in barred.items() if use in {e.id for e in entries}},
        avoided,
        notes,
    )


def _pieces(mix: Mix, goal: Goal) -> Array:
    """Pieces a gram fills: in a mould the powders take the room and liquids sit in their pores, as the review packs them."""
    if goal.kind == "powder" or mix.mould is None:
        return np.full(len(mix.lines), 1.0 / (goal.tub.powder_g or POWDER_PER_BATH_G))
    if mix.mould_volume_ml is None:
        return np.full(len(mix.lines), 1.0 / (mix.mould.piece_g_typ or POWDER_PER_BATH_G))
    per_g = 1.0 / (true_densities(mix) * packing.HAND_PRESSED[1] * mix.mould_volume_ml)
    return np.where(mix.is_liquid, 0.0, per_g)


def _least_pct(entry: Usable) -> float:
    if not isinstance(entry, Material):
        return 0.0
    if entry.function == "binder_liquid":
        return 0.05
    usual = entry.typical_use_pct_min
    return min(usual, 1.0) if usual else LEAST_PCT if (entry.typical_use_pct_max or 1.0) >= 1.0 else 0.01


def _most_pct(entry: Usable) -> float:
    if not isinstance(entry, Material):
        return OIL_MOST_PCT
    return USUAL_MOST_PCT if entry.typical_use_pct_max is None else entry.typical_use_pct_max


def _staple(material: Material) -> float:
    """How much of it a usual mix holds: percent, least and most together, as what is always there comes first."""
    return _most_pct(material) + (material.typical_use_pct_min or 0.0)


def _nearness(entries: list[Usable], priced: set[str]) -> Array:
    """0 for the staple of its kind that is in the workshop, more for what is used in traces or not there."""
    most: dict[str, float] = {}
    for entry in entries:
        if isinstance(entry, Material):
            most[entry.function] = max(most.get(entry.function, 0.0), _staple(entry))
    found = []
    for place, entry in enumerate(entries):
        # of two as usual as each other the one the catalogue names first
        away = place / len(entries) * FIRST_NAMED + (1.0 if priced and entry.id not in priced else 0.0)
        if isinstance(entry, Material):
            away += 1.0 - _staple(entry) / (most[entry.function] or 1.0)
            # a watery binder wakes the fizz in the bowl
            away += entry.water_mass_pct / 100.0 if entry.function == "binder_liquid" else 0.0
        elif isinstance(entry, Constituent) or (isinstance(entry, Oil) and entry.phototoxic == "yes"):
            away += 0.5
        found.append(away)
    return np.array(found)
