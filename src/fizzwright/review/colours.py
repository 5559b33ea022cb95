"""Each colour beside the colour lists of the US and of the EU and UK: listed for a bath, contested, or not at all."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import lru_cache

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.holdings import Held
from fizzwright.catalogue.model import ColourRule, Material
from fizzwright.recipe.mix import Mix
from fizzwright.review.figures import Notice
from fizzwright.review.joins import UNCHECKED
from fizzwright.review.limits import cured_g, pct
from fizzwright.wording import apart, listed, sentence

BY_HAND = {
    "activated_charcoal": "activated_charcoal_vegetable_carbon",
    "turmeric_powder": "turmeric_curcumin",
    "spirulina_powder": "spirulina_extract_or_powder",
    "beetroot_powder": "beetroot_powder",
    "cellulose_glitter": "",
    "polyester_glitter": "plastic_glitter_pet_film_aluminised_dyed",
}
"""Rule of a colour that neither its label name nor its CI number reaches; empty where the table has none."""
PLASTIC_GLITTER = "plastic_glitter_pet_film_aluminised_dyed"
PLASTIC_GLITTER_ENDS = date(2027, 10, 16)
"""Regulation (EU) 2023/2055, REACH Annex XVII entry 78: last day of plastic glitter in rinse-off cosmetics."""
CONDITIONAL = ("only if", "by component", "as the parent", "by colour", "yes if")
"""How the US column begins where a colour hangs on what is in it."""
EU_BY_COMPONENT = (
    "not an Annex IV entry",
    "not in Annex IV itself",
    "by component",
    "as the parent",
    "each dye",
    "component",
)
EU_BARRED = ("not in Annex IV", "prohibited", "not to be used in products applied on mucous membranes")
LISTS = {"us": "the US", "eu": "the EU", "uk": "the UK"}
HOME = ("us", "eu")
"""Lists that a piece for the maker's own home is read against."""
ASK = "A qualified assessor and the law of the place decide."


@dataclass(frozen=True, slots=True)
class Ruling:
    """What one list says of one colour: stop (not permitted), mind (contested or hanging on something) or good."""

    level: str
    text: str
    standing: bool = False


@lru_cache(maxsize=4)
def _by_name(held: Held) -> Mapping[str, ColourRule]:
    names: dict[str, ColourRule] = {}
    for rule in held.catalogue.colours.values():
        for number in re.findall(r"\b\d{5}(?::\d)?\b", rule.ci_number):
            names.setdefault(f"ci {number}", rule)
    for rule in held.catalogue.colours.values():
        for label in (rule.label_name_us, rule.colourant):
            if label:
                names[label.lower()] = rule
    return names


def rule_of(material: Material, catalogue: Catalogue) -> ColourRule | None:
    """The colour rule of a material: by its label name, its CI number, or the few told by hand."""
    if material.id in BY_HAND and material.origin == "catalogue":
        return catalogue.colours.get(BY_HAND[material.id])
    names = _by_name(Held(catalogue))
    for name in (material.inci, material.name, material.inci_eu):
        if name and name.lower() in names:
            return names[name.lower()]
    return None


def is_colour(material: Material) -> bool:
    """True for what is put in for its colour, by its function or its label name."""
    return material.function == "colourant" or material.inci_eu.upper().startswith("CI ")


def _over(text: str, pattern: str, share: float) -> str:
    """The most a rule allows, when the share passes it; empty otherwise."""
    found = re.search(pattern, text)
    if found is None or share <= float(found[1]):
        return ""
    have, most = apart(share, float(found[1]))
    return f"it is {have} % of the piece, and at most {most} % is allowed"


