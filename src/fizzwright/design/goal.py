"""A goal as read: what a maker wishes of a recipe that is not written yet."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

from fizzwright.recipe.model import Makes, Tub

SEEKS = ("nearest", "cheapest", "most_fizz", "most_scent")
"""What is wanted most once every demand is met: nearest to the wish and to common practice, or the end of one scale."""
MEASURED_IN = ("grams", "spoons")
RANGES = ("worst", "typical")
COLOURLESS = "none"


@dataclass(frozen=True, slots=True)
class Window:
    """From low to high, both allowed; None where that side is open."""

    low: float | None = None
    high: float | None = None

    @property
    def is_open(self) -> bool:
        """True when it asks for nothing."""
        return self.low is None and self.high is None

    def eased(self, amount: float, side: str = "") -> Window:
        """Wider by so much at "low" or "high"; at both ends when the side is not said."""
        low = self.low if self.low is None or side == "high" else max(0.0, self.low - abs(amount))
        return Window(low, self.high if self.high is None or side == "low" else self.high + abs(amount))


OPEN = Window()


@dataclass(frozen=True)
class ScentWish:
    """The [scent] table: families with weights or named oils with shares, and how much in all."""

    families: Mapping[str, float] = field(default_factory=dict)
    """Odour family of the catalogue -> weight; weights are shares of their sum."""
    oils: Mapping[str, float] = field(default_factory=dict)
    """Oil id -> share by mass of all essential oil; shares of their sum."""
    total_pct: Window = OPEN
    """All essential oil, percent of the cured piece."""
    most_oils: int | None = None
    """At most so many different oils."""

    @property
    def is_asked(self) -> bool:
        """True when a scent is wished for; a goal without one gets none."""
        return bool(self.families or self.oils or self.total_pct.low)


@dataclass(frozen=True)
class Goal:
    """A goal document, read and checked for form. Percent are of the cured piece."""

    name: str
    kind: str = "fizzer"
    audience: str = "adult"
    sold_in: tuple[str, ...] = ()
    measures: str = "us"
    made_on: date | None = None
    makes: Makes = field(default_factory=Makes)
    tub: Tub = field(default_factory=Tub)
    acid_to_base_eq: Window = OPEN
    gas_l: Window = OPEN
    """Carbon dioxide one piece can free, litres moist at the warmth of the tub (figure co2_potential_l, a piece)."""
    ph_settled: Window = OPEN
    filler_pct: Window = OPEN
    oil_pct: Window = OPEN
    """Fixed oils and fats (carrier_oil, solid_fat)."""
    clay_pct: Window = OPEN
    foam_pct: Window = OPEN
    """Surfactants."""
    hardness_at_least: str | None = None
    """A hardness word of packing's classes."""
    colour: str | None = None
    """A colour of the catalogue by id, "none", or None when it does not matter (none is then taken)."""
    scent: ScentWish = field(default_factory=ScentWish)
    with_materials: tuple[str, ...] = ()
    """Ids that must be in."""
    avoid_materials: tuple[str, ...] = ()
    avoid_allergens: tuple[str, ...] = ()
    """Label names of fragrance allergens that must stay below what has to be declared."""
    avoid_groups: tuple[str, ...] = ()
    """nuts, animal, sulfate, alcohol, ... : the groups `swap --without` knows."""
    stock_only: bool = False
    """Only what is on hand, and no more of it than there is."""
    stock_g: Mapping[str, float] = field(default_factory=dict)
    """Grams on hand by id, as said in the goal; beside the workshop's own."""
    cost_most_minor: int | None = None
    """Materials of one piece cost at most this, whole minor units of cost_currency."""
    cost_currency: str = ""
    """ISO 4217 code the ceiling was written in; the reader refuses another than the workshop's when it knows it."""
    measured_in: str = "grams"
    spoons: tuple[str, ...] = ()
    """The measures in the drawer ("1 cup", "1/2 tsp"); empty for a full set of the goal's system."""
    chance: float | None = None
    """Stay inside every limit in at least this share of kitchens (0.99)."""
    limits_by: str = "worst"
    """Composition the limits are kept by: the species' worst case, or the typical one."""
    limit_share: float = 1.0
    """How much of each limit may be used: 0.5 stays below half of every one."""
    seek: str = "nearest"
    file: Path | None = None
    text: str = ""
    rows: Mapping[str, int] = field(default_factory=dict)
    """Row in the file of each key, "scent.families" -> 14, for messages."""
