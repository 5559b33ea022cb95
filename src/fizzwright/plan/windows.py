"""When to make a batch: the air of a log by the hour, indoors, and the hours in which this batch can be mixed and dried."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.workshop import Workshop
from fizzwright.plan.weather import Log
from fizzwright.plan.weather.clock import zone_of
from fizzwright.recipe.mix import Mix
from fizzwright.refusal import Refusal
from fizzwright.review import curing, damp
from fizzwright.review.pace import pace_of
from fizzwright.review.room import Room, read_room, usual_room
from fizzwright.review.sizes import Range, piece
from fizzwright.review.standing import LONGEST_MINUTES
from fizzwright.review.verdict_of_day import LONGEST_DRYING_H, SPARE, WORDS, Day, day, places
from fizzwright.review.wetting import as_bound
from fizzwright.science.moisture import dew_point_c, humidity_from_ratio
from fizzwright.science.outdoor import outdoor_ratio, room_ratio
from fizzwright.wording import air_text, duration_text

Array = NDArray[np.float64]
Hours = NDArray[np.datetime64]

WAKING = (7, 21)
"""Hours of the local clock between which somebody works, when nothing else is said."""
LIKE_THE_LAST_H = 24
"""Where the log holds nothing, pieces go on drying as in the last so many hours it holds (basis: estimate)."""
PERSON_KG_H = 0.06
"""estimate: water a person at light work gives off in breath and sweat, kg an hour."""
WEIGHT_SPARE, WEIGHT_QUICK, WEIGHT_LONG = 50.0, 30.0, 20.0
ENOUGH_SPARE, ENOUGH_HOURS = 4.0, 6.0
"""Our own choice of what makes one window better than another: minutes to spare (up to four times what the work takes), quick
drying, and hours to choose from (up to six)."""
QUICKEST_H = 1.0 / 60.0

InAir = Callable[[Array, Array], Array]
"""Temperatures in °C and humidities in percent to a figure for each."""


@dataclass(frozen=True, slots=True)
class Window:
    """Hours in a row in which the batch can be made."""

    start: datetime
    end: datetime
    """Aware, by the clock of the log."""
    score: float
    """0 to 100, for the order among windows of one word."""
    word: str
    """dry or hold."""
    why: tuple[str, ...]
    open_bowl_minutes: float
    """In the worst of its hours."""
    drying_hours: float
    """Of pieces pressed at its start, through the hours that follow."""
    dries_by: datetime


@dataclass(frozen=True)
class Forecast:
    """The hours of a log, told for one batch, and the best windows in them."""

    zone: str
    utc: Hours
    room_c: Array
    """Of the room, nan where the log holds nothing; all arrays run over the hours."""
    humidity_pct: Array
    open_bowl_minutes: Array
    places: NDArray[np.int64]
    """Place in WORDS (dry, hold, wait), -1 where the log holds nothing."""
    is_waking: NDArray[np.bool_]
    needs_minutes: float
    """From the acid going in to the last piece pressed."""
    windows: tuple[Window, ...]
    """The best first."""
    found: int
    """How many windows there are in all."""
    told: tuple[str, ...]
    """What was assumed, in sentences; why there is no window, if there is none."""
    reading: Day | None = None
    """The word on the air of the log, when it holds one reading only."""

    def hours_of(self, word: str) -> int:
        """Waking hours of a word: dry, hold or wait."""
        return int(((self.places == WORDS.index(word)) & self.is_waking).sum())

    def as_dict(self) -> dict[str, Any]:
        """The same for another program: hours as lists, null where the log holds nothing."""

        def listed(values: Array) -> list[float | None]:
            return [round(value, 2) if value == value else None for value in values.tolist()]

        return {
            "zone": self.zone,
            "needs_minutes": round(self.needs_minutes, 1),
            "windows": [
                {
                    "start": w.start.isoformat(),
                    "end": w.end.isoformat(),
                    "word": w.word,
                    "score": round(w.score, 1),
                    "open_bowl_minutes": round(w.open_bowl_minutes, 1),
                    "drying_hours": round(w.drying_hours, 1),
                    "dries_by": w.dries_by.isoformat(),
                    "why": list(w.why),
                }
                for w in self.windows
            ],
            "windows_found": self.found,
            "waking_hours": {word: self.hours_of(word) for word in WORDS},
            "told": list(self.told),
            "reading": asdict(self.reading) if self.reading else None,
            "hours": {
                "utc": [f"{moment}Z" for moment in self.utc],
                "room_c": listed(self.room_c),
                "humidity_pct": listed(self.humidity_pct),
                "open_bowl_minutes": listed(self.open_bowl_minutes),
                "word": [WORDS[place] if place >= 0 else None for place in self.places.tolist()],
            },
        }


def indoors(log: Log, room: Room, people: int = 0, is_waking: NDArray[np.bool_] | None = None) -> tuple[Array, Array]:
    """The air of the room hour by hour while the log's air blows through it: °C and percent.

    The room is heated to its usual warmth, or as warm as outdoors when that is warmer. Its water follows the water outdoors
    by its air changes with the window shut; people in it while awake add theirs. What would be more than 100 % drips out.
    """
    room_c = np.fmax(log.room_c, room.room_c)
    room_c[np.isnan(log.room_c)] = np.nan
    known = np.isfinite(log.room_c) & np.isfinite(log.humidity_pct)
    ratio = np.full(known.shape, np.nan)
    ratio[known] = outdoor_ratio(log.room_c[known], log.humidity_pct[known], room.pressure_pa)
    awake = np.ones(known.shape, dtype=bool) if is_waking is None else is_waking
    gain = np.where(awake, people * PERSON_KG_H, 0.0)
    ratio = room_ratio(ratio, room.air_changes_shut, gain, room.volume_m3)
    humidity = np.full(known.shape, np.nan)
    humidity[known] = humidity_from_ratio(room_c[known], ratio[known], room.pressure_pa)
    return room_c, humidity


def windows(
    log: Log,
    mix: Mix,
    catalogue: Catalogue,
    workshop: Workshop | None,
    *,
    outdoor: bool,
    waking: tuple[int, int] = WAKING,
    people: int = 0,
    fan: bool = False,
    top: int = 10,
) -> Forecast:
    """The best windows of a log for one batch, in the workshop's room; outdoor air is taken indoors first. Refusal in words."""
    size = piece(mix, catalogue)
    needs = pace_of(workshop).minutes(size)
    mix = as_bound(mix, catalogue, usual_room(workshop, catalogue))
    told = []
    is_waking, _ = _by_clock(log, waking)
    room_c, humidity = log.room_c, log.humidity_pct
    if outdoor:
        room = usual_room(workshop, catalogue)
        if not room.air_changes_shut > 0:
            raise Refusal(
                "[room] air_changes_shut is 0: no weather reaches that room. Write how often its air changes, such as 0.5."
            )
        room_c, humidity = indoors(log, room, people, is_waking)
        told.append(
            f"Outdoor air is taken indoors: the same water in a room of {room.room_c:g} °C (or as warm as outdoors), which follows by "
            f"{room.air_changes_shut:g} air changes an hour"
            + (
                f", and {people} {'person' if people == 1 else 'people'} in it."
                if people
                else "; nobody breathing in it is counted."
            )
        )
    elif people:
        raise Refusal("--people goes with an outdoor log: one kept indoors has felt whoever was there.")
    found = ranked(
        log,
        room_c,
        humidity,
        needs,
        lambda c, h: damp.open_bowl_minutes(mix, catalogue, size, c, h),
        lambda c, h: curing.drying_hours_in(mix, catalogue, size, c, h, fan),
        damp.danger_humidity_pct(mix, catalogue),
        waking=waking,
        top=top,
        told=tuple(told),
    )
    known = np.flatnonzero(np.isfinite(room_c) & np.isfinite(humidity))
    if known.size != 1:
        return found
    celsius, pct = float(room_c[known[0]]), float(humidity[known[0]])
    word = day(mix, catalogue, size, read_room(workshop, catalogue, celsius, pct))
    said = f"This is one reading, {air_text(celsius, pct)}, and no log: for windows it takes at least a day of rows, one an hour."
    return replace(found, windows=(), found=0, told=(*told, said), reading=word)


