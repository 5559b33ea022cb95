"""The scent wheel as SVG: families as spokes, fleeting at the rim and lasting at the hub, each oil a numbered mark."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from html import escape

from fizzwright.design.wheel import ABSENT, PA_RANGE, Place, Ring
from fizzwright.review.vapours import CLASSES

INK, WORK, HAIR, EDGE = "#1c2226", "#14506b", "#d9d6cc", "#70777b"
RIM, HUB, LABELS = 100.0, 12.0, 142.0
MARK = 7.0
"""Radius of a mark: its number must be read on a phone."""
TALLEST = 26.0
"""How far the bar of the strongest family reaches outside the rim."""
NOTE_PA = {"top": 10.0, "middle": 0.5}
"""Vapour pressures at which the catalogue parts top from middle and middle from base; the lines on the wheel."""
TURNS = tuple(sign * step for step in range(48) for sign in ((1, -1) if step else (1,)))


@dataclass(frozen=True, slots=True)
class Mark:
    """One oil on the wheel."""

    number: int
    name: str
    place: Place


def _at(angle_deg: float, radius: float) -> tuple[float, float]:
    angle = math.radians(angle_deg)
    return radius * math.sin(angle), -radius * math.cos(angle)


def _out(radius: float) -> float:
    return HUB + radius * (RIM - HUB - MARK)


def _note_radius(pa: float) -> float:
    low, high = (math.log10(end) for end in PA_RANGE)
    return _out((math.log10(pa) - low) / (high - low))


def _note_words() -> list[tuple[str, float]]:
    """Top, middle and base, each in the middle of its belt."""
    ends = (RIM, _note_radius(NOTE_PA["top"]), _note_radius(NOTE_PA["middle"]), HUB)
    return [(note, (outer + inner) / 2) for note, outer, inner in zip(CLASSES, ends, ends[1:], strict=False)]


def _apart(marks: Sequence[Mark], words: Sequence[tuple[float, float]]) -> list[tuple[Mark, float, float]]:
    """Each mark where it stands, turned as little as will keep it off the others and off the words."""
    set_down: list[tuple[Mark, float, float]] = []
    for mark in marks:
        radius = _out(mark.place.radius)
        spots = [_at(mark.place.angle_deg + 3.0 * turn, radius) for turn in TURNS]
        free = [
            (x, y)
            for x, y in spots
            if all(math.hypot(x - u, y - v) >= 2 * MARK + 0.5 for _, u, v in set_down)
            and all(abs(x - u) >= MARK + 15 or abs(y - v) >= MARK + 6 for u, v in words)
        ]
        set_down.append((mark, *(free or spots)[0]))
    return set_down


def wheel_svg(ring: Ring, marks: Sequence[Mark], shares: Mapping[str, float], words: str) -> str:
    """The wheel; shares: family -> share of what is smelt, drawn as bars outside the rim (empty for none).

    words: what the picture shows, for whoever cannot see it.
    """
    drawn = [f'<circle r="{RIM:.0f}" fill="none" stroke="{INK}" stroke-width="1"/>']
    for pa in NOTE_PA.values():
        drawn.append(
            f'<circle r="{_note_radius(pa):.1f}" fill="none" stroke="{EDGE}" stroke-width="0.6" stroke-dasharray="2 2"/>'
        )
    most = max(shares.values(), default=0.0)
    half = 360 / len(ring.families) / 2
    for family, angle in ring.angles_deg.items():
        x, y = _at(angle, RIM)
        u, v = _at(angle, HUB)
        drawn.append(f'<path d="M{u:.1f} {v:.1f}L{x:.1f} {y:.1f}" stroke="{HAIR}" stroke-width="0.8"/>')
        if shares.get(family, 0.0) >= ABSENT:
            drawn.append(_bar(angle, half * 0.7, TALLEST * shares[family] / most))
        x, y = _at(angle, LABELS)
        drawn.append(
            f'<text x="{x:.1f}" y="{y + 4:.1f}" text-anchor="middle" font-size="12" fill="{INK}">{escape(family)}</text>'
        )
    words_at = [(note, *_at(half, radius)) for note, radius in _note_words()]
    for note, x, y in words_at:
        drawn.append(f'<text x="{x:.1f}" y="{y + 3:.1f}" text-anchor="middle" font-size="9" fill="{INK}">{note}</text>')
    for mark, x, y in _apart(marks, [(x, y) for _, x, y in words_at]):
        drawn.append(
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{MARK}" fill="#fff" stroke="{WORK}" stroke-width="1.4"/>'
            f'<text x="{x:.1f}" y="{y + 3.2:.1f}" text-anchor="middle" font-size="9" fill="{INK}">{mark.number}</text>'
        )
    return f'<svg viewBox="-175 -158 350 316" role="img" aria-label="{escape(words)}">{"".join(drawn)}</svg>'


def _bar(angle_deg: float, half_deg: float, height: float) -> str:
    """A stretch of the rim, thick by its share: hatched by its outline, not by colour."""
    inner, outer = RIM + 2, RIM + 2 + height
    a, b = _at(angle_deg - half_deg, inner), _at(angle_deg + half_deg, inner)
    c, d = _at(angle_deg + half_deg, outer), _at(angle_deg - half_deg, outer)
    return (
        f'<path d="M{a[0]:.1f} {a[1]:.1f}A{inner:.1f} {inner:.1f} 0 0 1 {b[0]:.1f} {b[1]:.1f}L{c[0]:.1f} {c[1]:.1f}'
        f'A{outer:.1f} {outer:.1f} 0 0 0 {d[0]:.1f} {d[1]:.1f}Z" fill="{WORK}" stroke="{INK}" stroke-width="0.5"/>'
    )
