"""The scent wheel: which families an oil or a blend smells of, how fleeting it is, and where that stands on a ring.

Families come from the odour words of the constituents (odour_words.csv, each with how it was had), weighted by how
strongly each is smelt over the oil. Round the ring, families stand near one another when the same oils carry them;
nothing of the order was chosen by hand.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import asdict, dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.holdings import Held
from fizzwright.catalogue.model import Constituent, Oil
from fizzwright.recipe.mix import Mix
from fizzwright.review.joins import likely_pct
from fizzwright.review.vapours import CLASSES, airborne
from fizzwright.science import seriation

Array = NDArray[np.float64]

FAMILIES: Mapping[str, tuple[str, ...]] = {
    "citrus": ("citrus", "lemon", "orange", "mandarin", "grapefruit", "lemongrass"),
    "fruity": ("fruit", "fruity"),
    "floral": ("floral", "rose", "rosy", "jasmine", "lilac", "orange blossom", "hawthorn"),
    "sweet": ("sweet", "vanilla", "honey", "cream", "creamy", "almond", "gourmand"),
    "balsamic": ("balsam", "balsamic", "resin", "resinous", "amber"),
    "woody": ("wood", "woody"),
    "earthy": ("earth", "earthy", "mushroom", "barn"),
    "conifer": ("pine", "coniferous"),
    "camphor": ("camphor", "camphoraceous", "medicine", "medicinal"),
    "minty": ("mint", "minty", "spearmint", "wintergreen"),
    "herbal": ("herb", "herbal", "leaf", "hay", "thyme"),
    "aniseed": ("anise", "aniseed"),
    "spicy": ("spice", "spicy", "clove", "cinnamon", "nutmeg", "pepper", "sassafras"),
}
"""Our own families, each with the words of the tables that belong to it."""
FAMILY_OF: Mapping[str, str] = {word: family for family, words in FAMILIES.items() for word in words}
FIRST_WORD = 2.0
"""estimate: the first word that a constituent (or an oil) is described by counts for twice each of the others."""
WHOLE_SHARE = 0.5
"""estimate: half of an oil's families goes by the trade's word for the whole oil, as odour thresholds are held for few
constituents and mostly guessed by chemical family; the other half by the constituents."""
EXPONENT = 0.4
"""estimate: Stevens' exponent of odours, as in the air of the bathroom; published ones run from 0.2 to 0.7."""
GAS_J_MOL_K, ROOM_K = 8.314462618, 298.15
ABSENT = 0.02
"""Our own choice: a family below a fiftieth of what is smelt counts as absent."""
FILLER_SHARE = 0.25
"""Our own choice: an oil that would fill a gap is tried as a quarter of the new blend."""
NEIGHBOURS = 3
"""How many oils are proposed for a family that is absent."""
PA_RANGE = (1e-4, 1e3)
"""Vapour pressures between the hub and the rim of the wheel."""
EQUATIONS = {
    "activity": "activity = share of the oil x vapour pressure x molar mass / (R T) / odour threshold, at 25 °C",
    "strength": "strength of a family = (sum of activities in it) ^ 0.4; its share = strength / sum of strengths",
    "volatility": "log10 of vapour pressure, mean over the oil by mass",
}


@dataclass(frozen=True)
class Profile:
    """What one oil, or one blend, smells of."""

    activity: Mapping[str, float]
    """Constituent id -> odour activity over the neat liquid: times its threshold, by Raoult's law with mass shares."""
    families: Mapping[str, float]
    """Family -> share of what is smelt; adds up to 1. In the order of FAMILIES."""
    notes: Mapping[str, float]
    """top, middle, base -> share of what is smelt; adds up to 1."""
    vapour_pressure_pa: float
    """Geometric mean over the mass at 25 °C: how fleeting it is as a whole."""
    worded_pct: float
    """Percent of it, by mass, for which odour words and properties are held."""

    @property
    def leading(self) -> str:
        """The family it smells of most."""
        return max(self.families, key=lambda family: self.families[family])

    def vector(self) -> Array:
        """Shares by family as an array, in the order of FAMILIES."""
        return np.array([self.families[family] for family in FAMILIES])


