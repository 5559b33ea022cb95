"""The kinds of thing the catalogue holds, one frozen record a row.

Every record keeps where its values came from: `sources` maps a field (or "" for the whole row) to citation ids,
`how` maps it to read, library, memory or estimate. A missing value is None or "", never zero.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date


@dataclass(frozen=True, slots=True)
class Source:
    """One citation: where a value was read, or that it was remembered or estimated."""

    id: str
    citation: str
    url: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Entry:
    """What every catalogue record has: an id, a name, and where its values came from."""

    id: str
    name: str
    sources: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    how: Mapping[str, str] = field(default_factory=dict)
    note: str = ""
    origin: str = "catalogue"
    """"catalogue", or the workshop file that added or shadowed the entry."""

    def sources_of(self, name: str) -> tuple[str, ...]:
        """Citation ids of one field, falling back to those of the whole row."""
        return self.sources.get(name) or self.sources.get("", ())

    def how_of(self, name: str) -> str:
        """How one field came here: read, library, memory or estimate."""
        return self.how.get(name) or self.how.get("", "memory")


@dataclass(frozen=True, slots=True)
class Material(Entry):
    """A powder, liquid, colour or aid of a fizzer (one row of materials.csv)."""

    also: tuple[str, ...] = ()
    """Other names a maker may know it by."""
    inci: str = ""
    inci_eu: str = ""
    cas: str = ""
    function: str = ""
    """acid, base, filler, salt, desiccant, colourant, carrier_oil, solid_fat, binder_liquid, humectant, solubiliser,
    emulsifier, surfactant, hardener, thickener, preservative, botanical."""
    formula: str = ""
    molar_mass_g_mol: float | None = None
    acid_equivalents_per_mol: float | None = None
    base_equivalents_per_mol: float | None = None
    carbonate_per_mol: float | None = None
    """Moles of CO2 a mole can free with enough acid (1 for a bicarbonate or carbonate, 2 for a sesquicarbonate)."""
    true_density_g_ml: float | None = None
    """Skeletal density of a powder; plain density of a liquid or fat."""
    bulk_density_loose_g_ml_min: float | None = None
    bulk_density_loose_g_ml_typ: float | None = None
    bulk_density_loose_g_ml_max: float | None = None
    bulk_density_tapped_g_ml: float | None = None
    water_solubility_g_per_100ml_25c: float | None = None
    water_solubility_class: str = ""
    critical_relative_humidity_pct_25c: float | None = None
    melting_point_c: float | None = None
    flash_point_c: float | None = None
    volatile: bool = False
    water_mass_pct: float = 0.0
    """Free water that leaves on curing, percent of the material (hydrate water does not count)."""
    alcohol_mass_pct: float = 0.0
    """Alcohol that leaves on curing, percent of the material."""
    typical_use_pct_min: float | None = None
    typical_use_pct_max: float | None = None
    hazards: str = ""
    label_note: str = ""
    us_colour_status: str = ""

    @property
    def is_liquid(self) -> bool:
        """True for what is poured or dropped, not spooned dry (solid fats are melted and poured, so they count)."""
        return self.bulk_density_loose_g_ml_typ is None and self.function in {
            "carrier_oil", "solid_fat", "binder_liquid", "humectant", "solubiliser", "emulsifier", "surfactant",
            "preservative",
        }  # fmt: skip


@dataclass(frozen=True, slots=True)
class OilConstituent:
    """One constituent of one oil, percent of the oil by mass: species range and typical."""

    constituent: str
    cas: str
    min_pct: float | None
    typical_pct: float | None
    max_pct: float | None
    relevance: str
    """limit, identity, scent or minor."""
    sources: tuple[str, ...] = ()
    how: str = "memory"
    typical_sources: tuple[str, ...] = ()
    typical_how: str = "memory"
    note: str = ""


@dataclass(frozen=True, slots=True)
class LotAnalysis:
    """What a laboratory found in one lot of one oil."""

    lot: str
    oil: str
    """Id of the oil the lot is of."""
    shares: tuple[OilConstituent, ...]
    unnamed_pct: float = 0.0
    """Percent of the oil that the laboratory found and nobody here has a name for."""
    table: str = ""
    """The workshop's file it stands in: lots/SO-2411-02.csv."""


