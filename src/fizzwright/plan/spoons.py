"""The nearest real cups, spoons or drops for a mass, and the error that rounding to them costs."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.model import Material, Usable
from fizzwright.catalogue.workshop import Workshop
from fizzwright.plan.drawer import Drawer, full_drawer, nearest
from fizzwright.recipe import measures as recipe_measures
from fizzwright.recipe.mix import Mix, MixLine
from fizzwright.review.bench import fine_below_g

GOOD_ENOUGH_PCT = 2.0
"""Errors below this count as equal, and the fewest scoops win: a level scoop itself strays several times as far."""
DROPS_AT_MOST = 60
"""Beyond this nobody counts: spoons serve better."""
WITHIN_PCT = 5.0
"""How far off a line may be, percent, when a kitchen names its spoons and nothing else is asked."""
FINE_STEP_G, COARSE_STEP_G = 0.01, 1.0
"""Steps of the two scales of a kitchen that has told nothing about its own."""


@dataclass(frozen=True, slots=True)
class Spoonful:
    """A kitchen measure for a mass."""

    text: str
    """"1/2 cup + 1 tbsp", or "12 drops"."""
    grams_got: float
    error_pct: float
    """(grams_got - grams wanted) / grams wanted, percent: what the rounding does, not the scatter of scooping."""
    scoops: int
    said: str = ""
    """A sentence when the density had to be assumed."""
    is_drops: bool = False


def spoonful(
    grams: float, entry: Usable, drawer: Drawer, catalogue: Catalogue, density: float | None = None
) -> Spoonful | None:
    """The nearest real kitchen measure for a mass in grams.

    `density` (g/ml) replaces the catalogue's, for a powder packed or sieved.
    Essential oils up to 60 drops come in whole drops of the catalogue's mean volume. None when less than half the
    smallest spoon or half a drop is wanted: such an amount needs a scale.
    """
    if grams <= 0:
        return None
    said = ""
    if density is None:
        known = recipe_measures.density(entry, None)
        density, said = known.g_ml, known.said
    volume = grams / density
    if not isinstance(entry, Material):
        drop_ml = recipe_measures.drop_ml(entry, catalogue).ml
        drops = round(volume / drop_ml)
        if drops == 0:
            return None
        if drops <= DROPS_AT_MOST:
            text = f"{drops} drop{'s' if drops > 1 else ''}"
            return replace(_told(text, drops * drop_ml * density, grams, drops, said), is_drops=True)
    if volume < drawer.spoons[-1].volume_ml / 2:
        return None
    pile = nearest(volume, drawer, GOOD_ENOUGH_PCT)
    return _told(pile.text(drawer), pile.volume_ml * density, grams, pile.scoops, said)


def _told(text: str, got: float, wanted: float, scoops: int, said: str) -> Spoonful:
    return Spoonful(text, got, (got - wanted) / wanted * 100.0, scoops, said)


@dataclass(frozen=True, slots=True)
class Weighed:
    """A mass as the maker's scale shows it."""

    grams_got: float
    step_g: float
    decimals: int
    error_pct: float
    """What rounding to the scale's step does, percent of the mass."""


def weighed(grams: float, workshop: Workshop | None = None) -> Weighed:
    """A mass rounded to the step of the scale it goes on: the fine one for a few steps of the kitchen scale.

    Without a workshop the scales are taken as 1 g and 0.01 g.
    """
    fine = (workshop.small_scale_step_g if workshop else None) or FINE_STEP_G
    coarse = workshop.scale_step_g if workshop else COARSE_STEP_G
    step = min(fine, coarse) if grams < fine_below_g(coarse) else coarse
    got = max(round(grams / step), 1) * step
    decimals = max(0, -math.floor(math.log10(step) + 1e-9))
    return Weighed(got, step, decimals, (got - grams) / grams * 100.0 if grams else 0.0)


def drops_of(line: MixLine, catalogue: Catalogue) -> float:
    """Drops of an essential oil that weigh what its line does, not rounded."""
    each = recipe_measures.drop_ml(line.entry, catalogue).ml * recipe_measures.poured_density(line.entry).g_ml
    return line.grams / each


def kitchen(line: MixLine, mix: Mix, catalogue: Catalogue, drawer: Drawer | None = None) -> Spoonful | None:
    """The kitchen measure of one line of a mix: sprays and pinches as written, the rest in real spoons and drops.

    Without a drawer a full set of the recipe's system is taken. A drawer that was named is taken at its word: None when
    no pile of it comes within 5 %.
    """
    if line.line.amount.unit in ("spray", "pinch"):
        return Spoonful(line.line.amount.text, line.grams, 0.0, 1)
    density = None if line.is_oil else line.density_g_ml
    found = spoonful(line.grams, line.entry, drawer or full_drawer(mix.recipe.measures, catalogue), catalogue, density)
    if drawer is not None and found is not None and not found.is_drops and abs(found.error_pct) > WITHIN_PCT:
        return None
    return found


def whole_error_pct(mix: Mix, catalogue: Catalogue, drawer: Drawer | None = None) -> float:
    """What spooning instead of weighing does to the mass of the whole mix, percent; lines no spoon holds count exact."""
    spoons = [kitchen(m, mix, catalogue, drawer) for m in mix.lines]
    got = sum(spoon.grams_got if spoon else m.grams for spoon, m in zip(spoons, mix.lines, strict=True))
    wanted = sum(m.grams for m in mix.lines)
    return (got - wanted) / wanted * 100.0
