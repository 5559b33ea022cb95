"""Goals and small catalogues that the tests of composing share."""

from __future__ import annotations

from dataclasses import replace

from fizzwright.catalogue import Catalogue
from fizzwright.design.goal import Goal
from fizzwright.design.reading import read_goal_text

CLASSIC = """
name = "Saturday"
sold_in = ["uk"]
made_on = 2026-11-25
[makes]
mould = "sphere_65"
count = 4
[scent]
families = { citrus = 1 }
"""
FEW = (
    "sodium_bicarbonate", "citric_acid", "tartaric_acid", "corn_starch", "kaolin", "sunflower_oil", "coconut_oil",
    "isopropyl_alcohol_91", "polysorbate_80",
)  # fmt: skip


def goal(catalogue: Catalogue, text: str = CLASSIC, more: str = "") -> Goal:
    """A goal read from a text and what is put after it."""
    return read_goal_text(text + more, catalogue)


def small(catalogue: Catalogue, oils: tuple[str, ...] = ("sweet_orange", "petitgrain")) -> Catalogue:
    """A catalogue of few materials and oils."""
    return replace(
        catalogue,
        materials={use: catalogue.materials[use] for use in FEW},
        oils={use: catalogue.oils[use] for use in oils},
    )
