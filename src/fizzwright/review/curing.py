"""Drying: hours until a piece has lost its alcohol and water, and when it may be turned, wrapped and posted."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fizzwright.catalogue import Catalogue
from fizzwright.recipe.mix import Mix
from fizzwright.review.damp import danger_humidity_pct
from fizzwright.review.figures import Curve, Figure, Input, Notice, Section, Working, interval, sources_of
from fizzwright.review.rack import (
    DRAWS,
    Body,
    Course,
    body_of,
    course_of,
    has_powder,
    hours_until_dry,
    in_mould,
    is_dry,
    left_pct,
    liquid_shares,
    on_rack,
    speed_of,
)
from fizzwright.review.room import Room
from fizzwright.review.setting import Setting
from fizzwright.review.sizes import Piece
from fizzwright.review.tap import log_spread, span
from fizzwright.science import drying
from fizzwright.science.drying import EQUATIONS
from fizzwright.science.moisture import checked_humidity_pct, checked_temperature_c
from fizzwright.science.sampling import standard_normals
from fizzwright.wording import duration_text, shown

Array = NDArray[np.float64]
Numbers = float | Array

NEVER_H = 1440.0
"""Two months: what takes longer is told as never."""


NO_POWDER = Notice(
    "good",
    "No powder is in this mix, so it makes no piece that has to dry.",
    "Drying is reckoned from the pores between grains, and here there are only liquids and fats.",
    ("COMMON_PRACTICE",),
)


def drying_hours_in(
    mix: Mix, catalogue: Catalogue, size: Piece, room_c: Numbers, humidity_pct: Numbers, fan: bool = False
) -> Array:
    """Hours on an open rack until a piece is dry (a powder: spread a centimetre deep), in rooms that broadcast.

    0 for a mix with nothing to dry; inf where the air is too damp for its water ever to leave.
    """
    rooms, humidity = np.broadcast_arrays(checked_temperature_c(room_c), checked_humidity_pct(humidity_pct))
    if not has_powder(mix):
        return np.zeros(rooms.shape)
    body = body_of(mix, catalogue, size, None)
    if is_dry(body):
        return np.zeros(rooms.shape)
    return hours_until_dry(body, course_of(body, on_rack(mix, size), rooms, humidity, speed_of(body, fan)))


@dataclass(frozen=True)
class _Told:
    """What told() reckons before it says it; arrays hold the likely case first, then draws."""

    mix: Mix
    catalogue: Catalogue
    size: Piece
    room: Room
    body: Body
    still: Course
    fan: Course
    mould: Course | None
    dry_h: Array
    fan_h: Array
    mould_h: Array | None
    turn_h: Array
    wrap_h: Array
    post_h: Array
    crank_h: Array


def told(mix: Mix, catalogue: Catalogue, setting: Setting, size: Piece, room: Room) -> Section:
    """Hours to dry on a rack, under a fan and in the mould, when to turn, wrap and post, and the curve of drying."""
    if not has_powder(mix):
        return Section("making_day", "Making day", notices=(NO_POWDER,))
    z = np.vstack([np.zeros(10), standard_normals(DRAWS, 10)])
    body = body_of(mix, catalogue, size, z)
    if is_dry(body):
        return Section("making_day", "Making day", notices=(_nothing_to_dry(mix, body),))
    t = _reckoned(mix, catalogue, size, room, body, z)
    return Section("making_day", "Making day", _figures(t), tuple(_notices(t)), curves=(_curve(t),))


def _reckoned(mix: Mix, catalogue: Catalogue, size: Piece, room: Room, body: Body, z: Array) -> _Told:
    rack, held = on_rack(mix, size), in_mould(mix, size)
    still = course_of(body, rack, room.room_c, room.humidity_pct, speed_of(body, False))
    fan = course_of(body, rack, room.room_c, room.humidity_pct, speed_of(body, True))
    mould = None if held is None else course_of(body, held, room.room_c, room.humidity_pct, speed_of(body, False))
    dry = hours_until_dry(body, still)
    left = np.asarray(body.rest) / body.put_in
    # a last trace clings to starch and salt: Crank's picture, which has it so all along, is the cautious one
    turns = drying.front_turns(left, still.is_ball)
    slower = np.divide(drying.crank_turns(left), turns, out=np.ones_like(turns), where=turns > 0)
    crank = dry * np.maximum(slower, 1.0)
    open_air, wait = span(catalogue.fact("cure_dry")), span(catalogue.fact("cure_wrapwait"))
    day = log_spread((open_air[0], 24.0 * wait[0], open_air[2]), z[:, 8])
    days = log_spread((24.0 * wait[0], 24.0 * wait[1], 24.0 * wait[2]), z[:, 9])
    turn = hours_until_dry(body, still, np.maximum(np.asarray(body.of["drying_turn_left"]) * body.put_in, body.rest))
    wrap = np.maximum(crank, day)
    return _Told(
        mix, catalogue, size, room, body, still, fan, mould,
        dry, hours_until_dry(body, fan), None if mould is None else hours_until_dry(body, mould),
        turn, wrap, np.maximum(wrap, days), crank,
    )  # fmt: skip


def _nothing_to_dry(mix: Mix, body: Body) -> Notice:
    fat = any(mix.grams[mix.mask("solid_fat")] > 0)
    how = (
        "It sets as its fat sets: leave it cool until it is hard."
        if fat
        else "It needs only to settle until it is firm."
    )
    traces = float(np.ravel(body.put_in)[0]) > 0
    return Notice(
        "good",
        f"There is {'next to nothing' if traces else 'nothing'} in this mix that has to dry. {how}",
        "No line of it holds alcohol or free water"
        if not traces
        else "The alcohol and water in it are no more than a dry piece may keep (fact drying_residue).",
        ("COMMON_PRACTICE",),
    )


def _span_text(hours: float) -> str:
    if not hours <= NEVER_H:
        return "never"
    if 9.95 <= hours < 36:
        return f"{hours:.0f} hours"
    return duration_text(3600.0 * hours) if hours < 36 else f"{hours / 24:.0f} days"


def _value(hours: float) -> float | str:
    return hours if hours <= NEVER_H else "never"


def _inputs(t: _Told, place: str, course: Course) -> tuple[Input, ...]:
    def first(value: Numbers) -> float:
        return float(np.ravel(value)[0])

    body, facts = t.body, (t.catalogue.fact(k) for k in ("drying_tortuosity", "drying_residue"))
    made_g = t.size.piece_g.value
    alcohol, water = (float(share) for share in liquid_shares(t.mix, t.mix.grams))
    kinds = [
        (name, grams, k)
        for name, grams, k in (
            ("alcohol", alcohol * made_g, 0),
            ("water", water * made_g, 1),
        )
        if grams > 0
    ]
    return (
        *(Input(f"{name} in {_one(t)}", round(grams, 2), "g") for name, grams, _ in kinds),
        *(
            Input(f"way of {name}: pores, film", f"{first(course.paths[k]):.0f} s, {first(course.films[k]):.1f} s")
            for name, _, k in kinds
        ),
        Input("open pores", round(100 * first(body.porosity)), "%", "", "estimate"),
        *(Input(f.name, f.typical or 0.0, f.unit, "; ".join(f.sources_of("")), f.how_of("")) for f in facts),
        Input("humidity over the water in it", round(first(body.over_damp_pct)), "%", "", "estimate"),
        Input("activity of the alcohol", round(first(body.activity), 2), "", "GMEHLING1977", "memory"),
        Input(place, f"{t.room.room_c:g} °C, {t.room.humidity_pct:g} %", "", t.room.told),
        Input("colder than the room while it dries", round(first(course.cooler_c), 1), "°C"),
    )


def _one(t: _Told) -> str:
    return "a bath of powder" if t.size.is_powder else "a piece"


WORKED = "; ".join(EQUATIONS[k] for k in ("front", "pores", "sherwood", "mixed", "cooling"))


def _figure(t: _Told, figure_id: str, hours: Array, text: str, working: Working, facts: tuple[str, ...] = ()) -> Figure:
    value = float(hours[0])
    low, high = interval(np.minimum(hours[1:], 1e9))
    return Figure(
        figure_id,
        _value(value),
        "h" if value <= NEVER_H else "",
        text,
        working,
        _value(min(low, value)),
        _value(max(high, value)),
        sources_of(*(t.catalogue.fact(k).sources_of("") for k in ("drying_tortuosity", *facts)), ("RANZ1952",)),
    )


def _figures(t: _Told) -> tuple[Figure, ...]:
    dry, fan = float(t.dry_h[0]), float(t.fan_h[0])
    powder = t.size.is_powder
    still_inputs = _inputs(t, "room, still air", t.still)
    working = Working(
        WORKED,
        (
            *still_inputs,
            Input("by Crank's picture (diffusion throughout)", _span_text(float(t.crank_h[0])), "", "CRANK1975"),
        ),
    )
    where = "Spread a centimetre deep, the powder" if powder else "On an open rack a piece"
    air = f"in still air of {t.room.room_c:.0f} °C and {t.room.humidity_pct:.0f} %"
    figures = [
        _figure(
            t, "drying_hours", t.dry_h,
            f"{where} is dry after {_span_text(dry)} {air}{_draws_again(t)}." if dry <= NEVER_H else f"{where} never dries {air}.",
            working,
        ),
        _figure(
            t, "fan_drying_hours", t.fan_h,
            f"With a fan it is dry after {_span_text(fan)}{_little(dry, fan)}."
            if fan <= NEVER_H
            else "A fan does not dry it either: it moves the same damp air.",
            Working(WORKED, _inputs(t, "room, with a fan", t.fan)), ("drying_fan",),
        ),
    ]  # fmt: skip
    if t.mould is not None and t.mould_h is not None:
        how = (
            "With one half of the mould lifted off"
            if t.mix.mould and t.mix.mould.halves
            else "Left in its mould, top bare,"
        )
        hours = float(t.mould_h[0])
        figures.append(
            _figure(
                t, "mould_drying_hours", t.mould_h,
                f"{how} it takes {_span_text(hours)}: the damp has only one way out."
                if hours <= NEVER_H
                else f"{how} it never dries in this air.",
                Working(WORKED, _inputs(t, "room, in the mould", t.mould)),
            )
        )  # fmt: skip
    if dry <= NEVER_H:
        figures += _when(t, still_inputs)
    figures.append(_loss(t))
    return tuple(figures)


def _draws_again(t: _Told) -> str:
    """That air above the danger humidity takes the binder's liquid away and gives damp of its own."""
    danger = danger_humidity_pct(t.mix, t.catalogue).value
    if t.room.humidity_pct < danger:
        return ""
    return f"; but air above {danger:.0f} % wets it again: dry and keep it in dehumidified air"


