"""What a command was given: the recipe document, the workshop it belongs to, and the air of the making room."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import typer

from fizzwright.refusal import Refusal

if TYPE_CHECKING:
    from fizzwright.catalogue import Catalogue
    from fizzwright.catalogue.workshop import Workshop
    from fizzwright.recipe.model import Recipe
    from fizzwright.review.room import Room


def workshop_of(file: Path | None, folder: Path | None) -> tuple[Catalogue, Workshop | None]:
    """The catalogue with the workshop's additions, and the workshop, if there is one to be found."""
    from fizzwright.catalogue import load, open_workshop

    if folder is None and file is not None:
        folder = next((p for p in file.resolve().parents[:3] if (p / "workshop.toml").is_file()), None)
    if folder is None:
        return load(), None
    if not (folder / "workshop.toml").is_file():
        raise Refusal(
            f"{folder}: there is no workshop.toml in this folder, so it is not a workshop. Name the folder that holds it."
        )
    return open_workshop(folder)


def read_recipe(file: Path, folder: Path | None) -> tuple[Recipe, Catalogue, Workshop | None]:
    """Read a recipe document with the catalogue it belongs to."""
    from fizzwright.recipe.document import read_file

    if not file.exists():
        raise Refusal(f"{file}: there is no such file. Check the name, or list the folder it should be in.")
    catalogue, workshop = workshop_of(file, folder)
    return read_file(file, catalogue), catalogue, workshop


def room_of(room: str | None, shop: Workshop | None, catalogue: Catalogue) -> Room:
    """The air as said, else as kept today, else as usual."""
    from datetime import UTC, datetime

    from fizzwright.plan.readings import todays_room
    from fizzwright.plan.weather.line import read_line
    from fizzwright.review.room import read_room, usual_room

    if room is not None:
        reading = read_line(room)
        return read_room(shop, catalogue, reading.room_c, reading.humidity_pct)
    if shop is None:
        return usual_room(None, catalogue)
    kept = todays_room(shop, catalogue, datetime.now(UTC))
    if kept.trouble:
        typer.echo(kept.trouble, err=True)
    return kept.room
