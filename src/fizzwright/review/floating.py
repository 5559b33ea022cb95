"""Whether a piece floats or sinks, from when it goes in until it is gone."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fizzwright.recipe.mix import Mix
from fizzwright.review.figures import Curve, Figure, Input, Notice, Working
from fizzwright.review.parts import Course
from fizzwright.review.sizes import Piece, packed_density
from fizzwright.science import erosion, packing
from fizzwright.science.erosion import EQUATIONS
from fizzwright.wording import duration_text

Array = NDArray[np.float64]

LIKELY = 0.75
"""Our own choice: a chance from which it is said to be likely, and below a quarter unlikely."""
SPINS = 0.2
"""estimate: one-sidedness of the push from which a floating piece spins."""
STEPS = 60
"""Steps in time of the curve."""


@dataclass(frozen=True)
class Floating:
    """The chance that a piece floats, over time."""

    minutes: Array
    chance: Array
    """Shape (n,), over draws of the packing and of the gas film."""
    low: float
    high: float
    """The chance at the start with the thinnest and the thickest gas film."""
    rises_s: float | None
    """When a likely piece begins to float: 0 from the start, None never."""
    sinks_s: float | None
    """When a likely piece that floats at the start goes under; None when it does not."""
    inputs: tuple[Input, ...]

    def figure(self) -> Figure:
        """The figure floats."""
        chance = float(self.chance[0])
        return Figure(
            "floats",
            chance,
            "",
            self.text,
            Working(EQUATIONS["lift"], self.inputs),
            min(self.low, chance),
            max(self.high, chance),
            basis="estimate",
            range_kind="thin to thick film of gas",
        )

    @property
    def text(self) -> str:
        """What becomes of it, in one sentence."""
        chance = float(self.chance[0])
        told = f"{round(100 * chance)} in 100 pieces float when they go in"
        if self.rises_s is None:
            return f"{told}; a likely one stays on the bottom."
        if self.rises_s > 0:
            return f"{told}; a likely one sinks at first and rises after about {duration_text(self.rises_s)}."
        if self.sinks_s is not None:
            return f"{told}; a likely one floats and goes under after about {duration_text(self.sinks_s)}."
        return f"{told}; a likely one floats to the end."

    def curve(self) -> Curve:
        """The chance over time."""
        return Curve(
            "floating",
            "How likely it floats, as it shrinks.",
            "time",
            "min",
            "chance that it floats",
            "%",
            tuple(float(m) for m in self.minutes),
            {"chance that it floats": tuple(float(100 * c) for c in self.chance)},
        )


def floating_of(mix: Mix, size: Piece, course: Course) -> Floating:
    """Weigh the piece against the water from the start until it is gone, over draws of its packing and of its gas."""
    solved = course.solved
    step = (len(solved.seconds) - 1) // STEPS
    # the very last moment holds nothing that could float
    at = slice(0, -1, step)
    volume = np.array([part.volume_share for part in course.parts])[:, None] * solved.left[:, at]
    mass = np.array([part.density_g_ml for part in course.parts])[:, None] * volume
    likely = mass.sum(axis=0) / volume.sum(axis=0)
    draws = len(size.piece_g_draws)
    middle = float(packed_density(mix, mix.grams, packing.HAND_PRESSED[1]))
    order = np.random.default_rng(11).permutation(draws)
    even = (order + 0.5) / draws
    if size.volume_ml is not None:
        packed = size.piece_g_draws / size.volume_ml
    else:
        # a mould known by weight says nothing of how hard it is pressed
        packed = packed_density(mix, mix.draws_g, np.interp(even[::-1], (0.05, 0.5, 0.95), packing.HAND_PRESSED))
    water = float(erosion.water_density_g_ml(course.temperature_c))
    film = np.interp(even, (0.05, 0.5, 0.95), erosion.NET_FILM_MM)
    face = solved.face_per_mm[at]

    def wet(dense: Array, film_mm: Array | float, face_per_mm: Array | float) -> Array:
        return np.asarray(erosion.density_in_water_g_ml(dense, face_per_mm, film_mm, water))

    dense = (packed / middle)[:, None] * likely
    chance = (wet(dense, film[:, None], face) < water).mean(axis=0)
    low, high = (float((wet(dense[:, 0], f, float(face[0])) < water).mean()) for f in erosion.NET_FILM_MM[::2])
    afloat = wet(likely, erosion.NET_FILM_MM[1], face) < water
    seconds = solved.seconds[at] * course.second
    rises = float(seconds[int(np.argmax(afloat))]) if afloat.any() else None
    under = ~afloat & (seconds > 0)
    inputs = (
        Input("density of the cured piece", round(float(likely[0]), 3), "g/ml", "", "estimate"),
        Input("density of the water", round(water, 4), "g/ml", "Kell 1975", "memory"),
        Input("surface over volume at the start", round(float(face[0]), 4), "per mm"),
        Input(
            "net film of gas", erosion.NET_FILM_MM[1], "mm", "", "estimate, {} to {}".format(*erosion.NET_FILM_MM[::2])
        ),
    )
    return Floating(
        seconds / 60.0,
        chance,
        low,
        high,
        rises,
        float(seconds[int(np.argmax(under))]) if rises == 0 and under.any() else None,
        inputs,
    )


def notices_of(floating: Floating, turns: float) -> list[Notice]:
    """What a maker should know before it goes in."""
    chance = float(floating.chance[0])
    reason = "compared: the density of the piece, with the gas that clings to it, with that of the water (estimate)"
    if chance >= LIKELY:
        # that it floats the figure says itself; that it spins as well is worth a word
        return [Notice("good", "It floats and spins.", reason, figure="floats")] if turns >= SPINS else []
    if chance <= 1.0 - LIKELY:
        then = (
            "and stays on the bottom of the tub"
            if floating.rises_s is None
            else f"at first and rises after about {duration_text(floating.rises_s)}"
        )
        return [
            Notice(
                "mind",
                f"It most likely sinks {then}. Pressed more lightly it floats sooner; a light filler such as starch helps too.",
                reason,
                figure="floats",
            )
        ]
    return []
