"""What is left over when the whole pieces are made: fill up the last one, press a half, or keep a jar of powder."""

from __future__ import annotations

import numpy as np

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.model import Material
from fizzwright.recipe.mix import Mix
from fizzwright.review.chemistry import fizz_of
from fizzwright.review.figures import Figure, Input, Working
from fizzwright.review.sizes import POWDER_PER_BATH_G, Piece

USUAL_FILLER = "corn_starch"
WEAKER_PCT = 15.0
"""estimate: a piece that loses more than this of its gas to filler is a different recipe."""
JAR_BATH_SHARE = 0.5
"""estimate: below half a usual dose a bath of powder hardly fizzes."""


def filler_of(mix: Mix, catalogue: Catalogue) -> Material:
    """The filler the recipe already holds most of, else corn starch."""
    fillers = [
        (float(g), m.material)
        for g, m in zip(mix.grams, mix.lines, strict=True)
        if m.material and m.material.function == "filler"
    ]
    return max(fillers, key=lambda pair: pair[0])[1] if fillers else catalogue.materials[USUAL_FILLER]


def missing_for_whole_g(size: Piece) -> float:
    """Grams short of one more whole piece (or of the count asked for)."""
    if size.asked is not None and size.leftover_g.value < 0:
        return -size.leftover_g.value
    over = size.leftover_g.value % size.piece_g.value
    return size.piece_g.value - over


def leftover_figures(mix: Mix, catalogue: Catalogue, size: Piece) -> list[Figure]:
    """Figures filler_to_whole_g, co2_per_piece_after_filler_g, half_pieces, jar_baths and jar_dose_g."""
    figures: list[Figure] = []
    if size.is_powder:
        return figures
    filler = filler_of(mix, catalogue)
    missing = missing_for_whole_g(size)
    co2 = fizz_of(mix, mix.grams).co2_g
    before = float(co2) / size.total_g * size.piece_g.value
    after = float(co2) / (size.total_g + missing) * size.piece_g.value
    drop_pct = 100 * (1 - after / before) if before > 0 else 0.0
    figures.append(
        Figure(
            "filler_to_whole_g",
            missing,
            "g",
            f"{missing:.0f} g more {filler.name} would make {'the last piece' if missing < size.piece_g.value / 2 else 'one more piece'} whole; "
            f"each piece then frees {after:.1f} g of gas instead of {before:.1f} g ({drop_pct:.0f} % less)"
            + ("." if drop_pct < WEAKER_PCT else ": too weak to be worth it."),
            Working(
                "filler = piece - what is left of the mix; gas a piece = gas of the mix x piece / (mix + filler)",
                (
                    Input("piece", round(size.piece_g.value, 1), "g"),
                    Input("left over", round(size.leftover_g.value, 1), "g"),
                    Input("gas of the mix", round(float(co2), 2), "g"),
                    Input("mix", round(size.total_g, 1), "g"),
                ),
            ),
        )
    )
    figures.append(
        Figure(
            "co2_per_piece_after_filler_g",
            after,
            "g",
            f"With that filler a piece would free {after:.1f} g of carbon dioxide.",
            Working(
                "gas of the mix x piece / (mix + filler)",
                (Input("gas of the mix", round(float(co2), 2), "g"), Input("filler", round(missing, 1), "g")),
            ),
        )
    )
    left = size.leftover_g.value
    if left > 0:
        halves = int(np.floor(left / (size.piece_g.value / 2)))
        figures.append(
            Figure(
                "half_pieces",
                halves,
                "",
                f"The rest would press {halves} half piece{'' if halves == 1 else 's'}."
                if halves
                else "The rest is less than half a piece.",
                Working(
                    "half pieces = whole part of leftover / (piece / 2)",
                    (Input("left over", round(left, 1), "g"), Input("piece", round(size.piece_g.value, 1), "g")),
                ),
            )
        )
        dose = min(POWDER_PER_BATH_G, size.per_bath_g.value)
        baths = max(1, round(left / dose)) if left >= JAR_BATH_SHARE * dose else 0
        each = left / baths if baths else left
        figures.append(
            Figure(
                "jar_baths",
                baths,
                "",
                f"Kept dry in a jar the rest is fizzing powder for {baths} bath{'' if baths == 1 else 's'}, {each:.0f} g a bath."
                if baths
                else f"{left:.0f} g is too little for a bath of its own; keep it for a foot bath or the next batch.",
                Working(
                    "baths = leftover / dose, rounded; dose = the smaller of a piece's bath and 100 g (estimate)",
                    (Input("left over", round(left, 1), "g"), Input("dose", round(dose, 1), "g", "", "estimate")),
                ),
            )
        )
        if baths:
            figures.append(
                Figure(
                    "jar_dose_g",
                    each,
                    "g",
                    f"A bath of that powder is {each:.0f} g.",
                    Working("leftover / baths", (Input("left over", round(left, 1), "g"), Input("baths", baths))),
                )
            )
    return figures