def _little(dry: float, fan: float) -> str:
    return " (little sooner, as the pores hold it back, not the air)" if fan > 0.8 * dry else ""


def _when(t: _Told, inputs: tuple[Input, ...]) -> list[Figure]:
    """When to turn, wrap and post it."""
    turn, wrap, post = (float(h[0]) for h in (t.turn_h, t.wrap_h, t.post_h))
    waits = tuple(
        Input(f.name, f"{f.min:g} to {f.max:g} {f.unit}", "", "; ".join(f.sources_of("")), f.how_of(""))
        for f in (t.catalogue.fact(k) for k in ("cure_dry", "cure_wrapwait"))
    )
    crank = Input("dry by Crank's picture, the cautious one", _span_text(float(t.crank_h[0])), "", "CRANK1975")
    wrapping = Working("the later of: dry in Crank's picture; the least that makers wait", (crank, *waits))
    figures = [
        _figure(
            t, "wrap_after_h", t.wrap_h,
            f"Fill it into jars after {_span_text(wrap)}, not before."
            if t.size.is_powder
            else f"Wrap it loosely after {_span_text(wrap)}, not before: damp shut in spends the fizz.",
            wrapping, ("cure_dry", "cure_wrapwait"),
        )
    ]  # fmt: skip
    if t.size.is_powder:
        return figures
    left = t.catalogue.fact("drying_turn_left")
    turning = Working(
        WORKED + "; turn when this share of the liquid is left",
        (*inputs, Input(left.name, left.typical or 0.0, "", "; ".join(left.sources_of("")), left.how_of(""))),
    )
    return [
        _figure(
            t, "turn_after_h", t.turn_h,
            f"Turn it over after {_span_text(turn)}, when its outside has set.",
            turning, ("drying_turn_left",),
        ),
        *figures,
        _figure(
            t, "post_after_h", t.post_h,
            f"Shut it tight or post it after {_span_text(post)}: a shut pack or a warm parcel shows up the last of the damp.",
            replace(wrapping, equation="the later of: ready to wrap; the rest that makers give it before a tight wrap"),
            ("cure_dry", "cure_wrapwait"),
        ),
    ]  # fmt: skip


