"""Drying the work room's air: litres of water a day a dehumidifier must take, whether the maker's own does, and how soon."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.workshop import Workroom
from fizzwright.recipe.mix import Mix
from fizzwright.review.figures import Figure, Input, Notice, Section, Table, Working, interval
from fizzwright.review.room import Room
from fizzwright.review.setting import Setting
from fizzwright.review.sizes import Piece
from fizzwright.review.tap import Span, log_spread
from fizzwright.review.work_air import AIR_CHANGES, TIGHTEST_H
from fizzwright.science import airborne
from fizzwright.science.airborne import EQUATIONS
from fizzwright.science.moisture import humidity_ratio
from fizzwright.science.sampling import standard_normals
from fizzwright.wording import duration_text, shown

Array = NDArray[np.float64]

WANTED_PCT = 45.0
"""The room to aim at: between what making asks for (facts rh_craft_ok, 25 to 50) and what drying does (cure_dry, below 45)."""
AT_WORK_H = 8.0
"""Hours a day that one person breathes and sweats in the room."""
WEAKER: Span = (0.6, 1.0, 1.6)
"""estimate: power of the vapour pressure with which a dehumidifier weakens; see airborne.machine_l_per_day."""
HOLDS: Span = (1.5, 4.0, 12.0)
"""estimate: how many times the air's own water walls, wood, paper and starch give off while a room dries; building models
take from a few times to 25 (memory)."""
WARMTHS_C = (15.0, 20.0, 25.0, 30.0)
DRAWS = 64
NEVER = "never"


def told(mix: Mix, catalogue: Catalogue, setting: Setting, size: Piece, room: Room) -> Section:
    """Litres a day, hours, whether the maker's dehumidifier is enough, and the same from 15 to 30 degrees."""
    z = np.vstack([np.zeros(4), standard_normals(DRAWS, 4)])
    breath = catalogue.fact("person_moisture")
    if breath.min is None or breath.typical is None or breath.max is None:
        raise ValueError("the catalogue's fact person_moisture lacks a figure")
    changes = max(room.air_changes_shut, TIGHTEST_H) * log_spread(AIR_CHANGES, z[:, 0])
    people = AT_WORK_H / 1000.0 * log_spread((breath.min, breath.typical, breath.max), z[:, 1])
    water = np.array([0.0 if m.material is None else m.material.water_mass_pct / 100.0 for m in mix.lines])
    pieces = float((mix.grams * water).sum()) / 1000.0
    is_dry = room.humidity_pct <= WANTED_PCT
    load = np.zeros_like(changes) if is_dry else _leak(room, room.room_c, changes) + people + pieces
    workroom = setting.workshop.room if setting.workshop and setting.workshop.room else Workroom()
    plate = workroom.dehumidifier_l_per_day
    inputs = (
        Input("room", room.volume_m3, "m3", "", "estimate"),
        Input("air changes, window shut", room.air_changes_shut, "per hour", "", "estimate"),
        Input("air", room.room_c, "°C", room.told),
        Input("humidity", room.humidity_pct, "%", room.told),
        Input("humidity wanted", WANTED_PCT, "%", "COMMON_PRACTICE", "memory"),
        Input("air that leaks in", "as damp as the room is now"),
        Input(f"one person for {AT_WORK_H:.0f} hours", round(float(people[0]), 2), "l", "ASHRAE_LATENT", "memory"),
        Input("water from the batch", round(pieces, 3), "l"),
    )
    figures = [_load_figure(room, load, inputs, workroom)]
    notices: list[Notice] = []
    if plate and not is_dry:
        power = log_spread(WEAKER, z[:, 2])
        takes = _machine(workroom, room, WANTED_PCT, power)
        figures.append(_takes_figure(workroom, room, takes, load))
        figures.append(
            _hours_figure(workroom, room, changes, people + pieces, log_spread(HOLDS, z[:, 3]), power, inputs)
        )
        if float(takes[0]) < float(load[0]):
            notices.append(_too_small(float(takes[0]), float(load[0])))
    return Section(
        "making_day",
        "Making day",
        tuple(figures),
        tuple(notices),
        tables=() if is_dry else (_table(room, workroom, people, pieces),),
    )


def _leak(room: Room, room_c: float, changes: Array) -> Array:
    ratio = humidity_ratio(room_c, room.humidity_pct, room.pressure_pa)
    return airborne.make_up_l_per_day(room.volume_m3, changes, room_c, ratio, WANTED_PCT, room.pressure_pa)


def _machine(
    workroom: Workroom, room: Room, humidity_pct: float, power: Array | float, room_c: float | None = None
) -> Array:
    return airborne.machine_l_per_day(
        workroom.dehumidifier_l_per_day or 0.0,
        workroom.dehumidifier_at_c,
        workroom.dehumidifier_at_humidity_pct,
        room.room_c if room_c is None else room_c,
        humidity_pct,
        power,
    )


def _ranged(draws: Array) -> tuple[float, float, float]:
    value = float(draws[0])
    low, high = interval(draws[1:])
    return value, min(low, value), max(high, value)