@dataclass(frozen=True, slots=True)
class Oil(Entry):
    """An essential oil, absolute or resinoid, with its constituents."""

    botanical: str = ""
    plant_part: str = ""
    extraction: str = ""
    inci: str = ""
    inci_eu: str = ""
    cas: str = ""
    density_g_ml_20c_min: float | None = None
    density_g_ml_20c_max: float | None = None
    flash_point_c: float | None = None
    note_class: str = ""
    odour_family: str = ""
    phototoxic: str = ""
    """yes, no or distilled-no."""
    iso_standard: str = ""
    cautions: str = ""
    constituents: tuple[OilConstituent, ...] = ()
    remainder_pct: float | None = None
    """Percent of the oil that no constituent row names, given only where typical figures sum to less than 70 %."""
    remainder: str = ""
    """What that remainder is."""
    limit_substances: tuple[str, ...] = ()
    """Names in limits.csv under which the oil as a whole is limited."""
    allergen_label_name: str = ""
    """EU label name under which the oil as a whole must be declared."""
    caution_names: tuple[str, ...] = ()
    caution_names_from_constituents: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Constituent(Entry):
    """A single aroma substance: properties, and its joins to limits, label names and cautions."""

    cas: str = ""
    cas_aliases: tuple[str, ...] = ()
    family: str = ""
    formula: str = ""
    molar_mass_g_mol: float | None = None
    boiling_point_c: float | None = None
    vapour_pressure_pa_25c: float | None = None
    logp: float | None = None
    water_solubility_mg_l_25c: float | None = None
    henry_pa_m3_mol: float | None = None
    henry_dimensionless_kaw_25c: float | None = None
    henry_dln_dinvT_k: float | None = None  # noqa: N815 - d ln K / d(1/T), kelvin, as the reference table names it
    odour_threshold_air_min_mg_m3: float | None = None
    odour_threshold_air_typical_mg_m3: float | None = None
    inhalation_irritation_reference_mg_m3: float | None = None
    inhalation_action_value_mg_m3: float | None = None
    volatility: str = ""
    volatility_basis: str = ""
    limit_substances: tuple[str, ...] = ()
    limit_rules_added_only: tuple[str, ...] = ()
    """`rule:substance` pairs that bind the pure substance when added, not what an oil contains."""
    allergen_label_name: str = ""
    caution_names: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class OdourWords(Entry):
    """What one constituent smells of, in odour words; `id` is that of the constituent."""

    words: tuple[str, ...] = ()
    """The nearest first."""


@dataclass(frozen=True, slots=True)
class Limit(Entry):
    """One limit or ban of one rule for one product class; `id` is `<rule>.<substance slug>.<category slug>`."""

    substance: str = ""
    slug: str = ""
    """snake_case of the substance, as used in figure ids: limit.<rule>.<slug>."""
    cas: tuple[str, ...] = ()
    rule: str = ""
    """ifra, eu_annex_ii, eu_annex_iii, canada_hotlist, us_cfr or other."""
    jurisdictions: tuple[str, ...] = ()
    """Markets the rule speaks for: of us, eu, uk, ca, au; empty means everywhere (an industry code)."""
    category: str = ""
    limit_pct: float | None = None
    """Percent of the finished product; 0 for a ban."""
    figure_status: str = ""
    """known, exists_but_not_held or no_figure_by_nature."""
    binds_bath_products: bool = False
    """True when the row limits a percentage of a bath product for everyone."""
    binds_audiences: tuple[str, ...] = ()
    """Audiences the row is for when it is meant for an age group only (empty: everyone)."""
    basis: str = ""
    condition: str = ""
    effective: str = ""
    """As the source words it."""
    effective_from: date | None = None
    effective_to: date | None = None

    def holds_on(self, day: date) -> bool:
        """True when the row is in force on that day (an unknown start counts as long in force)."""
        return (self.effective_from is None or self.effective_from <= day) and (
            self.effective_to is None or day <= self.effective_to
        )


