"""What a demand on a recipe is, in words a maker knows, and the draft of the programme it is written into."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from fizzwright.design.goal import OPEN, Window
from fizzwright.design.pantry import Pantry
from fizzwright.design.solving import Model, Row
from fizzwright.science.neutralisation import co2_litres
from fizzwright.wording import shown

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Quantity:
    """What a demand bounds: num.x / den.x between low and high, in the maker's own unit."""

    num: Array
    den: Array
    low: float | None
    high: float | None
    unit: str

    def of(self, x: Array) -> float:
        """Its value in a solution."""
        below = float(self.den @ x[: len(self.den)])
        return float(self.num @ x[: len(self.num)]) / below if below > 0 else 0.0

    def rows(self) -> tuple[Row, ...]:
        """The rows that hold it between its ends."""
        found = []
        if self.high is not None:
            found.append(Row.dense(self.num - self.high * self.den, high=0.0))
        if self.low is not None:
            found.append(Row.dense(self.num - self.low * self.den, low=0.0))
        return tuple(found)


@dataclass(frozen=True)
class Demand:
    """One demand: its rows hold or it does not."""

    key: str
    words: str
    kind: str
    """wish (the maker's), house (common practice where the maker says nothing) or law (rules and cautions)."""
    rows: tuple[Row, ...]
    quantities: tuple[Quantity, ...] = ()
    """What it bounds; of several the smallest counts, as the gas is what the scarcer of acid and carbonate can free."""

    @property
    def window(self) -> Window:
        """Its ends in its own unit; open where it bounds no number."""
        return Window(self.quantities[0].low, self.quantities[0].high) if self.quantities else OPEN

    def value(self, x: Array) -> float:
        """What it comes to in a solution, in its own unit."""
        return min(quantity.of(x) for quantity in self.quantities)

    def eased(self, window: Window) -> Demand:
        """The same with other ends. Above, the first of several quantities is held, which is enough."""
        first, *rest = (replace(q, low=window.low, high=window.high) for q in self.quantities)
        rows = [*first.rows(), *(row for other in rest for row in replace(other, high=None).rows())]
        return replace(self, rows=tuple(rows), quantities=(first, *rest))


@dataclass(frozen=True)
class Lens:
    """What the programme takes from the true model round one composition, drawn afresh each time."""

    batch_g: float
    residue: Window = OPEN
    """Base equivalents left over, mol a piece, that keep the settled pH inside its window."""
    binder_pct: Mapping[str, float] = field(default_factory=dict)
    """Percent of the mix that each binder wants; the middle of its usual use where it is not known."""
    margin: float = 0.0
    """Share by which limits are kept clear of, for kitchens that measure otherwise than written."""


@dataclass
class Draft:
    """The programme on its way: columns 0..n-1 are grams, n..2n-1 whether a line is used, the rest help."""

    pantry: Pantry
    lens: Lens
    model: Model = field(default_factory=Model)
    fixed: list[Row] = field(default_factory=list)
    """Rows that are no demand: what a recipe is at all."""

    @property
    def n(self) -> int:
        """How many candidates there are."""
        return len(self.pantry.uses)

    def grams(self, weights: Array) -> Array:
        """Weights on the grams as a vector over all columns."""
        return np.concatenate([weights, np.zeros(len(self.model.cost) - len(weights))])

    def wide(self, vector: Array) -> Array:
        """A vector padded to the columns there are now."""
        return np.concatenate([vector, np.zeros(len(self.model.cost) - len(vector))])

    def used(self, uses: Sequence[str]) -> list[int]:
        """The columns that tell whether these are used."""
        return [self.n + i for i, use in enumerate(self.pantry.uses) if use in uses]

    def either(self, ways: Sequence[Array]) -> tuple[Row, ...]:
        """Rows of which one way at least must hold: way . x <= 0."""
        if len(ways) == 1:
            return (Row.dense(ways[0], high=0.0),)
        rows = []
        picks = [self.model.column(0, 1, whole=True) for _ in ways]
        high = np.array(self.model.high)
        for pick, way in zip(picks, ways, strict=True):
            weights = self.wide(way)
            at_most = float(np.sum(np.maximum(weights, 0.0) * np.where(weights > 0, high, 0.0)))
            weights[pick] = at_most
            rows.append(Row.dense(weights, high=at_most))
        self.fixed.append(Row.of(dict.fromkeys(picks, 1.0), low=1.0))
        return tuple(rows)


def window_words(window: Window, unit: str = "", digits: int = 3) -> str:
    """A window in words: "between 6.8 and 7.6"."""
    low, high = window.low, window.high
    if low is not None and high is not None:
        return f"between {shown(low, digits)} and {shown(high, digits)}{unit}"
    if high is not None:
        return f"at most {shown(high, digits)}{unit}"
    return f"at least {shown(low or 0.0, digits)}{unit}"


def gas_sides(pantry: Pantry) -> tuple[Array, Array]:
    """Litres of gas a gram of each can free, by the acid there is and by the carbonate there is; the smaller sum counts."""
    litres = float(co2_litres(1.0, pantry.tub.temperature_c))
    return litres * (pantry.acid_eq - (pantry.base_eq - pantry.carbonate)), litres * pantry.carbonate
