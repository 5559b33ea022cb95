"""What a review is made of: Figures with their working, Notices with their reason, Steps, Sections."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, field
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fizzwright.wording import number_text, with_unit

LEVELS = ("stop", "mind", "good")
LEVEL_WORDS = {"stop": "Stop", "mind": "Take care", "good": "Fine"}
LEVEL_SHAPES = {"stop": "⯃", "mind": "▲", "good": "✓"}
"""What every face prints for a level: never colour alone."""
BASES = ("exact", "published", "estimate", "your_own_batches")


@dataclass(frozen=True, slots=True)
class Input:
    """One named input of a working, with its value and where that came from."""

    name: str
    value: float | str
    unit: str = ""
    source: str = ""
    how: str = ""


@dataclass(frozen=True, slots=True)
class Working:
    """How a figure was reached: the equation in plain text and its inputs."""

    equation: str
    inputs: tuple[Input, ...] = ()


@dataclass(frozen=True, slots=True)
class Figure:
    """One number a maker is told, with its range, its working and its sources."""

    id: str
    value: float | int | str
    unit: str
    text: str
    working: Working
    low: float | int | str | None = None
    high: float | int | str | None = None
    """90 % interval; equal to value when exact (that is what None turns into)."""
    sources: tuple[str, ...] = ()
    basis: str = "estimate"
    range_kind: str = "90 % interval"
    """What low and high mean: "90 % interval", "exact" or "species range"."""
    high_allowed: float | None = None
    """The limit a `limit.` figure was compared with, same unit."""
    share_of_limit: float | None = None
    """value / high_allowed."""

    def __post_init__(self) -> None:
        """Make low and high equal to value when none are given, and refuse a basis nobody defined."""
        if self.low is None:
            object.__setattr__(self, "low", self.value)
        if self.high is None:
            object.__setattr__(self, "high", self.value)
        if self.basis not in BASES:
            raise ValueError(f"figure {self.id}: basis {self.basis!r} is not one of {BASES}")


@dataclass(frozen=True, slots=True)
class Notice:
    """One sentence a maker must read, with its reason; level stop, mind or good."""

    level: str
    text: str
    reason: str
    sources: tuple[str, ...] = ()
    figure: str = ""
    """Id of the figure it speaks about, when there is one."""
    line: str = ""
    """The `use` of the recipe line it speaks about, when there is one."""
    standing: bool = False
    """True for a caution that goes with nearly every piece of its kind: faces collect these after the others, and they
    do not weigh on the verdict."""

    def __post_init__(self) -> None:
        """Refuse a level nobody defined."""
        if self.level not in LEVELS:
            raise ValueError(f"notice {self.text!r}: level {self.level!r} is not one of {LEVELS}")


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the making: a title, what to do, the lines it uses, and the cautions that belong to it."""

    title: str
    text: str
    lines: tuple[str, ...] = ()
    """`use` ids of the lines handled in this step."""
    cautions: tuple[Notice, ...] = ()


MOMENTS = 7
"""How many moments of a curve a table tells."""


@dataclass(frozen=True, slots=True)
class Curve:
    """What changes over time (or along any other axis), for a face to draw or print: one or more lines over one axis."""

    id: str
    title: str
    """What the curve finds, in one short sentence: it stands over the picture."""
    x_name: str
    x_unit: str
    y_name: str
    y_unit: str
    x: tuple[float, ...]
    lines: Mapping[str, tuple[float, ...]]
    """Name of each line as a maker reads it -> its values, as many as x holds."""
    marks: Mapping[str, float] = field(default_factory=dict)
    """Places on the axis worth a word, such as "core shows" -> 95.0."""
    levels: Mapping[str, float] = field(default_factory=dict)
    """Heights worth a line across, such as "smelt from here" -> 1.0."""
    is_log: bool = False
    """True when the values span decades and are drawn on a logarithmic scale."""

    def __post_init__(self) -> None:
        """Refuse lines that do not fit their axis."""
        for name, values in self.lines.items():
            if len(values) != len(self.x):
                raise ValueError(f"curve {self.id}: {name} holds {len(values)} values on an axis of {len(self.x)}")

    @property
    def moments(self) -> tuple[int, ...]:
        """Places in x, evenly spread, that tell the course in a small table."""
        last = len(self.x) - 1
        return tuple(sorted({round(i * last / (MOMENTS - 1)) for i in range(MOMENTS)}))


