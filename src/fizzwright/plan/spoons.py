"""The nearest real cups, spoons or drops for a mass, and the error that rounding to them costs."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations
from typing import NamedTuple

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.model import Material, Usable
from fizzwright.catalogue.workshop import Workshop
from fizzwright.recipe import measures as recipe_measures
from fizzwright.recipe.mix import Mix, MixLine
from fizzwright.review.bench import fine_below_g

TERMS_AT_MOST = 3
"""More than three different measures for one ingredient is a puzzle, not a recipe."""
GOOD_ENOUGH_PCT = 2.0
"""Errors below this count as equal, and the fewest scoops win: a level scoop itself strays several times as far."""
DROPS_AT_MOST = 60
"""Beyond this nobody counts: spoons serve better."""
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


class Measures(NamedTuple):
    """A set of real measures of one system: the whole cup, and what lies in the drawer below it."""

    cup_ml: float
    below: tuple[tuple[str, float, int], ...]
    """Label, volume in ml, and how often one ingredient may use it."""


class _Pile(NamedTuple):
    volume_ml: float
    scoops: int
    terms: int
    text: str


@lru_cache(maxsize=16)
def _measures(cup_ml: float, tbsp_ml: float, tsp_ml: float) -> Measures:
    tsp_often = max(round(tbsp_ml / tsp_ml) - 1, 1)
    return Measures(
        cup_ml,
        (
            ("1/2 cup", cup_ml / 2, 1),
            ("1/3 cup", cup_ml / 3, 2),
            ("1/4 cup", cup_ml / 4, 1),
            ("tbsp", tbsp_ml, 3),
            ("tsp", tsp_ml, tsp_often),
            ("1/2 tsp", tsp_ml / 2, 1),
            ("1/4 tsp", tsp_ml / 4, 1),
            ("1/8 tsp", tsp_ml / 8, 1),
        ),
    )


def measures(system: str, catalogue: Catalogue) -> Measures:
    """The measures of one system: us, metric, uk or au (the catalogue's cup and spoons, and their halves)."""
    cup, tbsp, tsp = (catalogue.measures[f"{system}_{unit}"].volume_ml for unit in ("cup", "tbsp", "tsp"))
    if not (cup and tbsp and tsp):
        raise ValueError(f"measures {system!r}: the catalogue holds no cup, tablespoon and teaspoon of that system")
    return _measures(cup, tbsp, tsp)


def _words(label: str, count: int) -> str:
    if label[0].isdigit():
        return label if count == 1 else f"{count} x {label}"
    return f"{count} {label}"


@lru_cache(maxsize=16)
def _piles(drawer: Measures) -> tuple[_Pile, ...]:
    """Every way to combine up to three measures below the whole cup, the empty pile first."""
    choices = [
        [(volume * n, n, _words(label, n)) for n in range(1, often + 1)] for label, volume, often in drawer.below
    ]
    piles = [_Pile(0.0, 0, 0, "")]
    for many in range(1, TERMS_AT_MOST + 1):
        for group in combinations(choices, many):
            stack: list[list[tuple[float, int, str]]] = [[]]
            for choice in group:
                stack = [[*taken, term] for taken in stack for term in choice]
            piles += [
                _Pile(sum(t[0] for t in taken), sum(t[1] for t in taken), many, " + ".join(t[2] for t in taken))
                for taken in stack
            ]
    return tuple(piles)


def nearest_ml(volume_ml: float, drawer: Measures) -> tuple[str, float, int]:
    """Text, volume and scoops of the fewest real measures within 2 % of a volume, or of the closest when none is."""
    whole = int(volume_ml // drawer.cup_ml)
    found: list[tuple[float, int, float, str]] = []
    # halves, thirds and a quarter together pass a cup, so one cup fewer can be fewer scoops
    for cups in range(max(whole - 1, 0), whole + 2):
        start = f"{cups} cup{'s' if cups > 1 else ''}" if cups else ""
        for pile in _piles(drawer):
            if pile.terms + (cups > 0) > TERMS_AT_MOST or pile.scoops + cups == 0:
                continue
            volume = cups * drawer.cup_ml + pile.volume_ml
            error = abs(volume - volume_ml) / volume_ml * 100.0
            text = " + ".join(part for part in (start, pile.text) if part)
            found.append((max(error, GOOD_ENOUGH_PCT), pile.scoops + cups, volume, text))
    _, scoops, volume, text = min(found, key=lambda f: (f[0], f[1], abs(f[2] - volume_ml)))
    return text, volume, scoops


def spoonful(
    grams: float, entry: Usable, system: str, catalogue: Catalogue, density: float | None = None
) -> Spoonful | None:
    """The nearest real kitchen measure for a mass in grams.

    `system` is us, metric, uk or au. `density` (g/ml) replaces the catalogue's, for a powder packed or sieved.
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
            return _told(f"{drops} drop{'s' if drops > 1 else ''}", drops * drop_ml * density, grams, drops, said)
    drawer = measures(system, catalogue)
    if volume < min(size for _, size, _ in drawer.below) / 2:
        return None
    text, got_ml, scoops = nearest_ml(volume, drawer)
    return _told(text, got_ml * density, grams, scoops, said)


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


def kitchen(line: MixLine, mix: Mix, catalogue: Catalogue) -> Spoonful | None:
    """The kitchen measure of one line of a mix: sprays and pinches as written, the rest in real spoons and drops."""
    if line.line.amount.unit in ("spray", "pinch"):
        return Spoonful(line.line.amount.text, line.grams, 0.0, 1)
    density = None if line.is_oil else line.density_g_ml
    return spoonful(line.grams, line.entry, mix.recipe.measures, catalogue, density)


def whole_error_pct(mix: Mix, catalogue: Catalogue) -> float:
    """What spooning instead of weighing does to the mass of the whole mix, percent; lines no spoon holds count exact."""
    got = sum(spoon.grams_got if (spoon := kitchen(m, mix, catalogue)) else m.grams for m in mix.lines)
    wanted = sum(m.grams for m in mix.lines)
    return (got - wanted) / wanted * 100.0