def _us(rule: ColourRule, share: float) -> Ruling:
    bath = rule.us_bath_conservative
    if bath.startswith(CONDITIONAL):
        return Ruling("mind", "in the US the colours inside it are what counts, so ask the supplier for each")
    if rule.us_allowed == "not_listed":
        return Ruling("stop", "in the US it is not a listed colour for cosmetics")
    if passed := _over(rule.us_max_level, r"^([\d.]+)\s*% of the finished product", share):
        return Ruling("stop", f"in the US {passed}")
    if rule.us_allowed == "external_only" or bath == "contested":
        use = "outside use only" if rule.us_allowed == "external_only" else "set uses only"
        return Ruling(
            "mind", f"in the US it is listed for {use}; whether a bath counts is contested, so ask FDA before selling"
        )
    if bath != "yes":
        return Ruling(
            "stop",
            f"in the US it is listed for other uses than a bath{f' ({rule.us_max_level})' if rule.us_max_level else ''}",
        )
    if rule.us_certification_required == "yes":
        return Ruling("mind", "in the US only from a certified batch, with its lot number on the pack", standing=True)
    return Ruling("good", "")


def _eu(rule: ColourRule, share: float, where: str, day: date) -> Ruling:
    field = rule.eu_field
    if rule.id == PLASTIC_GLITTER and where == "the EU" and day > PLASTIC_GLITTER_ENDS:
        return Ruling(
            "stop", f"in the EU plastic glitter in rinse-off cosmetics ended on {PLASTIC_GLITTER_ENDS.isoformat()}"
        )
    if field.startswith(EU_BY_COMPONENT):
        return Ruling(
            "mind",
            f"in {where} the colours inside it are what counts, so ask the supplier for each",
        )
    if passed := _over(field, r"\bmax\s*([\d.]+)\s*%", share):
        return Ruling("stop", f"in {where} {passed}")
    if field.startswith(EU_BARRED):
        meets = "; bath water reaches them" if "mucous" in field else ""
        return Ruling("stop", f"in {where} it is not permitted: {field}{meets}")
    if not field or field.startswith(("rinse-off only", "rinse-off products only", "Annex III")):
        return Ruling("mind", f"in {where}: {field or 'no field held'}; have it looked at before selling")
    return Ruling("good", "")


def _rulings(mix: Mix, rule: ColourRule, share: float, markets: tuple[str, ...]) -> list[Ruling]:
    return [
        _us(rule, share) if market == "us" else _eu(rule, share, LISTS[market], mix.as_of)
        for market in markets
        if market in LISTS
    ]


def _doubt(rule: ColourRule, markets: tuple[str, ...]) -> str:
    remembered = [
        name
        for name, field, here in (
            ("US", "us_allowed", "us" in markets),
            ("EU", "eu_field", bool({"eu", "uk"} & set(markets))),
        )
        if here and rule.how_of(field) in UNCHECKED
    ]
    return f" The {listed(remembered)} entry is from memory, not checked against the text." if remembered else ""


def _unheld(material: Material) -> Notice:
    status = f" The catalogue says: {material.us_colour_status}." if material.us_colour_status else ""
    return Notice(
        "mind",
        f"No colour rule is held for {material.name}, so it was compared with nothing. Ask the supplier for every colour in it, "
        "and look each up.",
        f"Colours must be on a list before they may be sold, in the US and in the EU and UK.{status} {ASK}",
        material.sources_of("us_colour_status"),
        "",
        material.id,
    )


