"""What a unit holds and what a thing weighs in it: cups, spoons, drops and sprays in four measure systems."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from fizzwright.catalogue.model import Material, Oil, Usable
from fizzwright.science import measuring

if TYPE_CHECKING:
    from fizzwright.catalogue import Catalogue

UNKNOWN_OIL_G_ML = 0.90
"""Density of an essential oil or aroma substance that has none in the catalogue (estimate: most lie at 0.85-1.0)."""
UNKNOWN_LIQUID_G_ML = 1.00
"""Density of a liquid that has none in the catalogue (estimate: that of water)."""
UNKNOWN_BULK_G_ML = 0.50
"""Bulk density of a dry thing of which nothing is known (estimate: petals lie far below it, pigments near it)."""
LOOSE_SOLID_SHARE = 0.40
"""Share of a loose powder's volume that is solid, when only its true density is known (estimate)."""
UNKNOWN_DENSITY_SD = 0.30
LIQUID_DENSITY_SD = 0.01
"""Spread of a liquid's density between lots and rooms (estimate)."""
SPRAY_SD = 0.25
SPOON_POUR_SD = 0.10
"""Pouring into kitchen spoons (estimate: the mean of the two biases of measures.csv var_spoon_small and _large)."""
MOSTLY_ALCOHOL_PCT = 50.0


@dataclass(frozen=True, slots=True)
class Volume:
    """What one unit holds, in millilitres, with its source."""

    ml: float
    sources: tuple[str, ...]
    basis: str
    said: str = ""
    """A sentence when something had to be assumed."""


@dataclass(frozen=True, slots=True)
class Density:
    """What a millilitre weighs as measured, with its spread as a fraction."""

    g_ml: float
    sd_fraction: float
    sources: tuple[str, ...]
    basis: str
    why: str
    """What the spread stands for."""
    said: str = ""
    """A sentence when something had to be assumed."""


def is_poured(entry: Usable) -> bool:
    """True for what is poured or dropped; a surfactant sold as a solution counts too."""
    if not isinstance(entry, Material):
        return True
    return entry.is_liquid or (
        entry.function == "surfactant"
        and entry.bulk_density_loose_g_ml_typ is None
        and entry.true_density_g_ml is not None
    )


def consistency_range(entry: Usable) -> tuple[float, float] | None:
    """Least and most percent of the dry mass that brings a mix "to consistency"; None when it binds nothing."""
    if not isinstance(entry, Material) or not is_poured(entry) or entry.typical_use_pct_max is None:
        return None
    least, most = entry.typical_use_pct_min or 0.0, entry.typical_use_pct_max
    return (least, most) if most > 0 else None


def unit_ml(unit: str, system: str, catalogue: Catalogue) -> Volume:
    """The volume of one unit of capacity under a measure system (us, metric, uk or au).

    metric and au have no fluid ounce of their own: the imperial one (28.4 ml) is taken and said. A pinch is a
    sixteenth of the system's teaspoon, by custom.
    """
    if unit in ("ml", "l"):
        return Volume(1.0 if unit == "ml" else 1000.0, (), "exact")
    said = ""
    row_system, name, share = system, unit, 1.0
    if unit == "fl_oz" and system in ("metric", "au"):
        row_system = "uk"
        said = "Metric and Australian measures have no fluid ounce; the imperial one, 28.4 ml, was taken."
    elif unit == "pinch":
        name, share = "tsp", 1.0 / 16.0
        said = "A pinch was taken as a sixteenth of a teaspoon, by custom."
    row = catalogue.measures[f"{row_system}_{name}"]
    if row.volume_ml is None:
        raise ValueError(f"measures.csv, row {row.id}: volume_ml is empty; a measure needs its volume")
    basis = "estimate" if unit == "pinch" else "published"
    return Volume(row.volume_ml * share, row.sources_of("volume_ml"), basis, said)


def spray_ml(catalogue: Catalogue) -> Volume:
    """What one full stroke of a fine-mist spray head gives."""
    row = catalogue.measures["spray_mist"]
    if row.value_typ is None:
        raise ValueError(f"measures.csv, row {row.id}: value_typ is empty; sprays are counted by it")
    said = f"One spray was taken as {row.value_typ:g} ml ({row.how_of('value_typ')}); ten sprays on a scale would settle it."
    return Volume(row.value_typ, row.sources_of("value_typ"), "estimate", said)