@dataclass(frozen=True, slots=True)
class Place:
    """Where something stands on the wheel."""

    angle_deg: float
    """Clockwise from the top."""
    radius: float
    """0 at the hub (heavy, lasting) to 1 at the rim (fleeting)."""
    family: str
    """The family it smells of most."""


@dataclass(frozen=True)
class Ring:
    """The families in order round the wheel."""

    families: tuple[str, ...]
    """Clockwise from the top."""
    angles_deg: Mapping[str, float]
    likeness: Array
    """Of each family with each other, in the order of FAMILIES: cosine of their shares over all oils."""


@dataclass(frozen=True, slots=True)
class Added:
    """What one oil adds to a blend."""

    oil: str
    name: str
    share_pct: float
    """Of the blend by mass."""
    smelt_pct: float
    """Of all that is smelt: mean over the families, each by how much of its strength the oil brings."""
    families: tuple[tuple[str, float], ...]
    """Families it lifts most, with how many percent of the family's own strength are its."""


@dataclass(frozen=True)
class Blend:
    """A blend on the wheel."""

    profile: Profile
    added: tuple[Added, ...]
    absent: tuple[str, ...]
    """Families that are not smelt, in the order of the ring."""
    would_fill: Mapping[str, tuple[str, ...]]
    """Absent family -> ids of oils that would bring it and change the rest of the blend least."""
    places: Mapping[str, Place]
    """Oil id -> where it stands."""


def as_dict(found: Blend, order: Ring) -> dict[str, Any]:
    """A blend for --json, with the order of the families round the wheel."""
    return {"fizzwright": 1, "ring": list(order.families), **asdict(found)}


def _shares(words: tuple[str, ...]) -> dict[str, float]:
    """Families with shares that add up to 1; the first word counts FIRST_WORD times. Words of no family are left out."""
    found: dict[str, float] = {}
    for place, word in enumerate(word for word in words if word in FAMILY_OF):
        family = FAMILY_OF[word]
        found[family] = found.get(family, 0.0) + (FIRST_WORD if place == 0 else 1.0)
    whole = sum(found.values())
    return {family: share / whole for family, share in found.items()}


def family_words(oil: Oil) -> tuple[str, ...]:
    """The trade's words for the whole oil: floral-herbal is two."""
    return tuple(word for word in oil.odour_family.split("-") if word)


@dataclass(frozen=True)
class _Smell:
    """Activities of one gram in a gram of blend, by constituent, family and note."""

    activity: Mapping[str, float]
    by_family: Array
    by_note: Array
    log_pa: float
    known_mass: float
    worded_mass: float
    whole: Array
    """Families by the trade's words for the whole oil, adding up to its whole activity."""


def _smell(entry: Oil | Constituent, catalogue: Catalogue) -> _Smell:
    rows = (
        [(entry, 100.0)]
        if isinstance(entry, Constituent)
        else [(catalogue.constituent_named(row.constituent), likely_pct(row)[0]) for row in entry.constituents]
    )
    # typical figures of a species are collected one by one and can add up to more than the oil
    over = max(100.0, sum(pct for _, pct in rows))
    names = list(FAMILIES)
    activity: dict[str, float] = {}
    by_family, by_note = np.zeros(len(names)), np.zeros(len(CLASSES))
    log_pa = known_mass = worded_mass = 0.0
    for constituent, pct in rows:
        known = airborne(constituent) if constituent is not None else None
        if constituent is None or known is None or pct <= 0:
            continue
        share = pct / over
        air_mg_m3 = 1000 * known.vapour_pressure_pa * known.molar_mass_g_mol / (GAS_J_MOL_K * ROOM_K)
        smelt = share * air_mg_m3 / known.threshold_mg_m3
        activity[constituent.id] = activity.get(constituent.id, 0.0) + smelt
        by_note[CLASSES.index(known.kind)] += smelt
        log_pa += share * math.log10(known.vapour_pressure_pa)
        known_mass += share
        if told := catalogue.odour_words.get(constituent.id):
            worded_mass += share
            for family, part in _shares(told.words).items():
                by_family[names.index(family)] += part * smelt
    whole = np.zeros(len(names))
    if isinstance(entry, Oil):
        for family, part in _shares(family_words(entry)).items():
            whole[names.index(family)] = part
    # an oil of which nothing is known by constituent goes by its words alone, as strong as a thousand thresholds
    total = float(sum(activity.values())) or (1000.0 if whole.any() else 0.0)
    if not by_family.any():
        by_family = whole * total
    if not whole.any():
        whole = by_family / (by_family.sum() or 1.0)
    return _Smell(activity, by_family, by_note, log_pa, known_mass, worded_mass, whole * total)


