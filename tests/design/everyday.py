"""Recipes and the demo workshop for the tests of everyday changes."""

from __future__ import annotations

from pathlib import Path

from fizzwright.catalogue import Catalogue, load, open_workshop
from fizzwright.catalogue.workshop import Workshop
from fizzwright.demo import copy_to
from fizzwright.recipe.document import read_file, read_text
from fizzwright.recipe.model import Recipe


def recipe(lines: str, *, head: str = "", catalogue: Catalogue | None = None) -> Recipe:
    """A recipe of lines written `use = amount [in=...]`, one a row."""
    rows = [f'name = "Test"\nkind = "fizzer"\nmade_on = 2026-11-25\n{head}\n[makes]\nmould = "sphere_65"\n']
    for line in lines.strip().splitlines():
        use, _, rest = line.strip().partition(" = ")
        amount, _, home = rest.partition(" in ")
        rows.append(f'[[line]]\nuse = "{use}"\namount = "{amount}"' + (f'\nin = "{home}"' if home else "") + "\n")
    return read_text("\n".join(rows), catalogue or load())


def shop(folder: Path) -> tuple[Catalogue, Workshop]:
    """A fresh copy of the demo workshop."""
    copy_to(folder)
    catalogue, workshop = open_workshop(folder)
    return catalogue, workshop


def of_demo(folder: Path, name: str) -> tuple[Recipe, Catalogue, Workshop]:
    """A recipe of the demo with its workshop."""
    catalogue, workshop = shop(folder)
    return read_file(folder / "recipes" / f"{name}.toml", catalogue), catalogue, workshop
