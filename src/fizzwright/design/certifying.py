"""The true model over a composed recipe: the document written, read, weighed and reviewed, each promise beside its demand."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fizzwright.catalogue.model import Material
from fizzwright.design.composed import Promise
from fizzwright.design.demands import Demand, Lens, window_words
from fizzwright.design.goal import OPEN, Goal, Window
from fizzwright.design.pantry import FEEL, Pantry, is_clay, shell
from fizzwright.design.programme import Programme, shares_of_wish
from fizzwright.design.steps import Step
from fizzwright.recipe.document import read_text
from fizzwright.recipe.mix import Mix
from fizzwright.recipe.model import Recipe, TapWater
from fizzwright.recipe.weigh import weigh
from fizzwright.review import review_mix
from fizzwright.review.cost import line_cost
from fizzwright.review.figures import Review
from fizzwright.review.limits import limit_words
from fizzwright.review.room import usual_room
from fizzwright.review.sizes import piece
from fizzwright.review.tap import span, water_of
from fizzwright.review.wetting import plan, wetting
from fizzwright.science import equilibrium, packing
from fizzwright.science.aqueous import DOSES
from fizzwright.wording import money_text, number_text, shown

Array = NDArray[np.float64]

ACID_TO_BASE = (0.01, 3.0)
"""Acid for base between which the end of a pH window is looked for."""
NEVER = 1e3
"""Mol a piece, more than any holds: what stands for an end that no acid and no base of the composition reaches."""
TRIES, NARROWED = 24, 3
"""Strengths looked at at once, and how often the look is narrowed to the two between which the end lies."""
CLOSE = 1e-6
"""Share of a window's end that counts as reached, so that the last digit does not break a promise."""
ORDER = ("base", "acid", "filler", "salt", "botanical", "desiccant", "surfactant", "hardener", "thickener", "colourant")
"""Lines of a recipe as they go into the bowl; then oils, what disperses, scent, and the binder last."""
LAST = ("solid_fat", "carrier_oil", "humectant", "solubiliser", "emulsifier", "preservative", "scent", "binder_liquid")


def document(pantry: Pantry, steps: Mapping[int, Step]) -> str:
    """The recipe document of a composition."""
    goal = pantry.goal
    rank = {function: i for i, function in enumerate((*ORDER, *LAST))}
    places = sorted(steps, key=lambda i: (rank.get(pantry.functions[i], len(ORDER)), -steps[i].grams, pantry.uses[i]))
    fats = [i for i in places if pantry.functions[i] in FEEL["oil_pct"]]
    into = pantry.uses[max(fats, key=lambda i: steps[i].grams)] if fats else None
    rows = [f"name = {_quoted(goal.name)}", f'kind = "{goal.kind}"', f'audience = "{goal.audience}"']
    if goal.sold_in:
        rows.append(f"sold_in = [{', '.join(_quoted(market) for market in goal.sold_in)}]")
    rows.append(f'measures = "{goal.measures}"')
    if goal.made_on is not None:
        rows.append(f"made_on = {goal.made_on.isoformat()}")
    if goal.makes.mould is not None:
        rows += ["", "[makes]", f"mould = {_quoted(goal.makes.mould)}", f"count = {pantry.count}"]
    if tub := _tub_rows(goal):
        rows += ["", "[tub]", *tub]
    for i in places:
        rows += ["", "[[line]]", f'use = "{pantry.uses[i]}"', f'amount = "{steps[i].text}"']
        if pantry.functions[i] == "scent" and into is not None:
            rows.append(f'in = "{into}"')
    return "\n".join(rows) + "\n"


def _quoted(text: str) -> str:
    import tomlkit

    return tomlkit.item(text).as_string()


def _tub_rows(goal: Goal) -> list[str]:
    tub, rows = goal.tub, []
    for key in ("litres", "temperature_c", "pieces", "powder_g", "room_m3", "fizzed_in_s"):
        if (value := getattr(tub, key)) is not None:
            rows.append(f"{key} = {value:g}")
    if isinstance(tub.water, TapWater):
        told = {key: getattr(tub.water, key) for key in TapWater.__dataclass_fields__}
        rows.append(
            f"water = {{ {', '.join(f'{key} = {value:g}' for key, value in told.items() if value is not None)} }}"
        )
    elif tub.water is not None:
        rows.append(f'water = "{tub.water}"')
    rows += [f'{key} = "{value}"' for key in ("door", "fan") if (value := getattr(tub, key)) is not None]
    return rows


