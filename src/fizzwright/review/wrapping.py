"""Wrapping: how many months a piece keeps its fizz in film, jar or paper, in three climates, and the silica gel it wants."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.model import Fact
from fizzwright.recipe.mix import Mix
from fizzwright.review.chemistry import fizz_of
from fizzwright.review.damp import danger_humidity_pct
from fizzwright.review.figures import Figure, Input, Section, Table, Working, sources_of
from fizzwright.review.room import Room
from fizzwright.review.setting import Setting
from fizzwright.review.sizes import UNKNOWN_BULK_DENSITY_G_ML, Piece, Range, loose_density
from fizzwright.review.tap import Span, log_spread, spread
from fizzwright.science import barrier, packing
from fizzwright.science.barrier import EQUATIONS, MONTH_DAYS
from fizzwright.science.sampling import standard_normals
from fizzwright.wording import sentence, shown

Array = NDArray[np.float64]

LOST_SHARE = 0.1
"""A tenth of the fizz gone: a bather begins to see it (estimate)."""
WISHED_MONTHS = 6.0
MOST_MONTHS = 60.0
"""Five years: nothing here is told beyond, as oils turn rancid and scent fades long before."""
DRAWS = 64
OVERLAP: Span = (1.1, 1.3, 1.7)
"""estimate: film against the piece's own surface: seams, corners, air."""
BOUND_PCT: Span = (0.2, 0.5, 1.0)
"""estimate: water, percent of the cured piece, that starch, clay and salts take up without any fizz lost; good effervescent
tablets hold below half a percent (memory)."""
WATER_COST: Span = (0.5, 1.0, 2.0)
"""estimate: factor on barrier.co2_per_water, which counts the water that citric acid makes anew."""
DRY_SHARE = 0.75
"""estimate: humidity over a fresh, well-dried piece as a share of the one it turns dangerous at, middle of the way there."""
LIKELIEST_DRH_PCT = 95.0
CLIMATES: tuple[tuple[str, str, float, float], ...] = (
    ("cool store", "a cool store", 20.0, 60.0),
    ("bathroom", "a bathroom", 25.0, 80.0),
    ("damp summer", "a damp summer", 28.0, 80.0),
)
"""Name, name in a sentence, C and % humidity; estimate."""
TOLD = 1
"""The climate the figures speak of: where bathers keep them."""
GEL_PCT = 40.0
"""Humidity that silica gel is to hold in the pack: fact silica_gel is told for it."""
WRAPS: dict[str, tuple[str, str]] = {
    "paper": ("wvtr_paper", "plain paper"),
    "cellophane_plain": ("wvtr_cellophane_plain", "plain cellophane"),
    "pvc_cling": ("wvtr_pvc_soft", "cling film"),
    "shrink_film": ("wvtr_pof", "polyolefin shrink film"),
    "ldpe_bag": ("wvtr_ldpe", "polyethylene bag (25 µm)"),
    "cellophane_coated": ("wvtr_cellophane_coated", "coated cellophane"),
    "opp_bag": ("wvtr_opp", "clear polypropylene bag (25 µm)"),
    "metallised_pouch": ("wvtr_metpet", "metallised polyester pouch"),
    "foil_pouch": ("wvtr_foil", "foil pouch"),
    "jar": ("wvtr_glass", "glass jar or tin"),
}
"""From the plainest up: figure id months_in.<key> -> the catalogue's fact, and its name in a sentence."""
GEL_IN = "opp_bag"
"""The wrap that figure desiccant_g speaks of; the table has the others."""
MOST_GEL_G = 50.0
"""Nobody packs more beside a piece: a better wrap is told instead."""


@dataclass(frozen=True)
class _Packed:
    """One piece (or one bath of powder) to be wrapped; arrays hold the likely case first, then draws."""

    what: str
    area_m2: Array
    bound_g: Array
    costs_g: Array
    """Water beyond what is bound that spends LOST_SHARE of the fizz."""
    danger_pct: Array
    danger: Range
    scaled: Array
    """Share of the rated transmission at 23 C and 50 %."""
    co2_g: float
    z: Array

    def rated(self, fact: Fact) -> Array:
        """Draws of a wrap's rating, between the fact's bounds."""
        most = fact.max or 0.0
        typical = fact.typical or 0.0
        low = fact.min if fact.min is not None else typical
        return np.maximum(spread((low, typical, most), self.z), 0.0)

    def permeance(self, key: str, fact: Fact, celsius: float) -> Array:
        """g a m2, day and Pa through wrap and still air together."""
        energy = barrier.energy_j_mol(self.scaled)
        rated = self.rated(fact)
        if fact.unit.startswith("g/pack"):
            # told for a whole pack; the leak of a lid does not grow with the piece
            rated = rated / self.area_m2
        wrap = barrier.permeance_g_m2_day_pa(rated, celsius, energy)
        return barrier.through_both(wrap, barrier.air_film_g_m2_day_pa(celsius))

    def months(self, permeance: Array, celsius: float, humidity_pct: float) -> Array:
        """Months until the share of the fizz is gone, at most MOST_MONTHS."""
        room = barrier.drop_pa(celsius, humidity_pct)
        danger = barrier.drop_pa(celsius, self.danger_pct)
        dampening = barrier.gain_g_day(permeance, self.area_m2, room, DRY_SHARE * danger)
        reacting = barrier.gain_g_day(permeance, self.area_m2, room, danger)
        days = barrier.days_until(self.bound_g, self.costs_g, dampening, reacting)
        return np.minimum(days / MONTH_DAYS, MOST_MONTHS)

    def gel_g(self, permeance: Array, celsius: float, humidity_pct: float, takes_up: Array) -> Array:
        """Silica gel beside one piece that holds GEL_PCT in its wrap for the wished months."""
        room, held = barrier.drop_pa(celsius, humidity_pct), barrier.drop_pa(celsius, GEL_PCT)
        comes = barrier.gain_g_day(permeance, self.area_m2, room, held) * WISHED_MONTHS * MONTH_DAYS
        return barrier.desiccant_g(comes, takes_up)


