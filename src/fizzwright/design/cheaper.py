"""The same piece for less: a linear programme over what the workshop buys, with what a maker would feel held in place.

Acid, base and gas are no less than they were and at most two in a hundred more; filler, clay, salt, oil and fat, foam and
the rest no less and at most five in a hundred more, kind by kind; scent and colour are not touched. So nothing is saved by
making less: the dear is replaced by the cheap of the same kind.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.model import Material
from fizzwright.catalogue.workshop import Workshop
from fizzwright.design import groups
from fizzwright.design.changed import Changed, compare
from fizzwright.design.writing import Want, written
from fizzwright.recipe.amounts import TO_CONSISTENCY
from fizzwright.recipe.document import read_text
from fizzwright.recipe.mix import Mix, MixLine
from fizzwright.recipe.model import Amount, Line, Recipe
from fizzwright.recipe.weigh import weigh
from fizzwright.refusal import Refusal
from fizzwright.review.chemistry import reagent_of
from fizzwright.review.cost import line_cost
from fizzwright.wording import listed, money_text, sentence

Array = NDArray[np.float64]

CHEMISTRY = 0.02
FEEL = 0.05
"""Our own choice: how much more acid, base and gas, and how much more of each kind, there may be."""
LEAST_SHARE = 0.005
"""What comes new into the mix is at least so much of it: less is not worth a bag."""
UNTOUCHED = ("colourant", "preservative", "binder_liquid")
"""Functions whose grams do too many things at once to be traded by mass."""
BY_EQUIVALENTS = ("acid, soluble", "base, soluble")
"""Feels that acid, base and gas say all of."""
CLAYS = ("kaolin", "bentonite", "clay")
SENSITIVE = ("nuts", "animal", "sulfate", "alcohol")
"""Groups that nothing new may bring into a recipe that is free of them."""
SAME_MELT_C = 8.0
"""estimate: fats that melt further apart set the piece to a different hardness (cocoa butter 35, coconut oil 25 °C)."""
TRACE_G = 1e-6
"""The solver's own rounding."""
WORTH_PCT = 1.0
"""Our own choice: what saves less than a hundredth of the materials is not worth a new recipe."""


@dataclass(frozen=True)
class Choice:
    """One column of the programme: a material in one part of the piece."""

    material: Material
    part: str
    now_g: float
    minor_per_g: float
    places: tuple[int, ...]


def cheaper(recipe: Recipe, catalogue: Catalogue, workshop: Workshop | None) -> Changed:
    """The cheapest recipe of the same feel, out of what the workshop has prices for.

    Refusal without prices, or when nothing worth a new recipe can be saved.
    """
    if workshop is None or not workshop.prices:
        raise Refusal("This workshop has no prices, so nothing can be said to be cheaper. Put them in prices.csv.")
    mix = weigh(recipe, catalogue, lot_analyses=workshop.lot_analyses)
    choices = _choices(mix, catalogue, workshop)
    if not choices:
        raise Refusal("None of these lines has a price to compare. Add them to prices.csv.")
    grams = solve(choices, float(mix.grams.sum()))
    bill = _bill(mix, workshop)
    wants, why, notes = _wants(choices, grams, workshop)
    text = written(mix, catalogue, wants, workshop)
    made = weigh(read_text(text, catalogue, recipe.file), catalogue, lot_analyses=workshop.lot_analyses)
    saved = bill - _bill(made, workshop)
    if saved < WORTH_PCT / 100 * bill:
        raise Refusal(
            f"Nothing worth a new recipe can be saved at the same feel: the materials of {recipe.name} cost "
            f"{money_text(round(bill), workshop.currency)} already at the prices on the list."
        )
    said = (
        f"The materials of the batch cost {money_text(round(saved), workshop.currency)} less, of "
        f"{money_text(round(bill), workshop.currency)}. Scent and colour are as they were."
    )
    return compare(
        recipe, text, catalogue, workshop, f"{recipe.name}, cheaper at the same feel", why=why, notes=(said, *notes)
    )


def _bill(mix: Mix, workshop: Workshop) -> float:
    """Minor units of all that has a price."""
    return sum((line_cost(m, workshop).minor_per_g or 0.0) * m.grams for m in mix.lines)