def _loss(t: _Told) -> Figure:
    value = t.size.piece_g.value - t.size.cured_piece_g.value
    alcohol, water = liquid_shares(t.mix, t.mix.draws_g)
    low, high = interval(t.size.piece_g_draws * (alcohol + water))
    return Figure(
        "mass_loss_g",
        value,
        "g",
        f"{'A bath of powder' if t.size.is_powder else 'A piece'} loses {shown(value)} g by drying: weigh one, and it is done when "
        "the scales no longer move.",
        Working(
            "alcohol and free water in it",
            (
                Input("as made", round(t.size.piece_g.value, 1), "g"),
                Input("dried", round(t.size.cured_piece_g.value, 1), "g"),
            ),
        ),
        min(low, value),
        max(high, value),
    )


def _notices(t: _Told) -> list[Notice]:
    """Only what is out of the ordinary: air too damp, pieces too wet, moulds that hold the damp in."""
    longest = span(t.catalogue.fact("cure_dry"))[2]
    dry = float(t.dry_h[0])
    notices = []
    if not dry <= longest:
        takes = "never dries" if not dry <= NEVER_H else f"takes {_span_text(dry)} to dry"
        notices.append(
            Notice(
                "mind",
                f"In this air {_one(t)} {takes}. {_drier(t, longest)}",
                f"Compared: drying_hours with the {longest:.0f} hours that drying takes at most (fact cure_dry). Over the water in this "
                f"mix stands about {float(np.ravel(t.body.over_damp_pct)[0]):.0f} % humidity; the room has {t.room.humidity_pct:.0f} %.",
                t.catalogue.fact("cure_dry").sources_of(""),
                "drying_hours",
            )
        )
    elif t.mould_h is not None and t.mix.mould is not None and t.mix.mould.flexible:
        held = float(t.mould_h[0])
        slow = not held <= longest
        notices.append(
            Notice(
                "mind" if slow else "good",
                f"Turn it out of the soft mould once it holds, after about {_span_text(float(t.turn_h[0]))} on the bench: left in, it "
                f"{'never dries' if not held <= NEVER_H else f'takes {_span_text(held)}'} instead of {_span_text(dry)}.",
                "Compared: mould_drying_hours with drying_hours. In the mould only the top is bare.",
                ("COMMON_PRACTICE",),
                "mould_drying_hours",
            )
        )
    return notices


