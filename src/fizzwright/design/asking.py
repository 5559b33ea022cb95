"""One change asked for in words: which it is, with what it needs, and the recipe it gives."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.workshop import Workshop
from fizzwright.design.changed import Changed
from fizzwright.design.scent import USUAL_CHANCE
from fizzwright.recipe.model import Recipe
from fizzwright.refusal import Refusal

STOCK = "stock"


@dataclass(frozen=True, slots=True)
class Ask:
    """What a maker asks of a recipe; exactly one of the changes is given."""

    old: str = ""
    new: str = ""
    without: str = ""
    """A group of materials."""
    without_allergen: str = ""
    scent: str = ""
    """most, or a number of times."""
    match: str = ""
    """stock, families with weights, or another recipe as the caller can find it."""
    cheaper: bool = False
    chance: float = USUAL_CHANCE
    habit: str = "as_written"
    anyway: bool = False


def plain(word: str) -> str:
    """An id as a maker may type it: Citric acid -> citric_acid."""
    return word.strip().lower().replace(" ", "_").replace("-", "_")


def read_families(text: str) -> Mapping[str, float]:
    """Families with weights, "citrus=3 woody=1"; Refusal when a weight is no number."""
    wish: dict[str, float] = {}
    for word in text.replace(",", " ").split():
        family, sign, weight = word.partition("=")
        try:
            value = float(weight) if sign else 1.0
        except ValueError:
            raise Refusal(f"match: read {word!r}. Write a family and a weight, such as citrus=3 woody=1.") from None
        if not 0 < value < 1e6:
            raise Refusal(f"match: read {word!r}. Weights are numbers above 0, such as citrus=3 woody=1.")
        wish[family.strip().lower()] = value
    return wish


def change(
    recipe: Recipe,
    catalogue: Catalogue,
    workshop: Workshop | None,
    ask: Ask,
    other: Callable[[str], Recipe | None] = lambda _: None,
) -> Changed:
    """Do what is asked; Refusal unless it is one thing. `other` finds another recipe by what the maker called it."""
    asked = {
        "one thing for another": bool(ask.old or ask.new),
        "without a group": bool(ask.without),
        "without an allergen": bool(ask.without_allergen),
        "more or less scent": bool(ask.scent),
        "a scent to match": bool(ask.match),
        "cheaper": ask.cheaper,
    }
    given = [name for name, is_given in asked.items() if is_given]
    if len(given) != 1:
        said = f"read: {', '.join(given)}" if given else "nothing was asked"
        raise Refusal(f"Change one thing at a time ({said}). There are: {', '.join(asked)}.")
    if ask.old or ask.new:
        from fizzwright.design.swapping import swap

        if not ask.old:
            raise Refusal("Name what is to go first, then what is to come.")
        return swap(recipe, catalogue, workshop, plain(ask.old), plain(ask.new) if ask.new.strip() else None)
    if ask.without:
        from fizzwright.design.swapping import without

        return without(recipe, catalogue, workshop, ask.without)
    if ask.scent:
        from fizzwright.design.scent import most, times

        if plain(ask.scent) == "most":
            return most(recipe, catalogue, workshop, chance=ask.chance, habit=ask.habit)
        return times(recipe, catalogue, workshop, ask.scent)
    if ask.cheaper:
        from fizzwright.design.cheaper import cheaper

        return cheaper(recipe, catalogue, workshop)
    from fizzwright.design.matching import match, without_allergen

    if ask.without_allergen:
        return without_allergen(recipe, catalogue, workshop, ask.without_allergen, anyway=ask.anyway)
    if plain(ask.match) == STOCK:
        return match(recipe, catalogue, workshop)
    like = other(ask.match)
    if like is not None:
        return match(recipe, catalogue, workshop, like=like)
    return match(recipe, catalogue, workshop, wish=read_families(ask.match))
