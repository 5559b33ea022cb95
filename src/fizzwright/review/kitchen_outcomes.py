"""What comes of a recipe in each kitchen: pieces, fizz, water and scent, by the very functions the other sections use."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fizzwright.catalogue import Catalogue
from fizzwright.recipe.mix import Mix
from fizzwright.review import views, water
from fizzwright.review.chemistry import fizz_of
from fizzwright.review.dissolving import powder_gone
from fizzwright.review.kitchens import Kitchens
from fizzwright.review.parts import course_of, line_shares, names_of, role_of
from fizzwright.review.setting import Setting
from fizzwright.review.sizes import Piece, Range, packed_density, piece
from fizzwright.review.tap import NORMAL_95
from fizzwright.review.tub_defaults import bath
from fizzwright.science import equilibrium, erosion, packing
from fizzwright.science.equilibrium import MOST_MMOL_L, Water

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Outcomes:
    """One entry a kitchen in every array; None where the recipe has no such thing."""

    size: Piece
    """Its likely figures; of many kitchens, its draws are the first slice's."""
    piece_g: Array
    pieces: Array
    acid_to_base_eq: Array | None
    neat_pct: Array | None


def outcomes(kitchens: Kitchens, catalogue: Catalogue) -> Outcomes:
    """Everything but the water, the limits and how long it fizzes."""
    mix = kitchens.mix
    size = piece(mix, catalogue, kitchens.solid_fraction, kitchens.kept)
    fizz = fizz_of(mix, mix.draws_g)
    scent = views.scent_of(mix)
    return Outcomes(
        size,
        size.piece_g_draws,
        size.pieces_draws,
        fizz.acid_to_base_eq if fizz.acids and fizz.bases else None,
        views.in_carrier(scent, views.strongest(mix, scent))(mix.draws_g) if scent.present else None,
    )


def likely_fizz(mix: Mix, catalogue: Catalogue, setting: Setting, size: Piece) -> Range:
    """How long it fizzes by the tub's own estimate."""
    if size.is_powder:
        return powder_gone(mix, catalogue)
    course = course_of(mix, catalogue, setting, size)
    return Range(course.gone_s, course.gone_s / course.factor, course.gone_s * course.factor)


def fizz_seconds(kitchens: Kitchens, catalogue: Catalogue, setting: Setting, size: Piece) -> Array:
    """The tub's estimate, stretched in each kitchen by how fast the water there eats into that mix: no piece is eroded anew.

    Parts are weighed by their mass, which is exact for a piece of one part. A speed or a time of the maker's own stands
    for mix and water both, and then only the doubt of a timing is left.
    """
    mix = kitchens.mix
    told = likely_fizz(mix, catalogue, setting, size)
    factor = np.log(told.high / told.value) if told.value > 0 else 0.0
    doubt = np.exp(kitchens.pace / NORMAL_95 * factor)
    if setting.speed_mm_s is not None or mix.recipe.tub.fizzed_in_s is not None:
        return np.asarray(told.value * doubt)
    celsius = bath(mix.recipe, catalogue).temperature_c
    if size.is_powder:
        slower = np.asarray(erosion.warmth(celsius)) / np.asarray(erosion.warmth(kitchens.temperature_c))
        return np.asarray(told.value * slower * doubt)
    here = _slowness(mix, mix.draws_g, kitchens.solid_fraction, kitchens.temperature_c)
    # the same pressing on both sides, as the tub's estimate is of the middling one
    middle = _slowness(mix, mix.grams, np.asarray(packing.HAND_PRESSED[1]), np.asarray(celsius))
    return np.asarray(told.value * here / middle * doubt)


def _slowness(mix: Mix, grams: Array, solid_fraction: Array, celsius: Array) -> Array:
    """Seconds a millimetre takes, parts by their mass; grams (..., lines)."""
    roles = {role: np.array([role_of(m.material) == role for m in mix.lines]) for role in ("acid", "filler", "oil")}
    total, slow = np.zeros(grams.shape[:-1]), np.zeros(grams.shape[:-1])
    for share in line_shares(mix, names_of(mix)):
        held = grams * share
        cured = held * mix.cured_fraction
        mass = np.maximum(cured.sum(axis=-1), 1e-9)
        density = packed_density(mix, held, solid_fraction) * mass / np.maximum(held.sum(axis=-1), 1e-9)
        acid, filler, oil = (np.minimum(cured[..., own].sum(axis=-1) / mass, 1.0) for own in roles.values())
        speed = np.asarray(erosion.speed_mm_s(celsius, acid, filler, oil, np.maximum(density, 0.1)))
        total, slow = total + mass, slow + mass / speed
    return np.asarray(slow / total)


def first(water_: Water, count: int) -> Water:
    """The water of the first kitchens only."""
    return Water(**{
        name: value[:count] if isinstance(value, np.ndarray) and value.ndim else value
        for name, value in ((name, getattr(water_, name)) for name in Water.__dataclass_fields__)
    })  # fmt: skip


def settled_ph(all_kitchens: Sequence[Kitchens], sizes: Sequence[Piece], count: int) -> list[Array] | None:
    """pH at rest in the first `count` kitchens of each habit, all solved in one go; None where the water cannot be reckoned.

    All habits share the same tubs and taps, as they come from the same draws.
    """
    doses = []
    for kitchens, size in zip(all_kitchens, sizes, strict=True):
        grams, litres = kitchens.mix.draws_g[:count], kitchens.litres[:count]
        doses.append(water.dose_of(kitchens.mix, grams, size, litres))
    if any(float(np.max(amount)) > MOST_MMOL_L * 1e-3 for dose in doses for amount in dose.values()):
        return None
    one, times = all_kitchens[0], len(all_kitchens)
    dose = {name: np.concatenate([np.broadcast_to(d[name], count) for d in doses]) for name in doses[0]}
    tap = first(one.water, count)
    tiled = Water(**{
        name: np.tile(value, times) if isinstance(value, np.ndarray) and value.ndim else value
        for name, value in ((name, getattr(tap, name)) for name in Water.__dataclass_fields__)
    })  # fmt: skip
    settled = equilibrium.solve(
        tiled, dose, np.tile(one.temperature_c[:count], times), np.tile(one.room_atm[:count], times)
    )
    ph = np.broadcast_to(np.asarray(settled.ph, dtype=float), (times * count,))
    return list(ph.reshape(times, count))


def likely_ph(mix: Mix, catalogue: Catalogue, size: Piece, tap: Water, room_atm: float) -> float:
    """pH at rest by the likely figures."""
    tub = bath(mix.recipe, catalogue)
    dose = water.dose_of(mix, mix.grams, size, tub.litres)
    return float(np.asarray(equilibrium.solve(tap, dose, tub.temperature_c, room_atm).ph))
