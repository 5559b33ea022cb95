"""Choosing oils for a bath: which suit this bather, this market and the scent that is wished for, and why others do not."""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import date
from functools import lru_cache
from typing import Any

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.holdings import Held
from fizzwright.catalogue.model import Allergen, Oil
from fizzwright.catalogue.workshop import Workshop
from fizzwright.design import wheel
from fizzwright.design.room_for import PLAIN_WORDS, Room, room_for
from fizzwright.recipe.measures import density, drop_ml
from fizzwright.recipe.model import AUDIENCES, MARKETS
from fizzwright.refusal import Refusal
from fizzwright.review import people
from fizzwright.review.bathing import AUDIENCE_WORDS
from fizzwright.review.composition import KNOWN_ENOUGH_PCT
from fizzwright.review.cost import line_cost
from fizzwright.review.figures import sources_of
from fizzwright.review.joins import UNCHECKED, likely_pct
from fizzwright.wording import listed, sentence, shown

VERDICTS = ("room to spare", "enough room", "sparingly", "poor choice", "not for this bather")
"""Our own words, best first."""
VERDICT_LEVELS = ("good", "good", "mind", "stop", "stop")
"""What status each is shown with."""
MOODS: Mapping[str, tuple[str, ...]] = {
    "fresh": ("citrus", "minty", "conifer", "camphor"),
    "bright": ("citrus", "fruity"),
    "leafy": ("herbal", "conifer", "minty"),
    "soft": ("floral", "sweet", "fruity"),
    "warm": ("spicy", "sweet", "balsamic"),
    "deep": ("woody", "earthy", "balsamic"),
}
"""estimate: characters of a scent, our own, as families. What a scent does to a person is not among them."""
MATCH_LEAST = 0.3
"""Our own choice: an oil belongs to a wish when three tenths of what is smelt do."""
SPARING = 1 / 3
"""Our own choice: less room than a third of the usual amount is little."""
MANY_BARRED = 3
"""Our own choice: an oil that cautions keep from three kinds of people is one to use sparingly for the others too."""
USUAL = {"adult": "typical", "pregnancy": "min", "child_6_plus": "min", "child_2_plus": "min"}
"""Which figure of the usual share of scent (facts, comp_eo) a piece is taken to want; a child's and one for pregnancy the least."""
_IRRITANT = re.compile(r"\birritant\b")


@dataclass(frozen=True, slots=True)
class Reason:
    """One thing that speaks about an oil in a bath."""

    text: str
    sources: tuple[str, ...]
    against: bool = False
    """True when it speaks against the oil."""


@dataclass(frozen=True)
class Choice:
    """One oil judged for one bather and market."""

    oil: str
    name: str
    verdict: str
    wish_pct: float | None
    """Percent of what is smelt that belongs to the wish; None when nothing was wished for."""
    typical_pct: float
    """The most of the cured piece by the species' typical make-up; 0 when barred."""
    worst_pct: float
    """By the largest contents the species reaches."""
    dispersed_pct: float
    """By those, with enough solubiliser to keep it from floating."""
    drops: int
    """Whole drops in the plain piece by the worst."""
    set_by: str
    reasons: tuple[Reason, ...]
    keep_from: tuple[str, ...]
    """People whom a published caution keeps from it."""
    labels: tuple[str, ...]
    """Fragrance allergens that pass the rinse-off threshold at the usual amount, or at all that fits if that is less."""
    families: tuple[tuple[str, float], ...]
    """The three it smells of most, percent of what is smelt."""
    odour_words: str
    """The trade's words for the whole oil."""
    note: str
    vapour_pressure_pa: float
    radius: float
    angle_deg: float
    minor_per_drop: float | None
    """None where no price is held."""
    on_hand_g: float | None
    """None where the workshop does not say."""


@dataclass(frozen=True)
class Chosen:
    """All oils looked at, best first."""

    audience: str
    sold_in: tuple[str, ...]
    as_of: date
    wish: str
    """The family or mood asked for; empty for none."""
    without: tuple[str, ...]
    usual_pct: float
    """What a piece is taken to want of one oil alone, percent of the cured piece."""
    piece: str
    """The plain piece the room is reckoned in, in words."""
    choices: tuple[Choice, ...]
    passed_over: int
    """Oils left out because they do not smell of the wish."""
    currency: str

    def as_dict(self) -> dict[str, Any]:
        """For --json."""
        return {"fizzwright": 1, **asdict(self), "as_of": self.as_of.isoformat()}


