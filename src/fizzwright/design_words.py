"""What `fizzwright compose` prints for eyes."""

from __future__ import annotations

from pathlib import Path

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from fizzwright.catalogue import Catalogue
from fizzwright.design.composed import Answer, Composed, Conflict, Promise
from fizzwright.design.goal import Goal
from fizzwright.design.told import figure_rows, proof
from fizzwright.recipe.document import read_text
from fizzwright.recipe.model import Recipe
from fizzwright.wording import listed, number_text, sentence


def show_composed(
    composed: Composed,
    goal: Goal,
    catalogue: Catalogue,
    currency: str,
    *,
    alternatives: bool = True,
    out: Path | None = None,
) -> None:
    """Print the answer with its promises and its proof, others nearly as good, what each demand costs; or the conflict."""
    console = Console(highlight=False, markup=False, emoji=False)
    console.print(Text(goal.name, style="bold"))
    if composed.answer is not None:
        _answer(console, composed, goal, catalogue, currency)
        if alternatives:
            for number, other in enumerate(composed.alternatives, 1):
                _other(console, number, other, catalogue, currency)
        if composed.shadows:
            _texts(console, "What the demands cost", [shadow.text for shadow in composed.shadows])
    elif composed.conflict is not None:
        _conflict(console, composed.conflict)
    elif composed.stopped:
        console.print("Stopped before any recipe was found, so nothing is said of whether there is one.")
    else:
        console.print(
            "No recipe was found in the time it had, and that there is none is not proven. Ask for less at once."
        )
    if composed.notes:
        _texts(console, "To know", composed.notes)
    if out is not None:
        console.print()
        console.print(f"Written as {out}.", soft_wrap=True)


def _answer(console: Console, composed: Composed, goal: Goal, catalogue: Catalogue, currency: str) -> None:
    answer = composed.answer
    assert answer is not None, "asked for only when there is an answer"
    recipe = read_text(answer.text, catalogue, goal.file)
    held = [promise for promise in answer.promises if promise.holds]
    broken = [promise for promise in answer.promises if not promise.holds]
    console.print(_makes(recipe, catalogue))
    if broken:
        said = f"▲ Take care: {listed(promise.asked for promise in broken)} is not kept; see below."
        console.print(Text(said, style="yellow"))
    console.print()
    _lines(console, answer, recipe, catalogue)
    console.print()
    _figures(console, answer, catalogue, currency)
    _promises(console, [*broken, *held])
    console.print()
    console.print(Text("How sure", style="bold"))
    console.print(Padding(proof(composed, goal), (0, 0, 0, 2)))


def _makes(recipe: Recipe, catalogue: Catalogue) -> str:
    count, mould = recipe.makes.count, recipe.makes.mould
    if mould is None:
        return "A powder to pour in." if count is None else f"A powder for {count} bath{'s' if count != 1 else ''}."
    known = catalogue.moulds.get(mould)
    name = known.name if known else mould.removeprefix("mesh:")
    if count is None:
        return f"Pieces in {name}."
    return f"{count} piece{'s' if count != 1 else ''} in {name}."


def _lines(console: Console, answer: Answer, recipe: Recipe, catalogue: Catalogue) -> None:
    table = Table(box=None, padding=(0, 2, 0, 0), show_header=False, pad_edge=False)
    table.add_column(justify="right", no_wrap=True)
    table.add_column(overflow="fold")
    table.add_column(justify="right", no_wrap=True, style="dim")
    for line in recipe.lines:
        entry = catalogue.usable(line.use)
        weighed = line.amount.unit == "g"
        grams = "" if weighed or line.use not in answer.grams else f"{number_text(answer.grams[line.use])} g"
        table.add_row(line.amount.text, entry.name if entry else line.use, grams)
    console.print(Padding(table, (0, 0, 0, 2)))


def _figures(console: Console, answer: Answer, catalogue: Catalogue, currency: str) -> None:
    table = Table(box=None, padding=(0, 2, 0, 0), show_header=False, pad_edge=False)
    table.add_column(justify="right", no_wrap=True)
    table.add_column(overflow="fold")
    for name, value in figure_rows(answer, currency):
        table.add_row(value, name)
    console.print(Padding(table, (0, 0, 0, 2)))
    if answer.unpriced:
        names = listed(entry.name if (entry := catalogue.usable(use)) else use for use in answer.unpriced)
        console.print(Padding(Text(f"No price is known for {names}.", style="dim"), (0, 0, 0, 2)))


def _promises(console: Console, promises: list[Promise]) -> None:
    if not promises:
        return
    table = Table(box=None, padding=(0, 2, 0, 0), pad_edge=False)
    table.add_column("Asked", overflow="fold")
    table.add_column("Got", overflow="fold")
    table.add_column("", no_wrap=True)
    for promise in promises:
        table.add_row(promise.asked, promise.got, "● kept" if promise.holds else "▲ not kept")
    console.print(Padding(table, (1, 0, 0, 2)))


def _other(console: Console, number: int, answer: Answer, catalogue: Catalogue, currency: str) -> None:
    console.print()
    console.print(Text(f"Nearly as good, {number}", style="bold"))
    if answer.differs:
        console.print(Padding(answer.differs, (0, 0, 0, 2)))
    _lines(console, answer, read_text(answer.text, catalogue), catalogue)
    figures = "; ".join(f"{name} {value}" for name, value in figure_rows(answer, currency))
    console.print(Padding(Text(f"{sentence(figures)}.", style="dim"), (0, 0, 0, 2)))


def _conflict(console: Console, conflict: Conflict) -> None:
    console.print(Text("■ No recipe keeps all of this. These cannot hold together:", style="bold red"))
    for words in conflict.words:
        console.print(Padding(f"- {words}", (0, 0, 0, 2)))
    console.print(Padding(Text("Without any one of them the others can be kept.", style="dim"), (0, 0, 0, 2)))
    if conflict.easings:
        _texts(console, "Any one of these would mend it", [easing.text for easing in conflict.easings])


def _texts(console: Console, title: str, texts: list[str] | tuple[str, ...]) -> None:
    console.print()
    console.print(Text(title, style="bold"))
    for text in texts:
        console.print(Padding(f"- {text}", (0, 0, 0, 2)))
