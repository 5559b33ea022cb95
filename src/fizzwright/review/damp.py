"""Humid air and the mix: what this room's air does to it, how long the bowl may stand open, what wet binders cost in fizz."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.model import Material
from fizzwright.recipe.mix import Mix
from fizzwright.review.chemistry import fizz_of
from fizzwright.review.figures import Curve, Figure, Input, Notice, Section, Working, interval, sources_of
from fizzwright.review.fizz_cost import StoodOpen, cost_table, stand_open
from fizzwright.review.room import Room
from fizzwright.review.setting import Setting
from fizzwright.review.sizes import Piece, Range
from fizzwright.review.standing import (
    COEFFICIENTS,
    DRAWS,
    LONGEST_MINUTES,
    SPENT_SHARE,
    Danger,
    batch_of,
    danger,
    drawn,
    likely,
    of_a_gram,
    sums,
)
from fizzwright.review.work_air import bowl_m2
from fizzwright.science import runaway
from fizzwright.science.moisture import (
    COLDEST_C,
    WARMEST_C,
    checked_humidity_pct,
    checked_temperature_c,
    dew_point_c,
    uptake_g_s,
    vapour_pressure_deficit_pa,
)
from fizzwright.science.runaway import EQUATIONS
from fizzwright.science.transfer import STILL_AIR_M_S
from fizzwright.wording import duration_text, listed, sentence, shown

Array = NDArray[np.float64]
Numbers = float | Array

OFF_C, OFF_PCT = 1.0, 5.0
"""estimate: how far a household thermometer and hygrometer are off."""
UPTAKE = "uptake = air film x face x vapour density at saturation x (humidity - danger humidity), none below it"


def can_fizz(mix: Mix) -> bool:
    """True when acid and carbonate are both in the mix; without them damp makes lumps, but no fizz is lost."""
    return float(np.asarray(fizz_of(mix, mix.grams).reaction.co2_mol)) > 0


def danger_humidity_pct(mix: Mix, catalogue: Catalogue) -> Range:
    """Humidity from which the mix takes up water and reacts; 100 when no line is known to take up any."""
    return danger(mix, catalogue).pct


def open_bowl_minutes(mix: Mix, catalogue: Catalogue, size: Piece, room_c: Numbers, humidity_pct: Numbers) -> Array:
    """Minutes a bowl with the acid in it may stand open until 5 % of its fizz is spent, at most 240; rooms broadcast.

    240 as well for a mix that has no fizz to lose.
    """
    rooms, humidity = np.broadcast_arrays(checked_temperature_c(room_c), checked_humidity_pct(humidity_pct))
    if not can_fizz(mix):
        return np.full(rooms.shape, LONGEST_MINUTES)
    by = likely(danger(mix, catalogue), catalogue)
    course = runaway.stand(batch_of(mix, sums(mix), by, rooms, humidity), LONGEST_MINUTES, rtol=1e-4)
    return np.minimum(course.minutes_until(SPENT_SHARE), LONGEST_MINUTES)


def fizz_cost_share(mix: Mix, catalogue: Catalogue, size: Piece, binder: Material, grams: float, room: Room) -> float:
    """Share of the fizz, 0 to 1, that so many grams of a binder cost until the last piece is pressed.

    Counted against the same mix without any alcohol or watery binder. Oil brings no water and costs nothing.
    """
    return float(fizz_cost_shares(mix, catalogue, size, [(binder, grams)], room)[0])


def fizz_cost_shares(
    mix: Mix, catalogue: Catalogue, size: Piece, binders: Sequence[tuple[Material, float]], room: Room
) -> Array:
    """The same for several binders, each with its grams, in one go; shape of binders."""
    for binder, grams in binders:
        if not (np.isfinite(grams) and grams >= 0):
            raise ValueError(f"grams of {binder.name}: read {grams:g}; allowed is 0 or more")
    if not can_fizz(mix):
        return np.zeros(len(binders))
    wet = [m.material is not None and m.material.function == "binder_liquid" for m in mix.lines]
    bare = sums(mix)
    for mass, line, is_binder in zip(mix.grams, mix.lines, wet, strict=True):
        if is_binder and line.material is not None:
            bare["total"] -= float(mass)
            bare["water"] -= float(mass) * line.material.water_mass_pct / 100.0
            bare["alcohol"] -= float(mass) * line.material.alcohol_mass_pct / 100.0
    bare = {name: max(0.0, value) for name, value in bare.items()}
    # the mix without a binder first, then with each
    both = {
        name: value + np.array([0.0, *(grams * of_a_gram(binder, name) for binder, grams in binders)])
        for name, value in bare.items()
    }
    by = likely(danger(mix, catalogue), catalogue)
    minutes = min(room.pace.minutes(size), LONGEST_MINUTES)
    batch = batch_of(mix, both, by, room.room_c, room.humidity_pct)
    spent = runaway.stand(batch, minutes, rtol=1e-4).spent(minutes)
    return np.asarray(np.maximum(spent[1:] - spent[0], 0.0))


def told(mix: Mix, catalogue: Catalogue, setting: Setting, size: Piece, room: Room) -> Section:
    """What the air of the room does to the mix while the bowl stands open, and to a piece on the rack."""
    found = danger(mix, catalogue)
    figures = [*_air(room), *_uptake(mix, catalogue, size, room, found)]
    if not can_fizz(mix):
        return Section("making_day", "Making day", tuple(figures), (_no_fizz(mix),))
    stood = stand_open(mix, catalogue, size, room, found)
    figures += _times(stood)
    return Section(
        "making_day",
        "Making day",
        tuple(figures),
        tuple(_notices(stood)),
        curves=(_curve(stood),),
        tables=(cost_table(stood),),
    )


def _air(room: Room) -> list[Figure]:
    """Dew point and what is missing to saturation; the range is that of a household hygrometer."""
    inputs = (
        Input("temperature", room.room_c, "°C", room.told),
        Input("relative humidity", room.humidity_pct, "%", room.told),
        Input("a household instrument is off by", f"{OFF_C:g} °C, {OFF_PCT:g} %", "", "", "estimate"),
    )
    celsius = room.room_c + OFF_C * np.array([0.0, -1.0, 1.0, -1.0, 1.0])
    humidity = np.clip(room.humidity_pct + OFF_PCT * np.array([0.0, -1.0, 1.0, 1.0, -1.0]), 0.0, 100.0)
    celsius = np.clip(celsius, COLDEST_C, WARMEST_C)
    missing = vapour_pressure_deficit_pa(celsius, humidity)
    figures = [
        Figure(
            "vapour_pressure_deficit_pa",
            float(missing[0]),
            "Pa",
            f"The air is {float(missing[0]):.0f} Pa of water vapour short of soaking wet: the more, the faster water dries.",
            Working("deficit = saturation pressure x (1 - relative humidity / 100)", inputs),
            float(missing.min()),
            float(missing.max()),
            ("PSYCHROLIB",),
            "published",
        )
    ]
    if room.humidity_pct > 0:
        dew = dew_point_c(celsius, np.maximum(humidity, 0.5))
        figures.insert(
            0,
            Figure(
                "dew_point_c",
                float(dew[0]),
                "°C",
                f"Anything colder than {float(dew[0]):.0f} °C gathers dew in this room; let cold ingredients warm up shut.",
                Working("dew point: the temperature at which this much vapour is at saturation", inputs),
                float(dew.min()),
                float(dew.max()),
                ("PSYCHROLIB",),
                "published",
            ),
        )
    return figures


def _uptake(mix: Mix, catalogue: Catalogue, size: Piece, room: Room, found: Danger) -> list[Figure]:
    """The danger humidity, and what bowl and piece draw from air above it."""
    pct, by = found.pct, drawn(found, catalogue)
    what = f" {sentence(listed(found.set_by))} set{'s' if len(found.set_by) == 1 else ''} it." if found.set_by else ""
    members = tuple(
        Input(
            f"{m.name} alone",
            m.material.critical_relative_humidity_pct_25c,
            "% RH",
            "; ".join(m.material.sources_of("critical_relative_humidity_pct_25c")),
            m.material.how_of("critical_relative_humidity_pct_25c"),
        )
        for m in mix.lines
        if m.material is not None and m.material.critical_relative_humidity_pct_25c is not None
    )
    both = catalogue.fact("drh_mix")
    pair = (
        (Input(both.name, both.typical, "% RH", "; ".join(both.sources_of("")), both.how_of("")),)
        if can_fizz(mix) and both.typical is not None
        else ()
    )
    ross = (
        ()
        if found.ross_pct is None
        else (Input("product of all members", round(found.ross_pct, 1), "% RH", "ROSS1975"),)
    )
    known = pct.value < 100.0
    figures = [
        Figure(
            "danger_humidity_pct",
            pct.value,
            "%",
            f"From about {pct.value:.0f} % humidity this mix draws water from the air.{what}"
            if known
            else "No material in this mix is known to draw water from air short of saturation.",
            Working(
                "the lower of: acid and carbonate together (as found for citric acid, in proportion to the acid's own for another), "
                "and any one material's own; beside it, to compare, the product of all",
                (*pair, *members, *ross),
            ),
            pct.low,
            pct.high,
            found.sources,
        )
    ]
    if not known:
        return figures
    worked = STILL_AIR_M_S * np.asarray(by.of["damp_worked"])
    surface = 100.0 * np.asarray(by.danger)
    bowl = 3600.0 * np.maximum(uptake_g_s(room.room_c, room.humidity_pct, surface, bowl_m2(mix), worked), 0.0)
    more = (
        Input("face of the mix in its bowl", round(1e4 * bowl_m2(mix)), "cm2", "", "estimate"),
        Input("air film over it", round(1000 * float(worked[0]), 1), "mm/s", "", "estimate"),
        Input("room", f"{room.room_c:g} °C, {room.humidity_pct:g} %", "", room.told),
        Input("danger humidity", round(pct.value, 1), "%"),
    )
    none = "Below its danger humidity the mix takes up next to nothing: starch and dust alone gather a little."
    figures.append(
        Figure(
            "uptake_g_per_h",
            float(bowl[0]),
            "g/h",
            f"The open bowl draws {shown(float(bowl[0]))} g of water an hour from this air." if bowl[0] > 0 else none,
            Working(UPTAKE, more),
            *_span(bowl),
            found.sources,
        )
    )
    if not size.is_powder:
        density = size.packed_density_g_ml.value if size.packed_density_g_ml is not None else 1.0
        ml = size.volume_ml or size.piece_g.value / density
        face = float(np.pi ** (1 / 3) * (6e-6 * ml) ** (2 / 3))
        rack = 86_400.0 * np.maximum(uptake_g_s(room.room_c, room.humidity_pct, surface, face), 0.0)
        figures.append(
            Figure(
                "piece_uptake_g_per_day",
                float(rack[0]),
                "g/day",
                f"A bare piece on the rack draws up to {shown(float(rack[0]))} g of water a day from this air."
                if rack[0] > 0
                else "A bare piece on the rack draws next to nothing from this air.",
                Working(
                    UPTAKE + "; face of a ball of the same volume",
                    (
                        Input("face of a piece", round(1e4 * face, 1), "cm2"),
                        Input("air film over it", 1000 * STILL_AIR_M_S, "mm/s", "", "memory"),
                        *more[2:],
                    ),
                ),
                *_span(rack),
                found.sources,
            )
        )
    return figures


def _span(values: Array) -> tuple[float, float]:
    """The 90 % interval of draws that follow their likely value, widened to hold it."""
    low, high = interval(values[1:])
    return min(low, float(values[0])), max(high, float(values[0]))


def _lasts(minutes: float) -> str:
    return "4 hours or more" if minutes >= LONGEST_MINUTES else duration_text(60.0 * minutes)


def _times(stood: StoodOpen) -> list[Figure]:
    """How long the bowl may stand open, and when the mix begins to feed itself."""
    batch = stood.likely
    inputs = (
        Input("water in the mix", round(stood.held["water"], 1), "g"),
        Input("alcohol in the mix", round(stood.held["alcohol"], 2), "g"),
        Input("w at the start, with what starch holds", round(batch["water_g"], 3), "g", "", "estimate"),
        Input("capacity", round(batch["capacity_g"], 3), "g", "", "estimate"),
        Input("CO2 the mix can free", round(batch["fizz_mol"], 4), "mol"),
        Input("G in this air", round(3600 * batch["air_g_s"], 3), "g/h", "", "estimate"),
        Input("k in this mix at this warmth", float(f"{batch['rate_mol_g_s']:.4g}"), "mol/(g s)", "", "estimate"),
        Input("lifetime of the alcohol", round(batch["alcohol_lifetime_s"] / 60, 1), "min", "", "estimate"),
        *(
            Input(fact.name, fact.typical, fact.unit, "; ".join(fact.sources_of("")), fact.how_of(""))
            for fact in (stood.catalogue.fact(k) for k in COEFFICIENTS)
            if fact.typical is not None
        ),
        Input("danger humidity", round(stood.found.pct.value, 1), "%"),
        Input("room", f"{stood.room.room_c:g} °C, {stood.room.humidity_pct:g} %", "", stood.room.told),
    )
    sources = sources_of(stood.found.sources, ("COMMON_PRACTICE",))
    minutes, onset = stood.minutes, stood.onset_min
    figures = [
        Figure(
            "open_bowl_minutes",
            float(minutes[0]),
            "min",
            f"With the acid in, the bowl may stand open {_lasts(float(minutes[0]))} in this room before a twentieth of the fizz is gone.",
            Working("; ".join(EQUATIONS[k] for k in ("water", "bound", "fizz", "alcohol")), inputs),
            *_span(minutes),
            sources,
        )
    ]
    if onset[0] < LONGEST_MINUTES:
        when = "From the start" if onset[0] < 1.0 else f"After {duration_text(60.0 * float(onset[0]))}"
        half = float(stood.course.minutes_until(0.5)[0])
        gone = f"; half the fizz is gone after {duration_text(60.0 * half)}" if half < LONGEST_MINUTES else ""
        figures.append(
            Figure(
                "runaway_onset_minutes",
                float(onset[0]),
                "min",
                f"{when} the open mix feeds itself, as it makes more water than the air takes{gone}.",
                Working(EQUATIONS["onset"], inputs),
                *_span(onset),
                sources,
            )
        )
    return figures


def _curve(stood: StoodOpen) -> Curve:
    minutes = np.linspace(0.0, LONGEST_MINUTES, 49)
    left = 100.0 * (1.0 - stood.course.spent(minutes))
    end = float(left[-1, 0])
    onset, lasts = float(stood.onset_min[0]), float(stood.minutes[0])
    title = (
        f"An open bowl keeps {end:.0f} % of its fizz for four hours in this room"
        if lasts >= LONGEST_MINUTES
        else f"An open bowl loses a twentieth of its fizz in {_lasts(lasts)}, and {100 - end:.0f} % in four hours"
    )
    return Curve(
        "fizz_left",
        title,
        "the bowl stands open",
        "min",
        "fizz left",
        "%",
        tuple(map(float, minutes)),
        {
            name: tuple(map(float, np.round(left[:, column], 3)))
            for name, column in (("this room", 0), ("dry room, 40 %", DRAWS + 1), ("damp room, 70 %", DRAWS + 2))
        },
        {"feeds itself": onset} if onset < LONGEST_MINUTES else {},
        {"a twentieth gone": 100.0 * (1.0 - SPENT_SHARE)},
    )


def _no_fizz(mix: Mix) -> Notice:
    return Notice(
        "good",
        "Damp cannot set this mix off, as it frees no gas; it only makes it lumpy. Keep it covered all the same.",
        "compared with: acid and carbonate together, which damp lets meet",
        figure="danger_humidity_pct",
    )


def _notices(stood: StoodOpen) -> list[Notice]:
    """What is out of the ordinary about this mix in this room."""
    found, room, minutes = stood.found, stood.room, float(stood.minutes[0])
    needs = room.pace.minutes(stood.size)
    notices = []
    if room.humidity_pct >= found.pct.value:
        blame = f", because of the {listed(found.set_by)}" if found.set_by else ""
        notices.append(
            Notice(
                "mind",
                f"This air is damper ({room.humidity_pct:.0f} %) than the mix can bear ({found.pct.value:.0f} %){blame}. Dehumidify the room "
                "first, or work small lots: acid in last, bowl covered between handfuls, pieces pressed at once.",
                f"Compared: humidity {room.told}, with the danger humidity of the mix ({found.pct.low:.0f} to {found.pct.high:.0f} %, an estimate).",
                found.sources,
                "danger_humidity_pct",
            )
        )
    if minutes < needs:
        water = stood.held["water"]
        wet = (
            f" It holds {shown(water)} g of water: use a stronger alcohol, or a filler that binds water."
            if water > stood.spare_g
            else ""
        )
        notices.append(
            Notice(
                "mind",
                f"The open bowl loses a twentieth of its fizz in {_lasts(minutes)}, and pressing takes about {duration_text(60 * needs)}.{wet} "
                "Make smaller lots, and add acid and binder to one lot at a time.",
                f"Compared: open_bowl_minutes with {room.pace.batch_min:g} minutes and {room.pace.piece_min:g} more a piece ({room.pace.told}).",
                found.sources,
                "open_bowl_minutes",
            )
        )
    if not notices:
        notices.append(
            Notice(
                "good",
                f"In this air the open bowl lasts {_lasts(minutes)}; pressing takes about {duration_text(60 * needs)}.",
                f"Compared: the time until a twentieth of the fizz is spent in air of {room.humidity_pct:.0f} % with the time pressing takes; "
                f"the mix draws water from about {found.pct.value:.0f} %.",
                found.sources,
                "open_bowl_minutes",
            )
        )
    return notices
