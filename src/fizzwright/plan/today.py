"""Today: what this room's air means for one recipe, put in the order it is done, and the picture of the air."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from typing import get_args

import numpy as np

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.workshop import Workshop
from fizzwright.recipe.amounts import AmountRefused, parse_amount, parse_number
from fizzwright.recipe.measures import drop_ml, poured_density, spray_ml, unit_ml
from fizzwright.recipe.mix import Mix
from fizzwright.recipe.model import Recipe
from fizzwright.recipe.weigh import weigh
from fizzwright.refusal import Refusal
from fizzwright.review import damp, handling, making_day
from fizzwright.review import workshop as making
from fizzwright.review.figures import Figure, Notice, Section
from fizzwright.review.room import Room
from fizzwright.review.setting import Setting
from fizzwright.review.sizes import Piece, Range, piece
from fizzwright.review.squeezing import Answer, Squeeze, squeeze
from fizzwright.review.verdict_of_day import Day
from fizzwright.science.moisture import dew_point_c, humidity_ratio
from fizzwright.wording import duration_text

STEPS = (
    ("Damp", ("danger_humidity_pct", "dehumidifier_l_per_day", "dehumidifier_takes_l_per_day", "dehumidify_hours")),
    ("Window", ("alcohol_peak_ppm", "window_open_cm")),
    ("Bowl", ("open_bowl_minutes", "runaway_onset_minutes")),
    ("Binder", ("binder_first_g", "binder_next_g", "binder_most_g")),
    ("Drying", ("drying_hours", "turn_after_h", "wrap_after_h", "post_after_h")),
    ("Wrapping", ("wrap_enough", "desiccant_g")),
)
"""Title of each step of the day, in order, and the figures it tells."""
IN_TURNS = (
    "In this order: dehumidify first, window shut; machine off and window open while you spray and press; window shut and "
    "machine on again once the last piece is pressed and the smell is gone."
)
"""Why the window is to be open and shut on one day: vapour wants out, and a machine that takes out water wants it shut."""
WHEN_OPEN = {"alcohol_peak_ppm": "alcohol_peak_open_ppm"}
WITH_FAN = {"drying_hours": "fan_drying_hours"}
"""The figure told in place of another when the window is open, or the fan on."""
ANSWERS = {"crumbles": "It crumbles", "holds": "It holds", "wet": "It is wet"}
"""What a squeezed handful does, and how a maker says it."""
WEIGHED_G = {"g": 1.0, "kg": 1000.0, "oz": 28.349523125, "lb": 453.59237}
"""Grams in each unit of mass (international avoirdupois pound, exact by definition)."""
LONGEST_SINCE_MIN = 1440.0
HUMIDITIES_PCT = (20.0, 40.0, 60.0, 80.0, 100.0)
COLDEST_C, WARMEST_C = 5.0, 35.0
"""What the picture of the air shows, unless the room or its dew point lies outside."""


@dataclass(frozen=True, slots=True)
class PlanStep:
    """One step of the day, in the order it is done."""

    title: str
    texts: tuple[str, ...]
    figures: tuple[Figure, ...]


@dataclass(frozen=True, slots=True)
class AirPicture:
    """The air of a room on a psychrometric chart: warmth across, grams of water in a kilogram of dry air up."""

    celsius: tuple[float, ...]
    humid: Mapping[float, tuple[float, ...]]
    """Relative humidity in percent -> g/kg at each warmth."""
    danger: tuple[float, ...]
    """g/kg at each warmth at the humidity from which the mix draws water."""
    danger_pct: float
    room_c: float
    humidity_pct: float
    water_g_kg: float
    dew_point_c: float
    at_room: tuple[tuple[float, float], ...]
    """Relative humidity and g/kg of each line at the room's warmth."""
    title: str
    """What the picture finds."""


@dataclass(frozen=True)
class Today:
    """A recipe in today's air."""

    recipe: Recipe
    mix: Mix
    size: Piece
    setting: Setting
    room: Room
    day: Day
    section: Section
    """The section making_day of the review."""
    danger: Range
    """Relative humidity from which the mix draws water, percent."""
    room_ready: str
    """The first step of the making: who and what is out of the room."""
    cautions: tuple[Notice, ...]
    """What hangs in the air while it is made, vapour and dust: the standing cautions, each once."""

    def steps(self, *, is_open: bool = False, fan: bool = False) -> tuple[PlanStep, ...]:
        """The plan in order, with the window shut or a hand open, with the fan or without."""
        held = {figure.id: figure for figure in self.section.figures}
        instead = (WHEN_OPEN if is_open else {}) | (WITH_FAN if fan else {})
        found = []
        for title, wanted in STEPS:
            names = wanted[:1] if title == "Damp" and self.day.word == "dry" else wanted
            figures = tuple(held[f] for f in (instead.get(name, name) for name in names) if f in held)
            texts = tuple(figure.text for figure in figures)
            if title == "Bowl":
                texts = (
                    f"From the acid going in, the work takes {duration_text(60 * self.day.needs_minutes)}.",
                    *texts,
                )
            dehumidifies = len(figures) > 1 and float(held["dehumidifier_l_per_day"].value) > 0
            if title == "Damp" and dehumidifies and "alcohol_peak_ppm" in held:
                texts = (*texts, IN_TURNS)
            if texts:
                found.append(PlanStep(title, texts, figures))
        return tuple(found)


