"""Mixes given straight in grams, so that what is checked about skin does not hang on how cups were weighed."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from fractions import Fraction
from typing import Any

import numpy as np

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.model import LotAnalysis, OilConstituent
from fizzwright.recipe.mix import Mix, MixLine
from fizzwright.recipe.model import Amount, Line, Makes, Recipe, Tub
from fizzwright.review import skin
from fizzwright.review.figures import Notice, Section
from fizzwright.review.setting import Setting
from fizzwright.science import packing

DAY = date(2026, 11, 25)
Given = tuple[str, float] | tuple[str, float, dict[str, str]]


def mixed(
    catalogue: Catalogue,
    lines: list[Given],
    *,
    audience: str = "adult",
    sold_in: tuple[str, ...] = (),
    as_of: date = DAY,
    mould: str | None = "sphere_65",
    lots: Mapping[str, tuple[OilConstituent, ...]] | None = None,
    tub: Tub | None = None,
    spread: float = 0.03,
) -> Mix:
    """A mix of these lines: (use, grams) or (use, grams, {part, diluted_in, lot})."""
    resolved = []
    for use, grams, *more in lines:
        extra: dict[str, Any] = dict(more[0]) if more else {}
        line = Line(use, Amount(f"{grams} g", Fraction(str(grams)), "g"), **extra)
        entry = catalogue.usable(use)
        assert entry is not None, use
        resolved.append(
            MixLine(
                line, entry, grams, grams * 0.95, grams * 1.05, None, None, f"{grams} g", 3.0, "weighed", (), "exact"
            )
        )
    masses = np.array([line.grams for line in resolved])
    noise = np.random.default_rng(1).normal(0.0, spread, (512, len(resolved)))
    shape = catalogue.moulds[mould] if mould else None
    recipe = Recipe(
        "A test",
        "fizzer" if mould else "powder",
        tuple(line.line for line in resolved),
        audience,
        sold_in,
        "us",
        as_of,
        Makes(mould, None),
        tub or Tub(),
    )
    volume = float(packing.volume_ml(shape.shape, **shape.dims_mm)) if shape else None
    use_of = {line.line.lot: line.id for line in resolved}
    held = {lot: LotAnalysis(lot, use_of[lot], shares) for lot, shares in (lots or {}).items()}
    return Mix(recipe, as_of, tuple(resolved), masses, masses * np.exp(noise), shape, volume, (), held)


def on_skin(catalogue: Catalogue, mix: Mix, leave_on: bool = False) -> Section:
    """The skin section of a mix."""
    return skin.section(mix, catalogue, Setting(None, leave_on))


def said(section: Section, level: str) -> list[Notice]:
    """The notices of one level."""
    return [notice for notice in section.notices if notice.level == level]
