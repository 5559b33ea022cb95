"""Dates and times as loggers write them: ISO, day or month first, names of months, seconds since 1970."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta, timezone

import numpy as np
from numpy.typing import NDArray

from fizzwright.refusal import Refusal

ALLOWED = (
    "Allowed: 2026-11-25 08:30 (with Z or +01:00 behind it when you know the zone), 25/11/2026 8:30, 11/25/2026 8:30 AM, "
    "25 Nov 2026 08:30, or seconds since 1970."
)
NO_OFFSET = np.iinfo(np.int64).min
"""Stands where a row does not say its zone."""
DAY_S = 86_400
FIRST_YEAR, LAST_YEAR = 1900, 2200
"""No logger and no weather service has been anywhere else."""
FURTHEST_S = 14 * 3600
"""No clock is further from UTC."""
_EPOCH = date(1970, 1, 1).toordinal()
_MONTHS = {
    name: number
    for number, names in enumerate(
        ("jan", "feb", "mar mrz mär", "apr", "may mai", "jun", "jul", "aug", "sep", "oct okt", "nov", "dec dez"), 1
    )
    for name in names.split()
}
_YEAR_FIRST = re.compile(r"(\d{4})([-/.])(\d{1,2})\2(\d{1,2})(?:[T ]+(\d{1,2}))?")
_COMPACT = re.compile(r"^(\d{8})T(\d{2,6})$")
_YEAR_LAST = re.compile(r"(\d{1,2})([-/.])(\d{1,2})\2(\d{4}|\d{2})")
_NAMED = re.compile(r"(?:[A-Za-z]{3},? )?(\d{1,2})[ -.]+([A-Za-zä]{3,9})\.?[ -]+(\d{4})", re.IGNORECASE)
_NAMED_FIRST = re.compile(r"(?:[A-Za-z]{3},? )?([A-Za-zä]{3,9})\.? (\d{1,2}),? (\d{4})")
_CLOCK = re.compile(
    r"(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,]\d+)?)?\s*([AaPp])?(?:\.?[Mm]\.?)?\s*"
    r"(?:([Zz]|UTC|GMT)|(?:UTC|GMT)?([+\-−]\d{1,2})(?::?(\d{2}))?|([A-Za-z]{3,5}))?"
)
_IN_HEADER = re.compile(r"\b(?:UTC|GMT)\s*(?:([+\-−]\d{1,2})(?::?(\d{2}))?)?", re.IGNORECASE)


@dataclass
class Stamps:
    """The times of all rows, each different date and time of day read once."""

    file: str
    dates: dict[str, int] = field(default_factory=dict)
    clocks: dict[str, int] = field(default_factory=dict)
    date_lines: list[int] = field(default_factory=list)
    clock_lines: list[int] = field(default_factory=list)
    date_of: list[int] = field(default_factory=list)
    clock_of: list[int] = field(default_factory=list)

    def take(self, texts: Iterable[str], lines: Iterable[int]) -> None:
        """Note the time of more rows as written, with the line each stands in."""
        dates, clocks = self.dates, self.clocks
        for text, line in zip(texts, lines, strict=True):
            day, clock = parted(text)
            place = dates.get(day)
            if place is None:
                place = dates[day] = len(dates)
                self.date_lines.append(line)
            self.date_of.append(place)
            place = clocks.get(clock)
            if place is None:
                place = clocks[clock] = len(clocks)
                self.clock_lines.append(line)
            self.clock_of.append(place)

    def read(self, day_first: bool | None) -> tuple[NDArray[np.int64], NDArray[np.int64], str]:
        """Seconds since 1970 by the row's own clock, the row's offset from UTC in seconds (NO_OFFSET where it says none),
        and how the dates were read. Refusal, with the line, for what is no time or may be two."""
        order, told = self._day_first(day_first)
        days, offset_of_day = [], []
        for text, line in zip(self.dates, self.date_lines, strict=True):
            seconds, is_utc = self._day(text, line, order)
            days.append(seconds)
            offset_of_day.append(0 if is_utc else NO_OFFSET)
        clock_s, offsets = [], []
        for text, line in zip(self.clocks, self.clock_lines, strict=True):
            seconds, offset = self._clock(text, line)
            clock_s.append(seconds)
            offsets.append(NO_OFFSET if offset is None else offset)
        at_day, at_clock = np.array(self.date_of, dtype=np.int64), np.array(self.clock_of, dtype=np.int64)
        local = np.array(days, dtype=np.int64)[at_day] + np.array(clock_s, dtype=np.int64)[at_clock]
        offset_s = np.maximum(
            np.array(offset_of_day, dtype=np.int64)[at_day], np.array(offsets, dtype=np.int64)[at_clock]
        )
        return local, offset_s, told

    def _day_first(self, said: bool | None) -> tuple[bool, str]:
        """Whether 05/06/2026 is the fifth of June: as said, or as other dates of the same log show."""
        slashed = [
            (int(found[1]), int(found[3]), text, line)
            for text, line in zip(self.dates, self.date_lines, strict=True)
            if (found := _YEAR_LAST.fullmatch(text.strip())) and found[2] != "."
        ]
        day_first = next((row for row in slashed if row[0] > 12), None)
        month_first = next((row for row in slashed if row[1] > 12), None)
        if day_first and month_first:
            raise Refusal(
                f"{self.file}: in line {day_first[3]} the day comes first ({day_first[2]}), in line {month_first[3]} the month "
                f"({month_first[2]}). One log has one order. Cut out the rows that do not belong to it."
            )
        if said is not None:
            against = month_first if said else day_first
            if against:
                raise Refusal(
                    f"{self.file}, line {against[3]}: read {against[2]}, which cannot have the "
                    f"{'day' if said else 'month'} first. Leave --{'day' if said else 'month'}-first out."
                )
            return said, ""
        doubtful = next((row for row in slashed if row[0] != row[1]), None)
        if doubtful and not day_first and not month_first:
            raise Refusal(
                f"{self.file}, line {doubtful[3]}: read the date {doubtful[2]}. Is that day {doubtful[0]} of month {doubtful[1]}? "
                f"Then say --day-first. Or month {doubtful[0]}, day {doubtful[1]}? Then say --month-first."
            )
        if not slashed or not doubtful:
            return True, ""
        shown = day_first or month_first
        assert shown is not None, "one of them settles it"
        first = "day" if day_first else "month"
        return bool(day_first), f"In the dates the {first} comes first, as line {shown[3]} shows ({shown[2]})."

    def _day(self, text: str, line: int, day_first: bool) -> tuple[int, bool]:
        found = day_s(text, day_first)
        if found is None:
            counted = re.fullmatch(r"[2-6]\d{4}([.,]\d+)?", text.strip())
            how = (
                " A spreadsheet counts days so: give that column a date format, and save it as CSV again."
                if counted
                else ""
            )
            raise Refusal(f"{self.file}, line {line}: read the time {text[:40]!r}, which is no date.{how} {ALLOWED}")
        return found

    def _clock(self, text: str, line: int) -> tuple[int, int | None]:
        found = clock_s(text)
        if found is None:
            raise Refusal(f"{self.file}, line {line}: read the time of day {text[:40]!r}. {ALLOWED}")
        seconds, offset, named = found
        if named:
            raise Refusal(
                f"{self.file}, line {line}: read the zone {named!r} in {text[:40]!r}; such short names mean several places. "
                "Take it out and say the place: --zone Europe/London."
            )
        return seconds, offset


def parted(text: str) -> tuple[str, str]:
    """A date and a time of day out of one text; the time is empty where there is none."""
    colon = text.find(":")
    if colon < 0:
        return text, ""
    cut = max(text.rfind(" ", 0, colon), text.rfind("T", 0, colon), text.rfind(",", 0, colon))
    if cut < 0:
        return text, ""
    return text[:cut], text[cut + 1 :]


def day_s(text: str, day_first: bool) -> tuple[int, bool] | None:
    """Seconds from 1970 to the start of a date (or to a moment in digits), and whether that is UTC; None when it is none."""
    text = _COMPACT.sub(r"\1\2", text.strip(' \t",T'))
    if text.replace(".", "", 1).isdigit() and "." not in text[:8]:
        return _digits(text)
    hour = 0
    if found := _YEAR_FIRST.fullmatch(text):
        year, month, day, hour = int(found[1]), int(found[3]), int(found[4]), int(found[5] or 0)
    elif found := _YEAR_LAST.fullmatch(text):
        first, second, year = int(found[1]), int(found[3]), int(found[4])
        year += 2000 if year < 100 else 0
        day, month = (first, second) if day_first or found[2] == "." else (second, first)
    elif found := _NAMED.fullmatch(text):
        day, month, year = int(found[1]), _MONTHS.get(found[2][:3].lower(), 0), int(found[3])
    elif found := _NAMED_FIRST.fullmatch(text):
        day, month, year = int(found[2]), _MONTHS.get(found[1][:3].lower(), 0), int(found[3])
    else:
        return None
    return _seconds(year, month, day, hour)


def _digits(text: str) -> tuple[int, bool] | None:
    whole = text.split(".")[0]
    if len(whole) in (8, 10, 12, 14) and whole[:2] in ("19", "20") and "." not in text:
        parts = [int(whole[:4]), *(int(whole[i : i + 2]) for i in range(4, len(whole), 2))]
        year, month, day, hour, minute, second = [*parts, 0, 0, 0][:6]
        found = _seconds(year, month, day, hour)
        if found and minute < 60 and second < 60:
            return found[0] + 60 * minute + second, False
    if len(whole) in (9, 10):
        return int(whole), True
    if len(whole) in (12, 13):
        return int(whole) // 1000, True
    return None


def _seconds(year: int, month: int, day: int, hour: int) -> tuple[int, bool] | None:
    if not (0 <= hour <= 24 and FIRST_YEAR <= year <= LAST_YEAR):
        return None
    try:
        return (date(year, month, day).toordinal() - _EPOCH) * DAY_S + 3600 * hour, False
    except ValueError:
        return None


def clock_s(text: str) -> tuple[int, int | None, str] | None:
    """Seconds since midnight, seconds ahead of UTC (None when not said), and a zone's short name; None when it is no time."""
    text = text.strip(' "')
    if not text:
        return 0, None, ""
    found = _CLOCK.fullmatch(text)
    if found is None:
        return None
    hour, minute, second = int(found[1]), int(found[2]), int(found[3] or 0)
    if found[4]:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if found[4] in "Pp" else 0)
    if minute > 59 or second > 60 or hour > 24 or (hour == 24 and (minute or second)):
        return None
    offset = 0 if found[5] else _offset_s(found[6], found[7]) if found[6] else None
    if offset is not None and abs(offset) > FURTHEST_S:
        return None
    return 3600 * hour + 60 * minute + second, offset, found[8] or ""


