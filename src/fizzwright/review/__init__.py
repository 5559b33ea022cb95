"""The main job: one module a section of the report; each takes a Mix and returns Figures and Notices."""

from __future__ import annotations

from datetime import date

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.workshop import Workshop
from fizzwright.recipe.mix import Mix
from fizzwright.recipe.model import Recipe
from fizzwright.recipe.weigh import weigh
from fizzwright.review import air, cost, fizz, kitchen, making_day, mix, mould, skin, tub, workshop
from fizzwright.review.figures import Figure, Notice, Review, Section
from fizzwright.review.room import Room
from fizzwright.review.setting import FEW_KITCHENS, Setting

__all__ = ["Figure", "Notice", "Review", "Section", "Setting", "review", "review_mix"]

SECTIONS = (
    mix.section,
    mould.section,
    fizz.section,
    tub.section,
    air.section,
    skin.section,
    workshop.section,
    making_day.section,
    cost.section,
    kitchen.section,
)


def review(
    recipe: Recipe,
    catalogue: Catalogue,
    workshop: Workshop | None = None,
    *,
    leave_on: bool = False,
    as_of: date | None = None,
    speed_mm_s: float | None = None,
    room: Room | None = None,
    kitchens: int = FEW_KITCHENS,
    habit: str = "as_written",
) -> Review:
    """Review a recipe: weigh it, then every section. MeshRefused when the mould's mesh cannot be used.

    speed_mm_s: how fast water eats into a piece, when the maker knows better than the estimate.
    room: the making room as read today; as it usually is when not given.
    kitchens: how many kitchens to draw, a power of two; habit: how they measure (review.kitchens.HABITS). ValueError for
    others.
    """
    analyses = workshop.lot_analyses if workshop is not None else None
    return review_mix(
        weigh(recipe, catalogue, as_of=as_of, lot_analyses=analyses),
        catalogue,
        workshop,
        leave_on=leave_on,
        speed_mm_s=speed_mm_s,
        room=room,
        kitchens=kitchens,
        habit=habit,
    )


def review_mix(
    weighed: Mix,
    catalogue: Catalogue,
    workshop: Workshop | None = None,
    *,
    leave_on: bool = False,
    speed_mm_s: float | None = None,
    room: Room | None = None,
    kitchens: int = FEW_KITCHENS,
    habit: str = "as_written",
) -> Review:
    """Review a mix already weighed."""
    setting = Setting(workshop, leave_on, speed_mm_s, room, kitchens, habit)
    total, keep = weighed.grams.sum(), weighed.cured_fraction
    composition = tuple(
        {
            "use": line.id,
            "name": line.name,
            "part": line.part,
            "function": line.material.function if line.material else "scent",
            "written": line.line.amount.text,
            "grams": float(grams),
            "grams_low": line.grams_low,
            "grams_high": line.grams_high,
            "cured_g": float(grams * kept),
            "share_pct": float(100 * grams / total),
            "equation": line.equation,
            "basis": line.basis,
        }
        for line, grams, kept in zip(weighed.lines, weighed.grams, keep, strict=True)
    )
    return Review(
        name=weighed.recipe.name,
        as_of=weighed.as_of,
        catalogue_version=catalogue.version,
        sections=tuple(section(weighed, catalogue, setting) for section in SECTIONS),
        composition=composition,
        assumptions=weighed.assumptions,
    )
