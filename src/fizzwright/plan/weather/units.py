"""Figures of a log, and the units they are in: what the header or the cells say, else what the figures can only be."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fizzwright.plan.weather.columns import Column, temperature_unit
from fizzwright.refusal import Refusal
from fizzwright.science.moisture import COLDEST_C, WARMEST_C

Array = NDArray[np.float64]

MISSING = frozenset({"", "na", "n/a", "nan", "null", "none", "nil", "-", "--", "---", "----", "m", "*", "?", "unavailable",
                     "unknown", "err", "error", "ovf", "fault", "missing", "#n/a", "#value!", "-.-", "--.-"})  # fmt: skip
"""What loggers write where they have nothing."""
NEVER = 900.0
"""No air shows so much, in any unit: -999, 9999 and the like stand for a value that is missing."""
COLDEST_ROOM_C, COLDEST_SITE_C = 0.0, -15.0
"""estimate: the middle of a log a maker wants to work by lies above these, indoors and outdoors."""
WARMEST_MIDDLE_C = 45.0
ROUNDED_PCT = 100.5
"""Sensors round: this much still means 100 %."""
_NUMBER = re.compile(r"([-+−]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][-+]?\d+)?)\s*([^\d\s].*)?")
_SHARE = ("%", "% rh", "%rh", "rh", "pct", "percent")


@dataclass
class Figures:
    """The figures of one column, each different text read once."""

    file: str
    column: Column
    held: list[float] = field(default_factory=list)
    units: dict[str, int] = field(default_factory=dict)
    """Units that stand in the cells, with the line of the first."""
    _read: dict[str, float] = field(default_factory=dict)

    def take(self, texts: Iterable[str], lines: Iterable[int]) -> None:
        """Read more cells; nan where a cell says that the value is missing. Refusal for what is no figure."""
        read, held = self._read, self.held
        for text, line in zip(texts, lines, strict=True):
            value = read.get(text)
            if value is None:
                value = read[text] = self._figure(text, line)
            held.append(value)

    def _figure(self, text: str, line: int) -> float:
        plain = text.strip(' \t"')
        if plain.lower() in MISSING:
            return float("nan")
        found = _NUMBER.fullmatch(plain)
        unit = (found[2] or "").strip() if found else ""
        sign = "%" if unit.lower() in _SHARE else temperature_unit(unit) or (unit.upper() if unit in "CFKcfk" else "")
        if found is None or (unit and not sign):
            raise Refusal(
                f"{self.file}, line {line}: read {text[:40]!r} under “{self.column.header}”. Allowed there: a number such as 21.4, "
                "or nothing where the value is missing. Put it right, or take the line out."
            )
        if sign:
            self.units.setdefault(sign, line)
        value = float(found[1].replace(",", ".").replace("−", "-"))
        return value if abs(value) < NEVER else float("nan")


def celsius(
    figures: Figures, values: Array, lines: NDArray[np.int64], said: str, is_outdoor: bool, like: str = ""
) -> tuple[Array, str, str]:
    """The temperatures in degrees Celsius, the unit they were in (C, F, K), and why, in a sentence.

    `said` is the maker's own word (C or F), `like` the unit of the other temperatures of the same log. Refusal, with the
    question and the options that answer it, when the figures could be either or when no air has them.
    """
    file, name = figures.file, figures.column.header
    cells = set(figures.units)
    if len(cells) > 1:
        told = ", ".join(f"{unit} in line {line}" for unit, line in figures.units.items())
        raise Refusal(f"{file}: “{name}” holds more than one unit ({told}). Write one log in one unit.")
    known = values[np.isfinite(values)]
    if not known.size:
        raise Refusal(f"{file}: there is no temperature at all under “{name}”. Check that it is the right column.")
    unit, why = said, f"“{name}” is in °{said}, as you say."
    if not said:
        unit = figures.column.unit or next(iter(cells), "") or like
        why = f"“{name}” is in °{unit}, as " + (
            "its header says." if figures.column.unit else "its cells say." if cells else "the others are."
        )
    if not unit:
        unit, why = _by_figures(file, name, known, is_outdoor)
    found = values - 273.15 if unit == "K" else (values - 32.0) / 1.8 if unit == "F" else values
    bad = np.flatnonzero((found < COLDEST_C) | (found > WARMEST_C))
    if bad.size:
        at, read = int(lines[bad[0]]), float(values[bad[0]])
        asked = ""
        if unit == "C" and np.nanmedian(values) <= 122.0 and np.nanpercentile(values, 99) > WARMEST_C:
            asked = f" Is this log in Fahrenheit? Then say --fahrenheit; {read:g} °F is {(read - 32) / 1.8:.0f} °C."
        raise Refusal(
            f"{file}, line {at}: read {read:g} °{unit} under “{name}”; air here has {COLDEST_C:g} to {WARMEST_C:g} °C."
            f"{asked or ' Put that line right or take it out.'}"
        )
    return found, unit, why


def _by_figures(file: str, name: str, known: Array, is_outdoor: bool) -> tuple[str, str]:
    """The unit the figures can only be in; the question when they can be in two."""
    middle, low, high = float(np.median(known)), float(known.min()), float(known.max())
    span = f"“{name}” names no unit; its figures, {low:g} to {high:g},"
    if low > 200.0:
        return "K", f"{span} can only be kelvin."
    coldest = COLDEST_SITE_C if is_outdoor else COLDEST_ROOM_C
    as_f = (middle - 32.0) / 1.8
    may_be_c = middle <= WARMEST_MIDDLE_C and float(np.percentile(known, 99)) <= WARMEST_C
    may_be_f = coldest <= as_f <= WARMEST_MIDDLE_C
    if may_be_c and may_be_f:
        raise Refusal(
            f"{file}: {span} could be °C or °F: {middle:.0f} in the middle is {middle:.0f} °C, or {as_f:.0f} °C if it is "
            "Fahrenheit. Which is it? Say --celsius or --fahrenheit."
        )
    if may_be_f:
        return "F", f"{span} are taken for °F, as no air has so many °C. If not, say --celsius."
    return "C", f"{span} are taken for °C. If not, say --fahrenheit."


def percent(figures: Figures, values: Array, lines: NDArray[np.int64]) -> tuple[Array, str]:
    """The relative humidities in percent, and how they were read. Refusal below 0 and above 100, with the line."""
    file, name = figures.file, figures.column.header
    known = values[np.isfinite(values)]
    if not known.size:
        raise Refusal(f"{file}: there is no humidity at all under “{name}”. Check that it is the right column.")
    says_pct = "%" in figures.units or figures.column.unit == "%"
    is_share = 0.0 < float(known.max()) <= 1.0
    if is_share and says_pct:
        raise Refusal(
            f"{file}: “{name}” says percent, but no figure is above 1. Is it a fraction (0.58 for 58 %)? Then take the % out of "
            "its header. If it is percent, that air is drier than any sensor can tell."
        )
    found = values * 100.0 if is_share else values
    bad = np.flatnonzero((found < 0.0) | (found > ROUNDED_PCT))
    if bad.size:
        raise Refusal(
            f"{file}, line {int(lines[bad[0]])}: read {float(values[bad[0]]):g} under “{name}”; relative humidity is 0 to 100 %. "
            f"{_rows(bad.size)} so. Put {'it' if bad.size == 1 else 'them'} right, or leave the cell empty."
        )
    told = f"“{name}” is a fraction: 0.58 means 58 %." if is_share else ""
    return np.minimum(found, 100.0), told


def _rows(count: int) -> str:
    return "1 line is" if count == 1 else f"{count} lines are"
