"""Expressed citrus and its kin on skin that meets the sun: the film they leave beside the leave-on limits."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.model import Oil
from fizzwright.recipe.mix import Array, Mix
from fizzwright.review.figures import Figure, Input, Notice, Working, from_draws, sources_of
from fizzwright.review.fitting import Bound, Fits, Way
from fizzwright.review.joins import joins
from fizzwright.review.rules import rows_on
from fizzwright.review.tub_defaults import CHILD_AUDIENCES
from fizzwright.review.views import Scent, dispersing, film_g
from fizzwright.wording import apart, listed, shown

BURN_STOP = 10.0
"""estimate: times a leave-on limit from which an undispersed film stops an adult's piece too.

The limit holds a margin and is set for skin that is not washed; six drops of bergamot in a bath have burned a bather who then
used a tanning bed (kaddu_2001), so a warning alone does not do when the film passes it many times.
"""


@dataclass(frozen=True, slots=True)
class SunOil:
    """One phototoxic oil: its lines, its share of the film, and the most a leave-on product may hold of it."""

    name: str
    use: str
    places: tuple[int, ...]
    film_pct: float
    allowed_pct: float | None
    sources: tuple[str, ...]
    how: str


def _allowed(oil: Oil, mix: Mix, catalogue: Catalogue) -> tuple[float | None, tuple[str, ...], str]:
    """The leave-on limit of the oil as a whole in force that day, else the sun caution's figure."""
    known = joins(catalogue)
    rows = [
        limit
        for substance in oil.limit_substances
        for versions in known.rules.get(substance, ())
        for limit, _ in rows_on(versions, mix.as_of)
        if limit.rule == "ifra" and limit.category == "leave-on" and limit.limit_pct
    ]
    if rows:
        row = min(rows, key=lambda limit: limit.limit_pct or 0)
        return row.limit_pct, row.sources_of("limit_pct"), row.how_of("limit_pct")
    cautions = [
        caution
        for name in oil.caution_names
        for caution in known.cautions.get(name, ())
        if caution.group == "sun_exposure" and caution.limit_pct
    ]
    if cautions:
        strict = min(cautions, key=lambda caution: caution.limit_pct or 0)
        return strict.limit_pct, strict.sources_of("limit_pct"), strict.how_of("limit_pct")
    return None, oil.sources_of("phototoxic"), oil.how_of("phototoxic")


def sun_oils(mix: Mix, catalogue: Catalogue, scent: Scent) -> list[SunOil]:
    """The phototoxic oils of a mix with their share of the undispersed film; lines of one oil are summed."""
    lines: dict[str, list[int]] = {}
    for place, mixed in enumerate(mix.lines):
        if isinstance(mixed.entry, Oil) and mixed.entry.phototoxic == "yes":
            lines.setdefault(mixed.id, []).append(place)
    film = film_g(mix, scent)
    return [
        SunOil(
            oil.name, use, tuple(places), 100 * float(mix.grams[places].sum()) / film, *_allowed(oil, mix, catalogue)
        )
        for use, places in lines.items()
        if isinstance(oil := mix.lines[places[0]].entry, Oil)
    ]


def bounds(mix: Mix, catalogue: Catalogue, scent: Scent) -> tuple[list[Bound], dict[str, str]]:
    """What keeps the sum of levels over limits from stopping the piece, and the oils that no figure is held for."""
    oils = sun_oils(mix, catalogue, scent)
    child = mix.recipe.audience in CHILD_AUDIENCES
    held = [oil for oil in oils if oil.allowed_pct]
    barred = {oil.use: "no figure for skin that meets the sun" for oil in oils if oil not in held and child}
    if not held:
        return [], barred
    brings = np.zeros(len(mix.lines))
    for oil in held:
        brings[list(oil.places)] = 100 / (oil.allowed_pct or 1)
    ceiling = 1.0 if child else BURN_STOP * (1 - 1e-9)
    ways: tuple[Way, ...] = (Way(brings - ceiling * (scent.is_scent | scent.is_fixed)),)
    if not child:
        ways += (dispersing(scent),)
    return [
        Bound(
            f"{'' if child else f'{shown(ceiling)} times '}the leave-on limit for sun", brings, ways, afloat=not child
        )
    ], barred


def _instead(oils: list[SunOil], catalogue: Catalogue) -> str:
    """Oils of the same plant and scent that do not burn in the sun, by name; a general word where there is none."""
    said = []
    for oil in oils:
        own = catalogue.oils.get(oil.use)
        kin = own and next(
            (
                other
                for other in catalogue.oils.values()
                if other.phototoxic in ("no", "distilled-no")
                and other.botanical.split()[:2] == own.botanical.split()[:2]
                and other.odour_family == own.odour_family
            ),
            None,
        )
        if kin:
            said.append(f"{kin.name} in place of {oil.name}")
    return f"Use {listed(said)}" if said else "Use a distilled or furocoumarin-free oil"