def _choices(mix: Mix, catalogue: Catalogue, workshop: Workshop) -> list[Choice]:
    """What is in the mix and has a price, and what the workshop could use in its place."""
    held: dict[tuple[str, str], list[int]] = {}
    for place, mixed in enumerate(mix.lines):
        material = mixed.material
        if material is None or material.function in UNTOUCHED or mixed.line.amount.unit == TO_CONSISTENCY:
            continue
        if line_cost(mixed, workshop).minor_per_g is not None:
            held.setdefault((mixed.id, mixed.part), []).append(place)
    free = [g for g in SENSITIVE if not any(m.id in groups.members(g, catalogue) for m in mix.lines)]
    barred = {use for g in free for use in groups.members(g, catalogue)}
    found = [_choice(mix, workshop, use, part, tuple(places)) for (use, part), places in held.items()]
    for use in dict.fromkeys(p.use for p in workshop.prices):
        new = catalogue.materials.get(use)
        if new is None or use in barred or "banned" in new.label_note.lower() or new.function in UNTOUCHED:
            continue
        for part in dict.fromkeys(part for _, part in held):
            peers = [c for c in found if c.part == part and c.now_g > 0 and _alike(c.material, new)]
            if (use, part) in held or not peers:
                continue
            price = line_cost(_gram(mix, use, catalogue), workshop).minor_per_g
            if price is not None:
                found.append(Choice(new, part, 0.0, price, ()))
    return found


def _choice(mix: Mix, workshop: Workshop, use: str, part: str, places: tuple[int, ...]) -> Choice:
    line = mix.lines[places[0]]
    assert line.material is not None
    price = line_cost(line, workshop).minor_per_g
    return Choice(line.material, part, float(mix.grams[list(places)].sum()), price or 0.0, places)


def _gram(mix: Mix, use: str, catalogue: Catalogue) -> MixLine:
    """A gram of something as a line, to be priced."""
    line = Line(use, Amount("1 g", Fraction(1), "g"))
    return weigh(Recipe(use, "powder", (line,), measures=mix.recipe.measures), catalogue, draws=2).lines[0]


def _alike(old: Material, new: Material) -> bool:
    """True when a maker could take one for the other: of one function, and clay for clay, slow acid for slow acid."""
    if old.function != new.function or _is_clay(old) != _is_clay(new):
        return False
    if old.function in ("acid", "base") and (reagent_of(new) is None or reagent_of(old) is None):
        return False
    melts = old.melting_point_c, new.melting_point_c
    if old.function == "solid_fat" and (None in melts or abs((melts[0] or 0.0) - (melts[1] or 0.0)) > SAME_MELT_C):
        return False
    return old.water_solubility_class == new.water_solubility_class


def _is_clay(material: Material) -> bool:
    return any(word in material.name.lower() for word in CLAYS)


def feel_of(material: Material) -> str:
    """What a gram of it is felt as: grams of one feel can stand in for each other."""
    return f"{material.function}, {'clay' if _is_clay(material) else material.water_solubility_class}"


