"""A Mix: the recipe weighed, as arrays of grams, with an honest spread for how each line was measured."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

import numpy as np
from numpy.typing import NDArray

from fizzwright.catalogue.model import Constituent, LotAnalysis, Material, Mould, Oil, Usable
from fizzwright.recipe.model import Line, Recipe

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class MixLine:
    """One line of the recipe, resolved: what it is, how much it weighs, how well that is known."""

    line: Line
    entry: Usable
    grams: float
    """Most likely mass."""
    grams_low: float
    grams_high: float
    """90 % interval of the mass a maker gets when measuring as written."""
    volume_ml: float | None
    """Volume as measured (None when weighed)."""
    density_g_ml: float | None
    """Density used to turn the volume into grams (None when weighed)."""
    equation: str
    """How the grams were reached, in plain text: "1 1/2 cup x 236.6 ml x 0.93 g/ml"."""
    spread_pct: float
    """One standard deviation of the mass, percent of the mass; 0 when exact."""
    spread_why: str
    sources: tuple[str, ...]
    basis: str
    """exact, published or estimate."""

    @property
    def id(self) -> str:
        """The id used in the document."""
        return self.line.use

    @property
    def name(self) -> str:
        """The name a maker reads."""
        return self.entry.name

    @property
    def part(self) -> str:
        """The part of the piece the line belongs to."""
        return self.line.part

    @property
    def is_oil(self) -> bool:
        """True for an essential oil or a neat aroma substance: what the skin limits are about."""
        return isinstance(self.entry, Oil | Constituent)

    @property
    def material(self) -> Material | None:
        """The material, or None for an essential oil or aroma substance."""
        return self.entry if isinstance(self.entry, Material) else None


@dataclass(frozen=True)
class Mix:
    """A recipe weighed. Arrays run over lines on the last axis; draws, where present, on the first.

    Sections compute each figure once with `grams` (shape lines) and once with `draws_g` (shape draws x lines), calling
    the same function, and read the 90 % interval off the draws.
    """

    recipe: Recipe
    as_of: date
    """The day whose rules are read: made_on, else today."""
    lines: tuple[MixLine, ...]
    grams: Array
    draws_g: Array
    mould: Mould | None
    mould_volume_ml: float | None
    """Inner volume from science.packing (closed form or mesh); None for a powder or a mould known by weight."""
    assumptions: tuple[str, ...] = ()
    """Plain sentences on what was assumed while weighing (a part taken as a cup, a binder "to consistency")."""
    lot_analyses: Mapping[str, LotAnalysis] = field(default_factory=dict)
    """Analyses of the lots named in the recipe, by lot code."""

    def mask(self, *functions: str) -> NDArray[np.bool_]:
        """Which lines are materials of these functions; shape lines."""
        return np.array([m.material is not None and m.material.function in functions for m in self.lines], dtype=bool)

    @property
    def oil_mask(self) -> NDArray[np.bool_]:
        """Which lines are essential oils or neat aroma substances; shape lines."""
        return np.array([m.is_oil for m in self.lines], dtype=bool)

    @property
    def cured_fraction(self) -> Array:
        """What stays of each line when alcohol and free water have gone; shape lines, 0 to 1."""
        return np.array(
            [
                1.0 if m.material is None else 1.0 - (m.material.water_mass_pct + m.material.alcohol_mass_pct) / 100.0
                for m in self.lines
            ]
        )

    @property
    def is_liquid(self) -> NDArray[np.bool_]:
        """Which lines are poured or dropped (essential oils too); shape lines."""
        return np.array([m.is_oil or (m.material is not None and m.material.is_liquid) for m in self.lines], dtype=bool)
