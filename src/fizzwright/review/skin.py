"""What touches the skin: scent, colours and powders beside the limits they reach, and who should keep from the piece."""

from __future__ import annotations

from fizzwright.catalogue import Catalogue
from fizzwright.recipe.mix import Array, Mix
from fizzwright.review import (
    allergens,
    colours,
    composition,
    ingredients,
    limit_notices,
    limits,
    people,
    strength,
    sun,
    views,
)
from fizzwright.review.figures import LEVELS, Figure, Notice, Section, Working
from fizzwright.review.fitting import Fits, solve
from fizzwright.review.joins import reach
from fizzwright.review.setting import Setting
from fizzwright.review.sizes import Piece, packed_density, piece
from fizzwright.review.tub_defaults import bath
from fizzwright.science import packing
from fizzwright.wording import listed

TITLE = "On the skin"
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


def _trace_notice(mix: Mix) -> Notice:
    who = listed(m.name for m in mix.lines if m.is_oil)
    return Notice(
        "good",
        "Some limited traces (furfural, perillaldehyde and others) have no figure in the tables and were not compared.",
        f"The tables hold no content of them for {who}; a supplier's analysis would. {DEFER}",
        standing=True,
    )


def _bath_g(mix: Mix, size: Piece, grams: Array) -> float:
    """The mix in one bath with other grams (lines) in it: the piece fills the same mould at its own density."""
    if size.is_powder or size.volume_ml is None:
        return size.piece_g.value * (1.0 if size.is_powder else size.pieces_per_bath)
    return float(packed_density(mix, grams, packing.HAND_PRESSED[1])) * size.volume_ml * size.pieces_per_bath


def section(mix: Mix, catalogue: Catalogue, setting: Setting) -> Section:
    """The skin section of a review: views, limits, label names, sun and people."""
    scent = views.scent_of(mix)
    tub = bath(mix.recipe, catalogue)
    about_materials = [*colours.compare(mix, catalogue), *ingredients.advise(mix, catalogue)]
    if not scent.present:
        bare = _unscented()
        people_notices = people.advise(mix, catalogue, tub, None, people.hits(mix, catalogue, None), Fits())
        return Section(
            bare.id, bare.title, bare.figures, _worst_first(*bare.notices, *about_materials, *people_notices)
        )
    size = piece(mix, catalogue)
    found = reach(mix, catalogue)
    neat = views.neat_in_carrier(mix, scent)
    product = views.in_product(mix, scent)
    needed, share = views.dispersal(mix, scent)
    film = views.film(mix, scent, float(share.value))
    bath_g = views.scent_in_bath_g(product, size)[0]
    film_g = views.film_g(mix, scent)
    seen = people.Seen(found, scent, film_g, bath_g, float(share.value))
    met = people.hits(mix, catalogue, seen)
    all_checks = limits.checks(mix, catalogue, found)
    added = limit_notices.added(mix, catalogue, found)
    people_bounds, people_bar = people.bounds(mix, catalogue, seen, met)
    sun_bounds, sun_bar = sun.bounds(mix, catalogue, scent)
    bounds = [*limits.bounds(mix, all_checks), *people_bounds, *strength.bounds(mix, scent), *sun_bounds]
    barred = {notice.line: "a ban on adding it" for notice in added} | composition.barred(mix) | people_bar | sun_bar
    fits = solve(mix, catalogue, bounds, barred, lambda grams: _bath_g(mix, size, grams))
    limit_figures, about_limits = limit_notices.compare(mix, catalogue, all_checks, added, fits)
    label_figures, label_notices = allergens.declare(mix, catalogue, found, setting.leave_on)
    sun_figures, sun_notices = sun.warn(mix, catalogue, scent, float(share.value), fits)
    notices = [
        *about_limits,
        *fits.later(),
        *sun_notices,
        strength.film(mix, catalogue, scent, film, needed, share, bath_g, fits),
        *strength.amount(mix, catalogue, product, bath_g, fits),
        *composition.doubts(mix),
        *strength.carrier(neat),
        *strength.stirred_into(mix, scent),
        *about_materials,
        *label_notices,
        *people.advise(mix, catalogue, tub, seen, met, fits),
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
    return Section("skin", TITLE, figures, _worst_first(*notices))


def _worst_first(*notices: Notice) -> tuple[Notice, ...]:
    return tuple(sorted(notices, key=lambda notice: LEVELS.index(notice.level)))
