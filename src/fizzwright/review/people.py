"""Who should keep from a piece, or take care with it: children by age, pregnancy, illness, allergy, pets, and every bather."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.model import Caution, Constituent, Oil
from fizzwright.recipe.mix import Mix
from fizzwright.review import bathing
from fizzwright.review.bathing import AUDIENCE_WORDS, CLINICIAN
from fizzwright.review.figures import Notice, sources_of
from fizzwright.review.fitting import Bound, Fits, Way
from fizzwright.review.joins import UNCHECKED, Reach, joins
from fizzwright.review.limits import cured_g, level, pct, per_product
from fizzwright.review.rules import rows_on
from fizzwright.review.tub_defaults import Bath
from fizzwright.review.views import Scent, dispersing
from fizzwright.wording import apart, listed, sentence, shown

ANYONE = "the scent as a whole"
FLOATING = "any essential oil floating undissolved"
BOUND = {
    "adult": (),
    "child_6_plus": ("child_under_10",),
    "child_2_plus": ("child_under_6", "child_under_10"),
    "pregnancy": ("pregnancy", "breastfeeding"),
}
"""Groups of cautions that a piece for an audience must answer to."""
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
ANY_SCENT = {
    "pregnancy": "Pregnant women should ask a clinician first: many leave scent out or halve it in the first twelve weeks.",
    "asthma": "Ask anyone with asthma before they use it: scented things trouble many of them.",
}
"""Short words for a note that holds for any scent; its reason stands with the notice."""
RELIEF = {
    "coconut oil": "Coconut oil counts as a seed, not a tree nut: a nut allergy alone is no reason to keep from it; an allergy to "
    "coconut itself, which is rare, is one.",
    "bitter almond oil (FFPA)": "Bitter almond oil (FFPA) is distilled and holds no protein: no caution on it is held for a nut "
    "allergy.",
}
"""Notes on nut allergy that take a worry away, by the caution's subject."""
CHILD_GROUPS = ("child_under_2", "child_under_6", "child_under_10")
VET = "These are published cautions: ask a vet."
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


Met = dict[str, list[Hit]]
"""Cautions by group of people."""


def hits(mix: Mix, catalogue: Catalogue, seen: Seen | None) -> Met:
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


def _because(names: Iterable[str]) -> str:
    """Why people should keep from it: it is scented at all, or what is in it."""
    once = list(dict.fromkeys(names))
    named = listed(name for name in once if name != ANYONE)
    if ANYONE not in once:
        return f"because of {named}"
    return "because it is scented" + (f", above all with {named}" if named else "")


def _nut_notes(met: list[Hit]) -> list[Notice]:
    """Oils that are no nuts, or only kin to them, each with whether that relieves or warns."""
    notices = []
    for hit in {hit.who: hit for hit in met}.values():
        relief = RELIEF.get(hit.caution.subject)
        text = (
            relief or f"People with a nut allergy should ask first about {hit.who}: {hit.caution.reason.rstrip('.')}."
        )
        reason = f"{_reasons([hit])} {CLINICIAN}"
        notices.append(Notice("good" if relief else "mind", text, reason, _sources([hit]), standing=True))
    return notices


def _group_notices(met: list[Hit], group: str) -> list[Notice]:
    """Readable notices for a group the piece is not made for."""
    who, close = GROUP_WORDS[group], VET if group == "pets" else CLINICIAN
    notices = []
    if group == "nut_allergy":
        notices = _nut_notes([hit for hit in met if hit.caution.level == "note"])
        met = [hit for hit in met if hit.caution.level != "note"]
    if not met:
        return notices
    avoid = [hit.who for hit in met if hit.caution.level == "avoid"]
    care = [hit.who for hit in met if hit.caution.level == "limit" and hit.who not in avoid]
    said = []
    if avoid:
        said.append(f"Keep it from {who}, {_because(avoid)}.")
    # A caution on any scent is already in the sentence above when the whole scent is what they must keep from.
    if care and not avoid:
        said.append(f"{sentence(who)} should take care, {_because(care)}.")
    elif named := [name for name in care if name != ANYONE]:
        said.append(f"Take care too, {_because(named)}.")
    if not said:
        notes = [
            (ANY_SCENT.get(group) or f"{sentence(who)}: {hit.caution.reason.rstrip('.')}.")
            if hit.who == ANYONE
            else f"{sentence(who)}, about {hit.who}: {hit.caution.reason.rstrip('.')}."
            for hit in met
        ]
        said += dict.fromkeys(notes)
    return [Notice("mind", " ".join(said), f"{_reasons(met)} {close}", _sources(met), standing=True), *notices]


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


def _own_audience(mix: Mix, catalogue: Catalogue, seen: Seen, met: list[Hit], fits: Fits) -> list[Notice]:
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
                notices += _ceiling(mix, seen, hit, who, fits)
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


def _ceiling(mix: Mix, seen: Seen, hit: Hit, who: str, fits: Fits) -> list[Notice]:
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
        text = f"{sentence(hit.caution.subject)} is {pct(amount.typical)} % of the piece and could be {high} % by the species range"
    uses = [mix.lines[part.line].id for part in amount.parts]
    text += f"; {most} % is the ceiling given for {who}."
    text += f" {fits.cure(uses)}" if over else ""
    reason = f"Compared: percent of the cured piece with the caution's figure.{fits.why(uses) if over else ''} {_reasons([hit])} {CLINICIAN}"
    return [Notice("stop" if over else "mind", text, reason, _sources([hit]), "", mix.lines[hit.line].id)]


