"""What the air takes up of each scent: its constituents, how much of each, and how readily it leaves the bath."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.model import Constituent, Oil
from fizzwright.recipe.mix import Mix
from fizzwright.review.joins import analysis_of, doubted, likely_pct, rows_of

Array = NDArray[np.float64]

CLASSES = ("top", "middle", "base")
TRACE_SHARE = 2e-4
"""Share of the scent below which a constituent is left out, unless its odour alone could matter."""
TRACE_ACTIVITY = 0.3
"""Odour activity, were all of it in a small room's air at once, below which a trace is left out."""
SMALL_ROOM_M3 = 8.0

SUMS = {"monoterpene (bicyclic)": "bicyclic terpenes", "monoterpene (monocyclic)": "monocyclic terpenes"}
"""What the sum of a family is called for which one guide value is set."""

FAMILIES: dict[str, tuple[float, float, float, float]] = {
    "monoterpene": (250.0, 4.4, 8.0, 1.5),
    "monoterpene (acyclic)": (250.0, 4.3, 8.0, 0.5),
    "monoterpene (bicyclic)": (400.0, 4.4, 5.0, 1.5),
    "monoterpene (monocyclic)": (190.0, 4.5, 9.0, 1.5),
    "aromatic monoterpene": (195.0, 4.1, 23.0, 1.5),
    "monoterpene alcohol": (6.0, 3.2, 700.0, 0.1),
    "monoterpene oxygenated": (15.0, 3.0, 1000.0, 0.1),
    "terpene ketone": (30.0, 2.8, 1200.0, 0.2),
    "terpene aldehyde": (12.0, 3.4, 500.0, 0.05),
    "terpene ester": (8.0, 4.0, 30.0, 0.3),
    "terpene ether": (150.0, 3.0, 2000.0, 0.2),
    "sesquiterpene": (2.0, 6.3, 0.1, 0.5),
    "sesquiterpene alcohol": (0.05, 4.8, 15.0, 0.1),
    "sesquiterpene oxygenated": (0.05, 4.8, 15.0, 0.1),
    "sesquiterpene oxide": (0.1, 4.8, 15.0, 0.3),
    "sesquiterpene ketone": (0.1, 4.5, 20.0, 0.05),
    "diterpene oxygenated": (0.0003, 8.0, 0.01, 1.0),
    "diterpene alcohol": (0.0003, 6.0, 0.1, 1.0),
    "phenol": (3.0, 3.0, 1000.0, 0.02),
    "phenol ether": (5.0, 3.3, 150.0, 0.05),
    "phenol ester": (0.4, 3.0, 400.0, 0.1),
    "aromatic aldehyde": (5.0, 1.9, 1500.0, 0.02),
    "aromatic alcohol": (8.0, 1.7, 20000.0, 0.1),
    "aromatic ester": (3.0, 2.5, 500.0, 0.1),
    "aliphatic aldehyde": (30.0, 3.5, 100.0, 0.002),
    "aliphatic ester": (100.0, 3.0, 500.0, 0.05),
    "aliphatic ketone": (200.0, 2.4, 2500.0, 0.1),
    "norisoprenoid": (2.0, 4.0, 120.0, 0.0005),
}
"""estimate: vapour pressure (Pa), log Kow, solubility (mg/l) and odour threshold (mg/m3) for a family, at 25 C. The first
three stand near the middle of the rows of the same family that hold figures; sesquiterpenes and diterpenes have none
and stand on general knowledge. Thresholds are good to a factor of ten at best."""
BY_CLASS: dict[str, tuple[float, float, float, float]] = {
    "top": (50.0, 2.8, 1000.0, 0.1),
    "middle": (3.0, 3.5, 200.0, 0.1),
    "base": (0.05, 4.5, 20.0, 0.1),
}
"""estimate: the same for a substance of no known family, by how fleeting it is."""
SLOPE_K = 4500.0
"""estimate: how Henry constants of terpenes answer to warmth (Sander's rows run from 2200 to 8700 K); used where none is
held."""
OWN_OIL_MG_L = 9.0e5
"""Concentration of an oil in itself: with a solubility it stands for a partition coefficient that is not held."""
MEASURED, GUESSED = 1.5, 4.0
"""estimate: 90 % factors either way on a measured and on an estimated property of evaporation."""
NOSES, ONE_METHOD = 10.0, 3.0
"""estimate: 90 % factors either way on an odour threshold by family, and on one known by a single method."""


