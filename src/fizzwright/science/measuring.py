"""Cups, spoons and grams: what a volume weighs, and how well a person at a kitchen table measures it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Numbers = float | NDArray[np.float64]

EQUATIONS: dict[str, str] = {
    "grams": "mass = volume x density",
    "volume_ml": "volume = mass / density",
    "loose_density": "sieved: lowest loose density; spooned: typical; scooped: highest loose; packed: tapped",
    "combined_sd": "sd = sqrt(sd_1^2 + sd_2^2 + ...)",
    "interval_g": "low, high = mass x exp(-/+ 1.645 s), s = sqrt(ln(1 + cv^2))",
}

HABITS = ("sieved", "spooned", "scooped", "packed")

# What a habit does to the typical density when the material has no figure of its own.
# Basis: estimate. Sieved: sifting alone took 17 % off a cup of sugar (measures.csv, var_sugar_sifting). Packed: a
# Hausner ratio (tapped over loose) of 1.25, the usual border between powders that flow well and badly. Scooped: half
# of that.
HABIT_FACTOR = {"sieved": 0.83, "spooned": 1.0, "scooped": 1.12, "packed": 1.25}

# Basis: estimate. Spread of the loose density between grades and days when a material has no range of its own.
UNKNOWN_DENSITY_SD = 0.10

# half-width of the 90 % interval in standard deviations: standard normal quantile at 0.95
Z90 = 1.6448536269514722


def _positive(name: str, value: Numbers) -> None:
    """ValueError unless every value is finite and above zero."""
    if not np.all(np.isfinite(value) & (np.asarray(value) > 0)):
        raise ValueError(f"{name} must be a number above zero; read {value!r}")


def grams(volume_ml: Numbers, density_g_ml: Numbers) -> Numbers:
    """Mass in grams of a volume; broadcasts."""
    _positive("density_g_ml", density_g_ml)
    return volume_ml * density_g_ml


def volume_ml(mass_g: Numbers, density_g_ml: Numbers) -> Numbers:
    """Volume in millilitres of a mass; broadcasts; the inverse of `grams`."""
    _positive("density_g_ml", density_g_ml)
    return mass_g / density_g_ml


@dataclass(frozen=True, slots=True)
class LooseDensity:
    """The density of a powder as it lies in the measure, with its spread."""

    density_g_ml: float
    sd_fraction: float
    """One standard deviation of the density over the density."""
    basis: str
    """published when it is the material's own figure for this habit, estimate when worked out from another."""
    equation: str


def loose_density(
    minimum: float | None,
    typical: float | None,
    maximum: float | None,
    tapped: float | None,
    habit: str = "spooned",
) -> LooseDensity:
    """Bulk density in g/ml by filling habit: sieved, spooned, scooped or packed.

    Takes the material's own loose minimum, typical, maximum and tapped density, any of them None. A habit without its
    own figure is estimated from the typical one (HABIT_FACTOR). The spread reads minimum to maximum as a 90 % interval,
    or is 10 % (estimate). ValueError for an unknown habit, a figure not above zero, or when no figure is held at all.
    """
    if habit not in HABITS:
        raise ValueError(f"filling habit was {habit!r}; allowed are {', '.join(HABITS)}")
    held = {"sieved": minimum, "spooned": typical, "scooped": maximum, "packed": tapped}
    for name, value in held.items():
        if value is not None:
            _positive(f"the {name} density", value)
    if minimum is not None and maximum is not None:
        middle = typical if typical is not None else (minimum + maximum) / 2.0
        sd_fraction = abs(maximum - minimum) / (2.0 * Z90) / middle
    else:
        sd_fraction = UNKNOWN_DENSITY_SD
    own = held[habit]
    if own is not None:
        return LooseDensity(own, sd_fraction, "published", f"{habit} density {own:g} g/ml")
    # nearest habit that has a figure, the typical one first
    for other in ("spooned", "scooped", "packed", "sieved"):
        value = held[other]
        if value is not None:
            factor = HABIT_FACTOR[habit] / HABIT_FACTOR[other]
            density = value * factor
            equation = f"{habit} density = {other} density {value:g} g/ml x {factor:.3g} = {density:.3g} g/ml"
            return LooseDensity(density, combined_sd(sd_fraction, UNKNOWN_DENSITY_SD), "estimate", equation)
    raise ValueError(
        "no bulk density is held for this powder: weigh it, or add a bulk density to your own materials table"
    )


def combined_sd(*sd_fractions: float) -> float:
    """One standard deviation from several independent ones, in quadrature (GUM, JCGM 100:2008, eq. 10)."""
    return float(np.sqrt(sum(s * s for s in sd_fractions)))


def interval_g(mass_g: float, sd_fraction: float) -> tuple[float, float]:
    """The 90 % interval of a mass of that spread, log-normal so that it never falls below nothing."""
    sigma = float(np.sqrt(np.log1p(sd_fraction**2)))
    return mass_g * float(np.exp(-Z90 * sigma)), mass_g * float(np.exp(Z90 * sigma))
