"""Alcohol in the work room: how much of it hangs in the air while a batch is made, and how far to open the window."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from fizzwright.catalogue import Catalogue
from fizzwright.recipe.mix import Mix
from fizzwright.review.curing import drying_hours_in
from fizzwright.review.figures import Curve, Figure, Input, Notice, Section, Working, interval, sources_of
from fizzwright.review.room import Room
from fizzwright.review.setting import Setting
from fizzwright.review.sizes import Piece
from fizzwright.review.work_air import AT_ONCE, BESIDE_BOWL_M, WorkAir, work_air
from fizzwright.science import airborne
from fizzwright.science.airborne import EQUATIONS
from fizzwright.wording import duration_text, listed, shown

Array = NDArray[np.float64]

QUICK_H = 0.5
"""estimate: the time constant where there is too little alcohol to call a piece wet."""

STOP_SHARE = 0.1
"""A tenth of the lower flammable limit in the whole room: where fire codes and gas alarms draw the line (memory); the levels
called immediately dangerous (facts ipa_idlh, etoh_idlh) were set there as well."""
WIDEST_CM = 100.0
FAR_ABOVE = 10.0


def told(mix: Mix, catalogue: Catalogue, setting: Setting, size: Piece, room: Room) -> Section:
    """Figures, notices and the curve of alcohol vapour; bare when the mix holds no alcohol."""
    air = work_air(mix, catalogue, size, room, drying_h(mix, catalogue, size, room))
    if air is None:
        return Section("making_day", "Making day")
    return Section("making_day", "Making day", _figures(air), tuple(_notices(air)), curves=(_curve(air),))


def drying_h(mix: Mix, catalogue: Catalogue, size: Piece, room: Room) -> float:
    """Time constant of pressed pieces losing their alcohol: a tenth is left when they are dry, and damp holds up water only."""
    hours = float(drying_hours_in(mix, catalogue, size, room.room_c, 0.0))
    return hours / math.log(10.0) if 0.0 < hours < math.inf else QUICK_H


def _ranged(draws: Array) -> tuple[float, float, float]:
    """The likely value and its 90 % interval, widened to hold it."""
    value = float(draws[0])
    low, high = interval(draws[1:])
    return value, min(low, value), max(high, value)


def _inputs(air: WorkAir, *more: Input) -> tuple[Input, ...]:
    room = air.room
    return (
        *(Input(f"{air.limits[k].name} in the batch", round(float(g[0]), 1), "g") for k, g in air.grams.items()),
        Input("room", room.volume_m3, "m3", "", "estimate"),
        Input("air changes, window shut", room.air_changes_shut, "per hour", "", "estimate"),
        Input("air changes, a hand's width open", room.air_changes_open, "per hour", "", "estimate"),
        Input("temperature", room.room_c, "°C", room.told),
        Input("spray that never lands", 100 * AT_ONCE[1], "%", "", "estimate"),
        Input("spraying", round(60 * float(air.spray_h[0]), 1), "min", "", "estimate"),
        Input("at the bowl", round(60 * air.work_h), "min", "", "estimate"),
        *(
            Input(
                f"{air.limits[k].name} that landed and leaves meanwhile",
                round(100 * float(share[0]), 1),
                "%",
                "",
                "estimate",
            )
            for k, share in air.bowl_share.items()
        ),
        Input(
            "time constant of drying pieces", round(float(air.drying_h[0]), 3), "h", "drying_hours / ln 10", "estimate"
        ),
        *more,
    )


def _course_text() -> str:
    return "; ".join(EQUATIONS[k] for k in ("room", "even", "falling", "ppm"))


def _figures(air: WorkAir) -> tuple[Figure, ...]:
    peak, low, high = _ranged(air.shut.max(axis=0))
    minutes = 60.0 * float(air.hours[int(air.shut[:, 0].argmax()), 0])
    opened, open_low, open_high = _ranged(air.aired.max(axis=0))
    share, share_low, share_high = _ranged(air.flammable_share)
    near, near_low, near_high = _ranged(np.asarray(sum((air.near_ppm(k, air.shut_h) for k in air.grams), np.zeros(()))))
    near_share = sum(float(air.near_ppm(k, air.shut_h)[0]) / v.flammable_ppm for k, v in air.limits.items())
    over_the_wet = (
        f"; right over wet {listed(air.flashes)} at {shown(air.room.room_c)} °C there is enough for a flame to light"
        if air.flashes
        else ""
    )
    lower = [
        Input(f"lower flammable limit, {v.name}", v.flammable_ppm, "ppm", "; ".join(v.flammable.sources_of("")))
        for v in air.limits.values()
    ]
    return (
        Figure(
            "alcohol_peak_ppm",
            peak,
            "ppm",
            f"With the window shut the room's air holds at most {shown(peak)} ppm of {air.names}, about {duration_text(60 * minutes)} "
            "after the first spray.",
            Working(_course_text(), _inputs(air)),
            low,
            high,
        ),
        Figure(
            "alcohol_peak_open_ppm",
            opened,
            "ppm",
            f"With the window a hand's width open it is at most {shown(opened)} ppm.",
            Working(_course_text(), _inputs(air)),
            open_low,
            open_high,
        ),
        _against(air, "alcohol_8h_ppm", "Over a working day with this one batch", "8 hours"),
        _against(air, "alcohol_15min_ppm", "In the worst quarter of an hour", "15 minutes"),
        Figure(
            "alcohol_share_of_lel",
            share,
            "",
            f"At its height the shut room's air holds {shown(100 * share)} % of what a flame could light.",
            Working("share = highest ppm / lower flammable limit", _inputs(air, *lower)),
            share_low,
            share_high,
            air.citations,
        ),
        Figure(
            "near_bowl_ppm",
            near,
            "ppm",
            f"Half a metre around the bowl the air holds about {shown(near)} ppm while you work, {shown(100 * near_share)} % of what a "
            f"flame could light{over_the_wet}.",
            Working(
                EQUATIONS["near_field"],
                _inputs(
                    air,
                    Input("half ball of air at the bowl", BESIDE_BOWL_M[1], "m", "", "estimate"),
                    Input("air that passes it", round(float(air.beside_m3_h[0])), "m3/h", "NEAR_FIELD", "memory"),
                    *lower,
                ),
            ),
            near_low,
            near_high,
            sources_of(air.citations, ("NEAR_FIELD",)),
        ),
        _window(air),
    )


def _against(air: WorkAir, figure_id: str, when: str, span: str) -> Figure:
    """An average beside the strictest level held for it; with two alcohols their shares are added up."""
    is_shift = figure_id == "alcohol_8h_ppm"
    level = {k: (air.shift_ppm if is_shift else air.quarter_ppm)(k, air.shut_h) for k in air.grams}
    allowed = {k: v.shift_ppm if is_shift else v.quarter_ppm for k, v in air.limits.items()}
    rows = {k: v.shift if is_shift else v.quarter for k, v in air.limits.items()}
    value, low, high = _ranged(np.asarray(sum(level.values(), np.zeros(()))))
    share = sum(float(level[k][0]) / allowed[k] for k in level)
    most = value / share if share > 0 else min(allowed.values())
    doubt = " (from memory)" if any(row.how_of("") == "memory" for row in rows.values()) else ""
    return Figure(
        figure_id,
        value,
        "ppm",
        f"{when}, window shut, it averages {shown(value)} ppm, beside a work-room limit of {shown(most)} ppm over {span}{doubt}.",
        Working(
            EQUATIONS["exposure"] + "; average = exposure / hours",
            _inputs(
                air,
                *(
                    Input(row.name, allowed[k], "ppm", "; ".join(row.sources_of("")), row.how_of(""))
                    for k, row in rows.items()
                ),
            ),
        ),
        low,
        high,
        sources_of(*(row.sources_of("") for row in rows.values())),
        high_allowed=most,
        share_of_limit=share,
    )


def _window(air: WorkAir) -> Figure:
    value, low, high = _ranged(np.minimum(air.window_cm, WIDEST_CM))
    if value <= 0:
        text = (
            "By the work-room limits alone the window could stay shut for this batch; open it a hand's width all the same while "
            "you spray."
        )
    elif value >= WIDEST_CM:
        text = "No window brings this batch under the work-room limits: make it in smaller lots, a day apart."
    else:
        text = f"Open the window {max(value, 1.0):.0f} cm or more from the first spray until the pieces are dry."
    still = float(airborne.one_side_m3_h(0.6, airborne.HAND_CM / 100, 5.0, 0.0, air.room.room_c)) / air.room.volume_m3
    return Figure(
        "window_open_cm",
        value,
        "cm",
        text,
        Working(
            EQUATIONS["opening"],
            _inputs(
                air,
                Input(
                    "for comparison, a 60 cm sash a hand open on a windless day, 5 °C cooler outdoors",
                    round(still, 2),
                    "air changes per hour",
                    "BS_5925",
                    "memory",
                ),
            ),
        ),
        low,
        high,
        ("BS_5925",),
    )


def _notices(air: WorkAir) -> list[Notice]:
    notices = []
    flammable = float(air.flammable_share[0])
    if flammable >= STOP_SHARE:
        notices.append(
            Notice(
                "stop",
                f"Too much alcohol for this room: its air reaches {shown(100 * flammable)} % of what a flame could light. "
                "Make smaller lots, with the windows wide open, nothing burning and nothing that sparks.",
                f"Compared: vapour in the shut room with {shown(100 * STOP_SHARE)} % of the lower flammable limit of {air.names}; "
                "ask your fire authority before working with so much.",
                air.citations,
                "alcohol_share_of_lel",
            )
        )
    share = float(air.share_of_limits(air.shut_h)[0])
    if share > 1.0:
        cm = float(air.window_cm[0])
        do = (
            "No window is enough for it: make smaller lots, a day apart."
            if cm >= WIDEST_CM
            else f"Open the window {max(cm, 1.0):.0f} cm or more and keep it open until the pieces are dry."
        )
        notices.append(
            Notice(
                "mind",
                f"With the window shut, {air.names} in the air goes over a work-room limit ({shown(share)} times). {do}",
                "Compared: averages over 8 hours and 15 minutes with the strictest levels held for them; the law of your place "
                "may set others.",
                air.citations,
                "alcohol_8h_ppm",
            )
        )
    near = sum(float(air.near_ppm(k, air.open_h)[0]) / v.flammable_ppm for k, v in air.limits.items())
    if near >= STOP_SHARE:
        notices.append(
            Notice(
                "mind",
                f"At the bowl the vapour reaches {shown(100 * near)} % of what a flame could light, however low the room's average. "
                "Spray less at a time, with hobs, candles and pilot lights out in every room the air can reach.",
                f"Compared: air half a metre around the bowl while you work (our own estimate), with {shown(100 * STOP_SHARE)} % of the "
                "lower flammable limit. The vapour is heavier than air and creeps along the floor.",
                sources_of(air.citations, ("NEAR_FIELD",)),
                "near_bowl_ppm",
            )
        )
    notices.append(
        Notice(
            "mind",
            "Local codes first: how much alcohol may be stored and sprayed at home or in a class is for your fire code, your insurer "
            "and work-room law to say. Keep only today's bottle in the room, lid on.",
            f"Flammable liquids are ruled by place; the levels of {air.names} shown here come from the sources named beside them.",
            air.citations,
            standing=True,
        )
    )
    return notices


def _curve(air: WorkAir) -> Curve:
    shut, aired = air.shut[:, 0], air.aired[:, 0]
    levels = {
        f"limit for {v.name}, {span}": ppm
        for v in air.limits.values()
        for span, ppm in (("8 hours", v.shift_ppm), ("15 minutes", v.quarter_ppm))
        # a level far above the curve would flatten it to nothing
        if ppm <= FAR_ABOVE * shut.max()
    }
    lel = min(v.flammable_ppm for v in air.limits.values())
    if shut.max() > STOP_SHARE * lel / 3.0:
        levels["a tenth of what a flame could light"] = STOP_SHARE * lel
    return Curve(
        "alcohol_vapour",
        f"Alcohol in the room's air: up to {shown(float(shut.max()))} ppm shut, {shown(float(aired.max()))} with the window open",
        "since the first spray",
        "h",
        "alcohol in the air",
        "ppm",
        tuple(float(h) for h in air.hours[:, 0]),
        {"window shut": tuple(map(float, shut)), "a hand's width open": tuple(map(float, aired))},
        {"last piece pressed": air.work_h},
        levels,
    )
