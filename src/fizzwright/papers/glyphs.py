"""Which signs the paper fonts can print, from their character maps."""

from __future__ import annotations

import unicodedata
from functools import cache
from pathlib import Path

from fontTools.ttLib import TTFont

from fizzwright.refusal import Refusal

FONTS = Path(__file__).parent / "fonts"
NAMED_AT_MOST = 4


class FontsMissing(Refusal):
    """The paper fonts were not brought in at set-up."""


@cache
def printable() -> frozenset[int]:
    """Code points that at least one of the paper fonts holds a sign for."""
    files = sorted(FONTS.glob("*.ttf"))
    if not files:
        raise FontsMissing(f"no fonts in {FONTS.name}: run `make run` once, which brings the paper fonts in")
    return frozenset().union(*(TTFont(file).getBestCmap() for file in files))


def missing(text: str) -> list[str]:
    """The signs of a text that the paper fonts cannot print, each once, first mention first."""
    held = printable()
    return [c for c in dict.fromkeys(text) if ord(c) not in held and not unicodedata.category(c).startswith(("C", "Z"))]


def missing_in_words(text: str) -> str:
    """One line that says which signs are left as boxes; empty when there are none."""
    signs = missing(text)
    if not signs:
        return ""
    named = [unicodedata.name(c, f"U+{ord(c):04X}").lower() for c in signs[:NAMED_AT_MOST]]
    more = len(signs) - len(named)
    rest = f" and {more} more" if more else ""
    return f"The print font has no sign for: {', '.join(named)}{rest}. They show as boxes here; the recipe file keeps them."