@dataclass(frozen=True, slots=True)
class Cutaway:
    """A piece cut through its middle: when the water reaches each spot, for a picture of it coming apart."""

    spacing_mm: float
    seconds: NDArray[np.float64]
    """Shape (rows, columns), rows from the top down; nan outside the piece."""
    part: NDArray[np.int8]
    """Which part each spot belongs to, as a place in part_names; -1 outside the piece."""
    part_names: tuple[str, ...]
    part_colours: tuple[str, ...]
    """sRGB hex of each part as it looks dry (uncoloured parts near white)."""
    text: str
    """What the picture shows, in words, for whoever cannot see it."""


@dataclass(frozen=True, slots=True)
class Table:
    """Figures that belong side by side, ready to set: the first column names the row, the others are numbers."""

    id: str
    title: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    note: str = ""


@dataclass(frozen=True, slots=True)
class Swatch:
    """A colour at one moment, shown and told in words."""

    seconds: float
    colour: str
    """sRGB hex."""
    words: str


@dataclass(frozen=True, slots=True)
class Section:
    """One section of the review."""

    id: str
    title: str
    figures: tuple[Figure, ...] = ()
    notices: tuple[Notice, ...] = ()
    steps: tuple[Step, ...] = ()
    ready: tuple[str, ...] = ()
    """Things to have ready, for the making section."""
    curves: tuple[Curve, ...] = ()
    tables: tuple[Table, ...] = ()
    swatches: tuple[Swatch, ...] = ()
    """The colour of the water as time goes on."""
    cutaway: Cutaway | None = None
    """Only for faces that draw; --json leaves it out, as it is a picture's worth of numbers."""

    def figure(self, figure_id: str) -> Figure:
        """The figure of that id; KeyError when the section has none."""
        for figure in self.figures:
            if figure.id == figure_id:
                return figure
        raise KeyError(f"{self.id}.{figure_id}")


@dataclass(frozen=True, slots=True)
class Review:
    """The whole report on one recipe."""

    name: str
    as_of: date
    catalogue_version: str
    sections: tuple[Section, ...]
    composition: tuple[dict[str, Any], ...] = ()
    """A row a line: id, name, part, function, as written, grams, grams_low, grams_high, cured_g, share_pct."""
    assumptions: tuple[str, ...] = field(default_factory=tuple)

    def section(self, section_id: str) -> Section:
        """The section of that id; KeyError when there is none."""
        for section in self.sections:
            if section.id == section_id:
                return section
        raise KeyError(section_id)

    @property
    def notices(self) -> list[tuple[str, Notice]]:
        """All notices with their section id, worst first."""
        pairs = [(s.id, n) for s in self.sections for n in s.notices]
        return sorted(pairs, key=lambda pair: LEVELS.index(pair[1].level))

    @property
    def verdict(self) -> str:
        """stop, mind or good: the worst notice that is about this recipe, not about every piece."""
        return min((n.level for _, n in self.notices if not n.standing), key=LEVELS.index, default="good")

    def as_dict(self) -> dict[str, Any]:
        """The contract of --json: {"fizzwright": 1, "sections": {...}}."""
        return {
            "fizzwright": 1,
            "name": self.name,
            "as_of": self.as_of.isoformat(),
            "catalogue_version": self.catalogue_version,
            "verdict": self.verdict,
            "composition": list(self.composition),
            "assumptions": list(self.assumptions),
            "sections": {
                s.id: {
                    "title": s.title,
                    "figures": [asdict(f) for f in s.figures],
                    "notices": [asdict(n) for n in s.notices],
                    **({"curves": [asdict(c) for c in s.curves]} if s.curves else {}),
                    **({"tables": [asdict(t) for t in s.tables]} if s.tables else {}),
                    **({"swatches": [asdict(w) for w in s.swatches]} if s.swatches else {}),
                    **({"steps": [asdict(p) for p in s.steps], "ready": list(s.ready)} if s.steps else {}),
                }
                for s in self.sections
            },
        }