def _surface_m2(mix: Mix, size: Piece) -> float:
    """Outside of one piece; of a bath of powder, its bag as a cube would have it."""
    mould = mix.mould
    if not size.is_powder and mould is not None and mould.shape in packing.SHAPES:
        return 1e-6 * float(packing.surface_mm2(mould.shape, **dict(mould.dims_mm)))
    density = size.packed_density_g_ml.value if size.packed_density_g_ml else loose_density(mix)
    ml = size.volume_ml or size.piece_g.value / (density if np.isfinite(density) else UNKNOWN_BULK_DENSITY_G_ML)
    return 6e-4 * float(np.cbrt(ml)) ** 2


def _packed(mix: Mix, catalogue: Catalogue, size: Piece) -> _Packed | None:
    fizz = fizz_of(mix, mix.grams)
    whole_g = float(fizz.co2_g)
    if not fizz.acids or not fizz.bases or whole_g <= 0:
        return None
    z = np.vstack([np.zeros(6), standard_normals(DRAWS, 6)])
    co2_g = whole_g * size.piece_g.value / size.total_g
    scale = catalogue.fact("wvtr_temp")
    assert scale.min is not None and scale.typical is not None and scale.max is not None, "the catalogue's own fact"
    danger = danger_humidity_pct(mix, catalogue)
    cost = barrier.co2_per_water() * log_spread(WATER_COST, z[:, 2])
    return _Packed(
        "one bath of powder" if size.is_powder else "a piece",
        _surface_m2(mix, size) * log_spread(OVERLAP, z[:, 0]),
        size.cured_piece_g.value / 100.0 * log_spread(BOUND_PCT, z[:, 1]),
        barrier.water_for_share_g(LOST_SHARE, co2_g, cost),
        np.clip(spread((danger.low, danger.value, danger.high), z[:, 3]), 5.0, LIKELIEST_DRH_PCT),
        danger,
        log_spread((scale.min, scale.typical, scale.max), z[:, 4]),
        co2_g,
        z[:, 5],
    )


def told(mix: Mix, catalogue: Catalogue, setting: Setting, size: Piece, room: Room) -> Section:
    """Months in each wrap, silica gel, and the plainest wrap that lasts; bare for a mix that holds no fizz to lose."""
    packed = _packed(mix, catalogue, size)
    if packed is None:
        return Section("making_day", "Making day")
    gel = catalogue.fact("silica_gel")
    assert gel.min is not None and gel.typical is not None and gel.max is not None, "the catalogue's own fact"
    takes_up = spread((gel.min, gel.typical, gel.max), packed.z)
    months: dict[str, list[Array]] = {}
    grams: dict[str, Array] = {}
    for key, (fact_id, _) in WRAPS.items():
        fact = catalogue.fact(fact_id)
        through = [packed.permeance(key, fact, celsius) for _, _, celsius, _ in CLIMATES]
        months[key] = [
            packed.months(p, celsius, humidity) for p, (_, _, celsius, humidity) in zip(through, CLIMATES, strict=True)
        ]
        grams[key] = packed.gel_g(through[TOLD], *CLIMATES[TOLD][2:], takes_up)
    figures = [_months_figure(packed, catalogue, key, months[key][TOLD]) for key in WRAPS]
    figures += [_gel_figure(packed, gel, catalogue, grams[GEL_IN]), _enough(months)]
    return Section("making_day", "Making day", tuple(figures), tables=(_table(months, grams),))


def _ranged(draws: Array) -> tuple[float, float, float]:
    value = float(draws[0])
    low, high = np.quantile(draws[1:], [0.05, 0.95])
    return value, min(float(low), value), max(float(high), value)


