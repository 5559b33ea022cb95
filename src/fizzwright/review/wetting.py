"""How wet a mix is before it is pressed, and how wet it wants to be: what every binder is reckoned from.

Arrays hold the likely case first, then draws.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from fractions import Fraction
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.model import Material
from fizzwright.recipe.amounts import TO_CONSISTENCY, format_number
from fizzwright.recipe.measures import density, drop_ml, is_poured, spray_ml, unit_ml
from fizzwright.recipe.mix import Mix, MixLine
from fizzwright.review.figures import interval
from fizzwright.review.room import Room
from fizzwright.review.sizes import true_densities
from fizzwright.review.standing import danger
from fizzwright.review.tap import log_spread, span, spread
from fizzwright.review.work_air import AT_ONCE, WETNESS, bowl_m2, kind_of
from fizzwright.science import airborne, binding, packing
from fizzwright.science.moisture import saturation_pa, vapour_g_m3
from fizzwright.science.sampling import standard_normals
from fizzwright.science.transfer import STILL_AIR_M_S

Array = NDArray[np.float64]

DRAWS = 256
MINUTES_TO_TEST, MINUTES_A_KG = 3.0, 4.0
"""estimate: from the first spray to the first squeeze, for any batch and for each kilogram that has to be stirred."""
SPRAYS_AT_MOST = 40
"""Beyond this nobody counts: spoons filled into the sprayer serve better."""
DRY_ROOM_PCT = 45.0
"""estimate: a room in which nobody hurries; see facts rh_craft_ok."""
WHEN_NONE = "isopropyl_alcohol_91"
"""What a recipe without a binder is helped out with."""


def ranged(values: Array) -> tuple[float, float, float]:
    """Likely value, low and high."""
    return float(values[0]), *interval(values[1:])


@dataclass(frozen=True)
class Binder:
    """A liquid a maker may bind with, in this mix and this room: water, alcohol and the rest on the last axis."""

    material: Material
    worth_ml: Array
    """(draws, 3): what each component of a gram is worth, in ml of water."""
    shares: Array
    """(3,): of its mass."""
    rates_g_min: Array
    """(draws, 3): what a bowl wet with that component alone gives off at first."""
    lands: Array
    """(draws,): share of it that reaches the mix; the rest of a spray of alcohol is gone before."""

    @property
    def worth_ml_g(self) -> Array:
        """(draws,): what a gram is worth, in ml of water."""
        return np.asarray(self.worth_ml.sum(axis=-1))

    def left_ml(self, put_in_g: float, minutes: float) -> float:
        """What it is still worth after so many minutes in the bowl, in ml of water; likely case."""
        return float(binding.left(put_in_g * self.lands[0], self.worth_ml[0], self.rates_g_min[0], minutes))

    def gone_g(self, put_in_g: float, minutes: float) -> float:
        """Grams that have gone off since they landed; likely case."""
        landed = put_in_g * float(self.lands[0])
        return landed - float(binding.left(landed, self.shares, self.rates_g_min[0], minutes))

    def put_in_g(self, wanted_ml: Array, minutes: float) -> Array:
        """(draws,): grams to put in so that the wanted, in ml of water, is there after so many minutes."""
        return np.asarray(binding.put_in_g(wanted_ml, self.worth_ml, self.rates_g_min, minutes) / self.lands)

    def fades_min(self, put_in_g: float, share: float) -> float:
        """Minutes until it binds only this share of what it did at first; likely case, infinite when it stays."""
        return float(binding.going_min(put_in_g * self.lands[0], self.worth_ml[0], self.rates_g_min[0], share))


@dataclass(frozen=True)
class Wetting:
    """How wet a mix is and wants to be, in ml of water and what counts as such; (draws, parts) where it goes by part."""

    mix: Mix
    catalogue: Catalogue
    room: Room
    parts: tuple[str, ...]
    solids_ml: Array
    """(draws, parts): space the grains take."""
    pores_ml: Array
    held_ml: Array
    """Oils, fats, solubilisers, scent and the like, the binder not counted."""
    wetness: Array
    pasty_times: Array
    solid_fraction: Array
    damp: Array
    """Share of the want that the damp of the air meets."""
    first_share: Array
    alcohol_worth: Array
    oil_worth: Array
    humectant_worth: Array
    bowl_wet: Array
    at_once: Array
    face_m2: float
    grain_um: float
    danger_pct: float
    """Humidity over the wetted acid and bicarbonate: water leaves them only for drier air."""

    def likely(self) -> Wetting:
        """The same without its draws, for tables that tell likely values only."""
        arrays: dict[str, Any] = {
            f.name: value[:1] for f in fields(self) if isinstance(value := getattr(self, f.name), np.ndarray)
        }
        return replace(self, **arrays)

    @property
    def wanted_ml(self) -> Array:
        """(draws, parts): what the mix wants in all."""
        return np.asarray(self.pores_ml * self.wetness[:, None])

    @property
    def still_ml(self) -> Array:
        """(draws, parts): what is still short."""
        return binding.still_wanted_ml(self.wanted_ml, self.damp[:, None], self.held_ml)

    @property
    def room_ml(self) -> Array:
        """(draws,): what can still go in before the mix turns pasty."""
        pasty = self.wanted_ml * self.pasty_times[:, None]
        held = self.held_ml + self.damp[:, None] * self.wanted_ml
        return np.asarray(np.maximum(pasty - held, 0.0).sum(axis=-1))

    @property
    def minutes_to_test(self) -> float:
        """From the first spray to the first squeeze."""
        return MINUTES_TO_TEST + MINUTES_A_KG * float(self.mix.grams.sum()) / 1000.0

    def worth_ml(self, material: Material | None, g_ml: float) -> Array:
        """(draws, 3): what the water, the alcohol and the rest of a gram are worth; scent counts as oil."""
        if material is None:
            return binding.worth_ml(g_ml, 0.0, 0.0, self.alcohol_worth, self.oil_worth)
        rest = self.humectant_worth if material.function == "humectant" else self.oil_worth
        return binding.worth_ml(g_ml, material.water_mass_pct, material.alcohol_mass_pct, self.alcohol_worth, rest)

    def binder(self, material: Material) -> Binder:
        """A liquid of the catalogue as the binder of this mix."""
        water, alcohol = material.water_mass_pct / 100.0, material.alcohol_mass_pct / 100.0
        rates = np.zeros((len(self.wetness), 3))
        # each gives off by its share of the mass: within a fifth for strong alcohol (memory), and the bowl itself a factor of two
        if water > 0:
            drier = max(self.danger_pct - self.room.humidity_pct, 0.0) / 100.0
            over_g_m3 = float(vapour_g_m3(self.room.room_c, saturation_pa(self.room.room_c)))
            rates[:, 0] = 60.0 * STILL_AIR_M_S * self.face_m2 * self.bowl_wet * drier * over_g_m3
        if alcohol > 0:
            kind = kind_of(material)
            rates[:, 1] = airborne.evaporation_g_h(kind, self.face_m2, self.room.room_c, self.bowl_wet) / 60.0
        worth = self.worth_ml(material, density(material, None).g_ml)
        shares = np.array([water, alcohol, max(1.0 - water - alcohol, 0.0)])
        return Binder(material, worth, shares, rates, 1.0 - self.at_once * alcohol)


def wetting(mix: Mix, catalogue: Catalogue, room: Room) -> Wetting | None:
    """How wet the mix is and wants to be; None when there is no powder in it to bind."""
    solid, bound = ~mix.is_liquid, mix.is_liquid & ~mix.mask("binder_liquid")
    if not float((mix.grams * solid).sum()) > 0:
        return None
    step = max(len(mix.draws_g) // DRAWS, 1)
    grams = np.vstack([mix.grams, mix.draws_g[::step][:DRAWS]])
    z = np.vstack([np.zeros(10), standard_normals(len(grams) - 1, 10, seed=23)])

    def drawn(fact_id: str, column: int) -> Array:
        return log_spread(span(catalogue.fact(fact_id)), z[:, column])

    parts = tuple(dict.fromkeys(m.part for m in mix.lines))
    belongs = np.array([[m.part == part for part in parts] for m in mix.lines], dtype=float)
    solid_fraction = spread(packing.HAND_PRESSED, z[:, 0])
    solids_ml = (grams * solid / true_densities(mix)) @ belongs
    alcohol, oil, humectant = (
        drawn(f"binder_worth_{name}", 1 + i) for i, name in enumerate(("alcohol", "oil", "humectant"))
    )
    full = spread(span(catalogue.fact("binder_air_full")), z[:, 4])
    none = spread(span(catalogue.fact("binder_air_none")), z[:, 4])
    # what draws water from drier air than acid and bicarbonate do makes the whole mix damp that much sooner
    usual = catalogue.fact("drh_mix").typical
    danger_pct = danger(mix, catalogue).pct.value
    sooner = danger_pct - usual if usual is not None else 0.0
    grain = catalogue.fact("binder_grain").typical
    found = Wetting(
        mix,
        catalogue,
        room,
        parts,
        solids_ml,
        binding.pore_ml(solids_ml, solid_fraction[:, None]),
        np.zeros_like(solids_ml),
        drawn("binder_wetness", 5) / 100.0,
        drawn("binder_pasty", 6),
        solid_fraction,
        binding.damp_share(room.humidity_pct, full + sooner, none + sooner),
        spread(span(catalogue.fact("binder_first_share")), z[:, 7]),
        alcohol,
        oil,
        humectant,
        log_spread(WETNESS, z[:, 8]),
        np.minimum(log_spread(AT_ONCE, z[:, 9]), 1.0),
        bowl_m2(mix),
        float(grain) if grain is not None else 0.0,
        danger_pct,
    )
    for place in np.flatnonzero(bound):
        line = mix.lines[place]
        worth = found.worth_ml(line.material, density(line.entry, None).g_ml).sum(axis=-1)
        found.held_ml[:, parts.index(line.part)] += grams[:, place] * worth
    return found


@dataclass(frozen=True)
class Plan:
    """Additions of one binder in grams: likely first, then draws."""

    need: Array
    """What should be in the mix when it is pressed."""
    first: Array
    next: Array
    most: Array
    """All that may go in, what goes off before the first squeeze included."""


def plan(wet: Wetting, binder: Binder) -> Plan:
    """How much of a binder to begin with, how much more if that crumbles, and where to stop."""
    still, minutes = wet.still_ml.sum(axis=-1), wet.minutes_to_test
    first_ml = wet.first_share * still
    next_ml = binding.next_ml(first_ml, still, wet.room_ml)
    return Plan(
        still / binder.worth_ml_g,
        binder.put_in_g(first_ml, minutes),
        next_ml / binder.worth_ml_g / binder.lands,
        binder.put_in_g(wet.room_ml, minutes),
    )


def own_binder(mix: Mix) -> MixLine | None:
    """The recipe's own binder: the largest of its binder lines."""
    lines = [m for m, is_binder in zip(mix.lines, mix.mask("binder_liquid"), strict=True) if is_binder and m.grams > 0]
    return max(lines, key=lambda m: m.grams) if lines else None


