"""Where and how a review is read: the maker's workshop, and the readings they may switch."""

from __future__ import annotations

from dataclasses import dataclass

from fizzwright.catalogue.workshop import Workshop
from fizzwright.review.room import Room

FEW_KITCHENS = 2**11
"""Kitchens drawn when nobody asks for more: enough for one in a hundred, quick enough to be drawn while typing."""


@dataclass(frozen=True)
class Setting:
    """What a review needs beyond the recipe and the catalogue."""

    workshop: Workshop | None = None
    """Prices, rates and lots; None when the maker has given none."""
    leave_on: bool = False
    """Read allergen thresholds as for leave-on products (0.001 %) instead of rinse-off (0.01 %)."""
    speed_mm_s: float | None = None
    """How fast the water eats into a piece, when the maker knows it better than the estimate."""
    room: Room | None = None
    """The making room as read today; None when it is as it usually is."""
    kitchens: int = FEW_KITCHENS
    """How many kitchens to draw, a power of two."""
    habit: str = "as_written"
    """How those kitchens measure: one of review.kitchens.HABITS."""
