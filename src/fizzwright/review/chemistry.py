"""What the acids and carbonates of a mix come to: shared by the fizz section and by what to do with leftovers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fizzwright.catalogue.model import Material
from fizzwright.recipe.mix import Mix
from fizzwright.science import neutralisation
from fizzwright.science.neutralisation import CO2_G_MOL, REAGENTS, Reaction, Reagent

Array = NDArray[np.float64]

UNKNOWN_PKA = 4.5
"""estimate: strength of an acid of the maker's own, in the middle of the food acids; it only orders what is left over."""


@dataclass(frozen=True)
class Fizz:
    """The reaction of a mix (or of one part of it), with what was put in."""

    reaction: Reaction
    moles: Mapping[str, Array]
    molar_mass_g_mol: Mapping[str, float]
    acids: tuple[str, ...]
    bases: tuple[str, ...]

    @property
    def co2_g(self) -> Array:
        """Grams of carbon dioxide set free."""
        return np.asarray(self.reaction.co2_mol) * CO2_G_MOL

    def leftover_g(self, names: tuple[str, ...]) -> Array:
        """Grams of these reagents that find no partner."""
        grams = np.zeros(np.shape(self.reaction.acid_eq))
        for name in names:
            grams = grams + np.asarray(self.reaction.leftover[name]) * self.molar_mass_g_mol[name]
        return grams

    @property
    def acid_to_base_eq(self) -> Array:
        """Acid equivalents over base equivalents; NaN when there is no base."""
        base = np.asarray(self.reaction.base_eq, dtype=float)
        ratio: Array = np.divide(self.reaction.acid_eq, base, out=np.full_like(base, np.nan), where=base > 0)
        return ratio


def reagent_of(material: Material) -> Reagent | None:
    """How a material takes part in the fizz: from the reagent table, or from a maker's own row; None when it does not.

    An uneven count of equivalents (a baking acid's neutralising value) is taken to the nearest whole.
    """
    if material.id in REAGENTS:
        return REAGENTS[material.id]
    if material.molar_mass_g_mol is None:
        return None
    if material.function == "acid" and material.acid_equivalents_per_mol:
        return Reagent(acid_pka=(UNKNOWN_PKA,) * round(material.acid_equivalents_per_mol))
    if material.function == "base" and material.base_equivalents_per_mol and material.carbonate_per_mol:
        return Reagent(base_eq=round(material.base_equivalents_per_mol), carbonate=round(material.carbonate_per_mol))
    return None


def fizz_of(mix: Mix, grams: Array, part: str | None = None) -> Fizz:
    """React what a mix holds; grams (..., lines) of the mix or of its draws, of one part or of all."""
    moles: dict[str, Array] = {}
    masses: dict[str, float] = {}
    reagents: dict[str, Reagent] = {}
    for index, line in enumerate(mix.lines):
        material = line.material
        if material is None or (part is not None and line.part != part):
            continue
        reagent = reagent_of(material)
        if reagent is None or material.molar_mass_g_mol is None:
            continue
        reagents[material.id] = reagent
        masses[material.id] = material.molar_mass_g_mol
        moles[material.id] = moles.get(material.id, np.zeros(())) + grams[..., index] / material.molar_mass_g_mol
    return Fizz(
        reaction=neutralisation.react(moles, reagents),
        moles=moles,
        molar_mass_g_mol=masses,
        acids=tuple(n for n in moles if reagents[n].acid_eq),
        bases=tuple(n for n in moles if reagents[n].base_eq),
    )


def acid_to_base_eq(grams: Array, mix: Mix, part: str | None = None) -> Array:
    """Acid equivalents over base equivalents of a mix or one part of it; grams (..., lines)."""
    return fizz_of(mix, grams, part).acid_to_base_eq
