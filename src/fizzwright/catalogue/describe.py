"""An entry told row by row, each value with its unit, how it is known and where it was read: for faces to print."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any

from fizzwright.catalogue.model import (
    Allergen,
    Caution,
    ColourRule,
    Constituent,
    Dye,
    Entry,
    Fact,
    Limit,
    Material,
    Measure,
    Mould,
    Oil,
    OilConstituent,
)

if TYPE_CHECKING:
    from fizzwright.catalogue.holdings import Catalogue


@dataclass(frozen=True, slots=True)
class Row:
    """One line about an entry."""

    label: str
    value_text: str
    unit: str = ""
    how: str = ""
    """read, library, memory or estimate; "" where there is nothing to know (an id)."""
    sources: tuple[str, ...] = ()
    """Citation ids; Catalogue.sources tells what they are."""


# A row of each kind: columns (several columns make a range, joined by a dash), label, unit.
_Line = tuple[tuple[str, ...], str, str]
_LINES: Mapping[type[Entry], tuple[_Line, ...]] = {
    Material: (
        (("also",), "Also called", ""),
        (("function",), "Does", ""),
        (("inci",), "Label name", ""),
        (("inci_eu",), "Label name, EU", ""),
        (("cas",), "CAS number", ""),
        (("formula",), "Formula", ""),
        (("molar_mass_g_mol",), "Molar mass", "g/mol"),
        (("acid_equivalents_per_mol",), "Acid equivalents", "a mole"),
        (("base_equivalents_per_mol",), "Base equivalents", "a mole"),
        (("carbonate_per_mol",), "Carbon dioxide it can free", "mol a mole"),
        (("true_density_g_ml",), "True density", "g/ml"),
        (
            ("bulk_density_loose_g_ml_min", "bulk_density_loose_g_ml_typ", "bulk_density_loose_g_ml_max"),
            "Spooned density",
            "g/ml",
        ),
        (("bulk_density_tapped_g_ml",), "Packed density", "g/ml"),
        (("water_solubility_g_per_100ml_25c",), "Dissolves in water at 25 °C", "g in 100 ml"),
        (("water_solubility_class",), "Water", ""),
        (("critical_relative_humidity_pct_25c",), "Turns wet above", "% humidity"),
        (("melting_point_c",), "Melts at", "°C"),
        (("flash_point_c",), "Flash point", "°C"),
        (("water_mass_pct",), "Free water", "%"),
        (("alcohol_mass_pct",), "Alcohol", "%"),
        (("typical_use_pct_min", "typical_use_pct_max"), "Usual share of a mix", "%"),
        (("hazards",), "Hazards", ""),
        (("label_note",), "For the label", ""),
        (("us_colour_status",), "US colour standing", ""),
    ),
    Oil: (
        (("botanical",), "Plant", ""),
        (("plant_part",), "Part", ""),
        (("extraction",), "Made by", ""),
        (("inci",), "Label name", ""),
        (("inci_eu",), "Label name, EU", ""),
        (("cas",), "CAS number", ""),
        (("density_g_ml_20c_min", "density_g_ml_20c_max"), "Density at 20 °C", "g/ml"),
        (("flash_point_c",), "Flash point", "°C"),
        (("note_class",), "Note", ""),
        (("odour_family",), "Scent family", ""),
        (("phototoxic",), "Makes skin burn in the sun", ""),
        (("iso_standard",), "Standard", ""),
        (("cautions",), "Cautions", ""),
        (("allergen_label_name",), "Allergen name on an EU label", ""),
        (("limit_substances",), "Limited as a whole as", ""),
        (("remainder_pct",), "Not named below", "%"),
        (("remainder",), "That rest is", ""),
    ),
    Constituent: (
        (("cas",), "CAS number", ""),
        (("cas_aliases",), "CAS numbers of its forms", ""),
        (("family",), "Family", ""),
        (("formula",), "Formula", ""),
        (("molar_mass_g_mol",), "Molar mass", "g/mol"),
        (("boiling_point_c",), "Boils at", "°C"),
        (("vapour_pressure_pa_25c",), "Vapour pressure at 25 °C", "Pa"),
        (("logp",), "Oil to water (log P)", ""),
        (("water_solubility_mg_l_25c",), "Dissolves in water at 25 °C", "mg/l"),
        (("henry_pa_m3_mol",), "Henry's constant at 25 °C", "Pa m³/mol"),
        (
            ("odour_threshold_air_min_mg_m3", "odour_threshold_air_typical_mg_m3"),
            "Smelled in air from",
            "mg/m³",
        ),
        (("inhalation_irritation_reference_mg_m3",), "Indoor guide value", "mg/m³"),
        (("inhalation_action_value_mg_m3",), "Indoor action value", "mg/m³"),
        (("volatility",), "Note by volatility", ""),
        (("limit_substances",), "Limited as", ""),
        (("allergen_label_name",), "Allergen name on an EU label", ""),
    ),
    Limit: (
        (("rule",), "Rule", ""),
        (("jurisdictions",), "Where", ""),
        (("category",), "Product class", ""),
        (("limit_pct",), "At most, of the finished product", "%"),
        (("binds_bath_products",), "Binds bath products", ""),
        (("binds_audiences",), "For", ""),
        (("basis",), "Because of", ""),
        (("condition",), "Condition", ""),
        (("effective",), "Wording of the source", ""),
        (("effective_from",), "In force from", ""),
        (("effective_to",), "In force to", ""),
        (("cas",), "CAS numbers", ""),
    ),
    Allergen: (
        (("annex_iii_entry",), "Annex III entry", ""),
        (("rinse_off_threshold_pct",), "Name it above, rinse-off", "%"),
        (("leave_on_threshold_pct",), "Name it above, leave-on", "%"),
        (("applies_new_products_from",), "New products from", ""),
        (("applies_all_products_from",), "All products from", ""),
        (("constituent_names",), "Counts", ""),
        (("cas",), "CAS numbers", ""),
    ),
    Caution: (
        (("group",), "For", ""),
        (("level",), "Grade", ""),
        (("limit_pct",), "At most, of the product", "%"),
        (("reason",), "Why", ""),
    ),
    Measure: (
        (("type",), "Kind", ""),
        (("system",), "Measures", ""),
        (("volume_ml",), "Volume", "ml"),
        (("value_min", "value_typ", "value_max"), "Value", "unit"),
    ),
    Mould: (
        (("shape",), "Shape", ""),
        (("piece_g_typ",), "A piece", "g"),
        (("volume_ml",), "Volume", "ml"),
        (("cavities",), "Cavities", ""),
        (("flexible",), "Flexible", ""),
        (("halves",), "Two halves pressed together", ""),
        (("overfill_mm",), "Mound above each rim", "mm"),
    ),
    Fact: (
        (("topic",), "On", ""),
        (("min", "typical", "max"), "Value", "unit"),
    ),
    ColourRule: (
        (("ci_number",), "Colour index", ""),
        (("label_name_us",), "Label name, US", ""),
        (("label_name_eu",), "Label name, EU", ""),
        (("us_allowed",), "US", ""),
        (("us_bath_conservative",), "US, bath products, cautious reading", ""),
        (("us_max_level",), "US, at most", ""),
        (("us_reference",), "US reference", ""),
        (("us_certification_required",), "US certified batches", ""),
        (("eu_annex_iv_entry",), "EU Annex IV", ""),
        (("eu_field",), "EU field of use", ""),
    ),
    Dye: (
        (("kind",), "In the bath it acts as", ""),
        (("purity_pct",), "Colour in the powder", "%"),
        (("dissolves_pct",), "Of that, dissolves in a bath", "%"),
        (("peak_nm",), "Takes most light at", "nm"),
        (("e1pct_1cm",), "Absorbance there, 10 g/l in 1 cm", ""),
        (("peak2_nm",), "Second peak at", "nm"),
        (("absorbs_m2_g",), "Hanging in water, takes", "m²/g"),
        (("scatters_m2_g",), "Hanging in water, throws back", "m²/g"),
        (("glows",), "Glows (left out of the computed colour)", ""),
    ),
}
_PLAIN = ("also", "function", "shape", "limit_substances", "allergen_label_name", "cavities", "flexible", "halves")


def describe(entry: Entry, catalogue: Catalogue) -> list[Row]:
    """All that is held of an entry, in the order a maker asks; what is unknown is left out."""
    rows = [Row("Id", entry.id)]
    for columns, label, unit in _LINES.get(type(entry), ()):
        row = _row(entry, columns, label, unit)
        if row:
            rows.append(row)
    if isinstance(entry, Mould) and entry.dims_mm:
        text = ", ".join(f"{name.removesuffix('_mm')} {_text(size)}" for name, size in entry.dims_mm.items())
        rows.append(Row("Inside", text, "mm", entry.how_of("dims_mm"), entry.sources_of("dims_mm")))
    if isinstance(entry, Oil):
        rows.extend(_shares(entry.constituents))
    rows.extend(_joined(entry, catalogue))
    if entry.note:
        rows.append(Row("Note", entry.note))
    if entry.origin != "catalogue":
        rows.append(Row("Comes from", f"your workshop, {entry.origin}"))
    return rows


def _row(entry: Entry, columns: tuple[str, ...], label: str, unit: str) -> Row | None:
    values = [value for column in columns if (value := getattr(entry, column)) not in (None, "", ())]
    if not values or (isinstance(values[0], bool) and not values[0] and columns[0] != "binds_bath_products"):
        return None
    if isinstance(entry, Material) and columns[0] in ("water_mass_pct", "alcohol_mass_pct") and not values[0]:
        return None
    middle = next((column for column in columns if column.endswith(("_typ", "typical"))), columns[0])
    if unit == "unit":
        unit = getattr(entry, "unit", "")
    text = _range_text(values, len(columns))
    if columns[0] in _PLAIN:
        return Row(label, text, unit)
    known = middle if getattr(entry, middle) not in (None, "", ()) else columns[0]
    return Row(label, text, unit, entry.how_of(known), entry.sources_of(known))


def _range_text(values: list[Any], columns: int) -> str:
    if len(values) == 3 and columns == 3:
        low, typical, high = (_text(value) for value in values)
        return f"{typical} ({low} to {high})"
    return " to ".join(dict.fromkeys(_text(value) for value in values))


def _shares(parts: tuple[OilConstituent, ...]) -> Iterator[Row]:
    for part in sorted(parts, key=lambda p: -(p.typical_pct or 0.0)):
        values = [value for value in (part.min_pct, part.typical_pct, part.max_pct) if value is not None]
        # The typical figure is the one a maker reads first, so its own provenance is told.
        how, sources = (part.typical_how, part.typical_sources) if part.typical_pct is not None else (part.how, ())
        text = _range_text(values, 3)
        yield Row(part.constituent, text, "%", how, tuple(dict.fromkeys((*sources, *part.sources))))


def _joined(entry: Entry, catalogue: Catalogue) -> Iterator[Row]:
    """Limits and cautions that reach an oil or constituent by name; how a material colours the water."""
    if isinstance(entry, Material) and entry.id in catalogue.dyes:
        dye = catalogue.dyes[entry.id]
        for columns, label, unit in _LINES[Dye]:
            row = _row(dye, columns, label, unit)
            if row:
                yield row
        if dye.note:
            yield Row("In the bath", dye.note)
    if not isinstance(entry, Oil | Constituent):
        return
    if told := catalogue.odour_words.get(entry.id):
        yield Row("Smells of", "; ".join(told.words), "", told.how_of("words"), told.sources_of("words"))
    for limit in catalogue.limits:
        if limit.substance in entry.limit_substances and limit.limit_pct is not None:
            label = f"Limit, {limit.rule}, {limit.category}"
            yield Row(label, _text(limit.limit_pct), "%", limit.how_of(""), limit.sources_of(""))
    for caution in catalogue.cautions:
        if caution.subject in entry.caution_names:
            group = caution.group.replace("_", " ")
            yield Row(f"Caution, {group}", caution.reason, "", caution.how_of(""), caution.sources_of(""))


def _text(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float | int):
        return f"{value:.6g}"
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, tuple):
        return "; ".join(value)
    return str(value)
