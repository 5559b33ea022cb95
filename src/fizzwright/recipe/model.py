"""A recipe as read: what the maker wrote, checked for form, not yet weighed."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction
from pathlib import Path

KINDS = ("fizzer", "foaming", "layered", "cored", "powder")
AUDIENCES = ("adult", "child_6_plus", "child_2_plus", "pregnancy")
MARKETS = ("us", "eu", "uk", "ca", "au")
SYSTEMS = ("us", "metric", "uk", "au")
DOORS = ("shut", "ajar")
FANS = ("off", "on")
HABITS = ("spooned", "scooped", "packed", "sieved")


@dataclass(frozen=True, slots=True)
class Amount:
    """An amount as written: a number and a unit, or "to consistency"."""

    text: str
    """Exactly as the maker wrote it."""
    number: Fraction | None
    """None for "to consistency"."""
    unit: str
    """g, kg, oz, lb, ml, l, tsp, tbsp, cup, fl_oz, drop, spray, pinch, %, part or to_consistency."""
    habit: str | None = None
    """How a dry measure was filled, when the maker said: "1 cup packed"."""


@dataclass(frozen=True, slots=True)
class Line:
    """One [[line]] of the document."""

    use: str
    amount: Amount
    part: str = "whole"
    """shell, core, layer_1 ... ; "whole" when the piece has one part."""
    diluted_in: str | None = None
    """The key `in` of the document: the line this oil is diluted in first."""
    lot: str | None = None
    row: int = 0
    """Line number of the [[line]] header in the file, for messages."""


@dataclass(frozen=True, slots=True)
class Makes:
    """The [makes] table: which mould, how many."""

    mould: str | None = None
    """A catalogue mould id, or "mesh:FILE.stl"; None for a powder in a jar."""
    count: int | None = None


@dataclass(frozen=True, slots=True)
class TapWater:
    """The [tub] water as a table of the maker's own report."""

    alkalinity_mmol_l: float
    calcium_mmol_l: float = 0.0
    magnesium_mmol_l: float = 0.0
    ph: float | None = None
    sodium_mmol_l: float | None = None
    """None when the report does not say: it is then set so that charges balance. An addition of ours, like the rest."""
    potassium_mmol_l: float = 0.0
    chloride_mmol_l: float | None = None
    """None when the report does not say: it is then set so that charges balance."""
    sulfate_mmol_l: float = 0.0


@dataclass(frozen=True, slots=True)
class Tub:
    """The [tub] table; what is None comes from the catalogue and is said so."""

    litres: float | None = None
    temperature_c: float | None = None
    water: str | TapWater | None = None
    pieces: float | None = None
    """How many pieces go into one bath (default 1): an addition of ours for minis."""
    powder_g: float | None = None
    """How many grams of a powder go into one bath: an addition of ours for kind = "powder"."""
    room_m3: float | None = None
    """Air in the bathroom: an addition of ours, like the three below it."""
    door: str | None = None
    """shut or ajar."""
    fan: str | None = None
    """off or on."""
    fizzed_in_s: float | None = None
    """A timed test: seconds one piece of this recipe took from dropping it in until it was gone, in such a bath."""


@dataclass(frozen=True, slots=True)
class Recipe:
    """A recipe document, read and checked for form."""

    name: str
    kind: str
    lines: tuple[Line, ...]
    audience: str = "adult"
    sold_in: tuple[str, ...] = ()
    measures: str = "us"
    made_on: date | None = None
    makes: Makes = field(default_factory=Makes)
    tub: Tub = field(default_factory=Tub)
    file: Path | None = None
    """Where it was read; relative "mesh:" paths start from its folder."""
    text: str = ""
    """The document itself."""
