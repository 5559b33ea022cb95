"""Who should keep from a piece, or take care with it: children by age, pregnancy, illness, allergy, pets, and every bather."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.model import Caution, Constituent, Oil
from fizzwright.recipe.mix import Mix
from fizzwright.review.figures import Notice, sources_of
from fizzwright.review.joins import UNCHECKED, Reach, joins
from fizzwright.review.limits import cured_g, level
from fizzwright.review.rules import rows_on
from fizzwright.review.tub_defaults import CHILD_AUDIENCES, Bath
from fizzwright.review.views import Scent
from fizzwright.wording import apart, listed, sentence, shown

ANYONE = "the scent itself"
FLOATING = "any essential oil floating undissolved"
BOUND = {
    "adult": (),
    "child_6_plus": ("child_under_10",),
    "child_2_plus": ("child_under_6", "child_under_10"),
    "pregnancy": ("pregnancy", "breastfeeding"),
}
"""Groups of cautions that a piece for an audience must answer to."""
AUDIENCE_WORDS = {
    "child_2_plus": "children from 2 years",
    "child_6_plus": "children from 6 years",
    "pregnancy": "use in pregnancy",
}
GROUP_WORDS = {
    "child_under_2": "children under 2",
    "child_under_6": "children under 6",
    "child_under_10": "children under 10",
    "pregnancy": "pregnant women",
    "breastfeeding": "nursing mothers",
    "epilepsy": "people with epilepsy",
    "asthma": "people with asthma",
    "g6pd": "people short of the enzyme G6PD",
    "anticoagulant": "people on blood thinners",
    "nut_allergy": "people with a nut allergy",
    "sensitive_skin": "people with sensitive skin",
    "pets": "pets",
}
CHILD_GROUPS = ("child_under_2", "child_under_6", "child_under_10")
CLINICIAN = "These are published cautions, not advice to a person: ask a clinician."
VET = "These are published cautions: ask a vet."
PREGNANCY_WATER_C = 38.0
"""memory: advice in pregnancy is to keep from hot baths; our line is the middle of the comfortable range."""
SKIN_STOP = 5.0
"""estimate: times a handbook's dermal maximum from which an undispersed film stops an adult's piece.

