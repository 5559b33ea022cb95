"""The calendar file by the rules of RFC 5545, and read back by the library icalendar."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from icalendar import Calendar

from fizzwright.plan.calendar import calendar_text, write_calendar
from fizzwright.plan.windows import Forecast
from fizzwright.refusal import Refusal
from tests.plan.test_windows import NIGHT, log_of, told

STAMP = datetime(2026, 11, 24, 18, 30, tzinfo=UTC)
NAME = (
    "Æther & Orchard Rain; with a name, long enough to be folded, and ünder it ° more than seventy-five octets \\ of it"
)


@pytest.fixture
def forecast() -> Forecast:
    return told(log_of([*NIGHT, *[45.0] * 14, *[65.0] * 10, *[55.0] * 14, *[45.0] * 24], zone="Europe/London"))


def test_it_reads_back_as_it_was_meant(forecast: Forecast) -> None:
    calendar = Calendar.from_ical(calendar_text(forecast, NAME, STAMP))
    assert str(calendar["version"]) == "2.0" and "fizzwright" in str(calendar["prodid"])
    events = calendar.walk("VEVENT")
    by_start = sorted(forecast.windows, key=lambda w: w.start)
    assert len(events) == len(by_start) > 1
    for event, window in zip(events, by_start, strict=True):
        assert event["dtstart"].dt == window.start and event["dtend"].dt == window.end
        assert event["dtstart"].dt.utcoffset() == timedelta(0) and event["dtstamp"].dt == STAMP
        assert NAME in str(event["summary"]) and window.word in str(event["summary"])
        assert str(event["description"]).split("\n") == list(window.why)


def test_it_keeps_the_rules_of_rfc_5545(forecast: Forecast) -> None:
    """3.1: lines of at most 75 octets, ended by CRLF, folded lines begin with one space, no octet of a character parted;
    3.3.5: times in UTC end in Z; 3.6.1: UID and DTSTAMP once in each event; 3.8.4.7: every UID another."""
    data = calendar_text(forecast, NAME, STAMP)
    assert data.endswith(b"END:VCALENDAR\r\n")
    assert data.count(b"\n") == data.count(b"\r\n") == data.count(b"\r")
    lines = data.split(b"\r\n")[:-1]
    assert max(map(len, lines)) <= 75 and any(line.startswith(b" ") for line in lines)
    for line in lines:
        line.decode("utf-8")
    unfolded = data.replace(b"\r\n ", b"").decode("utf-8").split("\r\n")
    assert unfolded[0] == "BEGIN:VCALENDAR"
    times = [line for line in unfolded if line.startswith(("DTSTART", "DTEND", "DTSTAMP"))]
    assert times and all(line.endswith("Z") and "TZID" not in line for line in times)
    uids = [line for line in unfolded if line.startswith("UID:")]
    assert len(uids) == len(set(uids)) == unfolded.count("BEGIN:VEVENT")
    summary = next(line for line in unfolded if line.startswith("SUMMARY:"))
    assert r"Rain\; with a name\, long" in summary and r"\\ of it" in summary


def test_the_same_window_keeps_its_uid(forecast: Forecast) -> None:
    def uids(name: str, stamp: datetime) -> list[str]:
        return [str(e["uid"]) for e in Calendar.from_ical(calendar_text(forecast, name, stamp)).walk("VEVENT")]

    assert uids(NAME, STAMP) == uids(NAME, STAMP + timedelta(days=1))
    assert not set(uids(NAME, STAMP)) & set(uids("Another", STAMP))


def test_only_a_calendar_of_ours_is_written_over(forecast: Forecast, tmp_path: Path) -> None:
    data = calendar_text(forecast, "Drift", STAMP)
    place = tmp_path / "windows.ics"
    write_calendar(place, data)
    write_calendar(place, data)
    assert place.read_bytes() == data
    mine = "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//Harbour//diary//EN\r\nEND:VCALENDAR\r\n"
    for kept in ("my notes", mine):
        other = tmp_path / "notes.ics"
        other.write_text(kept, newline="")
        with pytest.raises(Refusal, match="something else"):
            write_calendar(other, data)
        assert other.read_bytes().decode() == kept
    with pytest.raises(Refusal, match=r"ends in \.ics"):
        write_calendar(tmp_path / "recipe.toml", data)
