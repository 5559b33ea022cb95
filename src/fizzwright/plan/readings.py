"""Readings of the making room: typed in two boxes, kept in readings.csv, and the newest one of today found again.

The file lies in the workshop folder: time (ISO 8601, UTC), room_c, humidity_pct. A maker may edit it in any editor.
"""

from __future__ import annotations

import csv
import io
import re
import threading
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from fizzwright.catalogue import Catalogue
from fizzwright.catalogue.workshop import Workshop
from fizzwright.plan.weather.stamps import FIRST_YEAR, LAST_YEAR
from fizzwright.recipe.saving import write_text
from fizzwright.refusal import Refusal
from fizzwright.review.room import Room, read_room, usual_room
from fizzwright.science.moisture import COLDEST_C, WARMEST_C, checked_humidity_pct, checked_temperature_c

FILE = "readings.csv"
HEAD = ("time", "room_c", "humidity_pct")
MOST_BYTES = 5_000_000
"""A reading a minute for a month is about a third of it."""
DOUBTFUL_C = 40.0
"""A bare number from here on is likelier Fahrenheit than a room's Celsius."""
AHEAD = timedelta(minutes=10)
"""A sensor's clock may go before ours by so much; what is later than that has not been read yet."""
_NUMBER = re.compile(r"([-+−]?\d+(?:[.,]\d+)?)\s*(.*)", re.DOTALL)
_CELSIUS = ("c", "°c", "° c", "celsius", "degc", "deg c")
_FAHRENHEIT = ("f", "°f", "° f", "fahrenheit", "degf", "deg f")
_keeping = threading.Lock()
"""Two pages may keep at once; the second must see what the first wrote."""


@dataclass(frozen=True, slots=True)
class Kept:
    """One reading of the room."""

    time: datetime
    """Aware, in UTC, to the minute."""
    room_c: float
    humidity_pct: float


@dataclass(frozen=True, slots=True)
class TodaysRoom:
    """The air to reckon with today."""

    room: Room
    kept: Kept | None = None
    """The reading it comes from; None when the room is taken as it usually is."""
    trouble: str = ""
    """Why the file of readings could not be used, for a maker to read; empty when nothing is wrong."""


def room_temperature_c(text: str) -> float:
    """Degrees Celsius of what was typed: "21", "21,5 °C", "70 F". Refusal in words."""
    read = text.strip()
    if not read:
        raise Refusal("Write what the thermometer shows, such as 21 C or 70 F.")
    found = _NUMBER.fullmatch(read)
    unit = found[2].strip().lower().rstrip(".") if found else ""
    if found is None or unit not in ("", "°", *_CELSIUS, *_FAHRENHEIT):
        raise Refusal(f'Read: "{read[:40]}". Write one number and C or F, such as 21 C or 70 F.')
    degrees = float(found[1].replace(",", ".").replace("−", "-"))
    is_bare = unit in ("", "°")
    if unit in _FAHRENHEIT:
        degrees = (degrees - 32.0) / 1.8
    elif degrees > WARMEST_C or (is_bare and degrees >= DOUBTFUL_C):
        celsius = (degrees - 32.0) / 1.8
        asked = f" Is that Fahrenheit? Then write {found[1]} F; it is {celsius:.0f} °C." if celsius <= WARMEST_C else ""
        hot = f" If the room is that hot, write {found[1]} C." if degrees <= WARMEST_C else ""
        raise Refusal(f'Read: "{read[:40]}". Air here has {COLDEST_C:g} to {WARMEST_C:g} °C.{asked}{hot}')
    if not COLDEST_C <= degrees <= WARMEST_C:
        raise Refusal(f'Read: "{read[:40]}". Air here has {COLDEST_C:g} to {WARMEST_C:g} °C.')
    return degrees


def room_humidity_pct(text: str) -> float:
    """Relative humidity in percent of what was typed: "58", "58 %". Refusal in words."""
    read = text.strip()
    if not read:
        raise Refusal("Write what the hygrometer shows, such as 58 %.")
    found = _NUMBER.fullmatch(read)
    unit = found[2].strip().lower() if found else ""
    if found is None or unit not in ("", "%", "% rh", "%rh", "rh", "percent"):
        raise Refusal(f'Read: "{read[:40]}". Write one number from 0 to 100, such as 58 %.')
    percent = float(found[1].replace(",", ".").replace("−", "-"))
    if not unit.startswith(("%", "percent")) and 0.0 < percent <= 1.0:
        raise Refusal(
            f'Read: "{read[:40]}". Is that {100 * percent:.0f} %? Then write {100 * percent:.0f}; '
            f"if the air is that dry, write {found[1]} %."
        )
    if not 0.0 <= percent <= 100.0:
        raise Refusal(f'Read: "{read[:40]}". Relative humidity is 0 to 100 %.')
    return percent


