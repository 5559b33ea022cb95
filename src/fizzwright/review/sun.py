"""Expressed citrus and its kin on skin that meets the sun: the film they leave beside the leave-on limits."""

from __future__ import annotations

from dataclasses import dataclass

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.model import Oil
from fizzwright.recipe.mix import Mix
from fizzwright.review.figures import Figure, Input, Notice, Working, sources_of
from fizzwright.review.joins import joins
from fizzwright.review.tub_defaults import CHILD_AUDIENCES
from fizzwright.review.wording import listed, shown


@dataclass(frozen=True, slots=True)
class SunOil:
    """One phototoxic oil: its share of the film and the most a leave-on product may hold of it."""

    name: str
    use: str
    film_pct: float
    allowed_pct: float | None
    sources: tuple[str, ...]
    how: str

    @property
    def share(self) -> float:
        """Film level / leave-on limit; 0 when no limit is held."""
        return self.film_pct / self.allowed_pct if self.allowed_pct else 0.0


def _allowed(oil: Oil, mix: Mix, catalogue: Catalogue) -> tuple[float | None, tuple[str, ...], str]:
    """The leave-on limit of the oil as a whole in force that day, else the sun caution's figure."""
    known = joins(catalogue)
    rows = [
        limit
        for substance in oil.limit_substances
        for limit in known.limits.get(substance, ())
        if limit.rule == "ifra" and limit.category == "leave-on" and limit.limit_pct and limit.holds_on(mix.as_of)
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


def sun_oils(mix: Mix, catalogue: Catalogue, film_g: float) -> list[SunOil]:
    """The phototoxic oils of a mix with their share of a film of `film_g` grams; lines of one oil are summed."""
    grams: dict[str, float] = {}
    oils: dict[str, Oil] = {}
    for mixed in mix.lines:
        if isinstance(mixed.entry, Oil) and mixed.entry.phototoxic == "yes":
            grams[mixed.id] = grams.get(mixed.id, 0.0) + mixed.grams
            oils[mixed.id] = mixed.entry
    return [
        SunOil(oils[use].name, use, 100 * mass / film_g, *_allowed(oils[use], mix, catalogue))
        for use, mass in grams.items()
    ]


def warn(mix: Mix, catalogue: Catalogue, film_g: float) -> tuple[list[Figure], list[Notice]]:
    """The sum of level / leave-on limit in the worst-case film, and what to do about the sun."""
    oils = sun_oils(mix, catalogue, film_g)
    if not oils:
        return [], []
    total = sum(oil.share for oil in oils)
    sources = sources_of(*(oil.sources for oil in oils))
    inputs = tuple(
        Input(
            f"{oil.name} in the film",
            oil.film_pct,
            f"%, leave-on limit {shown(oil.allowed_pct or 0)} %",
            "; ".join(oil.sources),
            oil.how,
        )
        for oil in oils
        if oil.allowed_pct
    )
    figures = [
        Figure(
            id="sun_share_of_film_limit",
            value=total,
            unit="times the leave-on limit",
            text=f"On skin that meets the sun, the undispersed film would be {shown(total)} times a leave-on limit.",
            working=Working("sum over phototoxic oils of (% in the film / % allowed in a leave-on product)", inputs),
            sources=sources,
            basis="published" if all(oil.how in ("read", "library") for oil in oils) else "estimate",
            range_kind="exact",
            high_allowed=1.0,
            share_of_limit=total,
        )
    ]
    who = listed(oil.name for oil in oils)
    levels = "; ".join(
        f"{oil.name} {shown(oil.film_pct)} % of the film"
        + (f" against {shown(oil.allowed_pct)} % for a leave-on product" if oil.allowed_pct else ", no figure held")
        for oil in oils
    )
    reason = (
        f"Compared: {levels}, as of {mix.as_of.isoformat()}. Expressed citrus and its kin make skin burn and blister in the "
        "sun. IFRA's limit leaves bath preparations out, yet an oily film stays on skin that is not rinsed, so the leave-on "
        "figure is the yardstick; levels over limits add up."
    )
    child = mix.recipe.audience in CHILD_AUDIENCES
    if child and (total > 1 or any(oil.allowed_pct is None for oil in oils)):
        text = (
            f"Not for a child: {who} can burn skin that meets the sun, and the film on the skin would be {shown(total)} "
            "times what a leave-on product may hold. Use a distilled or furocoumarin-free oil, or no scent."
        )
        return figures, [Notice("stop", text, reason, sources, figures[0].id, oils[0].use)]
    text = (
        f"{who} can burn skin that meets the sun: keep bathed skin out of strong sun and off sunbeds for the rest of the "
        f"day. The undispersed film would be {shown(total)} times a leave-on limit."
    )
    if total <= 1:
        text = f"{who} can burn skin in the sun in larger amounts; the film stays at {shown(100 * total)} % of a leave-on limit."
    return figures, [Notice("mind", text, reason, sources, figures[0].id, oils[0].use)]
