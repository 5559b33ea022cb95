"""What is left over when the whole pieces are made: fill up the last one, press a half, or keep a jar of powder."""

from __future__ import annotations

import math
from dataclasses import dataclass

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.model import Material
from fizzwright.recipe.mix import Mix
from fizzwright.review.chemistry import fizz_of
from fizzwright.review.figures import Figure, Input, Working
from fizzwright.review.sizes import POWDER_PER_BATH_G, UNKNOWN_TRUE_DENSITY_G_ML, Piece
from fizzwright.science import packing

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


@dataclass(frozen=True, slots=True)
class FillUp:
    """What makes the last piece (or the count asked for) whole."""

    filler: Material
    grams: float
    pieces: int
    """Whole pieces there are then."""
    missing_ml: float | None
    """Room still empty in the last mould; None for a mould known by weight."""


def fill_up(mix: Mix, catalogue: Catalogue, size: Piece) -> FillUp:
    """Filler for one more whole piece: it fills the room that is missing, at its own density and the same pressing."""
    # within a thousandth of a piece it is whole already
    now = size.total_g / size.piece_g.value + 1e-3
    wanted = size.asked if size.asked is not None and size.asked > now else math.floor(now) + 1
    filler = filler_of(mix, catalogue)
    if size.volume_ml is None:
        return FillUp(filler, (wanted - now + 1e-3) * size.piece_g.value, wanted, None)
    missing_ml = (wanted - now + 1e-3) * size.volume_ml
    density = filler.true_density_g_ml or UNKNOWN_TRUE_DENSITY_G_ML
    return FillUp(filler, missing_ml * packing.HAND_PRESSED[1] * density, wanted, missing_ml)


def leftover_figures(mix: Mix, catalogue: Catalogue, size: Piece) -> list[Figure]:
    """Figures filler_to_whole_g, co2_per_piece_after_filler_g, half_pieces, jar_baths and jar_dose_g."""
    figures: list[Figure] = []
    if size.is_powder:
        return figures
    fill = fill_up(mix, catalogue, size)
    missing, filler = fill.grams, fill.filler
    co2 = float(fizz_of(mix, mix.grams).co2_g)
    before = co2 * size.piece_g.value / size.total_g
    after = co2 / fill.pieces
    drop_pct = 100 * (1 - after / before) if before > 0 else 0.0
    figures.append(
        Figure(
            "filler_to_whole_g",
            missing,
            "g",
            f"{missing:.0f} g more {filler.name} would make {'the last piece' if size.leftover_g.value > size.piece_g.value / 2 else 'one more piece'} whole; "
            f"each piece then frees {after:.1f} g of gas instead of {before:.1f} g ({drop_pct:.0f} % less)"
            + ("." if drop_pct < WEAKER_PCT else ": too weak to be worth it."),
            Working(
                "filler = room missing x solid fraction x its true density; gas a piece = gas of the mix / pieces"
                if fill.missing_ml is not None
                else "filler = pieces x piece - mix; gas a piece = gas of the mix / pieces",
                (
                    *(
                        (
                            Input("room missing", round(fill.missing_ml, 1), "ml"),
                            Input("solid fraction", packing.HAND_PRESSED[1], "", "", "estimate"),
                            Input(
                                f"true density of {filler.name}",
                                filler.true_density_g_ml or UNKNOWN_TRUE_DENSITY_G_ML,
                                "g/ml",
                                "; ".join(filler.sources_of("true_density_g_ml")),
                                filler.how_of("true_density_g_ml") if filler.true_density_g_ml else "estimate",
                            ),
                        )
                        if fill.missing_ml is not None
                        else (
                            Input("piece", round(size.piece_g.value, 1), "g"),
                            Input("mix", round(size.total_g, 1), "g"),
                        )
                    ),
                    Input("gas of the mix", round(co2, 2), "g"),
                    Input("pieces", fill.pieces),
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
                "gas of the mix / pieces", (Input("gas of the mix", round(co2, 2), "g"), Input("pieces", fill.pieces))
            ),
        )
    )
    left = size.leftover_g.value
    if left > 0:
        more = int(left // size.piece_g.value)
        halves = int((left - more * size.piece_g.value) // (size.piece_g.value / 2))
        figures.append(
            Figure(
                "half_pieces",
                halves,
                "",
                f"The rest would press {f'{more} more and ' if more else ''}a half piece."
                if halves
                else (
                    f"The rest would press {more} more and leave less than half a piece."
                    if more
                    else "The rest is less than half a piece."
                ),
                Working(
                    "half pieces = whole part of (leftover less the whole pieces in it) / (piece / 2)",
                    (Input("left over", round(left, 1), "g"), Input("piece", round(size.piece_g.value, 1), "g")),
                ),
            )
        )
        # a mix that dries away to nothing has no bath of its own to go by
        dose = min(POWDER_PER_BATH_G, size.per_bath_g.value) or POWDER_PER_BATH_G
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