def chosen(mix: Mix, catalogue: Catalogue) -> Material:
    """What the mix is bound with: its own binder, else alcohol that hardly wakes the fizz."""
    own = own_binder(mix)
    material = own.material if own else None
    return material or catalogue.materials[WHEN_NONE]


def as_bound(mix: Mix, catalogue: Catalogue, room: Room) -> Mix:
    """The mix with as much binder as it wants in a dry room where the recipe says only "to consistency".

    In damper air it wants less; but what drier air would do is asked of the same mix.
    """
    liquid = mix.mask("binder_liquid")
    by_feel = liquid & np.array([m.line.amount.unit == TO_CONSISTENCY for m in mix.lines])
    held = float(mix.grams[by_feel].sum())
    wet = wetting(mix, catalogue, replace(room, humidity_pct=DRY_ROOM_PCT)) if held > 0 else None
    if wet is None:
        return mix
    its = plan(wet, wet.binder(chosen(mix, catalogue)))
    wanted = max(float(its.first[0] + its.next[0]) - float(mix.grams[liquid & ~by_feel].sum()), 0.0)
    times = np.where(by_feel, wanted / held, 1.0)
    return replace(mix, grams=mix.grams * times, draws_g=mix.draws_g * times)


def plain_name(material: Material) -> str:
    """The name of a material as a sentence can bear it, without what stands in brackets."""
    return material.name.split(" (")[0]