The maxima are for products that stay on skin for hours; a bath's film meets it for some twenty minutes and is partly towelled
off, so passing one a little warns. Children and pregnancy have no such allowance: their film may not pass one at all.
"""


@dataclass(frozen=True)
class Seen:
    """What the skin section has worked out already."""

    found: Reach
    scent: Scent
    film_g: float
    bath_g: float
    dispersed_pct: float


@dataclass(frozen=True, slots=True)
class Hit:
    """One caution and the thing in the recipe it speaks about; `line` is -1 for the scent as a whole."""

    caution: Caution
    line: int
    who: str


def _subjects(entry: object) -> tuple[str, ...]:
    if isinstance(entry, Oil):
        return (*entry.caution_names, *entry.caution_names_from_constituents)
    if isinstance(entry, Constituent):
        return entry.caution_names
    return ()


def hits(mix: Mix, catalogue: Catalogue, seen: Seen | None) -> dict[str, list[Hit]]:
    """Every caution that something in the mix meets, by group of people."""
    known = joins(catalogue).cautions
    found: dict[str, list[Hit]] = {}

    def add(subject: str, line: int, who: str, groups: frozenset[str] | None = None) -> None:
        for caution in known.get(subject, ()):
            if groups is None or caution.group in groups:
                found.setdefault(caution.group, []).append(Hit(caution, line, who))

    for place, mixed in enumerate(mix.lines):
        for subject in _subjects(mixed.entry):
            add(subject, place, mixed.name)
        if mixed.material is not None:
            add(mixed.material.name.lower(), place, mixed.name, frozenset({"nut_allergy"}))
    if seen is not None:
        for subject in dict.fromkeys(caution.subject for caution in catalogue.cautions if caution.every_oil):
            if subject != FLOATING or seen.dispersed_pct < 100:
                add(subject, -1, ANYONE)
    return found


def _reasons(met: Iterable[Hit]) -> str:
    said: dict[str, str] = {}
    for hit in met:
        doubt = " (from memory, not checked)" if hit.caution.how_of("reason") in UNCHECKED else ""
        said.setdefault(
            hit.caution.reason, f"{sentence(hit.caution.subject)}: {hit.caution.reason.rstrip('.')}{doubt}."
        )
    return " ".join(said.values())


def _sources(met: Iterable[Hit]) -> tuple[str, ...]:
    return sources_of(*(hit.caution.sources_of("reason") for hit in met))


def _names(met: Iterable[Hit], *levels: str) -> str:
    return listed(hit.who for hit in met if hit.caution.level in levels)


def _group_notice(met: list[Hit], who: str, close: str) -> Notice:
    """One readable notice for a group the piece is not made for."""
    avoid = _names(met, "avoid")
    care = listed(
        h.who
        for h in met
        if h.caution.level == "limit" and h.who not in {a.who for a in met if a.caution.level == "avoid"}
    )
    said = []
    if avoid:
        said.append(f"Keep it from {who}, because of {avoid}.")
    if care:
        said.append(f"{'Take care too over' if said else f'{sentence(who)}: take care over'} {care}.")
    if not said:
        # A note is one short sentence, so it stands for itself.
        notes = dict.fromkeys(
            hit.caution.reason.rstrip(".")
            if hit.who == ANYONE
            else f"{sentence(hit.who)}: {hit.caution.reason.rstrip('.')}"
            for hit in met
        )
        said.append(f"For {who}: {' '.join(f'{note}.' for note in notes)}")
    return Notice("mind", " ".join(said), f"{_reasons(met)} {close}", _sources(met), standing=True)


def _covered(mix: Mix, catalogue: Catalogue, subject: str) -> bool:
    """True when a limit for this very audience already compares the substance, so the caution would say it twice."""
    known = joins(catalogue).rules
    return any(
        mix.recipe.audience in limit.binds_audiences
        for constituent in catalogue.constituents.values()
        if subject in constituent.caution_names
        for substance in constituent.limit_substances
        for versions in known.get(substance, ())
        for limit, _ in rows_on(versions, mix.as_of)
    )


def _own_audience(mix: Mix, catalogue: Catalogue, seen: Seen, met: list[Hit]) -> list[Notice]:
    """What the people the piece is made for must keep from (stop), or take care with (mind)."""
    who = AUDIENCE_WORDS[mix.recipe.audience]
    notices: list[Notice] = []
    avoid: dict[str, list[Hit]] = {}
    care: list[Hit] = []
    for hit in met:
        limit_pct = hit.caution.limit_pct
        if hit.caution.level == "avoid":
            avoid.setdefault(hit.who, []).append(hit)
        elif limit_pct:
            if not _covered(mix, catalogue, hit.caution.subject):
                notices += _ceiling(mix, seen, hit, who)
        else:
            care.append(hit)
    for name, barred in avoid.items():
        place = barred[0].line
        why = listed(hit.caution.subject for hit in barred)
        notices.append(
            Notice(
                "stop",
                f"Not for {who}: {name}, because of cautions on {why}. Leave it out or make the piece for other people.",
                f"{_reasons(barred)} {CLINICIAN}",
                _sources(barred),
                "",
                mix.lines[place].id if place >= 0 else "",
            )
        )
    care = [hit for hit in care if hit.who not in avoid]
    if care:
        scent_g = float(mix.grams[seen.scent.is_scent].sum())
        doses = listed(
            f"{mix.lines[place].name} {shown(1000 * seen.bath_g * _grams_of(mix, place) / scent_g)} mg"
            for place in {hit.who: hit.line for hit in care if hit.line >= 0}.values()
        )
        amount = f" One bath brings {doses}." if doses else ""
        notices.append(
            Notice(
                "mind",
                f"Made for {who}: take care over {_names(care, 'limit', 'note')}; keep it weak and away from the face.{amount}",
                f"{_reasons(care)} {CLINICIAN}",
                _sources(care),
            )
        )
    return notices


def _grams_of(mix: Mix, place: int) -> float:
    """Grams of what stands in a line, all its lines together."""
    return float(sum(m.grams for m in mix.lines if m.id == mix.lines[place].id))


def _ceiling(mix: Mix, seen: Seen, hit: Hit, who: str) -> list[Notice]:
    """A caution with a figure: the level in the piece beside it."""
    allowed = hit.caution.limit_pct or 0.0
    amount = level(seen.found.cautions.get(hit.caution.subject, ()), mix, float(cured_g(mix)))
    if amount.high <= allowed:
        return []
    over = amount.typical > allowed
    if over:
        have, most = apart(amount.typical, allowed)
        text = f"{sentence(hit.caution.subject)} is {have} % of the piece"
    else:
        high, most = apart(amount.high, allowed)
        text = f"{sentence(hit.caution.subject)} is {shown(amount.typical, 3)} % of the piece and could be {high} % by the species range"
    text += f"; {most} % is the ceiling given for {who}."
    reason = f"Compared: percent of the cured piece with the caution's figure. {_reasons([hit])} {CLINICIAN}"
    return [Notice("stop" if over else "mind", text, reason, _sources([hit]), "", mix.lines[hit.line].id)]


def _skin_maxima(mix: Mix, seen: Seen, met: list[Hit]) -> list[Notice]:
    """Handbook maxima for oils on skin beside each oil's share of the undispersed film."""
    over: dict[str, str] = {}
    spoken = []
    worst = 0.0
    for hit in met:
        allowed = hit.caution.limit_pct
        if hit.line < 0 or not allowed:
            continue
        film_pct = 100 * _grams_of(mix, hit.line) / seen.film_g
        if film_pct > allowed:
            have, most = apart(film_pct, allowed, 2)
            over[hit.who] = f"{hit.who} {have} % against {most} %"
            spoken.append(hit)
            worst = max(worst, film_pct / allowed)
    if not over:
        return []
    floats = seen.dispersed_pct < 100
    tender = mix.recipe.audience in AUDIENCE_WORDS
    stops = floats and (tender or worst > SKIN_STOP)
    where = "In the undispersed film" if floats else "If the solubiliser failed, the film would be"
    grading = (
        f" We stop an undispersed film that passes one at all, as the piece is for {AUDIENCE_WORDS[mix.recipe.audience]}."
        if tender
        else f" We stop an adult's undispersed film above {shown(SKIN_STOP)} times one (our own estimate)."
    )
    return [
        Notice(
            "stop" if stops else "mind",
            f"{where}{',' if floats else ''} stronger than a handbook's maximum for skin: {listed(over.values())}. "
            + ("More carrier oil or a solubiliser brings it down." if floats else "Less of it keeps clear of that."),
            "Compared: each oil's share of all oils and fats, by mass, with an adult dermal maximum meant for leave-on use, as "
            f"a yardstick, as if nothing disperses.{grading} {_reasons(spoken)} {CLINICIAN}",
            _sources(spoken),
            "film_pct",
        )
    ]


