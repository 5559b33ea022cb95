"""Which limits a piece is compared with: those that bind it, those of its day, and those that serve as a yardstick."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.model import Limit
from fizzwright.recipe.mix import Mix
from fizzwright.review.figures import Notice
from fizzwright.review.joins import joins

OLD_RULES = timedelta(days=731)
"""Our own choice: a recipe dated further than two years from the newest rule held is told that its rules are of another day."""
YARDSTICK_MARKET = "eu"
"""The fullest tables held: compared with wherever a piece is sold, as a yardstick where they are not law."""


def rows_on(rows: Sequence[Limit], day: date) -> list[tuple[Limit, bool]]:
    """The versions of one rule to compare on a day, each with whether it stands in for a figure that is not held.

    A day before the first version known, or within one whose figure is not held, is compared with the earliest known
    figure: an early date must not take a limit away. A rule that has ended is gone.
    """
    held = [row for row in rows if row.holds_on(day)]
    if any(row.figure_status != "exists_but_not_held" for row in held):
        return [(row, False) for row in held]
    others = rows if held else [row for row in rows if row.effective_from is not None and row.effective_from > day]
    known = [row for row in others if row.limit_pct is not None]
    if known:
        return [(min(known, key=lambda row: row.effective_from or date.min), True)]
    return [(row, False) for row in held] or [(row, True) for row in others]


def binds(limit: Limit, audience: str) -> bool:
    """True when the row is for a bath product of this audience."""
    return audience in limit.binds_audiences if limit.binds_audiences else limit.binds_bath_products


def lawful(limit: Limit, sold_in: Sequence[str]) -> bool:
    """True when the rule speaks for a market of the recipe, or for all of them."""
    return not limit.jurisdictions or not set(sold_in).isdisjoint(limit.jurisdictions)


def _looked_at(limit: Limit, sold_in: Sequence[str]) -> bool:
    # A published ceiling outside the law ("other") is a yardstick wherever the piece is sold.
    return limit.rule == "other" or YARDSTICK_MARKET in limit.jurisdictions or lawful(limit, sold_in)


def compared(mix: Mix, catalogue: Catalogue, substance: str) -> list[tuple[Limit, bool]]:
    """The rows of a substance that this piece is compared with, each with whether it stands in for one not held."""
    recipe = mix.recipe
    found = []
    for versions in joins(catalogue).rules.get(substance, ()):
        rows = [row for row in versions if binds(row, recipe.audience) and _looked_at(row, recipe.sold_in)]
        found += rows_on(rows, mix.as_of)
    return found


def dated_notice(mix: Mix, catalogue: Catalogue) -> list[Notice]:
    """That the recipe's date reads rules of another day than the newest held."""
    newest = joins(catalogue).newest
    if newest is None or abs(mix.as_of - newest) <= OLD_RULES:
        return []
    day = mix.as_of.isoformat()
    text = (
        f"The rules of {day} were read; the newest held here are of {newest.isoformat()}. A piece made today answers to "
        "today's: leave made_on out of the recipe to compare with them."
        if mix.as_of < newest
        else f"The newest rules held here are of {newest.isoformat()}, and the recipe is dated {day}: rules may have come "
        "since. Look them up before selling."
    )
    return [
        Notice(
            "mind",
            text,
            "Compared: the recipe's date with the newest start of any limit held. Limits have been tightened often.",
        )
    ]