def _figure(oils: list[SunOil], mix: Mix, scent: Scent) -> Figure:
    """The sum over oils of share of the film / leave-on limit, by IFRA's rule for mixtures."""

    def compute(grams: Array) -> Array:
        film = grams[..., scent.is_scent | scent.is_fixed].sum(axis=-1)
        parts = [100 * grams[..., list(oil.places)].sum(axis=-1) / oil.allowed_pct for oil in oils if oil.allowed_pct]
        return np.asarray(sum(parts) / film)

    total, low, high = from_draws(compute, mix.grams, mix.draws_g)
    return Figure(
        id="sun_share_of_film_limit",
        value=total,
        unit="times the leave-on limit",
        text=f"On skin that meets the sun, the film, if nothing dispersed it, would be {shown(total)} times a leave-on limit.",
        working=Working(
            "sum over phototoxic oils of (% in the film / % allowed in a leave-on product)",
            tuple(
                given
                for oil in oils
                for given in (
                    Input(f"{oil.name} in the film", oil.film_pct, "%"),
                    Input(
                        f"leave-on limit of {oil.name}",
                        oil.allowed_pct or "not held",
                        "%",
                        "; ".join(oil.sources),
                        oil.how,
                    ),
                )
            ),
        ),
        low=low,
        high=high,
        sources=sources_of(*(oil.sources for oil in oils)),
        basis="estimate",
        high_allowed=1.0,
        share_of_limit=total,
    )


def warn(
    mix: Mix, catalogue: Catalogue, scent: Scent, dispersed_pct: float, fits: Fits
) -> tuple[list[Figure], list[Notice]]:
    """The sum of level / leave-on limit in the worst-case film, and what to do about the sun."""
    oils = sun_oils(mix, catalogue, scent)
    if not oils:
        return [], []
    figures = [_figure(oils, mix, scent)]
    total = float(figures[0].value)
    sources = figures[0].sources
    who = listed(oil.name for oil in oils)
    levels = "; ".join(
        f"{oil.name} "
        + (
            "{} % of the film against {} % for a leave-on product".format(*apart(oil.film_pct, oil.allowed_pct, 2))
            if oil.allowed_pct
            else f"{shown(oil.film_pct)} % of the film, no figure held"
        )
        for oil in oils
    )
    reason = (
        f"Compared: {levels}, as of {mix.as_of.isoformat()}. Expressed citrus and its kin make skin burn and blister in the "
        "sun. IFRA's limit leaves bath preparations out, yet an oily film stays on skin that is not rinsed, so the leave-on "
        "figure is the yardstick; levels over limits add up."
    )
    uses = [oil.use for oil in oils]
    cure, why = fits.cure(uses), fits.why(uses)
    instead = _instead(oils, catalogue) + (f". Or: {cure[:1].lower()}{cure[1:]}" if cure else ", or no scent.")
    child = mix.recipe.audience in CHILD_AUDIENCES
    unheld = [oil.name for oil in oils if oil.allowed_pct is None]
    if child and (total > 1 or unheld):
        measure = (
            f"no figure is held for how much of {listed(unheld)} skin may carry"
            if unheld
            else f"the film on the skin would be {apart(total, 1, 2)[0]} times what a leave-on product may hold"
        )
        text = f"Not for a child: {who} can burn skin that meets the sun, and {measure}. {instead}"
        return figures, [Notice("stop", text, reason + why, sources, figures[0].id, oils[0].use)]
    if total >= BURN_STOP and dispersed_pct < 100:
        text = (
            f"Too much for skin that meets the sun: {who} can burn it, and the film that floats undispersed would be "
            f"{shown(total)} times a leave-on limit. {instead}"
        )
        reason += why + f" We stop an undispersed film from {shown(BURN_STOP)} times that limit (our own estimate)."
        return figures, [Notice("stop", text, reason, (*sources, "kaddu_2001"), figures[0].id, oils[0].use)]
    text = (
        f"{who} can burn skin that meets the sun: keep bathed skin out of strong sun and off sunbeds for the rest of the "
        f"day. If nothing dispersed it, the film would be {apart(total, 1, 2)[0]} times a leave-on limit."
    )
    if total <= 1 and not unheld:
        text = f"{who} can burn skin in the sun in larger amounts; the film stays at {shown(100 * total)} % of a leave-on limit."
    return figures, [Notice("mind", text, reason, sources, figures[0].id, oils[0].use)]
