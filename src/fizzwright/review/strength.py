"""How strong the scent is: in the film that floats, in the piece, in one bath; and from where that stops a piece."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.model import Material
from fizzwright.recipe.amounts import format_number
from fizzwright.recipe.measures import density, unit_ml
from fizzwright.recipe.mix import Mix
from fizzwright.recipe.weigh import SCALES_G
from fizzwright.review.figures import Figure, Notice
from fizzwright.review.fitting import Bound, Fits, Way
from fizzwright.review.tub_defaults import CHILD_AUDIENCES
from fizzwright.review.views import RULE_OF_THUMB_PCT, Scent, dispersing
from fizzwright.wording import apart, listed, shown

DISPERSED_ENOUGH_PCT = 100.0
SOLUBILISER = "polysorbate_80"
"""What is named when the mix holds no solubiliser: the one most kitchens can buy."""


@dataclass(frozen=True, slots=True)
class Ceiling:
    """From where the sheer strength of a scent stops a piece; each is passed by being above it."""

    film_pct: float
    """Essential oil in the undispersed film, percent by mass ..."""
    film_g: float
    """... when one bath brings more than so many grams of it."""
    product_pct: float
    """Essential oil in the finished piece, percent by mass."""
    bath_mind_g: float
    """Grams of essential oil in one bath to take care from."""
    bath_stop_g: float
    """Grams of essential oil in one bath to stop from."""
    why: str


_CHILD = Ceiling(
    film_pct=RULE_OF_THUMB_PCT,
    film_g=0.0,
    product_pct=1.0,
    bath_mind_g=0.15,
    bath_stop_g=0.3,
    why="For a child we stop above the kitchen rule for an adult's carrier, above what is usual in an adult's piece, and "
    "above about ten drops, a full adult's bath (common practice, no source).",
)
CEILINGS = {
    "adult": Ceiling(
        film_pct=25.0,
        film_g=2.0,
        product_pct=5.0,
        bath_mind_g=4.0,
        bath_stop_g=10.0,
        why="We stop an adult's piece where a quarter of the film is essential oil and there is more of it than the most a "
        "usual 100 g piece holds, and at two and a half times the usual most in a large piece of 200 g.",
    ),
    "pregnancy": Ceiling(
        film_pct=12.5,
        film_g=1.0,
        product_pct=2.5,
        bath_mind_g=2.0,
        bath_stop_g=5.0,
        why="In pregnancy we halve what stops an adult's piece, as many practitioners halve the scent.",
    ),
    "child_6_plus": _CHILD,
    "child_2_plus": _CHILD,
}
"""estimate: nobody publishes such ceilings for a fizzer.

