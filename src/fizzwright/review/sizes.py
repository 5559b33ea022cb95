"""How big a piece is and how many the mix makes: what mould, cost and skin all build on."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fizzwright.catalogue import Catalogue
from fizzwright.recipe.mix import Mix
from fizzwright.review.figures import interval
from fizzwright.science import packing

Array = NDArray[np.float64]

POWDER_PER_BATH_G = 100.0
"""Grams of loose fizzing powder in one bath when the recipe says nothing.

estimate: what a middling pressed piece weighs (facts composition: a standard retail piece is 100-200 g), rounded down.
"""
UNKNOWN_TRUE_DENSITY_G_ML = 1.5
"""estimate: organic powders (starches, sugars, gums) have skeletal densities of 1.4-1.6 g/ml."""
UNKNOWN_BULK_DENSITY_G_ML = 0.5
"""estimate: loose bulk density of a fine organic powder the table holds none for."""


@dataclass(frozen=True, slots=True)
class Range:
    """A likely value with its 90 % interval."""

    value: float
    low: float
    high: float

    @classmethod
    def of(cls, value: float, draws: Array) -> Range:
        """The value with the 5th and 95th percentile of the draws."""
        return cls(value, *interval(draws))


@dataclass(frozen=True)
class Piece:
    """One piece and the batch it comes from; the arrays keep the draws for figures built on top."""

    volume_ml: float | None
    """Inner volume of the mould; None for a powder or a mould known by weight."""
    mound_ml: float
    """What an overfilled pair of halves adds before it is pressed together."""
    packed_density_g_ml: Range | None
    piece_g: Range
    """Mass as pressed; for a powder, what goes into one bath."""
    cured_piece_g: Range
    """Mass when alcohol and free water have gone."""
    pieces: int
    """Whole pieces the mix fills (for a powder: whole baths)."""
    leftover_g: Range
    """What remains when those are made (or, with a count, what is missing when below zero)."""
    asked: int | None
    """The count the recipe asks for, if any."""
    per_bath_g: Range
    """Cured product in one bath: the pieces (or powder) that go into it."""
    pieces_per_bath: float
    piece_g_draws: Array
    pieces_draws: Array
    """Whole pieces in each draw: what comes out when measured by hand, never more than asked for."""
    total_g: float
    total_g_draws: Array
    cured_share: float
    """Cured mass / mass as made."""
    is_powder: bool


def true_densities(mix: Mix) -> Array:
    """Skeletal density of each line's material in g/ml, with the estimate for what the table does not hold."""
    return np.array(
        [
            (m.material.true_density_g_ml if m.material and m.material.true_density_g_ml else UNKNOWN_TRUE_DENSITY_G_ML)
            for m in mix.lines
        ]
    )


def packed_density(mix: Mix, grams: Array, solid_fraction: float | Array) -> Array:
    """Density of a pressed piece in g/ml from its composition; grams (..., lines), solid fraction scalar or (...)."""
    liquid = mix.is_liquid
    return np.asarray(
        packing.packed_density_g_ml(grams * ~liquid, true_densities(mix), grams * liquid, np.asarray(solid_fraction))
    )


def solid_fraction_at(uniform: Array) -> Array:
    """Solid fraction of hand-pressed pieces at draws between 0 and 1."""
    low, _, high = packing.HAND_PRESSED
    # A 90 % interval of a uniform spread covers 90 % of its width.
    middle, half = (low + high) / 2, (high - low) / 2 / 0.9
    return middle + half * (2 * uniform - 1)


def _solid_fraction_draws(draws: int) -> Array:
    """Stratified draws of the solid fraction between its bounds, in an order unrelated to the lines' draws."""
    return solid_fraction_at((np.random.default_rng(7).permutation(draws) + 0.5) / draws)


def piece(mix: Mix, catalogue: Catalogue, solid_fraction: Array | None = None, kept: Array | float = 1.0) -> Piece:
    """Size the piece of a mix and count how many it makes.

    solid_fraction: of each draw, when the caller draws it with the rest. kept: share of the mix that does not stay in the
    bowl; it bears on the draws only.
    """
    total = float(mix.grams.sum())
    total_draws = mix.draws_g.sum(axis=-1)
    cured = mix.cured_fraction
    cured_share = float((mix.grams * cured).sum() / total)
    recipe = mix.recipe
    mould = mix.mould
    is_powder = recipe.kind == "powder" or mould is None
    volume = mix.mould_volume_ml
    mound = 0.0
    density: Range | None = None
    if is_powder:
        dose = recipe.tub.powder_g or POWDER_PER_BATH_G
        value, draws = dose, np.full_like(total_draws, dose)
    elif volume is not None:
        if mould is not None and mould.halves and mould.overfill_mm:
            rim = mould.dims_mm.get("diameter_mm") or mould.dims_mm.get("width_mm") or 0.0
            mound = 2 * float(packing.mound_ml(rim, mould.overfill_mm)) if rim else 0.0
        phi = _solid_fraction_draws(len(total_draws)) if solid_fraction is None else solid_fraction
        rho = float(packed_density(mix, mix.grams, packing.HAND_PRESSED[1]))
        rho_draws = packed_density(mix, mix.draws_g, phi)
        density = Range.of(rho, rho_draws)
        value, draws = rho * volume, rho_draws * volume
    else:
        fact = mould.piece_g_typ if mould is not None else None
        value = fact or POWDER_PER_BATH_G
        draws = np.full_like(total_draws, value)
    whole, left = packing.pieces(total, value)
    asked = recipe.makes.count
    made = int(whole)
    if asked is not None:
        left = total - asked * value
    pieces_per_bath = recipe.tub.pieces or 1.0
    used = asked if asked is not None else made
    per_bath = draws * cured_share * (1.0 if is_powder else pieces_per_bath)
    return Piece(
        volume_ml=volume,
        mound_ml=mound,
        packed_density_g_ml=density,
        piece_g=Range.of(value, draws),
        cured_piece_g=Range.of(value * cured_share, draws * cured_share),
        pieces=made if asked is None else min(asked, made),
        leftover_g=Range.of(float(left), total_draws * kept - used * draws),
        asked=asked,
        per_bath_g=Range.of(value * cured_share * (1.0 if is_powder else pieces_per_bath), per_bath),
        pieces_per_bath=pieces_per_bath,
        piece_g_draws=draws,
        pieces_draws=np.minimum(np.asarray(packing.pieces(total_draws * kept, draws)[0]), asked or np.inf),
        total_g=total,
        total_g_draws=total_draws,
        cured_share=cured_share,
        is_powder=is_powder,
    )


def loose_density(mix: Mix) -> float:
    """Density in g/ml of the mix lying loose in the bowl: powders at their loose bulk density, liquids in the pores."""
    liquid = mix.is_liquid
    bulk = np.array(
        [
            (m.material.bulk_density_loose_g_ml_typ if m.material else None) or UNKNOWN_BULK_DENSITY_G_ML
            for m in mix.lines
        ]
    )
    space_ml = float((mix.grams * ~liquid / bulk).sum())
    return float(mix.grams.sum()) / space_ml if space_ml > 0 else float("nan")


def handled_pieces(size: Piece) -> int:
    """How many things are finished and wrapped: pieces, what goes into one bath together, or one jar of powder."""
    if size.is_powder:
        return 1
    return math.ceil(size.pieces / max(size.pieces_per_bath, 1.0))


def handled_name(size: Piece) -> str:
    """What `handled_pieces` counts."""
    if size.is_powder:
        return "jars"
    return "pieces" if size.pieces_per_bath <= 1 else f"packs of {size.pieces_per_bath:g} pieces, one bath each"
