"""The trade-off as a picture one can click: each point is a link, so it works by keyboard and with script off."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from html import escape

from fizzwright.design.tradeoff import Front, Point
from fizzwright.web.charts import INK, WORK
from fizzwright.wording import number_text, sentence, with_unit

WIDTH, HEIGHT = 420, 300
LEFT, RIGHT, TOP, FOOT = 58, 24, 34, 52
REACH = 22
"""Half the side of what a finger can hit, in the picture's own units: at a phone's width still some 35 pixels in all."""


def amount(value: float, unit: str) -> str:
    """A value of an axis as a maker reads it."""
    return with_unit(value, unit)


def rows(found: Front) -> list[tuple[str, str]]:
    """Each point in words: x and y."""
    return [(amount(p.x, found.x_unit), amount(p.y, found.y_unit)) for p in found.points]


def title(found: Front) -> str:
    """What the picture finds; the front has a point."""
    first, last = found.points[0], found.points[-1]
    x_ends, y_ends = (
        (amount(a, unit), amount(b, unit))
        for a, b, unit in ((first.x, last.x, found.x_unit), (first.y, last.y, found.y_unit))
    )
    if len(found.points) < 2:
        return f"{sentence(found.y_name)} {y_ends[0]}, {found.x_name} {x_ends[0]}"
    return f"{sentence(found.y_name)} from {y_ends[0]} to {y_ends[1]}, as {found.x_name} goes from {x_ends[0]} to {x_ends[1]}"


def drawn(found: Front, address: Callable[[int], str], chosen: int | None = None) -> str:
    """SVG of a front, each point a link to `address` of its place; "" when there is nothing to draw."""
    if not found.points:
        return ""
    across = _Scale([p.x for p in found.points], LEFT, WIDTH - RIGHT, by_times=found.along == "limit")
    up = _Scale([p.y for p in found.points], HEIGHT - FOOT, TOP)
    parts = [
        *_axis_x(found, across),
        *_axis_y(found, up),
        f'<path d="{_line(found.points, across, up)}" fill="none" stroke="{WORK}" stroke-width="2"/>',
        *(_link(found, i, across, up, address(i), i == chosen) for i in range(len(found.points))),
    ]
    label = escape(f"{found.y_name} against {found.x_name}, each point a recipe to choose")
    return (
        f'<svg viewBox="0 0 {WIDTH} {HEIGHT}" role="group" aria-label="{label}" font-family="IBM Plex Sans" '
        f'font-size="13" fill="{INK}">{"".join(parts)}</svg>'
    )


class _Scale:
    """From a value to a place in the picture, with a little room at both ends; by_times: each doubling as far."""

    def __init__(self, values: Sequence[float], start: float, end: float, *, by_times: bool = False) -> None:
        self.by_times = by_times and min(values) > 0
        self.start, self.end = start, end
        low, high = self._at(min(values)), self._at(max(values))
        room = 0.08 * (high - low) or max(abs(high), 1.0) * 0.1
        self.low, self.high = low - room, high + room
        middle = sorted(values)[len(values) // 2] if self.by_times else (min(values) + max(values)) / 2
        self.ticks = sorted({min(values), middle, max(values)})

    def _at(self, value: float) -> float:
        return math.log(value) if self.by_times else value

    def __call__(self, value: float) -> float:
        return round(self.start + (self._at(value) - self.low) / (self.high - self.low) * (self.end - self.start), 1)


def _line(points: Sequence[Point], across: _Scale, up: _Scale) -> str:
    # stairs, not slopes: between two points no recipe was found, and the lower y holds until the next
    path = f"M{across(points[0].x)} {up(points[0].y)}"
    for point in points[1:]:
        path += f"H{across(point.x)}V{up(point.y)}"
    return path


def _axis_x(found: Front, across: _Scale) -> list[str]:
    foot = HEIGHT - FOOT
    return [
        f'<path d="M{LEFT} {foot}H{WIDTH - RIGHT}" stroke="{INK}"/>',
        *(
            f'<path d="M{across(x)} {foot}v5" stroke="{INK}"/>'
            f'<text x="{across(x)}" y="{foot + 19}" text-anchor="middle">{escape(amount(x, found.x_unit))}</text>'
            for x in across.ticks
        ),
        f'<text x="{(LEFT + WIDTH - RIGHT) / 2}" y="{HEIGHT - 10}" text-anchor="middle">{escape(found.x_name)}</text>',
    ]


def _axis_y(found: Front, up: _Scale) -> list[str]:
    return [
        f'<path d="M{LEFT} {TOP}V{HEIGHT - FOOT}" stroke="{INK}"/>',
        *(
            f'<path d="M{LEFT} {up(y)}h-5" stroke="{INK}"/>'
            f'<text x="{LEFT - 8}" y="{up(y) + 4}" text-anchor="end">{escape(number_text(y))}</text>'
            for y in up.ticks
        ),
        f'<text x="4" y="16">{escape(found.y_name)}, {escape(found.y_unit)}</text>',
    ]


def _link(found: Front, place: int, across: _Scale, up: _Scale, address: str, chosen: bool) -> str:
    point = found.points[place]
    x, y = across(point.x), up(point.y)
    words = f"{amount(point.y, found.y_unit)} at {amount(point.x, found.x_unit)}"
    here = ' aria-current="true"' if chosen else ""
    mark = (
        f'<circle cx="{x}" cy="{y}" r="8" fill="{WORK}"/>'
        if chosen
        else f'<circle cx="{x}" cy="{y}" r="6" fill="#fff" stroke="{WORK}" stroke-width="3"/>'
    )
    return (
        f'<a href="{escape(address)}"{here} aria-label="Choose {escape(words)}">'
        f'<rect x="{x - REACH:.1f}" y="{y - REACH:.1f}" width="{2 * REACH}" height="{2 * REACH}" fill="none" '
        f'pointer-events="all"/>{mark}</a>'
    )
