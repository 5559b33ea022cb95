"""How strong the scent is: in the film that floats, in the piece, in one bath; and from where that stops a piece."""

from __future__ import annotations

from dataclasses import dataclass

from fizzwright.catalogue import Catalogue
from fizzwright.recipe.mix import Mix
from fizzwright.review.figures import Figure, Notice
from fizzwright.review.tub_defaults import CHILD_AUDIENCES
from fizzwright.review.views import RULE_OF_THUMB_PCT, Scent
from fizzwright.wording import apart, listed, shown

DISPERSED_ENOUGH_PCT = 100.0


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


def film(mix: Mix, scent: Scent, strength: Figure, needed: Figure, share: Figure, bath_g: float) -> Notice:
    """Whether the scent floats, and how strong: dispersed, diluted, or as good as neat."""
    film_pct, have, want = float(strength.value), float(share.value), float(needed.value)
    if have >= DISPERSED_ENOUGH_PCT:
        return Notice(
            "good",
            "There is enough solubiliser to disperse the oils in the bath, by kitchen practice.",
            f"Compared: solubiliser in the mix with about {shown(want)} g that practice asks for "
            f"({shown(float(needed.low or 0))}-{shown(float(needed.high or 0))} g, estimate). Undispersed, the film would be "
            f"{shown(film_pct)} % essential oil.",
            (),
            share.id,
        )
    cure = f"About {shown(want)} g of a solubiliser such as polysorbate 80 in the mix would disperse it"
    spread = f"(from {shown(float(needed.low or 0))} to {shown(float(needed.high or 0))} g, estimate)"
    held = f" What is in it does about {shown(have)} % of that." if have > 0 else ""
    ceiling = CEILINGS[mix.recipe.audience]
    child = mix.recipe.audience in CHILD_AUDIENCES
    stops = film_pct > ceiling.film_pct and bath_g > ceiling.film_g
    amount = f" above {shown(ceiling.film_g)} g a bath" if ceiling.film_g else ""
    judged = (
        f" Compared too: with {shown(ceiling.film_pct, 3)} % of the film{amount}, from which we stop {AUDIENCE_PIECE[mix.recipe.audience]} "
        f"(our own estimate). {ceiling.why}"
    )
    sources = ("bfr_2008",) if child else ()
    if not scent.is_fixed.any():
        return Notice(
            "stop" if stops else "mind",
            f"There is no carrier oil and too little to disperse the scent: {shown(bath_g)} g a bath can float neat on the "
            f"water and meet skin undiluted. {cure} {spread}, or stir it into a tablespoon of carrier oil first.{held}",
            f"{'Undiluted oils do not belong on small children, bath products included. ' if child else ''}"
            f"In the piece the powder holds the oil; in the bath the powder dissolves and lets it go.{judged}",
            sources,
            strength.id,
        )
    have_pct, most_pct = apart(film_pct, ceiling.film_pct, 2)
    if stops:
        return Notice(
            "stop",
            f"The scent is hardly diluted and not dispersed: it floats, and the film that meets skin is {have_pct} % "
            f"essential oil, {shown(bath_g)} g of it in one bath; we stop above {most_pct} %. Use less scent or more carrier "
            f"oil. {cure} {spread}.{held}",
            f"Carrier oil thins an essential oil; it does not make it mix with water.{judged}",
            sources,
            strength.id,
        )
    return Notice(
        "mind",
        f"The scent is diluted in oil but not dispersed: it floats, and the film that meets skin is {shown(film_pct)} % "
        f"essential oil. {cure} {spread}.{held}",
        "Carrier oil thins an essential oil; it does not make it mix with water. Compared: the scent's share of all oils "
        f"and fats, by mass, as if nothing disperses.{judged}",
        (),
        strength.id,
    )


def amount(mix: Mix, catalogue: Catalogue, product: Figure, bath_g: float) -> list[Notice]:
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
    return [
        Notice(
            "stop" if stops else "mind",
            f"{'Far too much' if stops else 'A great deal of'} scent for {AUDIENCE_PIECE[audience]}: {'; '.join(said)}. Use less.",
            f"Compared: the scent with the usual share, {shown(usual.min or 0)} to {shown(usual.max or 0)} % of a mix "
            f"(common practice, from memory). We stop above {shown(ceiling.product_pct)} % of the piece or "
            f"{shown(ceiling.bath_stop_g)} g a bath (our own estimate). {ceiling.why}",
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