@dataclass(frozen=True, slots=True)
class Allergen(Entry):
    """One EU label name of a fragrance allergen and its two thresholds; `id` is the slug of the label name."""

    label_name: str = ""
    constituent_names: tuple[str, ...] = ()
    cas: tuple[str, ...] = ()
    annex_iii_entry: str = ""
    rinse_off_threshold_pct: float = 0.01
    leave_on_threshold_pct: float = 0.001
    applies_new_products_from: date | None = None
    applies_all_products_from: date | None = None
    first_listed: str = ""
    is_natural_extract: bool = False


@dataclass(frozen=True, slots=True)
class Caution(Entry):
    """One caution about one oil or constituent for one group of people (or pets)."""

    subject: str = ""
    """The name in oil_cautions.csv; joins Oil.caution_names and Constituent.caution_names."""
    group: str = ""
    level: str = ""
    """avoid, limit or note: this collection's own grading."""
    every_oil: bool = False
    """True when it holds for any scented product, whatever the oil."""
    limit_pct: float | None = None
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Measure(Entry):
    """One spoon, cup, drop or weighing fact."""

    type: str = ""
    system: str = ""
    volume_ml: float | None = None
    value_min: float | None = None
    value_typ: float | None = None
    value_max: float | None = None
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Mould(Entry):
    """A mould: a shape in closed form with its inner dimensions, or a nominal piece mass."""

    shape: str = ""
    """sphere, half_sphere, cap, ellipsoid, cylinder, cuboid, torus, cone, frustum, heart, mesh, or weight."""
    dims_mm: Mapping[str, float] = field(default_factory=dict)
    """Keyword arguments of science.packing.volume_ml for that shape."""
    piece_g_typ: float | None = None
    """For shape `weight` only: a piece known by its mass."""
    volume_ml: float | None = None
    """The volume the table prints, for checking; computed volumes come from science.packing."""
    cavities: int = 1
    flexible: bool = False
    """True for silicone: the piece dries in it. False for rigid metal or plastic: release at once."""
    halves: bool = False
    """True when two halves are overfilled and pressed together."""
    overfill_mm: float = 0.0
    """Mound above each rim before pressing together."""
    mesh: str = ""


@dataclass(frozen=True, slots=True)
class Fact(Entry):
    """One figure on tubs, water, air, humidity, drying, wrapping, composition or exposure."""

    topic: str = ""
    min: float | None = None
    typical: float | None = None
    max: float | None = None
    unit: str = ""


@dataclass(frozen=True, slots=True)
class ColourRule(Entry):
    """One colourant with its standing in the US and the EU; `id` is the slug of the colourant."""

    colourant: str = ""
    ci_number: str = ""
    label_name_us: str = ""
    label_name_eu: str = ""
    us_allowed: str = ""
    us_eye_area: str = ""
    us_mucous_membrane: str = ""
    us_bath_conservative: str = ""
    us_max_level: str = ""
    us_reference: str = ""
    us_certification_required: str = ""
    eu_annex_iv_entry: str = ""
    eu_field: str = ""


@dataclass(frozen=True, slots=True)
class Dye(Entry):
    """How a colour or a clouding powder takes light in bath water; `id` is that of its material."""

    kind: str = ""
    """dye (dissolves), plant (dissolves in part), oil (dissolves in oil only), pigment (hangs in the water), glitter or
    cloud (a filler that clouds the water)."""
    purity_pct: float = 100.0
    """What of the powder is the colour itself."""
    dissolves_pct: float = 0.0
    """How much of the colour goes into solution in a bath."""
    shape: str = "none"
    """band, edge, tail, grey or none: see science.tint."""
    peak_nm: float | None = None
    short_nm: float | None = None
    long_nm: float | None = None
    e1pct_1cm: float | None = None
    """Absorbance of 10 g/l of the pure colour in a 1 cm cell, at the peak."""
    peak2_nm: float | None = None
    short2_nm: float | None = None
    long2_nm: float | None = None
    share2: float | None = None
    """Height of the second peak as a share of the first."""
    absorbs_m2_g: float | None = None
    """Light taken by a gram of powder that hangs in the water, at the peak."""
    scatters_m2_g: float | None = None
    """Light thrown back by a gram of powder that hangs in the water."""
    glows: bool = False
    """Fluoresces, which the computed colour leaves out."""


Usable = Material | Oil | Constituent
"""What a recipe line may name in `use`."""
