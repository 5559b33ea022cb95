"""A piece cut through its middle as SVG: where the water stands at each moment, and the piece shrinking."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from html import escape

import numpy as np
from numpy.typing import NDArray

from fizzwright.review.figures import Cutaway
from fizzwright.science.outline import outline_paths, part_paths
from fizzwright.wording import duration_text, listed

STEPS_S = (5, 10, 15, 20, 30, 60, 120, 180, 300, 600, 900, 1800, 3600)
MOST_LINES = 6
FRAMES = 12
MARGIN_MM = 3.0
INK, RULE = "#1c2226", "#70777b"


@dataclass(frozen=True, slots=True)
class Frame:
    """One moment of the piece shrinking."""

    svg: str
    when: str


@dataclass(frozen=True, slots=True)
class Drawing:
    """What the page shows of a piece coming apart."""

    svg: str
    words: str
    """What the picture shows, for whoever cannot see it; it stands below it for everybody."""
    parts: tuple[tuple[str, str], ...]
    """Name and colour of each part, when there is more than one."""
    frames: tuple[Frame, ...]


def of_piece(cutaway: Cutaway) -> Drawing:
    """The picture of a piece cut through, and its frames."""
    key = (cutaway.seconds.tobytes(), cutaway.part.tobytes(), cutaway.seconds.shape, cutaway.spacing_mm)
    return _drawing(key, cutaway.part_names, cutaway.part_colours, cutaway.text)


@lru_cache(maxsize=32)
def _drawing(
    key: tuple[bytes, bytes, tuple[int, ...], float], names: tuple[str, ...], colours: tuple[str, ...], text: str
) -> Drawing:
    seconds = np.frombuffer(key[0], dtype=np.float64).reshape(key[2])
    part = np.frombuffer(key[1], dtype=np.int8).reshape(key[2])
    spacing = key[3]
    gone = float(np.nanmax(seconds))
    step = next((s for s in STEPS_S if gone / s <= MOST_LINES), STEPS_S[-1])
    at = [float(t) for t in range(step, int(np.ceil(gone)), step)]
    lines = "".join(
        f'<path d="{_path(outline_paths(seconds, spacing, t))}" fill="none" stroke="{INK}" stroke-width="0.5"/>'
        for t in at
    )
    times = listed(duration_text(t) for t in at)
    words = f"{text} Lines, from outside in: what is left after {times}." if at else text
    moments = [gone * i / FRAMES for i in range(FRAMES)]
    return Drawing(
        svg=_framed(seconds, spacing, _solid(seconds, part, spacing, colours, 0.0) + lines, text),
        words=words,
        parts=tuple((n.replace("_", " "), c) for n, c in zip(names, colours, strict=True)) if len(names) > 1 else (),
        frames=tuple(
            Frame(
                _framed(seconds, spacing, _outline(seconds, spacing) + _solid(seconds, part, spacing, colours, t)),
                "dropped in" if t == 0 else f"after {duration_text(t)}",
            )
            for t in moments
        ),
    )


def _solid(
    seconds: NDArray[np.float64], part: NDArray[np.int8], spacing: float, colours: tuple[str, ...], at_s: float
) -> str:
    """What is left at a moment, each part in its colour with an edge that is seen on any ground."""
    drawn = []
    for place, colour in enumerate(colours):
        paths = (
            part_paths(seconds, part, place, spacing, at_s)
            if len(colours) > 1
            else outline_paths(seconds, spacing, at_s)
        )
        if paths:
            shape = _path(paths)
            drawn.append(
                f'<path d="{shape}" fill="{colour}" stroke="{INK}" stroke-width="0.5" fill-rule="evenodd" stroke-linejoin="round"/>'
            )
    return "".join(drawn)


def _outline(seconds: NDArray[np.float64], spacing: float) -> str:
    """The piece as it was, as a thin broken line."""
    shape = _path(outline_paths(seconds, spacing, 0.0))
    return f'<path d="{shape}" fill="none" stroke="{RULE}" stroke-width="0.3" stroke-dasharray="1 1.2"/>'


def _path(paths: list[NDArray[np.float64]]) -> str:
    """Closed paths as SVG path data, to a tenth of a millimetre."""
    return "".join(
        "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in path[:: max(1, len(path) // 90)].tolist()) + "Z" for path in paths
    )


def _framed(seconds: NDArray[np.float64], spacing: float, inside: str, label: str = "") -> str:
    rows, columns = seconds.shape
    width, height = columns * spacing, rows * spacing
    box = f"{-MARGIN_MM:.1f} {-MARGIN_MM:.1f} {width + 2 * MARGIN_MM:.1f} {height + 2 * MARGIN_MM:.1f}"
    told = f'role="img" aria-label="{escape(label)}"' if label else 'aria-hidden="true" focusable="false"'
    return f'<svg viewBox="{box}" {told}>{inside}</svg>'
