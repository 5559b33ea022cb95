"""The Quillmoor demo: an invented workshop with recipes, prices and one lot analysis."""

from __future__ import annotations

import shutil
from pathlib import Path

from fizzwright.refusal import Refusal


def folder() -> Path:
    """The demo workshop as shipped; read it, never write to it."""
    return Path(__file__).parent / "quillmoor"


def copy_to(target: Path) -> list[Path]:
    """Copy the demo workshop into a folder a maker may write to; returns the files that were already there and kept.

    Nothing is ever overwritten: a file that exists stays as it is.
    """
    kept = []
    for source in sorted(folder().rglob("*")):
        if not source.is_file():
            continue
        place = target / source.relative_to(folder())
        try:
            place.parent.mkdir(parents=True, exist_ok=True)
            with source.open("rb") as original, place.open("xb") as copy:
                shutil.copyfileobj(original, copy)
        except OSError as error:
            if not place.is_file():
                raise Refusal(
                    f"{place}: the demo cannot be laid here ({error.strerror}). Name another --folder."
                ) from error
            kept.append(place)
    return kept
