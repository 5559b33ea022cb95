"""What touches the skin: the four views of the scent, the limits and label names it reaches, and who should keep from it."""

from __future__ import annotations

from fizzwright.catalogue import Catalogue
from fizzwright.recipe.mix import Mix
from fizzwright.review import allergens, limits, people, sun, views
from fizzwright.review.figures import Figure, Notice, Section, Working
from fizzwright.review.joins import reach
from fizzwright.review.setting import Setting
from fizzwright.review.sizes import piece
from fizzwright.review.tub_defaults import CHILD_AUDIENCES, bath
from fizzwright.review.views import RULE_OF_THUMB_PCT, Scent
from fizzwright.wording import listed, shown

TITLE = "On the skin"
NEAT_STOP_G = 2.0
"""estimate: grams of essential oil floating neat in one bath from which we stop an adult's piece.

Common practice puts at most 2 % scent in a piece of 100-150 g (facts, comp_eo), so this is more than a usual piece holds,
and here with neither carrier nor solubiliser.
"""
DISPERSED_ENOUGH_PCT = 100.0
UNSCENTED = ("neat_in_carrier_pct", "in_product_pct", "in_bath_mg_l", "film_pct")
DEFER = (
    "This compares figures; it is not a medical opinion nor an assessment. Ask a clinician about a person, a qualified "
    "assessor about a piece for sale, and the law of the place about what may be sold."
)


def _unscented() -> Section:
    units = ("% v/v", "% w/w", "mg/l", "% w/w")
    figures = tuple(
        Figure(
            name,
            0.0,
            unit,
            "There is no scent in it.",
            Working("no essential oil and no aroma substance in the mix"),
            basis="exact",
            range_kind="exact",
        )
        for name, unit in zip(UNSCENTED, units, strict=True)
    )
    notice = Notice(
        "good",
        "No essential oil and no aroma substance in it: the scent limits and scent cautions have nothing to compare.",
        f"Every line was looked up; none is an oil or a pure aroma substance. {DEFER}",
    )
    return Section("skin", TITLE, figures, (notice,))


def _carrier_notice(neat: Figure) -> list[Notice]:
    value = float(neat.value)
    if value <= RULE_OF_THUMB_PCT or value >= 100:
        return []
    return [
        Notice(
            "mind",
            f"The scent is {shown(value)} % of the oil it is stirred into; the kitchen rule is at most "
            f"{shown(RULE_OF_THUMB_PCT)} %. Use fewer drops or more carrier oil.",
            f"Compared: essential oil by volume in its carrier with the rule of {shown(RULE_OF_THUMB_PCT)} %, about eight old "
            "drops a tablespoon (common practice, no source).",
            ("COMMON_PRACTICE",),
            neat.id,
        )
    ]


def _film_notice(mix: Mix, scent: Scent, film: Figure, needed: Figure, share: Figure, bath_g: float) -> Notice:
    """Whether the scent floats: neat, diluted, or dispersed."""
    strength, have, want = float(film.value), float(share.value), float(needed.value)
    if have >= DISPERSED_ENOUGH_PCT:
        return Notice(
            "good",
            "There is enough solubiliser to disperse the oils in the bath, by kitchen practice.",
            f"Compared: solubiliser in the mix with about {shown(want)} g that practice asks for "
            f"({shown(float(needed.low or 0))}-{shown(float(needed.high or 0))} g, estimate). Undispersed, the film would be "
            f"{shown(strength)} % essential oil.",
            (),
            share.id,
        )
    cure = f"About {shown(want)} g of a solubiliser such as polysorbate 80 in the mix would disperse it"
    spread = f"(from {shown(float(needed.low or 0))} to {shown(float(needed.high or 0))} g, estimate)"
    held = f" What is in it does about {shown(have)} % of that." if have > 0 else ""
    if scent.is_fixed.any():
        return Notice(
            "mind",
            f"The scent is diluted in oil but not dispersed: it floats, and the film that meets skin is {shown(strength)} % "
            f"essential oil. {cure} {spread}.{held}",
            "Carrier oil thins an essential oil; it does not make it mix with water. Compared: the scent's share of all oils "
            "and fats, by mass, as if nothing disperses.",
            (),
            film.id,
        )
    child = mix.recipe.audience in CHILD_AUDIENCES
    level = "stop" if child or bath_g > NEAT_STOP_G else "mind"
    why = (
        "Undiluted oils do not belong on small children, bath products included. " if child
        else f"We stop above {shown(NEAT_STOP_G)} g of neat oil in one bath (our own estimate, more than a usual piece holds). "
    )  # fmt: skip
    return Notice(
        level,
        f"There is no carrier oil and too little to disperse the scent: {shown(bath_g)} g a bath can float neat on the water "
        f"and meet skin undiluted. {cure} {spread}, or stir it into a tablespoon of carrier oil first.{held}",
        f"{why}In the piece the powder holds the oil; in the bath the powder dissolves and lets it go.",
        ("bfr_2008",) if child else (),
        film.id,
    )


def _trace_notice(mix: Mix) -> Notice:
    who = listed(m.name for m in mix.lines if m.is_oil)
    return Notice(
        "good",
        "Some limited traces (furfural, perillaldehyde and others) have no figure in the tables and were not compared.",
        f"The tables hold no content of them for {who}; a supplier's analysis would. {DEFER}",
        standing=True,
    )


def section(mix: Mix, catalogue: Catalogue, setting: Setting) -> Section:
    """The skin section of a review: views, limits, label names, sun and people."""
    scent = views.scent_of(mix)
    tub = bath(mix.recipe, catalogue)
    if not scent.present:
        bare = _unscented()
        return Section(bare.id, bare.title, bare.figures, (*bare.notices, *people.advise(mix, catalogue, tub, None)))
    size = piece(mix, catalogue)
    found = reach(mix, catalogue)
    neat = views.neat_in_carrier(mix, scent)
    product = views.in_product(mix, scent)
    film = views.film(mix, scent)
    needed, share = views.dispersal(mix, scent)
    bath_g = views.scent_in_bath_g(product, size)[0]
    film_g = views.film_g(mix, scent)
    limit_figures, limit_notices = limits.compare(mix, catalogue, found)
    label_figures, label_notices = allergens.declare(mix, catalogue, found, setting.leave_on)
    sun_figures, sun_notices = sun.warn(mix, catalogue, scent)
    seen = people.Seen(found, scent, film_g, bath_g, float(share.value))
    notices = [
        *limit_notices,
        *sun_notices,
        _film_notice(mix, scent, film, needed, share, bath_g),
        *_carrier_notice(neat),
        *label_notices,
        *people.advise(mix, catalogue, tub, seen),
        _trace_notice(mix),
    ]
    figures = (
        neat,
        product,
        views.in_bath(product, size, tub),
        film,
        views.film_on_skin(product, size, catalogue, mix.recipe.audience),
        needed,
        share,
        views.rule_of_thumb(mix, catalogue),
        *limit_figures,
        *label_figures,
        *sun_figures,
    )
    order = {"stop": 0, "mind": 1, "good": 2}
    return Section("skin", TITLE, figures, tuple(sorted(notices, key=lambda n: order[n.level])))
