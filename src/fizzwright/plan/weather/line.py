"""One reading out of whatever a sensor shows or writes: "21.4 °C 58 %", JSON, or the last lines of its log."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from fizzwright.plan.readings import room_humidity_pct, room_temperature_c
from fizzwright.plan.weather.columns import column_of, header_in
from fizzwright.plan.weather.stamps import read_stamp
from fizzwright.refusal import Refusal
from fizzwright.science.outdoor import humidity_from_dew_point_pct
from fizzwright.wording import air_text

MOST_CHARACTERS = 200_000
SHORT_NAMES = {"t": "temperature", "h": "humidity"}
"""What little sensors call them; in the headers of a log a lone letter says too little."""
ALLOWED = 'Write it like "21.4 °C 58 %", or paste the line of a sensor or the end of its log.'
_STAMP = re.compile(
    r"\d{4}[-/.]\d{1,2}[-/.]\d{1,2}(?:[T ,;]+\d{1,2}:\d{2}(?::\d{2}(?:[.,]\d+)?)?)?(?:\s*(?:Z|UTC|GMT|[+-]\d{2}:?\d{2})\b)?"
    r"|\d{1,2}[-/.]\d{1,2}[-/.]\d{2,4}[T ,;]+\d{1,2}:\d{2}(?::\d{2})?(?:\s*[AaPp][Mm]\b)?"
    r"|\b\d{1,2}:\d{2}(?::\d{2})?(?:\s*[AaPp][Mm]\b)?|^\d{9,13}(?=[,;\t ])"
)
_VALUE = re.compile(
    r"(?P<label>[A-Za-zÀ-ÿ][A-Za-zÀ-ÿ_ .]{0,60}?)?\s*[=:]?\s*(?P<number>[-+−]?\d+(?:[.,]\d+)?(?:[eE][-+]?\d+)?)\s*"
    r"(?P<unit>(?:°|º|˚|deg(?:rees)?)\s*[CFcf]?(?![A-Za-z])|[CFK](?![A-Za-z])|℃|℉|%(?:\s*RH)?|pct\b|percent\b)?"
)


@dataclass(frozen=True, slots=True)
class Reading:
    """The air of a room at one moment."""

    room_c: float
    humidity_pct: float
    when: datetime | None
    """As written: aware where the line says its zone, else without; None when it says no time."""
    told: tuple[str, ...]
    """How it was read."""


def read_line(text: str) -> Reading:
    """The reading in a pasted line; of several lines the last counts. Refusal in words."""
    if len(text) > MOST_CHARACTERS:
        raise Refusal(f"That is {len(text)} characters long. Paste the last few lines of the log, not all of it.")
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    if not lines:
        raise Refusal(f"There is nothing here. {ALLOWED}")
    held = _json(text.strip()) or _json(lines[-1])
    if held is not None:
        return _from_names(held, lines[-1])
    return _under_header(lines) or _from_line(lines[-1])


def _json(text: str) -> dict[str, Any] | None:
    """The names and values of a JSON text (the last of a list); None when it is something else."""
    if text[:1] not in ("{", "["):
        return None
    try:
        held = json.loads(text)
    except (ValueError, RecursionError) as error:
        if text[:1] == "[" or "\n" in text:
            return None
        raise Refusal(f"This begins like JSON, but is broken ({error}). {ALLOWED}") from error
    while isinstance(held, list) and held:
        held = held[-1]
    if not isinstance(held, dict):
        raise Refusal(f"This JSON holds no names, so nothing says which number is the humidity. {ALLOWED}")
    flat: dict[str, Any] = {}
    queue = [held]
    while queue:
        for name, value in queue.pop(0).items():
            if isinstance(value, dict):
                queue.append(value)
            elif isinstance(value, int | float | str) and not isinstance(value, bool):
                flat.setdefault(str(name), value)
    return flat


def _from_names(held: dict[str, Any], line: str) -> Reading:
    """The reading out of named values."""
    found: dict[str, str] = {}
    names: dict[str, str] = {}
    rank = -9
    for place, (key, value) in enumerate(held.items()):
        name = SHORT_NAMES.get(key.lower(), key)
        column = column_of(place, name)
        if not column.role or (column.role in found and not (column.role == "time" and column.rank > rank)):
            continue
        rank = column.rank if column.role == "time" else rank
        found[column.role] = f"{value} {column.unit if column.unit in 'CF' else ''}".strip()
        names[column.role] = key
    unit = str(held.get("unit") or held.get("units") or held.get("temperature_unit") or "").strip()
    if unit and "temperature" in found and found["temperature"][-1:].isdigit():
        found["temperature"] += f" {unit}"
    when = read_stamp(found["time"]) if "time" in found else None
    said = ", ".join(f"“{name}” as {role.replace('_', ' ')}" for role, name in names.items())
    return _reading(found.get("temperature"), found.get("humidity"), found.get("dew_point"), when, line, said)


def _under_header(lines: list[str]) -> Reading | None:
    """The last row read by the header above it; None when no header was pasted along."""
    for separator in ("\t", ";", "|", ","):
        rows = [[cell.strip().strip('"') for cell in line.split(separator)] for line in lines]
        try:
            header = header_in(rows, {})
        except Refusal:
            continue
        if header is None or header.at >= len(rows) - 1:
            continue
        last = rows[-1]
        if len(last) < max(c.place for c in header.of.values()) + 1:
            raise Refusal(
                f'Read: "{lines[-1][:80]}". It has fewer values than the headers above it. Paste the whole line.'
            )
        cells = {role: last[column.place] for role, column in header.of.items()}
        unit = header.of["temperature"].unit
        dew = cells.get("dew_point")
        stamp = " ".join(cells[role] for role in ("time", "date", "clock") if role in cells)
        said = ", ".join(
            f"“{column.header}” as {role.replace('_', ' ')}" for role, column in header.of.items() if cells[role]
        )
        return _reading(
            f"{cells['temperature']} {unit}".strip(),
            cells.get("humidity"),
            f"{dew} {header.of['dew_point'].unit or unit}".strip() if dew else None,
            read_stamp(stamp) if stamp else None,
            lines[-1],
            said,
        )
    return None


def _from_line(line: str) -> Reading:
    """The reading out of a line without names, or with names in its midst."""
    stamp = _STAMP.search(line)
    when = read_stamp(stamp[0]) if stamp else None
    rest = line[: stamp.start()] + " " + line[stamp.end() :] if stamp else line
    rest = " ".join(rest.split())
    found: dict[str, str] = {}
    by: dict[str, int] = {}
    bare: list[str] = []
    for value in _VALUE.finditer(rest):
        unit = (value["unit"] or "").strip()
        named = column_of(0, (value["label"] or "").strip()).role
        role = named
        written = f"{value['number']} {unit}".strip()
        if unit.startswith(("%", "p")):
            role = "humidity"
        elif unit and role != "dew_point":
            role = "temperature"
        if role in ("temperature", "humidity", "dew_point"):
            # a name that says what it is goes before none, and none before another ("battery 87 %")
            rank = 0 if role == named else 2 if value["label"] else 1
            if rank == by.get(role) and rank < 2 and written != found[role]:
                raise Refusal(f'Read: "{line[:80]}". Is it {found[role]} or {written}? Write only one of the two.')
            if rank < by.get(role, 3):
                found[role], by[role] = written, rank
        elif not value["label"]:
            bare.append(written)
    if not found and len(bare) == 1 and "," in bare[0]:
        bare = bare[0].split(",")
    for role in ("temperature", "humidity"):
        if role not in found and bare and not (role == "humidity" and "dew_point" in found):
            found[role] = bare.pop(0)
    if "temperature" not in found or not {"humidity", "dew_point"} & set(found):
        raise Refusal(f'Read: "{line[:80]}". Needed are a temperature and a humidity. {ALLOWED}')
    said = ", ".join(f"“{written}” as {role.replace('_', ' ')}" for role, written in found.items())
    return _reading(found["temperature"], found.get("humidity"), found.get("dew_point"), when, line, said)


def _reading(
    temperature: str | None, humidity: str | None, dew: str | None, when: datetime | None, line: str, said: str
) -> Reading:
    if not temperature or not (humidity or dew):
        lacks = "a temperature" if not temperature else "a humidity"
        raise Refusal(f'Read: "{line[:80]}". It lacks {lacks}. {ALLOWED}')
    room_c = room_temperature_c(temperature)
    if humidity:
        percent = room_humidity_pct(humidity)
    else:
        dew_c = room_temperature_c(dew or "")
        if dew_c > room_c:
            raise Refusal(
                f'Read: "{line[:80]}". The dew point lies above the temperature, which no air has. Check both.'
            )
        percent = float(humidity_from_dew_point_pct(room_c, dew_c))
    told = [f"Read {said}: {air_text(room_c, percent)}."]
    if not humidity:
        told.append("The humidity follows from the dew point.")
    return Reading(room_c, percent, when, tuple(told))