def drop_ml(entry: Usable, catalogue: Catalogue) -> Volume:
    """The volume of one drop: essential oils and fatty liquids 1/30 ml, watery ones 1/20 ml, alcohols by mass."""
    watery = isinstance(entry, Material) and entry.function in ("binder_liquid", "humectant", "surfactant")
    if not watery:
        row = catalogue.measures["drop_eo_per_ml"]
        said = "" if isinstance(entry, Oil) else f"Drops of {entry.name} were taken as large as drops of essential oil."
        return Volume(
            1.0 / (row.value_typ or 30.0), row.sources_of("value_typ"), "estimate" if said else "published", said
        )
    if isinstance(entry, Material) and entry.alcohol_mass_pct >= MOSTLY_ALCOHOL_PCT:
        row = catalogue.measures["drop_alcohol"]
        grams = 1.0 / (row.value_typ or 55.0)
        return Volume(grams / poured_density(entry).g_ml, row.sources_of("value_typ"), "estimate")
    row = catalogue.measures["drop_usp_water_per_ml"]
    return Volume(1.0 / (row.value_typ or 20.0), row.sources_of("value_typ"), "published")


def poured_density(entry: Usable) -> Density:
    """Density of a liquid, a melted fat or an essential oil in g/ml; an estimate is said."""
    if isinstance(entry, Oil):
        low, high = entry.density_g_ml_20c_min, entry.density_g_ml_20c_max
        held = [value for value in (low, high) if value is not None]
        if held:
            middle = sum(held) / len(held)
            spread = (max(held) - min(held)) / (2.0 * measuring.Z90) / middle
            name = "density_g_ml_20c_min" if low is not None else "density_g_ml_20c_max"
            return Density(middle, spread, entry.sources_of(name), _basis(entry.how_of(name)), "the oil's density")
        return _guess(entry, UNKNOWN_OIL_G_ML, 0.06)
    if isinstance(entry, Material):
        if entry.true_density_g_ml is None:
            return _guess(entry, UNKNOWN_LIQUID_G_ML, 0.06)
        name = "true_density_g_ml"
        return Density(
            entry.true_density_g_ml,
            LIQUID_DENSITY_SD,
            entry.sources_of(name),
            _basis(entry.how_of(name)),
            "its density",
        )
    return _guess(entry, UNKNOWN_OIL_G_ML, 0.06)


def dry_density(entry: Material, habit: str) -> Density:
    """Bulk density of a dry material as it lies in the measure, by filling habit; an estimate is said."""
    figures = (
        entry.bulk_density_loose_g_ml_min,
        entry.bulk_density_loose_g_ml_typ,
        entry.bulk_density_loose_g_ml_max,
        entry.bulk_density_tapped_g_ml,
    )
    if all(figure is None for figure in figures):
        true = entry.true_density_g_ml
        loose = UNKNOWN_BULK_G_ML if true is None else LOOSE_SOLID_SHARE * true
        return _guess(entry, loose * measuring.HABIT_FACTOR[habit], UNKNOWN_DENSITY_SD)
    found = measuring.loose_density(*figures, habit)
    name = {
        "sieved": "bulk_density_loose_g_ml_min",
        "scooped": "bulk_density_loose_g_ml_max",
        "packed": "bulk_density_tapped_g_ml",
    }.get(habit, "bulk_density_loose_g_ml_typ")
    if found.basis != "published":
        name = "bulk_density_loose_g_ml_typ"
    basis = "estimate" if found.basis != "published" else _basis(entry.how_of(name))
    return Density(found.density_g_ml, found.sd_fraction, entry.sources_of(name), basis, f"how it lies {habit}")


def density(entry: Usable, habit: str | None) -> Density:
    """Density of anything as it is measured; the habit (default spooned) counts for dry materials only."""
    if isinstance(entry, Material) and not is_poured(entry):
        return dry_density(entry, habit or "spooned")
    return poured_density(entry)


def _guess(entry: Usable, g_ml: float, sd_fraction: float) -> Density:
    said = f"The catalogue holds no density for {entry.name}; {g_ml:.2g} g/ml was taken (estimate)."
    return Density(g_ml, sd_fraction, (), "estimate", "its density, which is a guess", said)


def _basis(how: str) -> str:
    return "published" if how in ("read", "library") else "estimate"
