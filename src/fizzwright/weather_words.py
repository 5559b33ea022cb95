"""What `fizzwright forecast` prints for eyes."""

from __future__ import annotations

from pathlib import Path

from rich.console import Console
from rich.padding import Padding
from rich.text import Text

from fizzwright.plan.weather import Log
from fizzwright.plan.windows import Forecast, Window

SHAPES = {"dry": "✓", "hold": "‖", "wait": "⧗"}
INK = {"dry": "bold green", "hold": "bold yellow", "wait": "bold red"}
"""Shape, word and colour, so that none of them is needed alone."""
CLOSING = (
    "The air of another hour may differ, and what mix and pieces do in it is estimated: look at your own hygrometer before you weigh, "
    "and weigh a piece to see that it has dried."
)


def day_word(word: str) -> Text:
    """The verdict on a day or a window: shape and word; the colour only repeats them."""
    return Text(f"{SHAPES[word]} {word.capitalize()}", style=INK[word])


def when_text(window: Window) -> str:
    """Wed 25 Nov 2026, 09:00 to 14:00."""
    return f"{window.start:%a %d %b %Y, %H:%M} to {window.end:%H:%M}"


def show_forecast(
    forecast: Forecast, log: Log, log_name: str, recipe_name: str, *, is_plain: bool, calendar: Path | None
) -> None:
    """Print how the log was read, and the windows with their reasons."""
    console = Console(highlight=False, markup=False, emoji=False)
    console.print(Text(f"{log_name}: when to make {recipe_name}", style="bold"))
    if is_plain:
        console.print("No recipe was named, so this is for a plain fizzer. For your own: --recipe FILE.")
    for said in log.told:
        console.print(Padding(Text(said, style="dim"), (0, 0, 0, 2)))
    if log.is_outdoor is None:
        console.print(
            Padding("Nothing says where it was kept; it is taken for indoors. If not, say --outdoors.", (0, 0, 0, 2))
        )
    for said in forecast.told:
        console.print(Padding(said, (0, 0, 0, 2)))
    if forecast.reading is not None:
        day = forecast.reading
        console.print()
        line = day_word(day.word)
        line.append(f": {day.sentence}", style="default")
        console.print(line)
        return
    hours = [f"{forecast.hours_of(word)} {word}" for word in ("dry", "hold", "wait")]
    console.print()
    console.print(f"Waking hours: {', '.join(hours)} (clock of {forecast.zone}).")
    for number, window in enumerate(forecast.windows, 1):
        line = Text(f"{number}. ").append_text(day_word(window.word))
        line.append(f"  {when_text(window)}", style="default")
        console.print()
        console.print(line)
        for reason in window.why:
            console.print(Padding(reason, (0, 0, 0, 3)))
    if forecast.found > len(forecast.windows):
        console.print()
        console.print(
            f"{forecast.found - len(forecast.windows)} more windows are ranked below these: --top N tells more."
        )
    if calendar is not None:
        console.print()
        console.print(f"{calendar}: {len(forecast.windows)} windows written for a calendar program.")
    console.print()
    console.print(Text(CLOSING, style="dim"))
