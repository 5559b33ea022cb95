"""Charts as Vega-Lite specs, drawn here as SVG: they work with script off, print, and need no script from the page.

Drawing on the server is also what lets the pages forbid inline script and `eval`; a chart of ten bars takes some 15 ms.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from functools import lru_cache
from typing import Any

import altair as alt
import vl_convert

from fizzwright.review import Review
from fizzwright.review.figures import Curve
from fizzwright.wording import money_text, with_unit

INK, WORK = "#1c2226", "#14506b"
WIDTH = 336
"""As wide as a phone's column, so that the letters stay readable there; CSS lets it grow."""
BAND = 46
LONGEST_NAME = 32
"""Characters that fit before the label; counted, because the drawing machine may not have the page's font to measure."""
COST_PARTS = ("materials", "packaging", "labour", "losses", "overhead")
COST_NAMES = {"labour": "your hands", "losses": "lost on the way", "overhead": "room and stall"}


def composition(report: Review) -> dict[str, Any]:
    """Spec: grams of each line, largest first; the title says what most of it is."""
    rows = sorted(report.composition, key=lambda row: -row["grams"])
    data = [
        {"name": _name(row), "amount": row["grams"], "label": f"{with_unit(row['share_pct'], '%')}"} for row in rows
    ]
    return bars(data, "grams in the mix")


def composition_title(report: Review) -> str:
    """What the chart finds."""
    rows = sorted(report.composition, key=lambda row: -row["grams"])
    first = rows[0]
    return f"Most of the mix is {first['name']}: {with_unit(first['share_pct'], '%')} by weight"


def cost(report: Review) -> dict[str, Any] | None:
    """Spec: what a batch costs, by kind; None when the review has no cost."""
    parts = cost_parts(report)
    if not parts:
        return None
    data = [{"name": name, "amount": minor, "label": text} for name, minor, text in parts]
    return bars(data, "cost of the batch")


def cost_title(report: Review) -> str:
    """What the chart finds."""
    parts = cost_parts(report)
    return f"What costs most is {parts[0][0]}: {parts[0][2]} a batch" if parts else ""


def cost_parts(report: Review) -> list[tuple[str, float, str]]:
    """Name, minor units and text of each kind of cost, dearest first."""
    figures = {f.id: f for s in report.sections if s.id == "cost" for f in s.figures}
    parts = []
    for part in COST_PARTS:
        if part in figures and not isinstance(figures[part].value, str):
            value = float(figures[part].value)
            parts.append((COST_NAMES.get(part, part), value, _money(value, figures[part].unit)))
    return sorted(parts, key=lambda p: -p[1])


def _money(minor: float, unit: str) -> str:
    return money_text(minor, unit.removesuffix(" minor")) if unit.endswith(" minor") else with_unit(minor, unit)


