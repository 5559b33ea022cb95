"""Fizz on paper: acid against carbonate, by equivalents.

The count is a potential: every proton an acid can give to hydrogencarbonate is taken as given, as is usual for
effervescent tablets. What the bath water really settles at is the business of equilibrium.py.
Equivalents and crystal water follow from the formulas; acid strengths (pKa at 25 C) order who gives first and are from
the CRC Handbook of Chemistry and Physics, "Dissociation constants of organic acids and bases" (basis: memory).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Numbers = float | NDArray[np.float64]

GAS_CONSTANT_J_MOL_K = 8.314462618
"""CODATA 2018 (exact since the 2019 revision of the SI)."""
CO2_G_MOL = 44.009
"""IUPAC 2021 abridged standard atomic weights: C 12.011, O 15.999, H 1.008."""

EQUATIONS: dict[str, str] = {
    "balance": "CO2 = min(C, max(0, A - (B - C))): acid first turns carbonate into hydrogencarbonate, then frees CO2 "
    "(A acid equivalents, B base equivalents, C moles of carbonate in any form)",
    "leftover": "leftover base = max(0, B - A); leftover acid = max(0, A - B), in equivalents",
    "water": "HCO3- + H+ -> H2O + CO2: one mole of water for each mole of CO2",
    "co2_litres": "V = n R T / (p - p_w), p_w the pressure of water vapour at T (none for dry gas)",
    "water_vapour_pa": "p_w = 611.21 exp((18.678 - t/234.5) t / (257.14 + t)), t in C (Buck 1981, revised 1996)",
    "base_to_acid_mass_ratio": "ratio = (acid equivalents / acid molar mass) x (base molar mass / base equivalents)",
}


@dataclass(frozen=True, slots=True)
class Reagent:
    """What one mole of an acid or a carbonate brings to the fizz."""

    acid_pka: tuple[float, ...] = ()
    """One entry an acid equivalent, strongest first; empty for a base."""
    base_eq: int = 0
    carbonate: int = 0
    """Moles of CO2 a mole frees with enough acid."""
    crystal_water: int = 0
    """Moles of water built into the crystal and set free when it dissolves."""

    @property
    def acid_eq(self) -> int:
        """Protons a mole gives to hydrogencarbonate."""
        return len(self.acid_pka)


_CITRIC = (3.13, 4.76, 6.40)
REAGENTS: dict[str, Reagent] = {
    "citric_acid": Reagent(_CITRIC),
    "citric_acid_monohydrate": Reagent(_CITRIC, crystal_water=1),
    "tartaric_acid": Reagent((2.98, 4.34)),
    # potassium hydrogen tartrate keeps the second proton of tartaric acid
    "cream_of_tartar": Reagent((4.34,)),
    "malic_acid": Reagent((3.40, 5.11)),
    "fumaric_acid": Reagent((3.02, 4.38)),
    "adipic_acid": Reagent((4.41, 5.41)),
    "succinic_acid": Reagent((4.21, 5.64)),
    # the second proton (pKa 11.6) is weaker than hydrogencarbonate and frees nothing
    "ascorbic_acid": Reagent((4.04,)),
    "lactic_acid": Reagent((3.86,)),
    "sodium_bicarbonate": Reagent(base_eq=1, carbonate=1),
    "potassium_bicarbonate": Reagent(base_eq=1, carbonate=1),
    "sodium_carbonate": Reagent(base_eq=2, carbonate=1),
    "sodium_carbonate_monohydrate": Reagent(base_eq=2, carbonate=1, crystal_water=1),
    "potassium_carbonate": Reagent(base_eq=2, carbonate=1),
    # trona: Na2CO3 . NaHCO3 . 2 H2O
    "sodium_sesquicarbonate": Reagent(base_eq=3, carbonate=2, crystal_water=2),
}


@dataclass(frozen=True, slots=True)
class Balance:
    """Acid against carbonate, from totals; all broadcast together."""

    co2_mol: Numbers
    water_mol: Numbers
    leftover_acid_eq: Numbers
    leftover_base_eq: Numbers
    leftover_bicarbonate_mol: Numbers
    """Carbonate that stays in the water as hydrogencarbonate."""
    leftover_carbonate_mol: Numbers
    """Carbonate that no acid touched (only when acid falls short of the first step of washing soda)."""


def _checked(name: str, value: Numbers) -> NDArray[np.float64]:
    """The value as an array; ValueError unless finite and not negative."""
    array = np.asarray(value, dtype=float)
    if not np.all(np.isfinite(array) & (array >= 0)):
        raise ValueError(f"{name}: amounts must be numbers, zero or more; read {value!r}")
    return array


def balance(acid_eq: Numbers, base_eq: Numbers, carbonate_mol: Numbers) -> Balance:
    """CO2, water and leftovers from totals of acid equivalents, base equivalents and moles of carbonate; broadcasts.

    Strongest base first: acid meets carbonate (and any base that is no carbonate) before hydrogencarbonate, so a mix
    short of acid frees less gas than its equivalents suggest. base_eq must be at least carbonate_mol.
    """
    acid, base, carbonate = (
        _checked("acid_eq", acid_eq),
        _checked("base_eq", base_eq),
        _checked("carbonate_mol", carbonate_mol),
    )
    if np.any(base < carbonate * (1 - 1e-12)):
        raise ValueError("base_eq is below carbonate_mol: every mole of carbonate is at least one base equivalent")
    before_gas = np.maximum(base - carbonate, 0.0)
    co2 = np.clip(acid - before_gas, 0.0, carbonate)
    # what is left of the first step is carbonate proper, unless other bases than carbonates took part
    untouched = np.minimum(np.maximum(before_gas - acid, 0.0), carbonate)
    return Balance(
        co2_mol=co2[()],
        water_mol=co2[()],
        leftover_acid_eq=np.maximum(acid - base, 0.0)[()],
        leftover_base_eq=np.maximum(base - acid, 0.0)[()],
        leftover_bicarbonate_mol=np.maximum(carbonate - co2 - untouched, 0.0)[()],
        leftover_carbonate_mol=untouched[()],
    )


@dataclass(frozen=True, slots=True)
class Reaction:
    """What a mixture of acids and carbonates comes to; every amount broadcasts over draws."""

    co2_mol: Numbers
    acid_eq: Numbers
    base_eq: Numbers
    leftover: Mapping[str, Numbers]
    """Moles of each reagent left: equivalents it still holds over equivalents a mole holds (0 when used up)."""
    water_mol: Numbers
    """Water made by the reaction (crystal water apart)."""
    leftover_acid_eq: Numbers
    leftover_base_eq: Numbers
    leftover_bicarbonate_mol: Numbers
    leftover_carbonate_mol: Numbers
    crystal_water_mol: Numbers
    """Water built into the crystals of all reagents given, set free when they dissolve."""


def _left_by_strength(
    steps: list[tuple[float, str, NDArray[np.float64]]], consumed_eq: NDArray[np.float64]
) -> dict[str, NDArray[np.float64]]:
    """Equivalents left of each reagent when steps are used up in order of their rank; equal ranks share alike."""
    left: dict[str, NDArray[np.float64]] = {}
    used_before: NDArray[np.float64] = np.zeros(())
    for rank in sorted({rank for rank, _, _ in steps}):
        group = [(name, eq) for step_rank, name, eq in steps if step_rank == rank]
        total = np.sum(np.broadcast_arrays(*[eq for _, eq in group]), axis=0)
        remaining = np.clip(used_before + total - consumed_eq, 0.0, total)
        share = np.divide(remaining, total, out=np.zeros_like(remaining), where=total > 0)
        for name, eq in group:
            left[name] = left.get(name, np.zeros(())) + eq * share
        used_before = used_before + total
    return left


def react(moles: Mapping[str, Numbers], more: Mapping[str, Reagent] | None = None) -> Reaction:
    """React acids with carbonates; `moles` maps a reagent id (see REAGENTS) to mol, floats or arrays that broadcast.

    `more` adds reagents that the table does not hold, such as an acid of the maker's own.

    Protons are given strongest first (lowest pKa), across all acids; carbonate is met before hydrogencarbonate. So when
    acid is left, it is the weakest; when base is left, it is hydrogencarbonate, shared alike by all that made it.
    ValueError names an unknown reagent or an amount that is negative or no number.
    """
    reagents = {**REAGENTS, **(more or {})}
    amounts: dict[str, NDArray[np.float64]] = {}
    for name, amount in moles.items():
        if name not in reagents:
            raise ValueError(f"no reagent is called {name!r}; known are {', '.join(sorted(reagents))}")
        amounts[name] = _checked(name, amount)
    if amounts:
        amounts = dict(zip(amounts, np.broadcast_arrays(*amounts.values()), strict=True))
    acid_eq: NDArray[np.float64] = np.zeros(())
    base_eq, carbonate, crystal = acid_eq, acid_eq, acid_eq
    acid_steps: list[tuple[float, str, NDArray[np.float64]]] = []
    base_steps: list[tuple[float, str, NDArray[np.float64]]] = []
    for name, amount in amounts.items():
        reagent = reagents[name]
        acid_eq = acid_eq + reagent.acid_eq * amount
        base_eq = base_eq + reagent.base_eq * amount
        carbonate = carbonate + reagent.carbonate * amount
        crystal = crystal + reagent.crystal_water * amount
        acid_steps += [(pka, name, amount) for pka in reagent.acid_pka]
        if reagent.base_eq:
            base_steps.append((0.0, name, (reagent.base_eq - reagent.carbonate) * amount))
            base_steps.append((1.0, name, reagent.carbonate * amount))
    totals = balance(acid_eq, base_eq, carbonate)
    left_eq = _left_by_strength(acid_steps, base_eq) | _left_by_strength(base_steps, acid_eq)
    leftover = {name: (left_eq[name] / max(reagents[name].acid_eq, reagents[name].base_eq))[()] for name in amounts}
    return Reaction(
        co2_mol=totals.co2_mol,
        acid_eq=acid_eq[()],
        base_eq=base_eq[()],
        leftover=leftover,
        water_mol=totals.water_mol,
        leftover_acid_eq=totals.leftover_acid_eq,
        leftover_base_eq=totals.leftover_base_eq,
        leftover_bicarbonate_mol=totals.leftover_bicarbonate_mol,
        leftover_carbonate_mol=totals.leftover_carbonate_mol,
        crystal_water_mol=crystal[()],
    )


def water_vapour_pa(temperature_c: Numbers) -> Numbers:
    """Saturation vapour pressure over water, Pa, 0 to 100 C (Buck 1981, J. Appl. Meteorol. 20:1527, revised 1996)."""
    t = np.asarray(temperature_c, dtype=float)
    if not np.all((t >= 0) & (t <= 100)):
        raise ValueError(f"temperature_c must lie between 0 and 100; read {temperature_c!r}")
    pressure: Numbers = 611.21 * np.exp((18.678 - t / 234.5) * t / (257.14 + t))
    return pressure


def co2_litres(
    mol: Numbers, temperature_c: Numbers, pressure_pa: Numbers = 101_325.0, humidified: bool = True
) -> Numbers:
    """Litres that so many moles of CO2 fill as an ideal gas; in water a bubble is damp and fills more.

    humidified: the bubble also holds water vapour at saturation, so CO2 has only pressure_pa - p_w to itself.
    """
    vapour = water_vapour_pa(temperature_c) if humidified else 0.0
    dry_pa = np.asarray(pressure_pa, dtype=float) - vapour
    if not np.all(dry_pa > 0):
        raise ValueError("at this temperature water boils at this pressure; no volume of gas can be given")
    litres: Numbers = np.asarray(mol) * GAS_CONSTANT_J_MOL_K * (np.asarray(temperature_c) + 273.15) / dry_pa * 1000.0
    return litres


def base_to_acid_mass_ratio(base: str, acid: str, base_g_mol: Numbers, acid_g_mol: Numbers) -> Numbers:
    """Grams of a base that exactly meet one gram of an acid; molar masses in g/mol."""
    for name, role in ((base, "base"), (acid, "acid")):
        known = [n for n, r in REAGENTS.items() if (r.base_eq if role == "base" else r.acid_eq)]
        if name not in known:
            raise ValueError(f"{name!r} is no {role} of this table; allowed are {', '.join(known)}")
    return REAGENTS[acid].acid_eq / acid_g_mol * base_g_mol / REAGENTS[base].base_eq