def _sentence(error: ValueError) -> str:
    text = str(error)
    return text[:1].upper() + text[1:]


def keep(folder: Path, reading: Kept) -> bool:
    """Put a reading at the end of the workshop's readings.csv; False when it stands there already.

    A minute has one reading: another for the same minute takes its place, so that a slip can be put right.
    """
    path = folder / FILE
    minute = reading.time.astimezone(UTC).replace(second=0, microsecond=0)
    row = Kept(minute, round(reading.room_c, 2), round(reading.humidity_pct, 2))
    with _keeping:
        held = _held(path)
        if row in held:
            return False
        rows = [*(old for old in held if old.time != row.time), row]
        out = io.StringIO(newline="")
        table = csv.writer(out, lineterminator="\n")
        table.writerow(HEAD)
        table.writerows((_stamp(k.time), f"{k.room_c:.6g}", f"{k.humidity_pct:.6g}") for k in rows)
        write_text(path, out.getvalue())
    return True


def _stamp(time: datetime) -> str:
    return time.astimezone(UTC).strftime("%Y-%m-%dT%H:%MZ")


def _held(path: Path) -> tuple[Kept, ...]:
    """Every reading kept so far; Refusal when the file cannot be read."""
    try:
        about = path.stat()
    except FileNotFoundError:
        return ()
    return _read(path, about.st_mtime_ns, about.st_size)


@lru_cache(maxsize=8)
def _read(path: Path, changed_ns: int, size: int) -> tuple[Kept, ...]:
    if size > MOST_BYTES:
        raise Refusal(f"{path.name}: {size / 1e6:.0f} MB, too long for a page. Move the old readings to another file.")
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise Refusal(f"{path.name}: cannot be read as UTF-8 text. Save it so, or move it away.") from error
    rows = csv.reader(io.StringIO(text, newline=""))
    try:
        return _rows(path.name, rows)
    except csv.Error as error:
        raise Refusal(
            f"{path.name}, line {rows.line_num}: this is no table ({error}). Put it right, or move it away."
        ) from error


def _rows(file: str, rows: Any) -> tuple[Kept, ...]:
    """What a reader of the file's lines (csv.reader) finds."""
    head: list[str] = next(rows, [])
    if [cell.strip() for cell in head] != list(HEAD):
        raise Refusal(f"{file}, line 1: read {','.join(head)[:60]!r}. It must say {','.join(HEAD)}.")
    return tuple(_kept(file, rows.line_num, row) for row in rows if any(cell.strip() for cell in row))


def moment_of(text: str) -> datetime | None:
    """A moment in ISO 8601, from a year in which there can be readings; None when it is none."""
    try:
        moment = datetime.fromisoformat(text.strip())
    except ValueError:
        return None
    return moment if FIRST_YEAR <= moment.year <= LAST_YEAR else None


def _kept(file: str, line: int, row: list[str]) -> Kept:
    where = f"{file}, line {line}"
    if len(row) != len(HEAD):
        raise Refusal(f"{where}: read {len(row)} values. Each line holds a time, a temperature and a humidity.")
    time = moment_of(row[0])
    if time is None:
        raise Refusal(f"{where}: read the time {row[0][:40]!r}. Write it as 2026-11-25T08:30Z.")
    if time.tzinfo is None:
        raise Refusal(f"{where}: the time {row[0][:40]!r} does not say its zone. Write Z behind it for UTC.")
    try:
        room_c, humidity = float(row[1]), float(row[2])
        checked_temperature_c(room_c)
        checked_humidity_pct(humidity)
    except ValueError as error:
        raise Refusal(f"{where}: read {','.join(row)[:60]!r}. {_sentence(error)}") from error
    return Kept(time.astimezone(UTC), room_c, humidity)


def todays_room(workshop: Workshop, catalogue: Catalogue, now: datetime) -> TodaysRoom:
    """The room by its newest reading of today, by the workshop's clock; without one, as it usually is."""
    usual = usual_room(workshop, catalogue)
    try:
        held = _held(workshop.folder / FILE)
    except Refusal as refused:
        return TodaysRoom(usual, trouble=f"{refused} Until then the room is taken {usual.told}.")
    zone = clock_of(workshop)
    today = now.astimezone(zone).date()
    of_today = [k for k in held if k.time.astimezone(zone).date() == today and k.time <= now + AHEAD]
    if not of_today:
        return TodaysRoom(usual)
    newest = max(of_today, key=lambda k: k.time)
    return TodaysRoom(read_room(workshop, catalogue, newest.room_c, newest.humidity_pct), newest)


def clock_of(workshop: Workshop | None) -> ZoneInfo | None:
    """The workshop's time zone; None for this machine's own."""
    name = workshop.room.time_zone if workshop and workshop.room else ""
    return ZoneInfo(name) if name else None