def settled_ph(pantry: Pantry, grams: Array, acid_times: Array | float = 1.0) -> Array:
    """pH of the settled bath of a composition (grams by candidate), its acids taken so many times; as the tub section does."""
    recipe: Recipe = shell(pantry.goal, ())
    water = water_of(recipe, pantry.catalogue).water
    fills = float(pantry.pieces @ grams)
    dose: dict[str, Array] = {}
    for i in np.flatnonzero(grams > 0):
        entry = pantry.entries[i]
        if isinstance(entry, Material) and entry.id in DOSES and entry.molar_mass_g_mol:
            mol_l = grams[i] * pantry.pieces_per_bath / fills / entry.molar_mass_g_mol / pantry.tub.litres
            dose[entry.id] = np.asarray(mol_l * (acid_times if pantry.acid_eq[i] > 0 else 1.0))
    room = span(pantry.catalogue.fact("air_co2"))[1]
    return np.asarray(equilibrium.solve(water, dose, pantry.tub.temperature_c, room).ph)


def residue_window(pantry: Pantry, grams: Array, wanted: Window, inset: float = 0.0) -> Window:
    """Base left over, mol a piece, between which a composition like this one keeps its settled pH inside a window.

    Found by narrowing in on the true model: the acids are thinned or strengthened, the rest kept.
    """
    if wanted.is_open:
        return OPEN
    acid, base, fills = (float(w @ grams) for w in (pantry.acid_eq, pantry.base_eq, pantry.pieces))

    def at(ph: float, beyond: float) -> float:
        ends = ACID_TO_BASE[0] * base / acid, ACID_TO_BASE[1] * base / acid
        for _ in range(NARROWED):
            times = np.geomspace(*ends, TRIES)
            # pH falls as acid is added: the last that is above, the first that is not
            above = int(np.count_nonzero(settled_ph(pantry, grams, times) >= ph))
            if above == (0 if beyond > 0 else TRIES):
                return beyond
            ends = float(times[max(above - 1, 0)]), float(times[min(above, TRIES - 1)])
        return (base - float(np.sqrt(ends[0] * ends[1])) * acid) / fills

    # more base left over is a higher pH
    low = None if wanted.low is None else at(wanted.low + inset, NEVER)
    high = None if wanted.high is None else at(wanted.high - inset, -NEVER)
    return Window(low, high)


@dataclass(frozen=True)
class Certified:
    """A recipe as the true model sees it."""

    text: str
    mix: Mix
    review: Review
    promises: tuple[Promise, ...]
    figures: Mapping[str, float]
    cost_piece_minor: float | None
    unpriced: tuple[str, ...]

    @property
    def broken(self) -> tuple[Promise, ...]:
        """The promises that do not hold."""
        return tuple(promise for promise in self.promises if not promise.holds)


def weighed_mix(pantry: Pantry, text: str) -> Mix:
    """The document read and weighed as the review will."""
    recipe = read_text(text, pantry.catalogue, pantry.goal.file)
    analyses = pantry.workshop.lot_analyses if pantry.workshop is not None else None
    return weigh(recipe, pantry.catalogue, lot_analyses=analyses)


def lens_of(pantry: Pantry, mix: Mix, grams: Array, before: Lens, inset: float = 0.0) -> Lens:
    """The lens drawn afresh round a composition: its mass, its pH window, and what its binder wants."""
    wants = dict(before.binder_pct)
    wet = (
        None
        if pantry.goal.kind == "powder"
        else wetting(mix, pantry.catalogue, usual_room(pantry.workshop, pantry.catalogue))
    )
    total = float(mix.grams.sum())
    if wet is not None:
        likely = wet.likely()
        for i in np.flatnonzero(pantry.of("binder_liquid")):
            material = pantry.entries[i]
            if isinstance(material, Material):
                its = plan(likely, likely.binder(material))
                wants[material.id] = 100.0 * float(its.first[0] + its.next[0]) / total
    window = residue_window(pantry, grams, pantry.goal.ph_settled, inset)
    return replace(before, batch_g=total, residue=window, binder_pct=wants)


def certify(programme: Programme, steps: Mapping[int, Step]) -> Certified:
    """Write a composition as a recipe, review it, and lay every promise beside what the review finds."""
    pantry = programme.pantry
    text = document(pantry, steps)
    mix = weighed_mix(pantry, text)
    told = review_mix(mix, pantry.catalogue, pantry.workshop)
    figures = _figures(pantry, mix, told)
    cost, unpriced = _cost(pantry, mix)
    if cost is not None:
        figures["cost_piece"] = cost
    demanded = [d for d in programme.demands if d.kind == "wish"]
    promises = [*_kept(pantry, mix, figures, demanded), *_rules_kept(pantry, told)]
    return Certified(text, mix, told, tuple(promises), figures, cost, unpriced)


def _value(review: Review, section: str, figure: str) -> float:
    return float(review.section(section).figure(figure).value)


