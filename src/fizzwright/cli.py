"""The command `fizzwright`: thin functions that call the rooms below and print what they return.

Exit codes: 0 = done, 1 = reviewed with a stop, 2 = input refused (the message is on stderr).
Everything heavy is imported inside the command that needs it, so that help appears at once.
"""

from __future__ import annotations

import json
import os
import sys
from pathlib import Path
from typing import Annotated, Any

import typer

from fizzwright.compose_command import compose
from fizzwright.oil_command import oil_app
from fizzwright.opening import read_recipe, room_of, workshop_of
from fizzwright.refusal import Refusal
from fizzwright.round_command import round_recipe
from fizzwright.swap_command import swap
from fizzwright.today_command import today
from fizzwright.weather_command import forecast

app = typer.Typer(
    name="fizzwright",
    help="From a bath-fizzer recipe in cups, spoons and drops to a reviewed, sized and costed piece.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)
app.add_typer(oil_app, name="oil")
app.command("swap")(swap)
app.command("today")(today)
app.command("round")(round_recipe)
app.command("compose")(compose)
app.command("forecast")(forecast)

SLOWEST_MM_S, FASTEST_MM_S = 0.001, 5.0
"""From a piece that lasts for hours to one that is gone in seconds: outside, something else was typed."""
File = Annotated[Path, typer.Argument(help="A recipe document (TOML).", show_default=False)]
Json = Annotated[bool, typer.Option("--json", help="Print the result as JSON for another program.")]
WorkshopFolder = Annotated[
    Path | None,
    typer.Option(
        "--workshop", help="The workshop folder with prices and additions; found by itself when the recipe lies in one."
    ),
]


def _print_json(data: Any) -> None:
    """Print JSON that any parser takes: no NaN, no infinities."""
    sys.stdout.write(json.dumps(data, ensure_ascii=False, indent=2, allow_nan=False, default=str) + "\n")


@app.command()
def review(
    file: File,
    as_json: Json = False,
    why: Annotated[
        str | None,
        typer.Option("--why", metavar="ID", help="Show the working of one figure, such as fizz.co2_potential_g."),
    ] = None,
    workshop: WorkshopFolder = None,
    leave_on: Annotated[
        bool, typer.Option("--leave-on", help="Read allergen thresholds as for products that stay on the skin.")
    ] = False,
    room: Annotated[
        str | None,
        typer.Option(
            "--room",
            metavar="AIR",
            help='Temperature and humidity of the making room, such as "21 C 58 %"; else the newest kept today.',
        ),
    ] = None,
    everything: Annotated[bool, typer.Option("--all", help="Print every figure, reason and caution in full.")] = False,
    speed: Annotated[
        float | None,
        typer.Option(
            "--speed", metavar="MM_S", help="How fast water eats into your pieces, in mm a second, if you know."
        ),
    ] = None,
    kitchens: Annotated[
        int | None,
        typer.Option("--kitchens", metavar="N", help="Draw so many kitchens, a power of two such as 65536."),
    ] = None,
    habit: Annotated[
        str,
        typer.Option("--habit", metavar="HOW", help="How they measure: as_written, scale, levelled or scooped."),
    ] = "as_written",
) -> None:
    """Weigh, size, check and cost a recipe, and say what to mind."""
    from fizzwright.review import review as review_recipe
    from fizzwright.review.kitchens import checked_count, checked_habit
    from fizzwright.review.setting import FEW_KITCHENS

    if speed is not None and not SLOWEST_MM_S <= speed <= FASTEST_MM_S:
        raise Refusal(
            f"--speed: read {speed:g}. Allowed: {SLOWEST_MM_S:g} to {FASTEST_MM_S:g} mm a second; a 65 mm piece that is gone "
            "in 4 minutes loses 0.13."
        )
    try:
        count, how = checked_count(FEW_KITCHENS if kitchens is None else kitchens), checked_habit(habit)
    except ValueError as fault:
        raise Refusal(f"--{fault}.") from fault
    recipe, catalogue, shop = read_recipe(file, workshop)
    air = room_of(room, shop, catalogue)
    report = review_recipe(
        recipe, catalogue, shop, leave_on=leave_on, speed_mm_s=speed, room=air, kitchens=count, habit=how
    )
    if why is not None:
        from fizzwright.terminal import show_working

        show_working(report, why, catalogue, as_json=as_json)
    elif as_json:
        _print_json(report.as_dict())
    else:
        from fizzwright.terminal import show_review

        show_review(report, everything=everything)
    raise typer.Exit(1 if report.verdict == "stop" else 0)


@app.command()
def tidy(
    file: File,
    as_json: Json = False,
    check: Annotated[
        bool, typer.Option("--check", help="Only say whether anything would change; write nothing.")
    ] = False,
) -> None:
    """Rewrite a recipe document in the canonical form, keeping every comment."""
    from fizzwright.recipe.saving import write_text
    from fizzwright.recipe.tidy import tidy as tidied

    read_recipe(file, None)
    before = file.read_bytes().decode("utf-8-sig")
    after = tidied(before)
    changed = after != before
    if changed and not check:
        write_text(file, after)
    if as_json:
        _print_json({"fizzwright": 1, "file": str(file), "changed": changed, "written": changed and not check})
    elif not changed:
        typer.echo(f"{file}: already tidy.")
    else:
        typer.echo(f"{file}: {'would be rewritten' if check else 'rewritten'} in the canonical form.")


@app.command()
def size(
    file: File,
    count: Annotated[int | None, typer.Option("--count", help="Make this many pieces.")] = None,
    total: Annotated[
        str | None, typer.Option("--total", metavar="AMOUNT", help='Make this much mix, such as "900 g".')
    ] = None,
    bag: Annotated[
        list[str] | None,
        typer.Option(
            "--bag", metavar="ID=AMOUNT", help="Use up what is left, such as citric_acid=250g; repeat for more bags."
        ),
    ] = None,
    times: Annotated[
        str | None,
        typer.Option("--times", metavar="NUMBER", help="Make this many times the recipe, exactly: 2, 1/2, 1 1/2."),
    ] = None,
    whole: Annotated[bool, typer.Option("--whole", help="Add filler until the last piece is whole.")] = False,
    mould: Annotated[
        str | None,
        typer.Option("--mould", metavar="ID", help="Press the same mix in another mould, such as sphere_50."),
    ] = None,
    out: Annotated[
        Path | None, typer.Option("--out", help="Write the resized document here (never over a file).")
    ] = None,
    workshop: WorkshopFolder = None,
    as_json: Json = False,
) -> None:
    """Resize a recipe: to a count, a total, another mould, what is left in the bag, or a whole last piece."""
    from fizzwright.plan.sizing import resize
    from fizzwright.recipe.saving import write_new

    recipe, catalogue, shop = read_recipe(file, workshop)
    sized = resize(
        recipe, catalogue, shop, count=count, total=total, bag=tuple(bag or ()), whole=whole, times=times, mould=mould
    )
    if out is not None:
        write_new(out, sized.text)
    if as_json:
        _print_json(sized.as_dict())
    else:
        from fizzwright.terminal import show_sized

        show_sized(sized, out)


@app.command()
def catalogue(
    query: Annotated[str, typer.Argument(help="An id, a common name, a label name, a CAS number or a botanical name.")],
    as_json: Json = False,
    limit: Annotated[int, typer.Option("--limit", min=1, max=200, help="How many hits to list.")] = 12,
    workshop: WorkshopFolder = None,
) -> None:
    """Look up a material, oil, constituent, mould, rule or source, with where each value came from."""
    from fizzwright.terminal import hits_as_dict, show_hits

    book, _ = workshop_of(None, workshop)
    hits = book.search(query, limit=limit)
    if as_json:
        _print_json(hits_as_dict(hits, book))
    else:
        show_hits(query, hits, book)


@app.command()
def paper(
    kind: Annotated[str, typer.Argument(help="Which paper: card (the recipe card).")],
    file: File,
    out: Annotated[
        Path | None, typer.Option("--out", help="Where to write the PDF; beside the recipe when not given.")
    ] = None,
    sheet: Annotated[str, typer.Option("--sheet", help="a5, a4 or us-letter.")] = "a5",
    spoons: Annotated[
        str,
        typer.Option(
            "--spoons", metavar="LIST", help='The spoons to measure with, such as "1 cup, 1/4 cup, 1 tbsp, 1 tsp".'
        ),
    ] = "",
    workshop: WorkshopFolder = None,
    as_json: Json = False,
) -> None:
    """Print a paper as PDF: the recipe card with kitchen and scale measures."""
    from fizzwright.papers.card import PAPERS, card_pdf
    from fizzwright.plan.drawer import read_names
    from fizzwright.recipe.saving import write_pdf
    from fizzwright.recipe.weigh import weigh
    from fizzwright.review import review_mix

    if kind != "card":
        raise Refusal(f"paper {kind!r} is not one we print. Allowed: card.")
    if sheet not in PAPERS:
        raise Refusal(f"sheet {sheet!r} is not one we print on. Allowed: {', '.join(PAPERS)}.")
    recipe, book, shop = read_recipe(file, workshop)
    mix = weigh(recipe, book, lot_analyses=shop.lot_analyses if shop else None)
    report = review_mix(mix, book, shop)
    target = out or file.with_suffix(".pdf")
    named = read_names(spoons, "--spoons") if spoons else ()
    write_pdf(target, card_pdf(report, mix, book, paper=sheet, workshop=shop, spoons=named))
    if as_json:
        _print_json({"fizzwright": 1, "paper": kind, "file": str(target), "verdict": report.verdict})
    else:
        typer.echo(f"{target}: recipe card written.")
    raise typer.Exit(1 if report.verdict == "stop" else 0)


@app.command()
def schema(as_json: Json = True) -> None:
    """Print the JSON Schema of the recipe document (it is JSON with or without --json)."""
    from fizzwright.recipe.schema import schema as recipe_schema

    _print_json(recipe_schema())


@app.command()
def serve(
    folder: Annotated[Path, typer.Argument(help="The workshop folder to work in.")],
    port: Annotated[int, typer.Option("--port", min=1, max=65535, help="Port on this machine.")] = 8765,
    as_json: Json = False,
) -> None:
    """Open the workbench on a workshop folder, on this machine only."""
    _serve(folder, port, as_json)


@app.command()
def demo(
    port: Annotated[int, typer.Option("--port", min=1, max=65535, help="Port on this machine.")] = 8765,
    folder: Annotated[
        Path, typer.Option("--folder", help="Where the demo workshop is laid; what is already there is kept.")
    ] = Path("build/quillmoor"),
    as_json: Json = False,
) -> None:
    """Lay the Quillmoor demo workshop and open the workbench on it."""
    from fizzwright.demo import copy_to

    kept = copy_to(folder)
    if kept and not as_json:
        typer.echo(f"{folder}: {len(kept)} files of an earlier visit kept as they are.")
    _serve(folder, port, as_json)


def _serve(folder: Path, port: int, as_json: bool) -> None:
    """Serve the workbench on loopback until interrupted."""
    import socket

    import uvicorn

    from fizzwright.web.app import create_app

    if not (folder / "workshop.toml").is_file():
        raise Refusal(
            f"{folder}: there is no workshop.toml in this folder. Name a workshop folder, or try: fizzwright demo"
        )
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind(("127.0.0.1", port))
        except OSError as error:
            raise Refusal(
                f"port {port} is taken by another program ({error.strerror}). Try another: --port {port + 1}"
            ) from error
    application = create_app(folder)
    url = f"http://127.0.0.1:{port}/"
    if as_json:
        _print_json({"fizzwright": 1, "url": url, "workshop": str(folder)})
        sys.stdout.flush()
    else:
        typer.echo(f"The workbench of {folder.name} is open at {url} (stop it with Ctrl-C).")
    uvicorn.run(application, host="127.0.0.1", port=port, log_level="warning")


def main() -> None:
    """Run the command and turn every refusal into a message on stderr and exit code 2."""
    try:
        app()
    except Refusal as error:
        typer.echo(str(error), err=True)
        sys.exit(2)
    except BrokenPipeError:
        # whoever read our output has enough (head, a pager): not a verdict, and nothing to say
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(141)
    except KeyboardInterrupt:
        typer.echo("Stopped; nothing was half written.", err=True)
        sys.exit(130)


if __name__ == "__main__":
    main()
