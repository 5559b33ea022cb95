"""What swims in bath water: components, species, and their formation constants over temperature.

Each species is formed from components: free ions, dissolved CO2 and fully deprotonated acid anions. Constants hold at
zero ionic strength (mol/kg water, a litre taken as a kilogram) and are written in the one form that covers all sources:

    log10 K = a + b T + c / T + d log10 T + e / T^2 + f T^2,  T in kelvin

Sources, named beside each constant: PB82 Plummer & Busenberg 1982 (Geochim. Cosmochim. Acta 46:1011); PHREEQC the
phreeqc.dat of the US Geological Survey; MINTEQ minteq.v4.dat of the same, credited there to NIST Standard Reference
Database 46; BEN97 Benezeth, Palmer & Wesolowski 1997 (J. Solution Chem. 26:63); GOLD02 Goldberg, Kishore & Lennen 2002
(J. Phys. Chem. Ref. Data 31:231; rows from memory); CRC the CRC Handbook of Chemistry and Physics (from memory).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fizzwright.science.neutralisation import GAS_CONSTANT_J_MOL_K

Array = NDArray[np.float64]
Numbers = float | Array
Floats = NDArray[np.floating[Any]]
"""In either precision."""

LN10 = float(np.log(10.0))
STANDARD_K = 298.15
ZERO_C_K = 273.15

EQUATIONS: dict[str, str] = {
    "mass_action": "{species} = K {component}^n ..., braces for activities (concentration x gamma)",
    "log_k": "log10 K = a + b T + c / T + d log10 T + e / T^2 + f T^2, T in K",
    "davies": "log10 gamma = -A z^2 (sqrt(I) / (1 + sqrt(I)) - 0.3 I), A = 0.49047 + 6.7244e-4 t + 3.995e-6 t^2, t in C; "
    "neutral species log10 gamma = 0.1 I (Davies 1962)",
    "ionic_strength": "I = 1/2 sum(c z^2)",
    "calcite": "SI = log10({Ca} {CO3} / Ksp)",
}


def analytic(a: float, b: float = 0.0, c: float = 0.0, d: float = 0.0, e: float = 0.0, f: float = 0.0) -> Array:
    """The six coefficients of log10 K as an array."""
    return np.array([a, b, c, d, e, f])


def vant_hoff(log_k: float, enthalpy_kj_mol: float = 0.0, heat_capacity_j_mol_k: float = 0.0) -> Array:
    """Coefficients from log10 K, enthalpy and heat capacity of the reaction at 25 C.

    Integrated as in the CRC Handbook, "Thermodynamic quantities for the ionization reactions of buffers":
    ln K = ln K0 - (H/R)(1/T - 1/T0) + (Cp/R)(T0/T - 1 + ln(T/T0)).
    """
    heat = 1000.0 * enthalpy_kj_mol / GAS_CONSTANT_J_MOL_K
    capacity = heat_capacity_j_mol_k / GAS_CONSTANT_J_MOL_K
    constant = heat / STANDARD_K - capacity * (1.0 + np.log(STANDARD_K))
    return analytic(log_k + constant / LN10, c=(capacity * STANDARD_K - heat) / LN10, d=capacity)


def _protonation(pk: float, enthalpy_kj_mol: float = 0.0, heat_capacity_j_mol_k: float = 0.0) -> Array:
    """Coefficients of the protonation that undoes a step of dissociation."""
    return -vant_hoff(-pk, enthalpy_kj_mol, heat_capacity_j_mol_k)


def basis(temperature_c: Numbers) -> Array:
    """What the six coefficients of log10 K are multiplied by; temperatures (n,) give (6, n)."""
    kelvin = np.asarray(temperature_c, dtype=float) + ZERO_C_K
    inverse = 1.0 / kelvin
    return np.stack([np.ones_like(kelvin), kelvin, inverse, np.log10(kelvin), inverse * inverse, kelvin * kelvin])


def log10_k(coefficients: Array, temperature_c: Numbers) -> Array:
    """log10 K; coefficients (..., 6) and temperatures (n,) give (..., n)."""
    return np.asarray(np.tensordot(coefficients, basis(temperature_c), axes=(-1, 0)))


def davies_a(temperature_c: Numbers) -> Array:
    """Debye-Hueckel A (log10, molal): a quadratic through values from IAPWS-95 density and IAPWS permittivity, 0-50 C."""
    t = np.asarray(temperature_c, dtype=float)
    return np.asarray(0.49047 + 6.7244e-4 * t + 3.995e-6 * t * t)


COMPONENT_CHARGE: dict[str, int] = {
    "Ca": 2, "Mg": 2, "Na": 1, "K": 1, "Cl": -1, "carbonate": 0, "sulfate": -2, "citrate": -3, "tartrate": -2,
    "malate": -2, "fumarate": -2, "succinate": -2, "adipate": -2, "ascorbate": -1, "lactate": -1,
}  # fmt: skip
"""Charge of what each total is counted as; carbonate is counted as dissolved CO2, which carries none."""
METALS = ("Ca", "Mg", "Na", "K")
LOOSE = ("Na", "K")
"""Metals that pair so little that their free part may follow a step behind."""
LIGANDS = ("carbonate", "sulfate", "citrate", "tartrate", "malate", "fumarate", "succinate", "adipate", "ascorbate",
           "lactate")  # fmt: skip
STRONG_LEFT: dict[str, int] = {
    "citrate": 2, "malate": 1, "succinate": 1, "adipate": 1,
}  # fmt: skip
"""Negative charges of an acid anion with a pK above 4.5 at 25 C: they count towards alkalinity (Dickson 1981, Deep-Sea
Res. 28A:609), as acid given to the water takes them up."""

ION_PRODUCT = analytic(293.29227, 0.1360833, -10576.913, -123.73158, 0.0, -6.996455e-5)  # PHREEQC; IAPWS to 0.002
HENRY = analytic(108.3865, 0.01985076, -6919.53, -40.45154, 669365.0)  # PB82, mol/(kg atm)
CALCITE = analytic(-171.9065, -0.077993, 2839.319, 71.595)  # PB82
CO2_STEP = analytic(-356.3094, -0.06091964, 21834.37, 126.8339, -1684915.0)  # PB82: CO2 + H2O = H + HCO3
BICARBONATE_STEP = analytic(-107.8871, -0.03252849, 5151.79, 38.92561, -563713.9)  # PB82: HCO3 = H + CO3
CARBONATE = CO2_STEP + BICARBONATE_STEP
"""CO2 + H2O = 2 H + CO3."""


@dataclass(frozen=True, slots=True)
class Species:
    """One species: which component of which ligand it holds, and its formation constant."""

    name: str
    ligand: str
    """One of LIGANDS, or "" for what forms from water and metals alone."""
    charge: int
    log_k: Array
    holds: Mapping[str, int] = field(default_factory=dict)
    """How many H, Ca, Mg, Na, K it holds; a negative H is a proton given up."""


def _acid(ligand: str, letters: str, charge: int, *steps: Array) -> list[Species]:
    """The anion and its protonated forms from stepwise protonation constants, the last proton to leave first."""
    rows = [Species(letters, ligand, charge, analytic(0.0))]
    total = analytic(0.0)
    for count, step in enumerate(steps, start=1):
        total = total + step
        rows.append(Species(f"H{count}{letters}", ligand, charge + count, total, {"H": count}))
    return rows


SPECIES: tuple[Species, ...] = (
    Species("H", "", 1, analytic(0.0), {"H": 1}),
    Species("OH", "", -1, ION_PRODUCT, {"H": -1}),
    Species("Ca", "", 2, analytic(0.0), {"Ca": 1}),
    Species("Mg", "", 2, analytic(0.0), {"Mg": 1}),
    Species("Na", "", 1, analytic(0.0), {"Na": 1}),
    Species("K", "", 1, analytic(0.0), {"K": 1}),
    Species("CaOH", "", 1, vant_hoff(-12.78), {"Ca": 1, "H": -1}),  # PHREEQC
    Species("MgOH", "", 1, vant_hoff(-11.44, 66.743), {"Mg": 1, "H": -1}),  # PHREEQC
    Species("CO2", "carbonate", 0, analytic(0.0)),
    Species("HCO3", "carbonate", -1, CO2_STEP, {"H": -1}),
    Species("CO3", "carbonate", -2, CARBONATE, {"H": -2}),
    Species(
        "CaHCO3",
        "carbonate",
        1,
        CO2_STEP + analytic(1209.120, 0.31294, -34765.05, -478.782),  # PB82
        {"Ca": 1, "H": -1},
    ),
    Species(
        "CaCO3",
        "carbonate",
        0,
        CARBONATE + analytic(-1228.732, -0.299440, 35512.75, 485.818),  # PB82
        {"Ca": 1, "H": -2},
    ),
    Species(
        "MgHCO3",
        "carbonate",
        1,
        CARBONATE + analytic(48.6721, 0.03252849, -2614.335, -18.00263, 563713.9),  # PHREEQC
        {"Mg": 1, "H": -1},
    ),
    Species("MgCO3", "carbonate", 0, CARBONATE + analytic(0.9910, 0.00667), {"Mg": 1, "H": -2}),  # PHREEQC
    Species("NaHCO3", "carbonate", 0, CO2_STEP + vant_hoff(-0.25, -4.184), {"Na": 1, "H": -1}),  # PHREEQC
    Species("NaCO3", "carbonate", -1, CARBONATE + vant_hoff(1.27, 37.279), {"Na": 1, "H": -2}),  # PHREEQC
    Species("SO4", "sulfate", -2, analytic(0.0)),
    Species("HSO4", "sulfate", -1, analytic(-56.889, 0.006473, 2307.9, 19.8858), {"H": 1}),  # PHREEQC
    Species("CaSO4", "sulfate", 0, vant_hoff(2.25, 5.544), {"Ca": 1}),  # PHREEQC
    Species("MgSO4", "sulfate", 0, vant_hoff(2.37, 19.037), {"Mg": 1}),  # PHREEQC
    Species("NaSO4", "sulfate", -1, vant_hoff(0.70, 4.686), {"Na": 1}),  # PHREEQC
    Species("KSO4", "sulfate", -1, analytic(3.106, c=-673.6), {"K": 1}),  # PHREEQC
    *_acid(
        "citrate",
        "Cit",
        -3,
        _protonation(6.397, -3.6, -231.0),  # BEN97, all three
        _protonation(4.759, 2.2, -192.0),
        _protonation(3.127, 4.1, -162.0),
    ),
    # MINTEQ, all metal citrates; from free ions
    Species("CaCit", "citrate", -1, vant_hoff(4.87, -8.368), {"Ca": 1}),
    Species("CaHCit", "citrate", 0, vant_hoff(9.26, -0.8368), {"Ca": 1, "H": 1}),
    Species("CaH2Cit", "citrate", 1, vant_hoff(12.257), {"Ca": 1, "H": 2}),
    Species("MgCit", "citrate", -1, vant_hoff(4.89, 8.368), {"Mg": 1}),
    Species("MgHCit", "citrate", 0, vant_hoff(8.91, 3.3472), {"Mg": 1, "H": 1}),
    Species("MgH2Cit", "citrate", 1, vant_hoff(12.2), {"Mg": 1, "H": 2}),
    Species("NaCit", "citrate", -2, vant_hoff(1.03, -2.8033), {"Na": 1}),
    Species("Na2Cit", "citrate", -1, vant_hoff(1.5, -5.1045), {"Na": 2}),
    Species("NaHCit", "citrate", -1, vant_hoff(6.45, -3.5982), {"Na": 1, "H": 1}),
    Species("KCit", "citrate", -2, vant_hoff(1.1, 5.4392), {"K": 1}),
    *_acid("tartrate", "Tar", -2, _protonation(4.366, 0.93, -218.0), _protonation(3.036, 3.19, -147.0)),  # GOLD02
    # MINTEQ, all metal tartrates; from free ions
    Species("CaTar", "tartrate", 0, vant_hoff(2.8, -8.368), {"Ca": 1}),
    Species("CaHTar", "tartrate", 1, vant_hoff(5.86, -9.1211), {"Ca": 1, "H": 1}),
    Species("MgTar", "tartrate", 0, vant_hoff(2.3), {"Mg": 1}),
    Species("MgHTar", "tartrate", 1, vant_hoff(5.75), {"Mg": 1, "H": 1}),
    Species("NaTar", "tartrate", -1, vant_hoff(0.9, -0.8368), {"Na": 1}),
    Species("NaHTar", "tartrate", 0, vant_hoff(4.58, -2.8451), {"Na": 1, "H": 1}),
    Species("KTar", "tartrate", -1, vant_hoff(0.8), {"K": 1}),
    *_acid("malate", "Mal", -2, _protonation(5.097, -1.42), _protonation(3.459, 2.92)),  # GOLD02
    *_acid("fumarate", "Fum", -2, _protonation(4.38), _protonation(3.02)),  # CRC
    *_acid("succinate", "Suc", -2, _protonation(5.64), _protonation(4.21)),  # CRC
    *_acid("adipate", "Adi", -2, _protonation(5.41), _protonation(4.41)),  # CRC
    *_acid("ascorbate", "Asc", -1, _protonation(4.04)),  # CRC; the second step, pK 11.6, is out of a bath's reach
    *_acid("lactate", "Lac", -1, _protonation(3.86)),  # CRC
)

DOSES: dict[str, dict[str, int]] = {
    "sodium_bicarbonate": {"Na": 1, "carbonate": 1},
    "potassium_bicarbonate": {"K": 1, "carbonate": 1},
    "sodium_carbonate": {"Na": 2, "carbonate": 1},
    "sodium_carbonate_monohydrate": {"Na": 2, "carbonate": 1},
    "potassium_carbonate": {"K": 2, "carbonate": 1},
    "sodium_sesquicarbonate": {"Na": 3, "carbonate": 2},
    "citric_acid": {"citrate": 1},
    "citric_acid_monohydrate": {"citrate": 1},
    "tartaric_acid": {"tartrate": 1},
    "cream_of_tartar": {"K": 1, "tartrate": 1},
    "malic_acid": {"malate": 1},
    "fumaric_acid": {"fumarate": 1},
    "succinic_acid": {"succinate": 1},
    "adipic_acid": {"adipate": 1},
    "ascorbic_acid": {"ascorbate": 1},
    "lactic_acid": {"lactate": 1},
    "lactic_powder": {"Ca": 1, "lactate": 2},
    "trisodium_citrate": {"Na": 3, "citrate": 1},
    "sea_salt": {"Na": 1, "Cl": 1},
    "table_salt": {"Na": 1, "Cl": 1},
    "rock_salt": {"Na": 1, "Cl": 1},
    "epsom_salt": {"Mg": 1, "sulfate": 1},
    "magnesium_sulfate_dried": {"Mg": 1, "sulfate": 1},
    "magnesium_chloride_flakes": {"Mg": 1, "Cl": 2},
    "sodium_sulfate": {"Na": 2, "sulfate": 1},
}
"""What a mole of each reagent brings; its protons follow from the balance of charge."""


@dataclass(frozen=True, eq=False)
class Plan:
    """The species and sums that a set of ligands and metals calls for."""

    names: tuple[str, ...]
    metals: tuple[str, ...]
    ligands: tuple[str, ...]
    forms: Floats
    """ln concentration per unit of free ligand = forms @ x; shape (species, rows of x)."""
    groups: tuple[slice, ...]
    """Where the species of each ligand stand."""
    leading: int
    """How many of H, Ca and Mg are there."""
    takes_part: Floats
    """How much of these a species holds, its charge squared, its charge, and how much of Na and K; a row each."""
    of_ligand: tuple[Floats, ...]
    """The same up to the charge squared, for the species of each ligand."""
    products: Floats
    """Products of takes_part for each pair of unknowns; shape (unknowns squared, species)."""


@lru_cache(maxsize=64)
def plan(ligands: tuple[str, ...], metals: tuple[str, ...]) -> Plan:
    """The plan for these ligands and metals."""
    unknown = ("H", *metals)
    fits = [s for s in SPECIES if all(part in unknown for part in s.holds)]
    chosen = [s for ligand in ("", *ligands) for s in fits if s.ligand == ligand]
    held = np.array([[float(s.holds.get(part, 0)) for part in unknown] for s in chosen])
    charge = np.array([float(s.charge) for s in chosen])
    coefficients = LN10 * np.stack([s.log_k for s in chosen])
    leading = 1 + sum(metal not in LOOSE for metal in metals)
    part = np.column_stack([held[:, :leading], charge**2]).T
    places = [[i for i, s in enumerate(chosen) if s.ligand == ligand] for ligand in ligands]
    groups = tuple(slice(p[0], p[-1] + 1) for p in places)
    return Plan(
        names=tuple(s.name for s in chosen),
        metals=metals,
        ligands=ligands,
        forms=np.column_stack([held, charge**2, charge == 0.0, coefficients]),
        groups=groups,
        leading=leading,
        takes_part=np.vstack([part, charge, held[:, leading:].T]),
        of_ligand=tuple(np.ascontiguousarray(part[:, g]) for g in groups),
        products=(part[:, None] * part[None, :]).reshape(-1, len(chosen)),
    )


@lru_cache(maxsize=64)
def light(found: Plan) -> Plan:
    """The plan in single precision, for waters whose constants are worked out already."""
    return replace(
        found,
        forms=found.forms[:, :-6].astype(np.float32),
        takes_part=found.takes_part.astype(np.float32),
        of_ligand=tuple(part.astype(np.float32) for part in found.of_ligand),
        products=found.products.astype(np.float32),
    )