def ranked(
    log: Log,
    room_c: Array,
    humidity_pct: Array,
    needs_minutes: float,
    bowl_minutes: InAir,
    drying_h: InAir,
    danger: Range,
    *,
    waking: tuple[int, int] = WAKING,
    top: int = 10,
    told: tuple[str, ...] = (),
) -> Forecast:
    """The windows of a room's hours, by how long a bowl may stand and how long pieces take to dry in any air.

    danger: the humidity from which the mix draws water, percent.
    """
    is_waking, local = _by_clock(log, waking)
    known = np.isfinite(room_c) & np.isfinite(humidity_pct)
    minutes, hours = np.full(known.shape, np.nan), np.full(known.shape, np.nan)
    if known.any():
        minutes[known] = bowl_minutes(room_c[known], humidity_pct[known])
        hours[known] = drying_h(room_c[known], humidity_pct[known])
    dries, is_guessed = _drying(hours, known, needs_minutes / 60.0)
    found = np.full(known.shape, -1, dtype=np.int64)
    found[known] = places(minutes[known], needs_minutes, dries[known], humidity_pct[known], danger)
    held = _Held(log, room_c, humidity_pct, minutes, dries, is_guessed, found, needs_minutes, danger)
    made = [held.window(first, last) for first, last in _spans(found, is_waking, local, needs_minutes)]
    made.sort(key=lambda w: (WORDS.index(w.word), -w.score, w.start))
    if not made:
        told = (*told, held.nearest(is_waking & known))
    return Forecast(
        log.zone,
        log.utc,
        room_c,
        humidity_pct,
        minutes,
        found,
        is_waking,
        needs_minutes,
        tuple(made[:top]),
        len(made),
        told,
    )


