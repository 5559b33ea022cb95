"""The command `fizzwright compose`: a goal in, a recipe that keeps every demand out, or what conflicts.

Exit codes: 0 = a recipe, 1 = none (the demands conflict, or none was found in the time), 2 = the goal was refused,
130 = stopped before there was one.
"""

from __future__ import annotations

import json
import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING, Annotated, Any

import typer

from fizzwright.opening import workshop_of
from fizzwright.refusal import Refusal

if TYPE_CHECKING:
    from fizzwright.design.composed import Progress

STAGES = {
    "finding": "Looking for a recipe",
    "checking": "Checking it in full",
    "alternatives": "Looking for others nearly as good",
    "shadows": "Asking what each demand costs",
    "conflict": "Looking for what conflicts",
}


def compose(
    file: Annotated[Path | None, typer.Argument(help="A goal document (TOML).", show_default=False)] = None,
    out: Annotated[Path | None, typer.Option("--out", help="Write the recipe here (never over a file).")] = None,
    workshop: Annotated[
        Path | None, typer.Option("--workshop", help="The workshop folder; found by itself when the goal lies in one.")
    ] = None,
    alternatives: Annotated[
        bool, typer.Option("--alternatives/--no-alternatives", help="Show the others that are nearly as good.")
    ] = True,
    schema: Annotated[bool, typer.Option("--schema", help="Print the JSON Schema of a goal document instead.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print the result as JSON for another program.")] = False,
) -> None:
    """Compose a recipe from a goal: one that keeps every demand, with its proof; or what conflicts."""
    if schema:
        from fizzwright.design.schema import schema as goal_schema

        _print_json(goal_schema())
        return
    if file is None:
        raise Refusal("No goal was named. Write: fizzwright compose GOAL.toml; --schema prints what a goal may say.")
    if out is not None and out.exists():
        # told now, not after the search
        raise Refusal(f"{out}: there is already a file of this name, and it was left alone. Give another name.")
    from fizzwright.design.reading import read_goal
    from fizzwright.recipe.saving import write_new

    catalogue, shop = workshop_of(file, workshop)
    goal = read_goal(file, catalogue, shop)
    if goal.cost_most_minor is not None and not (shop and shop.prices):
        raise Refusal(
            f"{file}: cost.piece_at_most asks what a piece may cost, but no prices are known here. Name the workshop folder "
            "that holds them: --workshop DIR; or remove piece_at_most."
        )
    from fizzwright.design.composing import compose as composed_of

    with _watched() as (on_progress, stop):
        composed = composed_of(goal, catalogue, shop, on_progress=on_progress, stop=stop)
    if out is not None and composed.answer is not None:
        write_new(out, composed.answer.text)
    if as_json:
        _print_json(composed.as_dict())
    else:
        from fizzwright.design_words import show_composed

        currency = shop.currency if shop else goal.cost_currency
        written = out if composed.answer is not None else None
        show_composed(composed, goal, catalogue, currency, alternatives=alternatives, out=written)
    if composed.answer is None:
        raise typer.Exit(130 if composed.stopped else 1)


@contextmanager
def _watched() -> Iterator[tuple[Callable[[Progress], None], Callable[[], bool]]]:
    """Progress on stderr; the first Ctrl-C asks for the best so far, a second one ends at once."""
    from rich.console import Console

    console = Console(stderr=True, highlight=False, markup=False, emoji=False)
    stopping = False
    told: set[str] = set()

    def interrupted(number: int, frame: FrameType | None) -> None:
        nonlocal stopping
        if stopping:
            raise KeyboardInterrupt
        stopping = True
        console.print("Stopping with the best so far; Ctrl-C again ends at once.")

    before = signal.signal(signal.SIGINT, interrupted)
    try:
        with console.status("Beginning (Ctrl-C stops with the best so far)") as status:

            def on_progress(word: Progress) -> None:
                stage = STAGES.get(word.stage, word.stage)
                if console.is_terminal:
                    status.update(f"{stage}: {word.text}" if word.text else stage)
                elif stage not in told:
                    console.print(f"{stage}.")
                told.add(stage)

            yield on_progress, lambda: stopping
    finally:
        signal.signal(signal.SIGINT, before)


def _print_json(data: Any) -> None:
    """JSON that any parser takes: no NaN, no infinities."""
    sys.stdout.write(json.dumps(data, ensure_ascii=False, indent=2, allow_nan=False, default=str) + "\n")
