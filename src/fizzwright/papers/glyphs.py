"""Which signs the paper fonts can print: their character maps, read straight from the font files."""

from __future__ import annotations

import struct
import unicodedata
from functools import cache
from pathlib import Path

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
    return frozenset().union(*(code_points(file.read_bytes()) for file in files))


def code_points(font: bytes) -> set[int]:
    """Code points of a TrueType font's `cmap`: its tables of format 4 and 12 (OpenType specification, cmap)."""
    count = struct.unpack_from(">H", font, 4)[0]
    for index in range(count):
        tag, _, offset, _ = struct.unpack_from(">4sIII", font, 12 + 16 * index)
        if tag == b"cmap":
            return _cmap(font, offset)
    return set()


def _cmap(font: bytes, start: int) -> set[int]:
    found: set[int] = set()
    for index in range(struct.unpack_from(">H", font, start + 2)[0]):
        at = start + struct.unpack_from(">I", font, start + 8 + 8 * index)[0]
        layout = struct.unpack_from(">H", font, at)[0]
        if layout == 4:
            found |= _segments(font, at)
        elif layout == 12:
            groups = struct.unpack_from(">I", font, at + 12)[0]
            for group in range(groups):
                first, last, _ = struct.unpack_from(">III", font, at + 16 + 12 * group)
                found.update(range(first, last + 1))
    return found


def _segments(font: bytes, at: int) -> set[int]:
    """Format 4: segments of code points, each with a shift or a list of glyphs; glyph 0 means no sign."""
    doubled = struct.unpack_from(">H", font, at + 6)[0]
    segments = doubled // 2
    ends = struct.unpack_from(f">{segments}H", font, at + 14)
    starts = struct.unpack_from(f">{segments}H", font, at + 16 + doubled)
    shifts = struct.unpack_from(f">{segments}H", font, at + 16 + 2 * doubled)
    lists_at = at + 16 + 3 * doubled
    lists = struct.unpack_from(f">{segments}H", font, lists_at)
    found = set()
    for index, (first, last, shift, in_list) in enumerate(zip(starts, ends, shifts, lists, strict=True)):
        for code in range(first, last + 1):
            if code == 0xFFFF:
                continue
            glyph = code
            if in_list:
                glyph = struct.unpack_from(">H", font, lists_at + 2 * index + in_list + 2 * (code - first))[0]
            if glyph and (glyph + shift) & 0xFFFF:
                found.add(code)
    return found


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
