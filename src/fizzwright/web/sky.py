"""Pictures of the air: the psychrometric chart with today's point and the mix's danger line, and days hour by hour."""

from __future__ import annotations

import json
from collections.abc import Sequence
from functools import lru_cache
from html import escape
from itertools import groupby
from typing import Any

import altair as alt
import numpy as np

from fizzwright.plan.today import AirPicture
from fizzwright.web.charts import INK, WIDTH, WORK, plotted
from fizzwright.wording import air_text, with_unit

RUST = "#a8480f"
SHAPES = {
    "dry": "M0 8l3-3 3 4 7-8 3 2.5L6.5 15z",
    "hold": "M2 0h4v16H2zM10 0h4v16h-4z",
    "wait": "M1 0h14v3l-5 5 5 5v3H1v-3l5-5-5-5z",
}
"""A tick, two bars, an hourglass, in a square of 16; the same as in the words of the pages."""
FILLS = {"dry": "#1d5c3c", "hold": "#7a4a00", "wait": "#8e1f2f"}
DAY_LABEL, HOUR_WIDTH, DAY_HEIGHT, HEAD = 84, 13, 22, 22
PLOT_WIDTH, PLOT_HEIGHT = WIDTH - 104, 260
MOST_G_KG = 32.0
"""Higher up no room lies, and the lines below would be squeezed."""
NEAR_PCT = 7.0
"""A line so near the danger line gives its label up to it."""


def air(found: AirPicture) -> dict[str, Any]:
    """Spec: lines of equal relative humidity, the danger line thick, today's point and where it would drip."""
    top = max(MOST_G_KG, 1.15 * found.water_g_kg)
    lines = [*found.humid.values(), found.danger]
    named = [(humidity, f"{humidity:.0f} %") for humidity in found.humid]
    ends = [
        {**_end(found, values, top), "label": label}
        for (_, label), values in zip(named, found.humid.values(), strict=True)
    ]
    labels = [
        end for end, (humidity, _) in zip(ends, named, strict=True) if abs(humidity - found.danger_pct) > NEAR_PCT
    ]
    danger_end = {**_end(found, found.danger, top), "label": f"mix {found.danger_pct:.0f} %"}
    rows = [
        {"x": c, "y": w, "line": place}
        for place, (values, end) in enumerate(zip(lines, [*ends, danger_end], strict=True))
        for c, w in [*((c, w) for c, w in zip(found.celsius, values, strict=True) if w < top), (end["x"], end["y"])]
    ]
    spec: dict[str, Any] = json.loads(_template())
    danger = len(lines) - 1
    data: list[list[dict[str, Any]]] = [
        [row for row in rows if row["line"] != danger],
        [row for row in rows if row["line"] == danger],
        labels,
        [danger_end],
        [{"x": found.room_c, "y": found.water_g_kg}, {"x": found.dew_point_c, "y": found.water_g_kg}],
        [{"x": found.dew_point_c, "y": found.water_g_kg, "label": "dew point"}],
        [{"x": found.room_c, "y": found.water_g_kg, "label": "now"}],
    ]
    # names of points are two layers each: the mark and its word
    for layer, values in zip(spec["layer"], [*data[:5], data[5], data[5], data[6], data[6]], strict=True):
        layer["data"] = {"values": values}
    spec["layer"][0]["encoding"]["x"]["scale"]["domain"] = [found.celsius[0], found.celsius[-1]]
    spec["layer"][0]["encoding"]["y"]["scale"]["domain"] = [0, top]
    return spec


def _end(found: AirPicture, values: tuple[float, ...], top: float) -> dict[str, Any]:
    """Where a line leaves the picture."""
    return {"x": float(np.interp(top, values, found.celsius)), "y": min(top, values[-1])}


def air_rows(found: AirPicture) -> tuple[tuple[str, str], ...]:
    """The picture as a table."""
    return (
        ("The room", air_text(found.room_c, found.humidity_pct, ", ")),
        ("Water in a kilogram of its air", with_unit(found.water_g_kg, "g")),
        ("Dew point", with_unit(found.dew_point_c, "°C")),
        ("The mix draws water from", with_unit(found.danger_pct, "%")),
        *((f"Water at {pct:.0f} % in a room as warm", with_unit(grams, "g")) for pct, grams in found.at_room),
    )


