"""The tap water of a recipe: its own report, or a class of hardness, with what is not known of it drawn."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.model import Fact
from fizzwright.recipe.model import Recipe, TapWater
from fizzwright.recipe.tap import CACO3_G_MOL, MASSES_G_MOL
from fizzwright.refusal import Refusal
from fizzwright.review.figures import sources_of
from fizzwright.science import equilibrium
from fizzwright.science.equilibrium import Water
from fizzwright.science.sampling import standard_normals

Array = NDArray[np.float64]
Numbers = float | Array
Span = tuple[float, float, float]
"""Low, likely and high: 5th percentile, likely value, 95th."""

DRAWS = 256
NORMAL_95 = 1.6449
CA_G_MOL, MG_G_MOL = MASSES_G_MOL["calcium_mmol_l"], MASSES_G_MOL["magnesium_mmol_l"]
DEFAULT_CLASS = "moderately_hard"
CLASS_FACTS = {
    "soft": "hard_soft",
    "moderately_hard": "hard_moderate",
    "hard": "hard_hard",
    "very_hard": "hard_veryhard",
}
SOFTEST_MG_L, HARDEST_MG_L = 10.0, 400.0
"""estimate: the ends of the open classes, as CaCO3: water from granite, and the hardest that is piped to houses."""
LIKELY_PH = (6.0, 9.0)
"""Draws of a tap's pH stay inside: beyond, soft water would want more alkalinity than it has."""


class WaterRefused(Refusal):
    """A tap water that cannot exist."""


@dataclass(frozen=True)
class TapReading:
    """The tap water of a recipe, and where it comes from."""

    water: Water
    said: str
    sources: tuple[str, ...]
    basis: str
    """exact for a report of the maker's own, else estimate."""
    draws: Water
    """The same with what is not known of it drawn; fields of shape (draws,) or scalar."""


def spread(around: Span, z: Array) -> Array:
    """Draws whose 5th and 95th percentiles are low and high, each side on its own scale."""
    low, likely, high = around
    return likely + z / NORMAL_95 * np.where(z > 0, high - likely, likely - low)


def log_spread(around: Span, z: Array) -> Array:
    """The same on a logarithmic scale, for what is known to within a factor."""
    low, likely, high = (float(np.log(x)) for x in around)
    return np.asarray(np.exp(spread((low, likely, high), z)))


def normals() -> Array:
    """Doubts of the water, the tub and the gas; shape (DRAWS, 6)."""
    return standard_normals(DRAWS, 6, seed=11)


def span(fact: Fact) -> Span:
    """The least, likely and most of a fact; ValueError when it holds no figure."""
    values = [x for x in (fact.min, fact.typical, fact.max) if x is not None]
    if not values:
        raise ValueError(f"the catalogue's fact {fact.id} holds no figure; give it a typical value")
    middle = fact.typical if fact.typical is not None else sum(values) / len(values)
    return min(values), middle, max(values)


def water_of(recipe: Recipe, catalogue: Catalogue, z: Array | None = None) -> TapReading:
    """The tap water: as the recipe reports it, or by its class of hardness; WaterRefused when no such water exists.

    z: doubts of hardness, alkalinity and pH, shape (draws, 3 or more), when other draws than the usual are wanted.
    """
    z, ph = normals() if z is None else z, catalogue.fact("tap_pH")
    told = recipe.tub.water
    if isinstance(told, TapWater):
        return _reported(told, ph, z)
    chosen = told or DEFAULT_CLASS
    hardness, ratio = catalogue.fact(CLASS_FACTS[chosen]), catalogue.fact("alk_vs_hardness")
    calcium, magnesium = catalogue.fact("tap_ca"), catalogue.fact("tap_mg")
    low = SOFTEST_MG_L if not hardness.min else hardness.min
    high = hardness.max or HARDEST_MG_L
    mg_l: Span = (low, (low + high) / 2, high)
    ca = (calcium.typical or 0.0) / CA_G_MOL
    share = ca / (ca + (magnesium.typical or 0.0) / MG_G_MOL)

    def water(mg_l: Numbers, alkaline: Numbers, ph: Numbers) -> Water:
        hard = mg_l / CACO3_G_MOL
        return Water(ph, 2.0 * hard * alkaline, share * hard, (1.0 - share) * hard)

    facts = (hardness, ratio, calcium, magnesium, ph)
    words = chosen.replace("_", " ")
    return TapReading(
        water(mg_l[1], span(ratio)[1], span(ph)[1]),
        f"{words} tap water, as the recipe says"
        if told
        else f"{words} tap water, taken for want of a word in the recipe",
        sources_of(*(fact.sources_of("typical") for fact in facts)),
        "estimate",
        water(np.maximum(spread(mg_l, z[:, 0]), 1.0), np.maximum(spread(span(ratio), z[:, 1]), 0.1), _ph(ph, z)),
    )


def _ph(fact: Fact, z: Array) -> Array:
    return np.clip(spread(span(fact), z[:, 2]), *LIKELY_PH)


def _reported(told: TapWater, ph: Fact, z: Array) -> TapReading:
    """A water report of the maker's own."""
    likely = told.ph if told.ph is not None else span(ph)[1]
    water = Water(
        likely,
        told.alkalinity_mmol_l,
        told.calcium_mmol_l,
        told.magnesium_mmol_l,
        told.sodium_mmol_l,
        told.potassium_mmol_l,
        told.chloride_mmol_l,
        told.sulfate_mmol_l,
    )
    try:
        equilibrium.solve(water, {}, 25.0)
    except ValueError as fault:
        raise WaterRefused(f"tub.water: no tap water is like this. {fault}.") from fault
    known = told.ph is not None
    return TapReading(
        water,
        "tap water by the recipe's own report" + ("" if known else ", its pH taken as usual"),
        () if known else ph.sources_of("typical"),
        "exact" if known else "estimate",
        water if known else replace(water, ph=_ph(ph, z)),
    )
