"""A scent made of other oils: the blend in whole drops that comes nearest to a profile, under what it may hold.

A mixed-integer linear programme on HiGHS: how far two profiles lie apart is the sum of what one lacks, and half of what it
has beside (so that it is linear); drops are whole, and an oil is in or out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.model import Allergen
from fizzwright.catalogue.workshop import Workshop
from fizzwright.design.changed import Changed, compare
from fizzwright.design.choosing import proposable
from fizzwright.design.profiles import HALF, Profiles, profiles
from fizzwright.design.writing import Want, drop_g, written
from fizzwright.recipe.document import read_text
from fizzwright.recipe.mix import Mix
from fizzwright.recipe.model import Recipe
from fizzwright.recipe.weigh import weigh
from fizzwright.refusal import Refusal
from fizzwright.review import review
from fizzwright.review.figures import Notice
from fizzwright.review.joins import likely_pct
from fizzwright.review.limits import cured_g
from fizzwright.wording import listed, shown

Array = NDArray[np.float64]

MOST_OILS = 5
"""Our own choice: more oils than this nobody counts right beside a bowl."""
FROM_CATALOGUE = 24
"""How many of the catalogue's oils are looked at where the stock will not do: those nearest to the scent."""
MUCH = 0.3
"""Our own choice: an allergen that is so much of all the scent is what the scent is."""
NEAR_ENOUGH = 0.5
"""Our own choice: a blend that brings less than half of what a scent is made of is another scent."""
STOCK_WILL_DO = 0.7
"""Our own choice: from so near on, what is on the shelf is better than what has to be bought."""
TOO_SMALL = 0.002
"""A constituent below this share of every scent in question is left out of the programme, not of the verdict."""
EXCESS = 0.5
"""Our own choice: what a blend brings beside the wish spoils half as much as what it lacks."""
SECONDS = 2.0
ROUNDS = 8
"""Oils left out, one round each, because the review stops for them."""


@dataclass(frozen=True)
class Aim:
    """The scent to come near to: constituents as a nose weighs them and families, each half as it adds up in grams."""

    constituents: Array | None
    """Shape (constituents,); None when only families are wished for."""
    kinds: Array
    """Shape (families x classes,), or (families,) when only families are wished for; sums to `grams`."""
    grams: float
    """How much scent there is."""


@dataclass(frozen=True)
class Blend:
    """Whole drops of each oil, and how the programme ended."""

    drops: Mapping[str, int]
    apart: float
    """The programme's own distance: 0 for the same scent, 1 for none of it."""
    is_proven: bool


@dataclass(frozen=True)
class Cap:
    """At most so much of something in the whole blend."""

    per_drop: Mapping[str, float]
    most: float


def aim_of(grams: Mapping[str, float], catalogue: Catalogue) -> Aim:
    """The profile of a blend as an aim."""
    constituents, kinds = profiles(catalogue).blend(grams)
    return Aim(constituents, kinds, sum(grams.values()))


def aim_of_families(wish: Mapping[str, float], grams: float, catalogue: Catalogue) -> Aim:
    """Families with weights as an aim, notes as they fall; Refusal for a family the catalogue does not have."""
    names = family_names(catalogue)
    if strange := [family for family in wish if family not in names]:
        raise Refusal(f"read {strange[0]!r}: no odour family of the catalogue. Allowed: {', '.join(names)}.")
    if not wish or min(wish.values()) <= 0:
        raise Refusal("families: give each a weight above 0, such as citrus=3 woody=1.")
    total = sum(wish.values())
    return Aim(None, np.array([grams * wish.get(family, 0.0) / total for family in names]), grams)


def family_names(catalogue: Catalogue) -> list[str]:
    """The odour families of the catalogue, by name."""
    return sorted({family for family, _ in profiles(catalogue).kind_names})


