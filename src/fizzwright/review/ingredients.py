"""Materials that are too much of themselves: far over the usual share, harsh foams, barred powders, allergens."""

from __future__ import annotations

import re
from collections.abc import Iterable

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.model import Material
from fizzwright.recipe.mix import Mix
from fizzwright.review.figures import Notice, sources_of
from fizzwright.review.tub_defaults import CHILD_AUDIENCES
from fizzwright.wording import apart, listed, sentence, shown

FAR_OVER = 2.0
"""Our own choice: times a material's usual most from which its share is told; the usual figures are rough."""
SLS = "sodium_lauryl_sulfate"
SLS_IRRITATES_PCT = 2.0
"""The catalogue's note on the material: irritation reported above about 2 % in use (memory)."""
FOAM_STOP_TIMES = 2.0
"""estimate: times the usual most foaming powder from which we stop an adult's piece; a child's stops at the usual most.

A bath foam brings 3-5 g of foaming agent to a bath (17 g at about a quarter, cosm_bath_amount); a 150 g piece at twice the
usual most brings 24 g.
"""
ALLERGEN = re.compile(r"allerg|sensitis|sensitiv|milk|bee product|soya|gluten|tree nut|\begg\b", re.IGNORECASE)
BARRED = re.compile(r"\bbanned\b", re.IGNORECASE)
FOR_CHILDREN = re.compile(r"infant|child", re.IGNORECASE)
BARRED_WHERE = frozenset({"eu", "uk"})
"""Markets that classify borates as toxic for reproduction and keep them out of cosmetics but for set uses."""
LAW = "Local law decides, and a qualified assessor; a clinician about a person."


def shares(mix: Mix) -> dict[str, tuple[Material, float]]:
    """Each material with its percent of the whole mix by mass, lines of the same material summed."""
    total = float(mix.grams.sum())
    found: dict[str, tuple[Material, float]] = {}
    for mixed, grams in zip(mix.lines, mix.grams, strict=True):
        if mixed.material is not None:
            before = found.get(mixed.id, (mixed.material, 0.0))[1]
            found[mixed.id] = mixed.material, before + 100 * float(grams) / total
    return found


def _remembered(material: Material, field: str) -> str:
    return " (from memory)" if material.how_of(field) in ("memory", "estimate") else ""


def _over_usual(held: Iterable[tuple[Material, float]]) -> list[Notice]:
    over = [
        (material, share, material.typical_use_pct_max)
        for material, share in held
        if material.typical_use_pct_max and share > FAR_OVER * material.typical_use_pct_max
    ]
    if not over:
        return []
    said = [f"{m.name} {shown(share)} %, usually at most {shown(most)} %" for m, share, most in over]
    hazards = [f"{sentence(m.name)}: {m.hazards}{_remembered(m, 'hazards')}." for m, _, _ in over if m.hazards]
    notes = [f"{sentence(m.name)}: {m.label_note}." for m, _, _ in over if m.label_note]
    return [
        Notice(
            "mind",
            f"Far more than is usual: {'; '.join(said)}. Check the amount before you mix.",
            f"Compared: each share of the mix by mass with {shown(FAR_OVER)} times the most that is usual (common practice, from "
            f"memory). {' '.join([*hazards, *notes])}",
            sources_of(*(m.sources_of("typical_use_pct_max") for m, _, _ in over)),
            "",
            over[0][0].id,
        )
    ]


