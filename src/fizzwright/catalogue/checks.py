"""Whether the tables hold together: units, ranges, CAS check digits, order of min, typical and max, sources, joins."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

from fizzwright.catalogue.faults import Fault
from fizzwright.catalogue.model import (
    Caution,
    Constituent,
    Dye,
    Entry,
    Limit,
    Material,
    Mould,
    Oil,
    OilConstituent,
)

if TYPE_CHECKING:
    from fizzwright.catalogue.holdings import Catalogue

WAYS = ("read", "library", "memory", "estimate")
FUNCTIONS = (
    "acid", "base", "filler", "salt", "desiccant", "colourant", "carrier_oil", "solid_fat", "binder_liquid",
    "humectant", "solubiliser", "emulsifier", "surfactant", "hardener", "thickener", "preservative", "botanical",
)  # fmt: skip
RELEVANCES = ("limit", "identity", "scent", "minor")
RULES = ("ifra", "eu_annex_ii", "eu_annex_iii", "canada_hotlist", "us_cfr", "other")
STATUSES = ("known", "exists_but_not_held", "no_figure_by_nature")
MARKETS = ("us", "eu", "uk", "ca", "au")
AUDIENCES = ("adult", "child_6_plus", "child_2_plus", "pregnancy")
LEVELS = ("avoid", "limit", "note")
VOLATILITIES = ("", "top", "middle", "base")
SHAPES: Mapping[str, tuple[str, ...]] = {
    "sphere": ("diameter_mm",),
    "half_sphere": ("diameter_mm",),
    "cap": ("diameter_mm", "height_mm"),
    "ellipsoid": ("length_mm", "width_mm", "height_mm"),
    "cylinder": ("diameter_mm", "height_mm"),
    "cuboid": ("length_mm", "width_mm", "height_mm"),
    "torus": ("ring_mm", "tube_mm"),
    "cone": ("diameter_mm", "height_mm"),
    "frustum": ("bottom_mm", "top_mm", "height_mm"),
    "heart": ("width_mm", "height_mm", "depth_mm"),
    "weight": (),
    "mesh": (),
}

# Column: lowest and highest figure that can be true of anything in this trade, with the unit for the message.
RANGES: Mapping[str, tuple[float, float, str]] = {
    "molar_mass_g_mol": (10, 2000, "g/mol"),
    "acid_equivalents_per_mol": (1, 12, "mol a mol"),
    "base_equivalents_per_mol": (1, 6, "mol a mol"),
    "carbonate_per_mol": (1, 6, "mol a mol"),
    "true_density_g_ml": (0.6, 10, "g/ml"),
    "bulk_density_loose_g_ml_min": (0.01, 3, "g/ml"),
    "bulk_density_loose_g_ml_typ": (0.01, 3, "g/ml"),
    "bulk_density_loose_g_ml_max": (0.01, 3, "g/ml"),
    "bulk_density_tapped_g_ml": (0.01, 4, "g/ml"),
    "water_solubility_g_per_100ml_25c": (0, 400, "g in 100 ml"),
    "critical_relative_humidity_pct_25c": (5, 100, "% RH"),
    "melting_point_c": (-150, 3000, "C"),
    "flash_point_c": (-30, 400, "C"),
    "density_g_ml_20c_min": (0.7, 1.3, "g/ml"),
    "density_g_ml_20c_max": (0.7, 1.3, "g/ml"),
    "boiling_point_c": (30, 600, "C"),
    "vapour_pressure_pa_25c": (1e-9, 1e5, "Pa"),
    "logp": (-5, 15, "log units"),
    "water_solubility_mg_l_25c": (0, 1e6, "mg/l"),
    "henry_pa_m3_mol": (1e-9, 1e6, "Pa m3/mol"),
    "henry_dimensionless_kaw_25c": (1e-13, 1e3, "air to water"),
    "henry_dln_dinvT_k": (0, 15000, "K"),
    "odour_threshold_air_min_mg_m3": (1e-9, 1e4, "mg/m3"),
    "odour_threshold_air_typical_mg_m3": (1e-9, 1e4, "mg/m3"),
    "inhalation_irritation_reference_mg_m3": (1e-6, 1e4, "mg/m3"),
    "inhalation_action_value_mg_m3": (1e-6, 1e4, "mg/m3"),
    "volume_ml": (0.001, 5000, "ml"),
    "piece_g_typ": (0.1, 5000, "g"),
    "overfill_mm": (0, 30, "mm"),
    "cavities": (1, 500, "cavities"),
    "peak_nm": (300, 800, "nm"),
    "short_nm": (1, 300, "nm"),
    "long_nm": (1, 300, "nm"),
    "peak2_nm": (300, 800, "nm"),
    "short2_nm": (1, 300, "nm"),
    "long2_nm": (1, 300, "nm"),
    "share2": (0, 2, "times the first peak"),
    "e1pct_1cm": (0, 5000, "absorbance of 10 g/l in 1 cm"),
    "absorbs_m2_g": (0, 50, "m2/g"),
    "scatters_m2_g": (0, 50, "m2/g"),
}
DYE_NEEDS: Mapping[str, tuple[str, ...]] = {
    "band": ("peak_nm", "short_nm", "long_nm"),
    "edge": ("peak_nm", "long_nm"),
    "tail": ("peak_nm", "long_nm"),
    "grey": (),
    "none": (),
}
"""The columns that each shape of a dye is drawn with."""
ORDERED: tuple[tuple[str, ...], ...] = (
    ("bulk_density_loose_g_ml_min", "bulk_density_loose_g_ml_typ", "bulk_density_loose_g_ml_max"),
    ("bulk_density_loose_g_ml_typ", "bulk_density_tapped_g_ml", "true_density_g_ml"),
    ("typical_use_pct_min", "typical_use_pct_max"),
    ("density_g_ml_20c_min", "density_g_ml_20c_max"),
    ("min_pct", "typical_pct", "max_pct"),
    ("odour_threshold_air_min_mg_m3", "odour_threshold_air_typical_mg_m3"),
    ("value_min", "value_typ", "value_max"),
    ("min", "typical", "max"),
)
CHOICES: Mapping[type, Mapping[str, Collection[str]]] = {
    Material: {"function": FUNCTIONS},
    Constituent: {"volatility": VOLATILITIES},
    OilConstituent: {"relevance": RELEVANCES, "how": WAYS, "typical_how": WAYS},
    Limit: {"rule": RULES, "figure_status": STATUSES, "jurisdictions": MARKETS, "binds_audiences": AUDIENCES},
    Caution: {"level": LEVELS},
    Oil: {"phototoxic": ("yes", "no", "distilled-no")},
    Mould: {"shape": tuple(SHAPES)},
    Dye: {"kind": ("dye", "plant", "oil", "pigment", "glitter", "cloud"), "shape": tuple(DYE_NEEDS)},
}
_CAS = re.compile(r"(\d{2,7})-(\d{2})-(\d)")
LEAST_SUM_PCT, MOST_SUM_PCT = 70.0, 102.0


def cas_is_right(number: str) -> bool:
    """True when a CAS registry number has the right form and check digit (sum of digits by place, modulo 10)."""
    match = _CAS.fullmatch(number)
    if not match:
        return False
    digits = (match[1] + match[2])[::-1]
    return sum(place * int(digit) for place, digit in enumerate(digits, 1)) % 10 == int(match[3])


def check_record(record: Entry | OilConstituent, table: str, row: str, sources: Collection[str]) -> Iterator[Fault]:
    """All faults of one record, whatever its kind."""
    yield from _check_cas(record, table, row)
    yield from _check_ranges(record, table, row)
    yield from _check_order(record, table, row)
    yield from _check_choices(record, table, row)
    yield from _check_sources(record, table, row, sources)
    if isinstance(record, Material):
        yield from _check_material(record, table)
    elif isinstance(record, Mould):
        yield from _check_mould(record, table)
    elif isinstance(record, Limit):
        yield from _check_limit(record, table)
    elif isinstance(record, Dye):
        yield from _check_dye(record, table)
    elif isinstance(record, Oil):
        yield from _check_oil(record, table, sources)


def _check_cas(record: Entry | OilConstituent, table: str, row: str) -> Iterator[Fault]:
    for column in ("cas", "cas_aliases"):
        value = getattr(record, column, ())
        for number in value.split(";") if isinstance(value, str) else value:
            if number.strip() and not cas_is_right(number.strip()):
                yield Fault(table, row, column, number.strip(), "a CAS number whose check digit fits, such as 144-55-8")


def _check_ranges(record: Entry | OilConstituent, table: str, row: str) -> Iterator[Fault]:
    for column in getattr(type(record), "__slots__", ()):
        value = getattr(record, column)
        low, high, unit = RANGES.get(
            column, (0.0, 100.0, "%") if column.endswith("_pct") or "_pct_" in column else (0, 0, "")
        )
        if unit and isinstance(value, int | float) and not isinstance(value, bool) and not low <= value <= high:
            yield Fault(table, row, column, f"{value:g}", f"{low:g} to {high:g} {unit}")


def _check_order(record: Entry | OilConstituent, table: str, row: str) -> Iterator[Fault]:
    for columns in ORDERED:
        known = [(column, value) for column in columns if (value := getattr(record, column, None)) is not None]
        for (low_column, low), (high_column, high) in pairwise(known):
            if low > high:
                yield Fault(table, row, low_column, f"{low:g}", f"at most the {high_column} of {high:g}")


def _check_choices(record: Entry | OilConstituent, table: str, row: str) -> Iterator[Fault]:
    for column, allowed in CHOICES.get(type(record), {}).items():
        value = getattr(record, column)
        for item in (value,) if isinstance(value, str) else value:
            if item not in allowed:
                yield Fault(table, row, column, item, "one of " + ", ".join(a or "(nothing)" for a in allowed))


def _check_sources(record: Entry | OilConstituent, table: str, row: str, sources: Collection[str]) -> Iterator[Fault]:
    if isinstance(record, OilConstituent):
        cited = (*record.sources, *record.typical_sources)
        ways: Iterable[str] = ()
    else:
        cited = tuple(item for ids in record.sources.values() for item in ids)
        ways = record.how.values()
    for item in cited:
        if item not in sources:
            yield Fault(table, row, "source", item, "an id that stands in sources.csv")
    for way in ways:
        if way not in WAYS:
            yield Fault(table, row, "how", way, "one of " + ", ".join(WAYS))


def _check_material(material: Material, table: str) -> Iterator[Fault]:
    gone = material.water_mass_pct + material.alcohol_mass_pct
    if gone > 100:
        allowed = "at most 100 % together with alcohol_mass_pct"
        yield Fault(table, material.id, "water_mass_pct", f"{material.water_mass_pct:g}", allowed)
    counts = (material.acid_equivalents_per_mol, material.base_equivalents_per_mol, material.carbonate_per_mol)
    if any(count is not None for count in counts) and material.molar_mass_g_mol is None:
        yield Fault(table, material.id, "molar_mass_g_mol", "", "a molar mass, since equivalents a mol are given")


def _check_mould(mould: Mould, table: str) -> Iterator[Fault]:
    wanted = SHAPES.get(mould.shape)
    if wanted is None:
        return
    for column in wanted:
        if not 0 < mould.dims_mm.get(column, 0) <= 1000:
            read = f"{mould.dims_mm.get(column, '')}"
            allowed = f"millimetres above 0 and up to 1000 for a {mould.shape}"
            yield Fault(table, mould.id, column, read, allowed)
    for column in mould.dims_mm.keys() - set(wanted):
        yield Fault(
            table, mould.id, column, f"{mould.dims_mm[column]:g}", f"nothing; a {mould.shape} has no such measure"
        )
    if mould.shape == "weight" and mould.piece_g_typ is None:
        yield Fault(table, mould.id, "piece_g_typ", "", "grams a piece, since the mould is known by weight")
    if mould.shape == "mesh" and not mould.mesh:
        yield Fault(table, mould.id, "mesh", "", "the name of an STL file")


def _check_dye(dye: Dye, table: str) -> Iterator[Fault]:
    wanted = [*DYE_NEEDS.get(dye.shape, ())]
    wanted += ["short2_nm", "long2_nm", "share2"] if dye.peak2_nm else []
    wanted += ["e1pct_1cm"] if dye.dissolves_pct else []
    for column in wanted:
        if getattr(dye, column) is None:
            yield Fault(table, dye.id, column, "", f"a figure, since {dye.name} cannot be drawn without it")


def _check_limit(limit: Limit, table: str) -> Iterator[Fault]:
    if (limit.figure_status == "known") != (limit.limit_pct is not None):
        read = "" if limit.limit_pct is None else f"{limit.limit_pct:g}"
        yield Fault(table, limit.id, "limit_pct", read, "a figure when figure_status is known, and only then")
    if limit.effective_from and limit.effective_to and limit.effective_from > limit.effective_to:
        yield Fault(table, limit.id, "effective_to", f"{limit.effective_to}", f"{limit.effective_from} or later")


def _check_oil(oil: Oil, table: str, sources: Collection[str]) -> Iterator[Fault]:
    shares = f"{Path(table).parent / 'oil_constituents.csv'}"
    for part in oil.constituents:
        yield from check_record(part, shares, f"{oil.id}, {part.constituent}", sources)
    for name, count in Counter(part.constituent for part in oil.constituents).items():
        if count > 1:
            yield Fault(shares, oil.id, "constituent", name, "each constituent once an oil")
    if not oil.constituents:
        yield Fault(shares, oil.id, "constituent", "", "at least one constituent, so that limits can be summed")
        return
    total = sum(part.typical_pct or 0.0 for part in oil.constituents)
    rest = oil.remainder_pct or 0.0
    if rest and not oil.remainder:
        yield Fault(
            table, oil.id, "remainder", "", "words on what the rest of the oil is, since remainder_pct is given"
        )
    if not LEAST_SUM_PCT <= total + rest <= MOST_SUM_PCT:
        allowed = (
            f"typical figures that sum to {LEAST_SUM_PCT:g} to {MOST_SUM_PCT:g} %, or a remainder explained in oils.csv"
        )
        yield Fault(shares, oil.id, "typical_pct", f"sum {total:.1f} %, remainder {rest:.1f} %", allowed)


def check_tables(folder: Path) -> list[Fault]:
    """Every fault of the tables in a catalogue data folder: cells, ranges, order, sources and joins, all at once."""
    from fizzwright.catalogue.holdings import read_tables

    faults: list[Fault] = []
    catalogue = read_tables(folder, faults)
    for table, entries in (
        ("materials.csv", catalogue.materials.values()),
        ("oils.csv", catalogue.oils.values()),
        ("constituents.csv", catalogue.constituents.values()),
        ("moulds.csv", catalogue.moulds.values()),
        ("measures.csv", catalogue.measures.values()),
        ("facts.csv", catalogue.facts.values()),
        ("limits.csv", catalogue.limits),
        ("allergens.csv", catalogue.allergens),
        ("cautions.csv", catalogue.cautions),
        ("colour_rules.csv", catalogue.colours.values()),
        ("dyes.csv", catalogue.dyes.values()),
        ("odour_words.csv", catalogue.odour_words.values()),
    ):
        for entry in entries:
            faults.extend(check_record(entry, table, entry.id, catalogue.sources))
    faults.extend(_check_joins(catalogue))
    return faults


def _check_joins(catalogue: Catalogue) -> Iterator[Fault]:
    """Names that must stand in another table: constituents, limited substances, label names, caution subjects."""
    substances = {limit.substance for limit in catalogue.limits}
    rules = {f"{limit.rule}:{limit.substance}" for limit in catalogue.limits}
    labels = {allergen.label_name for allergen in catalogue.allergens}
    subjects = {caution.subject for caution in catalogue.cautions}
    names = {constituent.name: constituent for constituent in catalogue.constituents.values()}
    for table, entries in (
        ("oils.csv", catalogue.oils.values()),
        ("constituents.csv", catalogue.constituents.values()),
    ):
        for entry in entries:
            for column, known, where in (
                ("limit_substances", substances, "limits.csv, substance"),
                ("limit_rules_added_only", rules, "limits.csv, rule:substance"),
                ("allergen_label_name", labels, "allergens.csv, label_name"),
                ("caution_names", subjects, "cautions.csv, subject"),
                ("caution_names_from_constituents", subjects, "cautions.csv, subject"),
            ):
                value = getattr(entry, column, ())
                for name in ((value,) if value else ()) if isinstance(value, str) else value:
                    if name not in known:
                        yield Fault(table, entry.id, column, name, f"a name that stands in {where}")
    for dye in catalogue.dyes.values():
        if dye.id not in catalogue.materials:
            yield Fault("dyes.csv", dye.id, "id", dye.id, "the id of a material in materials.csv")
    for told in catalogue.odour_words.values():
        if told.id not in catalogue.constituents:
            yield Fault("odour_words.csv", told.id, "id", told.id, "the id of a constituent in constituents.csv")
    for oil in catalogue.oils.values():
        for part in oil.constituents:
            held = names.get(part.constituent)
            row = f"{oil.id}, {part.constituent}"
            if held is None:
                allowed = "a name that stands in constituents.csv"
                yield Fault("oil_constituents.csv", row, "constituent", part.constituent, allowed)
            elif held.cas != part.cas:
                yield Fault("oil_constituents.csv", row, "cas", part.cas, f"{held.cas}, as in constituents.csv")