def solve(choices: Sequence[Choice], total_g: float) -> Array:
    """Grams of each choice: the cheapest mix that keeps chemistry and feel; shape (choices,).

    As it stands the recipe is always an answer, so there is always one.
    """
    from scipy.optimize import Bounds, LinearConstraint, milp

    count = len(choices)
    now = np.array([c.now_g for c in choices])
    price = np.array([c.minor_per_g for c in choices])
    rows, low, high = [np.ones(count)], [0.0], [now.sum() * (1 + FEEL)]
    for part in dict.fromkeys(c.part for c in choices):
        own = np.array([c.part == part for c in choices], dtype=float)
        for per_g in _chemistry(choices):
            level = float((per_g * own) @ now)
            if level > 0:
                rows.append(per_g * own)
                low.append(level)
                high.append(level * (1 + CHEMISTRY))
        for feel in dict.fromkeys(feel_of(c.material) for c in choices):
            same = own * np.array([feel_of(c.material) == feel for c in choices], dtype=float)
            # what dissolves well is told by its equivalents; a slow acid also hardens the piece and draws the fizz out
            if feel not in BY_EQUIVALENTS and same.any():
                rows.append(same)
                low.append(float(same @ now))
                high.append(float(same @ now) * (1 + FEEL))
    most = np.array([_most_g(c, total_g) for c in choices])
    fresh = np.array([c.now_g == 0 for c in choices], dtype=float)
    one, least = np.eye(count), LEAST_SHARE * total_g
    found = milp(
        # of two mixes of one price, the one with fewer new bags
        np.concatenate([price, 1e-6 * fresh * max(float(price @ now), 1e-9)]),
        integrality=np.concatenate([np.zeros(count), np.ones(count)]),
        bounds=Bounds(0.0, np.concatenate([most, np.ones(count)])),
        constraints=[
            LinearConstraint(np.hstack([np.array(rows), np.zeros((len(rows), count))]), low, high),
            LinearConstraint(np.hstack([one, -np.diag(most)]), -np.inf, 0.0),
            LinearConstraint(np.hstack([one, -np.diag(fresh * np.minimum(least, most))]), 0.0, np.inf),
        ],
        options={"time_limit": 3.0},
    )
    if found.x is None:
        return now
    grams: Array = np.where(found.x[:count] > TRACE_G, found.x[:count], 0.0)
    return grams


def _chemistry(choices: Sequence[Choice]) -> list[Array]:
    """Acid equivalents, base equivalents and moles of gas that a gram of each choice brings."""
    reagents = [reagent_of(c.material) for c in choices]
    mass = [c.material.molar_mass_g_mol or 1.0 for c in choices]
    columns = (
        [(r.acid_eq if r else 0) / m for r, m in zip(reagents, mass, strict=True)],
        [(r.base_eq if r else 0) / m for r, m in zip(reagents, mass, strict=True)],
        [(r.carbonate if r else 0) / m for r, m in zip(reagents, mass, strict=True)],
    )
    return [np.array(column) for column in columns]


def _most_g(choice: Choice, total_g: float) -> float:
    """No more than is usual of it, unless the recipe holds more already."""
    usual = choice.material.typical_use_pct_max
    return max(choice.now_g * (1 + FEEL), total_g * usual / 100 if usual is not None else total_g)


def _wants(choices: Sequence[Choice], grams: Array, workshop: Workshop) -> tuple[list[Want], dict[str, str], list[str]]:
    """What becomes of each line."""
    wants: list[Want] = []
    why: dict[str, str] = {}
    less: list[str] = []
    more: list[str] = []
    fresh = [(c, float(g)) for c, g in zip(choices, grams, strict=True) if not c.places and g > 0]
    for choice, amount in zip(choices, grams, strict=True):
        moved = float(amount) - choice.now_g
        # what only shaves off what may stray stays as it is written: a new number for nothing
        if abs(moved) <= FEEL * choice.now_g * 1.001:
            continue
        per_100 = money_text(round(100 * choice.minor_per_g), workshop.currency)
        why[choice.material.id] = f"{per_100} for 100 g"
        (more if moved > 0 else less).append(f"{choice.material.name} ({per_100} for 100 g)")
        new = choice.material.id
        if choice.places and amount <= 0.01 * choice.now_g:
            # a line that goes leaves its place, and the scent stirred into it, to what comes new of its kind
            taken = next(
                (f for f in fresh if f[0].part == choice.part and _alike(choice.material, f[0].material)), None
            )
            amount = 0.0
            if taken is not None:
                fresh.remove(taken)
                new, amount = taken[0].material.id, taken[1]
        for place in choice.places:
            wants.append(Want(place, new, float(amount) / len(choice.places)))
    for choice, amount in fresh:
        part = None if choice.part == "whole" else choice.part
        wants.append(Want(None, choice.material.id, amount, None, part))
    notes = []
    if less or more:
        said = [f"less of {listed(less)}"] if less else []
        said += [f"more of {listed(more)}"] if more else []
        notes.append(f"{sentence(', '.join(said))}.")
    notes.append(
        "Acid, base and gas are as they were or up to 2 % more, each kind of filler, clay, salt, oil and fat as it was or up to "
        "5 % more, but for the rounding of amounts; nothing new brings nuts, animal stuff, sulfates or alcohol into a recipe free of them."
    )
    return wants, why, notes
