"""The blend: what one drop more or one drop less of each oil does to the scent in the room."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fizzwright.catalogue import Catalogue
from fizzwright.recipe.measures import drop_ml
from fizzwright.recipe.mix import Mix
from fizzwright.review.airing import Air, airing, soak_mean
from fizzwright.review.figures import Table
from fizzwright.review.release import Release
from fizzwright.review.setting import Setting
from fizzwright.review.sizes import Piece
from fizzwright.review.vapours import CLASSES
from fizzwright.review.views import scent_of
from fizzwright.science import aroma
from fizzwright.wording import shown

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Scene:
    """The scent in the room, likely values only."""

    intensity: float
    """At its height, 0 to 10."""
    top_pct: float
    middle_pct: float
    base_pct: float
    """Shares of what is smelt over the soak."""
    guide_share: float | None
    """Mean over the soak as times of the guide value it comes nearest to; None when nothing in it has one."""
    guide_of: str
    """What that guide value is for."""


@dataclass(frozen=True, slots=True)
class Nudge:
    """One scented line of the recipe, and the scent with one drop of it more or less in the whole mix."""

    place: int
    """Place of the line in the mix."""
    use: str
    name: str
    drop_g: float
    now: Scene
    more: Scene
    less: Scene


def _drop_g(mix: Mix, place: int, catalogue: Catalogue) -> float:
    """Grams of one drop: as the line itself reckons it when it is written in drops."""
    mixed = mix.lines[place]
    amount = mixed.line.amount
    if amount.unit == "drop" and amount.number:
        return mixed.grams / float(amount.number)
    return drop_ml(mixed.entry, catalogue).ml * float(scent_of(mix).density_g_ml[place])


def _scene(air: Air, mg_m3: Array) -> Scene:
    """What concentrations (times, K) smell like."""
    activity = aroma.odour_activity(mg_m3, air.vapours.threshold_mg_m3)
    smelt = soak_mean(air, activity)
    whole = float(smelt.sum())
    kinds = np.array(air.vapours.kind)
    shares = [100 * float(smelt[kinds == kind].sum()) / whole if whole > 0 else 0.0 for kind in CLASSES]
    nearest: tuple[float, str] | None = None
    for name, members in air.vapours.groups().items():
        share = float(soak_mean(air, mg_m3[:, members].sum(axis=-1))) / float(air.vapours.guide_mg_m3[members[0]])
        if nearest is None or share > nearest[0]:
            nearest = share, name
    return Scene(
        float(aroma.intensity(activity, air.exponent).max()),
        shares[0],
        shares[1],
        shares[2],
        nearest[0] if nearest else None,
        nearest[1] if nearest else "",
    )


def blend(mix: Mix, catalogue: Catalogue, setting: Setting, size: Piece, release: Release) -> tuple[Nudge, ...]:
    """What a drop more or less of each scented line in the whole mix does; empty when nothing is scented.

    By proportion: how the bath holds and gives off scent is taken as it is, and only the line's share of it changes.
    """
    air = airing(mix, catalogue, size, release)
    if air is None:
        return ()
    now = _scene(air, air.likely())
    nudges = []
    for i, place in enumerate(air.vapours.places):
        mixed = mix.lines[place]
        drop = _drop_g(mix, place, catalogue)
        scenes = []
        for change in (drop, -drop):
            factor = np.ones(len(air.vapours.places))
            factor[i] = max(0.0, 1 + change / mixed.grams) if mixed.grams > 0 else 1.0
            scenes.append(_scene(air, air.likely(factor)))
        nudges.append(Nudge(place, mixed.id, mixed.name, drop, now, *scenes))
    return tuple(nudges)


def tables(nudges: tuple[Nudge, ...]) -> tuple[Table, ...]:
    """The nudges as one table; none when nothing is scented."""
    if not nudges:
        return ()
    now = nudges[0].now
    rows = [("as it is", f"{now.intensity:.1f}", f"{now.intensity:.1f}", _notes(now), _guide(now))]
    rows += [
        (n.name, f"{n.less.intensity:.1f}", f"{n.more.intensity:.1f}", _notes(n.more), _guide(n.more)) for n in nudges
    ]
    return (
        Table(
            "blend",
            "What one drop more or less of each does",
            (
                "In the whole mix",
                "one drop less",
                "one drop more",
                "then top, middle, base",
                "then nearest guide value",
            ),
            tuple(rows),
            "Strength at its height, of 10; top, middle and base as percent of what is smelt; the mean over the soak as times of "
            "the guide value it comes nearest to, which is set for living in a room for long; a soak is short.",
        ),
    )


def _notes(scene: Scene) -> str:
    return f"{scene.top_pct:.0f}, {scene.middle_pct:.0f}, {scene.base_pct:.0f} %"


def _guide(scene: Scene) -> str:
    return "none held" if scene.guide_share is None else f"{shown(scene.guide_share)} ({scene.guide_of})"