def _inputs(packed: _Packed, fact: Fact) -> tuple[Input, ...]:
    _, _, celsius, humidity = CLIMATES[TOLD]
    return (
        Input(fact.name, fact.typical or 0.0, fact.unit, "; ".join(fact.sources_of("")), fact.how_of("")),
        Input("film round it", round(float(packed.area_m2[0]), 4), "m2", "", "estimate"),
        Input("air around it", f"{celsius:g} °C, {humidity:g} %", "", "", "estimate"),
        Input("danger humidity of the mix", packed.danger.value, "%", "", "estimate"),
        Input("water bound without harm", round(float(packed.bound_g[0]), 2), "g", "", "estimate"),
        Input("carbon dioxide in it", round(packed.co2_g, 2), "g"),
        Input(
            f"water that then costs {100 * LOST_SHARE:.0f} % of it",
            round(float(packed.costs_g[0]), 2),
            "g",
            "",
            "estimate",
        ),
        Input("film at 23 °C and 50 % against its rating", float(packed.scaled[0]), "", "GENERAL", "memory"),
    )


def _span(months: float) -> str:
    """Months as one says them."""
    if months >= MOST_MONTHS:
        return f"{MOST_MONTHS / 12:.0f} years or more"
    days = months * MONTH_DAYS
    if days < 1.0:
        return "less than a day"
    if days < 90.0:
        return "1 day" if round(days) == 1 else f"{days:.0f} days"
    return f"{months:.0f} months" if months < 24 else f"{months / 12:.0f} years"


def _months_figure(packed: _Packed, catalogue: Catalogue, key: str, draws: Array) -> Figure:
    fact_id, name = WRAPS[key]
    fact = catalogue.fact(fact_id)
    value, low, high = _ranged(draws)
    doubt = " (rating from memory)" if fact.how_of("") == "memory" else ""
    return Figure(
        f"months_in.{key}",
        value,
        "months",
        f"{sentence(name)}: damp has taken a tenth of the fizz of {packed.what} after {_span(value)} in {CLIMATES[TOLD][1]}{doubt}.",
        Working(
            "; ".join(EQUATIONS[k] for k in ("permeance", "air_film", "gain", "water_for_share", "days")),
            _inputs(packed, fact),
        ),
        low,
        high,
        sources_of(fact.sources_of(""), catalogue.fact("wvtr_temp").sources_of("")),
    )


def _gel_figure(packed: _Packed, gel: Fact, catalogue: Catalogue, draws: Array) -> Figure:
    fact_id, name = WRAPS[GEL_IN]
    fact = catalogue.fact(fact_id)
    value, low, high = _ranged(draws)
    return Figure(
        "desiccant_g",
        value,
        "g",
        f"Beside {packed.what} in a {name}, {shown(value)} g of fresh silica gel takes up the damp of {WISHED_MONTHS:.0f} months in "
        f"{CLIMATES[TOLD][1]}; a better wrap needs less (see the table).",
        Working(
            EQUATIONS["desiccant"],
            (
                *_inputs(packed, fact)[:3],
                Input(gel.name, gel.typical or 0.0, gel.unit, "; ".join(gel.sources_of("")), gel.how_of("")),
                Input("humidity to hold inside", GEL_PCT, "%"),
            ),
        ),
        low,
        high,
        sources_of(fact.sources_of(""), gel.sources_of(""), ("DIN_55473",)),
    )


def _enough(months: dict[str, list[Array]]) -> Figure:
    """The plainest wrap that lasts the wished months in the told climate."""
    lasting = [key for key in WRAPS if float(months[key][TOLD][0]) >= WISHED_MONTHS]
    short = [WRAPS[key][1] for key in WRAPS if key not in lasting]
    where = CLIMATES[TOLD][1]
    if not lasting:
        text = f"No wrap here keeps nine tenths of the fizz for {WISHED_MONTHS:.0f} months in {where}: sell it fresh, store it dry."
    elif not short:
        text = f"Any wrap here keeps nine tenths of the fizz for {WISHED_MONTHS:.0f} months in {where}."
    else:
        text = (
            f"The plainest wrap here that keeps nine tenths of the fizz for {WISHED_MONTHS:.0f} months in {where} is: "
            f"{WRAPS[lasting[0]][1]}; {'one plainer one is' if len(short) == 1 else f'{len(short)} plainer ones are'} too thin (see the table). Wrap only what has dried: a tight wrap keeps damp in as well."
        )
    return Figure(
        "wrap_enough",
        WRAPS[lasting[0]][1] if lasting else "none",
        "",
        text,
        Working(f"the first wrap of the table, from the plainest up, with months >= {WISHED_MONTHS:.0f}"),
    )


def _table(months: dict[str, list[Array]], grams: dict[str, Array]) -> Table:
    rows = tuple(
        (
            WRAPS[key][1],
            *(_span(float(found[0])) for found in months[key]),
            _gel_cell(float(grams[key][0])),
        )
        for key in WRAPS
    )
    airs = "; ".join(f"{name}: {celsius:g} °C, {humidity:g} %" for name, _, celsius, humidity in CLIMATES)
    return Table(
        "wraps",
        "How long until damp has taken a tenth of the fizz",
        ("Wrap", *(name for name, *_ in CLIMATES), "silica gel, g"),
        rows,
        f"{airs}. Unopened, well dried before wrapping, seams shut. Silica gel: for {WISHED_MONTHS:.0f} months in "
        f"{CLIMATES[TOLD][1]}, one piece a pack.",
    )


def _gel_cell(grams: float) -> str:
    if grams > MOST_GEL_G:
        return "no use"
    return shown(grams) if grams >= 0.05 else "none"
