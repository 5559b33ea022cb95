"""What every bather is told, scent or none: hot water, long soaks in foam, a slippery tub."""

from __future__ import annotations

from fizzwright.catalogue import Catalogue
from fizzwright.recipe.mix import Mix
from fizzwright.review.figures import Notice, sources_of
from fizzwright.review.tub_defaults import CHILD_AUDIENCES, Bath
from fizzwright.wording import listed, sentence, shown

AUDIENCE_WORDS = {
    "child_2_plus": "children from 2 years",
    "child_6_plus": "children from 6 years",
    "pregnancy": "use in pregnancy",
}
CLINICIAN = "These are published cautions, not advice to a person: ask a clinician."
PREGNANCY_WATER_C = 38.0
"""memory: advice in pregnancy is to keep from hot baths; our line is the middle of the comfortable range."""


def _water(mix: Mix, catalogue: Catalogue, tub: Bath) -> list[Notice]:
    audience = mix.recipe.audience
    fact = catalogue.fact("bath_temp_baby" if audience in CHILD_AUDIENCES else "bath_temp_adult")
    scald = catalogue.fact("bath_temp_nhs_max")
    most = PREGNANCY_WATER_C if audience == "pregnancy" else fact.max or tub.temperature_c
    if audience == "adult" and fact.typical is not None and fact.typical < tub.temperature_c <= most:
        return [
            Notice(
                "mind",
                f"{shown(tub.temperature_c, 3)} °C is at the hot end for a bath: most people bathe at {shown(fact.typical, 3)} °C or "
                "less, and hotter water scalds sooner. Stir, test with the elbow, get in slowly.",
                f"Compared: the recipe's water with {fact.name}; from {shown(most, 3)} °C on it counts as hot.",
                sources_of(fact.sources_of("typical")),
            )
        ]
    if tub.temperature_c <= most:
        return []
    level_word = "stop" if scald.max is not None and tub.temperature_c > scald.max else "mind"
    who = AUDIENCE_WORDS.get(audience, "an adult")
    said = " (from memory)" if audience == "pregnancy" else ""
    return [
        Notice(
            level_word,
            f"{shown(tub.temperature_c, 3)} °C is hot water for {who}: the usual most is {shown(most, 3)} °C{said}. Let it cool.",
            f"Compared: the recipe's water with {fact.name}, and with the {shown(scald.max or 0, 3)} °C quoted as the most for "
            "health premises, from which we stop. Hot water scalds, "
            "and drives more scent into the air.",
            sources_of(fact.sources_of("max"), scald.sources_of("max")),
        )
    ]


def _foam(mix: Mix, catalogue: Catalogue) -> list[Notice]:
    foaming = [m for m in mix.lines if m.material is not None and m.material.function == "surfactant"]
    if not foaming:
        return []
    rows = [limit for limit in catalogue.limits if limit.slug == "foaming_detergent_bath_products"]
    law = (
        " Sold in the US it needs the set caution for foaming bath products, unless it is labelled for adults only."
        if "us" in mix.recipe.sold_in
        else ""
    )
    return [
        Notice(
            "mind",
            f"Long soaks in foam can irritate skin and the urinary tract, most of all in children: {listed(m.name for m in foaming)}."
            f" Keep the bath short and rinse.{law}",
            "Foaming detergents are named in the US rule on foaming bath products. " + CLINICIAN,
            sources_of(*(row.sources_of("condition") for row in rows)),
            "",
            foaming[0].id,
        )
    ]


def _every_bather(mix: Mix, catalogue: Catalogue, tub: Bath) -> Notice:
    oily = [m.name for m in mix.lines if m.material is not None and "slip" in m.material.hazards]
    baby = catalogue.fact("tub_baby")
    temperature = catalogue.fact("bath_temp_baby" if mix.recipe.audience in CHILD_AUDIENCES else "bath_temp_adult")
    said = [f"Test the water first, at most {shown(temperature.max or tub.temperature_c, 3)} °C."]
    if oily:
        said.append(f"{sentence(listed(oily))} can leave the tub slippery: step out with care, wash the tub after.")
    said.append(f"A whole piece is too strong for a baby bath of {shown(baby.typical or 0)} litres.")
    said.append("Keep it out of eyes and mouths; never leave a child alone in a bath.")
    return Notice(
        "good",
        "With every piece: " + " ".join(said),
        "Advice that holds for any bath product of this kind, whatever is in it.",
        sources_of(temperature.sources_of("max"), baby.sources_of("typical")),
        standing=True,
    )


def advise(mix: Mix, catalogue: Catalogue, tub: Bath) -> list[Notice]:
    """Notices on the bath itself, whoever bathes in it."""
    return [*_water(mix, catalogue, tub), *_foam(mix, catalogue), _every_bather(mix, catalogue, tub)]
