"""Single values of a document: a date, the path of a mesh, the nearest known word."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date, datetime
from pathlib import PurePosixPath


def as_date(value: object) -> date | None:
    """A TOML date, or a "2026-11-25" text, as a date; None when it is neither."""
    if isinstance(value, date) and not isinstance(value, datetime):
        return value
    if isinstance(value, str) and re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", value):
        try:
            return date.fromisoformat(value)
        except ValueError:
            return None
    return None


def mesh_path_fault(name: str) -> str | None:
    """Why a mesh may not be read from there: it must lie in the recipe's own folder; None when it may."""
    path = PurePosixPath(name)
    if not name or not name.isprintable() or path.suffix.lower() != ".stl":
        return "A mould of your own is a closed shape saved as STL, beside the recipe."
    if path.is_absolute() or "\\" in name or ":" in name or ".." in path.parts:
        return "The shape must lie in the recipe's own folder or below it. Copy it there."
    return None


def nearest_words(value: object, words: Sequence[str]) -> list[str]:
    """The known words most like what was read, best first."""
    from difflib import get_close_matches

    return get_close_matches(value[:60], words, n=3, cutoff=0.5) if isinstance(value, str) else []


def leads_back(use: str, into: dict[str, set[str]]) -> bool:
    """True when following each use into what it is diluted in comes back to the first."""
    seen: set[str] = set()
    ahead = set(into.get(use, ()))
    while ahead:
        here = ahead.pop()
        if here == use:
            return True
        if here not in seen:
            seen.add(here)
            ahead |= into.get(here, set())
    return False