def _halves(aim: Aim, oils: Sequence[str], catalogue: Catalogue) -> tuple[Array, Array]:
    """What a drop of each oil brings, shape (rows, oils), and what is aimed at, shape (rows,), which sums to 1."""
    known = profiles(catalogue)
    rows = [known.place(o) for o in oils]
    drop = np.array([drop_g(catalogue.oils[o], catalogue) for o in oils])
    kinds = known.kinds[rows] * drop[:, None]
    if aim.constituents is None:
        names = family_names(catalogue)
        belongs = np.array([[family == name for name in names] for family, _ in known.kind_names], dtype=float)
        return (kinds @ belongs).T / aim.grams, aim.kinds / aim.grams
    whole = max(float(aim.constituents.sum()), 1e-30)
    smelt = known.constituents[rows] * drop[:, None] / whole
    goal = aim.constituents / whole
    tells = (goal >= TOO_SMALL) | (smelt.max(axis=0) >= TOO_SMALL)
    table = np.vstack([HALF * smelt[:, tells].T, HALF * kinds.T / aim.grams])
    return table, np.concatenate([HALF * goal[tells], HALF * aim.kinds / aim.grams])


def nearest_blend(
    aim: Aim,
    oils: Sequence[str],
    catalogue: Catalogue,
    *,
    caps: Sequence[Cap] = (),
    most_oils: int = MOST_OILS,
    as_much: bool = False,
) -> Blend | None:
    """The blend of whole drops that differs least from the aim; None when not one drop of anything may be in it.

    as_much: as many grams of scent as the aim has, to the drop.
    """
    from scipy.optimize import Bounds, LinearConstraint, milp

    if not oils:
        return None
    table, goal = _halves(aim, oils, catalogue)
    (rows, count), one = table.shape, np.eye(len(oils))
    drop = np.array([drop_g(catalogue.oils[o], catalogue) for o in oils])
    most = np.ceil(1.5 * aim.grams / drop)
    # variables: drops of each oil, each in or out, and what each row lacks
    nothing, lacks = np.zeros((rows, count)), np.eye(rows)
    rules = [
        LinearConstraint(np.hstack([table, nothing, lacks]), goal, np.inf),
        LinearConstraint(np.hstack([one, -most * one, np.zeros((count, rows))]), -np.inf, 0.0),
        LinearConstraint(np.hstack([np.zeros(count), np.ones(count), np.zeros(rows)])[None, :], 0.0, most_oils),
        LinearConstraint(np.hstack([np.ones(count), np.zeros(count + rows)])[None, :], 1.0, np.inf),
    ]
    if as_much:
        spare = float(drop.max())
        weighed = np.hstack([drop, np.zeros(count + rows)])[None, :]
        rules.append(LinearConstraint(weighed, aim.grams - spare / 2 - 1e-9, aim.grams + spare / 2 + 1e-9))
    for cap in caps:
        weights = np.array([cap.per_drop.get(o, 0.0) for o in oils])
        rules.append(LinearConstraint(np.hstack([weights, np.zeros(count + rows)])[None, :], -np.inf, cap.most))
    found = milp(
        # what is beside the wish is all that is brought, less what of it was wished for: lacking + excess x (brought - wished +
        # lacking); of two blends equally near, the one of fewer oils
        np.concatenate([EXCESS * table.sum(axis=0), np.full(count, 1e-5), np.full(rows, 1.0 + EXCESS)]),
        integrality=np.concatenate([np.ones(2 * count), np.zeros(rows)]),
        bounds=Bounds(0.0, np.concatenate([most, np.ones(count), np.full(rows, np.inf)])),
        constraints=rules,
        options={"time_limit": SECONDS, "mip_rel_gap": 1e-4},
    )
    if found.x is None:
        return None
    drops = {oil: round(float(x)) for oil, x in zip(oils, found.x[:count], strict=True) if x > 0.5}
    laid = table @ np.array([drops.get(oil, 0) for oil in oils], dtype=float)
    lacking = np.maximum(goal - laid, 0.0).sum()
    beside = np.maximum(laid - goal, 0.0).sum()
    return Blend(drops, float(lacking + EXCESS * beside), found.status == 0)


def stock_oils(workshop: Workshop | None, catalogue: Catalogue) -> list[str]:
    """Oils the workshop holds, by the bottles on its list; those weighed as empty are none."""
    if workshop is None:
        return []
    held = [p.use for p in workshop.prices if p.use in catalogue.oils and (p.on_hand_g is None or p.on_hand_g > 0)]
    return list(dict.fromkeys(held))