@dataclass(frozen=True)
class _Held:
    """What was reckoned hour by hour."""

    log: Log
    room_c: Array
    humidity_pct: Array
    minutes: Array
    dries: Array
    is_guessed: NDArray[np.bool_]
    places: NDArray[np.int64]
    needs: float
    danger: Range

    def moment(self, hours: float) -> datetime:
        """So many hours into the log, by its clock."""
        return (_utc(self.log.utc[0]) + timedelta(hours=hours)).astimezone(zone_of(self.log.zone))

    def window(self, first: int, last: int) -> Window:
        """The hours from first to last (not included) as a window, with why."""
        at = slice(first, last)
        minutes, drying = float(self.minutes[at].min()), float(self.dries[first])
        by = self.moment(first + self.needs / 60.0 + drying)
        word = WORDS[int(self.places[at].max())]
        lasts = "4 hours or more" if minutes >= LONGEST_MINUTES else duration_text(60 * minutes)
        mind = ""
        if minutes < SPARE * self.needs:
            mind = " That leaves little to spare."
        elif word == "hold":
            mind = f" But above {self.danger.value:.0f} % this mix draws water from the air."
        guess = " The log does not hold all those hours; they are taken to be like its last day before."
        dew = dew_point_c(self.room_c[at], np.maximum(self.humidity_pct[at], 1.0))
        why = (
            f"With the acid in, the bowl may stand open {lasts}; the work takes {duration_text(60 * self.needs)}.{mind}",
            f"Pieces pressed at the start dry in about {duration_text(3600 * drying)}, by {by:%a %d %b %H:%M}."
            + (guess if self.is_guessed[first] else ""),
            f"The room has {_span(self.room_c[at], '°C')}, {_span(self.humidity_pct[at], '%')} and a dew point of {_span(dew, '°C')}.",
        )
        score = _score(minutes, self.needs, drying, last - first)
        return Window(self.moment(first), self.moment(last), score, word, why, minutes, drying, by)

    def nearest(self, may: NDArray[np.bool_]) -> str:
        """Why there is no window, by the hour of those that may be that comes nearest to one."""
        if not may.any():
            return "The log holds no waking hour at all. Say other hours with --from and --to."
        with np.errstate(divide="ignore", invalid="ignore"):
            merit = (
                np.minimum(self.minutes / self.needs, 1.0)
                + np.minimum(LONGEST_DRYING_H / self.dries, 1.0)
                + np.minimum(self.danger.high / self.humidity_pct, 1.0)
            )
        at = int(np.argmax(np.where(may, merit, -1.0)))
        work_text = duration_text(60 * self.needs)
        if self.minutes[at] < self.needs:
            why = (
                f"the bowl may stand open {duration_text(60 * float(self.minutes[at]))}, and the work takes {work_text}. "
                "Dehumidify, or mix for fewer pieces at a time."
            )
        elif not self.dries[at] <= LONGEST_DRYING_H:
            why = "pieces would not dry within four days. Dehumidify, or set a fan before them (--fan)."
        elif self.humidity_pct[at] >= self.danger.high:
            why = f"pieces draw water on the rack and swell; this mix bears {self.danger.high:.0f} % at the very most. Dehumidify."
        else:
            why = f"such hours are too few in a row for work of {work_text}. Mix for fewer pieces at a time."
        air = air_text(float(self.room_c[at]), float(self.humidity_pct[at]))
        return f"There is no window. Nearest is {self.moment(at):%a %d %b %H:%M}, at {air}: {why}"


