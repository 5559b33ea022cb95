"""The command `fizzwright swap`: one thing for another, without a group or an allergen, another scent, or cheaper."""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from fizzwright.opening import read_recipe

if TYPE_CHECKING:
    from fizzwright.design.changed import Changed
    from fizzwright.recipe.model import Recipe


def swap(
    file: Annotated[Path, typer.Argument(help="A recipe document (TOML).", show_default=False)],
    old: Annotated[str, typer.Argument(help="What is to go, such as citric_acid.", show_default=False)] = "",
    new: Annotated[
        str, typer.Argument(help="What is to do its work; the nearest of its kind if not named.", show_default=False)
    ] = "",
    without: Annotated[
        str, typer.Option("--without", metavar="GROUP", help="nuts, animal (vegan), sulfate, alcohol or citric_acid.")
    ] = "",
    without_allergen: Annotated[
        str,
        typer.Option(
            "--without-allergen", metavar="NAME", help="Keep a fragrance allergen below what a label names: Limonene."
        ),
    ] = "",
    scent: Annotated[
        str, typer.Option("--scent", metavar="HOW", help="most (that stays inside every limit), or so many times: 1/2.")
    ] = "",
    chance: Annotated[
        float, typer.Option("--chance", help="With --scent most: the share of kitchens to stay inside.")
    ] = 0.99,
    habit: Annotated[
        str, typer.Option("--habit", help="How those kitchens measure: as_written, scale, levelled or scooped.")
    ] = "as_written",
    match: Annotated[
        str,
        typer.Option(
            "--match",
            metavar="WHAT",
            help='Remake the scent from oils in stock: "stock" (its own scent), another recipe FILE, or families with '
            'weights such as "citrus=3 woody=1".',
        ),
    ] = "",
    cheaper: Annotated[bool, typer.Option("--cheaper", help="The same feel for less.")] = False,
    anyway: Annotated[
        bool, typer.Option("--anyway", help="Take the nearest scent even where it is another one.")
    ] = False,
    out: Annotated[Path | None, typer.Option("--out", help="Write the new document here (never over a file).")] = None,
    workshop: Annotated[
        Path | None,
        typer.Option("--workshop", help="The workshop folder; found by itself when the recipe lies in one."),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the result as JSON for another program.")] = False,
) -> None:
    """Change one thing and keep the rest: swap a material, leave a group or allergen out, change the scent, save money."""
    from fizzwright.design.asking import Ask, change
    from fizzwright.recipe.document import read_file
    from fizzwright.recipe.saving import write_new

    recipe, catalogue, shop = read_recipe(file, workshop)

    def other(said: str) -> Recipe | None:
        path = Path(said)
        return read_file(path, catalogue) if path.suffix == ".toml" or path.is_file() else None

    ask = Ask(old, new, without, without_allergen, scent, match, cheaper, chance, habit, anyway)
    changed = change(recipe, catalogue, shop, ask, other)
    if out is not None:
        write_new(out, changed.text)
    if as_json:
        data = {**changed.as_dict(), "written": str(out) if out is not None else None}
        sys.stdout.write(json.dumps(data, ensure_ascii=False, indent=2, allow_nan=False, default=str) + "\n")
    else:
        _show(changed, out)
    raise typer.Exit(1 if changed.verdict == "stop" else 0)


def _show(changed: Changed, out: Path | None) -> None:
    """Print the lines that change, the figures side by side, and what is new to mind."""
    from rich.console import Console
    from rich.padding import Padding
    from rich.table import Table
    from rich.text import Text

    from fizzwright.design.changed import label_words

    console = Console(highlight=False, soft_wrap=False)

    def table(head: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> None:
        made = Table(box=None, padding=(0, 2, 0, 0), pad_edge=False, header_style="dim")
        for name in head:
            made.add_column(name, overflow="fold")
        for row in rows:
            made.add_row(*row)
        console.print(Padding(made, (0, 0, 0, 2)))

    console.print(Text(changed.summary, style="bold"))
    for note in changed.notes:
        console.print(Padding(Text(note), (0, 0, 0, 2)))
    if changed.rows:
        console.print()
        rows = [(r.name, r.before or "not in it", r.after or "taken out") for r in changed.rows]
        table(("line", "was", "becomes"), rows)
        console.print()
        moved = [(f.name, f.before_text, f.after_text) for f in changed.figures if not f.kept]
        if moved:
            table(("what changes", "was", "becomes"), moved)
        console.print(Padding(Text(f"As before: {', '.join(changed.kept) or 'nothing'}."), (0, 0, 0, 2)))
    if label := label_words(changed):
        console.print(Padding(Text(label), (0, 0, 0, 2)))
    console.print()
    for word, texts in (("Stop", changed.stops), ("Take care", changed.new_to_mind)):
        for text in texts:
            console.print(Padding(Text(f"{word}: {text}"), (0, 0, 0, 2)))
    console.print(f"The review of it: {changed.verdict_words}.")
    console.print(f"Written to {out}." if out is not None else "Not written anywhere; add --out FILE to keep it.")