def _water(mix: Mix, catalogue: Catalogue, tub: Bath) -> list[Notice]:
    audience = mix.recipe.audience
    fact = catalogue.fact("bath_temp_baby" if audience in CHILD_AUDIENCES else "bath_temp_adult")
    scald = catalogue.fact("bath_temp_nhs_max")
    most = PREGNANCY_WATER_C if audience == "pregnancy" else fact.max or tub.temperature_c
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


def _children(met: dict[str, list[Hit]], groups: Iterable[str]) -> list[Notice]:
    """One notice for all ages of children that the piece is not made for."""
    barred, careful, spoken = [], [], []
    for group in groups:
        own = met.get(group, [])
        spoken += own
        if names := _names(own, "avoid"):
            barred.append(f"{GROUP_WORDS[group]} ({names})")
        elif names := _names(own, "limit", "note"):
            careful.append(f"{GROUP_WORDS[group]} ({names})")
    if not spoken:
        return []
    said = f"Keep it from {listed(barred)}. " if barred else ""
    said += f"Take care with {listed(careful)}." if careful else ""
    return [Notice("mind", said.strip(), f"{_reasons(spoken)} {CLINICIAN}", _sources(spoken), standing=True)]


def advise(mix: Mix, catalogue: Catalogue, tub: Bath, seen: Seen | None) -> list[Notice]:
    """Notices by group of people; `seen` is None for a piece without scent."""
    met = hits(mix, catalogue, seen)
    bound = BOUND[mix.recipe.audience]
    notices: list[Notice] = []
    if seen is not None:
        if bound:
            notices += _own_audience(mix, catalogue, seen, [hit for group in bound for hit in met.get(group, [])])
        notices += _skin_maxima(mix, seen, met.get("sensitive_skin", []))
    notices += _children(met, [group for group in CHILD_GROUPS if group not in bound])
    for group, who in GROUP_WORDS.items():
        if group in bound or group in CHILD_GROUPS:
            continue
        # Sensitive skin's figures are told apart, beside the film they are compared with.
        own = [hit for hit in met.get(group, []) if not (group == "sensitive_skin" and hit.caution.limit_pct)]
        if own:
            notices.append(_group_notice(own, who, VET if group == "pets" else CLINICIAN))
    notices += _water(mix, catalogue, tub)
    notices += _foam(mix, catalogue)
    notices.append(_every_bather(mix, catalogue, tub))
    return notices
