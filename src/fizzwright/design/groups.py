"""Kinds of material a maker may want to do without, as far as the catalogue can tell them.

A group is read off what the catalogue says of each material: its function, its label name, its label note, the cautions
held on it. Where it cannot tell (a glycerin of plants or of animals), the material is no member: it is one to ask about.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import lru_cache

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.holdings import Held
from fizzwright.catalogue.model import Material, Oil
from fizzwright.refusal import Refusal

GROUPS: Mapping[str, str] = {
    "nuts": "no tree nuts, peanuts or stone-fruit kernels",
    "animal": "nothing from animals (vegan)",
    "sulfate": "no foaming agent that is an alkyl sulfate (Epsom salt is a mineral and stays)",
    "alcohol": "no drying alcohol (fatty alcohols such as cetyl alcohol are waxes and stay)",
    "citric_acid": "no citric acid",
}
ALSO: Mapping[str, str] = {
    "nut": "nuts",
    "vegan": "animal",
    "animals": "animal",
    "sulfates": "sulfate",
    "sulphate": "sulfate",
    "sulphates": "sulfate",
    "citric": "citric_acid",
}
"""Other words makers use for a group."""

_NUT = re.compile(r"tree nut|stone-fruit kernel|peanut", re.IGNORECASE)
_ANIMAL = re.compile(
    r"\b(?:milk|buttermilk|lac powder|beeswax|bee product|honey|carmine|insect|lanolin|casein|whey|tallow|lard|silk|collagen|"
    r"keratin|shellac|not vegan)\b",
    re.IGNORECASE,
)
_PLANT_MILK = re.compile(r"\b(?:coconut|oat|almond|rice|soya?) milk\b", re.IGNORECASE)
_EITHER_FAT = re.compile(r"glycerin|stear|squalan|cetyl|cetear|oleate|polysorbate|polyglyceryl|palmit", re.IGNORECASE)
_MAYBE = re.compile(r"\begg\b|often carries casein", re.IGNORECASE)
_SULFATE = re.compile(r"(?<!metho)sulfate\b", re.IGNORECASE)


@dataclass(frozen=True)
class Standing:
    """What a group comes to in one catalogue: ids with the reason in a few words."""

    members: Mapping[str, str]
    to_ask: Mapping[str, str]
    """What the catalogue cannot tell, with what to ask the supplier."""


Told = tuple[str, bool]
"""The reason, and whether it is certain."""


def _words(material: Material) -> str:
    return "; ".join((material.name, material.inci, material.label_note, material.hazards, material.note))


def _nuts(material: Material, catalogue: Catalogue) -> Told | None:
    if material.name.lower().startswith("coconut"):
        return "coconut counts as a seed, yet some lists call it a tree nut: ask whoever will use the piece", False
    for caution in catalogue.cautions:
        if caution.group == "nut_allergy" and caution.subject == material.name.lower():
            return caution.reason.rstrip("."), True
    if _NUT.search(material.label_note):
        return material.label_note, True
    return None


def _animal(material: Material, catalogue: Catalogue) -> Told | None:
    words = _words(material)
    if _MAYBE.search(words):
        return f"may hold something of an animal ({material.label_note}): ask the supplier", False
    found = _ANIMAL.search(_PLANT_MILK.sub("", words))
    if found:
        return f"from an animal: {found.group().lower()}", True
    if material.function != "colourant" and _EITHER_FAT.search(material.inci):
        return "made from fats of plants or of animals: ask the supplier which", False
    return None


def _sulfate(material: Material, catalogue: Catalogue) -> Told | None:
    if material.function == "surfactant" and _SULFATE.search(material.inci):
        return f"an alkyl sulfate ({material.inci})", True
    return None


def _alcohol(material: Material, catalogue: Catalogue) -> Told | None:
    if material.alcohol_mass_pct > 0:
        return f"{material.alcohol_mass_pct:.0f} % drying alcohol", True
    return None


def _citric_acid(material: Material, catalogue: Catalogue) -> Told | None:
    if material.inci == "Citric Acid":
        return "citric acid", True
    if "citrate" in material.name.lower():
        return "a salt of citric acid, no acid itself: ask whoever will use the piece whether that counts", False
    return None


_RULES: Mapping[str, Callable[[Material, Catalogue], Told | None]] = {
    "nuts": _nuts,
    "animal": _animal,
    "sulfate": _sulfate,
    "alcohol": _alcohol,
    "citric_acid": _citric_acid,
}


def _oil(group: str, oil: Oil) -> Told | None:
    """Essential oils are distilled or pressed from plants: only what they are thinned with can matter."""
    if group == "alcohol" and "ethanol" in oil.cautions.lower():
        return "may be sold thinned with alcohol: ask the supplier", False
    return None


def name_of(word: str) -> str:
    """The group a word stands for; Refusal naming the groups when it is none."""
    name = word.strip().lower().replace(" ", "_").replace("-", "_")
    name = ALSO.get(name, name)
    if name not in GROUPS:
        palm = " Whether something comes of palm the catalogue cannot tell: ask the supplier." if "palm" in name else ""
        raise Refusal(f"read {word!r}. Groups that can be left out: {', '.join(GROUPS)}.{palm}")
    return name


@lru_cache(maxsize=32)
def _standing(group: str, held: Held) -> Standing:
    members: dict[str, str] = {}
    to_ask: dict[str, str] = {}
    told: Told | None
    catalogue = held.catalogue
    for material in catalogue.materials.values():
        if told := _RULES[group](material, catalogue):
            (members if told[1] else to_ask)[material.id] = told[0]
    for oil in catalogue.oils.values():
        if told := _oil(group, oil):
            (members if told[1] else to_ask)[oil.id] = told[0]
    return Standing(members, to_ask)


def members(group: str, catalogue: Catalogue) -> Mapping[str, str]:
    """Ids of the materials that belong to a group, each with why; Refusal when there is no such group."""
    return _standing(name_of(group), Held(catalogue)).members


def to_ask(group: str, catalogue: Catalogue) -> Mapping[str, str]:
    """Ids of what may belong to a group, each with what to ask whom; the catalogue cannot tell."""
    return _standing(name_of(group), Held(catalogue)).to_ask
