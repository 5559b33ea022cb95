"""The form of a recipe document: its keys in order, its words, and how far its numbers may go.

The reader, the schema and tidy all take the form from here, so they cannot disagree.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

KEYS: dict[str, tuple[str, ...]] = {
    "": ("name", "kind", "audience", "sold_in", "measures", "made_on", "makes", "tub", "line"),
    "makes": ("mould", "count"),
    "tub": (
        "litres",
        "temperature_c",
        "water",
        "pieces",
        "powder_g",
        "room_m3",
        "door",
        "fan",
        "fizzed_in_s",
    ),
    "tub.water": (
        "alkalinity_mmol_l",
        "calcium_mmol_l",
        "magnesium_mmol_l",
        "ph",
        "sodium_mmol_l",
        "potassium_mmol_l",
        "chloride_mmol_l",
        "sulfate_mmol_l",
    ),
    "line": ("use", "amount", "lot", "in", "part"),
}
"""The keys of each table in canonical order."""
NEEDED: dict[str, tuple[str, ...]] = {
    "": ("name", "kind", "line"),
    "makes": (),
    "tub": (),
    "tub.water": ("alkalinity_mmol_l",),
    "line": ("use", "amount"),
}
WATERS = ("soft", "moderately_hard", "hard", "very_hard")
"""Classes of tap water by hardness (the USGS classes), resolved by the catalogue's facts."""
PARTS: dict[str, tuple[str, ...]] = {
    "layered": tuple(f"layer_{n}" for n in range(1, 10)),
    "cored": ("shell", "core"),
}
"""The parts a kind of piece may have; "whole" may be written for any."""
MOST_LINES = 200
MOST_NAME = 100
"""Length of a name or lot code, characters."""


@dataclass(frozen=True, slots=True)
class Bounds:
    """How far a number may go, both ends allowed."""

    low: float
    high: float
    unit: str
    whole: bool = False

    @property
    def allowed(self) -> str:
        """The bounds in words."""
        number = "a whole number" if self.whole else "a number"
        return f"{number} from {self.low:g} to {self.high:g} {self.unit}".rstrip()


NUMBERS: dict[str, Bounds] = {
    "makes.count": Bounds(1, 100_000, "pieces", whole=True),
    "tub.litres": Bounds(1, 2000, "litres"),
    "tub.temperature_c": Bounds(5, 60, "°C"),
    "tub.pieces": Bounds(0.1, 100, "pieces a bath"),
    "tub.powder_g": Bounds(0.1, 5000, "g a bath"),
    "tub.room_m3": Bounds(1, 200, "m³ of air"),
    "tub.fizzed_in_s": Bounds(5, 7200, "seconds"),
    "tub.water.ph": Bounds(4, 11, ""),
    "tub.water.alkalinity_mmol_l": Bounds(0, 20, "mmol/l"),
    "tub.water.calcium_mmol_l": Bounds(0, 20, "mmol/l"),
    "tub.water.magnesium_mmol_l": Bounds(0, 20, "mmol/l"),
    "tub.water.sodium_mmol_l": Bounds(0, 50, "mmol/l"),
    "tub.water.potassium_mmol_l": Bounds(0, 20, "mmol/l"),
    "tub.water.chloride_mmol_l": Bounds(0, 50, "mmol/l"),
    "tub.water.sulfate_mmol_l": Bounds(0, 20, "mmol/l"),
}


@dataclass(frozen=True)
class Form:
    """What a kind of document may hold: its keys, how far its numbers may go, and how it is spoken of."""

    what: str
    """recipe or goal."""
    keys: Mapping[str, tuple[str, ...]]
    """The keys of each table in canonical order; "" is the top of the document."""
    needed: Mapping[str, tuple[str, ...]]
    numbers: Mapping[str, Bounds]
    """By table and key: "tub.litres"."""
    examples: Mapping[str, str]
    """How a needed key is written, by key."""
    start: str
    """What an empty document should start with."""


RECIPE = Form(
    what="recipe",
    keys=KEYS,
    needed=NEEDED,
    numbers=NUMBERS,
    examples={
        "name": 'name = "Orchard Rain"',
        "kind": 'kind = "fizzer"',
        "line": "[[line]]",
        "use": 'use = "sodium_bicarbonate"',
        "amount": 'amount = "1 1/2 cup"',
        "alkalinity_mmol_l": "alkalinity_mmol_l = 1.9",
    },
    start="a name, a kind and the first [[line]]",
)
