"""The bowl left standing, worked out once for figures, curve and notices; and what each binder costs in fizz."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.model import Material
from fizzwright.recipe.measures import spray_ml
from fizzwright.recipe.mix import Mix
from fizzwright.review.chemistry import fizz_of
from fizzwright.review.figures import Table
from fizzwright.review.room import Room
from fizzwright.review.sizes import Piece
from fizzwright.review.standing import (
    DRAWS,
    LONGEST_MINUTES,
    SPENT_SHARE,
    Danger,
    Estimates,
    batch_of,
    drawn,
    of_a_gram,
    sums,
)
from fizzwright.science import runaway
from fizzwright.wording import duration_text, shown

Array = NDArray[np.float64]

DRY_PCT, DAMP_PCT = 40.0, 70.0
TIMES = 10.0
"""The larger batch the table tells beside the recipe's own."""
BINDERS = ("water", "witch_hazel", "isopropyl_alcohol_70", "isopropyl_alcohol_91", "isopropyl_alcohol_99",
           "fractionated_coconut_oil")  # fmt: skip
HOPELESS = 0.5
"""When the larger batch loses this much of its fizz as it is, one more gram is not worth a number."""
RTOL = 1e-3
"""Error of a step: far below what the estimates are known to."""


@dataclass(frozen=True)
class StoodOpen:
    """The mix left standing in columns: this room likely, its DRAWS draws, a dry room, a damp room; then the table's."""

    mix: Mix
    catalogue: Catalogue
    size: Piece
    room: Room
    found: Danger
    held: Mapping[str, float]
    spare_g: float
    """Water the powders could still bind in this air."""
    likely: Mapping[str, float]
    """The batch in this room, likely case: what its law is reckoned with, by field of runaway.Batch."""
    course: runaway.Course
    minutes: Array
    """Until SPENT_SHARE of the fizz is gone in this room, likely and in the draws; at most LONGEST_MINUTES."""
    onset_min: Array
    """Until it feeds itself, the same way."""
    binders: tuple[Material, ...]
    spoon_g: tuple[float, ...]
    spray_g: tuple[float, ...]


def stand_open(mix: Mix, catalogue: Catalogue, size: Piece, room: Room, found: Danger) -> StoodOpen:
    """Let the mix stand, in every way the section tells about, all in one go."""
    binders = tuple(catalogue.materials[use] for use in BINDERS if use in catalogue.materials)
    spoon = catalogue.measures[f"{mix.recipe.measures}_tsp"].volume_ml or 5.0
    spray = spray_ml(catalogue).ml
    density = [m.true_density_g_ml or 1.0 for m in binders]
    spoon_g, spray_g = (tuple(ml * d for d in density) for ml in (spoon, spray))
    held = sums(mix)
    first, count = DRAWS + 3, len(binders)
    # after the rooms: the recipe's own batch plain, with a gram, with a spoon of each; the larger plain and with as much
    grams = np.concatenate([np.zeros(first + 1), np.ones(count), np.array(spoon_g), np.zeros(1), np.ones(count)])
    which = np.concatenate([np.zeros(first + 1), *(np.arange(count),) * 2, np.zeros(1), np.arange(count)]).astype(int)
    each = {name: np.array([of_a_gram(m, name) for m in binders]) for name in held}
    columns = {name: held[name] + grams * each[name][which] for name in held}
    width = len(grams)
    big = np.zeros(width)
    big[-(count + 1) :] = 1.0
    humidity = np.full(width, room.humidity_pct)
    humidity[DRAWS + 1], humidity[DRAWS + 2] = DRY_PCT, DAMP_PCT
    by = drawn(found, catalogue)

    def wide(values: object) -> Array:
        likely_then_draws = np.asarray(values, dtype=float)
        return np.concatenate([likely_then_draws, np.full(width - DRAWS - 1, likely_then_draws[0])])

    estimates = Estimates({name: wide(values) for name, values in by.of.items()}, wide(by.danger))
    times = np.where(big > 0, TIMES, 1.0)
    batch = batch_of(mix, columns, estimates, room.room_c, humidity, times, big)
    course = runaway.stand(batch, LONGEST_MINUTES, RTOL)
    spare = float(np.asarray(batch.capacity_g)[0] - np.asarray(batch.water_g)[0] + held["water"])
    minutes, onset = (
        np.minimum(when[: DRAWS + 1], LONGEST_MINUTES) for when in (course.minutes_until(SPENT_SHARE), course.onset_min)
    )
    likely = {name: float(column[0]) for name, column in batch.columns().items()}
    return StoodOpen(
        mix, catalogue, size, room, found, held, spare, likely, course, minutes, onset, binders, spoon_g, spray_g
    )


def cost_table(stood: StoodOpen) -> Table:
    """What one more gram, spray or spoon of each binder costs until the last piece is pressed."""
    count, first = len(stood.binders), DRAWS + 3
    small, large = (min(stood.room.pace.minutes(stood.size, n), LONGEST_MINUTES) for n in (1.0, TIMES))
    early, late = stood.course.spent(np.array([small, large]))
    gram = np.maximum(early[first + 1 : first + 1 + count] - early[first], 0.0)
    spoon = np.maximum(early[first + 1 + count : first + 1 + 2 * count] - early[first], 0.0)
    plain = late[first + 1 + 2 * count]
    larger = np.maximum(late[first + 2 + 2 * count :] - plain, 0.0)
    hopeless = plain > HOPELESS
    gas_g = float(fizz_of(stood.mix, stood.mix.grams).co2_g)
    rows = tuple(
        (
            binder.name,
            _told(100 * gram[i]),
            _told(gas_g * gram[i]),
            _told(100 * gram[i] * stood.spray_g[i]),
            _told(100 * spoon[i]),
            "–" if hopeless else _told(100 * larger[i]),
            "–" if hopeless else _told(gas_g * larger[i]),
        )
        for i, binder in enumerate(stood.binders)
    )
    return Table(
        "fizz_cost",
        "What a wetter mix costs in fizz",
        (
            "One more",
            "1 g here, % of the fizz",
            "1 g here, g of gas",
            "a spray here, %",
            "a teaspoon here, %",
            "ten times the batch, the same share, %",
            "ten times, g of gas for each gram",
        ),
        rows,
        f"Until the last piece is pressed: {duration_text(60 * small)} here, {duration_text(60 * large)} for ten times as much, where "
        f"what evaporates is sprayed on again. Without more binder {_told(100 * early[first])} % of the fizz goes here and "
        f"{_told(100 * plain)} % there{', too much for any binder to matter' if hopeless else ''}. Estimates.",
    )


def _told(value: float) -> str:
    return shown(value) if value >= 0.005 else "0"