def _cost(pantry: Pantry, mix: Mix) -> tuple[float | None, tuple[str, ...]]:
    if pantry.workshop is None or not pantry.workshop.prices:
        return None, tuple(line.id for line in mix.lines)
    costs = [line_cost(line, pantry.workshop) for line in mix.lines]
    unpriced = tuple(c.line.id for c in costs if c.minor_per_g is None)
    return (None if unpriced else sum(c.minor for c in costs) / pantry.count), unpriced


def _figures(pantry: Pantry, mix: Mix, told: Review) -> dict[str, float]:
    size = piece(mix, pantry.catalogue)
    found = {
        "acid_to_base_eq": _value(told, "fizz", "acid_to_base_eq"),
        "gas_l": _value(told, "fizz", "co2_potential_l") * size.piece_g.value / size.total_g,
        "essential_oil_pct": _value(told, "skin", "in_product_pct"),
        "piece_g": size.piece_g.value,
        "pieces": float(size.pieces),
    }
    found |= {f.id: float(f.value) for f in told.section("tub").figures if f.id == "ph_settled"}
    found |= {f.id: float(f.value) for f in told.section("mould").figures if f.id == "hardness_0_10"}
    worst = pantry.goal.limits_by == "worst"
    stopping = {check.figure_id for check in pantry.checks if check.stops}
    shares = [
        float((f.high if worst else f.value) or 0.0) / f.high_allowed
        for f in told.section("skin").figures
        if f.id in stopping and f.high_allowed
    ]
    if shares:
        found["share_of_limit"] = max(shares)
    if (match := scent_match_pct(pantry, mix)) is not None:
        found["scent_match_pct"] = match
    return found


def scent_match_pct(pantry: Pantry, mix: Mix) -> float | None:
    """How much of the scent lies as wished: 100 less half the sum of what lies off it; None where nothing is wished for."""
    halves = shares_of_wish(pantry)
    if not halves:
        return None
    grams: dict[str, float] = {}
    for line in mix.lines:
        if line.is_oil:
            grams[line.id] = grams.get(line.id, 0.0) + line.grams
    total, off = sum(grams.values()), 0.0
    if total <= 0:
        return 0.0
    for shares, brings in halves:
        got: dict[str, float] = {}
        for use, g in grams.items():
            for name, part in brings[pantry.uses.index(use)].items():
                got[name] = got.get(name, 0.0) + part * g / total
        off += sum(abs(got.get(name, 0.0) - shares.get(name, 0.0)) for name in got.keys() | shares.keys()) / len(halves)
    return 100.0 * (1.0 - 0.5 * off)


def _kept(pantry: Pantry, mix: Mix, figures: Mapping[str, float], demands: list[Demand]) -> list[Promise]:
    """Each wish beside what the review found."""
    goal, cured = pantry.goal, mix.grams * mix.cured_fraction
    share = 100.0 / float(cured.sum())
    clay = np.array([m.material is not None and is_clay(m.material) for m in mix.lines])
    values: dict[str, tuple[float, Window, str]] = {
        "fizz.acid_to_base": (figures["acid_to_base_eq"], goal.acid_to_base_eq, " to 1"),
        "fizz.gas_l": (figures["gas_l"], goal.gas_l, " l"),
        "water.ph_settled": (figures.get("ph_settled", np.nan), goal.ph_settled, ""),
        "scent.total_pct": (figures["essential_oil_pct"], goal.scent.total_pct, " %"),
        "feel.clay_pct": (float(cured[clay].sum()) * share, goal.clay_pct, " %"),
    }
    for key, functions in FEEL.items():
        values[f"feel.{key}"] = (float(cured[mix.mask(*functions)].sum()) * share, getattr(goal, key), " %")
    held: dict[str, Callable[[str], tuple[str, bool]]] = {
        "hardness_at_least": lambda _: _hard(goal, figures),
        "piece_at_most": lambda _: _cheap(pantry, mix),
        "most_oils": lambda _: _few(goal, mix),
    }
    uses = {line.id for line in mix.lines}
    found = [
        Promise("makes.count", f"{pantry.count} pieces", f"{figures['pieces']:.0f}", figures["pieces"] >= pantry.count)
    ]
    if goal.makes.mould is None:
        found = []
    if goal.limit_share < 1:
        used = figures.get("share_of_limit", 0.0)
        asked = f"at most {shown(100 * goal.limit_share, 3)} % of any limit used"
        holds = used <= goal.limit_share * (1 + CLOSE)
        found.append(Promise("limits.share_at_most", asked, f"{shown(100 * used, 3)} %", holds))
    for demand in demands:
        place = demand.key.rsplit(".", 1)[-1]
        if demand.key in values:
            value, window, unit = values[demand.key]
            found.append(Promise(demand.key, demand.words, f"{shown(value, 3)}{unit}", _inside(value, window)))
        elif place in held:
            got, holds = held[place](place)
            found.append(Promise(demand.key, demand.words, got, holds))
        elif demand.key.startswith(("with.", "colour.")):
            use = goal.colour if demand.key == "colour.use" else place
            found.append(Promise(demand.key, demand.words, "in it" if use in uses else "not in it", use in uses))
        elif demand.key.startswith(("avoid.materials.", "avoid.groups.")):
            inside = uses & pantry.avoided[demand.key].keys()
            found.append(Promise(demand.key, demand.words, ", ".join(sorted(inside)) or "none of it", not inside))
        elif demand.key == "stock.only":
            grams = {use: sum(line.grams for line in mix.lines if line.id == use) for use in sorted(uses)}
            short = [use for use, g in grams.items() if g > pantry.stock_g[pantry.uses.index(use)] * (1 + CLOSE)]
            got = f"more than there is of {', '.join(short)}" if short else "all of it on hand"
            found.append(Promise(demand.key, demand.words, got, not short))
        elif demand.key.startswith("avoid.allergens."):
            found.append(_label(pantry, mix, demand))
    return found


