"""What each material asks of the maker's hands, eyes, lungs and room: the cautions of the making steps."""

from __future__ import annotations

from collections.abc import Iterable

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.model import Fact, Material
from fizzwright.recipe.mix import MixLine
from fizzwright.review.figures import Notice, sources_of
from fizzwright.wording import listed, sentence, shown

DUSTY = ("acid", "surfactant", "desiccant", "colourant")
"""Powders of these functions raise a dust worth a mask whatever their hazard text says."""
DUST_LIMITS = {
    "mica": "dust_mica",
    "kaolin": "dust_kaolin",
    "talc": "dust_talc",
    "bentonite": "dust_silica",
    "rhassoul_clay": "dust_silica",
    "illite_clay": "dust_silica",
    "corn_starch": "dust_starch_osha",
}
"""Work-room limits of single dusts: material id to fact id. Clays that may hold quartz go by the limit for silica."""
FLASH_OF_THE_ROOM_C = 60.0
"""Liquids that flash at or below this are flammable liquids in the classes of the globally harmonised system."""


def is_dusty(material: Material) -> bool:
    """True for a powder that wants a dust mask when it is tipped, sieved or stirred dry."""
    return not material.is_liquid and (material.function in DUSTY or "dust" in material.hazards)


def burns(material: Material) -> bool:
    """True for a binder whose vapour a flame or a spark can light at room temperature or little above."""
    return (
        material.function == "binder_liquid"
        and material.flash_point_c is not None
        and material.flash_point_c <= FLASH_OF_THE_ROOM_C
    )


def told(material: Material) -> str:
    """The hazards of a material as the catalogue words them, saying so when they are from memory."""
    doubt = " (from memory)" if material.how_of("hazards") == "memory" else ""
    return f"{material.name}: {material.hazards or 'no hazard noted'}{doubt}"


def of_lines(lines: Iterable[MixLine]) -> list[Material]:
    """The materials of some lines, each once."""
    return list({m.material.id: m.material for m in lines if m.material is not None}.values())


def dust(materials: list[Material], catalogue: Catalogue) -> list[Notice]:
    """One caution for all the dusty powders of a step; the reason names each hazard and each work-room limit held."""
    dusty = [m for m in materials if is_dusty(m)]
    if not dusty:
        return []
    facts = [catalogue.fact(DUST_LIMITS[m.id]) for m in dusty if m.id in DUST_LIMITS]
    reason = "; ".join([*(told(m) for m in dusty if m.hazards), *(_limit(f) for f in facts)])
    return [
        Notice(
            "mind",
            f"Dust of {listed(m.name for m in dusty)}: mask and goggles on, tip slowly from low down, no fan.",
            reason or "fine powders irritate nose, throat and eyes",
            sources_of(*(m.sources_of("hazards") for m in dusty), *(f.sources_of("") for f in facts)),
            line=dusty[0].id,
        )
    ]


def _limit(fact: Fact) -> str:
    most = fact.max if fact.max is not None else fact.typical
    value = shown(most) if most is not None else "not held"
    return f"work-room limit, {fact.name}: {value} {fact.unit}"


def acid(materials: list[Material]) -> list[Notice]:
    """Acid on broken skin, in eyes and in the air."""
    if not materials:
        return []
    return [
        Notice(
            "mind",
            "Acid stings broken skin, and its dust hurts eyes, nose and throat: gloves, goggles and mask on. "
            "In an eye: rinse with plenty of water, and ask a clinician if it goes on hurting.",
            "; ".join(told(m) for m in materials),
            sources_of(*(m.sources_of("hazards") for m in materials)),
            line=materials[0].id,
        )
    ]


def alcohol(materials: list[Material], catalogue: Catalogue) -> list[Notice]:
    """Vapour and flame, ventilation, and never heating it."""
    burning = [m for m in materials if burns(m)]
    if not burning:
        return []
    lowest = min(burning, key=lambda m: m.flash_point_c or 0.0)
    isopropyl = any(m.id.startswith("isopropyl") for m in burning)
    fact_ids = ("ipa_lel", "ipa_osha", "ipa_vapour_density") if isopropyl else ("etoh_lel",)
    facts = (
        [catalogue.fact(i) for i in fact_ids] if any("alcohol" in m.id or "ethanol" in m.id for m in burning) else []
    )
    reason = [f"{m.name}: flash point {m.flash_point_c:g} °C; {m.hazards}" for m in burning]
    reason += [_fact(f) for f in facts]
    return [
        Notice(
            "mind",
            f"No flame, no spark, no heater, no smoking: its vapour can catch fire from {lowest.flash_point_c:g} °C. "
            "Open a window, spray away from the face, and never heat it.",
            "; ".join(reason),
            sources_of(
                *(m.sources_of("flash_point_c") for m in burning),
                *(m.sources_of("hazards") for m in burning),
                *(f.sources_of("") for f in facts),
            ),
            line=lowest.id,
        )
    ]


def _fact(fact: Fact) -> str:
    figures = [shown(v) for v in (fact.min, fact.typical, fact.max) if v is not None]
    unit = "" if fact.unit == "-" else f" {fact.unit}"
    return f"{fact.name}: {' to '.join(dict.fromkeys((figures[0], figures[-1])))}{unit}"


def hot_fat(materials: list[Material]) -> list[Notice]:
    """Burns and smoke from melted fat."""
    if not materials:
        return []
    points = [f"{m.name} melts at about {m.melting_point_c:g} °C" for m in materials if m.melting_point_c is not None]
    return [
        Notice(
            "mind",
            "Hot fat burns: never on a flame, never unwatched, and no water drops in it.",
            "; ".join(points) or "melted fat sticks to skin and stays hot",
            sources_of(*(m.sources_of("melting_point_c") for m in materials)),
            line=materials[0].id,
        )
    ]


def scent(oils: list[MixLine]) -> list[Notice]:
    """Undiluted oils on the hands."""
    if not oils:
        return []
    flash = [m.entry for m in oils]
    return [
        Notice(
            "mind",
            "Undiluted oils on skin can make it sore, and allergic for good: gloves on, wipe drips, lid back at once.",
            sentence(listed(m.name for m in oils)) + ": see the skin section for what was compared with which limit",
            sources_of(*(e.sources_of("") for e in flash)),
            line=oils[0].id,
        )
    ]


def fumes(materials: list[Material]) -> list[Notice]:
    """Pigments that give off hydrogen sulfide with acid."""
    smelly = [m for m in materials if "hydrogen sulfide" in m.hazards]
    return [
        Notice(
            "mind",
            f"{m.name} and acid give off a bad-egg gas (hydrogen sulfide) when wet: leave it out, or open windows wide.",
            told(m),
            m.sources_of("hazards"),
            line=m.id,
        )
        for m in smelly
    ]
