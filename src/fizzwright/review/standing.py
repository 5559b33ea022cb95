"""A mix in its bowl, as a batch that stands open: what the estimates of the catalogue make of each line."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.model import Fact, Material
from fizzwright.recipe.mix import Mix
from fizzwright.review.chemistry import fizz_of
from fizzwright.review.sizes import Range
from fizzwright.review.work_air import WETNESS, bowl_m2
from fizzwright.science.airborne import evaporation_g_h
from fizzwright.science.moisture import mutual_deliquescence_pct, saturation_pa, vapour_g_m3
from fizzwright.science.neutralisation import GAS_CONSTANT_J_MOL_K
from fizzwright.science.runaway import Batch
from fizzwright.science.transfer import STILL_AIR_M_S, ZERO_C_K

Array = NDArray[np.float64]
Numbers = float | Array

AT_C = 20.0
"""The warmth fact damp_rate speaks for."""
DRAWS = 48
SPENT_SHARE = 0.05
"""The bowl has stood too long when this share of the fizz is spent (our own choice: nobody feels less than that in a bath)."""
LONGEST_MINUTES = 240.0
"""Longer than this nobody leaves a mixed bowl open; "4 hours or more" is said instead."""
STARCHY = frozenset({"corn_starch", "tapioca_starch", "arrowroot", "potato_starch", "rice_flour"})
STARCHY_FUNCTIONS = ("botanical", "thickener")
OILY_FUNCTIONS = ("carrier_oil", "solid_fat")
CITRIC_PCT = 75.0
"""Deliquescence of citric acid, which fact drh_mix speaks of (fact drh_citric)."""
COEFFICIENTS = ("damp_worked", "damp_rate", "damp_warmth", "damp_hydrate", "damp_starch", "damp_desiccant", "damp_crystals",
                "damp_oil")  # fmt: skip


@dataclass(frozen=True)
class Danger:
    """The humidity from which the mix as a whole takes up water and begins to react, and what sets it."""

    pct: Range
    set_by: tuple[str, ...]
    """Names of the lines that set it; none when it is the acid and the bicarbonate together."""
    ross_pct: float | None
    """Ross's product over all members, the lowest it could be; None when no member's own is known."""
    sources: tuple[str, ...]


def _bounds(fact: Fact) -> tuple[float, float, float]:
    assert fact.min is not None and fact.typical is not None and fact.max is not None, f"fact {fact.id} is a range"
    return fact.min, fact.typical, fact.max


def danger(mix: Mix, catalogue: Catalogue) -> Danger:
    """The danger humidity of a mix.

    Acid and carbonate together: fact drh_mix, moved in proportion for another acid than citric, as the acid dissolves first.
    A line that melts in drier air than that sets it for the whole mix, if there is enough of it to matter. Without both
    acid and carbonate only the lines' own figures count, and 100 stands where none is known.
    """
    total = float(mix.grams.sum())
    least = _bounds(catalogue.fact("damp_line"))[1] / 100.0
    grams: dict[str, float] = {}
    materials: dict[str, Material] = {}
    for line, mass in zip(mix.lines, mix.grams, strict=True):
        if line.material is not None and line.material.critical_relative_humidity_pct_25c is not None:
            grams[line.id] = grams.get(line.id, 0.0) + float(mass)
            materials[line.id] = line.material
    members = {
        use: (m, m.critical_relative_humidity_pct_25c)
        for use, m in materials.items()
        if grams[use] >= least * total and m.critical_relative_humidity_pct_25c is not None
    }
    own = {use: pct for use, (_, pct) in members.items()}
    fizz = fizz_of(mix, mix.grams)
    fact = catalogue.fact("drh_mix")
    low, value, high = 100.0, 100.0, 100.0
    set_by: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()
    if fizz.acids and fizz.bases:
        acids = {use: own[use] for use in fizz.acids if use in own}
        lead = min(acids, key=lambda use: acids[use], default=None)
        scale = acids[lead] / CITRIC_PCT if lead is not None else 1.0
        scale = 1.0 if lead is not None and lead.startswith("citric") else scale
        low, value, high = (scale * bound for bound in _bounds(fact))
        sources = fact.sources_of("")
        if lead is not None and scale < 1.0:
            set_by = (materials[lead].name,)
    weakest = min(own, key=lambda use: own[use], default=None)
    if weakest is not None and own[weakest] < value:
        # a published point of a single material is known to a few percent
        low, value, high = min(low, own[weakest] - 5.0), own[weakest], min(high, own[weakest] + 5.0)
        set_by = tuple(materials[use].name for use in own if own[use] < own[weakest] + 5.0)
    if weakest is not None:
        high = min(high, max(value, own[weakest]))
        sources = (*sources, *materials[weakest].sources_of("critical_relative_humidity_pct_25c"))
    ross = float(mutual_deliquescence_pct(np.array(list(own.values())))) if own else None
    return Danger(Range(value, max(low, 1.0), min(high, 100.0)), set_by, ross, tuple(dict.fromkeys(sources)))


@dataclass(frozen=True)
class Estimates:
    """The estimates behind a batch: each one number, or one number a draw."""

    of: Mapping[str, Numbers]
    danger: Numbers
    """As a fraction."""


def likely(found: Danger, catalogue: Catalogue) -> Estimates:
    """The likely value of every estimate."""
    of = {k: _bounds(catalogue.fact(k))[1] for k in COEFFICIENTS}
    return Estimates({**of, "wetness": WETNESS[1]}, found.pct.value / 100.0)


def drawn(found: Danger, catalogue: Catalogue) -> Estimates:
    """The likely value first, then DRAWS draws between the bounds of each estimate, all orders unrelated."""
    rng = np.random.default_rng(11)

    def spread(low: float, middle: float, high: float) -> Array:
        # two halves of a normal spread, each reaching its bound at 5 and 95 percent; by ratio, as all are above zero
        deviation = _NORMAL[rng.permutation(DRAWS)] / 1.6449
        down, up = np.log(middle / low), np.log(high / middle)
        return np.concatenate([[middle], middle * np.exp(np.where(deviation < 0, down, up) * deviation)])

    of: dict[str, Numbers] = {k: spread(*_bounds(catalogue.fact(k))) for k in COEFFICIENTS}
    of["damp_hydrate"] = np.minimum(of["damp_hydrate"], 0.67)
    of["wetness"] = spread(*WETNESS)
    pct = found.pct
    return Estimates(of, np.minimum(spread(pct.low, pct.value, pct.high), 100.0) / 100.0)


def _normal_strata(draws: int) -> Array:
    from statistics import NormalDist

    return np.array([NormalDist().inv_cdf((i + 0.5) / draws) for i in range(draws)])


_NORMAL = _normal_strata(DRAWS)


def is_starchy(material: Material) -> bool:
    """True for what binds water through and through: starches, flours and dried plants."""
    return material.id in STARCHY or material.function in STARCHY_FUNCTIONS


def sums(mix: Mix) -> dict[str, float]:
    """Grams of the batch by what damp does with them: total, water, alcohol, starch, desiccant, oil, dry."""
    return {name: float(total) for name, total in sums_of(mix, mix.grams).items()}


def sums_of(mix: Mix, masses: Array) -> dict[str, Array]:
    """The same of other grams, (..., lines), such as draws."""
    found: dict[str, Array] = dict.fromkeys(
        ("total", "water", "alcohol", "starch", "desiccant", "oil", "dry"), np.zeros(masses.shape[:-1])
    )
    for place, (line, liquid) in enumerate(zip(mix.lines, mix.is_liquid, strict=True)):
        grams, material = masses[..., place], line.material
        found["total"] = found["total"] + grams
        found["dry"] = found["dry"] + (0.0 if liquid else grams)
        if material is None or material.function in OILY_FUNCTIONS:
            found["oil"] = found["oil"] + grams
        if material is not None:
            found["water"] = found["water"] + (grams * material.water_mass_pct / 100.0)
            found["alcohol"] = found["alcohol"] + (grams * material.alcohol_mass_pct / 100.0)
            found["starch"] = found["starch"] + (grams if is_starchy(material) else 0.0)
            found["desiccant"] = found["desiccant"] + (grams if material.function == "desiccant" else 0.0)
    return found


def of_a_gram(binder: Material, name: str) -> float:
    """What a gram of a liquid adds to one of the sums."""
    return {
        "total": 1.0,
        "water": binder.water_mass_pct / 100.0,
        "alcohol": binder.alcohol_mass_pct / 100.0,
        "oil": 1.0 if binder.function in OILY_FUNCTIONS else 0.0,
    }.get(name, 0.0)


def batch_of(
    mix: Mix,
    found: Mapping[str, Numbers],
    by: Estimates,
    room_c: Numbers,
    humidity_pct: Numbers,
    times: Numbers = 1.0,
    replaced: Numbers = 0.0,
) -> Batch:
    """The batch that stands open. `found` are the sums of the mix, any of them an array; `times` a larger batch in a larger
    bowl; `replaced` the share of what evaporates that fresh binder makes good. Everything broadcasts.

    The powders have stood in the same air, so that starch has bound what that air gives it; drying powders come dry.
    """
    of, room = by.of, np.asarray(room_c, dtype=float)
    humidity = np.asarray(humidity_pct, dtype=float) / 100.0
    area = bowl_m2(mix) * np.asarray(times) ** (2.0 / 3.0)
    air = STILL_AIR_M_S * of["damp_worked"] * area * vapour_g_m3(room, saturation_pa(room))
    inner = of["damp_starch"] * by.danger * found["starch"] + of["damp_crystals"] / 100.0 * found["dry"]
    spare = of["damp_desiccant"] * by.danger * found["desiccant"]
    filled = np.minimum(humidity / by.danger, 1.0)
    water, alcohol = np.asarray(found["water"]), np.asarray(found["alcohol"])
    wet_g_s = evaporation_g_h("isopropyl", area, room, of["wetness"]) / 3600.0
    leaves = wet_g_s * alcohol / np.maximum(water + alcohol, 1e-12)
    watery = water / np.maximum(water + alcohol, 1e-12)
    capacity = np.maximum(inner + spare, 1e-4 * np.asarray(found["total"]))
    held = water + inner * filled
    surface = by.danger * np.minimum(held / capacity, 1.0)
    dries = air * np.maximum(surface - humidity, 0.0)
    kelvin = 1.0 / (room + ZERO_C_K) - 1.0 / (AT_C + ZERO_C_K)
    oil_pct = 100.0 * np.asarray(found["oil"]) / found["total"]
    rate = of["damp_rate"] * np.exp(-1000.0 * np.asarray(of["damp_warmth"]) / GAS_CONSTANT_J_MOL_K * kelvin)
    lasts = np.where(alcohol > 0, times * alcohol / np.maximum(leaves, 1e-12), 1.0)
    return Batch(
        fizz_mol=times * float(np.asarray(fizz_of(mix, mix.grams).reaction.co2_mol)),
        capacity_g=times * capacity,
        water_g=times * held,
        alcohol_g=times * alcohol,
        # alcohol made good does not run down
        alcohol_lifetime_s=np.where(np.asarray(replaced) > 0, 1e9, lasts),
        rate_mol_g_s=rate / (1.0 + oil_pct / of["damp_oil"]),
        hydrate_share=of["damp_hydrate"],
        air_g_s=air,
        humidity=humidity,
        danger=by.danger,
        added_g_s=replaced * watery * (leaves + dries),
    )
