"""What a batch and a piece cost, and what to ask for it: whole minor units of the workshop's currency."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.workshop import Price, Workshop
from fizzwright.recipe import measures
from fizzwright.recipe.mix import Mix, MixLine
from fizzwright.review.figures import Figure, Input, Notice, Section, Working, interval
from fizzwright.review.setting import Setting
from fizzwright.review.sizes import Piece, handled_name, handled_pieces, piece
from fizzwright.science import costing
from fizzwright.wording import listed, money_text

Array = NDArray[np.float64]

GRAMS = {"g": 1.0, "kg": 1000.0}
MILLILITRES = {"ml": 1.0, "l": 1000.0}


@dataclass(frozen=True, slots=True)
class LineCost:
    """What one line of the mix costs, not rounded; `minor_per_g` is None when that cannot be told."""

    line: MixLine
    price: Price | None
    minor_per_g: float | None
    said: str = ""
    """Why there is no cost, when there is none; else what was assumed."""

    @property
    def minor(self) -> float:
        """Cost of the line; 0 when unknown (the sum then says that it is partial)."""
        return (self.minor_per_g or 0.0) * self.line.grams


def line_cost(line: MixLine, workshop: Workshop) -> LineCost:
    """Price one line by its lot, else by the newest pack."""
    price = workshop.price_of(line.id, line.line.lot)
    if price is None:
        return LineCost(line, None, None, f"no row for {line.id} in prices.csv")
    said = ""
    if price.pack_unit in GRAMS:
        pack_g = price.pack * GRAMS[price.pack_unit]
    elif price.pack_unit in MILLILITRES:
        density = measures.density(line.entry, None)
        pack_g = price.pack * MILLILITRES[price.pack_unit] * density.g_ml
        said = f"; a millilitre taken as {density.g_ml:.3g} g{' (an assumption)' if density.said else ''}"
    else:
        return LineCost(line, price, None, f"{line.id} is priced {price.pack_unit}, not by the g, kg, ml or l")
    return LineCost(line, price, costing.material_minor(1.0, pack_g, price.price_minor), said)


@dataclass(frozen=True)
class Bill:
    """One batch priced three times: likely, and at both ends of what a maker really measures."""

    workshop: Workshop
    size: Piece
    lines: tuple[LineCost, ...]
    likely: costing.BatchCosts
    cheap: costing.BatchCosts
    dear: costing.BatchCosts
    piece_low: float
    """Exact cost a piece at the low end of the draws: materials and the number of pieces stray together."""
    piece_high: float

    @property
    def missing(self) -> list[LineCost]:
        """Lines without a cost: every sum is then a floor."""
        return [c for c in self.lines if c.minor_per_g is None]

    @property
    def least(self) -> str:
        """The words that keep a partial sum from reading like the cost."""
        return "at least " if self.missing else ""

    @property
    def unit(self) -> str:
        """Unit of every figure: whole minor units."""
        return f"{self.workshop.currency} minor"

    def words(self, minor: int) -> str:
        """An amount as text."""
        return money_text(minor, self.workshop.currency)

    def figure(self, name: str, text: str, working: Working, values: tuple[int, int, int]) -> Figure:
        """A figure from its likely, cheap and dear value."""
        value, low, high = values
        certain = low == high and not self.missing
        return Figure(
            name,
            value,
            self.unit,
            text,
            working,
            low,
            high,
            basis="exact" if certain else "estimate",
            range_kind="exact" if certain else "90 % interval",
        )


def section(mix: Mix, catalogue: Catalogue, setting: Setting) -> Section:
    """Figures materials, losses, packaging, labour, overhead, batch, piece, price_for_margin and break_even_pieces.

    Without a workshop, or without prices, the section holds one notice that says how to add them.
    """
    workshop = setting.workshop
    if workshop is None or not workshop.prices:
        return Section("cost", "Cost", notices=(_no_prices(),))
    size = piece(mix, catalogue)
    lines = tuple(line_cost(line, workshop) for line in mix.lines)
    materials = sum(c.minor for c in lines)
    materials_draws, piece_draws = drawn(mix, size, workshop, lines)
    low, high = interval(materials_draws)
    likely = _costs(materials, size, workshop)
    piece_low, piece_high = interval(piece_draws)
    bill = Bill(
        workshop,
        size,
        lines,
        likely,
        _costs(min(low, materials), size, workshop),
        _costs(max(high, materials), size, workshop),
        piece_low,
        piece_high,
    )
    figures = [_materials(bill), *_workshop_parts(bill), _batch(bill), *_piece(bill), *_selling(bill)]
    return Section("cost", "Cost", tuple(figures), tuple(_notices(bill)))


def drawn(mix: Mix, size: Piece, workshop: Workshop, lines: Sequence[LineCost]) -> tuple[Array, Array]:
    """Minor units the materials and a piece cost in each draw of the mix; unpriced lines count for nothing."""
    materials = np.einsum("dl,l->d", mix.draws_g, np.array([c.minor_per_g or 0.0 for c in lines]))
    likely = _costs(sum(c.minor for c in lines), size, workshop)
    rest = likely.packaging_minor + likely.labour_minor + likely.overhead_minor
    loss = workshop.rates.loss_pct if workshop.rates else 0.0
    piece_minor = (materials * (1 + costing.loss_minor(1.0, loss)) + rest) / np.maximum(size.pieces_draws, 1)
    return np.asarray(materials), np.asarray(piece_minor)


def _no_prices() -> Notice:
    return Notice(
        "good",
        "No cost is worked out: this workshop has no prices yet.",
        "Put a prices.csv beside your recipes folder, one row a pack: use, supplier, pack, pack_unit, price_minor "
        "(whole pence or cents), lot, on_hand_g, bought. Hourly rate, wrapping and margin go into workshop.toml.",
    )


def _costs(materials: float, size: Piece, workshop: Workshop) -> costing.BatchCosts:
    rates, handled = workshop.rates, handled_pieces(size)
    packaging = sum(w.price_minor * (handled if w.per == "piece" else 1) for w in workshop.wraps)
    if rates is None:
        return costing.batch_costs(materials, size.pieces, packaging_minor=packaging)
    labour = costing.labour_minor(
        rates.minutes_per_batch, rates.minutes_per_piece, handled, rates.labour_minor_per_hour
    )
    return costing.batch_costs(
        materials,
        size.pieces,
        loss_pct=rates.loss_pct,
        packaging_minor=packaging,
        labour_minor=labour,
        overhead_minor=rates.overhead_minor_per_batch,
    )


def _materials(bill: Bill) -> Figure:
    value = bill.likely.materials_minor
    return bill.figure(
        "materials",
        f"The materials of the batch cost {bill.least}{bill.words(value)}.",
        Working(
            f"each line: {costing.EQUATIONS['material_minor']}", tuple(_line_input(c, bill.unit) for c in bill.lines)
        ),
        (value, bill.cheap.materials_minor, bill.dear.materials_minor),
    )


def _line_input(cost: LineCost, unit: str) -> Input:
    line, price = cost.line, cost.price
    if price is None or cost.minor_per_g is None:
        return Input(line.name, "no cost", "", cost.said)
    pack = f"{price.pack:g} {price.pack_unit} for {price.price_minor}"
    lot = f", lot {price.lot}" if price.lot else ""
    other = " (not the lot the recipe names)" if line.line.lot and line.line.lot != price.lot else ""
    return Input(
        line.name, round(cost.minor, 2), unit, f"{line.grams:.4g} g; {price.supplier}, {pack}{lot}{other}{cost.said}"
    )


def _workshop_parts(bill: Bill) -> list[Figure]:
    workshop, likely, pieces = bill.workshop, bill.likely, handled_pieces(bill.size)
    wraps = tuple(Input(f"{w.name}, per {w.per}", w.price_minor, bill.unit, "workshop.toml") for w in workshop.wraps)
    count = Input(handled_name(bill.size), pieces, "", "the mould section")
    value = likely.packaging_minor
    figures = [
        bill.figure(
            "packaging",
            f"Packaging costs {bill.words(value)} for the batch.",
            Working("packaging = sum of price x pieces, or x 1 for what is used once a batch", (*wraps, count)),
            (value, value, value),
        )
    ]
    rates = workshop.rates
    if rates is None:
        return figures
    value = likely.labour_minor
    minutes = rates.minutes_per_batch + rates.minutes_per_piece * pieces
    hours = (
        Input("minutes a batch", rates.minutes_per_batch, "min", "workshop.toml"),
        Input("minutes a piece", rates.minutes_per_piece, "min", "workshop.toml"),
        Input("rate an hour", rates.labour_minor_per_hour, bill.unit, "workshop.toml"),
    )
    figures.append(
        bill.figure(
            "labour",
            f"Your hands cost {bill.words(value)}: about {minutes:.0f} minutes.",
            Working(costing.EQUATIONS["labour_minor"], (*hours, count)),
            (value, value, value),
        )
    )
    value = likely.loss_minor
    lost = (
        Input("materials", likely.materials_minor, bill.unit),
        Input("loss", rates.loss_pct, "%", "workshop.toml"),
    )
    figures.append(
        bill.figure(
            "losses",
            f"What sticks to bowls and cracks costs {bill.least}{bill.words(value)}.",
            Working(costing.EQUATIONS["loss_minor"], lost),
            (value, bill.cheap.loss_minor, bill.dear.loss_minor),
        )
    )
    value = likely.overhead_minor
    figures.append(
        bill.figure(
            "overhead",
            f"Room, power and stall take {bill.words(value)} of each batch.",
            Working("as written in workshop.toml", (Input("overhead a batch", value, bill.unit, "workshop.toml"),)),
            (value, value, value),
        )
    )
    return figures


def _batch(bill: Bill) -> Figure:
    likely = bill.likely
    parts = {
        "materials": likely.materials_minor,
        "losses": likely.loss_minor,
        "packaging": likely.packaging_minor,
        "labour": likely.labour_minor,
        "overhead": likely.overhead_minor,
    }
    return bill.figure(
        "batch",
        f"The batch costs {bill.least}{bill.words(likely.total_minor)}.",
        Working(costing.EQUATIONS["batch_costs"], tuple(Input(n, v, bill.unit) for n, v in parts.items())),
        (likely.total_minor, bill.cheap.total_minor, bill.dear.total_minor),
    )


def _piece(bill: Bill) -> list[Figure]:
    likely = bill.likely.piece_minor
    if likely is None:
        return []
    cheap = min(likely, costing.whole_minor(bill.piece_low))
    dear = max(likely, costing.whole_minor(bill.piece_high))
    what = "bath of powder" if bill.size.is_powder else "piece"
    inputs = (
        Input("batch", bill.likely.total_minor, bill.unit),
        Input("pieces", bill.size.pieces, "", "the mould section: whole pieces the mix makes"),
    )
    return [
        bill.figure(
            "piece",
            f"Each {what} costs {bill.least}{bill.words(likely)} ({bill.size.pieces} from the batch).",
            Working("piece = batch / pieces", inputs),
            (likely, cheap, dear),
        )
    ]


def _selling(bill: Bill) -> list[Figure]:
    """Price for the wanted margin, and how many pieces a month pay for what comes anyway."""
    rates, pieces, likely = bill.workshop.rates, bill.size.pieces, bill.likely.piece_minor
    if rates is None or likely is None:
        return []
    price, low, high = (
        costing.price_for_margin(minor, rates.margin_pct)
        for minor in (bill.likely.total_minor / pieces, bill.piece_low, bill.piece_high)
    )
    each = Input("cost a piece", round(bill.likely.total_minor / pieces, 2), bill.unit)
    margin = Input("margin", rates.margin_pct, "%", "workshop.toml")
    figures = [
        bill.figure(
            "price_for_margin",
            f"Sold at {bill.least}{bill.words(price)}, a piece keeps {rates.margin_pct:g} % of its price.",
            Working(costing.EQUATIONS["price_for_margin"], (each, margin)),
            (price, min(low, price), max(high, price)),
        )
    ]
    fixed = rates.fixed_minor_per_month
    count = costing.break_even(fixed, price, likely)
    # with a price missing neither side of this sum is known, nor which way it errs
    if not fixed or count is None or bill.missing:
        return figures
    what = "baths of powder" if bill.size.is_powder else "pieces"
    inputs = (
        Input("costs that come anyway, a month", fixed, bill.unit, "workshop.toml"),
        Input("price", price, bill.unit),
        Input("cost a piece", likely, bill.unit),
    )
    figures.append(
        Figure(
            "break_even_pieces",
            count,
            f"{what} a month",
            f"At that price, {count} {what} a month pay for the {bill.words(fixed)} that come anyway.",
            Working(costing.EQUATIONS["break_even"], inputs),
            basis="estimate",
            range_kind="exact",
        )
    )
    return figures


def _notices(bill: Bill) -> list[Notice]:
    notices = []
    if bill.missing:
        names = listed(c.line.name for c in bill.missing)
        notices.append(
            Notice(
                "mind",
                f"The cost is only a part: there is no usable price for {names}.",
                "; ".join(dict.fromkeys(c.said for c in bill.missing)) + ". Every sum here is at least that much.",
                figure="batch",
                line=bill.missing[0].line.id,
            )
        )
    if bill.workshop.rates is None:
        notices.append(
            Notice(
                "mind",
                "Hands, losses and overhead are left out of the cost.",
                "workshop.toml has no [rates]: labour_minor_per_hour, minutes_per_batch, minutes_per_piece, loss_pct, "
                "overhead_minor_per_batch, margin_pct.",
                figure="batch",
            )
        )
    if bill.likely.piece_minor is None:
        notices.append(
            Notice(
                "mind",
                "No cost a piece: the mix does not fill one whole piece.",
                "The mould section says how much is missing.",
                figure="batch",
            )
        )
    for row, wanted in _wanted(bill).items():
        if row.on_hand_g is not None and wanted > row.on_hand_g:
            what = next(c.line for c in bill.lines if c.price == row)
            notices.append(
                Notice(
                    "mind",
                    f"{what.name}: the batch wants {wanted:.4g} g, and {row.on_hand_g:g} g are left"
                    f"{f' of lot {row.lot}' if row.lot else ''}.",
                    "prices.csv, on_hand_g: what was in the bag when it was last weighed.",
                    line=what.id,
                )
            )
    return notices


def _wanted(bill: Bill) -> dict[Price, float]:
    """Grams the batch takes out of each pack."""
    wanted: dict[Price, float] = {}
    for cost in bill.lines:
        if cost.price is not None:
            wanted[cost.price] = wanted.get(cost.price, 0.0) + cost.line.grams
    return wanted