def _colour_notices(mix: Mix, material: Material, rule: ColourRule, share: float) -> list[Notice]:
    sold = mix.recipe.sold_in
    markets = sold or HOME
    rulings = _rulings(mix, rule, share, markets)
    note = f"{rule.note.rstrip('.')}. " if rule.note else ""
    reason = (
        f"Compared: {rule.colourant}{f', CI {rule.ci_number}' if rule.ci_number else ''}, {pct(share, 2)} % of the cured piece, "
        f"with the colour lists of {listed(LISTS[m] for m in markets if m in LISTS)}"
        + ("" if sold else ", as a yardstick; the piece is not marked as sold")
        + f". {note}{ASK}{_doubt(rule, markets)}"
    )
    sources = rule.sources_of("us_allowed" if "us" in markets else "eu_field")
    if not sold:
        barred = [r for r in rulings if r.level == "stop"]
        if not barred:
            return []
        everywhere = len(barred) == len(rulings)
        text = f"{sentence(material.name)} could not be sold everywhere: {'; '.join(r.text for r in barred)}."
        mild = not everywhere and mix.recipe.audience == "adult"
        return [Notice("mind", text, reason, sources, "", material.id, standing=mild)]
    notices = []
    for level, ending in (("stop", "Use a listed colour."), ("mind", "")):
        told = [r for r in rulings if r.level == level and not r.standing]
        if told:
            text = f"Colour, {material.name}: {'; '.join(r.text for r in told)}.{f' {ending}' if ending else ''}"
            notices.append(Notice(level, text, reason, sources, "", material.id))
    return notices


def compare(mix: Mix, catalogue: Catalogue) -> list[Notice]:
    """Notices on each colour of a mix, by the markets of the recipe; a home piece is told of what is listed nowhere."""
    colours: dict[str, Material] = {}
    grams: dict[str, float] = {}
    for mixed, kept_g in zip(mix.lines, mix.grams * mix.cured_fraction, strict=True):
        if mixed.material is not None:
            colours[mixed.id] = mixed.material
            grams[mixed.id] = grams.get(mixed.id, 0.0) + float(kept_g)
    sold = mix.recipe.sold_in
    product_g = float(cured_g(mix))
    notices: list[Notice] = []
    certified: list[tuple[Material, ColourRule]] = []
    unlisted: list[Material] = []
    found = [material for material in colours.values() if is_colour(material)]
    for material in found:
        rule = rule_of(material, catalogue)
        if rule is None:
            notices.append(_unheld(material))
            continue
        share = 100 * grams[material.id] / product_g if product_g > 0 else 0.0
        notices += _colour_notices(mix, material, rule, share)
        if "us" in sold and _us(rule, share).standing:
            certified.append((material, rule))
        if not set(sold) <= LISTS.keys():
            unlisted.append(material)
    if certified:
        notices.append(
            Notice(
                "mind",
                f"{listed(m.name for m, _ in certified)}: sold in the US only from a certified batch. Look for the lot number on "
                "the pack and write it down.",
                f"Compared: the US colour list, {listed(rule.us_reference for _, rule in certified if rule.us_reference)}. {ASK}",
                tuple(dict.fromkeys(s for _, rule in certified for s in rule.sources_of("us_certification_required"))),
                "",
                certified[0][0].id,
                standing=True,
            )
        )
    if unlisted:
        where = listed({"ca": "Canada", "au": "Australia"}[m] for m in sold if m not in LISTS)
        notices.append(
            Notice(
                "mind",
                f"No colour list of {where} is held here: look up {listed(m.name for m in unlisted)} before selling there.",
                f"The lists held are those of the US and of the EU and UK. {ASK}",
                (),
                "",
                unlisted[0].id,
                standing=True,
            )
        )
    return notices + _not_for_colour(mix, colours)


def _not_for_colour(mix: Mix, materials: Mapping[str, Material]) -> list[Notice]:
    """Clays and powders that are allowed for what they do, not for the colour they bring."""
    if "us" not in mix.recipe.sold_in:
        return []
    told = [m for m in materials.values() if m.us_colour_status and not is_colour(m)]
    if not told:
        return []
    return [
        Notice(
            "mind",
            f"{sentence(listed(m.name for m in told))}: in the US not to be put in for the colour.",
            " ".join(f"{sentence(m.name)}: {m.us_colour_status}." for m in told) + f" {ASK}",
            tuple(dict.fromkeys(s for m in told for s in m.sources_of("us_colour_status"))),
            "",
            told[0].id,
            standing=True,
        )
    ]
