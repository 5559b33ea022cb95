"""Making windows as a calendar file (iCalendar, RFC 5545) for any calendar program."""

from __future__ import annotations

import hashlib
from datetime import UTC, datetime
from pathlib import Path

from fizzwright.plan.windows import Forecast
from fizzwright.recipe.saving import write_bytes
from fizzwright.refusal import Refusal

PRODID = "-//fizzwright//making windows//EN"
SUMMARIES = {"dry": "{}: make it (dry)", "hold": "{}: with care (hold)"}


def calendar_text(forecast: Forecast, recipe_name: str, stamp: datetime) -> bytes:
    """The windows as VEVENTs in UTC; the same window of the same recipe keeps its UID, so that a later file replaces it.

    `stamp` is the aware moment of making the file. Lines end with CRLF and are folded at 75 octets (RFC 5545, 3.1).
    """
    from icalendar import Calendar, Event

    calendar = Calendar()
    calendar.add("prodid", PRODID)
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    for window in sorted(forecast.windows, key=lambda w: w.start):
        start, end = window.start.astimezone(UTC), window.end.astimezone(UTC)
        event = Event()
        event.add("uid", f"{_content(recipe_name, start, end)}@fizzwright")
        event.add("dtstamp", stamp.astimezone(UTC))
        event.add("dtstart", start)
        event.add("dtend", end)
        event.add("summary", SUMMARIES[window.word].format(recipe_name))
        event.add("description", "\n".join(window.why))
        # a window says when one could work, and does not take the time up
        event.add("transp", "TRANSPARENT")
        calendar.add_component(event)
    return bytes(calendar.to_ical())


def write_calendar(path: Path, data: bytes) -> None:
    """Put a calendar at path; only one that was written here may be written over. Refusal in words."""
    if path.suffix.lower() != ".ics":
        raise Refusal(f"{path}: this would hold a calendar. Give a name that ends in .ics.")
    if path.is_file():
        with path.open("rb") as file:
            if PRODID.encode() not in file.read(400):
                raise Refusal(f"{path}: this file holds something else, and it was left alone. Give another name.")
    write_bytes(path, data)


def _content(recipe_name: str, start: datetime, end: datetime) -> str:
    said = f"{recipe_name}|{start.isoformat()}|{end.isoformat()}"
    return hashlib.sha256(said.encode()).hexdigest()[:32]
