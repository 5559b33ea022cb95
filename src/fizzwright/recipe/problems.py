"""What is wrong with a recipe, said so that a maker can put it right; all of it at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from fizzwright.recipe.model import Line
from fizzwright.refusal import Refusal

SHOWN = 60
"""How much of what was read is repeated in a message, characters."""


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing to put right in a recipe or another document of the same make."""

    file: str
    """Name of the file, or "the recipe" or "the goal" when it came from a screen."""
    row: int
    """Line of the file, counted from 1; 0 when the problem has no one place."""
    field: str
    """Where in the document: "name", "makes.mould", "line.amount"; empty for the document as a whole."""
    read: str
    """What stood there; empty when nothing did."""
    allowed: str
    """What may stand there."""
    text: str
    """One or two plain sentences: what is wrong and what to do."""
    nearest: tuple[str, ...] = ()
    """What the maker may have meant, likeliest first."""
    index: int | None = None
    """Which [[line]] of the document, counted from 0; None outside the lines."""

    def __str__(self) -> str:
        """The problem as one paragraph for a terminal or a page."""
        place = self.file + (f", line {self.row}" if self.row else "") + (f", {self.field}" if self.field else "")
        said = f" Read: {self.read}." if self.read else ""
        allowed = f" Allowed: {self.allowed}." if self.allowed else ""
        nearest = f" Nearest: {', '.join(self.nearest)}." if self.nearest else ""
        return f"{place}: {self.text}{said}{allowed}{nearest}"


class RecipeRefused(Refusal):
    """A recipe or goal that cannot be read, or a recipe that cannot be weighed; `problems` holds every reason found."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        self.problems = tuple(sorted(problems, key=lambda p: p.row))
        super().__init__(self.problems)

    def __str__(self) -> str:
        """Every problem, one a paragraph."""
        if len(self.problems) == 1:
            return str(self.problems[0])
        head = f"{len(self.problems)} things to put right in {self.problems[0].file}:"
        return "\n".join([head, *(f"  {p}" for p in self.problems)])


def shown(value: object) -> str:
    """A value as it is repeated in a message: quoted when text, one line, not too long."""
    if isinstance(value, dict | list):
        return "a table" if isinstance(value, dict) else "a list"
    text = f'"{value}"' if isinstance(value, str) else str(value).lower() if isinstance(value, bool) else str(value)
    text = "".join(c if c.isprintable() else f"\\u{ord(c):04x}" for c in text)
    return text if len(text) <= SHOWN else text[: SHOWN - 1] + "…"


def file_name(file: Path | None, what: str = "recipe") -> str:
    """How a message names the document; what says which kind of document one without a file is."""
    return shown(file.name or str(file)).strip(chr(34)) if file else f"the {what}"


def line_problem(
    file: Path | None, index: int, line: Line, field: str, text: str, allowed: str, read: str = ""
) -> Problem:
    """A problem with one line of a recipe that was already read."""
    return Problem(file_name(file), line.row, f"line.{field}", read, allowed, text, index=index)