def match(
    recipe: Recipe,
    catalogue: Catalogue,
    workshop: Workshop | None,
    *,
    like: Recipe | None = None,
    wish: Mapping[str, float] | None = None,
) -> Changed:
    """The recipe's scent remade from oils in stock: like its own, like another recipe's, or by families with weights.

    The recipe keeps how much scent it has; its own oils count as stock only where the workshop holds them.
    """
    mix = _weighed(recipe, workshop, catalogue)
    own = scent_g(mix, catalogue)
    total = sum(own.values())
    oils = stock_oils(workshop, catalogue)
    if not oils:
        raise Refusal("No oil is on the workshop's list, so there is nothing to match with. Add them to prices.csv.")
    if total <= 0:
        raise Refusal(
            f"{recipe.name} holds no essential oil. Put in one line of it first, so that its amount is known."
        )
    if wish is not None:
        aim, what = aim_of_families(wish, total, catalogue), listed(wish)
    else:
        target = scent_g(_weighed(like, workshop, catalogue), catalogue) if like is not None else own
        if not target:
            raise Refusal(f"{like.name if like else recipe.name} holds no essential oil to match.")
        scale = total / sum(target.values())
        target = {oil: grams * scale for oil, grams in target.items()}
        aim, what = aim_of(target, catalogue), like.name if like is not None else "its own scent"
        if like is None:
            oils = [oil for oil in oils if oil not in own] if set(own) <= set(oils) else oils
    tried = _reviewed(mix, aim, _offered(oils, own, mix, catalogue), (), catalogue, workshop, as_much=True)
    if tried is None:
        raise Refusal("The oils in stock give no blend: the scent of the recipe comes to less than a drop.")
    text, blend, left_out = tried
    made = _grams(blend, catalogue)
    if wish is not None:
        shares = profiles(catalogue).family_shares(made)
        near = sum(min(shares.get(f, 0.0), w / sum(wish.values())) for f, w in wish.items())
    else:
        near = profiles(catalogue).covers(target, made)
    notes = [
        f"The blend brings {100 * near:.0f} % of what {what} is made of, out of the oils on the workshop's list.",
        *_told(blend, made, catalogue, left_out),
    ]
    return compare(recipe, text, catalogue, workshop, f"{recipe.name}, scented like {what}", notes=tuple(notes))


def without_allergen(
    recipe: Recipe, catalogue: Catalogue, workshop: Workshop | None, word: str, *, anyway: bool = False
) -> Changed:
    """The same scent as near as it can be with an allergen below what a label has to name, even at the top of each range.

    Stock first, then the catalogue. Refusal when what is left would be another scent, unless `anyway`.
    """
    allergen = _allergen(word, catalogue)
    mix = _weighed(recipe, workshop, catalogue)
    own = scent_g(mix, catalogue)
    if not own:
        raise Refusal(f"{recipe.name} holds no essential oil.")
    known, aim = profiles(catalogue), aim_of(own, catalogue)
    most_g = allergen.rinse_off_threshold_pct / 100 * float(cured_g(mix))
    shares = {oil: share_pct(oil, allergen, catalogue) / 100 for oil in catalogue.oils}
    now_g = sum(grams * shares[oil] for oil, grams in own.items())
    if now_g <= most_g:
        summary = f"{recipe.name} holds no more {allergen.label_name} than goes unnamed"
        said = f"At most {shown(100 * now_g / float(cured_g(mix)))} % of the cured piece; a label names it from "
        said += f"{shown(allergen.rinse_off_threshold_pct)} % (rinse-off reading)."
        return compare(recipe, recipe.text, catalogue, workshop, summary, notes=(said,))
    cap = Cap({oil: share * drop_g(catalogue.oils[oil], catalogue) for oil, share in shares.items()}, 0.98 * most_g)
    stock = list(dict.fromkeys([*own, *stock_oils(workshop, catalogue)]))
    best: tuple[float, str, Blend, tuple[str, ...], str] | None = None
    wider = [*stock, *_nearest_to(own, [o for o in catalogue.oils if o not in stock], shares, known)]
    stock, wider = (_offered(oils, own, mix, catalogue) for oils in (stock, wider))
    for oils, where in ((stock, "the oils in hand"), (wider, "the oils of the catalogue")):
        tried = _reviewed(mix, aim, oils, (cap,), catalogue, workshop)
        if tried is None:
            continue
        near = known.covers(own, _grams(tried[1], catalogue))
        if best is None or near > best[0]:
            best = (near, tried[0], tried[1], tried[2], where)
        if best[0] >= STOCK_WILL_DO:
            break
    brings = listed(
        f"{catalogue.oils[o].name} ({shown(100 * shares[o])} %)" for o, g in own.items() if g * shares[o] >= 0.1 * now_g
    )
    if best is None:
        raise Refusal(
            f"Not one drop of any oil here keeps {allergen.label_name} below {shown(allergen.rinse_off_threshold_pct)} % of the "
            f"piece. What brings it: {brings}."
        )
    near, text, blend, left_out, where = best
    made = _grams(blend, catalogue)
    told = listed(f"{count} drops of {catalogue.oils[oil].name}" for oil, count in blend.drops.items())
    if near < NEAR_ENOUGH and not anyway:
        is_much = now_g >= MUCH * sum(own.values())
        lead = (
            f"{allergen.label_name} is much of what this scent is: {brings}." if is_much else f"It comes from {brings}."
        )
        stopped = listed((catalogue.oils[oil].name for oil in left_out), "or")
        also = f", and without {stopped}, which the review stops," if left_out else ""
        raise Refusal(
            f"{lead} Without it{also} the nearest is {told}, which brings "
            f"{100 * near:.0f} % of what the scent is made of: another scent. To take it all the same, add --anyway."
        )
    notes = [
        f"{allergen.label_name} comes from {brings}. In the new piece it stays below "
        f"{shown(allergen.rinse_off_threshold_pct)} %, even at the top of each oil's range (rinse-off reading).",
        f"The new blend, out of {where}, brings {100 * near:.0f} % of what the old one is made of.",
        f"There is {100 * sum(made.values()) / sum(own.values()):.0f} % as much scent as before, by mass.",
        "A person allergic to it should still ask a clinician: below the threshold is not none.",
        *_told(blend, made, catalogue, left_out),
    ]
    summary = f"{recipe.name} with {allergen.label_name} below what a label names"
    return compare(recipe, text, catalogue, workshop, summary, notes=tuple(notes))


