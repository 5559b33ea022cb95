"""In the tub: how the piece comes apart, what the water becomes, and what colour it takes."""

from __future__ import annotations

from fizzwright.catalogue import Catalogue
from fizzwright.recipe.mix import Mix
from fizzwright.review import dissolving, tint, water
from fizzwright.review.figures import Section, Swatch
from fizzwright.review.setting import Setting
from fizzwright.review.sizes import piece


def section(mix: Mix, catalogue: Catalogue, setting: Setting) -> Section:
    """Figures, notices, curves and pictures of one bath."""
    size = piece(mix, catalogue)
    release = dissolving.release(mix, catalogue, setting, size)
    colours = tint.dry_colours(mix, catalogue)
    figures, notices, curves, cutaway = dissolving.figures(mix, catalogue, setting, size, release, colours)
    more, said, drawn = water.figures(mix, catalogue, setting, size, release)
    tinted, warned, _, seen = tint.figures(mix, catalogue, setting, size, release)
    return Section(
        "tub",
        "In the tub",
        (*figures, *more, *tinted),
        (*notices, *said, *warned),
        curves=(*curves, *drawn),
        swatches=tuple(_changes([Swatch(*moment) for moment in seen])),
        cutaway=cutaway,
    )


def _changes(moments: list[Swatch]) -> list[Swatch]:
    """The moments at which the water begins to look different in words; none when it never changes."""
    if len({moment.words for moment in moments}) < 2:
        return []
    return [
        now for before, now in zip([None, *moments], moments, strict=False) if not before or before.words != now.words
    ]