def days(rows: Sequence[tuple[str, Sequence[str]]]) -> str:
    """SVG of days hour by hour: (name of the day, a word for each of 24 hours or "" where nothing is known)."""
    width, height = DAY_LABEL + 24 * HOUR_WIDTH + 4, HEAD + DAY_HEIGHT * len(rows)
    drawn = [
        f'<text x="{DAY_LABEL + hour * HOUR_WIDTH}" y="15" font-size="12" fill="{INK}">{hour}</text>'
        for hour in range(0, 24, 6)
    ]
    for place, (day, words) in enumerate(rows):
        y = HEAD + place * DAY_HEIGHT
        drawn.append(f'<text x="0" y="{y + 15}" font-size="12" fill="{INK}">{escape(day)}</text>')
        drawn.append(f'<path d="M{DAY_LABEL} {y + 20.5}H{width}" stroke="#d9d6cc"/>')
        for hour, word in enumerate(words):
            if word:
                at = f"translate({DAY_LABEL + hour * HOUR_WIDTH} {y + 5}) scale(0.62)"
                drawn.append(f'<path d="{SHAPES[word]}" fill="{FILLS[word]}" transform="{at}"/>')
    return (
        f'<svg viewBox="0 0 {width} {height}" aria-hidden="true" focusable="false" font-family="IBM Plex Sans">'
        f"{''.join(drawn)}</svg>"
    )


def runs(words: Sequence[str]) -> str:
    """The hours of a day in words: "0 to 9 wait, 9 to 17 dry"; an hour nothing is known of is left out."""
    found = []
    hour = 0
    for word, group in groupby(words):
        many = len(list(group))
        if word:
            found.append(f"{hour} to {hour + many} {word}")
        hour += many
    return ", ".join(found) or "nothing known"


@lru_cache(maxsize=1)
def _template() -> str:
    """The chart with its data left out; checked once by Altair."""

    def base() -> Any:
        return alt.Chart("put-in-later.json")

    x = alt.X("x:Q", title="room, °C", scale=alt.Scale(nice=False, domain=[5, 35]))
    y = alt.Y("y:Q", title="water, g in a kg of air", scale=alt.Scale(nice=False, domain=[0, 30]))
    plain = base().mark_line(color="#70777b", strokeWidth=1.2, clip=True).encode(x=x, y=y, detail="line:N")
    danger = base().mark_line(color=RUST, strokeWidth=4, clip=True).encode(x="x:Q", y="y:Q")
    labels = (
        base()
        .mark_text(color=INK, align="left", baseline="middle", dx=4, dy=-4)
        .encode(x="x:Q", y="y:Q", text="label:N")
    )
    danger_label = (
        base()
        .mark_text(color=RUST, align="left", baseline="middle", dx=4, dy=-4, fontWeight=600)
        .encode(x="x:Q", y="y:Q", text="label:N")
    )
    drop = base().mark_line(color=INK, strokeDash=[3, 3], strokeWidth=1.5).encode(x="x:Q", y="y:Q")
    point = {"x": "x:Q", "y": "y:Q"}
    dew = base().mark_point(color=WORK, shape="diamond", size=90, filled=False, strokeWidth=2).encode(**point)
    dew_word = base().mark_text(color=WORK, align="center", dy=-12).encode(**point, text="label:N")
    now = base().mark_point(color=INK, shape="circle", size=130, filled=True, opacity=1).encode(**point)
    now_word = base().mark_text(color=INK, align="left", dx=6, dy=14, fontWeight=600).encode(**point, text="label:N")
    chart = alt.layer(plain, danger, labels, danger_label, drop, dew, dew_word, now, now_word).properties(
        width=PLOT_WIDTH,
        height=PLOT_HEIGHT,
        description="Lines of equal humidity, the humidity from which the mix draws water, and the air of the room.",
    )
    return plotted(chart, ticks=6)
