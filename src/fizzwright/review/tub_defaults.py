"""The bath a piece goes into: what the recipe says, else what the catalogue holds for the people it is meant for."""

from __future__ import annotations

from dataclasses import dataclass

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.model import Fact
from fizzwright.recipe.model import Recipe

CHILD_AUDIENCES = frozenset({"child_2_plus", "child_6_plus"})


@dataclass(frozen=True, slots=True)
class Bath:
    """Water of one bath: litres with the smallest and largest likely, temperature, and where they come from."""

    litres: float
    litres_low: float
    """The smaller plausible volume: what upper limits are checked with."""
    litres_high: float
    temperature_c: float
    sources: tuple[str, ...]
    basis: str
    """exact when the recipe gives the litres, else published or estimate."""
    said: str
    """Plain words on where the litres come from."""


def _figures(fact: Fact) -> tuple[float, float, float]:
    typical = fact.typical if fact.typical is not None else fact.max if fact.max is not None else fact.min
    if typical is None:
        raise ValueError(f"the catalogue's fact {fact.id} holds no figure; give it a typical value")
    return (
        fact.min if fact.min is not None else typical,
        typical,
        fact.max if fact.max is not None else typical,
    )


def bath(recipe: Recipe, catalogue: Catalogue) -> Bath:
    """The bath of a recipe: litres and temperature as written, else the catalogue's figures for its audience."""
    child = recipe.audience in CHILD_AUDIENCES
    warm = catalogue.fact("bath_temp_baby" if child else "bath_temp_pref")
    temperature = recipe.tub.temperature_c if recipe.tub.temperature_c is not None else _figures(warm)[1]
    if recipe.tub.litres is not None:
        litres = recipe.tub.litres
        return Bath(litres, litres, litres, temperature, (), "exact", "as the recipe says")
    fill = catalogue.fact("tub_child_fill" if child else "tub_na_fill")
    low, typical, high = _figures(fill)
    sources = fill.sources_of("typical")
    if not child:
        # Upper limits are checked with the smaller plausible volume, which the catalogue names.
        cautious = catalogue.fact("design_volume_safe")
        low = min(low, _figures(cautious)[1])
        sources = tuple(dict.fromkeys((*sources, *cautious.sources_of("typical"))))
    basis = "estimate" if fill.how_of("typical") in ("memory", "estimate") else "published"
    return Bath(typical, low, high, temperature, sources, basis, fill.name)
