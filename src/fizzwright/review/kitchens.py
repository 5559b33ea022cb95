"""The kitchens a recipe goes to: every doubt drawn at once, and how many of them stay inside every limit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.model import Oil, OilConstituent
from fizzwright.recipe.mix import Mix
from fizzwright.review import limits
from fizzwright.review.joins import analysis_of, doubted, likely_pct, reach, rows_of
from fizzwright.review.kitchen_measuring import HABITS, SHARED, Measured, measured, spreads
from fizzwright.review.limits import ROUNDING, Check, cured_g
from fizzwright.review.room import usual_room
from fizzwright.review.setting import Setting
from fizzwright.review.sizes import solid_fraction_at
from fizzwright.review.tap import NORMAL_95, Span, log_spread, span, spread, water_of
from fizzwright.review.tub_defaults import bath
from fizzwright.science import sampling
from fizzwright.science.composition import closed, triangular
from fizzwright.science.equilibrium import Water

__all__ = ["HABITS", "Inside", "Kitchens", "draw", "inside"]

Array = NDArray[np.float64]

MOST_KITCHENS = 2**18
FEWEST_KITCHENS = 2**7
MOST_KEPT = 2**20
"""Draws worth keeping in memory: eight megabytes."""
MOST_AT_ONCE = 2**23
"""Draws worked at once: sixty-four megabytes, and as much again for each step of the working."""
SLICE = 2**13
FEWEST_AT_ONCE = 2**9
AROUND = ("packing", "loss", "litres", "warmth", "hardness", "alkalinity", "ph", "gas", "room", "damp", "pace")
"""What else differs from kitchen to kitchen, besides the measuring."""
BOWL_LOSS: Span = (0.5, 2.0, 5.0)
"""estimate: percent of the mix that stays in the bowl or on the hands, when the workshop says nothing."""
FILLED_BY_EYE = 0.2
"""estimate: a tub is filled to within a fifth of what was meant, either way (90 %)."""
WARMTH_C = 2.0
"""estimate: a bath is run to within two degrees of what was meant (90 %)."""
REST_PCT = 5.0
"""estimate: what a table of constituents leaves out may be this much of an oil, or twice the usual rest when that is more."""
UNKNOWN_MOST = 2.0
"""estimate: a constituent whose most nobody names may reach twice its typical share."""


def checked_count(count: int) -> int:
    """ValueError, in words, unless that many kitchens can be drawn."""
    if not FEWEST_KITCHENS <= count <= MOST_KITCHENS or count & (count - 1):
        raise ValueError(
            f"kitchens was {count}; allowed is a power of two from {FEWEST_KITCHENS} to {MOST_KITCHENS}, such as 65536"
        )
    return count


def checked_habit(habit: str) -> str:
    """ValueError, in words, unless the section knows how such a kitchen measures."""
    if habit not in HABITS:
        raise ValueError(f"habit was {habit!r}; allowed is one of {', '.join(HABITS)}")
    return habit


@dataclass(frozen=True)
class Ranges:
    """What one oil (or one lot of it) may be made of; arrays over its constituents and, last, what no table names."""

    oil: str
    names: tuple[str, ...]
    low: Array
    mode: Array
    high: Array
    said: str = ""
    """A sentence when the ranges had to be bent to make up one oil."""


@dataclass(frozen=True)
class Shares:
    """The constituents of one scented line in each kitchen."""

    names: tuple[str, ...]
    pct: Array
    """Percent of the oil; shape (draws, names)."""

    def of(self, constituent: str) -> Array:
        """The draws of one constituent; 0 when the line holds none of it."""
        return self.pct[:, self.names.index(constituent)] if constituent in self.names else np.zeros(len(self.pct))


@dataclass(frozen=True)
class Kitchens:
    """Draws of everything that differs from kitchen to kitchen; one entry a kitchen."""

    mix: Mix
    """Its draws_g are what these kitchens measure."""
    habit: str
    litres: Array
    temperature_c: Array
    water: Water
    tap: Water
    """The likely one."""
    room_atm: Array
    """Carbon dioxide over the bath, atm."""
    room_c: Array
    humidity_pct: Array
    solid_fraction: Array
    kept: Array
    """Share of the mix that does not stay in the bowl."""
    pace: Array
    """How much longer or shorter a piece takes than the estimate says: a standard normal."""
    shares: Mapping[int, Shares]
    """By place of the scented line in the mix; a pure aroma substance has no entry."""


@dataclass(frozen=True)
class Plan:
    """What the kitchens of one recipe and habit are drawn from, and by which column of the draws.

    The columns: AROUND; SHARED; one for each different thing in the recipe; one for each line; then, oil by oil in the
    order of the lines, one for each constituent and one for what no table names.
    """

    mix: Mix
    catalogue: Catalogue
    setting: Setting
    habit: str
    lines: tuple[Measured, ...]
    times: Array
    loads: Array
    """Doubt of the logarithm of each line from each normal of SHARED, things and lines; shape (normals, lines)."""
    things: tuple[str, ...]
    oils: tuple[Ranges, ...]
    oil_of: Mapping[int, int]
    """Place of a scented line -> which of `oils` it is."""

    @property
    def normals(self) -> int:
        """Columns that are normal: all but the constituents."""
        return len(AROUND) + len(self.loads)

    @property
    def columns(self) -> int:
        """All columns."""
        return self.normals + sum(len(oil.low) for oil in self.oils)

    def group(self, name: str) -> list[int]:
        """The columns behind one name of AROUND or SHARED, "oil_composition", or a line's `use`."""
        if name == "oil_composition":
            return list(range(self.normals, self.columns))
        if name in AROUND:
            return [AROUND.index(name)]
        first = len(AROUND)
        if name in SHARED:
            return [first + SHARED.index(name)]
        own = [i for i, line in enumerate(self.mix.lines) if line.id == name]
        first += len(SHARED)
        return [first + self.things.index(name), *(first + len(self.things) + i for i in own)]