def _known(word: str, allowed: tuple[str, ...], what: str, more: str = "") -> str:
    plain = word.strip().casefold().replace(" ", "_")
    if plain not in allowed:
        raise Refusal(f"{what} {word!r} is not known here. Choose one of: {', '.join(allowed)}.{more}")
    return plain


def _wished(family: str, mood: str) -> tuple[str, tuple[str, ...]]:
    """The wish in a word, and the families that belong to it."""
    if family and mood:
        raise Refusal("Both a family and a mood were given. Ask for one of them.")
    if family:
        plain = wheel.FAMILY_OF.get(family.strip().casefold(), family)
        name = _known(plain, tuple(wheel.FAMILIES), "Family")
        return name, (name,)
    if mood:
        more = " A mood here is the character of a scent; what it may do to a person is nothing this program can tell."
        name = _known(mood, tuple(MOODS), "Mood", more)
        return name, MOODS[name]
    return "", ()


def _allergens(names: tuple[str, ...], catalogue: Catalogue) -> tuple[Allergen, ...]:
    by_name = {word.casefold(): one for one in catalogue.allergens for word in (one.id, one.label_name)}
    by_name |= {name.casefold(): one for one in catalogue.allergens for name in one.constituent_names}
    found = []
    for name in names:
        one = by_name.get(name.strip().casefold())
        if one is None:
            near = difflib.get_close_matches(
                name.casefold(), [a.label_name.casefold() for a in catalogue.allergens], 3, 0.4
            )
            like = listed((by_name[word].label_name for word in near), "or") if near else ""
            raise Refusal(
                f"No fragrance allergen has the label name {name!r}. "
                + (f"Did you mean {like}?" if like else "Write it as on a label, such as Linalool.")
            )
        found.append(one)
    return tuple({one.id: one for one in found}.values())


def usual_pct(catalogue: Catalogue, audience: str) -> float:
    """What a piece for an audience is taken to want of scent, percent (common practice, from memory)."""
    fact = catalogue.fact("comp_eo")
    value = {"typical": fact.typical, "min": fact.min}[USUAL[audience]]
    if value is None:
        raise ValueError("facts.csv, comp_eo: min and typical are needed to tell the usual share of scent")
    return value


def choose(
    catalogue: Catalogue,
    workshop: Workshop | None = None,
    *,
    audience: str = "adult",
    sold_in: tuple[str, ...] = (),
    family: str = "",
    mood: str = "",
    without_allergens: tuple[str, ...] = (),
    as_of: date | None = None,
) -> Chosen:
    """Every oil (or those of the wish) judged for a bath, best first. Refusal for a word that is not known.

    Order: verdict; in tenths, how much of it belongs to the wish; in stock before not; room up to the usual amount; price a
    drop; name.
    """
    audience = _known(audience, AUDIENCES, "Audience")
    markets = tuple(_known(market, MARKETS, "Market") for market in sold_in)
    wish, families = _wished(family, mood)
    without = _allergens(without_allergens, catalogue)
    day = as_of or date.today()
    usual = usual_pct(catalogue, audience)
    smelt = {
        oil.id: sum(wheel.profile(oil, catalogue).families[one] for one in families) for oil in catalogue.oils.values()
    }
    wanted = [oil for oil in catalogue.oils.values() if not wish or smelt[oil.id] >= MATCH_LEAST]
    rooms = _rooms(Held(catalogue), audience, markets, day, tuple(one.id for one in without))
    choices = [
        _choice(oil, rooms[oil.id], catalogue, workshop, usual, 100 * smelt[oil.id] if wish else None) for oil in wanted
    ]
    return Chosen(
        audience,
        markets,
        day,
        wish,
        tuple(one.label_name for one in without),
        usual,
        PLAIN_WORDS,
        tuple(sorted(choices, key=lambda choice: _rank(choice, usual))),
        len(catalogue.oils) - len(wanted),
        workshop.currency if workshop else "",
    )


def proposable(catalogue: Catalogue, audience: str, sold_in: tuple[str, ...], as_of: date) -> frozenset[str]:
    """Oils that may be proposed to this bather: all that are neither a poor choice nor barred."""
    found = choose(catalogue, audience=audience, sold_in=sold_in, as_of=as_of).choices
    return frozenset(one.oil for one in found if one.verdict in VERDICTS[:3])


@lru_cache(maxsize=32)
def _rooms(
    held: Held, audience: str, markets: tuple[str, ...], day: date, without: tuple[str, ...]
) -> Mapping[str, Room]:
    catalogue = held.catalogue
    named = [one for one in catalogue.allergens if one.id in without]
    return {oil.id: room_for(oil, catalogue, audience, markets, day, named) for oil in catalogue.oils.values()}