They rest on the usual share of scent, 0.3-1-2 % (facts, comp_eo), the kitchen rule of 3 % in a carrier and five to ten drops
a bath (both common practice, no source), and the warning against undiluted oils on small children (bfr_2008).
"""
USUAL = {"adult": "max", "pregnancy": "typical", "child_6_plus": "min", "child_2_plus": "min"}
"""Which end of the usual share of scent (facts, comp_eo) is the most for an audience before care is asked."""
AUDIENCE_PIECE = {
    "adult": "a piece",
    "pregnancy": "a piece for use in pregnancy",
    "child_6_plus": "a child's piece",
    "child_2_plus": "a child's piece",
}


def bounds(mix: Mix, scent: Scent) -> list[Bound]:
    """What keeps the scent from stopping a piece by its sheer strength."""
    ceiling = CEILINGS[mix.recipe.audience]
    brings = scent.is_scent.astype(float)
    film_share = Way(brings - ceiling.film_pct / 100 * (scent.is_scent | scent.is_fixed))
    in_film = (film_share, _per_bath(mix, scent, ceiling.film_g), dispersing(scent))
    in_piece = Way(brings - ceiling.product_pct / 100 * mix.cured_fraction)
    return [
        Bound(f"the film, {shown(ceiling.film_pct, 3)} % essential oil", brings, in_film, afloat=True),
        Bound(f"{shown(ceiling.product_pct)} % of the piece", brings, (in_piece,)),
        Bound(f"{shown(ceiling.bath_stop_g)} g a bath", brings, (_per_bath(mix, scent, ceiling.bath_stop_g),)),
    ]


def _per_bath(mix: Mix, scent: Scent, most_g: float) -> Way:
    """That one bath brings so many grams of scent at most: scent / mix x mix in a bath."""
    return Way(np.full(len(mix.lines), -most_g), scent.is_scent.astype(float))


def _spoons(grams: float, material: Material, mix: Mix, catalogue: Catalogue) -> str:
    """A liquid in spoons, rounded up: teaspoons by halves, from three on tablespoons."""
    ml = grams / density(material, None).g_ml
    for name, unit in (("tsp", "teaspoon"), ("tbsp", "tablespoon")):
        halves = math.ceil(2 * ml / unit_ml(name, mix.recipe.measures, catalogue).ml - 1e-9)
        if halves <= 5 or unit == "tablespoon":
            break
    return f"{format_number(Fraction(halves, 2), decimal=False)} {unit}{'s' if halves > 2 else ''}"


def _remedy(mix: Mix, catalogue: Catalogue, scent: Scent, want_g: float) -> str:
    """How much of which solubiliser to add, in grams and spoons, and what is there already."""
    held = [
        (float(worth * grams), mixed.material, float(worth))
        for mixed, worth, grams in zip(mix.lines, scent.dispersing, mix.grams, strict=True)
        if worth > 0 and mixed.material is not None
    ]
    solubilisers = [one for one in held if one[1].function != "surfactant"]
    if solubilisers:
        _, material, worth = max(solubilisers, key=lambda one: one[0])
    else:
        material = catalogue.materials[SOLUBILISER]
        worth = 1 - material.water_mass_pct / 100
    short_g = (want_g - sum(grams for grams, _, _ in held)) / worth
    step = next(step for least, step in SCALES_G if short_g >= least)
    add_g = math.ceil(short_g / step - 1e-6) * step
    there = "There is none in it yet"
    if held:
        lines = {m.name: sum(x.grams for x in mix.lines if x.material is m) for _, m, _ in held}
        amounts = listed(f"{shown(grams)} g of {name}" for name, grams in lines.items())
        there = f"The {amounts} in it {'are' if len(lines) > 1 else 'is'} not enough"
    more = "more " if material.name in [m.name for _, m, _ in held] else ""
    return (
        f"To mix it into the water, add about {shown(add_g, 6)} g {more}of {material.name} "
        f"({_spoons(add_g, material, mix, catalogue)}). {there}."
    )


def film(
    mix: Mix, catalogue: Catalogue, scent: Scent, strength: Figure, needed: Figure, share: Figure, bath_g: float, fits: Fits
) -> Notice:  # fmt: skip
    """Whether the scent floats, and how strong: dispersed, diluted, or as good as neat."""
    film_pct, have, want = float(strength.value), float(share.value), float(needed.value)
    span = f"{shown(float(needed.low or 0))}-{shown(float(needed.high or 0))} g, estimate"
    if have >= DISPERSED_ENOUGH_PCT:
        return Notice(
            "good",
            "There is enough solubiliser to mix the scent and the oils into the bath, by kitchen practice.",
            f"Compared: solubiliser in the mix with about {shown(want)} g that practice asks for ({span}). If it failed, the "
            f"film would be {shown(film_pct)} % essential oil.",
            (),
            share.id,
        )
    remedy = _remedy(mix, catalogue, scent, want)
    ceiling = CEILINGS[mix.recipe.audience]
    child = mix.recipe.audience in CHILD_AUDIENCES
    stops = film_pct > ceiling.film_pct and bath_g > ceiling.film_g
    grams = f" above {shown(ceiling.film_g)} g a bath" if ceiling.film_g else ""
    scents = [mixed.id for mixed in mix.lines if mixed.is_oil]
    judged = (
        f" It takes about {shown(want)} g of solubiliser in all ({span}): try a little in a glass of bath water. Compared too: with "
        f"{shown(ceiling.film_pct, 3)} % of the film{grams}, from which we stop {AUDIENCE_PIECE[mix.recipe.audience]} (our own "
        f"estimate). {ceiling.why}{fits.why(scents) if stops else ''}"
    )
    sources = ("bfr_2008",) if child else ()
    cure = f"{fits.cure(scents)} " if stops else ""
    if not scent.is_fixed.any():
        return Notice(
            "stop" if stops else "mind",
            f"No oil carries the scent: {shown(bath_g)} g a bath can float on the water and meet skin undiluted. {cure}{remedy} "
            "Or stir the scent into a tablespoon of carrier oil first.",
            f"{'Undiluted oils do not belong on small children, bath products included. ' if child else ''}"
            f"In the piece the powder holds the oil; in the bath the powder dissolves and lets it go.{judged}",
            sources,
            strength.id,
        )
    have_pct, most_pct = apart(film_pct, ceiling.film_pct, 2)
    if stops:
        return Notice(
            "stop",
            f"The scent floats on the bath, and the film that meets skin would be {have_pct} % essential oil, {shown(bath_g)} g of "
            f"it in one bath; we stop above {most_pct} %. {cure}{remedy}",
            f"Carrier oil thins an essential oil; it does not make it mix with water.{judged}",
            sources,
            strength.id,
        )
    return Notice(
        "mind",
        f"The oils float on the bath, and the film they leave on skin is {shown(film_pct)} % essential oil. {remedy}",
        "Carrier oil thins an essential oil; it does not make it mix with water. Compared: the scent's share of all oils "
        f"and fats, by mass, as if nothing dispersed it.{judged}",
        (),
        strength.id,
    )


def amount(mix: Mix, catalogue: Catalogue, product: Figure, bath_g: float, fits: Fits) -> list[Notice]:
    """How much scent the piece and one bath hold, whatever disperses it."""
    audience = mix.recipe.audience
    ceiling, usual = CEILINGS[audience], catalogue.fact("comp_eo")
    most = {"max": usual.max, "typical": usual.typical, "min": usual.min}[USUAL[audience]] or ceiling.product_pct
    share = float(product.value)
    said, stops = [], False
    if share > most:
        stops = share > ceiling.product_pct
        have, limit = apart(share, most, 2)
        said.append(f"{have} % of the finished piece, where {limit} % is plenty")
    if bath_g > ceiling.bath_mind_g:
        stops = stops or bath_g > ceiling.bath_stop_g
        have, limit = apart(bath_g, ceiling.bath_mind_g, 2)
        said.append(f"{have} g in one bath, where {limit} g is plenty")
    if not said:
        return []
    scents = [mixed.id for mixed in mix.lines if mixed.is_oil]
    cure = (fits.cure(scents) if stops else "") or "Use less."
    return [
        Notice(
            "stop" if stops else "mind",
            f"{'Far too much' if stops else 'A great deal of'} scent for {AUDIENCE_PIECE[audience]}: {'; '.join(said)}. {cure}",
            f"Compared: the scent with the usual share, {shown(usual.min or 0)} to {shown(usual.max or 0)} % of a mix "
            f"(common practice, from memory). We stop above {shown(ceiling.product_pct)} % of the piece or "
            f"{shown(ceiling.bath_stop_g)} g a bath (our own estimate). {ceiling.why}"
            f"{fits.why(scents) if stops else ''}",
            usual.sources_of("max"),
            product.id,
        )
    ]


def carrier(neat: Figure) -> list[Notice]:
    """The scent in its carrier oil beside the kitchen rule."""
    value = float(neat.value)
    if value <= RULE_OF_THUMB_PCT or value >= 100:
        return []
    have, most = apart(value, RULE_OF_THUMB_PCT, 2)
    return [
        Notice(
            "mind",
            f"The scent is {have} % of the oil it is stirred into; the kitchen rule is at most {most} %. Use fewer drops or "
            "more carrier oil.",
            f"Compared: essential oil by volume in its carrier with the rule of {most} %, about eight old drops a tablespoon "
            "(common practice, no source).",
            ("COMMON_PRACTICE",),
            neat.id,
        )
    ]


def stirred_into(mix: Mix, scent: Scent) -> list[Notice]:
    """Scent whose key `in` names something that is no oil."""
    by_use: dict[str, list[str]] = {}
    for place, mixed in enumerate(mix.lines):
        if scent.is_scent[place] and mixed.line.diluted_in:
            by_use.setdefault(mixed.line.diluted_in, []).append(mixed.name)
    notices = []
    for use, who in by_use.items():
        places = [place for place, mixed in enumerate(mix.lines) if mixed.id == use]
        if not places or any(scent.is_fixed[place] for place in places):
            continue
        mixed, disperses = mix.lines[places[0]], any(scent.dispersing[place] > 0 for place in places)
        leaves = bool(mix.cured_fraction[places[0]] < 1) and not disperses
        fate = (
            "it helps the oil to mix with the bath, but only where there is enough of it"
            if disperses
            else "it dries away and thins nothing"
            if leaves
            else "it goes its own way in the bath and thins nothing"
        )
        notices.append(
            Notice(
                "mind",
                f"{listed(who)} is stirred into {mixed.name}, which is no oil: {fate}. Only a carrier oil or butter counts as "
                "thinning it on skin.",
                "The scent is counted with the oils and fats of its part of the piece, as if it had been added straight to them.",
                (),
                "neat_in_carrier_pct",
                mixed.id,
                standing=disperses,
            )
        )
    return notices