def _ranges(oil: Oil, analysis: tuple[OilConstituent, ...]) -> Ranges:
    """The ranges of an oil with a lot's own analysis over them, and what is left for constituents nobody names."""
    rows = [row for row, _ in rows_of(oil, analysis)]
    low = np.array([row.min_pct or 0.0 for row in rows])
    likely = np.array([likely_pct(row)[0] for row in rows])
    high = np.array(
        [row.max_pct if row.max_pct is not None else UNKNOWN_MOST * p for row, p in zip(rows, likely, strict=True)]
    )
    high = np.maximum(high, low)
    said = ""
    if low.sum() > 100.0:
        said = f"The least shares of {oil.name} come to {low.sum():.0f} % together; all were scaled down to make up one oil."
        low, likely, high = (100.0 / low.sum() * values for values in (low, likely, high))
    rest = max(100.0 - float(likely.sum()), 0.0)
    most = min(max(2.0 * rest, REST_PCT), 100.0 - float(low.sum()))
    most = max(most, 100.0 - float(high.sum()), 0.0)
    low, high = np.append(low, 0.0), np.append(high, most)
    # a lot far above its species may be said with a typical share outside its own ends
    mode = np.clip(np.append(likely, min(rest, most)), low, high)
    return Ranges(oil.id, tuple(row.constituent for row in rows), low, mode, high, said)


def plan_of(mix: Mix, catalogue: Catalogue, setting: Setting, habit: str) -> Plan:
    """What to draw; habit is one of HABITS, or PIPETTE."""
    sd = spreads(catalogue)
    lines = tuple(measured(line, catalogue, habit, sd) for line in mix.lines)
    things = tuple(dict.fromkeys(line.id for line in mix.lines))
    count = len(mix.lines)
    loads = np.zeros((len(SHARED) + len(things) + count, count))
    for i, way in enumerate(lines):
        total = way.total
        # the doubts of a product of factors: together they are lognormal with the standard deviation they add up to
        scale = np.sqrt(np.log1p(total**2)) / total if total > 0 else 0.0
        for name, share in (way.shared or {}).items():
            loads[SHARED.index(name), i] = scale * share
        loads[len(SHARED) + things.index(mix.lines[i].id), i] = scale * way.entry
        loads[len(SHARED) + len(things) + i, i] = scale * way.own
    oils: list[Ranges] = []
    known: dict[tuple[str, str], int] = {}
    oil_of: dict[int, int] = {}
    for place, line in enumerate(mix.lines):
        if not isinstance(line.entry, Oil):
            continue
        analysis = analysis_of(mix, place)
        if analysis and doubted(line.entry, analysis):
            analysis = ()
        key = (line.id, (line.line.lot or "") if analysis else "")
        if key not in known:
            known[key] = len(oils)
            oils.append(_ranges(line.entry, analysis))
        oil_of[place] = known[key]
    return Plan(
        mix,
        catalogue,
        setting,
        habit,
        lines,
        np.array([line.times for line in lines]),
        loads,
        things,
        tuple(oils),
        oil_of,
    )


@lru_cache(maxsize=8)
def _kept_columns(count: int, columns: int, seed: int) -> Array:
    points = sampling.uniforms(count, columns, seed)
    points.setflags(write=False)
    return points


