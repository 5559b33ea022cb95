"""Numbers and money as a maker reads them, the same on screen, in the terminal and on paper."""

from __future__ import annotations

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


def money_text(minor: float, currency: str, digits: int = 2) -> str:
    """Minor units as money: 642 GBP -> £6.42."""
    symbol = {"GBP": "£", "USD": "$", "EUR": "€"}.get(currency, f"{currency}{THIN_SPACE}")
    sign = "-" if minor < 0 else ""
    return f"{sign}{symbol}{abs(minor) / 10**digits:,.{digits}f}"


def with_unit(value: float | int | str, unit: str) -> str:
    """A number and its unit joined by a no-break thin space; money in its own way."""
    if unit.endswith(" minor") and not isinstance(value, str):
        return money_text(value, unit.removesuffix(" minor"))
    return f"{number_text(value)}{THIN_SPACE}{unit}" if unit else number_text(value)