def _inside(value: float, window: Window) -> bool:
    low = window.low is None or value >= window.low * (1 - CLOSE)
    return low and (window.high is None or value <= window.high * (1 + CLOSE))


def _hard(goal: Goal, figures: Mapping[str, float]) -> tuple[str, bool]:
    index = figures.get("hardness_0_10", 0.0)
    word = packing.HARDNESS_WORDS[int(np.searchsorted(packing.HARDNESS_BOUNDS, index, side="right"))]
    wanted = goal.hardness_at_least or packing.HARDNESS_WORDS[0]
    return word, packing.HARDNESS_WORDS.index(word) >= packing.HARDNESS_WORDS.index(wanted)


def _cheap(pantry: Pantry, mix: Mix) -> tuple[str, bool]:
    workshop, most = pantry.workshop, pantry.goal.cost_most_minor
    assert workshop is not None and most is not None, "a ceiling on cost is a demand only where there are prices"
    costs = [line_cost(line, workshop) for line in mix.lines]
    minor = sum(c.minor for c in costs) / pantry.count
    missing = [c.line.name for c in costs if c.minor_per_g is None]
    said = f", without {', '.join(missing)}, which has no price" if missing else ""
    return f"{money_text(minor, workshop.currency)}{said}", minor <= most * (1 + CLOSE)


def _few(goal: Goal, mix: Mix) -> tuple[str, bool]:
    oils = len({line.id for line in mix.lines if line.is_oil})
    return number_text(oils), oils <= (goal.scent.most_oils or oils)


def _label(pantry: Pantry, mix: Mix, demand: Demand) -> Promise:
    from fizzwright.review.joins import joins, reach
    from fizzwright.review.limits import cured_g, level

    name = demand.key.removeprefix("avoid.allergens.")
    parts = reach(mix, pantry.catalogue).labels.get(name, ())
    got = level(parts, mix, float(cured_g(mix))) if parts else None
    value = 0.0 if got is None else got.high if pantry.goal.limits_by == "worst" else got.typical
    most = joins(pantry.catalogue).labels[name].rinse_off_threshold_pct
    return Promise(demand.key, demand.words, f"{shown(value, 3)} %", value <= most * (1 + CLOSE))


def _rules_kept(pantry: Pantry, told: Review) -> list[Promise]:
    """The rules that always hold: no stop in the review, and each limit the piece comes nearest to."""
    stops = [notice.text for _, notice in told.notices if notice.level == "stop"]
    found = [
        Promise("review", "nothing in the review that stops the piece", stops[0] if stops else "nothing", not stops)
    ]
    worst = pantry.goal.limits_by == "worst"
    stopping = {check.figure_id for check in pantry.checks if check.stops}
    rows = []
    for figure in told.section("skin").figures:
        if figure.id.startswith("limit.") and figure.high_allowed:
            value = float((figure.high if worst else figure.value) or 0.0)
            counts = figure.id in stopping
            rows.append((value / figure.high_allowed, figure.id, value, figure.high_allowed, counts))
    for share, name, value, allowed, counts in sorted(rows, reverse=True):
        # a published ceiling outside the rules only warns, so it is told with the review and not promised here
        if counts and (share > 1.0 or len(found) < 4):
            rule = limit_words(name, pantry.mix, pantry.checks)
            oils = "with every oil at its strongest" if worst else "with oils as they usually are"
            words = f"{rule}: {window_words(Window(None, allowed), ' %')}, {oils}"
            found.append(Promise(name, words, f"{shown(value, 3)} %", share <= 1 + CLOSE))
    return found