def points_of(plan: Plan, count: int, seed: int, start: int = 0) -> Array:
    """Draws between 0 and 1 of every column; shape (count, columns)."""
    return columns_of(count, plan.columns, seed, start)


def slice_of(plan: Plan, count: int) -> int:
    """How many of so many kitchens are worked at once, a power of two: what they hold in memory is bounded."""
    step = min(SLICE, count)
    while step > FEWEST_AT_ONCE and step * plan.columns > MOST_AT_ONCE:
        step //= 2
    return step


def columns_of(count: int, columns: int, seed: int, start: int = 0) -> Array:
    """Draws between 0 and 1, kept for the next time where they are few."""
    if start == 0 and count * columns <= MOST_KEPT:
        return _kept_columns(count, columns, seed)
    return sampling.uniforms(count, columns, seed, start)


def grams_at(plan: Plan, normals: Array) -> Array:
    """Grams of each line; normals (..., SHARED + things + lines) -> (..., lines)."""
    mix = plan.mix
    count, things, shared = len(mix.lines), len(plan.things), len(SHARED)
    own, places = np.arange(count), np.array([plan.things.index(line.id) for line in mix.lines])
    # of the things and the lines each normal moves its own line only
    power = np.einsum("...s,sl->...l", normals[..., :shared], plan.loads[:shared])
    power += normals[..., shared + places] * plan.loads[shared + places, own]
    power += normals[..., shared + things :] * plan.loads[shared + things + own, own]
    grams: Array = mix.grams * plan.times * np.exp(power)
    feel = np.array([line.by_feel for line in plan.lines])
    if feel.any():
        # what is added until it holds goes by the dry mass that this kitchen has in the bowl
        dry = ~mix.is_liquid
        held = float(mix.grams[dry].sum())
        if held > 0:
            grams[..., feel] *= grams[..., dry].sum(axis=-1, keepdims=True) / held
    return grams


def drawn_oils(plan: Plan, points: Array) -> dict[int, Shares]:
    """What the oils hold in each kitchen, by place of the line; points: the columns of the constituents."""
    drawn: list[Shares] = []
    column = 0
    for oil in plan.oils:
        parts = triangular(points[:, column : column + len(oil.low)], oil.low, oil.mode, oil.high)
        drawn.append(Shares(oil.names, closed(parts, oil.low, oil.high)[:, :-1]))
        column += len(oil.low)
    return {place: drawn[which] for place, which in plan.oil_of.items()}


def again(kitchens: Kitchens, plan: Plan, points: Array) -> Kitchens:
    """The same kitchens with another habit of measuring: only what they weigh differs."""
    from scipy.special import ndtri

    normals = ndtri(points[:, len(AROUND) : plan.normals])
    return replace(kitchens, mix=replace(plan.mix, draws_g=grams_at(plan, normals)), habit=plan.habit)


def kitchens_at(plan: Plan, points: Array) -> Kitchens:
    """The kitchens of these draws."""
    from scipy.special import ndtri

    z = ndtri(points[:, : plan.normals])
    around = dict(zip(AROUND, z.T, strict=False))
    recipe, catalogue, setting = plan.mix.recipe, plan.catalogue, plan.setting
    tub = bath(recipe, catalogue)
    litres: Span = (tub.litres_low, tub.litres, tub.litres_high)
    if tub.litres_low == tub.litres_high:
        litres = (tub.litres * (1.0 - FILLED_BY_EYE), tub.litres, tub.litres * (1.0 + FILLED_BY_EYE))
    tap = water_of(recipe, catalogue, np.stack([around["hardness"], around["alkalinity"], around["ph"]], axis=1))
    room = setting.room or usual_room(setting.workshop, catalogue)
    craft_c, craft_rh = (span(catalogue.fact(name)) for name in ("craft_room_c", "rh_craft_ok"))
    rates = setting.workshop.rates if setting.workshop else None
    loss = (
        BOWL_LOSS
        if rates is None or rates.loss_pct <= 0
        else tuple(x / BOWL_LOSS[1] * rates.loss_pct for x in BOWL_LOSS)
    )
    return Kitchens(
        replace(plan.mix, draws_g=grams_at(plan, z[:, len(AROUND) :])),
        plan.habit,
        log_spread(litres, around["litres"]),
        np.clip(tub.temperature_c + WARMTH_C / NORMAL_95 * around["warmth"], 5.0, 60.0),
        tap.draws,
        tap.water,
        log_spread(span(catalogue.fact("air_co2")), around["gas"]),
        np.clip(room.room_c + spread(_off(craft_c), around["room"]), 1.0, 45.0),
        np.clip(room.humidity_pct + spread(_off(craft_rh), around["damp"]), 2.0, 98.0),
        solid_fraction_at(points[:, AROUND.index("packing")]),
        1.0 - np.minimum(log_spread((loss[0], loss[1], loss[2]), around["loss"]) / 100.0, 0.5),
        around["pace"],
        drawn_oils(plan, points[:, plan.normals :]),
    )