def _counted(ml: float, each_ml: float, parts: int, word: str) -> tuple[float, str]:
    """The nearest count of a measure by parts of one, at least one part: its volume and the words."""
    many = max(round(ml / each_ml * parts), 1)
    return (
        many * each_ml / parts,
        f"{format_number(Fraction(many, parts), decimal=False)} {word}{'s' if many > parts else ''}",
    )


def _spooned(ml: float, spoons: Mapping[str, float]) -> tuple[float, str]:
    """A volume in at most two kinds of measure, the smaller rounded."""
    tsp, tbsp, cup = (spoons[unit] for unit in ("tsp", "tbsp", "cup"))
    if ml < tbsp - tsp / 8:
        return _counted(ml, tsp, 4, "teaspoon")
    large, word, parts, small, small_word, small_parts = (
        (tbsp, "tablespoon", 1, tsp, "teaspoon", 2) if ml < cup / 2 else (cup, "cup", 4, tbsp, "tablespoon", 1)
    )
    whole = math.floor(ml / large * parts + 1 / 16) / parts
    got, told = _counted(whole * large, large, parts, word)
    rest = ml - got
    if rest < small / small_parts / 2:
        return got, told
    more, more_told = _counted(rest, small, small_parts, small_word)
    return got + more, f"{told} and {more_told}"


def dose(grams: float, material: Material, mix: Mix, catalogue: Catalogue) -> tuple[float, str]:
    """An addition as a kitchen measures it, in the recipe's own cups and spoons: grams it comes to, and the words.

    Alcohol and water by the spray up to 40 of them; oils by the drop below a quarter of a teaspoon; the rest in spoons.
    """
    g_ml = density(material, None).g_ml
    ml = grams / g_ml
    spoons = {unit: unit_ml(unit, mix.recipe.measures, catalogue).ml for unit in ("tsp", "tbsp", "cup")}
    sprayed, stroke_ml = material.function == "binder_liquid", spray_ml(catalogue).ml
    mist = ""
    if sprayed and ml <= (SPRAYS_AT_MOST + 0.5) * stroke_ml:
        got, told = _counted(ml, stroke_ml, 1, "spray")
    elif is_poured(material) and ml < spoons["tsp"] / 5:
        got, told = _counted(ml, drop_ml(material, catalogue).ml, 1, "drop")
    else:
        got, told = _spooned(ml, spoons)
        mist = " in a fine mist" if sprayed else ""
    return got * g_ml, f"{told}{mist}, {_grams(got * g_ml)}"


def _grams(grams: float) -> str:
    return f"{grams:.0f} g" if grams >= 20 else f"{grams:.1f} g"