@dataclass(frozen=True)
class Vapours:
    """The constituents of a mix's scent that can be followed, K of them, from L scented lines of the recipe."""

    entries: tuple[Constituent, ...]
    places: tuple[int, ...]
    """Places in the mix of the L scented lines."""
    share: Array
    """Of each line that is each constituent, 0 to 1; shape (L, K)."""
    share_low: Array
    share_high: Array
    molar_mass_g_mol: Array
    vapour_pressure_pa: Array
    """At 25 C, like the rest; shape (K,)."""
    henry_pa_m3_mol: Array
    slope_k: Array
    kow: Array
    doubt: Array
    """90 % factor either way on how readily it evaporates."""
    threshold_mg_m3: Array
    threshold_low: Array
    kind: tuple[str, ...]
    """top, middle or base."""
    guide_mg_m3: Array
    """nan where there is none."""
    action_mg_m3: Array
    guessed: NDArray[np.bool_]
    """True where the vapour pressure and Henry constant are estimates by family."""
    guessed_nose: NDArray[np.bool_]
    """True where the odour threshold is an estimate by family."""
    left_out_share: float
    """Share of the scent, by mass, of which nothing is known that the air could be reckoned from."""

    def groups(self) -> dict[str, list[int]]:
        """Constituents that share one guide value, as the value is set for their sum; by name of the group."""
        found: dict[tuple[str, float], list[int]] = {}
        for k, entry in enumerate(self.entries):
            if not np.isnan(self.guide_mg_m3[k]):
                found.setdefault((entry.family, float(self.guide_mg_m3[k])), []).append(k)
        return {
            SUMS.get(family, f"{family}s") if len(members) > 1 else self.entries[members[0]].name: members
            for (family, _), members in found.items()
        }


def _guess(entry: Constituent) -> tuple[float, float, float, float] | None:
    return FAMILIES.get(entry.family) or BY_CLASS.get(entry.volatility)


