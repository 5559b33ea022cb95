"""The command `fizzwright today`: what this room's air means for one recipe, and the squeeze test."""

from __future__ import annotations

import json
import sys
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from fizzwright.opening import read_recipe, room_of
from fizzwright.refusal import Refusal

if TYPE_CHECKING:
    from fizzwright.catalogue import Catalogue
    from fizzwright.plan.today import Today
    from fizzwright.review.squeezing import Squeeze


def today(
    file: Annotated[Path, typer.Argument(help="A recipe document (TOML).", show_default=False)],
    room: Annotated[
        str | None,
        typer.Option(
            "--room", metavar="AIR", help='Temperature and humidity, such as "21 C 58 %"; else the newest kept today.'
        ),
    ] = None,
    said: Annotated[
        str | None, typer.Option("--squeeze", metavar="ANSWER", help="What a handful does: crumbles, holds or wet.")
    ] = None,
    added: Annotated[
        str, typer.Option("--added", metavar="AMOUNT", help='Binder added so far, such as "6 sprays".')
    ] = "",
    minutes: Annotated[str, typer.Option("--minutes", metavar="N", help="Minutes since the acid went in.")] = "",
    fan: Annotated[bool, typer.Option("--fan", help="A fan blows on the pieces.")] = False,
    is_open: Annotated[bool, typer.Option("--open", help="The window is a hand's width open.")] = False,
    why: Annotated[
        str | None,
        typer.Option("--why", metavar="ID", help="Show the working of one figure, such as open_bowl_minutes."),
    ] = None,
    workshop: Annotated[
        Path | None,
        typer.Option("--workshop", help="The workshop folder; found by itself when the recipe lies in one."),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the result as JSON for another program.")] = False,
) -> None:
    """Say whether to make it today: dry, hold or wait; the plan in order; what to do after a squeeze."""
    from fizzwright.plan.today import ANSWERS, added_g, answer_of, minutes_since, squeezed
    from fizzwright.plan.today import today as reckoned

    squeezing = answer_of(said) if said is not None else None
    if said is not None and squeezing is None:
        raise Refusal(f"--squeeze: read {said!r}. Allowed: {', '.join(ANSWERS)}.")
    if said is None and (added or minutes):
        raise Refusal("--added and --minutes go with an answer of the squeeze test: --squeeze crumbles, holds or wet.")
    recipe, catalogue, shop = read_recipe(file, workshop)
    found = reckoned(recipe, catalogue, shop, room_of(room, shop, catalogue))
    if why is not None:
        _show_working(found, why, catalogue, as_json)
        return
    answer = None
    if squeezing is not None:
        answer = squeezed(
            found, catalogue, squeezing, added_g(added, found, catalogue), minutes_since(minutes, found, catalogue)
        )
    if as_json:
        _print_json(_as_dict(found, answer, is_open=is_open, fan=fan))
    else:
        _show(found, answer, is_open=is_open, fan=fan)


def _as_dict(found: Today, answer: Squeeze | None, *, is_open: bool, fan: bool) -> dict[str, Any]:
    steps = found.steps(is_open=is_open, fan=fan)
    return {
        "fizzwright": 1,
        "recipe": found.recipe.name,
        "room": {"room_c": found.room.room_c, "humidity_pct": found.room.humidity_pct, "told": found.room.told},
        "verdict": found.day.word,
        "sentence": found.day.sentence,
        "needs_minutes": found.day.needs_minutes,
        "has_minutes": found.day.has_minutes,
        "changes": list(found.day.changes),
        "plan": [{"title": step.title, "texts": list(step.texts)} for step in steps],
        "cautions": [found.room_ready, *(notice.text for notice in found.cautions)],
        "figures": [asdict(figure) for figure in found.section.figures],
        **({"squeeze": asdict(answer)} if answer else {}),
    }


def _print_json(data: Any) -> None:
    """JSON that any parser takes: no NaN, no infinities."""
    sys.stdout.write(json.dumps(data, ensure_ascii=False, indent=2, allow_nan=False, default=str) + "\n")


def _show_working(found: Today, why: str, catalogue: Catalogue, as_json: bool) -> None:
    from fizzwright.review.figures import Review
    from fizzwright.terminal import show_working

    report = Review(found.recipe.name, found.mix.as_of, catalogue.version, (found.section,))
    show_working(report, why if "." in why else f"making_day.{why}", catalogue, as_json=as_json)


def _show(found: Today, answer: Squeeze | None, *, is_open: bool, fan: bool) -> None:
    """Print it for eyes."""
    from rich.console import Console
    from rich.padding import Padding
    from rich.text import Text

    from fizzwright.plan.today import ANSWERS
    from fizzwright.weather_words import day_word
    from fizzwright.wording import air_text

    console = Console(highlight=False, markup=False, emoji=False)
    day, room = found.day, found.room
    console.print(Text(f"{found.recipe.name} in {air_text(room.room_c, room.humidity_pct)}, {room.told}", style="bold"))
    line = day_word(day.word)
    line.append(f": {day.sentence}", style="default not bold")
    console.print(line)
    if answer is not None:
        words = f": {answer.add_words}" if answer.add_words else ""
        console.print()
        console.print(Text(f"{ANSWERS[answer.answer]}{words}", style="bold"))
        console.print(Padding(answer.do, (0, 0, 0, 2)))
        if answer.stop_when:
            console.print(Padding(answer.stop_when, (0, 0, 0, 2)))
    if day.changes:
        console.print()
        console.print("What would change it")
        for text in day.changes:
            console.print(Padding(f"- {text}", (0, 0, 0, 2)))
    console.print()
    console.print("Before you begin")
    for text in (found.room_ready, *(notice.text for notice in found.cautions)):
        console.print(Padding(f"- {text}", (0, 0, 0, 2)))
    console.print()
    console.print("The plan, in order")
    for number, step in enumerate(found.steps(is_open=is_open, fan=fan), 1):
        console.print(Padding(f"{number}. {step.title}. {' '.join(step.texts)}", (0, 0, 0, 2)))