def bounds(mix: Mix, catalogue: Catalogue, seen: Seen, met: Met) -> tuple[list[Bound], dict[str, str]]:
    """What keeps the figures of cautions from stopping the piece, and the oils that must not be in it at all."""
    film = (seen.scent.is_scent | seen.scent.is_fixed).astype(float)
    times = 1.0 if mix.recipe.audience in AUDIENCE_WORDS else SKIN_STOP
    found = []
    for hit in met.get("sensitive_skin", []):
        if hit.line >= 0 and hit.caution.limit_pct:
            own = np.array([mixed.id == mix.lines[hit.line].id for mixed in mix.lines], dtype=float)
            way = Way(own - times * hit.caution.limit_pct / 100 * film)
            what = (
                f"{f'{shown(times)} times ' if times > 1 else ''}a handbook's {shown(hit.caution.limit_pct)} % for skin"
            )
            found.append(Bound(what, own, (way, dispersing(seen.scent)), afloat=True))
    barred: dict[str, str] = {}
    for hit in (hit for group in BOUND[mix.recipe.audience] for hit in met.get(group, [])):
        if hit.caution.level == "avoid":
            scents = [mix.lines[hit.line].id] if hit.line >= 0 else [m.id for m in mix.lines if m.is_oil]
            barred |= dict.fromkeys(scents, f"a caution on {hit.caution.subject}")
        elif hit.caution.limit_pct and not _covered(mix, catalogue, hit.caution.subject):
            parts = seen.found.cautions.get(hit.caution.subject, ())
            way = per_product(mix, parts, hit.caution.limit_pct)
            found.append(Bound(f"a caution on {hit.caution.subject}", per_product(mix, parts, 0.0).fixed, (way,)))
    return found, barred


def _skin_maxima(mix: Mix, seen: Seen, met: list[Hit], fits: Fits) -> list[Notice]:
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
    uses = [mix.lines[hit.line].id for hit in spoken]
    cure = (
        f"{fits.cure(uses)} More carrier oil or a solubiliser leaves room for more."
        if stops
        else "More carrier oil or a solubiliser brings it down."
        if floats
        else "Less of it keeps clear of that."
    )
    grading = (
        f" We stop an undispersed film that passes one at all, as the piece is for {AUDIENCE_WORDS[mix.recipe.audience]}."
        if tender
        else f" We stop an adult's undispersed film above {shown(SKIN_STOP)} times one (our own estimate)."
    )
    return [
        Notice(
            "stop" if stops else "mind",
            f"{where}{',' if floats else ''} stronger than a handbook's maximum for skin: {listed(over.values())}. "
            + cure,
            "Compared: each oil's share of all oils and fats, by mass, with an adult dermal maximum meant for leave-on use, as "
            f"a yardstick, as if nothing disperses.{grading}{fits.why(uses) if stops else ''} {_reasons(spoken)} {CLINICIAN}",
            _sources(spoken),
            "film_pct",
        )
    ]


def _children(met: Met, groups: Iterable[str]) -> list[Notice]:
    """One sentence for all ages of children that the piece is not made for: who must keep from it, who take care."""
    barred = careful = ""
    spoken: list[Hit] = []
    by_level: dict[str, tuple[list[str], list[str]]] = {}
    for group in groups:
        own = met.get(group, [])
        spoken += own
        avoid = [hit.who for hit in own if hit.caution.level == "avoid"]
        care = [hit.who for hit in own if hit.caution.level != "avoid"]
        by_level[group] = avoid, care
        # An older group holds the younger ones, so the oldest is the one to name.
        barred = group if avoid else barred
        careful = group if care else careful
    if not spoken:
        return []
    if careful and barred and CHILD_GROUPS.index(careful) <= CHILD_GROUPS.index(barred):
        careful = ""
    care = by_level[careful][1] if careful else []
    said = ""
    if barred:
        told = [name for name in by_level[barred][0] if name not in care]
        said = f"Keep it from {GROUP_WORDS[barred]}, {_because(told or by_level[barred][0])}"
    if careful:
        take = "take care with those" if said else "Take care with children"
        said += f"{'; ' if said else ''}{take} {GROUP_WORDS[careful].removeprefix('children ')}, {_because(care)}"
    return [Notice("mind", f"{said}.", f"{_reasons(spoken)} {CLINICIAN}", _sources(spoken), standing=True)]


def advise(mix: Mix, catalogue: Catalogue, tub: Bath, seen: Seen | None, met: Met, fits: Fits) -> list[Notice]:
    """Notices by group of people; `seen` is None for a piece without scent, `met` what `hits` found."""
    bound = BOUND[mix.recipe.audience]
    notices: list[Notice] = []
    if seen is not None:
        if bound:
            notices += _own_audience(mix, catalogue, seen, [hit for group in bound for hit in met.get(group, [])], fits)
        notices += _skin_maxima(mix, seen, met.get("sensitive_skin", []), fits)
    notices += _children(met, [group for group in CHILD_GROUPS if group not in bound])
    for group in GROUP_WORDS:
        if group in bound or group in CHILD_GROUPS:
            continue
        # Sensitive skin's figures are told apart, beside the film they are compared with.
        own = [hit for hit in met.get(group, []) if not (group == "sensitive_skin" and hit.caution.limit_pct)]
        if own:
            notices += _group_notices(own, group)
    return [*notices, *bathing.advise(mix, catalogue, tub)]
