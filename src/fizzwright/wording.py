"""Numbers, money and lists as a maker reads them, the same on screen, in the terminal and on paper."""

from __future__ import annotations

import math
from collections.abc import Iterable

THIN_SPACE = "\u202f"


def number_text(value: float | int | str, unit: str = "") -> str:
    """A figure's number with as many digits as a maker can use: 151, 27.6, 4.35, 0.083."""
    if isinstance(value, str):
        return value
    if isinstance(value, int):
        return f"{value:,}".replace(",", THIN_SPACE)
    size = abs(value)
    if size >= 1000:
        return f"{value:,.0f}".replace(",", THIN_SPACE)
    if size >= 100 or value == 0:
        return f"{value:.0f}"
    if size >= 10:
        return f"{value:.1f}"
    if size >= 1:
        return f"{value:.2f}"
    return f"{value:.2g}" if size >= 1e-4 else f"{value:.1e}"


CURRENCY_DIGITS = {"JPY": 0, "KRW": 0, "CLP": 0, "ISK": 0, "BHD": 3, "KWD": 3, "TND": 3}
"""ISO 4217: minor units where they are not two."""


def money_text(minor: float, currency: str) -> str:
    """Minor units as money: 642 GBP -> £6.42, 642 JPY -> JPY 642."""
    digits = CURRENCY_DIGITS.get(currency, 2)
    symbol = {"GBP": "£", "USD": "$", "EUR": "€"}.get(currency, f"{currency}{THIN_SPACE}")
    sign = "-" if minor < 0 else ""
    return f"{sign}{symbol}{abs(minor) / 10**digits:,.{digits}f}"


def air_text(room_c: float, humidity_pct: float, between: str = " and ") -> str:
    """The air of a room as its two dials show it: 21 °C and 58 %."""
    return f"{shown(round(room_c, 1), 3)}{THIN_SPACE}°C{between}{shown(round(humidity_pct, 1), 3)}{THIN_SPACE}%"


def duration_text(seconds: float) -> str:
    """A span of time as one says it: 45 seconds, 4 minutes, 1.5 hours."""
    if round(seconds) == 60:
        return "1 minute"
    if seconds < 90:
        return f"{seconds:.0f} seconds"
    if seconds < 5400:
        minutes = seconds / 60
        return (
            f"{minutes:.0f} minutes"
            if minutes >= 10 or abs(minutes - round(minutes)) < 0.05
            else f"{minutes:.1f} minutes"
        )
    return f"{seconds / 3600:.1f} hours"


def mass_text(grams: float) -> str:
    """A mass in a sentence: 71 g, 1.3 kg."""
    return f"{grams / 1000:.1f} kg" if abs(grams) >= 1000 else f"{grams:.0f} g"


def with_unit(value: float | int | str, unit: str) -> str:
    """A number and its unit joined by a no-break thin space; money in its own way."""
    if unit.endswith(" minor") and not isinstance(value, str):
        return money_text(value, unit.removesuffix(" minor"))
    unit = unit.replace("m3", "m³")
    return f"{number_text(value)}{THIN_SPACE}{unit}" if unit else number_text(value)


def shown(value: float, digits: int = 2) -> str:
    """A number with so many telling digits and no exponent: 0.0018, 1.2, 340."""
    if not math.isfinite(value):
        return "no number"
    if value == 0:
        return "0"
    decimals = max(0, digits - 1 - math.floor(math.log10(abs(value))))
    text = f"{value:.{decimals}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def apart(value: float, other: float, digits: int = 3) -> tuple[str, str]:
    """Two different numbers side by side, with as many digits as it takes to see that they differ."""
    for more in range(digits, 12):
        pair = shown(value, more), shown(other, more)
        if pair[0] != pair[1]:
            return pair
    return shown(value, digits), shown(other, digits)


def listed(names: Iterable[str], last: str = "and") -> str:
    """Names as a sentence lists them: a, b and c; each once, in order of first mention."""
    once = list(dict.fromkeys(names))
    if len(once) < 2:
        return "".join(once)
    return f"{', '.join(once[:-1])} {last} {once[-1]}"


def sentence(text: str) -> str:
    """The text with a capital first letter."""
    return text[:1].upper() + text[1:]