def _rank(choice: Choice, usual: float) -> tuple[object, ...]:
    return (
        VERDICTS.index(choice.verdict),
        -round((choice.wish_pct or 0.0) / 10),
        not choice.on_hand_g,
        -min(1.0, round(choice.worst_pct / usual, 2)),
        choice.minor_per_drop if choice.minor_per_drop is not None else math.inf,
        choice.name,
    )


def drop_g(oil: Oil, catalogue: Catalogue) -> float:
    """Grams of one drop."""
    return drop_ml(oil, catalogue).ml * density(oil, None).g_ml


def _choice(
    oil: Oil, room: Room, catalogue: Catalogue, workshop: Workshop | None, usual: float, wish_pct: float | None
) -> Choice:
    one_drop = drop_g(oil, catalogue)
    told = wheel.profile(oil, catalogue)
    place = wheel.places(oil, catalogue)
    barred = oil.id in room.barred
    drops = 0 if barred else math.floor(room.worst.grams / one_drop + 1e-9)
    rows = [price for price in workshop.prices if price.use == oil.id] if workshop else []
    weighed = [price.on_hand_g for price in rows if price.on_hand_g is not None]
    cost = line_cost(room.mix.lines[-1], workshop) if workshop else None
    # In a child's plain piece no oil at all may be as strong as is usual, so none is asked to leave room for that.
    wanted = min(usual, room.any_oil_pct * (1 - 1e-9))
    amount = 0.0 if barred else min(usual, room.worst.piece_pct)
    leading = sorted(told.families.items(), key=lambda family: -family[1])[:3]
    verdict = _verdict(oil, room, drops, one_drop, wanted)
    return Choice(
        oil=oil.id,
        name=oil.name,
        verdict=verdict,
        wish_pct=wish_pct,
        typical_pct=0.0 if barred else room.typical.piece_pct,
        worst_pct=0.0 if barred else room.worst.piece_pct,
        dispersed_pct=0.0 if barred else room.dispersed.piece_pct,
        drops=drops,
        set_by=room.barred[oil.id] if barred else room.worst.set_by,
        reasons=tuple(_reasons(oil, room, catalogue, wanted, drops)),
        keep_from=tuple(people.GROUP_WORDS[group] for group in _barred_groups(room)),
        labels=_labels(room, catalogue, amount),
        families=tuple((family, 100 * share) for family, share in leading if share >= wheel.ABSENT),
        odour_words=oil.odour_family,
        note=oil.note_class,
        vapour_pressure_pa=told.vapour_pressure_pa,
        radius=place.radius,
        angle_deg=place.angle_deg,
        minor_per_drop=None if cost is None or cost.minor_per_g is None else cost.minor_per_g * one_drop,
        on_hand_g=sum(weighed) if weighed else None,
    )


def _verdict(oil: Oil, room: Room, drops: int, one_drop: float, wanted: float) -> str:
    if oil.id in room.barred:
        return "not for this bather"
    if room.typical.grams < one_drop or drops == 0 or _IRRITANT.search(oil.cautions):
        return "poor choice"
    barred_from = [group for group in _barred_groups(room) if group != "pets"]
    if room.worst.piece_pct < SPARING * wanted or oil.phototoxic == "yes" or len(barred_from) >= MANY_BARRED:
        return "sparingly"
    if room.worst.piece_pct < wanted or barred_from or _care(room) or room.not_held:
        return "enough room"
    return "room to spare"


def _doubt(how: str) -> str:
    return " (from memory, not checked)" if how in UNCHECKED else ""


