"""The mould: what a piece weighs, how many the mix fills, and what can become of the rest."""

from __future__ import annotations

import math

from fizzwright.catalogue import Catalogue
from fizzwright.recipe.mix import Mix
from fizzwright.review.figures import Figure, Input, Notice, Section, Working, interval, sources_of
from fizzwright.review.leftover import leftover_figures
from fizzwright.review.setting import Setting
from fizzwright.review.sizes import Piece, Range, loose_density, piece, true_densities
from fizzwright.science import packing
from fizzwright.wording import mass_text

MUCH_LEFT = 0.15
"""estimate: a sixth of the bowl left over is worth a word; less is what a careful maker mixes to be sure."""


def section(mix: Mix, catalogue: Catalogue, setting: Setting) -> Section:
    """Figures volume_ml, piece_g, pieces, leftover_g, packed_density_g_ml and what to do with the rest."""
    size = piece(mix, catalogue)
    figures: list[Figure] = []
    if not size.is_powder:
        figures += _mould_figures(mix, size)
    figures += [_piece(mix, size), _pieces(size), _leftover(size)]
    if not size.is_powder:
        hardness = _hardness(mix)
        figures.append(hardness)
    return Section(
        "mould", "Moulds and pieces", (*figures, *leftover_figures(mix, catalogue, size)), tuple(_notices(size))
    )


def _mould_figures(mix: Mix, size: Piece) -> list[Figure]:
    """Volume, loose fill and pressed density, where the mould has a volume."""
    mould = mix.mould
    if mould is None or size.volume_ml is None or size.packed_density_g_ml is None:
        return []
    dims = tuple(
        Input(name, value, "mm", "; ".join(mould.sources_of(name)), mould.how_of(name))
        for name, value in mould.dims_mm.items()
    )
    density = size.packed_density_g_ml
    figures = [
        Figure(
            "volume_ml",
            size.volume_ml,
            "ml",
            f"The {mould.name} holds {size.volume_ml:.0f} ml.",
            Working(packing.EQUATIONS[mould.shape], dims),
            sources=mould.sources_of("volume_ml"),
            basis="exact",
            range_kind="exact",
        ),
        Figure(
            "packed_density_g_ml",
            density.value,
            "g/ml",
            f"Pressed by hand the piece comes to about {density.value:.2f} g/ml: {_floating(density)}.",
            Working(
                packing.EQUATIONS["packed_density_g_ml"],
                (
                    Input(
                        "solid fraction",
                        packing.HAND_PRESSED[1],
                        "",
                        "",
                        f"estimate, {packing.HAND_PRESSED[0]} to {packing.HAND_PRESSED[2]}",
                    ),
                    Input("powders", round(float((mix.grams * ~mix.is_liquid).sum()), 1), "g"),
                    Input("liquids and fats", round(float((mix.grams * mix.is_liquid).sum()), 1), "g"),
                    *_skeletal(mix),
                ),
            ),
            density.low,
            density.high,
            sources_of(*(m.material.sources_of("true_density_g_ml") for m in mix.lines if m.material)),
        ),
    ]
    loose = loose_density(mix)
    if math.isfinite(loose):
        fill = size.piece_g.value / loose
        figures.append(
            Figure(
                "loose_fill_ml",
                fill,
                "ml",
                f"A piece takes about {fill:.0f} ml of loose mix: {_filling(fill, size)}.",
                Working(
                    "loose fill = piece / loose density; loose density = mix / sum(powder / its loose bulk density)",
                    (
                        Input("piece", round(size.piece_g.value, 1), "g"),
                        Input("loose density of the mix", round(loose, 3), "g/ml", "", "estimate"),
                    ),
                ),
                sources=sources_of(
                    *(m.material.sources_of("bulk_density_loose_g_ml_typ") for m in mix.lines if m.material)
                ),
            )
        )
    if size.mound_ml:
        figures.append(
            Figure(
                "mound_ml",
                size.mound_ml,
                "ml",
                f"Heaped {mould.overfill_mm:.0f} mm over each rim, the two halves take about {size.mound_ml:.0f} ml more than level.",
                Working(
                    packing.EQUATIONS["mound_ml"],
                    (
                        Input(
                            "mound above each rim",
                            mould.overfill_mm,
                            "mm",
                            "; ".join(mould.sources_of("overfill_mm")),
                            mould.how_of("overfill_mm"),
                        ),
                        *dims,
                    ),
                ),
                sources=mould.sources_of("overfill_mm"),
            )
        )
    return figures


def _filling(fill_ml: float, size: Piece) -> str:
    """How full the mould must be before it is pressed."""
    if size.volume_ml is None or fill_ml <= size.volume_ml:
        return "level is enough"
    if fill_ml <= size.volume_ml + size.mound_ml:
        return "fill it level, then heap a little"
    return "heap it well, and press"


def _floating(density: Range) -> str:
    """What the pressed density means in water."""
    if density.high < 1.0:
        return "lighter than water, so it floats"
    if density.low > 1.0:
        return "heavier than water, so it sinks"
    return "close to water, so it most likely " + ("floats" if density.value < 1.0 else "sinks")


def _skeletal(mix: Mix) -> tuple[Input, ...]:
    """True density of the powders without pores, as an input to show; none where there are no powders."""
    density = float(packing.true_density_of_solids_g_ml(mix.grams * ~mix.is_liquid, true_densities(mix)))
    if not math.isfinite(density):
        return ()
    return (Input("true density of the powders", round(density, 3), "g/ml", "", "harmonic mean by mass"),)