KEY_FIGURES = {
    "mix": ("total_g", "cured_g", "essential_oil_pct"),
    "mould": ("piece_g", "pieces", "leftover_g"),
    "fizz": ("acid_to_base_eq", "co2_potential_l", "leftover_base_g", "leftover_acid_g"),
    "tub": ("fizz_seconds", "floats", "ph_soaked", "ph_settled", "co2_released_l", "water_colour"),
    "air": ("intensity_0_10", "minutes_to_peak", "total_peak_mg_m3"),
    "skin": ("neat_in_carrier_pct", "in_product_pct", "in_bath_mg_l", "film_pct"),
    "making_day": (
        "day",
        "open_bowl_minutes",
        "binder_first_g",
        "drying_hours",
        "wrap_after_h",
        "alcohol_peak_ppm",
        "dehumidifier_l_per_day",
        "wrap_enough",
    ),
    "cost": ("batch", "piece", "price_for_margin"),
    "kitchen": ("chance_inside_all", "piece_g", "acid_to_base_eq", "ph_settled"),
}
"""What a maker asks for first, by section; every face shows these before the rest."""
OWN_NOTICES = ("making_day",)
"""Sections whose standing notices are shown with the section, not with the piece: they speak of one room and one day."""
NEAR_LIMIT = 0.1
"""A level at a tenth of its limit or more is worth a line of its own."""


def key_figures(section: Section) -> tuple[tuple[Figure, ...], tuple[Figure, ...]]:
    """The figures to show first, and the rest: the key ones, and every level that comes near what it was compared with."""
    keys = KEY_FIGURES.get(section.id, ())
    first = tuple(
        f
        for f in section.figures
        if f.id in keys or (f.id.startswith("limit.") and (f.share_of_limit or 0.0) >= NEAR_LIMIT)
    )
    return first, tuple(f for f in section.figures if f not in first)


def interval(draws: NDArray[np.float64]) -> tuple[float, float]:
    """The 90 % interval of draws (5th and 95th percentile along the first axis)."""
    low, high = np.quantile(draws, [0.05, 0.95], axis=0)
    return float(low), float(high)


def from_draws(
    compute: Callable[..., NDArray[np.float64]],
    grams: NDArray[np.float64],
    draws_g: NDArray[np.float64],
    *more: Any,
) -> tuple[float, float, float]:
    """Value, low and high of one figure: compute(grams, *more) on the likely grams and on the draws of grams."""
    return float(compute(grams, *more)), *interval(compute(draws_g, *more))


def sources_of(*groups: Sequence[str]) -> tuple[str, ...]:
    """Citation ids of several inputs as one tuple, first mention first, each once."""
    return tuple(dict.fromkeys(s for group in groups for s in group))


def amount_text(figure: Figure) -> str:
    """The value of a figure as a maker reads it."""
    return with_unit(figure.value, short_unit(figure.unit))


def short_unit(unit: str) -> str:
    """What stands beside the number: "%" of "% of the cured piece"; money and counts of things stay whole."""
    return unit.split(" ", 1)[0] if unit.startswith(("% ", "times ")) else unit


def range_text(figure: Figure) -> str:
    """The range of a figure, or nothing when it is exact."""
    low, high = figure.low, figure.high
    if low is None or high is None or (low == figure.value and high == figure.value):
        return ""
    if figure.unit.endswith(" minor"):
        return f"{with_unit(low, figure.unit)} to {with_unit(high, figure.unit)}"
    return f"{number_text(low)} to {number_text(high)}"