def _reasons(oil: Oil, room: Room, catalogue: Catalogue, wanted: float, drops: int) -> list[Reason]:
    audience = room.mix.recipe.audience
    found: list[Reason] = []
    if _IRRITANT.search(oil.cautions):
        text = "It is an irritant to skin and to the lining of eyes and body, which bath water reaches"
        found.append(Reason(f"{text}{_doubt(oil.how_of('cautions'))}.", oil.sources_of("cautions"), True))
    if oil.id in room.barred:
        hits = [
            hit for group in people.BOUND[audience] for hit in room.met.get(group, ()) if hit.caution.level == "avoid"
        ]
        named = list({hit.caution.reason: hit for hit in hits if hit.line >= 0}.values())
        why = " ".join(f"{hit.caution.reason.rstrip('.')}{_doubt(hit.caution.how_of('reason'))}." for hit in named)
        who = AUDIENCE_WORDS.get(audience, "adults")
        cited = sources_of(*(hit.caution.sources_of("reason") for hit in named))
        found.append(Reason(f"Not for {who}: {room.barred[oil.id]}. {why}".strip(), cited, True))
    else:
        found.append(_room_reason(room, wanted, drops))
    if oil.phototoxic == "yes":
        kin = _kin(oil, catalogue)
        text = "Skin that was bathed with it can burn in the sun." + (f" Take {kin.name} instead." if kin else "")
        found.append(Reason(text, oil.sources_of("phototoxic"), True))
    for hit in {hit.caution.reason: hit for hit in _care(room)}.values():
        said = f"{hit.caution.reason.rstrip('.')}{_doubt(hit.caution.how_of('reason'))}."
        cited = hit.caution.sources_of("reason")
        found.append(Reason(f"Take care, it is made for {AUDIENCE_WORDS[audience]}: {said}", cited, True))
    if keeps := [people.GROUP_WORDS[group] for group in _barred_groups(room)]:
        hits = [hit for group in _barred_groups(room) for hit in room.met[group] if hit.line >= 0]
        cited = sources_of(*(hit.caution.sources_of("reason") for hit in hits if hit.caution.level == "avoid"))
        found.append(Reason(f"Published cautions keep it from {listed(keeps)}.", cited, keeps != ["pets"]))
    skin = {hit.caution.reason: hit.caution for hit in room.met.get("sensitive_skin", ()) if hit.line >= 0}
    for caution in skin.values():
        text = f"Sensitive skin: {sentence(caution.reason.rstrip('.'))}{_doubt(caution.how_of('reason'))}."
        found.append(Reason(text, caution.sources_of("reason")))
    known_pct = sum(likely_pct(row)[0] for row in oil.constituents)
    if known_pct < KNOWN_ENOUGH_PCT:
        text = f"Only {shown(known_pct)} % of it is known here by name; limits were compared with that alone."
        found.append(Reason(text, oil.sources_of("remainder"), True))
    if room.not_held:
        text = f"A limit exists for {listed(room.not_held)} whose figure is not held here; look it up."
        found.append(Reason(text, (), True))
    if oil.cautions:
        text = f"Told of it in the trade{_doubt(oil.how_of('cautions'))}: {oil.cautions.rstrip('.')}."
        found.append(Reason(text, oil.sources_of("cautions")))
    return found


def _room_reason(room: Room, wanted: float, drops: int) -> Reason:
    worst, typical, dispersed = room.worst, room.typical, room.dispersed
    fits = f"{drops} drop{'' if drops == 1 else 's'}" if drops else "not one drop"
    text = f"Up to {shown(worst.piece_pct)} % of the piece fits ({fits} in 100 g), set by {worst.set_by}"
    if typical.piece_pct > 1.01 * worst.piece_pct:
        text += f"; by what the species usually holds, {shown(typical.piece_pct)} %"
    text += "."
    if worst.afloat and dispersed.piece_pct > 1.05 * worst.piece_pct:
        text += f" With enough solubiliser, {shown(dispersed.piece_pct)} %."
    return Reason(text, sources_of(worst.sources), worst.piece_pct < SPARING * wanted)


def _kin(oil: Oil, catalogue: Catalogue) -> Oil | None:
    """An oil of the same plant and odour that does not burn in the sun."""
    return next(
        (
            other
            for other in catalogue.oils.values()
            if other.phototoxic != "yes"
            and other.botanical.split()[:2] == oil.botanical.split()[:2]
            and other.odour_family == oil.odour_family
        ),
        None,
    )


def _barred_groups(room: Room) -> list[str]:
    """Groups outside the audience that a caution on this oil keeps from it; of children the oldest."""
    bound = people.BOUND[room.mix.recipe.audience]
    groups = [
        group
        for group in people.GROUP_WORDS
        if group not in bound and any(hit.line >= 0 and hit.caution.level == "avoid" for hit in room.met.get(group, ()))
    ]
    # an older group of children holds the younger ones
    children = [group for group in people.CHILD_GROUPS if group in groups]
    return [group for group in groups if group not in children[:-1]]


def _care(room: Room) -> list[people.Hit]:
    """Cautions on this oil that ask the people the piece is for to take care, without a figure."""
    hits = [hit for group in people.BOUND[room.mix.recipe.audience] for hit in room.met.get(group, ())]
    return [hit for hit in hits if hit.line >= 0 and hit.caution.level != "avoid" and not hit.caution.limit_pct]


def _labels(room: Room, catalogue: Catalogue, piece_pct: float) -> tuple[str, ...]:
    named = {one.label_name: one for one in catalogue.allergens}
    return tuple(
        label
        for label, parts in room.found.labels.items()
        if label in named
        and sum(part.typical_pct for part in parts) / 100 * piece_pct > named[label].rinse_off_threshold_pct
    )
