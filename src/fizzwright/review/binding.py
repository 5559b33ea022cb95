"""The binder: how much to begin with, how much more, when to stop; and what a squeezed handful says."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.model import Material
from fizzwright.catalogue.workshop import Workshop
from fizzwright.recipe.amounts import TO_CONSISTENCY
from fizzwright.recipe.measures import density
from fizzwright.recipe.mix import Mix, MixLine
from fizzwright.review import damp
from fizzwright.review.bench import part_word
from fizzwright.review.cost import line_cost
from fizzwright.review.figures import Figure, Input, Notice, Section, Table, Working, sources_of
from fizzwright.review.room import Room
from fizzwright.review.setting import Setting
from fizzwright.review.sizes import Piece
from fizzwright.review.squeezing import ANSWERS, Answer, Squeeze, answered, squeeze
from fizzwright.review.wetting import (
    WHEN_NONE,
    Binder,
    Plan,
    Wetting,
    chosen,
    dose,
    own_binder,
    plain_name,
    plan,
    ranged,
    wetting,
)
from fizzwright.review.work_air import kind_of
from fizzwright.science import binding
from fizzwright.wording import duration_text, listed, money_text, sentence, shown

__all__ = ["ANSWERS", "Answer", "Squeeze", "squeeze", "told"]

Array = NDArray[np.float64]

ON_OFFER = (
    "water",
    "witch_hazel",
    "isopropyl_alcohol_70",
    "isopropyl_alcohol_91",
    "isopropyl_alcohol_99",
    "ethanol_95",
)
LIGHT_OIL = "fractionated_coconut_oil"
WATERY_PCT = 50.0
SETS_MIDDLING_G_KG, SETS_HARD_G_KG = 0.5, 2.0
"""estimate: grams of crystal in a kilogram of mix; a light spray of alcohol leaves a piece soft, water makes it hard."""
CITRIC_PER_WATER = 1.62
"""Grams of citric acid that a gram of water dissolves at 25 C (CRC Handbook; memory): it dries to bridges of crystal."""
FACTS = ("binder_wetness", "binder_worth_alcohol", "binder_worth_oil", "binder_air_full", "binder_air_none")


def told(mix: Mix, catalogue: Catalogue, setting: Setting, size: Piece, room: Room) -> Section:
    """Figures binder_first_g, binder_next_g, binder_most_g; tables binders and squeeze; nothing for a loose powder."""
    wet = None if size.is_powder else wetting(mix, catalogue, room)
    if wet is None:
        return Section("making_day", "Making day")
    binder = wet.binder(chosen(mix, catalogue))
    its = plan(wet, binder)
    figures = (_first(wet, binder, its), _next(wet, binder, its), _most(wet, binder, its))
    tables = (_binders(wet, setting, size), _squeeze_table(wet, size, float(its.first[0])))
    return Section("making_day", "Making day", figures, tuple(_notices(wet, binder, its)), tables=tables)


def _inputs(wet: Wetting, binder: Binder) -> tuple[Input, ...]:
    room = wet.room
    rows = {i: wet.catalogue.fact(i) for i in FACTS}
    return (
        Input("pores of the squeezed mix", round(float(wet.pores_ml[0].sum()), 1), "ml", "", "estimate"),
        *(
            Input(
                row.name,
                row.typical if row.typical is not None else "",
                row.unit,
                row.sources_of("")[0],
                row.how_of(""),
            )
            for row in rows.values()
        ),
        Input("wanted in all, as water", round(float(wet.wanted_ml[0].sum()), 2), "ml"),
        Input("already there from oils and the like, as water", round(float(wet.held_ml[0].sum()), 2), "ml"),
        Input("met by the damp of the air", round(100 * float(wet.damp[0]), 1), "%"),
        Input("humidity", room.humidity_pct, "%", room.told),
        Input("room", room.room_c, "°C", room.told),
        Input(f"a gram of {plain_name(binder.material)}, as water", round(float(binder.worth_ml_g[0]), 3), "ml"),
        Input(
            "leaves the bowl at first", round(float(binder.rates_g_min[0] @ binder.shares), 3), "g/min", "", "estimate"
        ),
        Input("from the first spray to the squeeze", round(wet.minutes_to_test, 1), "min", "", "estimate"),
    )


def _cited(wet: Wetting) -> tuple[str, ...]:
    return sources_of(*(wet.catalogue.fact(i).sources_of("") for i in FACTS))


def _figure(figure_id: str, values: Array, text: str, equation: str, wet: Wetting, binder: Binder) -> Figure:
    value, low, high = ranged(values)
    if value > 0:
        # in whole strokes and spoons, as the sentence says it
        value = dose(value, binder.material, wet.mix, wet.catalogue)[0]
        low, high = min(low, value), max(high, value)
    return Figure(figure_id, value, "g", text, Working(equation, _inputs(wet, binder)), low, high, _cited(wet))


def _first(wet: Wetting, binder: Binder, its: Plan) -> Figure:
    name, mix = plain_name(binder.material), wet.mix
    humidity = f"{wet.room.humidity_pct:.0f} %"
    lacking = "" if own_binder(mix) else ", which the recipe does not name,"
    if its.first[0] > 0:
        words = dose(float(its.first[0]), binder.material, mix, wet.catalogue)[1]
        text = f"Begin with {words} of {name}{lacking} in air of {humidity}{_shares(wet)}, then squeeze a handful."
    else:
        why = "the oils and the like in it" if wet.damp[0] < 0.5 else "the damp air and what is already in it"
        text = f"In air of {humidity} it wants no {name} to begin with: {why} should bind it. Squeeze a handful first."
    return _figure(
        "binder_first_g",
        its.first,
        text,
        f"first = share put in first x still wanted / worth of a gram, as {binding.EQUATIONS['put_in_g']}; "
        f"{binding.EQUATIONS['still_wanted_ml']}",
        wet,
        binder,
    )


def _shares(wet: Wetting) -> str:
    """How the first addition is shared out over the bowls of a piece of several parts."""
    still = wet.still_ml[0]
    if len(wet.parts) < 2 or not still.sum() > 0:
        return ""
    shares = listed(
        f"{100 * ml / still.sum():.0f} % of it for {part_word(p)}" for p, ml in zip(wet.parts, still, strict=True)
    )
    return f" ({shares})"


def _next(wet: Wetting, binder: Binder, its: Plan) -> Figure:
    text = (
        f"More {plain_name(binder.material)} would only make it pasty: if it still crumbles, something else is wrong."
    )
    if its.next[0] > 0:
        words = dose(float(its.next[0]), binder.material, wet.mix, wet.catalogue)[1]
        text = f"If it still crumbles, add {words} and squeeze again; none after that is bigger."
    return _figure("binder_next_g", its.next, text, binding.EQUATIONS["next_ml"], wet, binder)


def _most(wet: Wetting, binder: Binder, its: Plan) -> Figure:
    if its.most[0] > 0:
        words = dose(float(its.most[0]), binder.material, wet.mix, wet.catalogue)[1]
        text = f"Stop at about {words} of {plain_name(binder.material)} in all, even if it still crumbles: beyond that it turns pasty."
    else:
        text = f"Add no {plain_name(binder.material)}: the mix is as wet already as one that turns pasty."
    return _figure(
        "binder_most_g",
        its.most,
        text,
        "most = (wanted x times at which it turns pasty - what is there already) / worth of a gram, and what leaves the "
        "bowl before the squeeze",
        wet,
        binder,
    )


def _binders(wet: Wetting, setting: Setting, size: Piece) -> Table:
    """Each binder a kitchen may hold, by what it takes and what it does."""
    catalogue, mix, wet = wet.catalogue, wet.mix, wet.likely()
    own = chosen(mix, catalogue)
    oils = [m.material for m in mix.lines if m.material is not None and m.material.function == "carrier_oil"]
    materials = {i: catalogue.materials[i] for i in ON_OFFER}
    oil = oils[0] if oils else catalogue.materials[LIGHT_OIL]
    offered = list(({own.id: own} | materials | {oil.id: oil}).values())
    priced = setting.workshop if setting.workshop is not None and setting.workshop.prices else None
    reckoned = [wet.binder(m) for m in offered]
    plans = [plan(wet, binder) for binder in reckoned]
    both_g = [float(its.first[0] + its.next[0]) for its in plans]
    fizz = damp.fizz_cost_shares(mix, catalogue, size, list(zip(offered, both_g, strict=True)), wet.room)
    half_min = binding.going_min(
        np.array(both_g) * [binder.lands[0] for binder in reckoned],
        np.array([binder.shares for binder in reckoned]),
        np.array([binder.rates_g_min[0] for binder in reckoned]),
        0.5,
    )
    strengths = _strength_kpa(wet, offered, both_g)
    best_kpa, total_g = max(float(strengths.max()), 1e-9), float(mix.grams.sum())
    rows = []
    for material, its, grams, strength, share, minutes in zip(
        offered, plans, both_g, strengths, fizz, half_min, strict=True
    ):
        words = (dose(float(g), material, mix, catalogue)[1] if g > 0 else "none" for g in (its.first[0], its.next[0]))
        row = (
            sentence(plain_name(material)),
            *words,
            f"{100.0 * float(strength) / best_kpa:.0f}",
            _sets(CITRIC_PER_WATER * grams * material.water_mass_pct / 100.0 / total_g),
            _span(float(minutes)) if grams > 0 else "-",
            shown(100.0 * float(share)) if share >= 5e-5 else "0",
        )
        rows.append((*row, _price(grams, material, mix, priced)) if priced else row)
    head = (
        "Binder",
        "Begin with",
        "Then, if it crumbles",
        "Grip while damp, %",
        "Sets",
        "Half gone in",
        "Fizz spent, %",
    )
    return Table(
        "binders",
        f"What binds this mix in air of {wet.room.humidity_pct:.0f} %",
        (*head, "Cost") if priced else head,
        tuple(rows),
        f"For both additions together. Grip: how hard the liquid pulls grain to grain just after pressing, beside the best of these, "
        f"{shown(best_kpa)} kPa (Rumpf 1962 and Fisher 1926, from memory). Sets: by the crystal that the binder's water dissolves "
        f"and leaves as it dries, middling from {SETS_MIDDLING_G_KG:g} g in a kilogram, hard from {SETS_HARD_G_KG:g}. Half gone: from the "
        "open bowl; the pieces dry more slowly, in the same order. Oil leaves no crystal and never dries. All estimates.",
    )


def _sets(crystal_share: float) -> str:
    """How hard the crystal of so large a share of the mix makes a piece, in a word."""
    g_kg = 1000.0 * crystal_share
    return "hard" if g_kg >= SETS_HARD_G_KG else "middling" if g_kg >= SETS_MIDDLING_G_KG else "soft"


def _strength_kpa(wet: Wetting, offered: list[Material], grams: list[float]) -> Array:
    """Pull of the rings when so many grams of each binder are in, with the oils already there pulling as oils do."""
    held_oil_ml = float(wet.held_ml[0].sum()) / float(wet.oil_worth[0])
    binder_ml = np.array([g / density(m, None).g_ml for m, g in zip(offered, grams, strict=True)])
    pull = np.array([_pull_mn_m(m) for m in offered])
    wets = binder_ml + held_oil_ml
    mean = np.divide(
        binder_ml * pull + held_oil_ml * binding.OIL_MN_M,
        wets,
        out=np.full(wets.shape, binding.OIL_MN_M),
        where=wets > 0,
    )
    pores = float(wet.pores_ml[0].sum())
    return binding.ring_strength_kpa(wets / pores, float(wet.solid_fraction[0]), mean, wet.grain_um)


def _pull_mn_m(material: Material) -> float:
    """Surface tension of a liquid: of its water and alcohol where it holds any, else of oil."""
    watery = material.water_mass_pct + material.alcohol_mass_pct
    if not watery > 0:
        return binding.OIL_MN_M
    return float(binding.surface_mn_m(kind_of(material), 100.0 * material.alcohol_mass_pct / watery))


def _span(minutes: float) -> str:
    if math.isinf(minutes):
        return "never"
    return duration_text(60.0 * minutes)


def _price(grams: float, material: Material, mix: Mix, workshop: Workshop) -> str:
    """What so much of it costs, or a dash where the workshop holds no price."""
    like = mix.lines[0]
    line = replace(like, line=replace(like.line, use=material.id, lot=None), entry=material, grams=grams)
    cost = line_cost(line, workshop)
    return "-" if cost.minor_per_g is None else money_text(cost.minor, workshop.currency)


def _squeeze_table(wet: Wetting, size: Piece, first_g: float) -> Table:
    """The three answers, after the first addition."""
    rows = []
    for answer, looks in ANSWERS.items():
        found = answered(wet.likely(), size, answer, first_g, by_the_clock=False)
        rows.append((f"{sentence(answer)}: {looks}", found.do, found.stop_when))
    return Table(
        "squeeze",
        "Squeeze a handful, then open the hand",
        ("It", "Do", "Stop when"),
        tuple(rows),
        f"After the first addition of {shown(first_g)} g." if first_g > 0 else "Before any binder goes in.",
    )


def _notices(wet: Wetting, binder: Binder, its: Plan) -> list[Notice]:
    """Only what is out of the ordinary."""
    own = own_binder(wet.mix)
    if own is None or own.material is None:
        return []
    return _watery(wet, own, own.material) or _apart(wet, own, binder, its)


def _watery(wet: Wetting, own: MixLine, material: Material) -> list[Notice]:
    caution = wet.catalogue.fact("rh_craft_caution")
    limit = caution.typical
    if material.water_mass_pct <= WATERY_PCT or limit is None or wet.room.humidity_pct < limit:
        return []
    other = wet.likely().binder(wet.catalogue.materials[WHEN_NONE])
    first = float(plan(wet.likely(), other).first[0])
    words = f"{dose(first, other.material, wet.mix, wet.catalogue)[1]} of {plain_name(other.material)}"
    instead = f"Take {words} in its place, or" if first > 0 else "Squeeze before any goes in; you may need none. Or"
    return [
        Notice(
            "mind",
            f"{sentence(plain_name(material))} brings water into a mix that air of {wet.room.humidity_pct:.0f} % makes damp already. {instead} "
            f"dehumidify below {limit:g} % first.",
            f"Compared: {material.water_mass_pct:g} % water in the binder; humidity with {caution.name}, {limit:g} % "
            "(common practice, no source).",
            caution.sources_of(""),
            "binder_first_g",
            own.id,
        )
    ]


def _apart(wet: Wetting, own: MixLine, binder: Binder, its: Plan) -> list[Notice]:
    """The recipe's own amount against what is reckoned, unless it is put in by feel anyway."""
    given = sum(m.grams for m in wet.mix.lines if m.id == own.id)
    first, most = ranged(its.first), ranged(its.most)
    if own.line.amount.unit == TO_CONSISTENCY:
        return []
    compared = (
        f"Compared: {shown(given)} g in the recipe with {shown(first[1])} to {shown(first[2])} g to begin with and "
        f"{shown(most[0])} g at most, in air of {wet.room.humidity_pct:.0f} % (our own estimate)."
    )
    if given > most[0]:
        text = (
            f"{shown(given)} g of {plain_name(binder.material)} is more than this mix takes today, about {shown(most[0])} g. "
            + (f"Begin with {shown(first[0])} g, squeeze" if first[0] > 0 else "Squeeze before any goes in")
            + ", and stop when it holds."
            if most[0] > 0
            else f"{sentence(plain_name(binder.material))} would make this mix pasty today: leave it out, and squeeze first."
        )
    elif given < first[1] / 2:
        text = f"{shown(given)} g of {plain_name(binder.material)} will hardly bind this mix; about {shown(float(its.need[0]))} g is likely."
    else:
        return []
    return [Notice("mind", text, compared, _cited(wet), "binder_first_g", own.id)]
