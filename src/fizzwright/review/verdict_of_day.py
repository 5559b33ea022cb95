"""The verdict on a making day: dry, hold or wait, why, and what would change it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fizzwright.catalogue import Catalogue
from fizzwright.recipe.mix import Mix
from fizzwright.review import curing, damp
from fizzwright.review.room import Room
from fizzwright.review.sizes import Piece, Range, handled_pieces
from fizzwright.review.standing import LONGEST_MINUTES
from fizzwright.science.moisture import Numbers, humidity_from_ratio, humidity_ratio
from fizzwright.wording import duration_text

Array = NDArray[np.float64]

WORDS = ("dry", "hold", "wait")
"""From the best to the worst: go ahead; do something first; another day."""
SPARE = 2.0
"""estimate: a bowl that may stand twice as long as the work takes leaves room for a telephone call."""
LONGEST_DRYING_H = 96.0
"""estimate: a piece that has not dried in four days has drawn as much as it lost."""
HUMIDITIES_PCT = np.arange(10.0, 91.0)
"""Air that is tried to find where the word changes."""
DRIEST_PCT = 30.0
"""estimate: drier than this a household dehumidifier hardly makes a room."""
WARMEST_WORK_C = 27.0
"""Warmer than this nobody works gladly, and fats soften."""
WARMER_C = (3.0, 5.0, 8.0)
"""Steps a heater can do."""


@dataclass(frozen=True, slots=True)
class Day:
    """What this air means for this batch."""

    word: str
    """dry, hold or wait."""
    sentence: str
    """Why, in one sentence."""
    needs_minutes: float
    """From the acid going in to the last piece pressed."""
    has_minutes: float
    """How long the bowl may stand open."""
    changes: tuple[str, ...] = ()
    """What would make it better, or worse."""


def places(
    has_minutes: Array, needs_minutes: float, drying_h: Array, humidity_pct: Numbers, danger: Range
) -> NDArray[np.int64]:
    """Place in WORDS for arrays of rooms: how long the bowl may stand, how long pieces dry, how damp the mix bears it.

    danger: humidity from which the mix draws water; to be counted on from its high end, to be minded from the likely one.
    """
    waits = (has_minutes < needs_minutes) | ~(drying_h <= LONGEST_DRYING_H) | (np.asarray(humidity_pct) >= danger.high)
    holds = (has_minutes < SPARE * needs_minutes) | (np.asarray(humidity_pct) >= danger.value)
    return np.asarray(np.where(waits, 2, np.where(holds, 1, 0)))


Tried = Callable[[Numbers, Numbers], tuple[Array, Array, NDArray[np.int64]]]
"""Other air, tried: minutes the bowl may stand, hours to dry, place in WORDS."""


def day(mix: Mix, catalogue: Catalogue, size: Piece, room: Room) -> Day:
    """The verdict on this room for this mix; what would change it is found by trying other air and fewer pieces."""
    needs = room.pace.minutes(size)
    danger = damp.danger_humidity_pct(mix, catalogue)

    def tried(room_c: Numbers, humidity_pct: Numbers) -> tuple[Array, Array, NDArray[np.int64]]:
        celsius, humidity = np.broadcast_arrays(np.asarray(room_c, dtype=float), np.asarray(humidity_pct, dtype=float))
        minutes = damp.open_bowl_minutes(mix, catalogue, size, celsius, humidity)
        hours = curing.drying_hours_in(mix, catalogue, size, celsius, humidity)
        return minutes, hours, places(minutes, needs, hours, humidity, danger)

    found = tried(room.room_c, room.humidity_pct)
    minutes, hours, place = float(found[0]), float(found[1]), int(found[2])
    changes = [
        *_other_air(place, room, tried),
        *_warmer(place, room, tried),
        *_fewer(place, minutes, hours, size, room),
    ]
    return Day(
        WORDS[place],
        _why(place, minutes, hours, needs, room, danger, damp.can_fizz(mix)),
        needs,
        minutes,
        tuple(changes),
    )


def _why(place: int, minutes: float, hours: float, needs: float, room: Room, danger: Range, fizzes: bool) -> str:
    lasts = "4 hours or more" if minutes >= LONGEST_MINUTES else duration_text(60 * minutes)
    has = f"{'With the acid in it the' if fizzes else 'The'} bowl may stand open for {lasts}"
    work = f"the work takes {duration_text(60 * needs)}"
    if not hours <= LONGEST_DRYING_H:
        dries = "would never dry" if np.isinf(hours) else f"would take {hours / 24:.0f} days to dry"
        return f"In this air a piece {dries}, and it may fizz away meanwhile."
    if minutes < needs:
        return f"{has}; {work}. That is too short."
    if place == 2:
        return f"At {room.humidity_pct:.0f} % pieces draw water on the rack and swell: this mix bears {danger.high:.0f} % at the very most."
    if minutes < SPARE * needs:
        return f"{has}; {work}. That leaves little to spare."
    if place == 1:
        return f"{has}, and {work}; but above {danger.value:.0f} % this mix draws water from the air."
    return f"{has}; {work}."


def _most_humid(found: NDArray[np.int64], place: int) -> float | None:
    """The highest humidity of HUMIDITIES_PCT up to which the word is no worse than this one; None when there is none."""
    good = np.logical_and.accumulate(found <= place)
    return float(HUMIDITIES_PCT[good][-1]) if good.any() else None


def _other_air(place: int, room: Room, tried: Tried) -> list[str]:
    """The humidity, at this warmth, at which the word changes."""
    found = tried(room.room_c, HUMIDITIES_PCT)[2]
    dry, hold = _most_humid(found, 0), _most_humid(found, 1)
    told = []
    if place > 0 and dry is not None and DRIEST_PCT <= dry < room.humidity_pct:
        told.append(f"Dehumidify to {dry:.0f} % or less: then it is dry.")
    if place == 2 and hold is not None and DRIEST_PCT <= hold < room.humidity_pct and hold != dry:
        told.append(f"At {hold:.0f} % or less it would do with care (hold).")
    if place > 0 and (dry is None or dry < DRIEST_PCT):
        told.append(
            "No air that a dehumidifier reaches would make it dry: use less binder or a stronger alcohol, or make fewer pieces."
        )
    if place == 0 and dry is not None and dry < HUMIDITIES_PCT[-1]:
        told.append(f"Above {dry:.0f} % it would do with care (hold).")
    if place < 2 and hold is not None and dry != hold and hold < HUMIDITIES_PCT[-1]:
        told.append(f"Above {hold:.0f} % it would have to wait.")
    return told


def _warmer(place: int, room: Room, tried: Tried) -> list[str]:
    """Whether the same air would do when the heater is on; warm air holds more, so its humidity falls."""
    if place == 0:
        return []
    ratio = humidity_ratio(room.room_c, room.humidity_pct, room.pressure_pa)
    for more in WARMER_C:
        celsius = room.room_c + more
        if celsius > WARMEST_WORK_C:
            break
        humidity = float(humidity_from_ratio(celsius, ratio, room.pressure_pa))
        there = int(tried(celsius, humidity)[2])
        if there < place:
            return [
                f"Warm the room to {celsius:.0f} °C before you begin, with no flame, and switch the heater off before you spray: the "
                f"same air has {humidity:.0f} % then, and the word is {WORDS[there]}."
            ]
    return []


def _fewer(place: int, minutes: float, hours: float, size: Piece, room: Room) -> list[str]:
    """How many pieces at a time would leave enough to spare."""
    fewer = room.pace.pieces_in(minutes / SPARE)
    if place == 0 or not hours <= LONGEST_DRYING_H or not 1 <= fewer < handled_pieces(size):
        return []
    return [
        f"Mix for {fewer} {'piece' if fewer == 1 else 'pieces'} at a time, and keep the acid out of the rest until then."
    ]