def _off(around: Span) -> Span:
    low, likely, high = around
    return low - likely, 0.0, high - likely


def draw(
    mix: Mix,
    catalogue: Catalogue,
    setting: Setting | None = None,
    *,
    count: int = 2**16,
    seed: int = 0,
    habit: str = "as_written",
) -> Kitchens:
    """So many kitchens that make this mix, from one set of scrambled Sobol points; the same for one seed.

    count: a power of two. ValueError for another count or a habit nobody has.
    """
    checked_count(count)
    plan = plan_of(mix, catalogue, setting or Setting(), checked_habit(habit))
    return kitchens_at(plan, points_of(plan, count, seed))


def level_draws(check: Check, kitchens: Kitchens, cured: Array) -> Array:
    """Percent of the cured product of what one limit speaks of, in each kitchen; cured: grams of the mix, (draws,)."""
    grams = kitchens.mix.draws_g
    total = np.zeros(len(grams))
    for part in check.level.parts:
        shares = kitchens.shares.get(part.line)
        # an oil that counts as a whole, or a pure substance, is all of its line
        pct = shares.of(part.of) if shares is not None and part.of in shares.names else part.typical_pct
        total = total + grams[:, part.line] * pct
    return np.asarray(total / cured)


def stopping(mix: Mix, catalogue: Catalogue) -> list[Check]:
    """The limits with a figure whose passing stops the piece."""
    found = limits.checks(mix, catalogue, reach(mix, catalogue))
    return [check for check in found if check.stops and check.limit.limit_pct is not None]


@dataclass(frozen=True)
class Inside:
    """How many kitchens stay inside the limits that stop a piece."""

    chance: float
    """Share of kitchens that pass none of them."""
    over: Mapping[str, float]
    """Figure id limit.<rule>.<slug> -> chance of passing it."""
    worst: str
    """Figure id with the largest chance; empty when no kitchen passes any."""
    count: int = 0
    """Kitchens drawn."""


def judge(all_checks: list[Check], kitchens: Kitchens) -> tuple[Inside, dict[str, Array]]:
    """The chances over each limit, and each level as a share of its limit in every kitchen (percent of product for a ban)."""
    count = len(kitchens.mix.draws_g)
    over = np.zeros(count, dtype=bool)
    chances: dict[str, float] = {}
    levels: dict[str, Array] = {}
    cured = np.asarray(cured_g(kitchens.mix, kitchens.mix.draws_g)) if all_checks else np.ones(count)
    for check in all_checks:
        most = check.limit.limit_pct or 0.0
        level = level_draws(check, kitchens, cured)
        beyond = level > most * ROUNDING
        over |= beyond
        chances[check.figure_id] = float(beyond.mean())
        levels[check.figure_id] = level / most if most else level
    return Inside(1.0 - float(over.mean()), chances, _worst(chances), count), levels


def _worst(chances: Mapping[str, float]) -> str:
    worst = max(chances, key=lambda name: chances[name], default="")
    return worst if worst and chances[worst] > 0 else ""


def together(parts: Sequence[Inside]) -> Inside:
    """What slices of equally many kitchens say as one."""
    over = {name: float(np.mean([part.over[name] for part in parts])) for name in parts[0].over}
    chance = float(np.mean([part.chance for part in parts]))
    return Inside(chance, over, _worst(over), sum(part.count for part in parts))


def inside(
    mix: Mix,
    catalogue: Catalogue,
    *,
    setting: Setting | None = None,
    habit: str = "as_written",
    count: int = 2**13,
    seed: int = 0,
) -> Inside:
    """The chance that a kitchen of this habit stays inside every limit that stops, all together and one by one.

    count: a power of two. ValueError for another count or a habit nobody has.
    """
    checked_count(count)
    plan, all_checks = plan_of(mix, catalogue, setting or Setting(), checked_habit(habit)), stopping(mix, catalogue)
    step = slice_of(plan, count)
    starts = range(0, count, step)
    return together([judge(all_checks, kitchens_at(plan, points_of(plan, step, seed, at)))[0] for at in starts])


def bent(plan: Plan) -> str:
    """What had to be bent to make up the oils, in a sentence; empty when nothing was."""
    return " ".join(oil.said for oil in plan.oils if oil.said)