def _offered(oils: Sequence[str], own: Mapping[str, float], mix: Mix, catalogue: Catalogue) -> list[str]:
    """The oils, without those that burn skin in the sun or are a poor choice for a bath, unless they are in already."""
    recipe = mix.recipe
    fit = proposable(catalogue, recipe.audience, recipe.sold_in, mix.as_of)
    return [oil for oil in oils if oil in own or (oil in fit and catalogue.oils[oil].phototoxic != "yes")]


def _weighed(recipe: Recipe, workshop: Workshop | None, catalogue: Catalogue) -> Mix:
    return weigh(recipe, catalogue, lot_analyses=workshop.lot_analyses if workshop else None)


def scent_g(mix: Mix, catalogue: Catalogue) -> dict[str, float]:
    """Grams of each essential oil of a mix, all its lines together (aroma substances have no profile and stay as they are)."""
    found: dict[str, float] = {}
    for mixed, grams in zip(mix.lines, mix.grams, strict=True):
        if mixed.id in catalogue.oils:
            found[mixed.id] = found.get(mixed.id, 0.0) + float(grams)
    return found


def _grams(blend: Blend, catalogue: Catalogue) -> dict[str, float]:
    return {oil: count * drop_g(catalogue.oils[oil], catalogue) for oil, count in blend.drops.items()}


def _told(blend: Blend, made: Mapping[str, float], catalogue: Catalogue, left_out: Sequence[str]) -> list[str]:
    notes = []
    shares = profiles(catalogue).family_shares(made)
    notes.append("Families now: " + listed(f"{name} {100 * share:.0f} %" for name, share in shares.items()) + ".")
    if left_out:
        names = listed((catalogue.oils[oil].name for oil in left_out), "or")
        notes.append(f"Nothing was made of {names}: the review stops the piece for what they bring.")
    if not blend.is_proven:
        notes.append("The search ended on time, so a nearer blend may exist.")
    return notes