def _properties(entry: Constituent) -> tuple[float, ...] | None:
    """Mass, pressure, Henry, slope, Kow, doubt, threshold, lowest threshold, guessed, guessed nose; None when unknown."""
    mass, guess = entry.molar_mass_g_mol, _guess(entry)
    pressure = entry.vapour_pressure_pa_25c
    if mass is None or (guess is None and (pressure is None or entry.water_solubility_mg_l_25c is None)):
        return None
    held = guess or (pressure or 0.0, 0.0, entry.water_solubility_mg_l_25c or 0.0, BY_CLASS["middle"][3])
    guessed = pressure is None or (entry.henry_pa_m3_mol is None and entry.water_solubility_mg_l_25c is None)
    pressure = pressure if pressure is not None else held[0]
    soluble = entry.water_solubility_mg_l_25c or held[2]
    henry = entry.henry_pa_m3_mol if entry.henry_pa_m3_mol is not None else pressure * mass / soluble
    if entry.logp is not None:
        kow = 10.0**entry.logp
    elif entry.water_solubility_mg_l_25c:
        kow = OWN_OIL_MG_L / entry.water_solubility_mg_l_25c
    else:
        kow = 10.0 ** held[1]
    nose = entry.odour_threshold_air_typical_mg_m3
    if nose is None:
        threshold, low = held[3], held[3] / NOSES
    else:
        low = min(entry.odour_threshold_air_min_mg_m3 or nose, nose / ONE_METHOD)
        threshold = nose
    return (
        mass, pressure, henry, entry.henry_dln_dinvT_k or SLOPE_K, kow, GUESSED if guessed else MEASURED, threshold, low,
        float(guessed), float(nose is None),
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Airborne:
    """How readily one constituent takes to the air, and from what concentration it is smelt."""

    molar_mass_g_mol: float
    vapour_pressure_pa: float
    threshold_mg_m3: float
    kind: str
    """top, middle or base."""


def airborne(entry: Constituent) -> Airborne | None:
    """The same properties that the air of the bathroom is reckoned with; None where nothing is known."""
    known = _properties(entry)
    return None if known is None else Airborne(known[0], known[1], known[6], _kind(entry, known[1]))


def _rows(
    mix: Mix, catalogue: Catalogue
) -> tuple[tuple[int, ...], dict[str, Constituent], list[dict[str, list[float]]]]:
    """The scented lines, every constituent met, and for each line constituent -> low, likely, high percent."""
    places: list[int] = []
    met: dict[str, Constituent] = {}
    lines: list[dict[str, list[float]]] = []
    for place, mixed in enumerate(mix.lines):
        entry = mixed.entry
        line: dict[str, list[float]] = {}
        if isinstance(entry, Constituent):
            met[entry.id] = entry
            line[entry.id] = [100.0, 100.0, 100.0]
        elif isinstance(entry, Oil):
            analysis = analysis_of(mix, place)
            if analysis and doubted(entry, analysis):
                analysis = ()
            for row, _ in rows_of(entry, analysis):
                constituent = catalogue.constituent_named(row.constituent)
                if constituent is None:
                    continue
                likely = likely_pct(row)[0]
                met[constituent.id] = constituent
                now = line.setdefault(constituent.id, [0.0, 0.0, 0.0])
                low = likely if row.min_pct is None else min(row.min_pct, likely)
                high = likely if row.max_pct is None else max(row.max_pct, likely)
                for i, value in enumerate((low, likely, high)):
                    now[i] += value
        else:
            continue
        places.append(place)
        lines.append(line)
    return tuple(places), met, lines


def vapours(mix: Mix, catalogue: Catalogue, per_bath: float) -> Vapours | None:
    """The constituents that can be followed; None when nothing in the mix is scented or nothing of it is known.

    per_bath: share of the whole mix that goes into one bath.
    """
    places, met, lines = _rows(mix, catalogue)
    grams = mix.grams[list(places)]
    total = float(grams.sum())
    if total <= 0:
        return None
    kept: list[tuple[Constituent, tuple[float, ...]]] = []
    for id_, entry in met.items():
        known = _properties(entry)
        if known is None:
            continue
        mass_g = float(sum(g * line[id_][1] for g, line in zip(grams, lines, strict=True) if id_ in line)) / 100
        most = 1000 * mass_g * per_bath / SMALL_ROOM_M3 / known[6]
        if mass_g >= TRACE_SHARE * total or most >= TRACE_ACTIVITY:
            kept.append((entry, known))
    if not kept:
        return None
    empty = [0.0, 0.0, 0.0]
    shares = np.array([[line.get(entry.id, empty) for entry, _ in kept] for line in lines]) / 100
    # typical figures of a species are collected one by one and can add up to more than the oil
    over = np.maximum(1.0, shares[..., 1].sum(axis=1))[:, None]
    table = np.array([known for _, known in kept])
    entries = tuple(entry for entry, _ in kept)
    likely = shares[..., 1] / over
    return Vapours(
        entries=entries,
        places=places,
        share=likely,
        share_low=shares[..., 0] / over,
        share_high=shares[..., 2] / over,
        molar_mass_g_mol=table[:, 0],
        vapour_pressure_pa=table[:, 1],
        henry_pa_m3_mol=table[:, 2],
        slope_k=table[:, 3],
        kow=table[:, 4],
        doubt=table[:, 5],
        threshold_mg_m3=table[:, 6],
        threshold_low=table[:, 7],
        kind=tuple(_kind(entry, known[1]) for entry, known in kept),
        guide_mg_m3=np.array([_or_nan(e.inhalation_irritation_reference_mg_m3) for e in entries]),
        action_mg_m3=np.array([_or_nan(e.inhalation_action_value_mg_m3) for e in entries]),
        guessed=table[:, 8] > 0,
        guessed_nose=table[:, 9] > 0,
        left_out_share=max(0.0, 1.0 - float(grams @ likely.sum(axis=1)) / total),
    )


def _or_nan(value: float | None) -> float:
    return value if value is not None else float("nan")


def _kind(entry: Constituent, pressure_pa: float) -> str:
    """The catalogue's class, else its rule: top from 10 Pa, middle from 0.5 Pa, else base."""
    return entry.volatility or ("top" if pressure_pa >= 10 else "middle" if pressure_pa >= 0.5 else "base")