def _offset_s(hours: str, minutes: str | None) -> int:
    sign = -1 if hours[0] in "-−" else 1
    return sign * (3600 * int(hours[1:]) + 60 * int(minutes or 0))


def offset_in_header(header: str) -> int | None:
    """Seconds ahead of UTC a header names ("Time (UTC)", "Date Time, GMT-05:00"); None when it names none."""
    found = _IN_HEADER.search(header.replace("_", " "))
    if not found:
        return None
    return _offset_s(found[1], found[2]) if found[1] else 0


def read_stamp(text: str) -> datetime | None:
    """One time, when it can mean only one; None otherwise."""
    day, clock = parted(text.strip())
    slashed = _YEAR_LAST.fullmatch(day.strip())
    doubtful = bool(slashed and slashed[2] != "." and slashed[1] != slashed[3] and int(slashed[1]) <= 12)
    doubtful = doubtful and slashed is not None and int(slashed[3]) <= 12
    day_first = slashed is None or slashed[2] == "." or int(slashed[1]) > 12
    date_found, clock_found = day_s(day, day_first), clock_s(clock)
    if doubtful or date_found is None or clock_found is None or clock_found[2]:
        return None
    seconds, is_utc = date_found
    moment = datetime(1970, 1, 1) + timedelta(seconds=seconds + clock_found[0])
    if is_utc:
        return moment.replace(tzinfo=UTC)
    if clock_found[1] is not None:
        return moment.replace(tzinfo=timezone(timedelta(seconds=clock_found[1])))
    return moment