def _utc(moment: np.datetime64) -> datetime:
    return datetime.fromtimestamp(int(moment.astype("datetime64[s]").astype(np.int64)), UTC)


def _by_clock(log: Log, waking: tuple[int, int]) -> tuple[NDArray[np.bool_], NDArray[np.int64]]:
    """Which hours lie wholly in waking hours by the local clock, and the local day each begins in (a running number)."""
    zone = zone_of(log.zone)
    begins = [_utc(moment).astimezone(zone) for moment in log.utc]
    minute = np.array([60 * at.hour + at.minute for at in begins])
    day = np.array([at.toordinal() for at in begins], dtype=np.int64)
    return (minute >= 60 * waking[0]) & (minute + 60 <= 60 * waking[1]), day


def _drying(hours: Array, known: NDArray[np.bool_], after_h: float) -> tuple[Array, NDArray[np.bool_]]:
    """Hours that pieces take to dry when their making begins at each hour and takes after_h, each later hour bringing its own
    share; and where that leans on hours the log does not hold."""
    beyond = int(np.ceil(LONGEST_DRYING_H + after_h)) + 1
    rate = np.zeros(len(hours) + beyond)
    rate[: len(hours)][known] = 1.0 / np.maximum(hours[known], QUICKEST_H)
    is_known = np.concatenate((known, np.zeros(beyond, dtype=bool)))
    sums = np.concatenate(([0.0], np.cumsum(rate[is_known])))
    before = np.concatenate(([0], np.cumsum(is_known)[:-1]))
    least = np.maximum(before - LIKE_THE_LAST_H, 0)
    usual = (sums[before] - sums[least]) / np.maximum(before - least, 1)
    rate = np.where(is_known, rate, usual)
    done = np.concatenate(([0.0], np.cumsum(rate)))
    edges = np.arange(len(done), dtype=float)
    start = np.arange(len(hours)) + after_h
    target = np.interp(start, edges, done) + 1.0
    step = np.searchsorted(done, target - 1e-12)
    inside = np.minimum(step, len(rate))
    with np.errstate(divide="ignore", invalid="ignore"):
        end = inside - 1 + (target - done[inside - 1]) / rate[inside - 1]
    takes = np.where(step < len(done), end - start, np.inf)
    guessed = np.concatenate(([0], np.cumsum(~is_known)))
    last = np.minimum(np.where(np.isfinite(takes), np.ceil(start + takes), 0), len(rate)).astype(int)
    return np.asarray(takes), np.asarray(guessed[last] > guessed[np.minimum(start.astype(int), len(rate))])


def _spans(
    found: NDArray[np.int64], is_waking: NDArray[np.bool_], day: NDArray[np.int64], needs_minutes: float
) -> list[tuple[int, int]]:
    """Where windows begin and end: hours of one day in a row, long enough; of a run that is dry in part, the dry parts."""
    long_enough = max(1, int(np.ceil(needs_minutes / 60.0)))

    def runs(good: NDArray[np.bool_]) -> list[tuple[int, int]]:
        name = np.where(good, day, -1)
        edges = np.flatnonzero(np.diff(np.concatenate(([-1], name, [-1]))))
        return [(int(a), int(b)) for a, b in pairwise(edges) if good[a] and b - a >= long_enough]

    dry = runs(is_waking & (found == 0))
    either = runs(is_waking & ((found == 0) | (found == 1)))
    begins = np.array([a for a, _ in dry], dtype=int)
    held = [(a, b) for a, b in either if not ((begins >= a) & (begins < b)).any()]
    return sorted([*dry, *held])


def _score(minutes: float, needs: float, drying: float, hours: int) -> float:
    spare = np.clip((minutes / needs - 1.0) / (ENOUGH_SPARE - 1.0), 0.0, 1.0)
    quick = 1.0 - drying / LONGEST_DRYING_H
    return float(WEIGHT_SPARE * spare + WEIGHT_QUICK * quick + WEIGHT_LONG * min(hours / ENOUGH_HOURS, 1.0))


def _span(values: Array, unit: str) -> str:
    low, high = round(float(values.min())), round(float(values.max()))
    return f"{low} {unit}" if low == high else f"{low} to {high} {unit}"