def today(
    recipe: Recipe, catalogue: Catalogue, workshop: Workshop | None, room: Room, as_of: date | None = None
) -> Today:
    """The verdict, the section and what the plan is made of."""
    mix = weigh(recipe, catalogue, as_of=as_of, lot_analyses=workshop.lot_analyses if workshop else None)
    setting = Setting(workshop, room=room)
    size = piece(mix, catalogue)
    section, word = making_day.made(mix, catalogue, setting)
    materials = handling.of_lines(mix.lines)
    airborne = (*handling.alcohol(materials, catalogue), *handling.dust(materials, catalogue))
    cautions = {n.text: n for n in (*(n for n in section.notices if n.standing), *airborne)}
    return Today(
        recipe,
        mix,
        size,
        setting,
        room,
        word,
        section,
        damp.danger_humidity_pct(mix, catalogue),
        making.section(mix, catalogue, setting).steps[0].text,
        tuple(cautions.values()),
    )


def air_picture(room: Room, danger_pct: float) -> AirPicture:
    """Where this room lies on a psychrometric chart, and where the mix begins to draw water."""
    dew = float(dew_point_c(room.room_c, max(room.humidity_pct, 1.0)))
    coldest = min(COLDEST_C, 5.0 * np.floor(max(dew, -20.0) / 5.0), 5.0 * np.floor(room.room_c / 5.0))
    warmest = max(WARMEST_C, 5.0 * np.ceil(room.room_c / 5.0))
    celsius = tuple(float(c) for c in np.arange(coldest, warmest + 0.5))
    pressure = room.pressure_pa
    above = room.humidity_pct >= danger_pct
    return AirPicture(
        celsius,
        {humidity: _g_kg(celsius, humidity, pressure) for humidity in HUMIDITIES_PCT},
        _g_kg(celsius, round(danger_pct, 2), pressure),
        danger_pct,
        room.room_c,
        room.humidity_pct,
        float(1000.0 * humidity_ratio(room.room_c, room.humidity_pct, pressure)),
        dew,
        tuple((humidity, _g_kg((room.room_c,), humidity, pressure)[0]) for humidity in HUMIDITIES_PCT),
        f"Today's {room.humidity_pct:.0f} % lies {'above' if above else 'below'} the {danger_pct:.0f} % from which this mix "
        f"draws water; things colder than {dew:.0f} °C get wet",
    )


@lru_cache(maxsize=64)
def _g_kg(celsius: tuple[float, ...], humidity_pct: float, pressure_pa: float) -> tuple[float, ...]:
    return tuple(float(w) for w in 1000.0 * humidity_ratio(np.array(celsius), humidity_pct, pressure_pa))


def answer_of(text: str) -> Answer | None:
    """The answer of the squeeze test a button or an option stands for; None when it stands for none."""
    return next((answer for answer in get_args(Answer) if answer == text), None)


def added_g(text: str, today: Today, catalogue: Catalogue) -> float:
    """Grams of the binder in use that were added so far: "6 sprays", "1/4 tsp", "0.8 g"; nothing typed is nothing added."""
    if not text.strip() or text.strip() == "0":
        return 0.0
    try:
        amount = parse_amount(text)
    except AmountRefused as refused:
        raise Refusal(f'Read: "{text[:40]}". {refused}') from refused
    if amount.number is None or amount.unit in ("%", "part"):
        raise Refusal(f'Read: "{text[:40]}". Write how much you added so far: 6 sprays, 1/4 tsp or 0.8 g.')
    number = float(amount.number)
    if amount.unit in WEIGHED_G:
        return number * WEIGHED_G[amount.unit]
    entry = catalogue.materials[binder_of(today, catalogue)]
    if amount.unit == "spray":
        ml = spray_ml(catalogue).ml
    elif amount.unit == "drop":
        ml = drop_ml(entry, catalogue).ml
    else:
        ml = unit_ml(amount.unit, today.recipe.measures, catalogue).ml
    return number * ml * poured_density(entry).g_ml


def minutes_since(text: str, today: Today, catalogue: Catalogue) -> float:
    """Minutes since the acid went in; nothing typed is none."""
    plain = text.strip().removesuffix("minutes").removesuffix("min").strip()
    if plain in ("", "0"):
        return 0.0
    try:
        minutes = float(parse_number(plain))
    except AmountRefused as refused:
        raise Refusal(f'Read: "{text[:40]}". Write minutes, such as 5.') from refused
    if minutes > LONGEST_SINCE_MIN:
        raise Refusal(
            f'Read: "{text[:40]}". A bowl that stood for more than a day is no batch any more. Write minutes, such as 5.'
        )
    return minutes


def binder_of(today: Today, catalogue: Catalogue) -> str:
    """Id of the binder the next addition is told in."""
    return squeeze(today.mix, catalogue, today.setting, today.size, today.room, "crumbles").add_use or "water"


def squeezed(today: Today, catalogue: Catalogue, answer: Answer, grams: float, minutes: float) -> Squeeze:
    """What to do after a squeeze, with so many grams added over so many minutes."""
    return squeeze(today.mix, catalogue, today.setting, today.size, today.room, answer, grams, minutes)
