"""Bath water: its pH, its carbonate and its salts, from the tap through the fizz to rest.

Every input may be a float or an array; all broadcast together, and a hundred thousand waters are one call. A litre is
taken as a kilogram of water (at 40 C it is 0.992), so concentrations are mol/kg in the equations. Species and constants
stand in aqueous.py, the solving of them in speciation.py; a bath while a piece fizzes in it in fizzing.py.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fizzwright.science import aqueous, speciation
from fizzwright.science.aqueous import (
    CALCITE,
    CARBONATE,
    COMPONENT_CHARGE,
    DOSES,
    HENRY,
    ION_PRODUCT,
    LN10,
    STRONG_LEFT,
    log10_k,
)
from fizzwright.science.neutralisation import water_vapour_pa
from fizzwright.science.speciation import Speciated

Array = NDArray[np.float64]
Numbers = float | Array

EQUATIONS: dict[str, str] = {
    **aqueous.EQUATIONS,
    "charge": "Na + K + 2 Ca + 2 Mg - Cl - 2 SO4 + H - OH - HCO3 - 2 CO3 - (acid anions) + (ion pairs) = 0, solved for pH",
    "tap": "alkalinity = HCO3 + 2 CO3 + OH - H + (ion pairs) at the tap's pH gives the carbonate it holds",
    "alkalinity": "alkalinity = HCO3 + 2 CO3 + OH - H + acid anions as far as their pK is above 4.5 (Dickson 1981)",
    "open": "CO2 in the water = K_H x CO2 in the air",
    "saturation": "the most CO2 that stays in water = K_H x (1 atm - pressure of water vapour)",
    "bubbling": "d(DIC)/dt = -k_b (CO2 - saturation) while CO2 is above saturation",
    "surface": "d(DIC)/dt = -kLa (CO2 - K_H x CO2 of the room)",
}

COLDEST_C, WARMEST_C = 0.0, 60.0
"""The constants are fitted to water between about 5 and 50 C; to either side they reach a little further."""
ROUNDED_EQ_L = 1e-5
"""A water report is rounded to about 0.01 mmol/l: alkalinity that falls short by no more counts as just enough."""
MOST_MMOL_L = 2000.0
MOST_PRESSURE_ATM = 10.0
"""CO2 pressure beyond which a pH and an alkalinity cannot be those of a tap (mains run at 2 to 6 atm)."""
BLOCK = 16384
"""Waters prepared together; speciation.py works on fewer at a time."""

ROOM_PCO2_ATM = 8e-4
"""memory: air of a room somebody is in, about 800 ppm."""
BUBBLING_PER_S = 0.1
"""estimate: a shaken fizzy drink loses most of its excess within ten seconds or so; of little weight in a tub, where the
excess is gone long before the surface matters."""
ATMOSPHERE_PA = 101_325.0
_NODES = 48
_BUBBLING_NODES = 12

BALANCED = ("nothing", "sodium", "chloride", "unnamed anions", "unnamed cations")


def _checked(name: str, value: Numbers, low: float, high: float, unit: str) -> Array:
    """The value as an array; ValueError unless it lies between the bounds."""
    array = np.asarray(value, dtype=float)
    # a nan makes both comparisons fail
    if array.size and not (array.min() >= low and array.max() <= high):
        bad = float(array[~((array >= low) & (array <= high))].ravel()[0])
        raise ValueError(f"{name}: read {bad:g}; it must lie between {low:g} and {high:g}{unit}")
    return array


@dataclass(frozen=True)
class Water:
    """Tap water as a report gives it. ValueError for figures no water has.

    Sodium or chloride that is None is set so that charges balance; whatever is left goes to ions nobody named, and
    BathState.balanced_by tells which. Carbonate follows from pH and alkalinity at measured_at_c and stays on heating.
    """

    ph: Numbers
    alkalinity_mmol_l: Numbers
    calcium_mmol_l: Numbers = 0.0
    magnesium_mmol_l: Numbers = 0.0
    sodium_mmol_l: Numbers | None = None
    potassium_mmol_l: Numbers = 0.0
    chloride_mmol_l: Numbers | None = None
    sulfate_mmol_l: Numbers = 0.0
    measured_at_c: Numbers = 25.0

    def __post_init__(self) -> None:
        """Refuse what lies outside all water."""
        _checked("ph", self.ph, 0.0, 14.0, "")
        _checked("alkalinity_mmol_l", self.alkalinity_mmol_l, -MOST_MMOL_L, MOST_MMOL_L, " mmol/l")
        _checked("measured_at_c", self.measured_at_c, COLDEST_C, WARMEST_C, " C")
        for each in fields(self)[2:-1]:
            value = getattr(self, each.name)
            if value is not None:
                _checked(each.name, value, 0.0, MOST_MMOL_L, " mmol/l")


@dataclass(frozen=True)
class BathState:
    """A water at rest with itself; everything broadcasts."""

    ph: Numbers
    dic_mol_l: Numbers
    """All dissolved carbonate: CO2, hydrogencarbonate, carbonate and their ion pairs."""
    co2_mol_l: Numbers
    bicarbonate_mol_l: Numbers
    alkalinity_eq_l: Numbers
    """What acid the water takes up until about pH 4.5 (Dickson 1981); it stays when CO2 leaves."""
    ionic_strength_mol_l: Numbers
    calcite_si: Numbers
    """log10 of how far calcite is oversaturated; minus infinity without calcium or carbonate."""
    sodium_mol_l: Numbers
    pco2_atm: Numbers
    """Pressure of CO2 that air would need to be at rest with this water."""
    charge_eq_l: Numbers
    """What the charges of all species leave over: how exactly the water was solved."""
    balanced: NDArray[np.int8]
    """What made the charges of the tap water meet, as a place in BALANCED."""
    temperature_c: Numbers
    totals_mol_l: Mapping[str, Numbers] = field(default_factory=dict)
    """Totals of all components, carbonate as it now is."""
    unnamed_eq_l: Numbers = 0.0
    """Charge of ions that the water report did not name."""

    @property
    def balanced_by(self) -> NDArray[np.str_]:
        """What made the charges of the tap water meet, in words."""
        return np.array(BALANCED)[self.balanced]


def log10_henry(temperature_c: Numbers) -> Array:
    """log10 of the solubility of CO2 in mol/(l atm) (Plummer & Busenberg 1982)."""
    return log10_k(HENRY, temperature_c)


def _tap(water: Mapping[str, Array]) -> tuple[dict[str, Array], Array, NDArray[np.int8]]:
    """Totals in mol/l, charge of unnamed ions, and what balanced them; carbonate apart."""
    named = {"Ca": "calcium", "Mg": "magnesium", "K": "potassium", "sulfate": "sulfate"}
    totals = {name: water[f"{word}_mmol_l"] * 1e-3 for name, word in named.items()}
    # positive: anions wanting sodium; negative: cations wanting chloride
    gap = water["alkalinity_mmol_l"] * 1e-3
    for name, total in totals.items():
        gap = gap - COMPONENT_CHARGE[name] * total
    if "sodium_mmol_l" in water:
        totals["Na"] = water["sodium_mmol_l"] * 1e-3
        gap = gap - totals["Na"]
    if "chloride_mmol_l" in water:
        totals["Cl"] = water["chloride_mmol_l"] * 1e-3
        gap = gap + totals["Cl"]
    none = np.zeros_like(gap)
    sodium = np.maximum(gap, 0.0) if "sodium_mmol_l" not in water else none
    chloride = np.maximum(-gap, 0.0) if "chloride_mmol_l" not in water else none
    totals.setdefault("Na", sodium)
    totals.setdefault("Cl", chloride)
    unnamed = gap - sodium + chloride
    small = 1e-12
    by = np.where(unnamed > small, 4, np.where(unnamed < -small, 3, 0))
    by = np.where(sodium > small, 1, np.where(chloride > small, 2, by))
    return totals, unnamed, by.astype(np.int8)


_TAP = np.stack([ION_PRODUCT, HENRY])


def _tap_carbonate(water: Mapping[str, Array], totals: Mapping[str, Array], unnamed: Array) -> Array:
    """Carbonate of the tap water in mol/l; ValueError when pH and alkalinity do not go together."""
    ph, alkalinity, warm = water["ph"], water["alkalinity_mmol_l"] * 1e-3, water["measured_at_c"]
    shape = np.broadcast_shapes(
        ph.shape, alkalinity.shape, warm.shape, unnamed.shape, *(t.shape for t in totals.values())
    )
    ion_product, henry = LN10 * log10_k(_TAP, warm)
    least = np.exp(ion_product + LN10 * ph) - np.exp(-LN10 * ph)
    short = np.broadcast_to(alkalinity < least - 0.1 * np.abs(least) - ROUNDED_EQ_L, shape)
    if np.any(short):
        at, read = (float(np.broadcast_to(x, shape)[short].ravel()[0]) for x in (ph, alkalinity))
        needs = float(np.broadcast_to(least, shape)[short].ravel()[0])
        raise ValueError(
            f"alkalinity_mmol_l: read {1e3 * read:g} at pH {at:g}; water of that pH holds at least {1e3 * needs:.3g} mmol/l "
            "by its hydrogen and hydroxide alone. Check both against the report"
        )
    flat = [np.broadcast_to(x, shape).ravel() for x in (unnamed, warm, ph, alkalinity)]
    several = {name: np.broadcast_to(total, shape).ravel() for name, total in totals.items()}
    found = speciation.solve_carbonate(several, *flat)
    pressure = found.free["carbonate"] * np.exp(-np.broadcast_to(henry, shape).ravel())
    heavy = pressure > MOST_PRESSURE_ATM
    if np.any(heavy):
        at, read = (float(x[heavy][0]) for x in flat[2:])
        raise ValueError(
            f"ph: read {at:g} with {1e3 * read:g} mmol/l of alkalinity; such water would hold CO2 under "
            f"{float(pressure[heavy][0]):.3g} atm, allowed are up to {MOST_PRESSURE_ATM:g}. Check both against the report"
        )
    return found.carbonate_mol_l.reshape(shape)


def _blocks(size: int) -> list[slice]:
    return [slice(start, min(start + BLOCK, size)) for start in range(0, size, BLOCK)]


def _dosed(dose: Mapping[str, Numbers]) -> dict[str, Array]:
    """Totals in mol/l that a dose brings; ValueError for an unknown id or an amount that is none."""
    totals: dict[str, Array] = {}
    for name, amount in dose.items():
        if name not in DOSES:
            raise ValueError(f"dose: read {name!r}, which is not known here; known are {', '.join(sorted(DOSES))}")
        added = _checked(f"dose of {name}", amount, 0.0, MOST_MMOL_L * 1e-3, " mol/l")
        for component, count in DOSES[name].items():
            totals[component] = totals.get(component, np.zeros(())) + count * added
    return totals


def solve(
    water: Water, dose: Mapping[str, Numbers], temperature_c: Numbers, pco2_atm: Numbers | None = None
) -> BathState:
    """The bath: tap water with a dose (reagent id to mol/l) at a temperature, 0 to 60 C.

    Without pco2_atm all CO2 stays in the water (closed); with it the water is at rest with air of that CO2 pressure
    (open). ValueError for a water that cannot exist, an unknown reagent id, or figures out of bounds.
    """
    warm = _checked("temperature_c", temperature_c, COLDEST_C, WARMEST_C, " C")
    held = None if pco2_atm is None else _checked("pco2_atm", pco2_atm, 0.0, MOST_PRESSURE_ATM, " atm")
    added = _dosed(dose)
    tap = {each.name: getattr(water, each.name) for each in fields(water)}
    tap = {name: np.asarray(value, dtype=float) for name, value in tap.items() if value is not None}
    one = _tapped(tap) if all(x.size == 1 for x in tap.values()) else None
    several = {**tap, **{f"dose {x}": total for x, total in added.items()}, "warm": warm}
    if held is not None:
        several["held"] = held
    shape = np.broadcast_shapes(*(x.shape for x in several.values()))
    size = int(np.prod(shape))
    if size <= BLOCK:
        return _bathed(one or _tapped(tap), added, warm, held)
    flat = {
        x: each.reshape(()) if each.size == 1 else np.broadcast_to(each, shape).reshape(-1)
        for x, each in several.items()
    }
    states = []
    for part in _blocks(size):
        cut = {x: each[part] if each.ndim else each for x, each in flat.items()}
        tapped = one or _tapped({name: cut[name] for name in tap})
        states.append(_bathed(tapped, {x: cut[f"dose {x}"] for x in added}, cut["warm"], cut.get("held")))
    return _joined(states, shape)


Tapped = tuple[dict[str, Array], Array, NDArray[np.int8]]
"""Totals in mol/l, charge of unnamed ions, and what balanced them."""


def _tapped(water: Mapping[str, Array]) -> Tapped:
    """A tap water with its carbonate."""
    totals, unnamed, by = _tap(water)
    totals["carbonate"] = _tap_carbonate(water, totals, unnamed)
    return totals, unnamed, by


def _bathed(tapped: Tapped, added: Mapping[str, Array], warm: Array, held: Array | None) -> BathState:
    """Tap water with what is added."""
    totals, unnamed, by = tapped
    both = {**totals, **{name: totals[name] + more if name in totals else more for name, more in added.items()}}
    return rest(both, unnamed, warm, held, by)


def _joined(states: list[BathState], shape: tuple[int, ...]) -> BathState:
    """Many states as one."""

    def whole(values: list[Numbers]) -> Array:
        sizes = [np.size(state.ph) for state in states]
        return np.concatenate([np.broadcast_to(x, n) for x, n in zip(values, sizes, strict=True)]).reshape(shape)

    told: dict[str, Any] = {
        each.name: whole([getattr(state, each.name) for state in states])
        for each in fields(BathState)
        if each.name != "totals_mol_l"
    }
    totals = {name: whole([state.totals_mol_l[name] for state in states]) for name in states[0].totals_mol_l}
    return BathState(**told, totals_mol_l=totals)


def rest(
    totals_mol_l: Mapping[str, Numbers],
    unnamed_eq_l: Numbers,
    temperature_c: Numbers,
    pco2_atm: Numbers | None = None,
    balanced: NDArray[np.int8] | None = None,
) -> BathState:
    """A water of given totals at rest: with all its carbonate, or with air of a CO2 pressure."""
    given = {name: np.asarray(total, dtype=float) for name, total in totals_mol_l.items()}
    unnamed, warm = np.asarray(unnamed_eq_l, dtype=float), np.asarray(temperature_c, dtype=float)
    held = None if pco2_atm is None else np.asarray(pco2_atm, dtype=float)
    several = [*given.values(), unnamed, warm, *([] if held is None else [held])]
    shape = np.broadcast_shapes(*(x.shape for x in several))
    size = int(np.prod(shape))
    flat = [np.broadcast_to(x, shape).reshape(-1) for x in several]
    out = np.empty((9, size))
    for part in _blocks(size):
        pieces = [x[part] for x in flat]
        named = dict(zip(given, pieces, strict=False))
        charge, celsius = pieces[len(given)], pieces[len(given) + 1]
        # one temperature for all needs its constants once
        celsius = celsius[:1] if warm.size == 1 else celsius
        constants = LN10 * log10_k(_TOLD, celsius)
        henry = constants[0]
        activity = None if held is None else np.maximum(pieces[-1], 1e-15) * np.exp(henry)
        found = speciation.solve(named, charge, celsius, activity)
        for row, values in zip(out, _told(found, named, charge, constants), strict=True):
            row[part] = values
    ph, dic, co2, bicarbonate, alkalinity, ionic, calcite, pressure, charges = (row.reshape(shape)[()] for row in out)
    by = np.zeros((), dtype=np.int8) if balanced is None else balanced
    return BathState(
        ph=ph,
        dic_mol_l=dic,
        co2_mol_l=co2,
        bicarbonate_mol_l=bicarbonate,
        alkalinity_eq_l=alkalinity,
        ionic_strength_mol_l=ionic,
        calcite_si=calcite,
        sodium_mol_l=np.broadcast_to(given.get("Na", np.zeros(())), shape)[()],
        pco2_atm=pressure,
        charge_eq_l=charges,
        balanced=np.broadcast_to(by, shape),
        temperature_c=np.broadcast_to(warm, shape)[()],
        totals_mol_l={**given, "carbonate": dic},
        unnamed_eq_l=unnamed[()],
    )


_TOLD = np.stack([HENRY, CARBONATE, CALCITE])


def _told(found: Speciated, totals: Mapping[str, Array], unnamed_eq_l: Array, constants: Array) -> tuple[Array, ...]:
    """The numbers of a BathState, from ph to charge."""
    alkalinity = unnamed_eq_l
    for name, total in totals.items():
        weight = COMPONENT_CHARGE[name] + STRONG_LEFT.get(name, 0)
        if weight:
            alkalinity = alkalinity + weight * total
    none = np.zeros_like(unnamed_eq_l)
    ln_h, co2 = found.ln_activity["H"], found.free.get("carbonate", none)
    with np.errstate(divide="ignore"):
        # {CO3} = K1 K2 {CO2} / {H}^2
        ln_co3 = np.log(co2) + constants[1] - 2.0 * ln_h
        calcium = found.ln_activity.get("Ca", none - np.inf)
        calcium = np.where(totals.get("Ca", none) > 0, calcium, -np.inf)
    return (
        -ln_h / LN10,
        found.carbonate_mol_l,
        found.co2_mol_l,
        found.bicarbonate_mol_l,
        alkalinity,
        found.ionic_strength_mol_l,
        (calcium + ln_co3 - constants[2]) / LN10,
        co2 * np.exp(-constants[0]),
        found.charge_eq_l,
    )


def saturation_atm(temperature_c: Numbers) -> Array:
    """The highest pressure of CO2 that water keeps under 1 atm in all: the rest is water vapour."""
    return np.asarray(1.0 - np.asarray(water_vapour_pa(temperature_c)) / ATMOSPHERE_PA)


@dataclass(frozen=True)
class Degassed:
    """A water after some time in the open; everything broadcasts over waters and times."""

    state: BathState
    released_mol_l: Numbers
    """CO2 given to the air since the start (below nought when the water took some up)."""


def degas(
    state: BathState,
    seconds: Numbers,
    kla_per_s: Numbers,
    room_pco2_atm: Numbers = ROOM_PCO2_ATM,
    bubbling_per_s: Numbers = BUBBLING_PER_S,
) -> Degassed:
    """A water after standing open: seconds, rates and the states broadcast.

    Carbonate is followed along nodes of CO2 pressure from the start to rest with the room; between two nodes the loss
    is taken as linear in carbonate, which makes the time exact there.
    """
    named = list(state.totals_mol_l)
    pieces = [state.totals_mol_l[x] for x in named]
    shape = np.broadcast_shapes(
        *(np.shape(x) for x in (*pieces, state.ph, state.temperature_c, kla_per_s, room_pco2_atm, bubbling_per_s))
    )
    column = [np.broadcast_to(np.asarray(x, dtype=float), shape)[..., None] for x in pieces]
    unnamed, warm, kla, room, bubbling, start, dic = (
        np.broadcast_to(np.asarray(x, dtype=float), shape)[..., None]
        for x in (
            state.unnamed_eq_l,
            state.temperature_c,
            kla_per_s,
            room_pco2_atm,
            bubbling_per_s,
            state.pco2_atm,
            state.dic_mol_l,
        )
    )
    full = saturation_atm(warm)
    calm = np.minimum(start, full)
    nodes = np.concatenate(
        [
            start + (calm - start) * np.linspace(0.0, 1.0, _BUBBLING_NODES, endpoint=False),
            room + (calm - room) * np.geomspace(1.0, 1e-4, _NODES),
        ],
        axis=-1,
    )
    totals = dict(zip(named, column, strict=True))
    along = rest(totals, unnamed, warm, nodes)
    carbonate, dissolved = np.asarray(along.dic_mol_l), np.asarray(along.co2_mol_l)
    per_atm = dissolved / nodes
    loss = kla * per_atm * (nodes - room) + bubbling * per_atm * np.maximum(nodes - full, 0.0)
    drop, slower = -np.diff(carbonate, axis=-1), -np.diff(loss, axis=-1)
    # loss is linear in carbonate between nodes: the time is the drop over the logarithmic mean of both losses
    rate = np.divide(slower, drop, out=np.ones_like(drop), where=drop != 0)
    first = loss[..., :-1]
    ratio = np.divide(loss[..., 1:], first, out=np.ones_like(drop), where=first != 0)
    takes = np.where(rate > 0, -np.log(ratio) / np.where(rate > 0, rate, 1.0), 0.0)
    reached = np.concatenate([np.zeros_like(takes[..., :1]), np.cumsum(takes, axis=-1)], axis=-1)
    when = np.broadcast_to(np.asarray(seconds, dtype=float), np.broadcast_shapes(shape, np.shape(seconds)))[..., None]
    place = np.clip((np.broadcast_to(reached, (*when.shape[:-1], reached.shape[-1])) <= when).sum(axis=-1) - 1, 0, None)
    last = np.minimum(place, rate.shape[-1] - 1)

    def at(values: Array, index: NDArray[np.int64]) -> Array:
        wide = np.broadcast_to(values, (*index.shape, values.shape[-1]))
        return np.asarray(np.take_along_axis(wide, index[..., None], axis=-1)[..., 0])

    slope = at(rate, last)
    left = at(carbonate, place) - at(loss, place) * -np.expm1(-slope * (when[..., 0] - at(reached, place))) / slope
    after = rest(
        {**dict(zip(named, (x[..., 0] for x in column), strict=True)), "carbonate": left}, unnamed[..., 0], warm[..., 0]
    )
    return Degassed(replace(after, balanced=state.balanced), (dic[..., 0] - left)[()])
