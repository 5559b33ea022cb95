"""The mix: what it weighs, as made and as cured, and what it is made of."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fizzwright.catalogue import Catalogue
from fizzwright.recipe.mix import Mix
from fizzwright.review.figures import Figure, Input, Notice, Section, Working, from_draws, sources_of
from fizzwright.review.setting import Setting

Array = NDArray[np.float64]

WINDOWS = (
    ("comp_acid", ("acid",), "acid", "it fizzes weakly", "dust and sting grow; check the fizz section"),
    ("comp_oil", ("carrier_oil", "solid_fat"), "fixed oils and butters", "", "pieces turn greasy and crumble slowly"),
    ("comp_surf", ("surfactant",), "foaming powder", "", "it dries skin and can irritate"),
    ("comp_colour", ("colourant",), "colour", "", "it can stain the tub and the skin"),
)
"""Fact id, functions summed, name, what a low and a high share bring (empty: not worth a word)."""


def share_pct(grams: Array, which: NDArray[np.bool_]) -> Array:
    """Percent of the whole mix by mass; grams (..., lines), which (lines)."""
    return np.asarray(100.0 * (grams * which).sum(axis=-1) / grams.sum(axis=-1))


def section(mix: Mix, catalogue: Catalogue, setting: Setting) -> Section:
    """Figures total_g, cured_g, share_pct.<material>, oil_total_pct, and notices on unusual shares."""
    inputs = tuple(Input(m.name, round(m.grams, 2), "g", "; ".join(m.sources), m.basis) for m in mix.lines)
    all_sources = sources_of(*(m.sources for m in mix.lines))
    total, low, high = from_draws(lambda g: g.sum(axis=-1), mix.grams, mix.draws_g)
    figures = [
        Figure(
            "total_g",
            total,
            "g",
            f"The whole mix weighs about {total:.0f} g; measured by hand, between {low:.0f} and {high:.0f} g.",
            Working("total = sum of the lines", inputs),
            low,
            high,
            all_sources,
        ),
        _cured(mix),
        *_shares(mix),
        *_oils(mix),
    ]
    return Section("mix", "The mix", tuple(figures), tuple(_notices(mix, catalogue)))


def _cured(mix: Mix) -> Figure:
    """What is left when alcohol and free water have gone."""
    keep = mix.cured_fraction
    value, low, high = from_draws(lambda g: (g * keep).sum(axis=-1), mix.grams, mix.draws_g)
    leaving = [(m, 1.0 - k) for m, k in zip(mix.lines, keep, strict=True) if k < 1.0]
    lost = float(mix.grams.sum()) - value
    inputs = tuple(
        Input(f"{m.name}: share that leaves", round(100 * gone, 1), "%", "; ".join(_volatile_sources(m)), "")
        for m, gone in leaving
    )
    text = (
        f"When the alcohol and water have gone it weighs about {value:.0f} g ({lost:.0f} g leave)."
        if leaving
        else f"Nothing in it evaporates on drying: it stays {value:.0f} g."
    )
    return Figure(
        "cured_g",
        value,
        "g",
        text,
        Working("cured = sum of line x (1 - share that leaves)", inputs),
        low,
        high,
        sources_of(*(m.sources for m in mix.lines)),
    )


def _volatile_sources(mix_line: object) -> tuple[str, ...]:
    """Citations of the water and alcohol content of a binder."""
    material = getattr(mix_line, "material", None)
    return () if material is None else material.sources_of("water_mass_pct")


def _shares(mix: Mix) -> list[Figure]:
    """One share a material, lines of the same material summed."""
    figures = []
    total = float(mix.grams.sum())
    for use in dict.fromkeys(m.id for m in mix.lines):
        which = np.array([m.id == use for m in mix.lines])
        first = next(m for m in mix.lines if m.id == use)
        value, low, high = from_draws(share_pct, mix.grams, mix.draws_g, which)
        figures.append(
            Figure(
                f"share_pct.{use}",
                value,
                "%",
                f"{first.name} is {value:.3g} % of the mix.",
                Working(
                    "share = 100 x grams of the material / grams of the mix",
                    (
                        Input(first.name, round(float((mix.grams * which).sum()), 3), "g", "; ".join(first.sources)),
                        Input("mix", round(total, 2), "g"),
                    ),
                ),
                low,
                high,
                first.sources,
            )
        )
    return figures


def _oils(mix: Mix) -> list[Figure]:
    """The whole oily share, and the essential oils in it."""
    scent = mix.oil_mask
    oily = scent | mix.mask("carrier_oil", "solid_fat")
    figures = []
    for figure_id, which, sentence in (
        ("oil_total_pct", oily, "Oils of every kind (fixed oils, butters and essential oils) are {:.2g} % of the mix."),
        ("essential_oil_pct", scent, "Essential oils are {:.2g} % of the mix as made."),
    ):
        value, low, high = from_draws(share_pct, mix.grams, mix.draws_g, which)
        inputs = [
            Input(m.name, round(m.grams, 3), "g", "; ".join(m.sources))
            for m, w in zip(mix.lines, which, strict=True)
            if w
        ]
        figures.append(
            Figure(
                figure_id,
                value,
                "%",
                sentence.format(value),
                Working("share = 100 x grams of the oils / grams of the mix", tuple(inputs)),
                low,
                high,
                sources_of(*(m.sources for m, w in zip(mix.lines, which, strict=True) if w)),
            )
        )
    return figures


def _notices(mix: Mix, catalogue: Catalogue) -> list[Notice]:
    """What stands outside the usual composition, and what is missing."""
    notices = []
    for fact_id, functions, name, if_low, if_high in WINDOWS:
        fact = catalogue.fact(fact_id)
        share = float(share_pct(mix.grams, mix.mask(*functions)))
        if fact.max is not None and share > fact.max and if_high:
            notices.append(
                Notice(
                    "mind",
                    f"{share:.2g} % {name} is more than most recipes hold ({fact.min:g}-{fact.max:g} %): {if_high}.",
                    f"compared with: {fact.name}, {fact.min:g} to {fact.max:g} % of the mix (common practice)",
                    fact.sources_of("max"),
                )
            )
        if fact.min is not None and 0 < share < fact.min and if_low:
            notices.append(
                Notice(
                    "mind",
                    f"{share:.2g} % {name} is less than most recipes hold ({fact.min:g}-{fact.max:g} %): {if_low}.",
                    f"compared with: {fact.name}, {fact.min:g} to {fact.max:g} % of the mix (common practice)",
                    fact.sources_of("min"),
                )
            )
    wetting = float(share_pct(mix.grams, mix.is_liquid & ~mix.oil_mask))
    enough = catalogue.fact("binder_water").min or 0.0
    if mix.recipe.kind != "powder" and wetting < enough:
        notices.append(
            Notice(
                "mind",
                f"{'Nothing' if wetting == 0 else 'Hardly anything'} in the recipe wets the powder, so a pressed piece will not hold. "
                "Add a little oil, and alcohol in a fine spray until a squeezed handful keeps its shape.",
                f"compared: oils, butters, binders and other liquids (scent apart) are {wetting:.2g} % of the mix; "
                f"even a watery binder alone takes {enough:g} % (common practice)",
                catalogue.fact("binder_water").sources_of("min"),
            )
        )
    return notices