def _profile(parts: list[tuple[float, _Smell]]) -> Profile:
    """The profile of smells with their shares by mass."""
    activity: dict[str, float] = {}
    for share, smell in parts:
        for id_, value in smell.activity.items():
            activity[id_] = activity.get(id_, 0.0) + share * value
    families = sum((_strengths(share, smell) for share, smell in parts), np.zeros(len(FAMILIES)))
    notes = np.array(sum((share * smell.by_note for share, smell in parts), np.zeros(len(CLASSES)))) ** EXPONENT
    known = sum(share * smell.known_mass for share, smell in parts)
    log_pa = sum(share * smell.log_pa for share, smell in parts) / known if known else 0.0
    return Profile(
        activity,
        dict(zip(FAMILIES, _unit(families).tolist(), strict=True)),
        dict(zip(CLASSES, _unit(notes).tolist(), strict=True)),
        10.0**log_pa,
        100 * sum(share * smell.worded_mass for share, smell in parts),
    )


def _strengths(share: float, smell: _Smell) -> Array:
    """How strongly each family of one oil is smelt when it is such a share of the blend.

    Stevens' law on the oil as a whole, shared out by its families' own strengths.
    """
    total = smell.whole.sum()
    if total <= 0 or share <= 0:
        return np.zeros(len(FAMILIES))
    mixed = (1 - WHOLE_SHARE) * _unit(smell.by_family**EXPONENT) + WHOLE_SHARE * _unit(smell.whole)
    return np.asarray((share * total) ** EXPONENT * mixed)


def _unit(values: Array) -> Array:
    whole = values.sum()
    return values / whole if whole > 0 else values


@dataclass(frozen=True)
class _Wheel:
    """Everything about one catalogue's oils that is worked out once."""

    smells: Mapping[str, _Smell]
    profiles: Mapping[str, Profile]
    ring: Ring


@lru_cache(maxsize=4)
def _wheel(held: Held) -> _Wheel:
    catalogue = held.catalogue
    smells = {oil.id: _smell(oil, catalogue) for oil in catalogue.oils.values()}
    profiles = {id_: _profile([(1.0, smell)]) for id_, smell in smells.items()}
    table = np.array([profile.vector() for profile in profiles.values()])
    likeness = seriation.cosine(table.T)
    order = seriation.ring_order(likeness)
    return _Wheel(smells, profiles, _turned(order, likeness, table, profiles))


def _turned(order: list[int], likeness: Array, table: Array, profiles: Mapping[str, Profile]) -> Ring:
    """The ring with its most fleeting family at the top and the more fleeting of its neighbours clockwise of it."""
    log_pa = np.log10([profile.vapour_pressure_pa for profile in profiles.values()])
    weight = table.sum(axis=0)
    fleeting = np.divide(log_pa @ table, weight, out=np.full(len(weight), -np.inf), where=weight > 0)
    at = order.index(int(np.argmax(fleeting)))
    ring = order[at:] + order[:at]
    if fleeting[ring[-1]] > fleeting[ring[1]]:
        ring = [ring[0], *ring[:0:-1]]
    names = list(FAMILIES)
    families = tuple(names[i] for i in ring)
    step = 360.0 / len(families)
    return Ring(families, {family: place * step for place, family in enumerate(families)}, likeness)


def ring(catalogue: Catalogue) -> Ring:
    """The families round the wheel, ordered by this catalogue's oils."""
    return _wheel(Held(catalogue)).ring


def profile(oil: Oil, catalogue: Catalogue) -> Profile:
    """What an oil smells of: constituents by odour activity, families, notes; worked out once for a catalogue's own."""
    if catalogue.oils.get(oil.id) is oil:
        return _wheel(Held(catalogue)).profiles[oil.id]
    return _profile([(1.0, _smell(oil, catalogue))])