def _reviewed(
    mix: Mix,
    aim: Aim,
    oils: Sequence[str],
    caps: Sequence[Cap],
    catalogue: Catalogue,
    workshop: Workshop | None,
    *,
    as_much: bool = False,
) -> tuple[str, Blend, tuple[str, ...]] | None:
    """The nearest blend the review does not stop: oils it stops for are left out one after another.

    Where every blend is stopped, the nearest of all; its stops are told with it.
    """
    bare = written(mix, catalogue, [Want(i, m.id, 0.0) for i, m in enumerate(mix.lines) if m.is_oil], workshop)
    known = {(n.figure, n.line) for n in _stops(bare, mix, catalogue, workshop)}
    first: tuple[str, Blend, tuple[str, ...]] | None = None
    left: list[str] = []
    allowed = list(oils)
    for _ in range(ROUNDS):
        blend = nearest_blend(aim, allowed, catalogue, caps=caps, as_much=as_much)
        if blend is None:
            break
        text = _rescented(mix, blend, catalogue, workshop)
        stops = [n for n in _stops(text, mix, catalogue, workshop) if (n.figure, n.line) not in known]
        if not stops:
            return text, blend, tuple(left)
        first = first or (text, blend, ())
        named = [o for n in stops for o in blend.drops if n.line == o or catalogue.oils[o].name in n.text]
        # a stop that names no oil is laid to the one there is most of
        worst = named[0] if named else max(blend.drops, key=lambda oil: blend.drops[oil])
        allowed.remove(worst)
        left.append(worst)
    return first


def _stops(text: str, mix: Mix, catalogue: Catalogue, workshop: Workshop | None) -> list[Notice]:
    report = review(read_text(text, catalogue, mix.recipe.file), catalogue, workshop)
    return [n for _, n in report.notices if n.level == "stop"]


def _rescented(mix: Mix, blend: Blend, catalogue: Catalogue, workshop: Workshop | None) -> str:
    """The document with these drops in place of all its essential oils, diluted where the first of them was."""
    places = [i for i, m in enumerate(mix.lines) if m.id in catalogue.oils]
    seen: set[str] = set()
    wants = []
    for place in places:
        use = mix.lines[place].id
        grams = blend.drops.get(use, 0) * drop_g(catalogue.oils[use], catalogue) if use not in seen else 0.0
        seen.add(use)
        wants.append(Want(place, use, grams))
    first = mix.lines[places[0]]
    part = None if first.part == "whole" else first.part
    home = first.line.diluted_in
    for oil, count in blend.drops.items():
        if oil not in seen:
            wants.append(Want(None, oil, count * drop_g(catalogue.oils[oil], catalogue), home, part))
    return written(mix, catalogue, wants, workshop)


def _nearest_to(
    own: Mapping[str, float], others: Sequence[str], shares: Mapping[str, float], known: Profiles
) -> list[str]:
    """The oils most like the scent, each for itself, those that hold little of the allergen before the rest."""
    total = sum(own.values())
    near = {
        oil: sum(grams / total * known.alike({oil: 1.0}, {mine: 1.0}) for mine, grams in own.items()) for oil in others
    }
    return sorted(others, key=lambda oil: -near[oil] * (1.0 - min(shares[oil], 1.0)))[:FROM_CATALOGUE]


def _allergen(word: str, catalogue: Catalogue) -> Allergen:
    """The label name a word stands for; Refusal with the nearest when there is none."""
    wanted = word.strip().casefold()
    for allergen in catalogue.allergens:
        if wanted in (allergen.label_name.casefold(), allergen.id):
            return allergen
    for allergen in catalogue.allergens:
        if wanted in (name.strip().casefold() for name in allergen.constituent_names):
            return allergen
    from rapidfuzz import process

    names = [a.label_name for a in catalogue.allergens]
    near = [name for name, _, _ in process.extract(word, names, limit=3)]
    raise Refusal(f"read {word!r}: no fragrance allergen a label names is called that. Nearest: {', '.join(near)}.")


def share_pct(oil: str, allergen: Allergen, catalogue: Catalogue) -> float:
    """The most of an allergen in an oil, percent of the oil by mass; the typical figure where no most is held."""
    entry = catalogue.oils[oil]
    if entry.allergen_label_name == allergen.label_name:
        return 100.0
    total = 0.0
    for row in entry.constituents:
        constituent = catalogue.constituent_named(row.constituent)
        if constituent is not None and constituent.allergen_label_name == allergen.label_name:
            total += row.max_pct if row.max_pct is not None else likely_pct(row)[0]
    return min(total, 100.0)
