"""A water report as reports are written: milligrams, German or French degrees, read into mmol a litre."""

from __future__ import annotations

import re

MASSES_G_MOL = {
    "calcium_mmol_l": 40.078,
    "magnesium_mmol_l": 24.305,
    "sodium_mmol_l": 22.990,
    "potassium_mmol_l": 39.098,
    "chloride_mmol_l": 35.45,
    "sulfate_mmol_l": 96.06,
}
"""IUPAC 2021 abridged standard atomic weights; SO4 = 32.06 + 4 x 15.999."""
CACO3_G_MOL = 100.087
_HCO3_G_MOL = 61.017
_DEGREE_MMOL_L = {"dh": 10 / 56.077, "f": 10 / CACO3_G_MOL}
"""One German degree is 10 mg of CaO a litre, one French degree 10 mg of CaCO3 a litre (mmol of calcium a litre)."""
_TYPED = re.compile(r"(?P<number>[0-9]+(?:[.,][0-9]+)?|[.,][0-9]+)\s*(?P<unit>.*)", re.DOTALL)
_CARBONATE = ("caco3", "calciumcarbonate")
_BICARBONATE = ("hco3", "bicarbonate", "hydrogencarbonate")


def mmol_l(key: str, typed: str) -> float | str:
    """What was typed for one key of [tub] water in mmol a litre; the text itself when it is no such amount.

    A bare number is mmol a litre already. Known units: mmol/l, meq/l, mg/l (of the ion; "mg/l CaCO3", and for
    alkalinity also "mg/l HCO3"), ppm like mg/l, °dH and °f (of hardness, or of alkalinity as carbonate hardness).
    """
    match = _TYPED.fullmatch(typed.strip())
    if match is None:
        return typed
    number = float(match["number"].replace(",", "."))
    per_unit = _per_unit(key, _plain(match["unit"]))
    return typed if per_unit is None else float(f"{number * per_unit:.4g}")


def _plain(unit: str) -> str:
    plain = unit.casefold().replace("₃", "3").replace("₄", "4")
    for word in ("as", "°", " ", "-", "−", "\u00a0", "\u202f", "."):
        plain = plain.replace(word, "")
    return plain.replace("litre", "l").replace("liter", "l").replace("ppm", "mg/l")


def _per_unit(key: str, unit: str) -> float | None:
    """Mmol a litre in one of the unit: of the ion, or of equivalents for alkalinity."""
    alkalinity = key == "alkalinity_mmol_l"
    if unit in ("", "mmol/l"):
        return 1.0
    if unit in ("meq/l", "mval/l"):
        return 1.0 if alkalinity else 1.0 / _CHARGES[key]
    if unit in _DEGREE_MMOL_L:
        return _DEGREE_MMOL_L[unit] * (2.0 if alkalinity else 1.0) if key in _HARDNESS else None
    mass, _, what = unit.partition("/l")
    if mass != "mg":
        return None
    if what in _CARBONATE and key in _HARDNESS:
        return (2.0 if alkalinity else 1.0) / CACO3_G_MOL
    if alkalinity:
        return 1.0 / _HCO3_G_MOL if what in _BICARBONATE else None
    return 1.0 / MASSES_G_MOL[key] if what in ("", *_SYMBOLS[key]) else None


_CHARGES = {
    "calcium_mmol_l": 2.0,
    "magnesium_mmol_l": 2.0,
    "sodium_mmol_l": 1.0,
    "potassium_mmol_l": 1.0,
    "chloride_mmol_l": 1.0,
    "sulfate_mmol_l": 2.0,
}
_SYMBOLS = {
    "calcium_mmol_l": ("ca", "calcium"),
    "magnesium_mmol_l": ("mg", "magnesium"),
    "sodium_mmol_l": ("na", "sodium"),
    "potassium_mmol_l": ("k", "potassium"),
    "chloride_mmol_l": ("cl", "chloride"),
    "sulfate_mmol_l": ("so4", "sulfate", "sulphate"),
}
_HARDNESS = ("alkalinity_mmol_l", "calcium_mmol_l", "magnesium_mmol_l")