def _load_figure(room: Room, load: Array, inputs: tuple[Input, ...], workroom: Workroom) -> Figure:
    value, low, high = _ranged(load)
    share = float(
        airborne.machine_l_per_day(
            1.0, workroom.dehumidifier_at_c, workroom.dehumidifier_at_humidity_pct, room.room_c, WANTED_PCT
        )
    )
    text = (
        f"Nothing to take out: the room has {shown(room.humidity_pct)} %, and {WANTED_PCT:.0f} % is dry enough."
        if value == 0
        else f"To dehumidify this room to {WANTED_PCT:.0f} % and hold it there takes about {shown(value)} l of water a day, window "
        f"shut: a machine with some {shown(value / share)} l on its plate "
        f"({workroom.dehumidifier_at_c:g} °C, {workroom.dehumidifier_at_humidity_pct:g} %)."
    )
    return Figure(
        "dehumidifier_l_per_day",
        value,
        "l",
        text,
        Working(EQUATIONS["make_up"] + "; and what people and pieces give off", inputs),
        low,
        high,
        ("ASHRAE_LATENT", "COMMON_PRACTICE"),
    )


def _takes_figure(workroom: Workroom, room: Room, takes: Array, load: Array) -> Figure:
    value, low, high = _ranged(takes)
    enough = "enough" if value >= float(load[0]) else "not enough"
    return Figure(
        "dehumidifier_takes_l_per_day",
        value,
        "l",
        f"Your dehumidifier takes about {shown(value)} l a day in this room at {WANTED_PCT:.0f} %, not the "
        f"{shown(workroom.dehumidifier_l_per_day or 0.0)} of its plate: {enough} here.",
        Working(
            EQUATIONS["machine"],
            (
                Input("plate", workroom.dehumidifier_l_per_day or 0.0, "l a day", "your workshop"),
                Input("plate's air", workroom.dehumidifier_at_c, "°C", "your workshop"),
                Input("plate's humidity", workroom.dehumidifier_at_humidity_pct, "%", "your workshop"),
                Input("air", room.room_c, "°C", room.told),
                Input("humidity held", WANTED_PCT, "%"),
                Input("power of the vapour pressure", WEAKER[1], "", "", "estimate"),
            ),
        ),
        low,
        high,
    )


def _hours_figure(
    workroom: Workroom,
    room: Room,
    changes: Array,
    given_off: Array,
    holds: Array,
    power: Array,
    inputs: tuple[Input, ...],
) -> Figure:
    hours = airborne.hours_to_dry_air(
        room.volume_m3,
        changes,
        room.room_c,
        room.humidity_pct,
        WANTED_PCT,
        _machine(workroom, room, room.humidity_pct, power),
        given_off,
        holds,
        room.pressure_pa,
    )
    value, low, high = float(hours[0]), *np.quantile(hours[1:], [0.05, 0.95], method="lower")
    low, high = min(float(low), value), max(float(high), value)
    text = (
        f"Switched on now, it brings the room to {WANTED_PCT:.0f} % in about {duration_text(3600 * value)}, window shut; walls and "
        "boxes give off water on the way."
        if np.isfinite(value)
        else f"It never brings this room to {WANTED_PCT:.0f} %: more water comes in than it takes."
    )
    return Figure(
        "dehumidify_hours",
        value if np.isfinite(value) else NEVER,
        "h",
        text,
        Working(
            EQUATIONS["hours_to_dry"],
            (*inputs, Input("water held by walls and things, times the air's", HOLDS[1], "", "", "estimate")),
        ),
        low if np.isfinite(low) else NEVER,
        high if np.isfinite(high) else NEVER,
    )


def _too_small(takes: float, load: float) -> Notice:
    return Notice(
        "mind",
        f"Your dehumidifier is too small for this air: it takes about {shown(takes)} litres a day here, and {shown(load)} come in. Keep "
        "the window shut, dry in a cupboard, or wait for a drier day.",
        f"Compared: its plate, scaled to this room at {WANTED_PCT:.0f} %, with the water that leaks in, is breathed out and dries off.",
        figure="dehumidifier_takes_l_per_day",
    )


def _table(room: Room, workroom: Workroom, people: Array, pieces: float) -> Table:
    """Litres a day from 15 to 30 degrees, for air of today's relative humidity leaking in."""
    owned = workroom.dehumidifier_l_per_day
    changes = np.array([room.air_changes_shut])
    rows = []
    for celsius in WARMTHS_C:
        load = float(_leak(room, celsius, changes)[0] + people[0] + pieces)
        own = (shown(float(_machine(workroom, room, WANTED_PCT, WEAKER[1], celsius))),) if owned else ()
        rows.append((f"{celsius:.0f} °C", shown(load), *own))
    return Table(
        "dehumidifier",
        f"Water to take out of this room in a day, to hold {WANTED_PCT:.0f} %",
        ("Room", "Comes in, l", *(("Yours takes, l",) if owned else ())),
        tuple(rows),
        f"Air at {shown(room.humidity_pct)} % leaking in, window shut, one person for {AT_WORK_H:.0f} hours. A fan moves air about but takes "
        "no water out; below about 15 °C a machine's coils ice over.",
    )
