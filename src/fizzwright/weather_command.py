"""The command `fizzwright forecast`: a log of temperature and humidity in, the best making windows out."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from fizzwright.opening import read_recipe, workshop_of
from fizzwright.refusal import Refusal

if TYPE_CHECKING:
    from fizzwright.catalogue import Catalogue
    from fizzwright.catalogue.workshop import Workshop
    from fizzwright.plan.weather import Log, Options
    from fizzwright.plan.weather.reading import Progress
    from fizzwright.recipe.model import Recipe

LONG_BYTES = 3_000_000
"""A log that takes a second or more to read."""
MOST_SHOWN = 500


def forecast(
    log: Annotated[Path, typer.Argument(help="A log of temperature and humidity (CSV, TSV).", show_default=False)],
    recipe: Annotated[
        Path | None, typer.Option("--recipe", help="What is to be made; a plain fizzer when not said.")
    ] = None,
    workshop: Annotated[
        Path | None,
        typer.Option("--workshop", help="The workshop folder; found by itself when the recipe or the log lies in one."),
    ] = None,
    is_outdoor: Annotated[
        bool | None,
        typer.Option(
            "--outdoors/--indoors", help="Where the log was kept, when it does not say so itself.", show_default=False
        ),
    ] = None,
    is_celsius: Annotated[
        bool | None,
        typer.Option("--celsius/--fahrenheit", help="The unit of its temperatures, when asked.", show_default=False),
    ] = None,
    day_first: Annotated[
        bool | None,
        typer.Option("--day-first/--month-first", help="What 05/06/2026 means, when asked.", show_default=False),
    ] = None,
    zone: Annotated[
        str, typer.Option("--zone", metavar="NAME", help="The log's clock, such as Europe/London.", show_default=False)
    ] = "",
    where: Annotated[
        list[str] | None,
        typer.Option("--where", metavar="HEADER=VALUE", help="Read only the rows of one place, such as origin=JFK."),
    ] = None,
    column: Annotated[
        list[str] | None,
        typer.Option(
            "--column",
            metavar="ROLE=HEADER",
            help="Which column is time, temperature, humidity or dew_point, when the guess is wrong.",
        ),
    ] = None,
    from_hour: Annotated[int, typer.Option("--from", min=0, max=23, help="Hour of the day you begin at.")] = 7,
    to_hour: Annotated[int, typer.Option("--to", min=1, max=24, help="Hour of the day you stop at.")] = 21,
    people: Annotated[
        int, typer.Option("--people", min=0, max=100, help="How many breathe in the room (for an outdoor log).")
    ] = 0,
    fan: Annotated[bool, typer.Option("--fan", help="A fan blows on the pieces.")] = False,
    top: Annotated[int, typer.Option("--top", min=1, max=MOST_SHOWN, help="How many windows to tell.")] = 10,
    calendar: Annotated[
        Path | None, typer.Option("--calendar", metavar="OUT.ics", help="Also write them for a calendar program.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the result as JSON for another program.")] = False,
) -> None:
    """Find the best hours to make a batch in, from a log of temperature and humidity, and say why."""
    from fizzwright.plan.weather import Options
    from fizzwright.plan.windows import windows
    from fizzwright.recipe.weigh import weigh
    from fizzwright.weather_words import show_forecast

    if to_hour <= from_hour:
        raise Refusal(f"--from {from_hour} --to {to_hour}: the day ends before it begins. Such as --from 7 --to 21.")
    found, catalogue, shop = _recipe(log, recipe, workshop)
    options = Options(
        scale="" if is_celsius is None else "C" if is_celsius else "F",
        day_first=day_first,
        zone=zone,
        workshop_zone=shop.room.time_zone if shop and shop.room else "",
        where=_pairs(where, "--where"),
        columns=_columns(column),
        is_outdoor=is_outdoor,
    )
    air = _read(log, options)
    mix = weigh(found, catalogue, lot_analyses=shop.lot_analyses if shop else None)
    told = windows(
        air,
        mix,
        catalogue,
        shop,
        outdoor=bool(air.is_outdoor),
        waking=(from_hour, to_hour),
        people=people,
        fan=fan,
        top=top,
    )
    if calendar is not None:
        from fizzwright.plan.calendar import calendar_text, write_calendar

        write_calendar(calendar, calendar_text(told, found.name, datetime.now(UTC)))
    if as_json:
        data = {
            "fizzwright": 1,
            "log": log.name,
            "recipe": found.name,
            "read": list(air.told),
            "outdoors": air.is_outdoor,
            "calendar": str(calendar) if calendar else None,
            **told.as_dict(),
        }
        sys.stdout.write(json.dumps(data, ensure_ascii=False, allow_nan=False, indent=1) + "\n")
    else:
        show_forecast(told, air, log.name, found.name, is_plain=recipe is None, calendar=calendar)


def _recipe(log: Path, file: Path | None, folder: Path | None) -> tuple[Recipe, Catalogue, Workshop | None]:
    """The recipe named, or the plain fizzer a newcomer begins from; the workshop of the recipe, else of the log."""
    if file is not None:
        return read_recipe(file, folder)
    from fizzwright import web
    from fizzwright.recipe.document import read_file

    catalogue, shop = workshop_of(log, folder)
    return read_file(Path(web.__file__).parent / "starters" / "plain_fizzer.toml", catalogue), catalogue, shop


def _read(log: Path, options: Options) -> Log:
    from fizzwright.plan.weather import read_log
    from fizzwright.plan.weather.reading import MOST_BYTES

    if not log.exists():
        raise Refusal(f"{log}: there is no such file. Check the name, or list the folder it should be in.")
    if not log.is_file():
        raise Refusal(f"{log}: this is not a file. Name the log itself.")
    try:
        with log.open("rb") as opened:
            data = opened.read(MOST_BYTES + 1)
    except OSError as error:
        raise Refusal(f"{log}: cannot be read ({error.strerror}).") from error
    with _progress(len(data) > LONG_BYTES, log.name) as progress:
        return read_log(data, log.name, options, progress)


@contextmanager
def _progress(is_long: bool, name: str) -> Iterator[Progress | None]:
    """A bar on stderr while a long log is read."""
    if not is_long:
        yield None
        return
    from rich.console import Console
    from rich.progress import Progress as Bar

    console = Console(stderr=True)
    if not console.is_terminal:
        typer.echo(f"Reading {name} ...", err=True)
        yield None
        return
    with Bar(console=console, transient=True) as bar:
        task = bar.add_task(f"Reading {name}", total=None)
        yield lambda done, total: bar.update(task, completed=done, total=total)


def _pairs(given: list[str] | None, option: str) -> dict[str, str]:
    pairs = {}
    for item in given or []:
        name, equals, value = item.partition("=")
        if not equals or not name.strip() or not value.strip():
            raise Refusal(f"{option}: read {item!r}. Write it as NAME=VALUE, such as {option} origin=JFK.")
        pairs[name.strip()] = value.strip()
    return pairs


def _columns(given: list[str] | None) -> dict[str, str]:
    from fizzwright.plan.weather.columns import CHOOSABLE

    chosen = _pairs(given, "--column")
    for role in chosen:
        if role not in CHOOSABLE:
            raise Refusal(f"--column: read {role!r}. Allowed: {', '.join(CHOOSABLE)}, such as --column temperature=B.")
    return chosen
