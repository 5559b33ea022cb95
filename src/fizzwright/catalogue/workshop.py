"""A maker's own workshop folder: their additions to the catalogue, their prices, their rates.

- workshop.toml: name, currency, rates, packaging, tools (scales, spoons), room
- prices.csv: what packs cost, list prices and lots (use, supplier, pack, pack_unit, price_minor; where known also lot,
  on_hand_g, bought)
- materials.csv, dyes.csv, oils.csv, oil_constituents.csv, moulds.csv, sources.csv: additions, with the same columns as the
  catalogue's tables; columns may be left out
- recipes/*.toml: the recipe documents
- lots/*.csv: analyses of lots (lot, oil_id, constituent, pct; where known more, see lots.py)
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

from fizzwright.catalogue.model import LotAnalysis


@dataclass(frozen=True, slots=True)
class Price:
    """What one pack of one thing costs: a list price, or the price of a lot when `lot` is given."""

    use: str
    supplier: str
    pack: float
    pack_unit: str
    """g, kg, ml, l or each."""
    price_minor: int
    """Whole minor units of the workshop's currency (pence, cents)."""
    lot: str = ""
    on_hand_g: float | None = None
    """What is left in the bag, when the maker weighed it."""
    bought: date | None = None


@dataclass(frozen=True, slots=True)
class Wrap:
    """One packaging item used once for every piece (or, for a powder, every jar)."""

    name: str
    price_minor: float
    """Minor units a piece; may be a fraction when bought by the hundred."""
    per: str = "piece"
    """piece or batch."""


@dataclass(frozen=True, slots=True)
class Rates:
    """What an hour and a room cost, and what is lost on the way."""

    labour_minor_per_hour: int
    minutes_per_batch: float
    """Weighing, mixing, cleaning: the same for two pieces or twenty."""
    minutes_per_piece: float
    """Pressing, turning out, wrapping."""
    loss_pct: float
    """Mix that sticks to bowls and pieces that crack, percent of materials."""
    overhead_minor_per_batch: int
    """Room, power, insurance, market stall shared out over batches."""
    margin_pct: float
    """Wanted margin, percent of the selling price."""
    fixed_minor_per_month: int = 0
    """Costs that come whether anything is made or not, for the break-even count."""


@dataclass(frozen=True, slots=True)
class Workroom:
    """The room the maker works in, the table [room] of workshop.toml; what is not said there is as in a kitchen."""

    volume_m3: float = 30.0
    """estimate: a kitchen of 12 square metres under a ceiling of 2.5 m."""
    air_changes_shut: float = 0.5
    """Air changes an hour with window and door shut; estimate, a home of middling tightness."""
    air_changes_open: float = 4.0
    """Air changes an hour with the window a hand's width open; estimate."""
    usual_c: float | None = None
    usual_humidity_pct: float | None = None
    altitude_m: float = 0.0
    time_zone: str = ""
    """IANA name such as Europe/London: the clock of weather logs that do not say theirs."""
    cupboard_m3: float | None = None
    """A cupboard with a fan the pieces dry in, when there is one."""
    dehumidifier_l_per_day: float | None = None
    """What the dehumidifier takes by its plate, at the air the plate names."""
    dehumidifier_at_c: float = 27.0
    dehumidifier_at_humidity_pct: float = 60.0

    @property
    def pressure_pa(self) -> float:
        """Air pressure at that height in the standard atmosphere (ICAO), Pa."""
        return float(101_325.0 * (1.0 - 2.25577e-5 * self.altitude_m) ** 5.2559)


@dataclass(frozen=True)
class Workshop:
    """A workshop folder, read."""

    name: str
    folder: Path
    currency: str
    """ISO 4217 code: GBP, USD, EUR."""
    currency_digits: int
    """Minor units in a major one as a power of ten: 2 for GBP."""
    rates: Rates | None = None
    prices: tuple[Price, ...] = ()
    wraps: tuple[Wrap, ...] = ()
    lot_analyses: Mapping[str, LotAnalysis] = field(default_factory=dict)
    scale_step_g: float = 1.0
    small_scale_step_g: float | None = None
    spoons: tuple[str, ...] = ()
    """The cups and spoons of the drawer ("1 cup", "1/4 tsp", "15 ml"); empty when not said."""
    room: Workroom | None = None

    def price_of(self, use: str, lot: str | None = None) -> Price | None:
        """The lot's own price when the lot is known, else the newest list price, else None."""
        rows = [p for p in self.prices if p.use == use]
        for row in rows:
            if lot and row.lot == lot:
                return row
        return max(rows, key=lambda p: p.bought or date.min, default=None)
