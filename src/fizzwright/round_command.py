"""The command `fizzwright round`: a recipe in the spoons a kitchen really has."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from fizzwright.opening import read_recipe

if TYPE_CHECKING:
    from fizzwright.plan.rounding import Rounded


def round_recipe(
    file: Annotated[Path, typer.Argument(help="A recipe document (TOML).", show_default=False)],
    spoons: Annotated[
        str,
        typer.Option(
            "--spoons",
            metavar="LIST",
            help='What lies in the drawer, such as "1 cup, 1/2 cup, 1 tbsp, 1 tsp"; else the workshop\'s, else a full set.',
        ),
    ] = "",
    within: Annotated[float, typer.Option("--within", metavar="PCT", help="How far off a line may be, percent.")] = 5.0,
    chance: Annotated[
        float,
        typer.Option("--chance", metavar="SHARE", help="Share of kitchens that must stay inside every limit."),
    ] = 0.99,
    out: Annotated[
        Path | None, typer.Option("--out", help="Write the rounded document here (never over a file).")
    ] = None,
    workshop: Annotated[
        Path | None,
        typer.Option("--workshop", help="The workshop folder; found by itself when the recipe lies in one."),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the result as JSON for another program.")] = False,
) -> None:
    """Round a recipe to real spoons: the fewest scoops inside a stated error and a stated chance."""
    from fizzwright.plan.drawer import read_names
    from fizzwright.plan.rounding import round_to_spoons
    from fizzwright.recipe.saving import write_new
    from fizzwright.recipe.weigh import weigh

    recipe, catalogue, shop = read_recipe(file, workshop)
    mix = weigh(recipe, catalogue, lot_analyses=shop.lot_analyses if shop else None)
    named = read_names(spoons, "--spoons") if spoons else ()
    rounded = round_to_spoons(mix, catalogue, shop, spoons=named, within_pct=within, chance=chance)
    if out is not None:
        write_new(out, rounded.text)
    if as_json:
        sys.stdout.write(json.dumps(rounded.as_dict(), ensure_ascii=False, allow_nan=False, indent=2) + "\n")
    else:
        _show(rounded, out)


def _show(rounded: Rounded, out: Path | None) -> None:
    from rich.console import Console
    from rich.padding import Padding
    from rich.table import Table
    from rich.text import Text

    console = Console(highlight=False)
    console.print(Text(rounded.summary, style="bold"))
    console.print(Padding(Text(f"From: {rounded.drawer}."), (0, 0, 0, 2)))
    table = Table(box=None, padding=(0, 2, 0, 0), pad_edge=False, header_style="dim")
    for name in ("line", "was", "by spoon", "by scale", "rounding", "strays"):
        table.add_column(name, overflow="fold")
    for row in rounded.rows:
        table.add_row(
            row.name,
            row.before,
            row.by_spoon or "weigh it",
            row.by_scale,
            f"{row.error_pct:+.1f} %" if abs(row.error_pct) >= 0.05 else "",
            f"{row.scatter_pct:.0f} %",
        )
    console.print(Padding(table, (0, 0, 0, 2)))
    for sentence in (*rounded.sentences, *rounded.notes):
        console.print(Padding(Text(sentence), (0, 0, 0, 2)))
    console.print()
    console.print(f"Written to {out}." if out is not None else "Not written anywhere; add --out FILE to keep it.")
