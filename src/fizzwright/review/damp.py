"""Humid air and the mix: what this room's air does to it, how long the bowl may stand open, what wet binders cost in fizz."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.model import Material
from fizzwright.recipe.mix import Mix
from fizzwright.review.chemistry import fizz_of
from fizzwright.review.figures import Section
from fizzwright.review.room import Room
from fizzwright.review.setting import Setting
from fizzwright.review.sizes import Piece, Range
from fizzwright.review.standing import OILY_FUNCTIONS, batch_of, danger, likely, standing_minutes, sums
from fizzwright.science import runaway
from fizzwright.science.moisture import checked_humidity_pct, checked_temperature_c

Array = NDArray[np.float64]
Numbers = float | Array

SPENT_SHARE = 0.05
"""The bowl has stood too long when this share of the fizz is spent (our own choice: nobody feels less than that in a bath)."""
LONGEST_MIN = 240.0
"""Longer than this nobody leaves a mixed bowl open; "4 hours or more" is said instead."""


def can_fizz(mix: Mix) -> bool:
    """True when acid and carbonate are both in the mix; without them damp makes lumps, but no fizz is lost."""
    return float(np.asarray(fizz_of(mix, mix.grams).reaction.co2_mol)) > 0


def danger_humidity_pct(mix: Mix, catalogue: Catalogue) -> Range:
    """Humidity from which the mix takes up water and reacts; 100 when no line is known to take up any."""
    return danger(mix, catalogue).pct


def open_bowl_minutes(mix: Mix, catalogue: Catalogue, size: Piece, room_c: Numbers, humidity_pct: Numbers) -> Array:
    """Minutes a bowl with the acid in it may stand open until 5 % of its fizz is spent, at most 240; rooms broadcast.

    240 as well for a mix that has no fizz to lose.
    """
    rooms, humidity = np.broadcast_arrays(checked_temperature_c(room_c), checked_humidity_pct(humidity_pct))
    if not can_fizz(mix):
        return np.full(rooms.shape, LONGEST_MIN)
    by = likely(danger(mix, catalogue), catalogue)
    course = runaway.stand(batch_of(mix, sums(mix), by, rooms, humidity), LONGEST_MIN, rtol=1e-4)
    return np.minimum(course.minutes_until(SPENT_SHARE), LONGEST_MIN)


def fizz_cost_share(mix: Mix, catalogue: Catalogue, size: Piece, binder: Material, grams: float, room: Room) -> float:
    """Share of the fizz, 0 to 1, that so many grams of a binder cost until the last piece is pressed.

    Counted against the same mix without any alcohol or watery binder. Oil brings no water and costs nothing.
    """
    if not (np.isfinite(grams) and grams >= 0):
        raise ValueError(f"grams of {binder.name}: read {grams:g}; allowed is 0 or more")
    if not can_fizz(mix):
        return 0.0
    wet = [m.material is not None and m.material.function == "binder_liquid" for m in mix.lines]
    bare = sums(mix)
    for mass, line, is_binder in zip(mix.grams, mix.lines, wet, strict=True):
        if is_binder and line.material is not None:
            bare["total"] -= float(mass)
            bare["water"] -= float(mass) * line.material.water_mass_pct / 100.0
            bare["alcohol"] -= float(mass) * line.material.alcohol_mass_pct / 100.0
    bare = {name: max(0.0, value) for name, value in bare.items()}
    both = {name: value + np.array([0.0, grams * _of_a_gram(binder, name)]) for name, value in bare.items()}
    by = likely(danger(mix, catalogue), catalogue)
    minutes = min(standing_minutes(size), LONGEST_MIN)
    batch = batch_of(mix, both, by, room.room_c, room.humidity_pct)
    without, with_it = runaway.stand(batch, minutes, rtol=1e-4).spent(minutes)
    return float(max(0.0, with_it - without))


def _of_a_gram(binder: Material, name: str) -> float:
    """What a gram of a liquid adds to one of the sums."""
    return {
        "total": 1.0,
        "water": binder.water_mass_pct / 100.0,
        "alcohol": binder.alcohol_mass_pct / 100.0,
        "oil": 1.0 if binder.function in OILY_FUNCTIONS else 0.0,
    }.get(name, 0.0)


def told(mix: Mix, catalogue: Catalogue, setting: Setting, size: Piece, room: Room) -> Section:
    """What the air of the room does to the mix while the bowl stands open."""
    return Section("making_day", "Making day")
