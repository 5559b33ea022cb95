"""Reading a goal document: strict, exact, and with everything that is wrong said at once."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from fizzwright.design.goal import Goal
from fizzwright.design.goal_checks import GoalReading
from fizzwright.design.goal_form import GOAL
from fizzwright.recipe import statements
from fizzwright.recipe.document import file_text, parse
from fizzwright.recipe.problems import RecipeRefused

if TYPE_CHECKING:
    from fizzwright.catalogue import Catalogue
    from fizzwright.catalogue.workshop import Workshop


def read_goal(path: Path, catalogue: Catalogue, workshop: Workshop | None = None) -> Goal:
    """The goal in a file; RecipeRefused with every problem found, also when the file cannot be opened."""
    path = Path(path)
    return read_goal_text(file_text(path, GOAL.what), catalogue, path, workshop)


def read_goal_text(text: str, catalogue: Catalogue, file: Path | None = None, workshop: Workshop | None = None) -> Goal:
    """The goal in a text; RecipeRefused with every problem found.

    `file` names the text in messages, and its folder is where "mesh:" moulds are looked for. With a workshop, money must
    be in its currency.
    """
    data, text = parse(text, file, GOAL)
    reading = GoalReading(catalogue, file, workshop)
    rows: dict[str, int] = {}
    for place, row in statements.rows(text).items():
        rows.setdefault(".".join(str(part) for part in place), row)
    goal = reading.goal(data, text, rows)
    if goal is None:
        raise RecipeRefused(reading.problems(text))
    return goal