def _foam(mix: Mix, catalogue: Catalogue, held: dict[str, tuple[Material, float]]) -> list[Notice]:
    foams = [(m, share) for m, share in held.values() if m.function == "surfactant"]
    if not foams:
        return []
    child = mix.recipe.audience in CHILD_AUDIENCES
    notices = []
    usual = catalogue.fact("comp_surf")
    most = (usual.max or 0.0) * (1.0 if child else FOAM_STOP_TIMES)
    total = sum(share for _, share in foams)
    if most and total > most:
        have, limit = apart(total, most, 2)
        notices.append(
            Notice(
                "stop",
                f"Too much foaming powder for {'a child' if child else 'a bath'}: {listed(m.name for m, _ in foams)} make "
                f"{have} % of the mix, and we stop above {limit} %. It strips and irritates skin and the urinary tract.",
                f"Compared: foaming powder, percent of the mix, with the usual {shown(usual.min or 0)} to {shown(usual.max or 0)} % "
                f"(common practice, from memory); a child's piece stops at the usual most, an adult's at {shown(FOAM_STOP_TIMES)} "
                f"times that (our own estimate). {LAW}",
                usual.sources_of("max"),
                "",
                foams[0][0].id,
            )
        )
    if SLS in held and held[SLS][1] > SLS_IRRITATES_PCT:
        material, share = held[SLS]
        have, limit = apart(share, SLS_IRRITATES_PCT, 2)
        notices.append(
            Notice(
                "stop" if child else "mind",
                f"{sentence(material.name)} is {have} % of the mix; irritation is reported above about {limit} % in use. "
                + (
                    "Leave it out of a child's piece, or use a milder foam." if child else "Use less, or a milder foam."
                ),
                f"Compared: percent of the mix with the catalogue's note on it (from memory). {sentence(material.hazards)}. {LAW}",
                material.sources_of("hazards"),
                "",
                material.id,
            )
        )
    return notices


def _barred(mix: Mix, material: Material) -> Notice:
    tender = mix.recipe.audience != "adult"
    sold = [market.upper() for market in mix.recipe.sold_in if market in BARRED_WHERE]
    why = f"the piece is to be sold in the {listed(sold)}" if sold else "children and pregnancy are not for it"
    stops = bool(sold) or tender
    return Notice(
        "stop" if stops else "mind",
        f"{sentence(material.name)} is {material.label_note.split(';')[0]} in bath products in many places: {material.hazards}. "
        + (f"Leave it out: {why}." if stops else "Leave it out; bicarbonate does the work."),
        f"Compared: the catalogue's hazards and label note of {material.name}{_remembered(material, 'hazards')}, with the "
        f"markets and the audience of the recipe. {LAW}",
        material.sources_of("hazards"),
        "",
        material.id,
    )


def _for_children(mix: Mix, held: Iterable[tuple[Material, float]]) -> list[Notice]:
    if mix.recipe.audience not in CHILD_AUDIENCES:
        return []
    return [
        Notice(
            "mind",
            f"Made for children, and {material.name} has a caution on small ones: {' '.join(warned)}. Leave it out or keep "
            "every child from the dust.",
            f"Compared: the catalogue's hazards and label note{_remembered(material, 'hazards')}. {LAW}",
            material.sources_of("hazards"),
            "",
            material.id,
        )
        for material, _ in held
        if (warned := [text for text in (material.hazards, material.label_note) if FOR_CHILDREN.search(text)])
    ]


def _allergens(held: Iterable[tuple[Material, float]], told: frozenset[str]) -> list[Notice]:
    said, spoken = [], []
    for material, _ in held:
        found = [part.strip() for part in material.hazards.split(";") if ALLERGEN.search(part)]
        if ALLERGEN.search(material.label_note):
            found.append(material.label_note.replace(";", ","))
        if found and material.name.lower() not in told:
            said.append(f"{material.name} ({', '.join(found)})")
            spoken.append(material)
    if not said:
        return []
    return [
        Notice(
            "mind",
            f"Ask each bather about allergies: {listed(said)}.",
            "These are the catalogue's own notes on each material, from memory where not marked otherwise. An allergy is a "
            "matter for a clinician.",
            sources_of(*(m.sources_of("hazards") for m in spoken)),
            "",
            spoken[0].id,
            standing=True,
        )
    ]


def advise(mix: Mix, catalogue: Catalogue) -> list[Notice]:
    """Notices on the materials themselves, worst first."""
    held = shares(mix)
    # Nut oils have their own caution, told with the people who must keep from them.
    nuts = frozenset(caution.subject for caution in catalogue.cautions if caution.group == "nut_allergy")
    barred = [_barred(mix, material) for material, _ in held.values() if BARRED.search(material.label_note)]
    return [
        *barred,
        *_foam(mix, catalogue, held),
        *_over_usual(held.values()),
        *_for_children(mix, held.values()),
        *_allergens(held.values(), nuts),
    ]
