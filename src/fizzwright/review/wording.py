"""Numbers and lists as a maker reads them."""

from __future__ import annotations

import math
from collections.abc import Iterable


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