def _piece(mix: Mix, size: Piece) -> Figure:
    """What one piece (or one bath of powder) weighs."""
    p, cured = size.piece_g, size.cured_piece_g
    if size.is_powder:
        given = mix.recipe.tub.powder_g is not None
        return Figure(
            "piece_g",
            p.value,
            "g",
            f"One bath takes {p.value:.0f} g of the powder{'' if given else ', as nothing else was said'}.",
            Working("as the recipe says ([tub] powder_g)" if given else "estimate: about a middling pressed piece", ()),
            basis="exact" if given else "estimate",
            range_kind="exact",
        )
    if size.volume_ml is None or size.packed_density_g_ml is None:
        name = mix.mould.name if mix.mould else "piece"
        return Figure(
            "piece_g",
            p.value,
            "g",
            f"A piece of the size {name!r} is taken as {p.value:.0f} g.",
            Working("the mould is known by the mass of its piece", ()),
            sources=mix.mould.sources_of("piece_g_typ") if mix.mould else (),
        )
    return Figure(
        "piece_g",
        p.value,
        "g",
        f"A piece weighs about {p.value:.0f} g pressed, {cured.value:.0f} g when dry; by hand, between {p.low:.0f} and {p.high:.0f} g.",
        Working(
            "piece = mould volume x packed density",
            (
                Input("mould volume", round(size.volume_ml, 2), "ml"),
                Input("packed density", round(size.packed_density_g_ml.value, 4), "g/ml", "", "estimate"),
            ),
        ),
        p.low,
        p.high,
        mix.mould.sources_of("volume_ml") if mix.mould else (),
    )


def _pieces(size: Piece) -> Figure:
    """How many whole pieces the mix fills."""
    low, high = interval(size.pieces_draws)
    noun = "bath" if size.is_powder else "whole piece"
    plural = "" if size.pieces == 1 else "s"
    asked = f" The recipe asks for {size.asked}." if size.asked is not None else ""
    return Figure(
        "pieces",
        size.pieces,
        "",
        f"The mix makes {size.pieces} {noun}{plural}.{asked}",
        Working(
            packing.EQUATIONS["pieces"],
            (Input("mix", round(size.total_g, 1), "g"), Input("piece", round(size.piece_g.value, 1), "g")),
        ),
        min(int(low), size.pieces),
        max(int(high), size.pieces),
    )


def _leftover(size: Piece) -> Figure:
    """What remains, or what is missing, when the pieces are made."""
    left = size.leftover_g
    if left.value >= 0:
        text = f"About {mass_text(left.value)} remain when {'those baths are' if size.is_powder else 'those pieces are'} made."
        if left.low < 0 and not size.is_powder:
            text += " Scooped lightly it may fall short of them."
    else:
        text = f"About {mass_text(-left.value)} are missing for the {size.asked} pieces asked for."
    count = size.asked if size.asked is not None else size.pieces
    return Figure(
        "leftover_g",
        left.value,
        "g",
        text,
        Working(
            "leftover = mix - pieces x piece",
            (
                Input("mix", round(size.total_g, 1), "g"),
                Input("pieces", count),
                Input("piece", round(size.piece_g.value, 1), "g"),
            ),
        ),
        left.low,
        left.high,
    )


def _hardness(mix: Mix) -> Figure:
    """How hard the dry piece is likely to be."""
    grams = mix.grams
    total = float(grams.sum())
    shares = {
        "binder_pct": mix.mask("binder_liquid"),
        "oil_pct": mix.mask("carrier_oil") | mix.oil_mask,
        "solid_fat_pct": mix.mask("solid_fat"),
        "fine_filler_pct": mix.mask("filler"),
        "hardener_pct": mix.mask("hardener"),
    }
    hardness = packing.hardness_class(
        **{name: 100 * float((grams * which).sum()) / total for name, which in shares.items()}
    )
    return Figure(
        "hardness_0_10",
        float(hardness.index),
        "",
        f"Dry, it is likely to be {hardness.word} (about {hardness.index:.0f} on our scale of 0 to 10).",
        Working(
            packing.EQUATIONS["hardness"],
            tuple(
                Input(name, round(100 * float((grams * which).sum()) / total, 2), "%") for name, which in shares.items()
            ),
        ),
    )


def _notices(size: Piece) -> list[Notice]:
    """A count that cannot be met."""
    notices = []
    if size.asked is not None and size.pieces < size.asked:
        near = -size.leftover_g.value / size.piece_g.value
        extra = " Pressed a little lighter, they may all come out." if near <= 0.03 * size.asked else ""
        notices.append(
            Notice(
                "mind",
                f"The mix fills {size.pieces} of the {size.asked} pieces asked for; {mass_text(-size.leftover_g.value)} are missing.{extra}",
                f"compared: mix {size.total_g:.0f} g with {size.asked} x {size.piece_g.value:.0f} g",
                figure="leftover_g",
            )
        )
    more = int(size.leftover_g.value // size.piece_g.value) if size.asked is not None else 0
    if more >= 1 and size.leftover_g.value > MUCH_LEFT * size.total_g and not size.is_powder:
        notices.append(
            Notice(
                "mind",
                f"When the {size.asked} pieces asked for are made, {mass_text(size.leftover_g.value)} are left: "
                f"enough for {more} more. Raise the count, or make less mix.",
                f"compared: mix {size.total_g:.0f} g with {size.asked} x {size.piece_g.value:.0f} g",
                figure="leftover_g",
            )
        )
    return notices