def _drier(t: _Told, longest: float) -> str:
    """The air in which it would dry in time, or what to change when no air does."""
    tried = np.arange(15.0, 90.0)
    found = drying_hours_in(t.mix, t.catalogue, t.size, t.room.room_c, tried)
    good = tried[found <= longest]
    if good.size and good[-1] < t.room.humidity_pct:
        return f"Dehumidify to {good[-1]:.0f} % or less and it takes {_span_text(longest)} at most, or bind with a strong alcohol."
    return "Use less binder or a stronger alcohol, or make smaller pieces."


def _curve(t: _Told) -> Curve:
    dry, fan = float(t.dry_h[0]), float(t.fan_h[0])
    ends = [h for h in (1.3 * dry, float(t.post_h[0])) if h <= NEVER_H]
    hours = np.linspace(0.0, 1.0, 49) ** 2 * (max(ends) if ends else 168.0)
    lines = {
        "spread out, still air" if t.size.is_powder else "open rack, still air": t.still,
        "with a fan": t.fan,
        **({} if t.mould is None else {"left in the mould": t.mould}),
    }
    marks = (
        {"turn": float(t.turn_h[0]), "wrap": float(t.wrap_h[0]), "post": float(t.post_h[0])}
        if not t.size.is_powder
        else {"fill": float(t.wrap_h[0])}
    )
    rest = 100.0 * float(np.ravel(t.body.rest)[0] / np.ravel(t.body.put_in)[0])
    return Curve(
        "drying",
        f"Dry after {_span_text(dry)} in this room, {_span_text(fan)} with a fan"
        if dry <= NEVER_H
        else "In this room the water never leaves",
        "since pressing" if not t.size.is_powder else "since spreading",
        "h",
        "liquid left",
        "%",
        tuple(map(float, hours)),
        {name: tuple(map(float, np.round(left_pct(t.body, course, hours), 3))) for name, course in lines.items()},
        {name: at for name, at in marks.items() if at <= hours[-1]},
        {"dry": rest},
    )