def place_of(told: Profile, catalogue: Catalogue) -> Place:
    """Where a profile stands: towards its families, each pulling by the square of its share, and out by how fleeting it is."""
    angles = ring(catalogue).angles_deg
    pulls = [(math.radians(angles[family]), share**2) for family, share in told.families.items()]
    east, north = sum(p * math.sin(a) for a, p in pulls), sum(p * math.cos(a) for a, p in pulls)
    low, high = (math.log10(pa) for pa in PA_RANGE)
    out = (math.log10(told.vapour_pressure_pa) - low) / (high - low)
    return Place(math.degrees(math.atan2(east, north)) % 360, min(1.0, max(0.0, out)), told.leading)


def places(oil: Oil, catalogue: Catalogue) -> Place:
    """Where an oil stands on the wheel."""
    return place_of(profile(oil, catalogue), catalogue)


def scent_grams(mix: Mix) -> dict[str, float]:
    """Grams of each scented line of a mix by what it uses, lines of one oil together."""
    found: dict[str, float] = {}
    for mixed, grams in zip(mix.lines, mix.grams, strict=True):
        if mixed.is_oil:
            found[mixed.id] = found.get(mixed.id, 0.0) + float(grams)
    return found


def blend(given: Mix | Mapping[str, float], catalogue: Catalogue, among: Collection[str] | None = None) -> Blend | None:
    """A mix, or grams by oil id, on the wheel; None when nothing in it is scented. KeyError for an unknown id.

    among: ids of the oils that may be proposed to fill a gap; all when not given.
    """
    grams = {use: g for use, g in (scent_grams(given) if isinstance(given, Mix) else dict(given)).items() if g > 0}
    total = sum(grams.values())
    if total <= 0:
        return None
    held = _wheel(Held(catalogue))
    parts = {}
    for use, g in grams.items():
        entry = catalogue.oils.get(use) or catalogue.constituents[use]
        parts[use] = (g / total, held.smells.get(use) or _smell(entry, catalogue))
    told = _profile(list(parts.values()))
    strengths = {use: _strengths(*part) for use, part in parts.items()}
    whole = sum(strengths.values(), np.zeros(len(FAMILIES)))
    absent = tuple(family for family in held.ring.families if told.families[family] < ABSENT)
    return Blend(
        told,
        tuple(_added(use, parts[use][0], strengths[use], whole, catalogue) for use in parts),
        absent,
        _fillers(parts, absent, held, among),
        {use: place_of(_profile([(1.0, parts[use][1])]), catalogue) for use in parts},
    )


def _added(use: str, share: float, own: Array, whole: Array, catalogue: Catalogue) -> Added:
    entry = catalogue.oils.get(use) or catalogue.constituents[use]
    parts = np.divide(own, whole, out=np.zeros_like(own), where=whole > 0)
    lifts = sorted(
        ((family, 100 * float(part)) for family, part in zip(FAMILIES, parts, strict=True)), key=lambda f: -f[1]
    )
    smelt = [float(value) for value in own / (whole.sum() or 1.0)]
    felt = {family: value for family, value in zip(FAMILIES, smelt, strict=True) if value >= ABSENT}
    return Added(
        use, entry.name, 100 * share, 100 * sum(smelt), tuple((f, part) for f, part in lifts if f in felt)[:NEIGHBOURS]
    )


def _fillers(
    parts: Mapping[str, tuple[float, _Smell]], absent: tuple[str, ...], held: _Wheel, among: Collection[str] | None
) -> dict[str, tuple[str, ...]]:
    """Oils that bring each absent family when a quarter of the new blend is theirs, and change the rest of it least."""
    old = sum((_strengths(*part) for part in parts.values()), np.zeros(len(FAMILIES)))
    new = {}
    for id_, smell in held.smells.items():
        if id_ not in parts and (among is None or id_ in among):
            kept = [_strengths((1 - FILLER_SHARE) * share, own) for share, own in parts.values()]
            new[id_] = _unit(sum(kept, _strengths(FILLER_SHARE, smell)))
    found = {}
    for family in absent:
        at = list(FAMILIES).index(family)
        rest = np.arange(len(FAMILIES)) != at
        ranked = sorted(
            (id_ for id_, shares in new.items() if shares[at] >= ABSENT),
            key=lambda id_: (
                -float(new[id_][at] * seriation.cosine(np.array([old[rest], new[id_][rest]]))[0, 1]), id_,
            ),
        )  # fmt: skip
        found[family] = tuple(ranked[:NEIGHBOURS])
    return found