def _name(row: dict[str, Any]) -> str:
    part = "" if row["part"] == "whole" else f", {str(row['part']).replace('_', ' ')}"
    name = str(row["name"])
    room = max(LONGEST_NAME - len(part), LONGEST_NAME // 2)
    # the part stays whole, or the same thing in two layers would share one name and one bar
    return f"{name if len(name) <= room else name[: room - 1].rstrip(' (,') + '…'}{part}"


def bars(data: Sequence[dict[str, Any]], what: str) -> dict[str, Any]:
    """The spec of bars with its data put in."""
    spec: dict[str, Any] = json.loads(_template(what))
    spec["data"] = {"values": list(data)}
    return spec


@lru_cache(maxsize=4)
def _template(what: str) -> str:
    """Bars from zero, each under its own name, with its label at the end; no axis to read off. Checked once by Altair."""
    base = alt.Chart("put-in-later.json").encode(
        y=alt.Y("name:N", sort=None, axis=None, scale=alt.Scale(paddingInner=0, paddingOuter=0)),
    )
    bars = base.mark_bar(color=WORK, height=12, yOffset=9).encode(
        x=alt.X("amount:Q", axis=None, scale=alt.Scale(zero=True, nice=False)),
        description=alt.Description("name:N"),
    )
    names = base.mark_text(align="left", baseline="bottom", dy=1, color=INK).encode(x=alt.value(0), text="name:N")
    labels = base.mark_text(align="right", baseline="bottom", dy=1, color=INK, fontWeight=600).encode(
        x=alt.value(WIDTH), text="label:N"
    )
    chart = (
        alt.layer(bars, names, labels)
        .properties(width=WIDTH, height=alt.Step(BAND), description=f"Bars: {what}, the same as the table beside it.")
        .configure(font="IBM Plex Sans", background="transparent", padding=0, autosize="none")
        .configure_text(fontSize=15)
        .configure_view(stroke=None)
    )
    return json.dumps(chart.to_dict(), sort_keys=True)


LINE_COLOURS = ("#14506b", "#a8480f", "#4b7a1e", "#7a2f7d", "#8a6d00", "#b3305a", "#1f7a72", "#4d4d4d")
"""Each at least 4.5 to 1 on the page; dashes tell the lines apart where colours do not."""
LINE_DASHES = ([1, 0], [7, 3], [2, 2], [10, 3, 2, 3], [4, 4], [12, 4], [1, 3], [6, 2, 2, 2, 2, 2])
PLAIN_LABEL = "format(datum.value, '.6~r')"
LOG_LABEL = f"abs(log(datum.value) / LN10 - round(log(datum.value) / LN10)) < 1e-6 ? {PLAIN_LABEL} : ''"
"""On a logarithmic axis only the powers of ten are named."""
CURVE_HEIGHT = 190
NEAR_AXIS, NEAR_TOP, NEAR_LEVEL = 0.08, 0.88, 0.07
"""Shares of an axis within which a word would cover another."""
LABEL_STEP = 14
CURVE_POINTS = 90
"""Points drawn of each line: more cannot be told apart at this width."""


def curve(found: Curve) -> dict[str, Any]:
    """Spec: what changes along an axis, one line a name, with the moments and heights worth a word."""
    names = list(found.lines)
    step = max(1, -(-len(found.x) // CURVE_POINTS))
    # the last point is where it all ends, so it is always drawn
    kept = sorted({*range(0, len(found.x), step), len(found.x) - 1})
    floor = _log_floor(found) if found.is_log else None
    rows = [
        {"x": found.x[i], "y": max(values[i], floor) if floor else values[i], "name": name}
        for name, values in found.lines.items()
        for i in kept
    ]
    spec: dict[str, Any] = json.loads(_curve_template(len(names), found.is_log, bool(found.marks), bool(found.levels)))
    spec["description"] = f"Lines: {found.y_name} against {found.x_name}."
    layers = spec["layer"]
    layers[0]["data"] = {"values": rows}
    layers[0]["encoding"]["x"]["title"] = _axis(found.x_name, found.x_unit)
    layers[0]["encoding"]["y"]["title"] = _axis(found.y_name, found.y_unit)
    layers[0]["encoding"]["x"]["scale"]["domain"] = [found.x[0], found.x[-1]]
    looks: tuple[tuple[str, Sequence[Any]], ...] = (("color", LINE_COLOURS), ("strokeDash", LINE_DASHES))
    if found.y_unit == "%":
        layers[0]["encoding"]["y"]["scale"]["domain"] = [0, 100]
    for channel, values in looks:
        many = [values[i % len(values)] for i in range(len(names))]
        layers[0]["encoding"][channel]["scale"] = {"domain": names, "range": many}
    rest = layers[1:]
    if found.marks:
        # beside the axis a word stands to the right of its line, or it would cover the axis' own numbers
        early = found.x[0] + NEAR_AXIS * (found.x[-1] - found.x[0])
        marked = [{"x": at, "label": word, "dy": 13 if at < early else -2} for word, at in found.marks.items()]
        for layer in rest[:2]:
            layer["data"] = {"values": marked}
        rest = rest[2:]
    if found.levels:
        levelled = _levelled(found)
        for layer in rest:
            layer["data"] = {"values": levelled}
    return spec


def _levelled(found: Curve) -> list[dict[str, Any]]:
    """Heights with their words: below the line near the top, above it elsewhere, and those of one height stacked."""
    drawn = [value for values in found.lines.values() for value in values]
    bottom, top = min((0.0, *drawn)), max((*drawn, *found.levels.values()))
    top = 100.0 if found.y_unit == "%" else top
    placed: list[dict[str, Any]] = []
    for word, at in sorted(found.levels.items(), key=lambda level: level[1]):
        is_high = not found.is_log and at - bottom > NEAR_TOP * (top - bottom)
        beside = [p for p in placed if abs(p["y"] - at) < NEAR_LEVEL * (top - bottom)] if not found.is_log else []
        step = LABEL_STEP * len(beside)
        placed.append({"y": at, "label": word, "dy": 13 + step if is_high else -2 - step})
    return placed


def _axis(name: str, unit: str) -> str:
    return f"{name}, {unit}" if unit else name


def _log_floor(found: Curve) -> float:
    """The lowest value drawn on a logarithmic axis: five decades below the top, as nothing has a logarithm there."""
    top = max((value for values in found.lines.values() for value in values), default=1.0)
    return max(top, 1e-12) * 1e-5


@lru_cache(maxsize=64)
def _curve_template(lines: int, is_log: bool, marks: bool, levels: bool) -> str:
    """A curve with its data left out; checked once by Altair for each shape it can take."""
    legend = alt.Legend(orient="bottom", columns=1, title=None, symbolStrokeWidth=2.5, labelLimit=WIDTH, symbolSize=400)
    scale = alt.Scale(type="log") if is_log else alt.Scale(zero=False, nice=True)
    drawn_line = (
        alt.Chart("put-in-later.json")
        .mark_line(strokeWidth=2, clip=True)
        .encode(
            x=alt.X("x:Q", title="", scale=alt.Scale(nice=False, domain=[0, 1])),
            y=alt.Y("y:Q", title="", scale=scale, axis=alt.Axis(labelExpr=LOG_LABEL if is_log else PLAIN_LABEL)),
            color=alt.Color("name:N", legend=legend if lines > 1 else None),
            strokeDash=alt.StrokeDash("name:N", legend=legend if lines > 1 else None),
        )
    )
    layers: list[Any] = [drawn_line]
    if marks:
        base = alt.Chart("put-in-later.json").encode(x="x:Q")
        layers += [
            base.mark_rule(color=INK, strokeDash=[3, 3]),
            base.mark_text(color=INK, angle=270, align="left", baseline="bottom", dx=4, dy=alt.expr("datum.dy")).encode(
                y=alt.value(CURVE_HEIGHT), text="label:N"
            ),
        ]
    if levels:
        base = alt.Chart("put-in-later.json").encode(y="y:Q")
        layers += [
            base.mark_rule(color=INK, strokeDash=[6, 3]),
            base.mark_text(color=INK, align="right", baseline="bottom", dy=alt.expr("datum.dy")).encode(
                x=alt.value(WIDTH - 60), text="label:N"
            ),
        ]
    chart = (
        alt.layer(*layers)
        .properties(width=WIDTH - 60, height=CURVE_HEIGHT, description="")
        .configure_legend(labelFontSize=13, labelColor=INK)
    )
    return plotted(chart, ticks=5)


def plotted(chart: alt.LayerChart | alt.FacetChart, ticks: int) -> str:
    """The spec of a chart with axes, in the letters and greys of the pages."""
    dressed = (
        chart.configure(font="IBM Plex Sans", background="transparent", padding=2)
        .configure_text(fontSize=12)
        .configure_axis(
            labelFontSize=12,
            titleFontSize=12,
            titleFontWeight="normal",
            labelColor=INK,
            titleColor=INK,
            gridColor="#d9dcda",
            tickCount=ticks,
        )
        .configure_view(stroke=None)
    )
    return json.dumps(dressed.to_dict(), sort_keys=True)


def drawn(spec: dict[str, Any]) -> str:
    """The SVG of a spec."""
    return _drawn(json.dumps(spec, sort_keys=True))


@lru_cache(maxsize=256)
def _drawn(spec: str) -> str:
    svg: str = vl_convert.vegalite_to_svg(spec, vl_version=_vega_lite())
    return svg


@lru_cache(maxsize=1)
def _vega_lite() -> str:
    return ".".join(alt.SCHEMA_VERSION.removeprefix("v").split(".")[:2])
