"""How much of one oil alone a plain piece has room for: every bound the review stops at, solved for that oil."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction

import numpy as np

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.model import Allergen, Oil
from fizzwright.recipe.mix import Array, Mix
from fizzwright.recipe.model import Amount, Line, Recipe
from fizzwright.recipe.weigh import weigh
from fizzwright.review import composition, limits, people, strength, sun, views
from fizzwright.review.figures import sources_of
from fizzwright.review.fitting import Bound, Way
from fizzwright.review.joins import Part, Reach, reach

PLAIN_G: Mapping[str, float] = {
    "sodium_bicarbonate": 60.0,
    "citric_acid": 30.0,
    "corn_starch": 5.0,
    "coconut_oil": 5.0,
}
"""Our own plain piece, 100 g before the scent: two to one, a little filler, a spoon of oil, nothing that disperses."""
PLAIN_WORDS = "a plain piece of 100 g with 5 g of coconut oil and no solubiliser"


@dataclass(frozen=True, slots=True)
class Most:
    """The most of an oil by one reading of what it is made of."""

    grams: float
    """In the plain piece; 0 when none of it fits."""
    piece_pct: float
    """Percent of the cured piece that this is."""
    set_by: str
    """What sets it, in words."""
    sources: tuple[str, ...]
    afloat: bool
    """True when a solubiliser would leave room for more."""


@dataclass(frozen=True)
class Room:
    """What a plain piece has room for of one oil, with what the review found on the way."""

    mix: Mix
    """The plain piece with a gram of the oil in it."""
    typical: Most
    worst: Most
    """By the largest content of each constituent that the species reaches."""
    dispersed: Most
    """By the worst, with enough solubiliser to keep it from floating."""
    any_oil_pct: float
    """What strength alone leaves to an oil that no limit knows, percent of the piece."""
    barred: Mapping[str, str]
    """Why no amount counts, by use."""
    met: people.Met
    """Cautions by group of people."""
    found: Reach
    not_held: tuple[str, ...]
    """Limits that exist and whose figure is not held."""


def plain_mix(oil: Oil, catalogue: Catalogue, audience: str, sold_in: tuple[str, ...], day: date) -> Mix:
    """The plain piece with one gram of the oil, for one bath."""
    grams = {**PLAIN_G, oil.id: 1.0}
    lines = tuple(Line(use, Amount(f"{g:g} g", Fraction(g), "g")) for use, g in grams.items())
    recipe = Recipe(f"plain with {oil.name}", "powder", lines, audience, sold_in, made_on=day)
    return weigh(recipe, catalogue, as_of=day, draws=2)


def _worst(found: Reach) -> Reach:
    """The same reach with the most of every constituent taken for the typical."""

    def most(by_name: Mapping[str, tuple[Part, ...]]) -> dict[str, tuple[Part, ...]]:
        return {
            name: tuple(replace(part, typical_pct=max(part.typical_pct, part.max_pct)) for part in parts)
            for name, parts in by_name.items()
        }

    return Reach(most(found.limits), most(found.labels), most(found.cautions))


def _bounds(
    mix: Mix, catalogue: Catalogue, found: Reach, without: Sequence[Allergen]
) -> tuple[list[tuple[Bound, tuple[str, ...]]], dict[str, str], people.Met, tuple[str, ...]]:
    """Every bound with its citations, what is barred, the cautions met, and limits whose figure is not held."""
    scent = views.scent_of(mix)
    share = float(views.dispersal(mix, scent)[1].value)
    seen = people.Seen(found, scent, views.film_g(mix, scent), float(mix.grams[scent.is_scent].sum()), share)
    met = people.hits(mix, catalogue, seen)
    checks = limits.checks(mix, catalogue, found)
    of_limits: list[tuple[Bound, tuple[str, ...]]] = []
    for check in checks:
        cited = sources_of(check.limit.sources_of("limit_pct"), check.level.sources)
        of_limits += [(bound, cited) for bound in limits.bounds(mix, [check])]
    by_people, barred = people.bounds(mix, catalogue, seen, met)
    by_sun, no_sun = sun.bounds(mix, catalogue, scent)
    skin = sources_of(
        *(hit.caution.sources_of("limit_pct") for hits in met.values() for hit in hits if hit.caution.limit_pct)
    )
    for_sun = sources_of(*(oil.sources for oil in sun.sun_oils(mix, catalogue, scent)))
    found_bounds = [
        *of_limits,
        *((bound, skin) for bound in by_people),
        *((bound, ("COMMON_PRACTICE",)) for bound in strength.bounds(mix, scent)),
        *((bound, for_sun) for bound in by_sun),
    ]
    for allergen in without:
        if parts := found.labels.get(allergen.label_name):
            way = limits.per_product(mix, parts, allergen.rinse_off_threshold_pct)
            brings = limits.per_product(mix, parts, 0.0).fixed
            what = f"naming {allergen.label_name} on the label from {allergen.rinse_off_threshold_pct:g} % on"
            found_bounds.append((Bound(what, brings, (way,)), allergen.sources_of("rinse_off_threshold_pct")))
    not_held = tuple(check.limit.substance for check in checks if check.limit.limit_pct is None)
    return found_bounds, composition.barred(mix) | barred | no_sun, met, not_held


def way_most_g(way: Way, plain: Array, oil: Array) -> float:
    """Grams of the oil up to which one way holds: the first root of a square equation, as the bath holds the whole mix.

    plain: grams of the lines without the oil; oil: one for the oil's line. Nought when the plain piece fails it already.
    """
    per_bath = np.zeros_like(plain) if way.per_bath is None else way.per_bath
    total = float(plain.sum())
    at_none = float(way.fixed @ plain) + total * float(per_bath @ plain)
    slope = float(way.fixed @ oil) + float(per_bath @ plain) + total * float(per_bath @ oil)
    bend = float(per_bath @ oil)
    if at_none > 1e-12:
        return 0.0
    if abs(bend) < 1e-15:
        return -at_none / slope if slope > 0 else math.inf
    inside = slope**2 - 4 * bend * at_none
    roots = [(-slope + sign * math.sqrt(inside)) / (2 * bend) for sign in (-1, 1)] if inside >= 0 else []
    return min((root for root in roots if root >= 0), default=math.inf)


def _most(bounds: Sequence[tuple[Bound, tuple[str, ...]]], mix: Mix, afloat: bool = True) -> Most:
    """The tightest bound; afloat: whether those on the floating film count."""
    oil = mix.oil_mask.astype(float)
    plain = mix.grams * (1 - oil)
    reached = [
        (max(way_most_g(way, plain, oil) for way in bound.ways), place)
        for place, (bound, _) in enumerate(bounds)
        if afloat or not bound.afloat
    ]
    grams, place = min(reached)
    bound, sources = bounds[place]
    product_g = float((plain * mix.cured_fraction).sum()) + grams
    return Most(grams, 100 * grams / product_g, bound.what, sources, bound.afloat)


def room_for(
    oil: Oil,
    catalogue: Catalogue,
    audience: str,
    sold_in: tuple[str, ...],
    day: date,
    without: Sequence[Allergen] = (),
) -> Room:
    """The room under every limit, caution and ceiling for one oil alone; by the species' typical and largest contents."""
    mix = plain_mix(oil, catalogue, audience, sold_in, day)
    found = reach(mix, catalogue)
    typical, barred, met, not_held = _bounds(mix, catalogue, found, without)
    largest = _bounds(mix, catalogue, _worst(found), without)[0]
    by_strength = [(bound, ()) for bound in strength.bounds(mix, views.scent_of(mix))]
    return Room(
        mix,
        _most(typical, mix),
        _most(largest, mix),
        _most(largest, mix, False),
        _most(by_strength, mix).piece_pct,
        barred,
        met,
        found,
        not_held,
    )
