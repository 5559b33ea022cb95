"""Money: pure arithmetic on minor units (pence, cents), rounded half up to whole ones once, at the end."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

EQUATIONS: dict[str, str] = {
    "material_minor": "cost = mass used / mass of the pack x price of the pack",
    "labour_minor": "cost = (minutes a batch + minutes a piece x pieces) / 60 x rate an hour",
    "loss_minor": "cost of losses = materials x loss / (100 - loss): what must be bought beyond what ends up in pieces",
    "batch_costs": "batch = materials + losses + packaging + labour + overhead",
    "price_for_margin": "price = cost / (1 - margin / 100), margin being a share of the selling price",
    "break_even": "pieces = costs that come anyway / (price - cost a piece), rounded up",
}


def _amount(name: str, value: float, most: float = math.inf) -> float:
    """The value when it is finite, not negative and below `most`; ValueError otherwise."""
    if not math.isfinite(value) or value < 0 or value >= most:
        ceiling = "" if most == math.inf else f" and below {most:g}"
        raise ValueError(f"{name} must be a number, zero or more{ceiling}; read {value!r}")
    return value


def whole_minor(minor: float) -> int:
    """Round half up to whole minor units, first dropping the dust of binary fractions (below a millionth)."""
    return math.floor(round(minor, 6) + 0.5)


def whole_parts(parts: Sequence[float]) -> list[int]:
    """Round the parts of a bill so that they add up to the rounded sum (largest remainders get the odd units)."""
    floors = [math.floor(round(p, 6)) for p in parts]
    odd = whole_minor(sum(parts)) - sum(floors)
    by_remainder = sorted(range(len(parts)), key=lambda i: floors[i] - parts[i])
    for i in by_remainder[:odd]:
        floors[i] += 1
    return floors


def material_minor(used_g: float, pack_g: float, price_minor: float) -> float:
    """What the mass used costs, not rounded; masses in the same unit (or both in millilitres, or both in pieces)."""
    _amount("mass used", used_g)
    _amount("price", price_minor)
    if not pack_g > 0:
        raise ValueError(f"the pack must hold more than nothing; read {pack_g!r}")
    return used_g / pack_g * price_minor


def labour_minor(minutes_per_batch: float, minutes_per_piece: float, pieces: float, minor_per_hour: float) -> float:
    """What the hands cost, not rounded."""
    minutes = _amount("minutes a batch", minutes_per_batch) + _amount("minutes a piece", minutes_per_piece) * pieces
    return minutes / 60.0 * _amount("rate an hour", minor_per_hour)


def loss_minor(materials_minor: float, loss_pct: float) -> float:
    """What the mix that never becomes a piece costs, not rounded; loss_pct is percent of all mix made, below 100."""
    return _amount("materials", materials_minor) * _amount("loss_pct", loss_pct, 100.0) / (100.0 - loss_pct)


@dataclass(frozen=True, slots=True)
class BatchCosts:
    """The bill of one batch in whole minor units; its five parts add up to the total."""

    materials_minor: int
    loss_minor: int
    packaging_minor: int
    labour_minor: int
    overhead_minor: int
    total_minor: int
    piece_minor: int | None
    """Total over pieces, rounded half up; None when no whole piece comes out."""


def batch_costs(
    materials_minor: float,
    pieces: int,
    *,
    loss_pct: float = 0.0,
    packaging_minor: float = 0.0,
    labour_minor: float = 0.0,
    overhead_minor: float = 0.0,
) -> BatchCosts:
    """Add up one batch from exact parts, rounding only here."""
    parts = [
        _amount("materials", materials_minor),
        loss_minor(materials_minor, loss_pct),
        _amount("packaging", packaging_minor),
        _amount("labour", labour_minor),
        _amount("overhead", overhead_minor),
    ]
    exact = sum(parts)
    materials, loss, packaging, labour, overhead = whole_parts(parts)
    piece = whole_minor(exact / pieces) if pieces > 0 else None
    return BatchCosts(materials, loss, packaging, labour, overhead, whole_minor(exact), piece)


def price_for_margin(cost_minor: float, margin_pct: float) -> int:
    """Selling price in whole minor units that keeps margin_pct of itself; margin below 100."""
    return whole_minor(_amount("cost", cost_minor) / (1.0 - _amount("margin_pct", margin_pct, 100.0) / 100.0))


def break_even(fixed_minor: float, price_minor: float, piece_minor: float) -> int | None:
    """How many pieces pay for the costs that come anyway; None when a piece sells for no more than it costs."""
    gain = _amount("price", price_minor) - _amount("cost a piece", piece_minor)
    if gain <= 0:
        return None
    # float dust must not ask for one piece more than the sum needs
    return math.ceil(round(_amount("fixed costs", fixed_minor) / gain, 9))
